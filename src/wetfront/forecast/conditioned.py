"""The members' draws, conditioned on what is under way: it lasts at least as long as it has."""

import math
from dataclasses import dataclass, replace

import numpy as np

from wetfront.forecast.call_offs import called_min
from wetfront.forecast.cells import pumped_min
from wetfront.forecast.levels import FARTHEST_Z, Level, below, beyond, drawn, normal_share, resampled, standard
from wetfront.forecast.record import NOT_SEEN, Record, Recorded
from wetfront.placing.chance import Chance, chance_of
from wetfront.placing.draws import DAY_LEVELS, Draws
from wetfront.placing.model import Floats, Lognormal, PourModel
from wetfront.placing.seen import Seen
from wetfront.placing.stream import plan_stream
from wetfront.placing.times import pumping_min

NEXT_LOADS = 6
"""Loads that may be on the road without anybody having said so."""
SOON = 1e-9


def min_per_m3(plan: PourModel) -> float:
    """Pumping time of a cubic metre at the usual rate of the cells."""
    return 60 * float(np.average(1 / plan.cells.rate_m3_per_h, weights=plan.cells.volume_m3))


def nominal_min(plan: PourModel, load: Recorded, usual_min_per_m3: float) -> float:
    """Pumping time of a load at the usual rate, or by the gang that is there."""
    work = load.placed_m3 * usual_min_per_m3
    return pumping_min(plan.site, load.start_min, load.placed_m3, work, 1.0)


def conditioned(model: PourModel, draws: Draws, record: Record, rows: list[int], levels: dict[str, Level]) -> Chance:
    """The members' draws: levels as learned, what is under way at least as long as it has lasted."""
    day_z = drawn(levels, draws.day_z)
    # Once with the levels as they are learned from what is complete, for what is under way to weigh them by.
    weights = np.ones(draws.count)
    chance = chance_of(model, replace(draws, day_z=day_z))
    parts = _Parts(model, draws, record, rows)
    weights *= parts.weights(chance, day_z)
    picked = resampled(weights)
    if not np.array_equal(picked, np.arange(draws.count)):
        day_z = day_z[picked]
        chance = chance_of(model, replace(draws, day_z=day_z))
    return parts.applied(chance, day_z)


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """What is under way, and how long already."""

    model: PourModel
    draws: Draws
    record: Record
    rows: list[int]

    def weights(self, chance: Chance, day_z: Floats) -> Floats:
        """How likely each member is that what is under way has lasted so long."""
        found = np.ones(self.draws.count)
        for limit in self._road_limits(chance, day_z):
            found = found * normal_share(-np.maximum(limit, -FARTHEST_Z))
        limit_of_speed = self._speed_limit(day_z)
        if limit_of_speed is not None:
            found = found * normal_share(limit_of_speed)
        return found

    def applied(self, chance: Chance, day_z: Floats) -> Chance:
        """The draws beyond what has passed."""
        haul, speed = chance.haul_min.copy(), chance.speed.copy()
        count = len(self.rows)
        law, level = self._haul_law, day_z[:, DAY_LEVELS.index("haul")]
        for ahead, limit in enumerate(self._road_limits(chance, day_z)):
            number = count + ahead
            z = beyond(self.draws.haul_z[:, number], limit)
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
    def _haul_law(self) -> Lognormal:
        return self.model.supply.plants[0].haul_min

    @property
    def _on_pump(self) -> int | None:
        seen = self.model.seen
        assert seen is not None
        begun = np.flatnonzero(~np.isnan(seen.start_min) & np.isnan(seen.end_min))
        return int(begun[0]) if len(begun) else None

    def _value(self, law: Lognormal, level: Floats, z: Floats) -> Floats:
        variance, share = math.log1p(law.cv**2), self.model.day_share
        mixed = math.sqrt(share) * level + math.sqrt(1 - share) * z
        found: Floats = np.exp(math.log(law.mean) - variance / 2 + math.sqrt(variance) * mixed)
        return found

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

        Only with one plant: which of several sent its load nobody can tell before it comes.
        """
        seen, supply, record = self.model.seen, self.model.supply, self.record
        if seen is None or len(supply.plants) != 1:
            return []
        served = seen.served
        site, count = self.model.site, seen.loads_count
        back = [
            (seen.end_min[number] + site.wash_min if math.isnan(seen.left_min[number]) else seen.left_min[number])
            + chance.return_min[:, number]
            for number in served
        ]
        trucks = supply.plants[0].trucks_count
        free = np.column_stack([np.full((chance.count, trucks), supply.first_batching_min), *back])
        free = np.sort(free, axis=1)[:, count:]
        begun = np.full(chance.count, seen.batching_min.max(initial=-math.inf))
        batched = np.full(chance.count, seen.batched_min.max(initial=-math.inf))
        level = day_z[:, DAY_LEVELS.index("haul")]
        found = []
        left = self._left_to_call(seen)
        for ahead in range(min(NEXT_LOADS, free.shape[1], max(0, chance.loads_count - count))):
            if left <= ahead * supply.load_m3:
                break
            number = count + ahead
            begun = np.maximum.reduce([np.full(chance.count, supply.due_min[number]), free[:, ahead], batched, begun])
            if supply.bans:
                begun = np.array([called_min(supply, time) for time in begun.tolist()])
            batched = begun + chance.batching_min[:, number]
            passed = record.now_min - batched
            found.append(np.where(passed > 0, self._limit(self._haul_law, level, passed), -np.inf))
        return found

    def _left_to_call(self, seen: Seen) -> float:
        plan = plan_stream(replace(self.model, seen=None))
        called = float(seen.volume_m3[seen.refused == 0].sum())
        return plan.lead_m3 + (1 + self.model.site.wastage) * plan.net_m3 - called

    def _speed_limit(self, day_z: Floats) -> Floats | None:
        """What the load on the pump can be placed at, as it is not done yet; None where that says nothing."""
        number, seen, site = self._on_pump, self.model.seen, self.model.site
        if number is None or seen is None:
            return None
        load = replace(
            self.record.loads[self.rows[number]],
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
