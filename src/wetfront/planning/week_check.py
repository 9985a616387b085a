"""A found programme carried out in every replication: does each pour find all that it takes free at its start?

Every pour's replications are in an order of their own, so pours are independent of each other; weather that makes a
whole week slow is not in it. A pour whose resources come late begins late, and all its ends move by as much. Own rule.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wetfront.planning.week import Away, DayOption, Floats, Week
from wetfront.planning.week_hold import Use, count_of, free_at_min, shuffled, used, uses_of, with_chance

LATE_MIN = 0.5
"""Later than this is late: half the minute to which starts are told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """How sure a pour's start is."""

    on_time: float
    """Share of the replications in which it begins as planned."""
    ready_min: int | None
    """When all it takes is free, with the programme's chance; None where nothing comes before it."""
    by: str
    """What is ready last."""


def carried_out(week: Week, chosen: Mapping[str, DayOption]) -> dict[str, Readiness]:
    """Readiness of every chosen pour, by pour."""
    count = min((len(option.placing_end_min) for option in chosen.values()), default=0)
    free = {use: np.full((count, count_of(week, use)), -np.inf) for use in used(week)}
    placed: dict[str, Floats] = {}
    found: dict[str, Readiness] = {}
    for start, pour, away in _in_order(week, chosen):
        if away is not None:
            _take_away(free, away)
            continue
        task, option = week.task(pour), chosen[pour]
        ready: dict[str, Floats] = {f"{use.kind} {use.id}": free[use].min(axis=1) for use in uses_of(task)}
        for order in week.orders:
            if order.pour == pour and order.least_days_between == 0:
                ready |= {first: placed[first] for first in order.after if first in placed}
        late = np.zeros(count)
        for moments in ready.values():
            late = np.maximum(late, moments - start)
        if task.done:
            late[:] = 0.0
        for use in uses_of(task):
            row = free[use].argmin(axis=1)
            free[use][np.arange(count), row] = free_at_min(week, task, option, use, late)
        placed[pour] = shuffled(option.placing_end_min, week.seed, pour) + late
        found[pour] = _readiness(late, ready, week.chance)
    return found


def _in_order(week: Week, chosen: Mapping[str, DayOption]) -> list[tuple[float, str, Away | None]]:
    """Pours and absences by their start; an absence goes first where both begin at once."""
    absences: list[tuple[float, str, Away | None]] = [(away.from_min, "", away) for away in week.away]
    pours: list[tuple[float, str, Away | None]] = [(option.start_min, pour, None) for pour, option in chosen.items()]
    return sorted(absences + pours, key=lambda entry: entry[:2])


def _take_away(free: dict[Use, Floats], away: Away) -> None:
    """For the time of an absence, so many of the resource are taken: those that are free first."""
    use = Use(kind=away.kind, id=away.id)
    if use not in free:
        return
    for _ in range(min(away.count, free[use].shape[1])):
        row = free[use].argmin(axis=1)
        rows = np.arange(len(row))
        free[use][rows, row] = np.maximum(free[use][rows, row], away.to_min)


def _readiness(late: Floats, ready: Mapping[str, Floats], chance: float) -> Readiness:
    moments = {name: with_chance(values, chance) for name, values in ready.items() if np.isfinite(values).all()}
    by = max(moments, key=lambda name: moments[name], default="")
    return Readiness(
        on_time=float((late <= LATE_MIN).mean()) if len(late) else 1.0,
        ready_min=moments.get(by),
        by=by,
    )
