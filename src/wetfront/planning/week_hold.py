"""How long a pour holds what it takes: crew, pump and form, in every replication and at the programme's chance."""

import datetime as dt
import math
import zlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from wetfront.errors import InvalidInput
from wetfront.hashed import normal_quantile
from wetfront.nouns.programme import FormSet, SharedCrew, SharedPump, StrikingTime
from wetfront.nouns.site import WEEKDAYS, Weekday
from wetfront.planning.week import DayOption, Floats, PourTask, ResourceKind, Week, WorkingTime

QUANTILE_Z_95 = 1.645
"""Standard normal number of 95 %."""
FAR_MIN = 1e6
"""Beyond the end of the calendar: no pour follows there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """A resource that a task takes."""

    kind: ResourceKind
    id: str


def uses_of(task: PourTask) -> tuple[Use, ...]:
    """Crew, pump and form set of a task."""
    named: tuple[tuple[ResourceKind, str], ...] = (
        ("crew", task.crew),
        ("pump", task.pump),
        ("form set", task.form_set),
    )
    return tuple(Use(kind=kind, id=name) for kind, name in named if name)


def used(week: Week) -> tuple[Use, ...]:
    """Crews, pumps and form sets that some task takes."""
    return tuple(dict.fromkeys(use for task in week.tasks for use in uses_of(task)))


def count_of(week: Week, use: Use) -> int:
    """How many there are."""
    return _resource(week, use).count


def working_time(
    first_day: dt.date,
    days_count: int,
    zone: dt.tzinfo,
    working_days: Collection[Weekday],
    holidays: Collection[dt.date],
    start: dt.time,
    end: dt.time,
) -> WorkingTime:
    """Worked minutes against real ones over so many days. InvalidInput where a day's end is not after its start."""
    if end <= start:
        raise InvalidInput("work_end_local", f"work_end_local is {end}; allowed: after work_start_local, {start}")
    midnight = dt.datetime.combine(first_day, dt.time(0), zone).astimezone(dt.UTC)
    minutes, worked = [0.0], [0.0]
    for number in range(days_count):
        day = first_day + dt.timedelta(days=number)
        if WEEKDAYS[day.weekday()] not in working_days or day in holidays:
            continue
        opens, closes = (
            (dt.datetime.combine(day, time, zone).astimezone(dt.UTC) - midnight).total_seconds() / 60
            for time in (start, end)
        )
        minutes += [opens, closes]
        worked += [worked[-1], worked[-1] + closes - opens]
    return WorkingTime(minutes=np.array(minutes), worked=np.array(worked))


def after_work(working: WorkingTime, from_min: Floats, work_min: float) -> Floats:
    """When so much work, begun at these minutes, is done; infinity where the calendar ends before."""
    done = np.interp(from_min, working.minutes, working.worked) + work_min
    # The first corner at or above the wanted work ends the stretch on which it is reached: nights are left out.
    corner = np.searchsorted(working.worked, done - 1e-9, side="left")
    inside = np.minimum(corner, len(working.worked) - 1)
    ended: Floats = working.minutes[inside] - (working.worked[inside] - done)
    return np.where(corner >= len(working.worked), np.inf, ended)


def shuffled(values: Floats, seed: int, *names: str) -> Floats:
    """The same values in an order of their own for each name: replications of different pours do not go together."""
    generator = np.random.default_rng([seed, *(zlib.crc32(name.encode()) for name in names)])
    mixed: Floats = values[generator.permutation(len(values))]
    return mixed


def striking_hours(time: StrikingTime, count: int, seed: int, pour: str) -> Floats:
    """Hours until struck, one a replication: a normal law for each side of the usual value, through 5, 50 and 95 %.

    The middle of equally likely slices in mixed order, so that few replications do. Own rule.
    """
    z = normal_quantile((np.arange(count) + 0.5) / count)
    side = np.where(z > 0, time.high - time.usual, time.usual - time.low) / QUANTILE_Z_95
    return shuffled(np.maximum(time.usual + z * side, 0.0), seed, pour, "striking")


def free_at_min(week: Week, task: PourTask, option: DayOption, use: Use, delay_min: Floats | float = 0.0) -> Floats:
    """When the resource is free for the next pour, one a replication, if the pour begins so much later."""
    return _free_at(
        _resource(week, use), week.working, week.seed, option, week.form_held_until_min.get(task.id, -np.inf), delay_min
    )


def _resource(week: Week, use: Use) -> SharedCrew | SharedPump | FormSet:
    pools: dict[str, Sequence[SharedCrew | SharedPump | FormSet]] = {
        "crew": week.crews,
        "pump": week.pumps,
        "form set": week.form_sets,
    }
    return next(entry for entry in pools[use.kind] if entry.id == use.id)


def _free_at(
    resource: SharedCrew | SharedPump | FormSet,
    working: WorkingTime,
    seed: int,
    option: DayOption,
    not_struck_before_min: float,
    delay_min: Floats | float,
) -> Floats:
    placed = shuffled(option.placing_end_min, seed, option.pour) + delay_min
    match resource:
        case SharedPump():
            return placed + resource.between_pours_min
        case SharedCrew():
            finished = shuffled(option.finishing_end_min, seed, option.pour) + delay_min
            ended = finished if resource.held_until == "end of finishing" else placed
            return np.maximum(placed, ended) + resource.between_pours_min
        case FormSet():
            hours = striking_hours(resource.until_struck_h, len(placed), seed, option.pour)
            struck = np.maximum(placed + 60.0 * hours, not_struck_before_min)
            return after_work(working, struck, 60.0 * resource.strike_clean_reset_h)


def with_chance(values: Floats, chance: float) -> int:
    """The first whole minute by which this share of the replications is over."""
    return math.ceil(float(np.quantile(values, chance, method="inverted_cdf")) - 1e-6)


def held_until_min(week: Week, task: PourTask, option: DayOption, use: Use) -> int:
    """The end of the hold at the programme's chance. Beyond the calendar: far away."""
    floor = week.form_held_until_min.get(task.id, -np.inf)
    return _held_until(_resource(week, use), week.working, week.seed, option, floor, week.chance)


@lru_cache(maxsize=20_000)
def _held_until(
    resource: SharedCrew | SharedPump | FormSet,
    working: WorkingTime,
    seed: int,
    option: DayOption,
    floor: float,
    chance: float,
) -> int:
    free = _free_at(resource, working, seed, option, floor, 0.0)
    return with_chance(np.where(np.isfinite(free), free, float(working.minutes[-1]) + FAR_MIN), chance)


@lru_cache(maxsize=20_000)
def _placed_by(option: DayOption, chance: float) -> int:
    return with_chance(option.placing_end_min, chance)


def placed_by_min(week: Week, option: DayOption) -> int:
    """The end of placing at the programme's chance."""
    return _placed_by(option, week.chance)
