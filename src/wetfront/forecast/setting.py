"""Setting of the concrete that has come: until when it can be joined and worked, by its own temperature and age.

A load that nobody measured keeps the draw that it had in the plan, its temperature part of the draw's spread. A load
that was measured sets by its temperature, and only the mix's own spread is left in its draw: the joint clock's rule.
"""

import math
from dataclasses import replace

import numpy as np

from wetfront.forecast.under_way import UnderWay
from wetfront.placing.chance import Chance
from wetfront.placing.clock import clock_rate
from wetfront.placing.front import Clock, specified_minutes
from wetfront.placing.model import Concrete, Floats, Ints
from wetfront.placing.seen import Seen
from wetfront.placing.times import AirTable
from wetfront.planning.joint_clock import JointClock


def with_measured_setting(way: UnderWay, clock: JointClock) -> UnderWay:
    """The same with the clock factors of the loads that were measured."""
    seen, concrete = way.model.seen, way.model.concrete
    measured = np.flatnonzero(~np.isnan(seen.temperature_c)) if seen is not None else np.zeros(0, dtype=np.int64)
    if seen is None or not len(measured):
        return way
    factor = way.chance.set_factor.copy()
    spread = clock.own_spread / concrete.set_factor_sd if concrete.set_factor_sd > 0 else 0.0
    expected = Clock(concrete)
    for number in measured.tolist():
        factor[:, number] = _measured_factor(clock, expected, seen, number) * factor[:, number] ** spread
    return replace(way, chance=replace(way.chance, set_factor=factor))


def _measured_factor(clock: JointClock, expected: Clock, seen: Seen, number: int) -> float:
    """The factor with which the simulator's clock, made for the expected concrete, reaches the limit when the joint
    clock at the measured temperature does."""
    start = seen.start_min[number]
    start = float(seen.reached_min[number] if math.isnan(start) else start)
    batching, measured_c = float(seen.batching_min[number]), float(seen.temperature_c[number])
    limit = clock.concrete.set_limit_min
    usual = float(clock.join_until_min(np.array([start]), batching, measured_c)[1][0])
    begin, end = expected.at(np.array([start, min(usual, float(expected.times[-1]))]))
    age = float(clock_rate(measured_c, clock.concrete.activation_temperature_k)) * (start - batching)
    return limit / max(age + float(end - begin), 1e-9)


def temperatures_c(concrete: Concrete, seen: Seen, chance: Chance) -> Floats:
    """Of the known loads at the pump: measured, else by the mean of the plant and the way."""
    air = AirTable(concrete.air_temperature_c.tolist(), concrete.clock_step_min)
    found = seen.temperature_c.copy()
    for number in np.flatnonzero(np.isnan(found)):
        start = seen.start_min[number]
        fresh = float(np.mean(chance.plant_temperature_c[:, number]))
        share = concrete.change_per_h * (start - seen.batched_min[number]) / 60 if start == start else 0.0
        found[number] = (fresh + share * air.at(start)) / (1 + share) if share else fresh
    return found


class Setting:
    """The clocks of the cells that are full; cells by position in the forecast's order."""

    def __init__(self, way: UnderWay):
        assert way.model.seen is not None
        self.seen, self.concrete, self.factor = way.model.seen, way.model.concrete, way.chance.set_factor
        self.clock = Clock(self.concrete)
        self.temperature_c = temperatures_c(self.concrete, self.seen, way.chance)

    def specified_min(self, cells: Ints) -> Floats:
        """Until when each of them may wait by the specification; infinite where it names no minutes."""
        placed: Floats = self.seen.placed_min[cells]
        if not self.concrete.edge_limits:
            return np.full(len(cells), np.inf)
        return placed + specified_minutes(self.concrete, self.temperature_c[self.seen.cell_load[cells]])

    def reached_min(self, cells: Ints, clock_min: float) -> Floats:
        """When each of them shows this on its clock: a row a member, a column a cell.

        The table reaches over four days: what comes later is told as its end.
        """
        loads, placed = self.seen.cell_load[cells], self.seen.placed_min[cells]
        age = np.zeros(len(cells))
        if self.concrete.counts_age:
            rate = clock_rate(self.temperature_c[loads], self.concrete.activation_temperature_k)
            age = rate * (placed - self.seen.batching_min[loads])
        at_placing = self.clock.at(placed)
        due = at_placing + clock_min / self.factor[:, loads] - age
        return self.clock.when(np.minimum(np.maximum(due, at_placing), self.clock.total[-1]))

    def join_until_min(self, cells: Ints) -> Floats:
        """By member: when the first of these cells can no longer be joined. Of a load the oldest cell is the first."""
        loads = self.seen.cell_load[cells]
        order = np.lexsort((self.seen.placed_min[cells], loads))
        oldest = cells[order[np.unique(loads[order], return_index=True)[1]]]
        first: Floats = self.reached_min(oldest, self.concrete.set_limit_min).min(axis=1)
        return first
