"""The best days for pours that share resources, or why there are none; and the least change after a slip."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from wetfront.errors import InvalidInput
from wetfront.planning.week import DayLost, DayOption, Happened, NotStruck, PourTask, ResourceAway, Slip, Week
from wetfront.planning.week_check import Readiness, carried_out
from wetfront.planning.week_conflict import (
    Easing,
    conflicts_in,
    least_easing,
    single_easings,
    wishes_conflict,
)
from wetfront.planning.week_model import Rule, Solution, eased_off, goals_of, money, rules_of, solve
from wetfront.planning.week_words import day_words

Progress = Callable[[int, int, str], None]
LONGEST_LOOK_D = 60
SAME_MIN = 0.5
"""Starts nearer than this are the same: they are told to the minute."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """A pour without a day, and why."""

    task: PourTask
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """What came out of a week."""

    week: Week
    """Of the pours that could be looked at."""
    solution: Solution
    skipped: tuple[Skipped, ...]
    readiness: Mapping[str, Readiness]
    conflicts: tuple[tuple[Rule, ...], ...]
    """Rules that fight, where not every pour has a day."""
    wishes: tuple[tuple[Rule, ...], ...]
    """Rules that fight if each pour had the day that suits it best by itself."""
    wished: Mapping[str, DayOption]
    easings: tuple[Easing, ...]


def programme(week: Week) -> Outcome:
    """The best programme of a week; a pour without a day is left out, with the conflict and what would help."""
    possible, skipped = _with_hope(week)
    goals = goals_of(possible)
    solution = solve(possible, goals)
    conflicts: tuple[tuple[Rule, ...], ...] = ()
    easings: tuple[Easing, ...] = ()
    if solution is None:
        conflicts = conflicts_in(possible)
        easings = _easings(possible, conflicts)
        pours = [rule for rule in rules_of(possible) if rule.kind == "pour"]
        solution = solve(possible, ("easing", *goals), eased_off(pours))
        if solution is None:  # only what is done stands in the way of what is done
            solution = Solution(chosen={}, eased={}, values=(), optimal=True, gap=0)
        skipped = (*skipped, *_left_out(possible, solution, conflicts))
    wished = _wishes(possible)
    return Outcome(
        week=possible,
        solution=solution,
        skipped=skipped,
        readiness=carried_out(possible, solution.chosen),
        conflicts=conflicts,
        wishes=_over_resources(wishes_conflict(possible, wished)),
        wished=wished,
        easings=easings,
    )


def after(
    week: Week,
    previous: Mapping[str, tuple[dt.date, float]],
    happened: Sequence[Happened],
    works: Callable[[dt.date], bool],
    today: dt.date | None = None,
) -> Week:
    """The week once something has happened: what is past stays, and the rest is to change as little as possible.

    `previous` is day and start of each pour in the programme before. Pours before `today`, and those whose form is not
    struck, count as done as planned.
    """
    not_before = dict(week.not_before)
    held = dict(week.form_held_until_min)
    lost, away = set(week.lost_days), list(week.away)
    for event in happened:
        match event:
            case Slip():
                day = _working_days_later(previous[event.pour][0], event.working_days, works)
                not_before[event.pour] = max(day, not_before.get(event.pour, day))
            case DayLost():
                lost.add(event.day)
            case ResourceAway():
                away.append(event.away)
            case NotStruck():
                held[event.pour] = max(event.until_min, held.get(event.pour, event.until_min))
    slipped = {event.pour for event in happened if isinstance(event, Slip)}
    placed = {event.pour for event in happened if isinstance(event, NotStruck)}
    if today is not None:
        placed |= {pour for pour, (day, _) in previous.items() if day < today and pour not in slipped}
    tasks = tuple(
        _as_done(task, previous[task.id]) if task.id in placed else _not_in_the_past(task, today) for task in week.tasks
    )
    return replace(
        week,
        tasks=tasks,
        previous=previous,
        least_change=True,
        not_before=not_before,
        lost_days=frozenset(lost),
        away=tuple(away),
        form_held_until_min=held,
    )


def replan(
    before: Outcome, happened: Sequence[Happened], works: Callable[[dt.date], bool], today: dt.date | None = None
) -> Outcome:
    """The least change: fewest moved pours, then fewest moved days, then fewest changed starts, then cost."""
    previous = {pour: (option.day, option.start_min) for pour, option in before.solution.chosen.items()}
    whole = replace(before.week, tasks=(*before.week.tasks, *_again(before)))
    return programme(after(whole, previous, happened, works, today))


def _again(before: Outcome) -> list[PourTask]:
    """Pours that had no hope and are looked at once more."""
    known = {task.id for task in before.week.tasks}
    return [entry.task for entry in before.skipped if entry.task.id not in known]


def _working_days_later(day: dt.date, count: int, works: Callable[[dt.date], bool]) -> dt.date:
    for _ in range(count):
        for _ in range(LONGEST_LOOK_D):
            day += dt.timedelta(days=1)
            if works(day):
                break
    return day


def _as_done(task: PourTask, kept: tuple[dt.date, float]) -> PourTask:
    """The task as it was carried out by plan. InvalidInput where that plan is not known any more."""
    if task.done:
        return task
    same = [option for option in task.options if option.day == kept[0] and abs(option.start_min - kept[1]) < SAME_MIN]
    if not same:
        raise InvalidInput(
            "placed_from",
            f"{task.id} has been done, but its start on {day_words(kept[0])} is not among those looked at now: give "
            "placed_from and placed_until in the programme sheet",
        )
    return replace(task, options=tuple(same[:1]), done=True)


def _not_in_the_past(task: PourTask, today: dt.date | None) -> PourTask:
    if today is None or task.done:
        return task
    return replace(task, earliest=max(task.earliest, today))


def _with_hope(week: Week) -> tuple[Week, tuple[Skipped, ...]]:
    """The week without pours that no rule could give a day, and without those that must come after them."""
    reasons: dict[str, str] = {}
    for task in week.tasks:
        if not week.open_options(task):
            reasons[task.id] = "by its own plan it may go ahead on none of its days"
    grown = True
    while grown:
        grown = False
        for order in week.orders:
            missing = [first for first in order.after if first in reasons]
            if missing and order.pour not in reasons and any(task.id == order.pour for task in week.tasks):
                if week.task(order.pour).done:
                    continue
                reasons[order.pour] = f"comes after {missing[0]}, which has no day"
                grown = True
    skipped = tuple(Skipped(task=task, reason=reasons[task.id]) for task in week.tasks if task.id in reasons)
    return replace(week, tasks=tuple(task for task in week.tasks if task.id not in reasons)), skipped


def _easings(week: Week, conflicts: Sequence[Sequence[Rule]]) -> tuple[Easing, ...]:
    """What alone gives every pour a day, best first; where nothing does alone, the fewest rules together."""
    goals = goals_of(week)
    single = single_easings(week, conflicts[0], goals) if conflicts else ()
    if single:
        worth = money(week)

        def cost(easing: Easing) -> int:
            return sum(worth(week.task(pour), option) for pour, option in easing.solution.chosen.items())

        return tuple(sorted(single, key=cost))
    together = least_easing(week, goals)
    return () if together is None else (together,)


def _left_out(week: Week, solution: Solution, conflicts: Sequence[Sequence[Rule]]) -> tuple[Skipped, ...]:
    found = []
    for task in week.tasks:
        if task.id in solution.chosen:
            continue
        cores = [core for core in conflicts if any(task.id in rule.pours for rule in core)]
        late = not any(option.day <= task.latest for option in week.open_options(task))
        reason = f"no permitted day by {day_words(task.latest)}" if late else "no day is left beside the others"
        found.append(Skipped(task=task, reason=reason if cores else "left out so that the others fit"))
    return tuple(found)


def _over_resources(cores: Sequence[tuple[Rule, ...]]) -> tuple[tuple[Rule, ...], ...]:
    """Conflicts over something shared, the first of each group of pours: an order alone is nothing to clash over."""
    found: dict[tuple[str, ...], tuple[Rule, ...]] = {}
    for core in cores:
        pours = tuple(sorted(rule.name for rule in core if rule.kind == "pour"))
        if any(rule.kind in ("crew", "pump", "form set", "plant day", "plant rate", "neighbours") for rule in core):
            found.setdefault(pours, core)
    return tuple(found.values())


def _wishes(week: Week) -> dict[str, DayOption]:
    """For each pour the option that it would have if it were alone."""
    worth = money(replace(week, previous={}))
    wished = {}
    for task in week.tasks:
        within = [option for option in week.open_options(task) if option.day <= task.latest or task.done]
        if within:
            wished[task.id] = min(within, key=lambda option: (worth(task, option), option.start_min))
    return wished
