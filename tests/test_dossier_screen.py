"""The one screen, and how figures are said."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans import DAY, ZONE, crowded_plan, days, decision, no_forecast_plan, no_go_plan, risk, slab_plan
from wetfront.dossier.screen import screen_text
from wetfront.dossier.words import clock, counted, loads_words, number, percent, plain, short, signed, worst_risks
from wetfront.nouns.reason import Provenance
from wetfront.rules import CHECK_FIRST

MAKERS = [slab_plan, no_go_plan, no_forecast_plan, crowded_plan]


@pytest.mark.parametrize("make", MAKERS)
@pytest.mark.parametrize("width", [40, 60, 80, 100, 240])
def test_a_plan_fits_on_one_screen(make, width):
    lines = screen_text(make(), width, ["out/plan.pdf", "out/plan.json", "out/plan.ics"]).split("\n")
    assert len(lines) <= 40
    assert max(len(line) for line in lines) <= max(60, min(width, 100))


def test_the_answer_comes_first():
    lines = screen_text(slab_plan()).split("\n")
    assert "Ground floor slab" in lines[0] and "Thursday 17 June 2027" in lines[0]
    assert lines[1].startswith("GO WITH MEASURES")
    assert "All eight risks" in lines[2]


def test_a_verdict_that_rests_on_memory_never_reads_as_a_plain_go():
    known = tuple(step for step in slab_plan().why if step.source.provenance is not Provenance.MEMORY)
    checks = tuple(check for check in slab_plan().pressure if check.source.provenance is not Provenance.MEMORY)
    by_pressure = slab_plan(why=known)
    read = slab_plan(why=known, pressure=checks)
    words = "by remembered limits, check the standard"
    assert words in screen_text(slab_plan()).split("\n")[1]
    assert words in screen_text(by_pressure).split("\n")[1]
    assert words not in screen_text(read)
    assert words not in screen_text(no_go_plan())


def said(plan):
    return " ".join(screen_text(plan).replace("\u00a0", " ").split())


def test_a_stop_on_nothing_but_a_remembered_limit_never_reads_as_a_plain_no_go():
    """A stop that has another reason as well is plain."""
    remembered = f"{CHECK_FIRST}: Longest time for concrete in an agitating truck: at most 90 min by AS 1379"
    for reasons, plain_stop in (((remembered,), False), ((f"of these, {remembered}",), True)):
        plan = replace(no_go_plan(), reasons=("no plan keeps every limit", *reasons))
        headline = screen_text(plan).splitlines()[1]
        assert headline.startswith("NO GO")
        assert ("by remembered limits, check the standard" not in headline) == plain_stop


def test_what_the_specification_changed_is_on_the_screen_and_where_it_changed_nothing_there_is_no_label():
    assert "changed   by your specification: Highest concrete temperature: at most 28 °C" in screen_text(slab_plan())
    assert "changed" not in screen_text(slab_plan(specification_changed=()))


def test_the_screen_says_what_to_do():
    text = said(slab_plan())
    for words in (
        "220 m³ = 27 full loads of 8 m³ + balance load 4 m³",
        "call the balance load by 14:40",
        "first concrete 07:20, first batch 06:39",
        "a load every 15 min, 8 trucks",
        "32 m³/h by pump-main, 3 vibrators",
        "bay C, bay B, bay A",
        "placing 15:50 (15:35 to 16:05); finishing 20:25 (20:00 to 20:48)",
        "Finishing after hours: 8.3 % of at most 10 %",
        "Mist and film on hand",
        "A plan, not a permit",
        "Not checked: gust",
        "invented demo data",
    ):
        assert words in text, words


def test_three_risks_are_shown_nearest_to_their_limits_first():
    assert [each.key for each in worst_risks(slab_plan())] == [
        "finishing_out_of_hours",
        "specified_edge_exceeded",
        "trucks_over_places",
    ]


def test_a_broken_limit_comes_before_any_that_holds():
    plan = slab_plan(
        risks=(
            risk("a", "Near", 0.0499, 0.05, "", ""),
            risk("b", "Broken", 0.06, 0.05, "", ""),
            risk("c", "No chance accepted", 0.001, 0.0, "", ""),
            risk("d", "None of none", 0.0, 0.0, "", ""),
        )
    )
    assert [each.key for each in worst_risks(plan)] == ["c", "b", "a"]


def test_no_go_says_so_first_names_the_limit_and_the_nearest_change():
    text = said(no_go_plan())
    order = [
        "NO GO",
        "42 % against at most 10 %",
        "A joint at x = 24 m (agreed)",
        "does not keep within",
        "first concrete",
    ]
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)
    assert "OVER: Finishing after hours: 42 % of at most 10 %" in text


def test_without_a_forecast_there_is_an_order_but_no_start():
    text = said(no_forecast_plan())
    assert "NO FORECAST FOR THAT DAY YET" in text
    assert "220 m³" in text
    assert "first concrete" not in text and "risks" not in text


def test_a_sheet_cannot_steer_the_terminal():
    text = screen_text(slab_plan(title="Slab\x1b[2J\x07\r\nVERDICT: GO", decision=decision(mix="\x9b31mS1")))
    assert "\x1b" not in text and "\x9b" not in text and "\x07" not in text and "\r" not in text


@given(st.text(max_size=400))
def test_any_words_of_a_sheet_keep_the_screen_in_shape(words):
    plan = slab_plan(title=words, pour=words, reasons=(words, words), binding=(words,))
    lines = screen_text(plan).split("\n")
    assert len(lines) <= 40 and max(len(line) for line in lines) <= 100


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "0 %"),
        (0.0004, "under 0.1 %"),
        (0.083, "8.3 %"),
        (0.09, "9 %"),
        (0.42, "42 %"),
        (0.995, "99.5 %"),
        (0.9999, "over 99.9 %"),
        (1.0, "100 %"),
    ],
)
def test_shares_are_said_without_false_certainty(share, words):
    assert percent(share).replace("\u00a0", " ") == words


def test_figures_never_read_minus_nothing():
    assert number(-0.04) == "0.0"
    assert short(-0.0001) == "0"
    assert signed(-0.3) == "0" and signed(-3.2) == "−3" and signed(3.2) == "+3"
    assert number(28160.4, 0) == "28\u202f160"
    assert short(100.0) == "100" and short(0.5) == "0.5"


def test_a_clock_time_on_another_day_says_the_day():
    assert clock(dt.datetime(2027, 6, 17, 23, 59, 20, tzinfo=ZONE), DAY) == "23:59"
    assert clock(dt.datetime(2027, 6, 17, 23, 59, 40, tzinfo=ZONE), DAY) == "Fri 18 Jun 00:00"


def test_plain_keeps_units_together_and_drops_controls():
    assert plain("8\u00a0m³ \n\t x\x00") == "8\u00a0m³ x?"


def test_a_plan_without_measures_or_balance_load_leaves_no_empty_labels():
    quantity = replace(slab_plan().quantity, balance_load_m3=0.0, balance_call="")
    lines = screen_text(slab_plan(measures=(), binding=(), runner_up="", quantity=quantity)).split("\n")
    assert not any(line.split()[:1] in (["binds"], ["measures"], ["runner-up"]) for line in lines)
    assert not any(line.strip() == "" for line in lines)


def test_an_order_of_one_load_is_said_as_one_load():
    quantity = replace(slab_plan().quantity, full_loads_count=0, balance_load_m3=3.5)
    assert loads_words(quantity).replace("\u00a0", " ") == "1 load of 3.5 m³"
    assert (counted(1, "truck"), counted(2, "truck")) == ("1 truck", "2 trucks")


def test_days_are_told_the_chosen_one_first_and_a_plan_for_one_day_has_no_such_lines():
    text = screen_text(slab_plan(days=days(), changes=(), measures=()))
    lines = [line[10:] for line in text.split("\n")]
    first = next(line for line in text.split("\n") if line.startswith("days"))
    assert first[10:].startswith("Thu 17 Jun (chosen, pencilled): keeps every limit, start 07:20, 36\u202f010 cu;")
    assert any(line.startswith("Wed 16 Jun: NOT within the limits, start 07:20") for line in lines)
    assert any(line.startswith("Fri 18 Jun: not planned: no forecast for that day yet") for line in lines)
    assert "\ndays " not in screen_text(slab_plan())


def test_the_weathers_behind_a_plan_are_told_and_their_absence_leaves_no_label():
    assert "weather   400 weathers drawn about the forecast" in screen_text(slab_plan())
    assert "\nweather " not in screen_text(slab_plan(weather=None))


def test_the_changes_that_move_most_are_told_with_their_cost():
    """With a word where one breaks a limit."""
    plan = slab_plan(measures=(), reasons=("short",))
    text = " ".join(line[10:] for line in screen_text(plan).split("\n"))
    first = plan.changes[0]
    assert f"{first.title} {signed(first.cost_change_cu)} {plan.currency}" in text
    assert (", breaks a limit" in text) == any(not change.keeps_limits for change in plan.changes[:6])
