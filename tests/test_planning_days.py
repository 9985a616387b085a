"""The start day as a decision: which days are tried, which is chosen and why, and what is said where none will do."""

import datetime as dt
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from planned import QUICK, SEED, checked, situation, small_slab, wall_panel
from sheets import tree_of, written
from wetfront.desk.plan_pour import plan_one
from wetfront.desk.situations import days_open
from wetfront.dossier import plan_json
from wetfront.errors import SheetError
from wetfront.intake import read_sheet
from wetfront.nouns.plan import Verdict
from wetfront.planning.candidates import nominal, placing_orders
from wetfront.planning.conditions import clock_change
from wetfront.planning.day import day_of
from wetfront.planning.days import Days, OnDay, _chosen, day_lines, days_words, on_day, search_days
from wetfront.planning.judge import RISK_KEYS
from wetfront.planning.race import Sample
from wetfront.planning.search import Bench

MONDAY, WEDNESDAY, THURSDAY, FRIDAY = (dt.date(2027, 6, day) for day in (14, 16, 17, 18))
LIMITS = np.full(len(RISK_KEYS), 0.1)


def slab_between(first: dt.date, last: dt.date, date: dt.date = THURSDAY, **choices):
    tree = small_slab(days_between=[first, last], **choices)
    tree["pour"][0]["date"] = date
    return tree


def planned(folder, tree, executor=None):
    sheet = checked(folder, tree)
    return plan_one(sheet, sheet.sheet.pour[0], executor, None, SEED, QUICK)


@pytest.fixture(scope="module")
def rainy(tmp_path_factory):
    """Pencilled on Friday the 18th, on which the forecast has rain; free from Wednesday to Monday."""
    return planned(
        tmp_path_factory.mktemp("rainy"),
        slab_between(WEDNESDAY, MONDAY + dt.timedelta(days=7), FRIDAY),
    )


def test_the_winner_lies_on_another_day_where_the_pencilled_one_breaks_a_limit(rainy):
    assert rainy.verdict is not Verdict.NO_GO
    chosen, pencilled = (next(day for day in rainy.days if mark(day)) for mark in (_is_chosen, _is_pencilled))
    assert pencilled.date == FRIDAY and not pencilled.keeps_limits and "rain" in pencilled.text
    assert chosen.date == rainy.date == rainy.decision.start.date() != FRIDAY and chosen.keeps_limits
    assert rainy.reasons[0].startswith("every risk within its limit")
    assert rainy.reasons[1].startswith(f"{chosen.date:%a} {chosen.date.day} Jun at ")
    assert "on the pencilled Fri 18 Jun" in rainy.reasons[1]


def _is_chosen(day):
    return day.is_chosen


def _is_pencilled(day):
    return day.is_pencilled


def test_each_working_day_has_a_line_with_its_answer_cost_and_binding_risk(rainy):
    days = [day.date.day for day in rainy.days]
    assert days == sorted(days) == [16, 17, 18, 19, 21]  # no Sunday: the sheet gives it no hours
    for day in rainy.days:
        assert day.cost_cu > 0 and day.start.date() == day.date and "limit" in day.text
        assert day.replications_count == (60 if day.is_searched else 200)
    assert 2 <= sum(day.is_searched for day in rainy.days) <= 3
    assert sum(day.cost_cu for day in rainy.days if day.is_chosen) == pytest.approx(
        sum(line.amount_cu for line in rainy.cost), abs=0.1
    )


def test_without_the_choice_only_the_pours_own_day_is_planned(tmp_path):
    sheet = checked(tmp_path, small_slab())
    assert days_open(sheet.sheet, sheet.sheet.pour[0]) == (THURSDAY,)
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    one = planned(tmp_path, slab_between(THURSDAY, THURSDAY))
    assert plan.days == one.days == () and plan.date == THURSDAY
    assert (plan.decision, plan.risks, plan.cost) == (one.decision, one.risks, one.cost)


def test_any_number_of_workers_chooses_the_same_day(tmp_path):
    tree = slab_between(WEDNESDAY, FRIDAY)
    with ProcessPoolExecutor(2) as executor:
        assert plan_json(planned(tmp_path, tree)) == plan_json(planned(tmp_path, tree, executor))


def test_where_no_day_will_do_the_nearest_is_kept_and_labelled(tmp_path):
    tree = slab_between(WEDNESDAY, FRIDAY)
    tree["crew"]["finishing_crews_count"] = 1
    for hours in tree["hours"]:
        hours.pop("trowelling_until_local", None)
    plan = planned(tmp_path, tree)
    assert plan.verdict is Verdict.NO_GO and plan.decision is not None
    assert plan.reasons[0].startswith("no day keeps every limit, of 3 days tried from Wed 16 Jun to Fri 18 Jun")
    assert not any(day.keeps_limits for day in plan.days) and sum(day.is_chosen for day in plan.days) == 1
    assert plan.nearest_change


def test_a_day_beyond_the_forecast_is_told_and_not_planned(tmp_path):
    plan = planned(tmp_path, slab_between(dt.date(2027, 6, 21), dt.date(2027, 6, 24), dt.date(2027, 6, 21)))
    beyond = [day for day in plan.days if day.start is None]
    assert beyond and all(day.text == "no forecast for that day yet" and not day.keeps_limits for day in beyond)
    assert plan.date < min(day.date for day in beyond)


def test_a_pencilled_day_beyond_the_forecast_gives_way_to_one_within(tmp_path):
    plan = planned(tmp_path, slab_between(dt.date(2027, 6, 21), dt.date(2027, 6, 25), dt.date(2027, 6, 25)))
    assert plan.verdict is not Verdict.NO_FORECAST and plan.date < dt.date(2027, 6, 25)
    assert any("the pencilled day cannot be planned" in reason for reason in plan.reasons)


def made(there, day: int, cost: float, noise: float, failed: float = 0.0, against=()) -> OnDay:
    """A day searched in full with an invented sample: costs about `cost`, every risk at `failed`."""
    draws = np.random.default_rng(day)
    sample = Sample(cost + noise * draws.standard_normal(400), np.full((400, len(RISK_KEYS)), failed))
    moved = replace(there, day=replace(there.day, date=dt.date(2027, 6, day)))
    return OnDay(moved, nominal(there, placing_orders(there)[0]), sample, against, found=object())


@pytest.mark.parametrize(
    ("days", "chosen"),
    [
        ([(17, 1000.0, 50.0), (16, 999.0, 50.0)], 17),  # cheaper, but not beyond doubt: the pencilled day stays
        ([(17, 1000.0, 50.0), (16, 900.0, 50.0)], 16),
        ([(17, 1000.0, 50.0, 0.2), (16, 1900.0, 50.0)], 16),  # a limit comes before money
        ([(17, 1000.0, 50.0, 0.0, ("gusts",)), (16, 1900.0, 50.0)], 16),  # and so does what speaks against a day
        ([(17, 1000.0, 50.0, 0.5), (16, 900.0, 50.0, 0.3)], 16),  # where none will do, the one least over
        ([(17, 1000.0, 50.0, 0.2), (16, 900.0, 50.0, 0.3)], 17),
        ([(18, 1000.0, 1.0), (16, 900.0, 1.0)], 16),  # the pencilled day is not among them
    ],
)
def test_limits_come_before_money_and_the_pencilled_day_before_a_doubtful_saving(tmp_path, days, chosen):
    there = situation(checked(tmp_path, small_slab()))
    tried = [made(there, *day) for day in days]
    assert _chosen(tried, THURSDAY, LIMITS).date.day == chosen


def test_the_reason_for_the_day_names_what_it_saves(tmp_path):
    there = situation(checked(tmp_path, small_slab()))
    tried = [made(there, 16, 900.0, 1.0), made(there, 17, 1000.0, 1.0)]
    days = Days(tried[0], tuple(tried), LIMITS)
    words = days_words(days, THURSDAY, "cu")
    assert words.startswith("Wed 16 Jun at 900 cu: 100 cu (±0) cheaper than the pencilled Thu 17 Jun; 2 of 2 days")
    assert [line.is_pencilled for line in day_lines(days, THURSDAY)] == [False, True]
    kept = Days(tried[1], tuple(tried), LIMITS)
    assert "the pencilled day, no day is cheaper beyond doubt" in days_words(kept, THURSDAY, "cu")


def test_a_decision_on_another_day_is_simulated_in_that_days_weather(tmp_path):
    sheet = checked(tmp_path, small_slab())
    there = situation(sheet)
    friday = situation(replace(sheet, sheet=replace(sheet.sheet, pour=(replace(sheet.sheet.pour[0], date=FRIDAY),))))
    way = nominal(there, placing_orders(there)[0])
    own, other = (on_day(Bench(where, SEED), way, 60) for where in (there, friday))
    rain = RISK_KEYS.index("rain_on_fresh_surface")
    assert other.sample.probabilities()[rain] > own.sample.probabilities()[rain]
    assert other.against and not own.against


@pytest.mark.parametrize(
    ("between", "words"),
    [
        ([FRIDAY, WEDNESDAY], "the earlier day first"),
        ([FRIDAY, dt.date(2027, 6, 25)], "2027-06-17"),
        ([dt.date(2027, 6, 1), dt.date(2027, 7, 31)], "at most 31 days"),
    ],
)
def test_a_span_of_days_that_cannot_be_is_refused_with_its_key(tmp_path, between, words):
    tree = tree_of("slab")
    tree["choices"]["days_between"] = between
    with pytest.raises(SheetError, match=r"choices\.days_between") as refused:
        read_sheet(written(tmp_path, tree))
    assert words in str(refused.value)


def test_a_day_closed_by_the_form_is_told_and_the_other_is_planned(tmp_path):
    """On Friday the form is as weak as if its concrete were far too cold: no rise is permitted on that day."""
    tree = wall_panel(days_between=[THURSDAY, FRIDAY])
    tree["risk_limits"] = {"load_over_age": 1.0, "specified_edge_exceeded": 1.0}
    sheet = checked(tmp_path, tree)
    weak = replace(sheet.sheet.formwork, permitted_pressure_kn_per_m2=22.0)
    thursday, friday = (
        situation(
            replace(
                sheet,
                sheet=replace(sheet.sheet, formwork=form, pour=(replace(sheet.sheet.pour[0], date=date),)),
            )
        )
        for date, form in ((THURSDAY, sheet.sheet.formwork), (FRIDAY, weak))
    )
    days = search_days([thursday, friday], FRIDAY, lambda there: Bench(there, SEED), QUICK)
    assert days.chosen.date == THURSDAY
    told = {line.date: line for line in day_lines(days, FRIDAY)}
    assert told[FRIDAY].start is None and told[FRIDAY].is_pencilled and not told[FRIDAY].keeps_limits
    assert told[FRIDAY].text.startswith("no placing rate is permitted: rise in panel 1")
    words = days_words(days, FRIDAY, "cu")
    assert words.endswith("the pencilled day cannot be planned; no other day could be tried")


def test_a_day_on_which_nothing_comes_to_its_end_has_no_cost(tmp_path):
    there = situation(checked(tmp_path, small_slab()))
    endless = replace(made(there, 16, 1e9, 1.0, 1.0), ends=False, found=None)
    chosen = made(there, 17, 1000.0, 1.0)
    (line, _) = day_lines(Days(chosen, (endless, chosen), LIMITS), THURSDAY)
    assert (line.start, line.cost_cu, line.keeps_limits) == (None, None, False)
    assert line.text == "no decision that was tried can be carried to its end"


def test_stopped_while_other_days_are_looked_at_the_first_day_is_kept_and_labelled(tmp_path):
    sheet = checked(tmp_path, small_slab())
    days = [
        situation(replace(sheet, sheet=replace(sheet.sheet, pour=(replace(sheet.sheet.pour[0], date=date),))))
        for date in (WEDNESDAY, THURSDAY, FRIDAY)
    ]
    seen = []

    def bench_of(there):
        seen.append(there.day.date)
        if len(seen) == 3:
            raise KeyboardInterrupt
        return Bench(there, SEED)

    found = search_days(days, THURSDAY, bench_of, QUICK)
    assert seen == [THURSDAY, WEDNESDAY, FRIDAY]
    assert found.chosen.date == THURSDAY and [day.date for day in found.tried] == [WEDNESDAY, THURSDAY]
    assert found.found.cut_short == "stopped by Ctrl-C"


@pytest.mark.parametrize(
    ("date", "from_min", "words"),
    [
        (dt.date(2027, 10, 31), 60, "times of one hour stand twice"),
        (dt.date(2027, 3, 28), 50, "an hour is left out"),
        (dt.date(2027, 10, 31), 300, ""),
        (dt.date(2027, 6, 17), 60, ""),
    ],
)
def test_a_pour_over_a_change_of_the_clocks_says_so(tmp_path, date, from_min, words):
    """Loads at 01:30 and again at 01:30 on one page are a trap."""
    tree = small_slab()
    tree["project"]["time_zone"] = "Europe/London"
    told = clock_change(day_of(checked(tmp_path, tree).sheet, date), from_min, from_min + 300)
    assert words in told and bool(told) == bool(words)
