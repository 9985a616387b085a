"""Loads that nobody has seen yet: when the plant begins them, and when they come to the gate, by member.

A load is batched when it is due, the plant has done the one before, and a truck is back. Trucks that are still out come
back when the simulator has placed what they carry: the cells at the ends of their loads are watched.
"""

from dataclasses import dataclass

import numpy as np

from wetfront.forecast.call_offs import AHEAD, called_min
from wetfront.forecast.conditioned import trucks_back
from wetfront.forecast.under_way import UnderWay
from wetfront.placing.model import Floats, Interval, Ints
from wetfront.placing.stream import VOLUME_GUARD_M3, plan_stream
from wetfront.placing.times import due_min


@dataclass(frozen=True, slots=True, eq=False)
class Coming:
    """The loads that are usually still called, in the order of their coming: a column a load."""

    called_min: Floats
    """When each is usually begun at the plant."""
    arrives_min: Floats
    """A row a member: the first truck to come, the second, …"""
    volume_m3: Floats
    begun_count: int
    """Usually begun by now, and not seen: the first ones."""
    plants_known: bool = True

    @property
    def on_road_count(self) -> int:
        """Those of which it may be said that they are on the road: none where nobody knows which plant sent what."""
        return self.begun_count if self.plants_known else 0

    @property
    def next_call_min(self) -> float | None:
        """When the next load is to be begun at the plant; None when all are under way."""
        later = self.called_min[self.begun_count :]
        return float(later[0]) if len(later) else None

    @property
    def next_arrival_min(self) -> Floats | None:
        """When the next truck comes, by member; None when none is to come."""
        return self.arrives_min[:, 0] if len(self.called_min) else None


def cells_before_ends(way: UnderWay) -> Ints:
    """The last cell that is full when each load is out that has not been emptied: those on site first, then to come."""
    return _ends(way)[0]


def coming_of(way: UnderWay, cells_full_min: Floats, now_min: float) -> Coming:
    """`cells_full_min`: a row a member, when the `cells_before_ends` are placed."""
    volumes = _volumes_m3(way)
    if not len(volumes):
        return Coming(np.zeros(0), np.zeros((way.chance.count, 0)), volumes, 0)
    ends = np.maximum(cells_full_min + _ends(way)[1], now_min)
    begun, reached = _on_the_way(way, ends, now_min, len(volumes))
    usual = np.median(begun, axis=1)
    begun_count = 0 if way.model.seen is None else int((usual <= now_min).sum())
    return Coming(usual, np.sort(reached, axis=0).T, volumes, begun_count, way.plants_known)


def _ends(way: UnderWay) -> tuple[Ints, Floats]:
    """For each load: the last cell that it fills, and the minutes that the rest of it takes at the usual rate."""
    stream, model = plan_stream(way.model), way.model
    gross_over_net = 1.0 + float(np.mean(way.chance.wastage))
    taken = 0.0 if model.seen is None else model.seen.taken_m3
    net = (taken + np.cumsum([*_waiting_m3(way), *_volumes_m3(way)]) - stream.lead_m3) / gross_over_net
    until = stream.net_until_array[1:]
    cells = np.searchsorted(until, net + VOLUME_GUARD_M3, side="right") - 1
    cells = np.clip(cells, 0, len(until) - 1).astype(np.int64)
    rest = np.clip(net - until[cells], 0.0, model.cells.volume_m3.max()) * gross_over_net
    return cells, rest * 60.0 / model.cells.rate_m3_per_h[cells]


def _waiting(way: UnderWay) -> Ints:
    """Loads that have been seen and not emptied, the one on the pump first."""
    seen = way.model.seen
    if seen is None:
        return np.zeros(0, dtype=np.int64)
    still = np.flatnonzero(np.isnan(seen.end_min))
    begun = np.where(np.isnan(seen.start_min[still]), np.inf, seen.start_min[still])
    return still[np.lexsort((seen.reached_min[still], begun))]


def _waiting_m3(way: UnderWay) -> Floats:
    seen = way.model.seen
    return np.zeros(0) if seen is None else seen.volume_m3[_waiting(way)]


def _volumes_m3(way: UnderWay) -> Floats:
    """Of the loads that are usually still called: full ones, and the balance by the steps of the call-off."""
    seen, supply = way.model.seen, way.model.supply
    called = 0.0 if seen is None else seen.called_m3
    missing = float(np.median(way.needed_m3)) - called
    drawn = way.chance.loads_count - (0 if seen is None else seen.loads_count)
    full = min(AHEAD, drawn, max(0, int(np.ceil((missing - VOLUME_GUARD_M3) / supply.load_m3))))
    found = np.full(full, supply.load_m3)
    if full and supply.call_off_step_m3:
        steps = np.ceil((missing - (full - 1) * supply.load_m3 - VOLUME_GUARD_M3) / supply.call_off_step_m3)
        found[-1] = min(supply.load_m3, max(supply.smallest_load_m3, float(steps) * supply.call_off_step_m3))
    return found


def _on_the_way(way: UnderWay, ends_min: Floats, now_min: float, count: int) -> tuple[Floats, Floats]:
    """Begin at the plant and arrival at the gate: a row a load, a column a member."""
    model, chance = way.model, way.chance
    supply, seen, members = model.supply, model.seen, way.chance.count
    number = 0 if seen is None else seen.loads_count
    waiting = _waiting(way)
    back = ends_min + model.site.wash_min
    fleets = [_fleet(way, plant, waiting, back) for plant in range(len(supply.plants))]
    plant_free = [np.full(members, plant.opens_min) for plant in supply.plants]
    last = np.full(members, -np.inf)
    if seen is not None:
        pattern = np.resize(supply.plant_of_load, number)
        for plant in range(len(supply.plants)):
            of_plant = seen.batched_min[pattern == plant]
            plant_free[plant] = np.maximum(plant_free[plant], of_plant.max(initial=-np.inf))
        last = np.full(members, seen.batching_min.max(initial=-np.inf))
    begun, reached = np.empty((count, members)), np.empty((count, members))
    for ahead in range(count):
        load = number + ahead
        plant = supply.plant_of(load)
        source, fleet = supply.plants[plant], fleets[plant]
        due = called_min(supply, due_min(supply, load), plant)
        start = np.maximum.reduce([np.full(members, due), plant_free[plant], last, *fleet[:1]])
        expected = start + source.batching_min.mean + source.haul_min.mean
        begun[ahead] = last = start + (_after(expected, supply.bans) - expected)
        plant_free[plant] = last + chance.batching_min[:, load]
        reached[ahead] = _after(np.maximum(plant_free[plant] + chance.haul_min[:, load], now_min), supply.bans)
        free = back[:, len(waiting) + ahead] + chance.return_min[:, load]
        fleets[plant] = list(np.sort(np.array([*fleet[1:], free]), axis=0))
    return begun, reached


def _fleet(way: UnderWay, plant: int, waiting: Ints, back: Floats) -> list[Floats]:
    """When the trucks of a plant are back, the first one first: each load took the one that had been free longest."""
    seen = way.model.seen
    of_load = np.resize(way.model.supply.plant_of_load, 0 if seen is None else seen.loads_count)
    free = trucks_back(way.model, way.chance, plant, of_load)
    for place, number in enumerate(waiting.tolist()):
        if of_load[number] == plant:
            free.append(back[:, place] + way.chance.return_min[:, number])
    called = int((of_load == plant).sum())
    return list(np.sort(np.array(free), axis=0)[called:])


def _after(time_min: Floats, intervals: tuple[Interval, ...]) -> Floats:
    for begin, end in intervals:
        time_min = np.where((time_min >= begin) & (time_min < end), end, time_min)
    return time_min
