"""Rule books beside each other, and what is in force for a sheet, on the command line."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheets import tree_of, written
from wetfront.cli.main import main
from wetfront.errors import InvalidInput
from wetfront.rules import Rule, book, book_names, compared, rule, stricter_of
from wetfront.rules.model import RuleBook

PAIRS = st.tuples(st.sampled_from(book_names()), st.sampled_from(book_names()))


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["rules", *arguments]) == 0
    return capsys.readouterr().out


def lone(name: str, one: Rule) -> RuleBook:
    return RuleBook(name=name, title=name, covers="", rules={one.name: one})


@pytest.mark.parametrize("name", book_names())
def test_a_book_beside_itself_shows_no_difference(name):
    found = compared([book(name), book(name)])
    assert {each.standing for each in found} == {"same"}
    assert {each.rule for each in found} == set(book(name).rules)
    assert not any(each.stricter for each in found)


@given(PAIRS)
@settings(max_examples=25, deadline=None)
def test_turning_the_books_round_turns_the_answer_round(pair):
    first, second = (book(name) for name in pair)
    there = {(each.rule, each.row): each for each in compared([first, second])}
    back = {(each.rule, each.row): each for each in compared([second, first])}
    assert set(there) == set(back)
    for key, each in there.items():
        assert back[key].limits == each.limits[::-1]
        assert back[key].standing == each.standing
        assert back[key].stricter == tuple(sorted(1 - place for place in each.stricter))


LIMIT = st.none() | st.floats(1, 100)


@given(LIMIT, LIMIT, LIMIT, LIMIT)
@settings(max_examples=200, deadline=None)
def test_the_stricter_limit_is_the_one_that_holds_when_one_is_laid_over_the_other(low, high, other_low, other_high):
    """Against the merge: a book's limit laid over the other as a project's figure."""
    base = rule("practice", "vibration-time")
    sides = [tuple(sorted(pair)) if None not in pair else pair for pair in ((low, high), (other_low, other_high))]
    if any(pair == (None, None) for pair in sides) or [s is None for s in sides[0]] != [s is None for s in sides[1]]:
        return
    ours, theirs = (replace(base, low=pair[0], high=pair[1]) for pair in sides)
    (line,) = compared([lone("a", ours), lone("b", theirs)])
    try:
        merged = stricter_of(ours, sides[1])
    except InvalidInput:
        assert line.stricter == ()
        return
    for place, pair in enumerate(sides):
        assert (place in line.stricter) == (line.standing == "differs" and pair == (merged.low, merged.high))


def test_steps_that_differ_are_not_set_beside_each_other():
    """ "Above that" means over 100 mm in one book and over 150 mm in another."""
    (line,) = compared([book("aci"), book("as")], "slump-tolerance")
    assert (line.standing, line.row, line.limits) == ("other rows", "", (None, None))


def test_times_that_count_between_other_moments_are_not_judged():
    (line,) = compared([book("en"), book("as")], "delivery-time-agitated")
    assert (line.standing, line.stricter) == ("counted otherwise", ())


def test_what_stands_in_one_book_only_is_said(capsys):
    text = told(capsys, "--compare", "en,is")
    assert "in en, not in all: " in text
    assert "cement-content-most" in text.split("in is, not in all: ")[1]


def test_one_rule_of_two_books_stands_in_columns_with_its_rows(capsys):
    text = told(capsys, "--compare", "en,is", "water-cement-ratio")
    assert "XC4: at most 0.50" in text and "very-severe: at most 0.45" in text
    assert "stricter: cannot be told, their tables go by other things or steps" in text
    text = told(capsys, "--compare", "en, aci", "batching-tolerance")
    assert "stricter: cement: aci; water: same; aggregates: aci" in text
    assert "FROM MEMORY" in text
    assert max(map(len, text.splitlines())) <= 120


def test_a_comparison_as_json(capsys):
    found = json.loads(told(capsys, "--compare", "is,as", "concrete-temperature-most", "--json"))
    assert found["compared"] == ["is", "as"]
    (line,) = found["rules"]
    assert [each["most"] for each in line["limits"]] == [40, 35]
    assert all(each["rests_on_memory"] for each in line["limits"])
    assert (line["standing"], line["stricter"]) == ("differs", ["as"])


@pytest.mark.parametrize("names", ["en,is", "aci,as,is", "en,aci,is,as,practice"])
def test_whole_books_beside_each_other_fit_the_page(capsys, names):
    lines = told(capsys, "--compare", names).splitlines()
    assert max(map(len, lines)) <= (120 if names.count(",") < 2 else 160)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--compare", "en"], "two books"),
        (["--compare", "en,din"], "known: en, aci, is, as"),
        (["--compare", "en,is", "drum-turns"], "none of en, is has a rule drum-turns"),
        (["--compare", "en,is", "--search", "slump"], "--compare goes with"),
        (["--sheet", "no-such.toml"], "no-such.toml"),
        (["--sheet", "no-such.toml", "--compare", "en,is"], "leave --book and --compare out"),
    ],
)
def test_a_wrong_question_ends_with_2(capsys, arguments, says):
    assert main(["rules", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == "" and says in err


# In force for a sheet


@pytest.fixture
def sheet(tmp_path) -> Path:
    tree = tree_of("slab")
    tree["specification"] |= {
        "rule_book": "as",
        "concrete_temperature_at_placing_c": {"min": 5, "max": 30},
        "confirmed": [
            {"rule": "concrete-temperature-least", "edition": "2007", "by": "role: engineer", "on": "2026-01-05"}
        ],
    }
    return written(tmp_path, tree)


def test_a_sheet_shows_what_is_in_force_and_what_waits(sheet, capsys):
    text = told(capsys, "--sheet", str(sheet))
    lines = {line.split("  ")[0]: line for line in text.splitlines()}
    assert "at most 30 °C" in lines["concrete-temperature-most"]
    assert lines["concrete-temperature-most"].endswith("own figure")
    assert lines["delivery-time-agitated"].endswith("FROM MEMORY")
    assert lines["concrete-temperature-least"].endswith("confirmed for this project")
    head, waits = text.split("By remembered limit, check the standard")
    assert "What your specification changed:" in head
    assert "concrete-temperature-least" not in waits and "slump-tolerance: AS 1379" in waits
    assert "Named approval needed" in waits
    assert max(map(len, text.splitlines())) <= 120


def test_a_sheet_as_json_names_rule_row_whose_and_who(sheet, capsys):
    found = json.loads(told(capsys, "--sheet", str(sheet), "--json"))
    by_name = {each["rule"]: each for each in found["in_force"] if each["row"] is None}
    assert found["book"] == "as"
    ticked = by_name["concrete-temperature-least"]
    assert (ticked["confirmed_by"], ticked["confirmed_on"]) == ("role: engineer", "2026-01-05")
    assert ticked["rests_on_memory"] is False
    assert {"rule": "delivery-time-agitated", "row": None} in found["awaits_tick"]
    assert found["awaits_name"] == [{"rule": "delivery-time-agitated", "row": None}]
    assert by_name["concrete-temperature-most"]["whose"] == "project"
    only = json.loads(told(capsys, "--sheet", str(sheet), "--from-memory", "--json"))
    assert [{"rule": each["rule"], "row": each["row"]} for each in only["in_force"]] == found["awaits_tick"]


def test_a_sheet_is_asked_for_one_rule_or_searched(sheet, capsys):
    one = json.loads(told(capsys, "--sheet", str(sheet), "slump-tolerance", "--json"))
    assert len(one["in_force"]) == 5
    some = json.loads(told(capsys, "--sheet", str(sheet), "--search", "temperature", "--json"))
    assert {each["rule"] for each in some["in_force"]} == {"concrete-temperature-least", "concrete-temperature-most"}
    assert main(["rules", "--sheet", str(sheet), "drum-turns"]) == 2
    assert "no rule drum-turns" in capsys.readouterr().err


def test_a_sheet_without_a_book_says_so(tmp_path, capsys):
    tree = tree_of("slab")
    tree["specification"].pop("rule_book")
    assert main(["rules", "--sheet", str(written(tmp_path, tree))]) == 2
    assert "names no rule book" in capsys.readouterr().err
