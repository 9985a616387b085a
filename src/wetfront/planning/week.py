"""A programme as the solver sees it: pours with days that they may have, resources, rules, and what has happened.

Minutes count from local midnight of the programme's first day, in real time: right over a change of the clocks.
"""

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wetfront.nouns.programme import FormSet, Neighbours, PourOrder, SharedCrew, SharedPlant, SharedPump

Floats = NDArray[np.float64]
ResourceKind = Literal["crew", "pump", "form set"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayOption:
    """One pour on one day at one start, as its own plan and simulation see it."""

    pour: str
    day: dt.date
    start_min: float
    placing_end_min: Floats
    """One a replication; as many as of every other option."""
    finishing_end_min: Floats
    """The end of placing where nothing is finished."""
    cost_cu: float
    """Expected cost of the pour by its own plan."""
    rate_m3_per_h: float
    forecast: str = ""
    """Empty: on that day's own forecast; else where the durations come from."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PourTask:
    """A pour that wants a day."""

    id: str
    title: str
    earliest: dt.date
    latest: dt.date
    preferred: dt.date
    order_m3: float
    options: tuple[DayOption, ...]
    """Also days after `latest`, where those were looked at: they count only if that rule is eased."""
    refused: tuple[tuple[dt.date, str], ...] = ()
    """Days on which it may not be, and why."""
    crew: str = ""
    pump: str = ""
    form_set: str = ""
    plant: str = ""
    late_cu_per_day: float = 0.0
    fixed: bool = False
    done: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Away:
    """Some of a resource are not there for a time."""

    kind: ResourceKind
    id: str
    count: int
    from_min: float
    to_min: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WorkingTime:
    """When forms are struck and set: real minutes and worked minutes side by side, both rising."""

    minutes: Floats
    worked: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Week:
    """Everything that a programme is made from."""

    first_day: dt.date
    zone: dt.tzinfo
    tasks: tuple[PourTask, ...]
    crews: tuple[SharedCrew, ...] = ()
    pumps: tuple[SharedPump, ...] = ()
    form_sets: tuple[FormSet, ...] = ()
    plants: tuple[SharedPlant, ...] = ()
    orders: tuple[PourOrder, ...] = ()
    neighbours: tuple[Neighbours, ...] = ()
    working: WorkingTime
    chance: float = 0.9
    seed: int = 1
    moved_pour_cu: float = 0.0
    moved_cu_per_day: float = 0.0
    previous: Mapping[str, tuple[dt.date, float]] = field(default_factory=dict)
    """Day and start [min] by pour in the programme before; empty where there is none."""
    least_change: bool = False
    """True: few moved pours come before cost; false: moving has its price."""
    not_before: Mapping[str, dt.date] = field(default_factory=dict)
    lost_days: frozenset[dt.date] = frozenset()
    away: tuple[Away, ...] = ()
    form_held_until_min: Mapping[str, float] = field(default_factory=dict)
    """By pour: its form is not struck before."""

    def task(self, pour: str) -> PourTask:
        """The task of a pour."""
        return next(task for task in self.tasks if task.id == pour)

    def day_number(self, day: dt.date) -> int:
        """Days from the first day."""
        return (day - self.first_day).days

    def moment(self, minutes: float) -> dt.datetime:
        """The local date-time of these minutes, to the nearest minute."""
        midnight = dt.datetime.combine(self.first_day, dt.time(0), self.zone).astimezone(dt.UTC)
        return (midnight + dt.timedelta(minutes=math.floor(minutes + 0.5))).astimezone(self.zone)

    def minutes(self, moment: dt.datetime) -> float:
        """Minutes of a moment with offset."""
        midnight = dt.datetime.combine(self.first_day, dt.time(0), self.zone).astimezone(dt.UTC)
        return (moment - midnight).total_seconds() / 60

    def open_options(self, task: PourTask) -> tuple[DayOption, ...]:
        """The options of a task that nothing that has happened rules out."""
        if task.done:
            return task.options
        least = self.not_before.get(task.id)
        return tuple(
            option
            for option in task.options
            if option.day >= task.earliest
            and option.day not in self.lost_days
            and (least is None or option.day >= least)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A pour cannot be before so many working days after the day that it had."""

    pour: str
    working_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLost:
    """Nobody pours on this day."""

    day: dt.date


@dataclass(frozen=True, slots=True, kw_only=True)
class ResourceAway:
    """Some of a crew, pump or form set are not there from one day to another, both included."""

    away: Away


@dataclass(frozen=True, slots=True, kw_only=True)
class NotStruck:
    """The form of a pour that has been placed stays until this moment at least."""

    pour: str
    until_min: float


Happened = Slip | DayLost | ResourceAway | NotStruck
