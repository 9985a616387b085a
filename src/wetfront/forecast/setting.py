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
from wetfront.placing.model import Floats, Ints, WeatherMembers
from wetfront.placing.seen import Seen
from wetfront.planning.joint_clock import JointClock

_NONE = np.zeros(0, dtype=np.int64)


def with_measured_setting(way: UnderWay, clock: JointClock) -> UnderWay:
    """The same with the clock factors of the loads that were measured."""
    seen = way.model.seen
    measured = np.flatnonzero(~np.isnan(seen.temperature_c)) if seen is not None else _NONE
    if seen is None or not len(measured):
        return way
    factor, sd = way.chance.set_factor.copy(), Weathers(way).set_factor_sd
    share = np.divide(clock.own_spread, sd, out=np.zeros_like(sd), where=sd > 0)
    expected = Clock(way.model.concrete)
    for number in measured.tolist():
        factor[:, number] = _measured_factor(clock, expected, seen, number) * factor[:, number] ** share
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


def _rows(members: WeatherMembers, chance: Chance) -> slice | list[int]:
    """The rows of these members: one stretch, which needs no copy, as long as it does not begin anew."""
    first = members.row_of(chance.first_replication)
    if first + chance.count <= members.count:
        return slice(first, first + chance.count)
    return [members.row_of(chance.first_replication + number) for number in range(chance.count)]


class Weathers:
    """The weather that each member meets: a row a member, or one row where all meet the forecast's."""

    def __init__(self, way: UnderWay):
        model, chance = way.model, way.chance
        concrete, finishing, members = model.concrete, model.finishing, model.members
        self.step_min = concrete.clock_step_min
        if members is None:
            self.clock_min, self.air_c = concrete.clock_min[np.newaxis], concrete.air_temperature_c[np.newaxis]
            self.activation_k, self.set_factor_sd, self.ready_clock_min, self.latest_clock_min = np.array(
                [
                    [concrete.activation_temperature_k],
                    [concrete.set_factor_sd],
                    [finishing.ready_clock_min],
                    [finishing.latest_clock_min],
                ]
            )
            return
        rows = _rows(members, chance)
        self.clock_min, self.air_c = members.clock_min[rows], members.air_temperature_c[rows]
        self.activation_k, self.set_factor_sd = members.activation_temperature_k[rows], members.set_factor_sd[rows]
        self.ready_clock_min, self.latest_clock_min = members.ready_clock_min[rows], members.latest_clock_min[rows]

    def at(self, table: Floats, minutes: Floats) -> Floats:
        """A table of this weather at these times: a row a member, a column a time."""
        place = np.clip(minutes / self.step_min, 0.0, table.shape[1] - 1.0)
        before = np.minimum(place.astype(np.int64), table.shape[1] - 2)
        found: Floats = table[:, before] + (place - before) * (table[:, before + 1] - table[:, before])
        return found

    def when(self, clock_min: Floats) -> Floats:
        """When each member's clock shows this; the end of the table, over four days on, for what comes later."""
        times = np.arange(self.clock_min.shape[1]) * self.step_min
        if len(self.clock_min) == 1:
            one: Floats = np.interp(clock_min, self.clock_min[0], times)
            return one
        return np.array([np.interp(*row, times) for row in zip(clock_min, self.clock_min, strict=True)])


class Setting:
    """The clocks of the cells that are full; cells by position in the forecast's order."""

    def __init__(self, way: UnderWay):
        assert way.model.seen is not None
        self.seen, self.concrete, self.factor = way.model.seen, way.model.concrete, way.chance.set_factor
        self.weathers = Weathers(way)
        self.temperature_c = self._temperatures_c(way.chance)

    def _temperatures_c(self, chance: Chance) -> Floats:
        """Of the known loads at the pump, by member: measured, else by the plant and the way."""
        seen, count = self.seen, self.seen.loads_count
        fresh = chance.plant_temperature_c[:, :count]
        known = ~np.isnan(seen.start_min)
        start = np.where(known, seen.start_min, 0.0)
        share = np.where(known, self.concrete.change_per_h * (start - seen.batched_min) / 60, 0.0)
        if share.any():
            fresh = (fresh + share * self.weathers.at(self.weathers.air_c, start)) / (1 + share)
        return np.where(np.isnan(seen.temperature_c), fresh, seen.temperature_c)

    def specified_min(self, cells: Ints) -> Floats:
        """Until when each of them may wait by the specification; infinite where it names no minutes."""
        placed: Floats = self.seen.placed_min[cells]
        if not self.concrete.edge_limits:
            return np.full(len(cells), np.inf)
        usual_c = self.temperature_c.mean(axis=0)
        return placed + specified_minutes(self.concrete, usual_c[self.seen.cell_load[cells]])

    def reached_min(self, cells: Ints, clock_min: Floats | float) -> Floats:
        """When each of them shows this on its clock: a row a member, a column a cell.

        `clock_min`: one for all, or in rows and columns that go with these.
        """
        loads, placed = self.seen.cell_load[cells], self.seen.placed_min[cells]
        age: Floats | float = 0.0
        if self.concrete.counts_age:
            rate = clock_rate(self.temperature_c[:, loads], self.weathers.activation_k[:, np.newaxis])
            age = rate * (placed - self.seen.batching_min[loads])
        at_placing = self.weathers.at(self.weathers.clock_min, placed)
        due = at_placing + np.maximum(clock_min / self.factor[:, loads] - age, 0.0)
        return np.maximum(self.weathers.when(due), placed)

    def oldest(self, cells: Ints) -> Ints:
        """Of each load the cell that was placed first: of one load it is the first that can no longer be joined."""
        loads = self.seen.cell_load[cells]
        order = np.lexsort((self.seen.placed_min[cells], loads))
        found: Ints = cells[order[np.unique(loads[order], return_index=True)[1]]]
        return found
