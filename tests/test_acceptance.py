"""The acceptance function: every outcome, whose limit decided, what is held, and what a person's decision does."""

from dataclasses import replace

import pytest

from loads import at, limits, load, order, slab, ticket
from wetfront.acceptance import acceptance_limits, figures, in_words, judge_load
from wetfront.errors import InvalidInput
from wetfront.nouns.load import Addition, FreshTests
from wetfront.nouns.verdict import Decision, Outcome, Whose
from wetfront.planning.book_limits import laid_over

ACCEPT, CHECK_TEST, REFUSE = Outcome.ACCEPT, Outcome.CHECK_TEST, Outcome.REFUSE


def judged(one=None, *, asked=None, by=None, **options):
    asked = asked or order()
    return judge_load(asked, one or load(), by or limits(asked), **options)


def deciding(judgement):
    return [each.about for each in judgement.verdict.deciding]


def test_a_good_load_is_accepted_and_every_finding_has_its_limit():
    judgement = judged()
    assert judgement.verdict.outcome is ACCEPT
    assert judgement.accepted and not judgement.refused
    assert in_words(judgement) == "accept"
    assert all(each.limit is not None and each.limit.text for each in judgement.verdict.findings)


def test_a_slump_outside_asks_for_a_second_test_and_names_whose_limit_it_was():
    judgement = judged(load(tests=FreshTests(slump_mm=195.0)))
    assert judgement.verdict.outcome is CHECK_TEST
    assert deciding(judgement) == ["slump"]
    assert judgement.verdict.deciding[0].limit.whose is Whose.RULE_BOOK_AND_PROJECT
    assert not judgement.accepted and not judgement.refused
    assert in_words(judgement) == "check test"


@pytest.mark.parametrize(("second", "outcome"), [(170.0, ACCEPT), (190.0, REFUSE)])
def test_the_second_slump_decides(second, outcome):
    assert judged(load(tests=FreshTests(slump_mm=195.0, slump_check_mm=second))).verdict.outcome is outcome


def test_a_first_slump_inside_is_accepted_whatever_the_second():
    assert judged(load(tests=FreshTests(slump_mm=120.0, slump_check_mm=10.0))).verdict.outcome is ACCEPT


def test_without_a_batching_time_the_load_is_at_least_so_old_and_held():
    one = load(ticket=ticket(batched=None, left_plant=at("08:55")))
    judgement = judged(one)
    assert judgement.verdict.outcome is CHECK_TEST
    assert judgement.verdict.held and not judgement.accepted
    assert any("at least 67 min" in each.text for each in judgement.verdict.deciding)
    assert in_words(judgement) == "hold"


def test_without_a_batching_time_a_load_that_is_over_age_anyway_is_refused():
    one = load(ticket=ticket(batched=None, left_plant=at("08:01")))
    assert deciding(judged(one)) == ["age"]
    assert judged(one).refused


def test_a_named_person_may_take_a_held_load_and_both_statements_stay():
    one = load(ticket=ticket(batched=None))
    decision = Decision(outcome=ACCEPT, by="role: site engineer", why="plant told 09:00 by phone")
    judgement = judged(one, decision=decision)
    assert judgement.accepted and judgement.differs
    assert judgement.verdict.outcome is CHECK_TEST
    assert in_words(judgement) == "accepted by role: site engineer; by the limits: hold"


def test_a_decision_without_a_name_is_no_decision():
    with pytest.raises(InvalidInput) as refusal:
        judged(decision=Decision(outcome=ACCEPT, by="  "))
    assert refusal.value.key == "by"


def test_times_that_run_backwards_hold_the_load():
    one = load(ticket=ticket(batched=at("09:30")))
    assert judged(one).verdict.held
    assert "before" in judged(one).verdict.deciding[0].text


def test_water_agreed_and_within_the_ratio_is_accepted_once_it_is_tested():
    water = Addition(kind="water", amount_l=20.0, slump_before_mm=70.0, agreed_by="role: producer's technician")
    assert judged(load(additions=(water,))).verdict.outcome is ACCEPT
    untested = load(additions=(water,), tests=FreshTests())
    assert judged(untested).verdict.outcome is CHECK_TEST
    nobody = load(additions=(replace(water, agreed_by=""),))
    assert judged(nobody).verdict.held
    assert judged(load(additions=(water, water))).refused
    assert judged(load(additions=(replace(water, amount_l=80.0),))).refused


def test_planner_and_acceptance_judge_by_the_same_figures():
    """One place per fact: the sheet with the book laid over it, and the limits of acceptance."""
    for book in ("en", "aci", "is", "as", None):
        specification = replace(slab().specification, rule_book=book)
        sheet = replace(slab(), specification=specification)
        laid = laid_over(sheet, sheet.pour[0]).sheet
        numbers = acceptance_limits(specification, sheet.trucks, order(), sheet.element).numbers
        assert numbers == figures(laid.specification, laid.trucks), book
