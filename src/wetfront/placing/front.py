"""The wet front of one replication: when cells are placed, what joints have left, rise in a form, finishing."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import OutOfRange
from wetfront.placing.clock import clock_rate
from wetfront.placing.loads import LoadLog
from wetfront.placing.model import Concrete, FinishingWork, Interval, Joints, PourModel
from wetfront.placing.stream import VOLUME_GUARD_M3
from wetfront.placing.times import after_intervals

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


READINESS_DECIMALS = 6
"""Strips of one load can be ready at the same moment; minutes rounded so, ties by number, keep rounding out of it."""


class Clock:
    """The clock of the expected concrete, both ways."""

    def __init__(self, concrete: Concrete):
        self.step_min, self.total = concrete.clock_step_min, concrete.clock_min
        self.times = np.arange(len(self.total)) * concrete.clock_step_min

    def at(self, time_min: Floats) -> Floats:
        """Equivalent age since midnight at these times."""
        if time_min.size and not (time_min.min() >= 0.0 and time_min.max() <= self.times[-1]):
            self._refuse(float(time_min.min() if time_min.min() < 0 else time_min.max()))
        at: Floats = np.interp(time_min, self.times, self.total)
        return at

    def when(self, equivalent_min: Floats) -> Floats:
        """When that equivalent age since midnight is reached."""
        if equivalent_min.size and equivalent_min.max() > self.total[-1]:
            self._refuse(float(self.times[-1]) + self.step_min)
        when: Floats = np.interp(equivalent_min, self.total, self.times)
        return when

    def rate_at(self, time_min: Floats) -> Floats:
        """Equivalent minutes a minute, constant between the points of the table."""
        # A load that the pump takes before midnight and places after it has the table's first rate.
        before = np.clip((time_min / self.step_min).astype(np.int64), 0, len(self.total) - 2)
        rate: Floats = (self.total[before + 1] - self.total[before]) / self.step_min
        return rate

    def _refuse(self, time_min: float) -> None:
        raise OutOfRange("clock_min", time_min, f"0 to {self.times[-1]:g} min", "the table of the setting clock")


@dataclass(frozen=True, slots=True)
class Front:
    """Columns by position in placing order."""

    placed_min: Floats
    begun_min: Floats
    """Start of the cell's own work; only for the rise in a form."""
    load: Ints
    """Number of the load that brings the cell's first concrete: the oldest in it, which governs its joints."""
    temperature_c: Floats
    clock_at_placing: Floats
    """Clock of the expected concrete since midnight when the cell is placed."""
    factor: Floats
    """How much faster than expected this cell's clock runs."""
    clock_lead: Floats
    """What this cell's clock shows when it is placed."""


def front_of(model: PourModel, log: LoadLog, set_factor: Floats, clock: Clock) -> Front:
    """Times, loads and clocks of all cells."""
    stream, loads = log.stream, log.accepted
    moves = stream.plan.moves_until_array
    until = np.array([load.stream_from_m3 + load.used_m3 for load in loads])
    start = np.array([load.start_min for load in loads])
    ends, work_to_ends = stream.cell_ends_m3(), stream.work_to_cell_ends_min()
    begins = np.concatenate([[stream.plan.lead_m3], ends[:-1]])
    last = np.minimum(np.searchsorted(until, ends - VOLUME_GUARD_M3), len(loads) - 1)
    first = np.minimum(np.searchsorted(until, begins + VOLUME_GUARD_M3, side="right"), len(loads) - 1)
    speed = np.array([load.speed for load in loads])[last]
    offset = (work_to_ends - np.array([load.work_from_min for load in loads])[last]) / speed
    placed = start[last] + offset + (moves[1:] - np.array([load.moves_before for load in loads])[last])
    by_number = {load.number: index for index, load in enumerate(loads)}
    for repair in log.repairs:
        placed[(last == by_number[repair.load.number]) & (offset > repair.work_offset_min)] += repair.duration_min
    own_work = np.diff(work_to_ends, prepend=stream.plan.lead_min) / speed
    if model.seen is not None:
        # Where nothing was left to bring, the last load filled what was open.
        done = np.array([load.is_seen for load in loads])[last]
        placed[done] = np.array([load.end_min for load in loads])[last[done]]
        placed[: model.seen.cells_count] = model.seen.placed_min
        owned = [by_number[number] for number in model.seen.cell_load.tolist()]
        first[: len(owned)] = owned
    begun = placed - own_work
    begun[1:] = np.maximum(begun[1:], placed[:-1])
    if model.seen is not None:
        begun[: len(owned)] = model.seen.begun_min
    temperature = np.array([load.temperature_c for load in loads])
    number = np.array([load.number for load in loads])[first]
    factor, lead = _own_clocks(model.concrete, log, set_factor, clock)
    factor, lead_rate = factor[first], lead[first]
    batching = np.array([load.batching_min for load in loads])[first]
    return Front(
        placed_min=placed,
        begun_min=begun,
        load=number,
        temperature_c=temperature[first],
        clock_at_placing=clock.at(placed),
        factor=factor,
        clock_lead=lead_rate * (placed - batching),
    )


def _own_clocks(concrete: Concrete, log: LoadLog, set_factor: Floats, clock: Clock) -> tuple[Floats, Floats]:
    """For each accepted load: factor on the expected clock; clock minutes a minute between batching and placing."""
    loads = log.accepted
    own = set_factor[[load.number for load in loads]]
    if not (concrete.counts_age or concrete.counts_load_temperature):
        return own, np.zeros(len(loads))
    rate = clock_rate(np.array([load.temperature_c for load in loads]), concrete.activation_temperature_k)
    factor = own
    if concrete.counts_load_temperature:
        factor = own * rate / clock.rate_at(np.array([load.start_min for load in loads]))
    return factor, own * rate if concrete.counts_age else np.zeros(len(loads))


def joint_margins(concrete: Concrete, joints: Joints, front: Front) -> tuple[Floats, Floats]:
    """What each pair has left, by the setting clock and by the specification's minutes; never mixed."""
    first, later = joints.first, joints.later
    waited = front.clock_at_placing[later] - front.clock_at_placing[first]
    by_clock = concrete.set_limit_min - (front.clock_lead[first] + front.factor[first] * waited)
    if not concrete.edge_limits:
        return by_clock, np.full(len(first), np.inf)
    allowed = specified_minutes(concrete, front.temperature_c)[first]
    return by_clock, allowed - (front.placed_min[later] - front.placed_min[first])


def specified_minutes(concrete: Concrete, temperature_c: Floats) -> Floats:
    """The specification's longest exposure for concrete at these temperatures; the warmest step holds above as well."""
    up_to = np.array([step[0] for step in concrete.edge_limits])
    minutes = np.array([step[1] for step in concrete.edge_limits])
    return minutes[np.minimum(np.searchsorted(up_to, temperature_c), len(minutes) - 1)]


def joint_due(concrete: Concrete, joints: Joints, front: Front, clock: Clock) -> Floats:
    """When the earlier cell of each pair reaches its set limit; infinite where the clock's table ends before."""
    first = joints.first
    left = (concrete.set_limit_min - front.clock_lead[first]) / front.factor[first]
    at = front.clock_at_placing[first] + left
    return np.where(at <= clock.total[-1], np.interp(at, clock.total, clock.times), np.inf)


def least_by_edge(joints: Joints, margins: Floats) -> Floats:
    """The least margin along each named edge; infinite for an edge without pairs."""
    least = np.full(len(joints.edge_names), np.inf)
    np.minimum.at(least, joints.edge, margins)
    return least


def highest_rise(front: Front, cells: Ints, rise_m: Floats, window_min: float) -> float:
    """Highest rise in any time of this length in one form, as a rate [m/h].

    Each cell lifts the level evenly during its own work, so the level is a line of straight pieces, and the steepest
    window begins or ends at one of its corners.
    """
    begun, placed = front.begun_min[cells], front.placed_min[cells]
    level_after = np.cumsum(rise_m[cells])
    corners = np.column_stack([begun, placed]).ravel()
    levels = np.column_stack([level_after - rise_m[cells], level_after]).ravel()
    from_corner = np.interp(begun + window_min, corners, levels) - (level_after - rise_m[cells])
    to_corner = level_after - np.interp(placed - window_min, corners, levels)
    return float(max(from_corner.max(), to_corner.max())) / (window_min / 60.0)


def highest_evaporation(model: PourModel, opened_min: Floats, closed_min: Floats) -> Floats:
    """Highest rate [kg/m²/h] that each strip meets while it lies open; none where no rates are given."""
    rates, step_min = model.finishing.evaporation_kg_per_m2_h, model.concrete.clock_step_min
    if not len(rates):
        return np.zeros(0)
    times = np.arange(len(rates)) * step_min
    if len(closed_min) and closed_min.max() > times[-1]:
        raise OutOfRange(
            "evaporation_kg_per_m2_h", float(closed_min.max()), f"0 to {times[-1]:g} min", "the table of evaporation"
        )
    highest = np.maximum(np.interp(opened_min, times, rates), np.interp(closed_min, times, rates))
    between = zip(np.ceil(opened_min / step_min).astype(int), np.floor(closed_min / step_min).astype(int), strict=True)
    for strip, (after, before) in enumerate(between):
        highest[strip] = rates[after : before + 1].max(initial=highest[strip])
    return highest


@dataclass(frozen=True, slots=True)
class Finished:
    """Columns by strip."""

    ready_min: Floats
    start_min: Floats
    end_min: Floats
    late: NDArray[np.bool_]


def crews_away(work: FinishingWork) -> list[tuple[Interval, ...]]:
    """For each finishing crew the times in which it is not there. The crew with the highest number leaves first.

    Crews beyond the number of strips are left out: one with a lower number is there and idle whenever they are.
    """
    steps = ((-inf, work.crews_count), *work.crew_hours)
    until = [begin for begin, _ in steps[1:]] + [inf]
    return [
        tuple((begin, end) for (begin, count), end in zip(steps, until, strict=True) if count <= crew)
        for crew in range(min(len(work.strip_min), max(count for _, count in steps)))
    ]


def finish(model: PourModel, front: Front, last_cell: Ints, duration_min: Floats, clock: Clock) -> Finished:
    """Strips in order of readiness, each by the crew that can begin it first; of two, the one with the lower number.

    A crew that leaves finishes its strip first. A strip is late when its clock has run too far at the end.
    """
    work = model.finishing
    placed, at_placing = front.placed_min[last_cell], front.clock_at_placing[last_cell]
    factor, lead = front.factor[last_cell], front.clock_lead[last_cell]
    ready = np.maximum(placed, clock.when(at_placing + (work.ready_clock_min - lead) / factor))
    start, end = np.empty_like(ready), np.empty_like(ready)
    away = crews_away(work)
    free = [0.0] * len(away)
    for strip in np.argsort(np.round(ready, READINESS_DECIMALS), kind="stable").tolist():
        begin = [after_intervals(max(ready[strip], time), gone) for time, gone in zip(free, away, strict=True)]
        crew = begin.index(min(begin))
        start[strip] = begin[crew]
        end[strip] = free[crew] = start[strip] + duration_min[strip]
    late = lead + factor * (clock.at(end) - at_placing) > work.latest_clock_min
    return Finished(ready, start, end, late)
