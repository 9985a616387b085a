"""What a programme says of each pour: its window, its slack, and why this day and no other."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from wetfront.nouns.plan import Moments
from wetfront.nouns.programme import Held, MovedPour
from wetfront.planning.programme import Outcome
from wetfront.planning.week import DayOption, Floats, PourTask, Week
from wetfront.planning.week_conflict import conflict_in
from wetfront.planning.week_hold import free_at_min, held_until_min, uses_of
from wetfront.planning.week_model import MONEY_STEPS, goals_of, late_cu, money, moved_days, solve
from wetfront.planning.week_words import conflict_words, day_words, days_words
from wetfront.planning.words import money as money_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One pour of an outcome, ready to be shown."""

    start_window_min: tuple[float, float]
    held: tuple[Held, ...]
    slack_min: float | None
    slack_by: str
    why: tuple[str, ...]


def band(week: Week, values: Floats) -> Moments:
    """5, 50 and 95 % as moments."""
    low, middle, high = np.quantile(values, (0.05, 0.5, 0.95), method="inverted_cdf").tolist()
    return Moments(early=week.moment(low), usual=week.moment(middle), late=week.moment(high))


def told(outcome: Outcome, pour: str, currency: str) -> Told:
    """Everything about one chosen pour."""
    week, option = outcome.week, outcome.solution.chosen[pour]
    task, ready = week.task(pour), outcome.readiness[pour]
    return Told(
        start_window_min=_start_window(outcome, task, option),
        held=tuple(_held(week, task, option)),
        slack_min=None if ready.ready_min is None else option.start_min - ready.ready_min,
        slack_by=ready.by,
        why=_why(outcome, task, option, currency),
    )


def _held(week: Week, task: PourTask, option: DayOption) -> list[Held]:
    found = []
    for use in uses_of(task):
        free = free_at_min(week, task, option, use)
        known = bool(np.isfinite(free).all())
        found.append(
            Held(
                kind=use.kind,
                id=use.id,
                start=week.moment(option.start_min),
                until=week.moment(held_until_min(week, task, option, use)),
                form=band(week, free) if use.kind == "form set" and known else None,
            )
        )
    return found


def _start_window(outcome: Outcome, task: PourTask, option: DayOption) -> tuple[float, float]:
    """Earliest and latest looked-at start of that day with every other pour as it is."""
    starts = [option.start_min]
    for other in outcome.week.open_options(task):
        if other.day == option.day and other.start_min not in starts and not task.done:
            chosen = {**outcome.solution.chosen, task.id: other}
            if solve(_only(outcome.week, chosen), ()) is not None:
                starts.append(other.start_min)
    return min(starts), max(starts)


def _only(week: Week, chosen: Mapping[str, DayOption]) -> Week:
    tasks = tuple(replace(task, options=(chosen[task.id],)) for task in week.tasks if task.id in chosen)
    return replace(week, tasks=tasks)


def _why(outcome: Outcome, task: PourTask, option: DayOption, currency: str) -> tuple[str, ...]:
    if task.done:
        return ("done",)
    week, before = outcome.week, outcome.week.previous.get(task.id)
    found = []
    if before is not None and before[0] == option.day:
        found.append("the day that it had before")
    elif before is not None:
        found.append(why_not(outcome, task, before[0], currency))
    if task.preferred == option.day:
        found.append("its preferred day")
    elif not week.least_change:
        found.append(why_not(outcome, task, task.preferred, currency))
    other = _next_best(outcome, task, option)
    if other is not None and len(found) < 2:
        found.append(why_not(outcome, task, other, currency))
    return tuple(dict.fromkeys(found))


def _next_best(outcome: Outcome, task: PourTask, option: DayOption) -> dt.date | None:
    """The other day that would cost least for this pour by itself."""
    worth = money(outcome.week)
    others = [
        other
        for other in outcome.week.open_options(task)
        if other.day not in (option.day, task.preferred) and other.day <= task.latest
    ]
    best = min(others, key=lambda other: (worth(task, other), other.start_min), default=None)
    return None if best is None else best.day


def why_not(outcome: Outcome, task: PourTask, day: dt.date, currency: str) -> str:
    """Why a pour is not on this day, in one sentence."""
    week, name = outcome.week, f"not {day_words(day)}"
    refused = dict(task.refused).get(day)
    if refused is not None:
        return f"{name}: {refused}"
    if day in week.lost_days:
        return f"{name}: the day is lost"
    least = week.not_before.get(task.id)
    if least is not None and day < least:
        return f"{name}: it has slipped, not before {day_words(least)}"
    options = tuple(option for option in week.open_options(task) if option.day == day)
    if not options:
        return f"{name}: not among the days looked at for it"
    there = outcome.solution.chosen
    tasks = tuple(
        replace(entry, options=options) if entry.id == task.id else entry for entry in week.tasks if entry.id in there
    )
    pinned = replace(week, tasks=tasks)
    goals = goals_of(week)
    solution = solve(pinned, goals)
    if solution is None:
        return f"{name}: {conflict_words(pinned, conflict_in(pinned))}"
    here = tuple(_value(week, goal, there) for goal in goals)
    return f"{name}: {_worse(week, here, solution.values, currency)}"


def _value(week: Week, goal: object, chosen: Mapping[str, DayOption]) -> int:
    assert callable(goal)
    return sum(goal(week.task(pour), option) for pour, option in chosen.items())


def _worse(week: Week, here: Sequence[int], there: Sequence[int], currency: str) -> str:
    """The first goal in which the other programme is worse."""
    names: tuple[str, ...] = ("money", "off", "early")
    if week.least_change:
        names = ("moved pours", "moved days", "changed starts", *names)
    for name, one, other in zip(names, here, there, strict=True):
        if other == one:
            continue
        more = other - one
        if name == "money":
            return f"{money_words(more / MONEY_STEPS, currency)} dearer for all pours together"
        if name == "off":
            return f"no cheaper, and {days_words(more)} more off the preferred ones, all pours together"
        if name == "early":
            return "no cheaper, and the pours together would be later"
        return f"{more} more {name}"
    return "no better"


def moved_pours(outcome: Outcome, currency: str) -> tuple[tuple[MovedPour, ...], int]:
    """Pours that moved against the programme before, and how many kept day and start."""
    week, found, kept = outcome.week, [], 0
    for pour, (day, start_min) in week.previous.items():
        option = outcome.solution.chosen.get(pour)
        if option is None:
            reason = next((entry.reason for entry in outcome.skipped if entry.task.id == pour), "no day any more")
            found.append(MovedPour(pour=pour, from_start=week.moment(start_min), to_start=None, days=0, why=reason))
            continue
        if option.day == day and abs(option.start_min - start_min) < 0.5:
            kept += 1
            continue
        reason = why_not(outcome, week.task(pour), day, currency) if option.day != day else "another start that day"
        found.append(
            MovedPour(
                pour=pour,
                from_start=week.moment(start_min),
                to_start=week.moment(option.start_min),
                days=moved_days(week, option),
                why=reason,
            )
        )
    return tuple(sorted(found, key=lambda entry: (entry.from_start, entry.pour))), kept


def totals_cu(outcome: Outcome) -> tuple[float, float]:
    """Expected cost of the pours that are still to be done, and what their lateness costs."""
    pairs = [(outcome.week.task(pour), option) for pour, option in outcome.solution.chosen.items()]
    pairs = [(task, option) for task, option in pairs if not task.done]
    return sum(option.cost_cu for _, option in pairs), sum(late_cu(task, option) for task, option in pairs)


def late_days(task: PourTask, option: DayOption) -> int:
    """Days after the preferred one."""
    return max(0, (option.day - task.preferred).days)
