"""The members' draws, conditioned on what is under way: it lasts at least as long as it has."""

import math
from dataclasses import dataclass, replace

import numpy as np

from wetfront.forecast.call_offs import called_min
from wetfront.forecast.cells import pumped_min
from wetfront.forecast.levels import (
    FARTHEST_Z,
    Level,
    below,
    beyond,
    drawn,
    normal_share,
    resampled,
    standard,
)
from wetfront.forecast.observed import Observed, min_per_m3, nominal_min
from wetfront.forecast.record import NOT_SEEN, Record
from wetfront.placing.chance import Chance, chance_of, lognormal, of_the_day
from wetfront.placing.draws import DAY_LEVELS, Draws
from wetfront.placing.model import Floats, Ints, Lognormal, PlantSupply, PourModel
from wetfront.placing.seen import Seen
from wetfront.placing.stream import plan_stream

NEXT_LOADS = 6
"""Loads that may be on the road without anybody having said so."""
ON_THE_ROAD = ("batching", "haul", "return")
"""Levels of the day of which the loads on the road tell; of the others they tell nothing."""
SOON = 1e-9


def conditioned(
    model: PourModel, draws: Draws, record: Record, levels: dict[str, Level], told: Observed, plants_known: bool
) -> Chance:
    """The members' draws: levels as learned, ways back as seen, what is under way at least as long as it has lasted."""
    day_z = drawn(levels, draws.day_z)
    # Once with the levels as they are learned from what is complete, for what is under way to weigh them by.
    parts = _Parts(model, draws, record, told, plants_known)
    chance = parts.with_returns(chance_of(model, replace(draws, day_z=day_z)), day_z)
    picked = day_z.copy()
    for weights, names in ((parts.road_weights(chance, day_z), ON_THE_ROAD), (parts.speed_weights(day_z), ("speed",))):
        rows, columns = resampled(weights), [DAY_LEVELS.index(name) for name in names]
        picked[:, columns] = day_z[rows][:, columns]
    if not np.array_equal(picked, day_z):
        day_z = picked
        chance = parts.with_returns(chance_of(model, replace(draws, day_z=day_z)), day_z)
    return parts.applied(chance, day_z)


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """What is under way, and how long already."""

    model: PourModel
    draws: Draws
    record: Record
    told: Observed
    plants_known: bool

    def with_returns(self, chance: Chance, day_z: Floats) -> Chance:
        """With the ways back that have been seen, or were no longer than they have been seen to be."""
        if not self.told.returns and not self.told.latest_returns:
            return chance
        back, level = chance.return_min.copy(), day_z[:, DAY_LEVELS.index("return")]
        for number, deviations in self.told.returns.items():
            back[:, number] = lognormal(self._plant_of(number).return_min, np.full(chance.count, deviations))
        share = self.model.day_share
        for number, most in self.told.latest_returns.items():
            law, z = self._plant_of(number).return_min, self.draws.return_z[:, number]
            if share < 1:
                z = below(z, (most - math.sqrt(share) * level) / math.sqrt(1 - share))
            back[:, number] = self._value(law, level, z)
        return replace(chance, return_min=back)

    def _plant_of(self, number: int) -> PlantSupply:
        supply = self.model.supply
        return supply.plants[supply.plant_of(number)]

    def road_weights(self, chance: Chance, day_z: Floats) -> Floats:
        """How likely each member is that the loads on the road have been there so long."""
        found = np.ones(self.draws.count)
        for limit in self._road_limits(chance, day_z):
            found = found * normal_share(-np.maximum(limit, -FARTHEST_Z))
        return found

    def speed_weights(self, day_z: Floats) -> Floats:
        """How likely each member is that the load on the pump is not done yet."""
        limit = self._speed_limit(day_z)
        return np.ones(self.draws.count) if limit is None else normal_share(limit)

    def applied(self, chance: Chance, day_z: Floats) -> Chance:
        """The draws beyond what has passed."""
        haul, speed = chance.haul_min.copy(), chance.speed.copy()
        count = len(self.record.loads)
        level = day_z[:, DAY_LEVELS.index("haul")]
        for ahead, limit in enumerate(self._road_limits(chance, day_z)):
            number = count + ahead
            z = beyond(self.draws.haul_z[:, number], limit)
            law = self._plant_of(number).haul_min
            haul[:, number] = np.where(np.isneginf(limit), haul[:, number], self._value(law, level, z))
        limit_of_speed = self._speed_limit(day_z)
        if limit_of_speed is not None:
            on_pump = self._on_pump
            assert on_pump is not None
            z = below(self.draws.speed_z[:, on_pump], limit_of_speed)
            speed[:, on_pump] = self._value(self.model.site.speed, day_z[:, DAY_LEVELS.index("speed")], z)
            if self.model.site.rate_is_held:
                speed[:, on_pump] = np.minimum(speed[:, on_pump], 1.0)
        up, repair = self._stops(chance)
        return replace(chance, haul_min=haul, speed=speed, up_min=up, repair_min=repair)

    @property
    def _on_pump(self) -> int | None:
        seen = self.model.seen
        assert seen is not None
        begun = np.flatnonzero(~np.isnan(seen.start_min) & np.isnan(seen.end_min))
        return int(begun[0]) if len(begun) else None

    def _value(self, law: Lognormal, level: Floats, z: Floats) -> Floats:
        return lognormal(law, of_the_day(self.model.day_share, level, z))

    def _limit(self, law: Lognormal, level: Floats, value: Floats) -> Floats:
        """The load's own part of a draw at which it has this value."""
        variance, share = math.log1p(law.cv**2), self.model.day_share
        if variance == 0 or share == 1:
            return np.full(len(level), -np.inf)
        with np.errstate(divide="ignore", invalid="ignore"):
            total = (np.log(np.maximum(value, 0.0) / law.mean) + variance / 2) / math.sqrt(variance)
        limit: Floats = (total - math.sqrt(share) * level) / math.sqrt(1 - share)
        return limit

    def _road_limits(self, chance: Chance, day_z: Floats) -> list[Floats]:
        """Of the next loads, which nobody has seen yet: how long they must be on the road at least.

        With several plants only where the tickets name them: else nobody can tell which sent its load before it comes.
        """
        seen, supply, record = self.model.seen, self.model.supply, self.record
        if seen is None or not self.plants_known:
            return []
        count, members = seen.loads_count, chance.count
        of_load = np.resize(supply.plant_of_load, max(count, 1))[:count]
        fleets = [self._fleet(chance, seen, plant, of_load) for plant in range(len(supply.plants))]
        batched = [
            np.full(members, seen.batched_min[of_load == plant].max(initial=-math.inf))
            for plant in range(len(supply.plants))
        ]
        begun = np.full(members, seen.batching_min.max(initial=-math.inf))
        level = day_z[:, DAY_LEVELS.index("haul")]
        found: list[Floats] = []
        left = self._left_to_call(seen)
        for ahead in range(min(NEXT_LOADS, max(0, chance.loads_count - count))):
            number = count + ahead
            plant = supply.plant_of(number)
            if left <= ahead * supply.load_m3 or not fleets[plant].shape[1]:
                break
            due = np.full(members, supply.due_min[number])
            begun = np.maximum.reduce([due, fleets[plant][:, 0], batched[plant], begun])
            fleets[plant] = fleets[plant][:, 1:]
            if supply.bans:
                begun = np.array([called_min(supply, time, plant) for time in begun.tolist()])
            batched[plant] = begun + chance.batching_min[:, number]
            passed = record.now_min - batched[plant]
            limit = self._limit(supply.plants[plant].haul_min, level, passed)
            found.append(np.where(passed > 0, limit, -np.inf))
        return found

    def _fleet(self, chance: Chance, seen: Seen, plant: int, of_load: Ints) -> Floats:
        """By member: when the trucks of a plant that are not under way with a load are back, rising."""
        free = np.column_stack(trucks_back(self.model, chance, plant, of_load))
        found: Floats = np.sort(free, axis=1)[:, int((of_load == plant).sum()) :]
        return found

    def _left_to_call(self, seen: Seen) -> float:
        plan = plan_stream(replace(self.model, seen=None))
        return plan.lead_m3 + (1 + self.model.site.wastage) * plan.net_m3 - seen.called_m3

    def _speed_limit(self, day_z: Floats) -> Floats | None:
        """What the load on the pump can be placed at, as it is not done yet; None where that says nothing."""
        number, seen, site = self._on_pump, self.model.seen, self.model.site
        if number is None or seen is None:
            return None
        load = replace(
            self.record.loads[number],
            start_min=float(seen.start_min[number]),
            end_min=NOT_SEEN,
            placed_m3=float(seen.volume_m3[number]),
        )
        passed = pumped_min(load, self.record)
        if passed <= 0:
            return None
        highest = nominal_min(self.model, load, min_per_m3(self.model)) / passed
        if site.rate_is_held and highest >= 1.0:
            return None
        level = day_z[:, DAY_LEVELS.index("speed")]
        return self._limit(site.speed, level, np.full(len(level), highest))

    def _stops(self, chance: Chance) -> tuple[Floats, Floats]:
        """Pumping between the breakdowns that count from the load on the pump, and their repairs."""
        record, number, seen = self.record, self._on_pump, self.model.seen
        assert seen is not None
        stops = [stop for stop in record.stops if stop.is_of_the_pump]
        start = float(seen.start_min[number]) if number is not None else record.now_min
        here = [stop for stop in stops if stop.is_open or (number is not None and stop.since_min >= start)]
        passed = min(len(stops) - len(here), chance.up_min.shape[1] // 2)
        up, repair = [], []
        at = start
        for place, stop in enumerate(here):
            up.append(np.full(chance.count, max(stop.since_min - at, SOON) if number is not None else SOON))
            if not stop.is_open:
                repair.append(np.full(chance.count, stop.until_min - stop.since_min))
                at = stop.until_min
                continue
            column = passed + place
            law = self.model.site.repair_min
            lasted = record.now_min - stop.since_min
            z = beyond(self.draws.repair_z[:, column], np.full(chance.count, standard(law, max(lasted, SOON))))
            variance = math.log1p(law.cv**2)
            whole = np.exp(math.log(law.mean) - variance / 2 + math.sqrt(variance) * z)
            # Without a load on the pump only the rest of it is still to come.
            repair.append(np.maximum(whole if number is not None else whole - lasted, SOON))
            at = record.now_min
        since = max(0.0, record.now_min - at) if number is not None else 0.0
        rest = chance.up_min[:, passed + len(here) :].copy()
        if rest.shape[1] and not (here and here[-1].is_open):
            rest[:, 0] += since
        width = chance.up_min.shape[1]
        ups = np.column_stack([*up, rest])
        repairs = np.column_stack([*repair, chance.repair_min[:, passed + len(here) :]])
        spare = width - ups.shape[1]
        return (
            np.column_stack([ups, np.full((chance.count, spare), ups[:, -1:])]),
            np.column_stack([repairs, np.full((chance.count, spare), repairs[:, -1:])]),
        )


def trucks_back(model: PourModel, chance: Chance, plant: int, of_load: Ints) -> list[Floats]:
    """When the trucks of a plant are free, by member: at the start, and back from each load whose end has been seen.

    `of_load`: the plants of the loads that have been seen.
    """
    supply, seen = model.supply, model.seen
    free = [np.full(chance.count, supply.first_batching_min)] * supply.plants[plant].trucks_count
    if seen is None:
        return free
    left = seen.site_left_min(model.site.wash_min)
    return free + [left[number] + chance.return_min[:, number] for number in seen.served if of_load[number] == plant]
