"""The plan's model and its draws, conditioned on the record: what the simulator goes on from."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wetfront.forecast.call_offs import called_min, due_after
from wetfront.forecast.cells import Filled, PlacedCells, filled, in_order, pumped_min
from wetfront.forecast.levels import (
    FARTHEST_Z,
    Level,
    below,
    beyond,
    drawn,
    levels_after,
    normal_share,
    resampled,
    standard,
)
from wetfront.forecast.record import NOT_SEEN, Record, Recorded
from wetfront.placing.chance import Chance, chance_of
from wetfront.placing.draws import DAY_LEVELS, Draws
from wetfront.placing.model import REFUSAL_REASONS, Floats, Ints, Lognormal, PourModel
from wetfront.placing.seen import Seen
from wetfront.placing.stream import plan_stream
from wetfront.placing.times import AirTable, pumping_min

Flags = NDArray[np.bool_]
SENT_BACK = REFUSAL_REASONS.index("consistence")
NEXT_LOADS = 6
"""Loads that may be on the road without anybody having said so."""
LEAST_SPREAD = 0.005
"""Own rule: against a measurement a sheet's wastage is never surer than half a per cent of the net volume."""
LEAST_MEASURE_M3 = 0.05
"""Own rule: no measurement of what is left is surer."""
NOTHING_LEFT = 1e-12
_SOON = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class UnderWay:
    """A pour as it stands, ready to be simulated on."""

    model: PourModel
    chance: Chance
    levels: dict[str, Level]
    filled: Filled
    rows: Ints
    """Number in the record's loads by number in the simulator."""
    taken_m3: float
    needed_m3: Floats
    """By member: all that the pump takes in the whole pour."""
    wastage: tuple[float, float]
    """Mean and deviation as they are now."""

    @property
    def remaining_m3(self) -> Floats:
        """By member: what the pump still has to take."""
        left: Floats = np.maximum(self.needed_m3 - self.taken_m3, 0.0)
        return left


def under_way(plan: PourModel, draws: Draws, record: Record, known: PlacedCells | None = None) -> UnderWay:
    """Condition the plan's model on the record. Without any load it is the plan's model with the plan's draws."""
    share = plan.day_share
    rows = _in_sequence(record)
    served = [number for number in rows if record.loads[number].is_out and not record.loads[number].is_refused]
    served.sort(key=lambda number: record.loads[number].start_min)
    mean, deviation = _wastage(plan, record, served)
    taken = math.fsum(record.loads[number].placed_m3 for number in served)
    cells = filled(plan, record, served, 1.0 + mean, known)
    model = in_order(plan, cells.order)
    wastage = _drawn_wastage(plan, record, draws, mean, deviation)
    lead = plan.site.priming_m3 + plan.site.line_content_m3
    net = float(plan.cells.volume_m3.sum())
    needed = lead + (1.0 + wastage) * net
    if not rows:
        chance = chance_of(plan, draws)
        return UnderWay(
            plan,
            replace(chance, wastage=wastage),
            levels_after({}, share),
            cells,
            rows_of([]),
            0.0,
            needed,
            (mean, deviation),
        )
    if not math.isnan(record.ended_min):
        needed = np.full(draws.count, max(taken, lead))
    scale = (
        np.maximum((needed - max(taken, lead)) / cells.rest_m3, NOTHING_LEFT)
        if cells.rest_m3 > 0
        else np.ones(draws.count)
    )
    seen = _seen(plan, record, rows, cells)
    model = replace(
        model,
        seen=seen,
        supply=replace(model.supply, due_min=due_after(model.supply, seen, record, plan.site.repair_min.mean)),
        site=replace(model.site, breaks=_breaks_left(plan, seen)),
    )
    levels = levels_after(_observed(plan, record, rows, seen), share)
    chance = _conditioned(model, draws, record, rows, levels)
    return UnderWay(
        model, replace(chance, wastage=scale - 1.0), levels, cells, rows_of(rows), taken, needed, (mean, deviation)
    )


def learned_levels(plan: PourModel, record: Record) -> dict[str, Level]:
    """The day's levels after all that is on record; as the plan has them where nothing is."""
    rows = _in_sequence(record)
    if not rows:
        return levels_after({}, plan.day_share)
    nothing = Filled(*(np.zeros(0, dtype=np.int64), np.zeros(0)), np.zeros(0, dtype=np.int64), np.zeros(0), 0.0, 0.0)
    return levels_after(_observed(plan, record, rows, _seen(plan, record, rows, nothing)), plan.day_share)


def rows_of(rows: list[int]) -> Ints:
    """As a column."""
    return np.array(rows, dtype=np.int64)


def _in_sequence(record: Record) -> list[int]:
    """Loads of the record in the order of the simulator: as they arrived."""
    return list(range(len(record.loads)))


def _seen(plan: PourModel, record: Record, rows: list[int], cells: Filled) -> Seen:
    moments = np.array([_moments(plan, record, record.loads[number]) for number in rows])
    batching, batched, reached, start, end, left = moments.T
    is_out = np.array([record.loads[number].is_out for number in rows])
    refused = np.array([record.loads[number].is_refused for number in rows])
    _one_after_the_other(start, end, is_out, refused, record)
    number_of = {row: number for number, row in enumerate(rows)}
    return Seen(
        now_min=record.now_min,
        batching_min=batching,
        batched_min=batched,
        reached_min=reached,
        start_min=start,
        end_min=end,
        left_min=left,
        volume_m3=np.array([record.loads[number].volume_m3 for number in rows]),
        used_m3=np.array([record.loads[number].placed_m3 for number in rows]),
        refused=np.where(refused, SENT_BACK, 0),
        temperature_c=np.array([record.loads[number].temperature_c for number in rows]),
        placed_min=cells.placed_min,
        cell_load=np.array([number_of[row] for row in cells.cell_load.tolist()], dtype=np.int64),
        begun_min=cells.begun_min,
        rest_of_cell_m3=cells.rest_of_cell_m3,
    )


def _moments(plan: PourModel, record: Record, load: Recorded) -> tuple[float, ...]:
    """Rising moments of a load; what no ticket says before its arrival is as usual."""
    plant = plan.supply.plants[0]
    left = load.left_plant_min
    if math.isnan(left):
        usual = load.batching_min + plant.batching_min.mean
        left = load.arrived_min - plant.haul_min.mean if math.isnan(usual) else usual
    left = min(left, load.arrived_min)
    begun = left - plant.batching_min.mean if math.isnan(load.batching_min) else min(load.batching_min, left)
    if load.is_refused:
        moment = max(load.refused_min, load.arrived_min)
        return begun, left, load.arrived_min, moment, moment, load.left_site_min
    return begun, left, load.arrived_min, load.start_min, load.end_min, load.left_site_min


def _one_after_the_other(start: Floats, end: Floats, is_out: Flags, refused: Flags, record: Record) -> None:
    """The simulator's pump serves one load at a time: what the record lets overlap is moved apart, in place.

    A refusal counts at the latest when the pump took the load that it was at. The load on the pump is the one that
    has been begun, else the first that was accepted.
    """
    now = record.now_min
    done = np.flatnonzero(is_out & ~refused)
    free = -math.inf
    for row in done[np.argsort(start[done], kind="stable")]:
        start[row] = max(start[row], free)
        end[row] = free = max(end[row], start[row])
    begun = np.flatnonzero(~is_out & ~np.isnan(start))
    start[begun[:-1]] = NOT_SEEN
    if not len(begun):
        waiting = [
            (load.accepted_min, row)
            for row, load in enumerate(record.loads)
            if not load.is_out and not math.isnan(load.accepted_min)
        ]
        if waiting:
            accepted, row = min(waiting)
            start[row] = accepted
            begun = np.array([row])
    for row in begun[-1:]:
        start[row] = min(max(start[row], free), now)
    busy = [(start[row], end[row] if is_out[row] else math.inf) for row in [*done, *begun[-1:]]]
    for row in np.flatnonzero(refused):
        moment = min(start[row], now)
        for since, until in busy:
            if since < moment < until:
                moment = since
        start[row] = end[row] = moment


def _wastage(plan: PourModel, record: Record, served: list[int]) -> tuple[float, float]:
    """Mean and deviation of what goes beyond the net volume, after every measurement of what was left."""
    site, net = plan.site, float(plan.cells.volume_m3.sum())
    lead = site.priming_m3 + site.line_content_m3
    mean, deviation = site.wastage, site.wastage_sd
    if not record.measured:
        return mean, deviation
    precision = max(deviation, LEAST_SPREAD) ** -2
    total = precision * mean
    for measured in record.measured:
        out = math.fsum(_out_by(record.loads[number], record, measured.at_min) for number in served)
        out += math.fsum(
            _out_by(load, record, measured.at_min)
            for load in record.loads
            if not load.is_out and load.start_min == load.start_min
        )
        weight = (max(measured.spread_m3, LEAST_MEASURE_M3) / net) ** -2
        precision += weight
        total += weight * ((out + measured.remaining_m3 - lead) / net - 1.0)
    return total / precision, precision**-0.5


def _out_by(load: Recorded, record: Record, at_min: float) -> float:
    """What had come out of a load by then."""
    if at_min >= load.end_min:
        return load.placed_m3
    if math.isnan(load.end_min) or at_min <= load.start_min:
        return 0.0
    before = replace(load, end_min=at_min)
    return load.placed_m3 * pumped_min(before, record) / max(pumped_min(load, record), _SOON)


def _drawn_wastage(plan: PourModel, record: Record, draws: Draws, mean: float, deviation: float) -> Floats:
    found: Floats = mean + deviation * draws.wastage_z[:, 0]
    return found if record.measured else np.maximum(found, 0.0)


def _breaks_left(plan: PourModel, seen: Seen) -> tuple[tuple[float, float], ...]:
    """A break has been taken when a load was begun after its time."""
    starts = seen.start_min[~np.isnan(seen.start_min)]
    last = float(starts.max(initial=-math.inf))
    return tuple(pause for pause in plan.site.breaks if pause[0] > last)


def _observed(plan: PourModel, record: Record, rows: list[int], seen: Seen) -> dict[str, list[float]]:
    """What complete durations and measured temperatures tell of the day's levels, in deviations."""
    found: dict[str, list[float]] = {name: [] for name in DAY_LEVELS}
    pattern, site, concrete = plan.supply.plant_of_load, plan.site, plan.concrete
    air = AirTable(concrete.air_temperature_c.tolist(), concrete.clock_step_min)
    usual = min_per_m3(plan)
    for number, row in enumerate(rows):
        load, plant = record.loads[row], plan.supply.plants[pattern[number % len(pattern)]]
        has_left = not math.isnan(load.left_plant_min)
        if has_left and not math.isnan(load.batching_min) and load.left_plant_min > load.batching_min:
            found["batching"].append(standard(plant.batching_min, load.left_plant_min - load.batching_min))
        if has_left and load.arrived_min > load.left_plant_min:
            found["haul"].append(standard(plant.haul_min, load.arrived_min - load.left_plant_min))
        if not math.isnan(load.temperature_c) and concrete.plant_temperature_sd_c > 0:
            at = seen.start_min[number] if seen.start_min[number] == seen.start_min[number] else load.arrived_min
            part = concrete.change_per_h * (at - seen.batched_min[number]) / 60
            fresh = load.temperature_c * (1 + part) - (part * air.at(at) if part else 0.0)
            found["temperature"].append((fresh - concrete.plant_temperature_c) / concrete.plant_temperature_sd_c)
        if load.is_out and not load.is_refused and load.placed_m3 > 0.5 * plan.supply.load_m3:
            pumping = pumped_min(load, record)
            nominal = _nominal_min(plan, load, usual)
            if pumping > 0 and not site.rate_is_held:
                found["speed"].append(standard(site.speed, nominal / pumping))
    return found


def min_per_m3(plan: PourModel) -> float:
    """Pumping time of a cubic metre at the usual rate of the cells."""
    return 60 * float(np.average(1 / plan.cells.rate_m3_per_h, weights=plan.cells.volume_m3))


def _nominal_min(plan: PourModel, load: Recorded, usual_min_per_m3: float) -> float:
    """Pumping time of a load at the usual rate, or by the gang that is there."""
    work = load.placed_m3 * usual_min_per_m3
    return pumping_min(plan.site, load.start_min, load.placed_m3, work, 1.0)


def _conditioned(model: PourModel, draws: Draws, record: Record, rows: list[int], levels: dict[str, Level]) -> Chance:
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
        begun = np.full(chance.count, seen.batching_min.max())
        batched = np.full(chance.count, seen.batched_min[~np.isnan(seen.batched_min)].max())
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
        highest = _nominal_min(self.model, load, min_per_m3(self.model)) / passed
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
            up.append(np.full(chance.count, max(stop.since_min - at, _SOON) if number is not None else _SOON))
            if not stop.is_open:
                repair.append(np.full(chance.count, stop.until_min - stop.since_min))
                at = stop.until_min
                continue
            column = passed + place
            law = self.model.site.repair_min
            lasted = record.now_min - stop.since_min
            z = beyond(self.draws.repair_z[:, column], np.full(chance.count, standard(law, max(lasted, _SOON))))
            variance = math.log1p(law.cv**2)
            whole = np.exp(math.log(law.mean) - variance / 2 + math.sqrt(variance) * z)
            # Without a load on the pump only the rest of it is still to come.
            repair.append(np.maximum(whole if number is not None else whole - lasted, _SOON))
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
