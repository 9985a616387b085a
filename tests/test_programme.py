"""Several pours in a week: the solver against every assignment, conflicts, what a slip changes, the check."""

import datetime as dt
import random
from dataclasses import replace
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import weeks
from weeks import MONDAY, best, day, every_assignment, form_set, keeps, option, random_week, task, week, worth
from wetfront.errors import InvalidInput
from wetfront.nouns.programme import PourOrder, SharedCrew, SharedPump, StrikingTime
from wetfront.planning.programme import after, programme, replan
from wetfront.planning.week import Away, DayLost, NotStruck, ResourceAway, Slip
from wetfront.planning.week_check import carried_out
from wetfront.planning.week_conflict import conflict_in, least_easing
from wetfront.planning.week_hold import after_work, held_until_min, striking_hours, uses_of, with_chance, working_time
from wetfront.planning.week_model import eased_off, goals_of, rules_of, solve
from wetfront.planning.week_told import why_not
from wetfront.planning.week_words import conflict_words, easing_words

SEEDS = range(48)


@cache
def case(seed):
    """A random week and the worth of its best assignment, looked for once."""
    made = random_week(seed)
    return made, best(made)


def works(date):
    return date.weekday() < 5


def solved(given_week):
    return solve(given_week, goals_of(given_week))


def panels(count=1, days=(0, 1, 2, 3, 4, 7, 8), latest=8, **other):
    """Three wall panels that share one gang, one pump and some sets of forms; the middle one closes."""
    tasks = [
        task(
            name,
            [option(name, number, 480, [150, 180, 240]) for number in days],
            latest=latest,
            crew="gang",
            pump="boom",
        )
        for name in ("p1", "p3", "p2")
    ]
    tasks = [replace(each, form_set="wall", late_cu_per_day=100.0) for each in tasks]
    order = PourOrder(pour="p2", after=("p1", "p3"))
    return week(tasks, form_sets=(form_set(count, 20.0, 6.0),), orders=(order,), **other)


# Second method: every assignment.


@pytest.mark.parametrize("seed", SEEDS)
def test_the_solver_finds_what_a_look_at_every_assignment_finds(seed):
    given_week, wanted = case(seed)
    found = solved(given_week)
    assert (found is None) == (wanted is None)
    if found is not None:
        assert found.optimal and keeps(given_week, found.chosen)
        assert found.values == wanted == worth(given_week, found.chosen)


def test_the_random_weeks_hold_both_kinds_of_weeks():
    """The comparison above is worth something only if rules bind in it."""
    assert 6 <= sum(case(seed)[1] is None for seed in SEEDS) <= 24
    bound = 0
    for seed in SEEDS:
        given_week, value = case(seed)
        if value is not None:
            free = {each.id: min(each.options, key=lambda one: one.start_min) for each in given_week.tasks}
            bound += not keeps(given_week, free)
    assert bound >= 5


@pytest.mark.parametrize("seed", SEEDS)
def test_a_conflict_is_one_and_is_no_larger_than_it_must_be(seed):
    """Its rules cannot be kept together; without any one of them the others can. By looking at every assignment."""
    given_week, wanted = case(seed)
    core = conflict_in(given_week)
    if wanted is not None:
        assert core == ()
        return
    names = {(rule.kind, rule.name) for rule in rules_of(given_week)}
    inside = {(rule.kind, rule.name) for rule in core}
    assert inside, "an infeasible week has a conflict"
    assert not every_assignment(given_week, names - inside)
    for rule in inside:
        assert every_assignment(given_week, (names - inside) | {rule}), f"{rule} is not part of the conflict"


@pytest.mark.parametrize("seed", SEEDS)
def test_a_new_programme_changes_least(seed):
    """Fewest moved pours, then days, then starts, then cost: against every assignment."""
    given_week, wanted = case(seed)
    before = solved(given_week)
    if before is None:
        assert wanted is None
        return
    previous = {pour: (each.day, each.start_min) for pour, each in before.chosen.items()}
    slipped = random.Random(seed).choice(sorted(previous))
    later = after(given_week, previous, [Slip(pour=slipped, working_days=1)], works)
    found, wanted = solved(later), best(later)
    assert (found is None) == (wanted is None)
    if found is not None:
        assert found.values == wanted
        assert found.chosen[slipped].day > previous[slipped][0]


# Laws.


@pytest.mark.parametrize("seed", SEEDS)
def test_one_more_of_a_resource_never_makes_it_dearer(seed):
    given_week = case(seed)[0]
    money = solved(given_week)
    for key in ("crews", "pumps", "form_sets"):
        more = replace(
            given_week, **{key: tuple(replace(each, count=each.count + 1) for each in getattr(given_week, key))}
        )
        richer = solved(more)
        if money is not None:
            assert richer is not None and richer.values[0] <= money.values[0]


def test_nothing_happened_nothing_moves():
    before = programme(panels())
    again = replan(before, [], works)
    assert again.solution.chosen == before.solution.chosen
    assert again.solution.values[:3] == (0, 0, 0)


def test_what_is_past_stays_whatever_happens():
    before = programme(panels())
    first = min(before.solution.chosen.values(), key=lambda each: each.start_min)
    events = [Slip(pour=pour, working_days=2) for pour in before.solution.chosen if pour != first.pour]
    again = replan(before, events, works, today=first.day + dt.timedelta(days=1))
    assert again.solution.chosen[first.pour] is first
    assert all(each.day > first.day for pour, each in again.solution.chosen.items() if pour != first.pour)


def test_a_lost_day_an_absent_pump_and_a_form_left_standing_are_kept_out():
    before = programme(panels(days=(0, 1, 2, 3, 4, 7, 8, 9, 10, 11, 14, 15), latest=15))
    chosen = before.solution.chosen
    first, second = sorted(chosen.values(), key=lambda each: each.start_min)[:2]
    lost = replan(before, [DayLost(day=second.day)], works).solution.chosen
    assert second.day not in {each.day for each in lost.values()} and len(lost) == 3
    away = Away(kind="pump", id="boom", count=1, from_min=0.0, to_min=3 * 1440.0)
    gone = replan(before, [ResourceAway(away=away)], works).solution.chosen
    assert min(each.start_min for each in gone.values()) >= 3 * 1440
    standing = replan(before, [NotStruck(pour=first.pour, until_min=7 * 1440.0)], works).solution.chosen
    others = [each for pour, each in standing.items() if pour != first.pour]
    assert standing[first.pour] is first and all(each.start_min >= 7 * 1440 + 420 + 6 * 60 for each in others)


def test_the_same_week_gives_the_same_programme():
    one, other = programme(panels()), programme(panels())
    assert one.solution.values == other.solution.values
    assert {pour: each.start_min for pour, each in one.solution.chosen.items()} == {
        pour: each.start_min for pour, each in other.solution.chosen.items()
    }
    assert one.readiness == other.readiness


# Limit cases by hand.


def test_one_form_set_sets_the_pace_of_the_wall():
    """Struck 20 h after 12:00, six working hours to set: Tuesday 14:00, so panels go every second day."""
    chosen = programme(panels()).solution.chosen
    assert sorted(each.day for each in chosen.values()) == [day(0), day(2), day(4)]
    assert chosen["p2"].day == day(4), "the closing panel comes last"


def test_with_two_sets_only_the_gang_and_the_closing_panel_set_the_pace():
    chosen = programme(panels(2)).solution.chosen
    assert sorted(each.day for each in chosen.values()) == [day(0), day(1), day(2)]


def test_a_week_too_short_names_the_form_set_and_what_would_help():
    outcome = programme(panels(latest=3, days=(0, 1, 2, 3, 4)))
    assert [entry.task.id for entry in outcome.skipped] == ["p2"]
    texts = [conflict_words(outcome.week, core) for core in outcome.conflicts]
    assert "form set wall (1 of them)" in texts[0] and "p2 by Thu 17 Jun" in texts[0]
    assert not any("gang" in text for text in texts)
    helps = [easing_words(outcome.week, easing) for easing in outcome.easings]
    assert any(text.startswith("1 more of form set wall") for text in helps)
    assert any(text.startswith("p2 1 day after its latest day, on Fri 18 Jun") for text in helps)


def test_two_pours_on_the_only_day_name_the_gang():
    tasks = [task(name, [option(name, 0, 480, [200] * 5)], crew="gang") for name in ("a", "b")]
    outcome = programme(week(tasks))
    core = outcome.conflicts[0]
    assert {(rule.kind, rule.name) for rule in core} == {("pour", "a"), ("pour", "b"), ("crew", "gang")}
    assert len(outcome.solution.chosen) == 1 and len(outcome.skipped) == 1
    assert [easing.amounts[0][1] for easing in outcome.easings] == [1]


def test_where_no_single_easing_helps_the_fewest_are_named_together():
    tasks = [task(name, [option(name, 0, 480, [200] * 5)], crew="gang", pump="boom") for name in ("a", "b", "c")]
    given_week = week(tasks)
    easing = least_easing(given_week, goals_of(given_week))
    assert {(rule.kind, amount) for rule, amount in easing.amounts} == {("crew", 2), ("pump", 2)}
    assert programme(given_week).easings[0].amounts == easing.amounts


def test_a_pour_without_a_permitted_day_is_left_out_with_those_that_come_after_it():
    tasks = [
        replace(task("a", []), refused=((day(0), "rain"),)),
        task("b", [option("b", 1, 480, [60] * 3)]),
        task("c", [option("c", 1, 480, [60] * 3)]),
    ]
    outcome = programme(week(tasks, orders=(PourOrder(pour="b", after=("a",)),)))
    assert {entry.task.id: entry.reason for entry in outcome.skipped} == {
        "a": "by its own plan it may go ahead on none of its days",
        "b": "comes after a, which has no day",
    }
    assert set(outcome.solution.chosen) == {"c"}


def test_why_not_names_refusals_conflicts_and_money():
    tasks = [
        replace(
            task("a", [option("a", 1, 480, [60] * 5, 900.0), option("a", 2, 480, [60] * 5, 950.0)], crew="gang"),
            refused=((day(0), "gusts over the boom's limit"),),
        ),
        task("b", [option("b", 3, 480, [60] * 5)], crew="gang"),
    ]
    tasks[0] = replace(tasks[0], options=(*tasks[0].options, option("a", 3, 480, [60] * 5, 100.0)))
    outcome = programme(week(tasks))
    assert outcome.solution.chosen["a"].day == day(1)
    said = {number: why_not(outcome, tasks[0], day(number), "cu") for number in (0, 2, 3)}
    assert said[0] == "not Mon 14 Jun: gusts over the boom's limit"
    assert said[2] == "not Wed 16 Jun: 50 cu dearer for all pours together"
    assert "a and b do not fit together with: crew gang" in said[3]


def test_few_moved_pours_come_before_cheap_ones():
    """b could go to a's day for less money, but then two pours move instead of one."""
    tasks = [
        task("a", [option("a", 0, 480, [60] * 5), option("a", 1, 480, [60] * 5), option("a", 4, 480, [60] * 5, 5000)]),
        task("b", [option("b", 1, 480, [60] * 5), option("b", 0, 480, [60] * 5)], preferred=1),
    ]
    tasks = [replace(each, crew="gang") for each in tasks]
    before = programme(week(tasks))
    assert {pour: each.day for pour, each in before.solution.chosen.items()} == {"a": day(0), "b": day(1)}
    again = replan(before, [Slip(pour="a", working_days=1)], works)
    assert {pour: each.day for pour, each in again.solution.chosen.items()} == {"a": day(4), "b": day(1)}


def test_a_slip_counts_working_days():
    tasks = [task("a", [option("a", number, 480, [60] * 3) for number in (4, 5, 7, 8)], preferred=4)]
    before = programme(week(tasks))
    assert before.solution.chosen["a"].day == day(4), "Friday"
    assert replan(before, [Slip(pour="a", working_days=1)], works).solution.chosen["a"].day == day(7), "Monday"


# Durations: the chance constraint and the check of the found programme.


def test_a_higher_chance_keeps_more_time_between_pours():
    """Ends spread evenly over 200 min: half are over by 100, nine of ten by 180."""
    first = task("a", [option("a", 0, 420, np.arange(1.0, 201.0))], pump="boom")
    second = task("b", [option("b", 0, 420 + start, [30] * 200) for start in range(100, 261, 10)], pump="boom")
    order = PourOrder(pour="b", after=("a",))
    for chance, wanted in ((0.5, 100), (0.9, 180)):
        given_week = week(
            [first, second], chance=chance, orders=(order,), pumps=(SharedPump(id="boom", between_pours_min=0),)
        )
        outcome = programme(given_week)
        assert outcome.solution.chosen["b"].start_min == 420 + wanted
        assert outcome.readiness["b"].on_time == pytest.approx(wanted / 200), "exactly those that are over by then"
        assert outcome.readiness["b"].ready_min == 420 + wanted and outcome.readiness["b"].by == "pump boom"


def test_a_late_pour_makes_the_next_ones_late_too():
    """Three pours in a row: the third is late wherever the first and the second together take too long."""
    count = 300
    ends = np.random.default_rng(5).uniform(60, 140, (2, count))
    tasks = [
        task("a", [option("a", 0, 420, ends[0])], pump="boom"),
        task("b", [option("b", 0, 540, ends[1])], pump="boom"),
        task("c", [option("c", 0, 660, [30] * count)], pump="boom"),
    ]
    given_week = week(tasks, chance=0.5, pumps=(SharedPump(id="boom", between_pours_min=0),))
    found = carried_out(given_week, {each.id: each.options[0] for each in tasks})
    assert found["a"].on_time == 1.0
    assert found["b"].on_time == pytest.approx((ends[0] <= 120.5).mean())
    # Independent pours: the chance that the later of "b on time" and "b late by x" is over, over all pairs.
    late = np.maximum(ends[0] - 120, 0.0)
    pairs = (late[:, None] + ends[1][None, :] <= 120.5).mean()
    assert found["c"].on_time == pytest.approx(pairs, abs=0.06)


def test_two_pumps_serve_two_pours_at_once_and_a_third_waits_for_the_first_free_one():
    tasks = [task(name, [option(name, 0, 420, [length] * 4)], pump="boom") for name, length in (("a", 100), ("b", 200))]
    tasks.append(task("c", [option("c", 0, 420 + start, [30] * 4) for start in (0, 60, 100, 200)], pump="boom"))
    given_week = week(tasks, pumps=(SharedPump(id="boom", count=2, between_pours_min=0),))
    outcome = programme(given_week)
    assert outcome.solution.chosen["c"].start_min == 520
    assert all(each.on_time == 1.0 for each in outcome.readiness.values())


# Working time and striking.


@settings(max_examples=60, deadline=None)
@given(start=st.floats(0, 20_000), work=st.floats(1, 4000))
def test_work_goes_on_in_working_hours_only(start, work):
    calendar = working_time(MONDAY, weeks.CALENDAR_D, dt.UTC, weeks.WORKDAYS, (), dt.time(7), dt.time(17))
    found = float(after_work(calendar, np.array([start]), work)[0])
    assert found == pytest.approx(weeks.worked_through(start, work), abs=1e-6)


def test_a_holiday_and_the_end_of_the_calendar_hold_work_up():
    calendar = working_time(MONDAY, 7, dt.UTC, weeks.WORKDAYS, (day(1),), dt.time(7), dt.time(17))
    assert after_work(calendar, np.array([16 * 60.0]), 120.0) == 2 * 1440 + 8 * 60
    assert np.isinf(after_work(calendar, np.array([4 * 1440 + 16 * 60.0]), 120.0))
    with pytest.raises(InvalidInput, match="work_end_local"):
        working_time(MONDAY, 7, dt.UTC, weeks.WORKDAYS, (), dt.time(7), dt.time(7))


def test_work_over_a_change_of_the_clocks_counts_real_hours():
    """Clocks go forward in the night to Sunday 28 March 2027: Monday 07:00 is an hour nearer."""
    friday, zone = dt.date(2027, 3, 26), ZoneInfo("Europe/Berlin")
    calendar = working_time(friday, 7, zone, weeks.WORKDAYS, (), dt.time(7), dt.time(17))
    assert after_work(calendar, np.array([16 * 60.0]), 120.0) == 3 * 1440 - 60 + 8 * 60


def test_striking_times_go_through_low_usual_and_high():
    time = StrikingTime(low=18, usual=24, high=40)
    hours = striking_hours(time, 4000, 1, "a")
    assert np.quantile(hours, (0.05, 0.5, 0.95)) == pytest.approx([18, 24, 40], abs=0.05)
    assert hours.min() >= 0
    assert not np.array_equal(hours, striking_hours(time, 4000, 1, "b")), "another pour, another order"
    assert sorted(hours) == pytest.approx(sorted(striking_hours(time, 4000, 1, "b")))


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 1000), min_size=1, max_size=40), st.sampled_from((0.5, 0.8, 0.9, 0.99)))
def test_the_share_asked_for_is_over_by_the_minute_given(values, chance):
    minute = with_chance(np.array(values), chance)
    assert np.mean([value <= minute + 1e-6 for value in values]) >= chance - 1e-9
    assert minute == weeks.share_over(values, chance)


def test_a_gang_held_until_the_end_of_placing_is_free_an_hour_sooner():
    tasks = [task("a", [option("a", 0, 420, [60] * 4)], crew="gang")]
    tasks.append(task("b", [option("b", 0, start, [60] * 4) for start in (480, 540)], crew="gang"))
    for until, wanted in (("end of finishing", 540), ("end of placing", 480)):
        crew = SharedCrew(id="gang", between_pours_min=0, held_until=until)
        assert programme(week(tasks, crews=(crew,))).solution.chosen["b"].start_min == wanted


def test_switching_a_rule_off_is_the_same_as_never_having_it():
    given_week = panels(latest=3, days=(0, 1, 2, 3))
    forms = next(rule for rule in rules_of(given_week) if rule.kind == "form set")
    free = solve(given_week, goals_of(given_week), eased_off([forms]))
    without = solved(replace(given_week, tasks=tuple(replace(each, form_set="") for each in given_week.tasks)))
    assert free.values == without.values


def test_a_done_pour_whose_plan_is_gone_is_asked_for():
    before = programme(panels())
    first = min(before.solution.chosen.values(), key=lambda each: each.start_min)
    previous = {pour: (each.day, each.start_min + 7) for pour, each in before.solution.chosen.items()}
    with pytest.raises(InvalidInput, match=f"{first.pour} has been done.*placed_from"):
        after(before.week, previous, [], works, today=first.day + dt.timedelta(days=1))


@pytest.mark.parametrize("seed", range(6))
def test_crew_pump_and_form_are_held_until_the_minute_that_a_count_by_hand_gives(seed):
    """Second method: ends sorted, the calendar walked day by day."""
    given_week = replace(random_week(seed), form_held_until_min={"a": 4321.0})
    for each in given_week.tasks:
        for use in uses_of(replace(each, crew="gang", pump="boom", form_set="wall")):
            for chosen in each.options:
                assert held_until_min(given_week, each, chosen, use) == weeks.released(given_week, use.kind, chosen)
