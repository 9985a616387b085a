"""When the loads that nobody has seen yet are due at the plant: the plan's call-off, moved by what the day did."""

import math
from dataclasses import dataclass, replace

import numpy as np

from wetfront.forecast.levels import Z95
from wetfront.forecast.record import Record
from wetfront.placing.model import Floats, Lognormal, Supply
from wetfront.placing.seen import Seen
from wetfront.placing.times import after_intervals, due_min

AHEAD = 200
"""Loads for which a time is named; after them the interval goes on."""
LATE_MIN = 1.0
"""Own rule: a load begun no later than this after it was due was on time; tickets are printed in whole minutes."""


@dataclass(frozen=True, slots=True, eq=False)
class Dues:
    """When loads are due at the plant."""

    due_min: tuple[float, ...]
    """Of all loads, rising, as the simulator takes them; those that have been seen are due no later than the next."""
    waited_for_truck: frozenset[int]
    """Loads, by number in the record, that were due, and that the plant could have begun, but for their truck. Only
    where no other truck of the plant is usually back by then, and no load begun before can still be on the road."""


def dues_after(
    supply: Supply, planned_min: list[float], seen: Seen, record: Record, usual_stop_min: float, wash_min: float
) -> Dues:
    """Due times of all loads; `planned_min`: as they were planned, of the record's loads first.

    Own rule: a plant that is later by more than an interval than plan, plant and trucks explain goes on from there
    until it has made it good; one whose last load was ahead of its time goes on from that. Else it catches up as soon
    as it can, as the plan's does.

    A hold at the plant keeps what would be batched after it until the plant is told to send; while it goes on, until
    the pump is expected to run.
    """
    course = _Course(supply, planned_min, seen, wash_min)
    interval = supply.interval_min
    held_since = math.nan
    for told in record.called:
        if told.order in ("hold", "stop"):
            held_since = told.at_min
        elif told.order in ("send", "faster", "slower", "balance"):
            if told.interval_min is not None:
                interval = told.interval_min
            if not math.isnan(held_since):
                course.goes_on(held_since, told.at_min, interval)
            elif told.interval_min is not None:
                course.goes_on(told.at_min, told.at_min, interval, at_once=False)
            held_since = math.nan
    if not math.isnan(held_since):
        last = float(seen.batching_min.max(initial=-math.inf))
        course.goes_on(held_since, max(resumes_min(supply, record, usual_stop_min), last), interval)
    course.follow(seen.loads_count)
    return course.dues()


class _Course:
    """The loads that have been seen, one after the other in the order of their begin, against the time each was due."""

    def __init__(self, supply: Supply, planned_min: list[float], seen: Seen, wash_min: float):
        self.supply, self.seen = supply, seen
        count = seen.loads_count
        self.order: list[int] = np.argsort(seen.batching_min, kind="stable").tolist()
        self.due = [*sorted(planned_min[:count]), *planned_min[count:]]
        self.followed, self.slipped = 0, 0.0
        self.last_begun = -math.inf
        self.plant_free = [plant.opens_min for plant in supply.plants]
        self.begun = [0] * len(supply.plants)
        self.site_left: list[float] = seen.site_left_min(wash_min).tolist()
        self.back = [self._back(plant) for plant in range(len(supply.plants))]
        self.waited_for_truck: set[int] = set()
        # Before that no load can have been begun that has not come yet.
        self.all_known_until = seen.now_min - max(
            _late(each.batching_min) + _late(each.haul_min) for each in supply.plants
        )

    def _back(self, plant: int) -> list[float]:
        """When the trucks of a plant were back, at the latest that is usual."""
        law = self.supply.plants[plant].return_min
        at_start = [self.supply.first_batching_min] * self.supply.plants[plant].trucks_count
        mine = [left for row, left in enumerate(self.site_left) if self.supply.plant_of(row) == plant]
        return sorted(at_start + [left + _late(law) for left in mine if not math.isnan(left)])

    def _usually_back(self, plant: int, at_min: float) -> int:
        """Trucks of a plant that have left the site, and are usually back by then."""
        way = _usual(self.supply.plants[plant].return_min)
        mine = (left for row, left in enumerate(self.site_left) if self.supply.plant_of(row) == plant)
        return sum(left + way <= at_min for left in mine) + self.supply.plants[plant].trucks_count

    def follow(self, until: int) -> None:
        """Go on to the load that is the `until`-th to have been begun."""
        slipped = self.slipped
        for place in range(self.followed, until):
            row = self.order[place]
            plant, begun = self.supply.plant_of(row), float(self.seen.batching_min[row])
            without_truck = called_min(
                self.supply, max(self.due[place], self.plant_free[plant], self.last_begun), plant
            )
            back = self.back[plant]
            taken = self.begun[plant]
            truck = back[taken] if taken < len(back) else math.inf
            late = begun - max(without_truck, called_min(self.supply, truck, plant))
            if late > self.supply.interval_min:
                self._move(place + 1, late)
                slipped += late
            elif slipped > 0 and begun < self.due[place]:
                made_good = min(slipped, self.due[place] - begun)
                self._move(place + 1, -made_good)
                slipped -= made_good
            elif self._waits_for_its_truck(plant, begun, without_truck):
                self.waited_for_truck.add(row)
            self.last_begun = max(self.last_begun, begun)
            batched = float(self.seen.batched_min[row])
            self.plant_free[plant] = max(self.plant_free[plant], begun if math.isnan(batched) else batched)
            self.begun[plant] += 1
        self.slipped, self.followed = slipped, max(self.followed, until)

    def _waits_for_its_truck(self, plant: int, begun: float, without_truck: float) -> bool:
        """Late for no other reason, and no truck but its own is usually back."""
        # Of two plants that send in turn one waits for the other's begin.
        is_alone = int((np.abs(self.seen.batching_min - begun) <= 1.0).sum()) == 1
        is_late = without_truck + LATE_MIN < begun < self.all_known_until
        return is_alone and is_late and self._usually_back(plant, begun) <= self.begun[plant] + 1

    def goes_on(self, since: float, resumed: float, interval: float, at_once: bool = True) -> None:
        """What would be begun from `since` on comes from `resumed` on, in this interval; at once or after one."""
        self.follow(max(self.followed, int((self.seen.batching_min < resumed).sum())))
        kept = [time for time in self.due[self.followed :] if time < since]
        later = len(self.due) - self.followed - len(kept)
        begin = max([resumed if at_once else max(resumed, self.last_begun + interval), *kept[-1:]])
        self.due[self.followed :] = [*kept, *(begin + interval * step for step in range(later))]

    def _move(self, first: int, by_min: float) -> None:
        self.due[first:] = [time + by_min for time in self.due[first:]]

    def dues(self) -> Dues:
        """As they stand now."""
        count = self.seen.loads_count
        if count and self.last_begun < self.due[count - 1]:
            self._move(count, self.last_begun - self.due[count - 1])
        rising = np.minimum.accumulate(np.array(self.due)[::-1])[::-1]
        return Dues(tuple(rising.tolist()), frozenset(self.waited_for_truck))


def _usual(law: Lognormal) -> float:
    """Median."""
    return law.mean / math.sqrt(1 + law.cv**2)


def _late(law: Lognormal) -> float:
    """95 % point."""
    return _usual(law) * math.exp(Z95 * math.sqrt(math.log1p(law.cv**2)))


def called_min(supply: Supply, due: float, plant: int = 0) -> float:
    """When a load that is due then is batched, so that its expected arrival falls in no ban."""
    source = supply.plants[plant]
    on_the_way = source.batching_min.mean + source.haul_min.mean
    expected = due + on_the_way
    allowed = after_intervals(expected, supply.bans)
    return due if allowed == expected else allowed - on_the_way


def resumes_min(supply: Supply, record: Record, usual_stop_min: float) -> float:
    """When a plant on hold is expected to be told to send: so that its load comes when a stop has lasted as usual."""
    going_on = [stop for stop in record.stops if stop.is_open]
    if not going_on:
        return record.now_min
    plant = supply.plants[0]
    usual_end = going_on[-1].since_min + usual_stop_min
    return max(record.now_min, usual_end - plant.batching_min.mean - plant.haul_min.mean)


def as_seen(
    supply: Supply, plants: tuple[int, ...] | None, begun_min: Floats, loads_count: int
) -> tuple[Supply, list[float]]:
    """The supply with its loads in the order of the record, then those that nobody has seen, and when each was due.

    `plants`: of the record's loads by their tickets, each plant's in its own order of call-off. Where it is None the
    plan's pattern stands for them.
    """
    count = len(begun_min)
    numbers = range(count + AHEAD)
    if len(supply.plants) == 1 or plants is None:
        return supply, [due_min(supply, number) for number in numbers]
    pattern = np.resize(supply.plant_of_load, loads_count + (count + AHEAD) * len(supply.plants)).tolist()
    of_plant = {plant: [number for number, of in enumerate(pattern) if of == plant] for plant in set(pattern)}
    own = [0] * count
    for row in np.argsort(begun_min, kind="stable").tolist():
        own[row] = of_plant[plants[row]].pop(0)
    rest = sorted(number for left in of_plant.values() for number in left)[: max(loads_count, AHEAD)]
    called = replace(supply, plant_of_load=(*plants, *(pattern[number] for number in rest)))
    return called, [due_min(supply, number) for number in [*own, *rest[:AHEAD]]]
