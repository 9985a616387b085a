"""What is in force for a project: ticks, own figures, approvals; and the intake of all three."""

import datetime as dt
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheets import tree_of, written
from wetfront.acceptance import acceptance_limits
from wetfront.desk.rules_in_force import rules_in_force
from wetfront.errors import InvalidInput, SheetError
from wetfront.intake import read_sheet
from wetfront.nouns.limits import Confirmation, LooserLimit, OwnLimit
from wetfront.nouns.load import Order
from wetfront.nouns.reason import Provenance
from wetfront.planning.book_limits import laid_over
from wetfront.rules import (
    Applied,
    Terms,
    all_held,
    books,
    held,
    in_force_rules,
    qualified,
    rule,
    with_confirmations,
    with_terms,
)
from wetfront.rules.model import CHECK_FIRST

TODAY = dt.date(2027, 6, 1)
DAY = dt.date(2027, 5, 3)
AGE = "delivery-time-agitated"


def tick(rule: str = AGE, **more: object) -> Confirmation:
    return Confirmation(**{"rule": rule, "edition": "2007", "by": "role: site engineer", "on": DAY, **more})


def australian(**more: object) -> Terms:
    return Terms(book="as", **more)


def the(terms: Terms, name: str = AGE, where: str | float | None = None, own: object = None) -> Applied:
    found = held(terms, name, where, own)
    assert found is not None
    return found


# A tick


def test_a_remembered_limit_never_gives_a_plain_verdict():
    limit = the(australian())
    assert limit.rests_on_memory
    for verdict in ("accept", "refuse", "conforms"):
        assert qualified(verdict, [limit]) == f"{CHECK_FIRST}: {verdict}"


def test_a_tick_makes_the_verdict_plain_and_names_who_looked():
    limit = the(australian(confirmed=(tick(clause="4.2.6"),)))
    assert not limit.rests_on_memory
    assert qualified("accept", [limit]) == "accept"
    assert limit.value == 90
    assert limit.rule.cited.provenance is Provenance.CONFIRMED
    assert limit.rule.citation == "AS 1379:2007, 4.2.6, seen by role: site engineer on 2027-05-03"
    assert CHECK_FIRST not in limit.text


def test_one_remembered_limit_among_confirmed_ones_is_enough_to_qualify():
    ticked = australian(confirmed=(tick(),))
    limits = [the(ticked), the(ticked, "concrete-temperature-most")]
    assert qualified("accept", limits) == f"{CHECK_FIRST}: accept"


def test_a_standard_and_edition_ticks_all_its_rules():
    terms = australian(confirmed=(tick(rule="", standard="as 1379"),))
    for name in (AGE, "concrete-temperature-least", "concrete-temperature-most"):
        assert not the(terms, name).rests_on_memory
    assert the(terms, "vibrator-withdrawal").rests_on_memory


def test_a_tick_of_another_edition_confirms_nothing_without_a_figure():
    composite = "slump-tolerance-composite"
    other = Terms(book="en", confirmed=(tick(composite, edition="2000"),))
    assert the(other, composite, 30.0).rests_on_memory
    same = Terms(book="en", confirmed=(tick(composite, edition="2013+A2:2021"),))
    assert not the(same, composite, 30.0).rests_on_memory


def test_an_entered_figure_replaces_the_remembered_one_and_says_so():
    limit = the(australian(confirmed=(tick(edition="2024", most=75),)))
    assert limit.value == 75
    assert limit.rule.citation == "AS 1379:2024, entered by role: site engineer on 2027-05-03"


def test_an_entered_figure_leaves_what_was_read_as_it_is():
    read = rule("is", "discharge-after-arrival")
    assert with_confirmations(read, [tick("discharge-after-arrival", most=60)]) == read


def test_a_row_is_ticked_alone():
    warmth = "concrete-temperature-least"
    terms = Terms(book="aci", confirmed=(tick(warmth, edition="-10", row="up to 1800 mm"),))
    assert not the(terms, warmth, 1000.0).rests_on_memory
    assert the(terms, warmth, 2000.0).rests_on_memory


def test_a_figure_for_a_whole_table_is_refused():
    with pytest.raises(InvalidInput, match="one row"):
        with_confirmations(rule("as", "slump-tolerance"), [tick("slump-tolerance", most=20)])


@pytest.mark.parametrize("one", [one for each in books() for one in each.rules.values()], ids=lambda one: one.name)
def test_a_tick_takes_the_mark_from_memory_off_every_rule_that_has_it(one):
    seen = with_confirmations(one, [tick(one.name, edition=one.edition or "1")])
    assert not seen.rests_on_memory
    assert (seen.low, seen.high) == (one.low, one.high)
    assert [(cell.low, cell.high) for cell in seen.cells] == [(cell.low, cell.high) for cell in one.cells]
    standing = {Provenance.COMMON_PRACTICE, Provenance.OWN_RULE, Provenance.RECOMPUTED}
    assert seen == one if one.provenance in standing else seen != one


# Own figures and approvals


def test_the_strictest_of_book_own_limit_and_sheet_holds():
    terms = australian(own=(OwnLimit(rule=AGE, most=80),))
    assert the(terms).value == 80
    assert the(terms, own=70).value == 70
    assert the(terms, own=85).value == 80


def test_an_own_limit_that_holds_says_where_the_specification_gives_it():
    own = OwnLimit(rule=AGE, most=80, clause="contract, 4.2")
    limit = the(australian(own=(own,)), own=100)
    assert limit.text.startswith("at most 80 min by the project (contract, 4.2), stricter than at most 90 min")
    assert limit.cited.citation == "the project's specification (contract, 4.2), stricter than AS 1379"
    assert "contract" not in the(australian(own=(own,)), own=70).text


def test_an_own_limit_of_one_row_leaves_the_others():
    own = OwnLimit(rule="slump-tolerance", row="up to 80 mm", most=10)
    terms = australian(own=(own,))
    assert the(terms, "slump-tolerance", 70.0).value == 10
    assert the(terms, "slump-tolerance", 100.0).value == 20


def test_an_approval_of_one_limit_reaches_no_other():
    name = LooserLimit(rule=AGE, most=120, by="designer", on=DAY)
    terms = australian(looser=(name,))
    limit = the(terms, own=110)
    assert (limit.value, limit.approved_by, limit.needs_approval) == (110, "designer on 2027-05-03", False)
    other = the(terms, "concrete-temperature-most", own=38)
    assert (other.value, other.needs_approval) == (35, True)


def test_an_approval_reaches_as_far_as_its_figure_even_beside_a_general_name():
    name = LooserLimit(rule=AGE, most=100, by="designer", on=DAY)
    for general in ("", "role: engineer"):
        limit = the(australian(looser=(name,), looser_approved_by=general), own=110)
        assert (limit.value, limit.needs_approval) == (90, True)


LIMIT = st.floats(1, 600)


@given(book=LIMIT | st.none(), first=LIMIT, second=LIMIT, approved=LIMIT | st.none())
@settings(max_examples=200, deadline=None)
def test_nothing_is_looser_than_the_book_without_a_name_that_reaches_so_far(book, first, second, approved):
    """`book`: what somebody entered for the remembered limit; None: ticked as it stands."""
    looser = () if approved is None else (LooserLimit(rule=AGE, most=approved, by="designer", on=DAY),)
    one = australian(confirmed=(tick(most=book),), own=(OwnLimit(rule=AGE, most=first),), looser=looser)
    two = australian(confirmed=(tick(most=book),), own=(OwnLimit(rule=AGE, most=second),), looser=looser)
    limit, swapped = the(one, own=second), the(two, own=first)
    assert limit.value == swapped.value
    stands = 90 if book is None else book
    if limit.value > stands:
        assert approved is not None and limit.value <= approved and limit.approved_by.startswith("designer")
    assert limit.value <= min(first, second) or limit.value == stands
    assert the(one, own=limit.value).value <= limit.value


# The sheet


def sheet_with(tmp_path, **specification):
    tree = tree_of("slab")
    tree["specification"] |= {"rule_book": "as", **specification}
    return read_sheet(written(tmp_path, tree), today=TODAY)


TICK = {"rule": AGE, "edition": "2007", "by": "role: site engineer", "on": DAY}


def test_a_ticked_sheet_reaches_the_plan(tmp_path):
    bare, ticked = (sheet_with(tmp_path, **more).sheet for more in ({}, {"confirmed": [TICK]}))
    asked = f"{CHECK_FIRST}: {rule('as', AGE).title}"
    assert any(measure.startswith(asked) for measure in laid_over(bare, bare.pour[0]).measures)
    laid = laid_over(ticked, ticked.pour[0])
    assert not any(measure.startswith(asked) for measure in laid.measures)
    assert any("seen by role: site engineer on 2027-05-03" in step.source.citation for step in laid.steps)


@pytest.mark.parametrize(
    ("lists", "key"),
    [
        ({"confirmed": [TICK | {"rule": "delivery-time"}]}, "specification.confirmed[1].rule"),
        ({"confirmed": [TICK | {"rule": "drum-turns"}]}, "specification.confirmed[1].rule"),
        ({"confirmed": [TICK | {"rule": "free-fall"}]}, "specification.confirmed[1].rule"),
        ({"confirmed": [TICK, TICK]}, "specification.confirmed[2].rule"),
        ({"confirmed": [TICK | {"by": " "}]}, "specification.confirmed[1].by"),
        ({"confirmed": [{key: TICK[key] for key in ("rule", "edition", "on")}]}, "specification.confirmed[1].by"),
        ({"confirmed": [TICK | {"on": dt.date(2027, 6, 2)}]}, "specification.confirmed[1].on"),
        ({"confirmed": [TICK | {"edition": ""}]}, "specification.confirmed[1].edition"),
        ({"confirmed": [TICK | {"most": 900}]}, "specification.confirmed[1].most"),
        ({"confirmed": [TICK | {"least": 60}]}, "specification.confirmed[1].least"),
        ({"confirmed": [TICK | {"row": "S1"}]}, "specification.confirmed[1].row"),
        ({"confirmed": [TICK | {"standard": "AS 3600"}]}, "specification.confirmed[1].standard"),
        ({"confirmed": [TICK | {"rule": "slump-tolerance", "most": 20}]}, "specification.confirmed[1].row"),
        ({"confirmed": [TICK | {"rule": ""}]}, "specification.confirmed[1].rule"),
        ({"confirmed": [TICK | {"rule": "", "standard": "AS 13"}]}, "specification.confirmed[1].standard"),
        ({"confirmed": [TICK | {"rule": "", "standard": "AS 1379", "most": 9}]}, "specification.confirmed[1].most"),
        (
            {
                "rule_book": "en",
                "confirmed": [TICK | {"rule": "slump-tolerance-composite", "row": "under 50 mm", "edition": "2000"}],
            },
            "specification.confirmed[1].edition",
        ),
        (
            {"rule_book": "is", "confirmed": [TICK | {"rule": "discharge-after-arrival", "most": 20}]},
            "specification.confirmed[1].most",
        ),
        ({"own_limit": [{"rule": AGE}]}, "specification.own_limit[1]"),
        ({"own_limit": [{"rule": AGE, "most": 0.5}]}, "specification.own_limit[1].most"),
        ({"own_limit": [{"rule": "layer", "most": 400}]}, "specification.own_limit[1].rule"),
        ({"own_limit": [{"rule": "vibration-time", "least": 9, "most": 6}]}, "specification.own_limit[1].least"),
        ({"own_limit": [{"rule": "vibration-time", "least": 20}]}, "specification.own_limit[1].least"),
        ({"own_limit": [{"rule": "vibration-time", "least": 20, "most": 30}]}, "specification.own_limit[1].least"),
        ({"rule_book": "en", "own_limit": [{"rule": "flow-classes", "most": 500}]}, "specification.own_limit[1].most"),
        ({"looser": [{"rule": AGE, "by": "designer", "on": DAY}]}, "specification.looser[1]"),
        (
            {"looser": [{"rule": AGE, "most": 100, "by": "designer", "on": dt.date(2027, 6, 2)}]},
            "specification.looser[1].on",
        ),
    ],
)
def test_the_sheet_is_refused_by_the_key_that_is_wrong(tmp_path, lists, key):
    with pytest.raises(SheetError) as caught:
        sheet_with(tmp_path, **lists)
    assert key in {problem.key for problem in caught.value.problems}
    assert all(problem.line for problem in caught.value.problems)


def test_a_tick_without_a_book_asks_for_the_book(tmp_path):
    tree = tree_of("slab")
    tree["specification"].pop("rule_book")
    tree["specification"]["confirmed"] = [TICK]
    with pytest.raises(SheetError) as caught:
        read_sheet(written(tmp_path, tree), today=TODAY)
    assert [problem.key for problem in caught.value.problems] == ["specification.rule_book"]


def test_today_is_the_machines_where_nobody_gives_it(tmp_path):
    tree = tree_of("slab")
    tree["specification"] |= {"rule_book": "as", "confirmed": [TICK | {"on": dt.date(2099, 12, 31)}]}
    with pytest.raises(SheetError, match=r"confirmed\[1\]\.on"):
        read_sheet(written(tmp_path, tree))


def test_every_rule_of_every_book_can_be_ticked_by_the_label_of_its_row(tmp_path):
    """The labels that `wetfront rules` prints are those that the sheet takes."""
    for name in ("en", "aci", "is", "as"):
        ticks = [
            {"rule": one.name, "row": cell.label(one.by_unit), "edition": one.edition or "1", "by": "x", "on": DAY}
            for one in in_force_rules(name).values()
            for cell in one.cells
        ]
        checked = sheet_with(tmp_path, rule_book=name, confirmed=ticks)
        assert len(checked.sheet.specification.confirmed) == len(ticks)


SITE = """
[specification]
{book}
[[specification.confirmed]]
rule = "delivery-time-agitated"
edition = "2007"
by = "role: site engineer"
on = {on}
"""


def with_site(tmp_path, site, **specification):
    tree = tree_of("slab")
    tree["specification"] |= {"rule_book": "as", **specification}
    (tmp_path / "site.toml").write_text(site, encoding="utf-8")
    return read_sheet(written(tmp_path, {"site": "site.toml", **tree}), today=TODAY).sheet.specification.confirmed


@pytest.mark.parametrize(
    ("book", "own", "rules"),
    [
        ("", {}, [AGE]),
        ('rule_book = "as"', {}, [AGE]),
        ('rule_book = "en"', {}, []),
        ("", {"confirmed": []}, []),
        ("", {"confirmed": [TICK | {"rule": "slump-tolerance"}]}, ["slump-tolerance"]),
    ],
)
def test_what_the_site_looked_up_holds_for_its_sheets(tmp_path, book, own, rules):
    """Unless the sheet goes by another book or lists its own."""
    found = with_site(tmp_path, SITE.format(book=book, on="2027-05-03"), **own)
    assert [each.rule for each in found] == rules


def test_a_mistake_in_what_the_site_looked_up_is_told_with_the_sites_file_and_line(tmp_path):
    with pytest.raises(SheetError) as caught:
        with_site(tmp_path, SITE.format(book="", on="2027-12-03"))
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.key) == ("site.toml", 8, "specification.confirmed[1].on")


# What is in force, as a whole


def test_all_that_is_in_force_is_what_each_rule_gives_when_asked():
    own = OwnLimit(rule="slump-tolerance", row="up to 80 mm", most=10)
    terms = australian(confirmed=(tick(),), own=(own,))
    found = {(each.applied.rule.name, each.row): each for each in all_held(terms, {AGE: 80.0})}
    assert {name for name, _ in found} == set(in_force_rules("as"))
    assert found[AGE, ""].applied == the(terms, own=80.0)
    for row, slump in (("under 60 mm", 50), ("up to 80 mm", 80), ("above that", 160)):
        one, asked = found["slump-tolerance", row].applied, the(terms, "slump-tolerance", slump)
        assert (one.value, one.whose, one.rests_on_memory) == (asked.value, asked.whose, asked.rests_on_memory)
        assert found["slump-tolerance", row].rows_count == 5


def test_whose_limit_holds_is_said_in_words():
    terms = australian(looser=(LooserLimit(rule=AGE, most=120, by="designer", on=DAY),))
    assert [the(terms, own=own).whose for own in (None, 90, 80, 120)] == [
        "rule book",
        "rule book and project",
        "project",
        "project, approved by designer on 2027-05-03",
    ]


def test_the_listing_of_a_sheet_agrees_with_its_plan(tmp_path):
    """The limits in the listing are those that the plan lays over the sheet."""
    sheet = sheet_with(tmp_path, confirmed=[TICK]).sheet
    listed = {each.applied.rule.name: each.applied for each in rules_in_force(sheet).limits if not each.row}
    for applied in laid_over(sheet, sheet.pour[0]).applied:
        assert listed[applied.rule.name] == applied


def test_a_sheet_without_a_book_has_nothing_in_force(tmp_path):
    sheet = sheet_with(tmp_path).sheet
    bare = replace(sheet, specification=replace(sheet.specification, rule_book=None))
    with pytest.raises(InvalidInput, match="names no rule book"):
        rules_in_force(bare)


# The rule as the project left it, for methods that work with several rules


def test_a_rule_in_the_projects_terms_gives_what_each_row_gives_when_asked():
    terms = australian(
        confirmed=(tick("slump-tolerance", row="up to 110 mm"),),
        own=(OwnLimit(rule="slump-tolerance", row="up to 80 mm", most=10),),
        looser=(LooserLimit(rule="slump-tolerance", row="above that", most=50, by="designer", on=DAY),),
    )
    left = with_terms(rule("as", "slump-tolerance"), terms)
    for slump in (50, 80, 100, 120, 200):
        asked = the(terms, "slump-tolerance", slump)
        assert left.at(slump).high == asked.high
        assert left.at(slump).rests_on_memory == asked.rests_on_memory
    assert left.at(80).citation == "the project's specification over AS 1379"
    assert left.at(100).provenance is Provenance.CONFIRMED


def test_the_terms_of_a_project_touch_no_other_book():
    terms = australian(confirmed=(tick("slump-tolerance"),), own=(OwnLimit(rule="slump-tolerance", most=5),))
    assert with_terms(rule("aci", "slump-tolerance"), terms) == rule("aci", "slump-tolerance")
    assert with_terms(rule("as", "slump-tolerance"), terms) != rule("as", "slump-tolerance")


def test_a_project_that_says_nothing_leaves_every_rule_as_it_is():
    for one in in_force_rules("en").values():
        assert with_terms(one, Terms(book="en")) == one


@pytest.mark.parametrize("one", [one for each in books() for one in each.rules.values()], ids=lambda one: one.name)
def test_looking_twice_sees_the_same(one):
    seen = [tick(one.name, edition=one.edition or "1")]
    assert with_confirmations(with_confirmations(one, seen), seen) == with_confirmations(one, seen)


def test_an_own_limit_reaches_the_acceptance_of_a_load(tmp_path):
    """A slump of 82 mm against a target of 70: within ± 15 of the book, outside ± 10 of the specification."""
    for own, passes in (([], True), ([{"rule": "slump-tolerance", "row": "up to 80 mm", "most": 10}], False)):
        sheet = sheet_with(tmp_path, own_limit=own, slump_limits_mm=[10, 290]).sheet
        limits = acceptance_limits(sheet.specification, sheet.trucks, Order(target_slump_mm=70), sheet.element)
        slump = next(each.limit for each in limits.tests if each.test == "slump")
        assert (slump.low <= 82 <= slump.high) == passes
        assert slump.rests_on_memory == passes


@pytest.mark.parametrize(
    ("looser", "general", "highest"),
    [
        ([], "", 85),
        ([], "designer", 110),
        ([{"rule": "slump-tolerance", "row": "up to 80 mm", "most": 40, "by": "designer", "on": DAY}], "", 110),
        ([{"rule": "slump-tolerance", "most": 39, "by": "designer", "on": DAY}], "", 85),
        ([{"rule": "slump-tolerance", "most": 39, "by": "designer", "on": DAY}], "resident engineer", 85),
        ([{"rule": "slump-tolerance", "row": "above that", "most": 90, "by": "designer", "on": DAY}], "", 85),
        ([{"rule": AGE, "most": 120, "by": "designer", "on": DAY}], "", 85),
    ],
)
def test_a_slump_range_wider_than_target_and_tolerance_needs_a_name_that_reaches_so_far(
    tmp_path, looser, general, highest
):
    """Target 70 mm, ± 15 by AS 1379; the specification says 60 to 110."""
    sheet = sheet_with(tmp_path, looser=looser, looser_approved_by=general, slump_limits_mm=[60, 110]).sheet
    limits = acceptance_limits(sheet.specification, sheet.trucks, Order(target_slump_mm=70), sheet.element)
    slump = next(each.limit for each in limits.tests if each.test == "slump")
    assert (slump.low, slump.high) == (60, highest)
    if highest == 110:
        assert "designer" in slump.text


def test_a_class_widened_on_both_sides_needs_an_approval_of_each_side(tmp_path):
    """Composite sample of S3: 100 to 150 mm, -10 and +20; the specification says 70 to 190."""
    under = {"rule": "slump-under-class", "most": 30, "by": "designer", "on": DAY}
    over = {"rule": "slump-over-class", "most": 40, "by": "producer", "on": DAY}
    for looser, expected in (([under], (90, 170)), ([over], (90, 170)), ([under, over], (70, 190))):
        sheet = sheet_with(tmp_path, rule_book="en", looser=looser, slump_limits_mm=[70, 190]).sheet
        order = Order(consistence_class="S3")
        limits = acceptance_limits(sheet.specification, sheet.trucks, order, sheet.element)
        found = limits.of_test("slump", "composite")
        assert (found.low, found.high) == expected
    assert "designer" in found.text and "producer" in found.text


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_nearest_confirmation_counts_whatever_the_order(order):
    """A tick of the whole standard must not bury a figure that somebody found for one row."""
    row = tick("slump-tolerance", edition="2024", row="up to 80 mm", most=12)
    given = [tick(rule="", standard="AS 1379"), tick("slump-tolerance", edition="2014"), row]
    left = with_confirmations(rule("as", "slump-tolerance"), [given[place] for place in order])
    assert left.at(80).high == 12 and left.at(80).confirmed == row
    assert left.at(100).high == 20 and left.at(100).confirmed == given[1]
