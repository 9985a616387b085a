"""The plan's model and its draws, conditioned on the record: what the simulator goes on from."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wetfront.forecast.call_offs import as_seen, dues_after
from wetfront.forecast.cells import Filled, PlacedCells, cut_off, filled, in_order, pumped_min
from wetfront.forecast.conditioned import SOON, conditioned
from wetfront.forecast.levels import Level, levels_after
from wetfront.forecast.observed import Observed, observed
from wetfront.forecast.record import NOT_SEEN, Record, Recorded
from wetfront.placing.chance import Chance, chance_of
from wetfront.placing.draws import Draws
from wetfront.placing.model import REFUSAL_REASONS, Floats, PlantSupply, PourModel, SiteWork, Supply
from wetfront.placing.seen import Seen
from wetfront.planning.joint_clock import JointClock

Flags = NDArray[np.bool_]
SENT_BACK = REFUSAL_REASONS.index("consistence")
LEAST_SPREAD = 0.005
"""Own rule: against a measurement a sheet's wastage is never surer than half a per cent of the net volume."""
LEAST_MEASURE_M3 = 0.05
"""Own rule: no measurement of what is left is surer."""
NOTHING_LEFT = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class UnderWay:
    """A pour as it stands, ready to be simulated on."""

    model: PourModel
    chance: Chance
    levels: dict[str, Level]
    filled: Filled
    taken_m3: float
    needed_m3: Floats
    """By member: all that the pump takes in the whole pour."""
    wastage: tuple[float, float]
    """Mean and deviation as they are now."""
    plants_known: bool = True
    """Of several plants the tickets name each load's: else nobody knows what is on the road."""

    @property
    def remaining_m3(self) -> Floats:
        """By member: what the pump still has to take."""
        left: Floats = np.maximum(self.needed_m3 - self.taken_m3, 0.0)
        return left


def under_way(
    plan: PourModel, draws: Draws, record: Record, known: PlacedCells | None = None, clock: JointClock | None = None
) -> UnderWay:
    """Condition the plan's model on the record. Before the first batching it is the plan's model with its draws.

    `known`: which cells are full, where that is known better than by volume. `clock`: of concrete that was measured.
    """
    share = plan.day_share
    numbers = range(len(record.loads))
    served = [number for number in numbers if record.loads[number].is_out and not record.loads[number].is_refused]
    served.sort(key=lambda number: record.loads[number].start_min)
    mean, deviation = _wastage(plan, record, served)
    taken = math.fsum(record.loads[number].placed_m3 for number in served)
    cells = filled(plan, record, served, 1.0 + mean, known)
    wastage = _drawn_wastage(plan, record, draws, mean, deviation)
    lead = plan.site.priming_m3 + plan.site.line_content_m3
    net = float(plan.cells.volume_m3.sum())
    needed = lead + (1.0 + wastage) * net
    if not record.loads and record.now_min <= plan.supply.first_batching_min:
        chance = chance_of(plan, draws)
        return UnderWay(
            plan,
            replace(chance, wastage=wastage),
            levels_after({}, share),
            cells,
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
    plants = plants_by_ticket(plan.supply, record)
    model, told = _as_told(in_order(plan, cells.order), record, plants, cells, draws.loads_count, clock)
    levels = levels_after(told.values, share, told.between)
    chance = conditioned(model, draws, record, levels, told, plants is not None)
    assert model.seen is not None
    if record.is_cut_off and model.seen.cells_count:
        model, chance = cut_off(model, chance, np.arange(len(model.cells.volume_m3)) < model.seen.cells_count)
    chance = replace(chance, wastage=scale - 1.0)
    return UnderWay(model, chance, levels, cells, taken, needed, (mean, deviation), plants is not None)


def learned_levels(plan: PourModel, record: Record) -> dict[str, Level]:
    """The day's levels after the loads on record; as the plan has them where there are none."""
    if not record.loads:
        return levels_after({}, plan.day_share)
    nothing = Filled(*(np.zeros(0, dtype=np.int64), np.zeros(0)), np.zeros(0, dtype=np.int64), np.zeros(0), 0.0, 0.0)
    plants = plants_by_ticket(plan.supply, record)
    _, told = _as_told(plan, record, plants, nothing, len(record.loads), None)
    return levels_after(told.values, plan.day_share, told.between)


def plants_by_ticket(supply: Supply, record: Record) -> tuple[int, ...] | None:
    """Of each load on record; None where there are several and a ticket does not name one of them."""
    if len(supply.plants) == 1:
        return (0,) * len(record.loads)
    number_of = {plant.name.casefold(): number for number, plant in enumerate(supply.plants)}
    found = [number_of.get(load.plant.strip().casefold()) for load in record.loads]
    known = tuple(number for number in found if number is not None)
    return known if len(known) == len(found) else None


def _as_told(
    model: PourModel,
    record: Record,
    plants: tuple[int, ...] | None,
    cells: Filled,
    loads_count: int,
    clock: JointClock | None,
) -> tuple[PourModel, Observed]:
    """The model with what has been seen of its loads and cells, and what that tells of the day."""
    site, pattern = model.site, np.resize(model.supply.plant_of_load, len(record.loads)).tolist()
    seen = _seen(model.supply, record, tuple(pattern) if plants is None else plants, cells)
    supply, planned = as_seen(model.supply, plants, seen.batching_min, loads_count)
    dues = dues_after(supply, planned, seen, record, site.repair_min.mean, site.wash_min)
    model = replace(
        model,
        seen=seen,
        supply=replace(supply, due_min=dues.due_min),
        site=replace(site, breaks=_breaks_left(site, seen)),
    )
    return model, observed(model, record, seen, dues.waited_for_truck, cells, clock)


def _seen(supply: Supply, record: Record, plants: tuple[int, ...], cells: Filled) -> Seen:
    """Loads as they arrived: so the simulator numbers them."""
    loads = record.loads
    moments = [_moments(supply.plants[plant], load) for plant, load in zip(plants, loads, strict=True)]
    batching, batched, reached, start, end, left = np.array(moments).reshape(len(loads), 6).T
    is_out = np.array([load.is_out for load in loads], dtype=np.bool_)
    refused = np.array([load.is_refused for load in loads], dtype=np.bool_)
    _one_after_the_other(start, end, is_out, refused, record)
    return Seen(
        now_min=record.now_min,
        batching_min=batching,
        batched_min=batched,
        reached_min=reached,
        start_min=start,
        end_min=end,
        left_min=left,
        volume_m3=np.array([load.volume_m3 for load in loads]),
        used_m3=np.array([load.placed_m3 for load in loads]),
        refused=np.where(refused, SENT_BACK, 0),
        temperature_c=np.array([load.temperature_c for load in loads]),
        placed_min=cells.placed_min,
        cell_load=cells.cell_load,
        begun_min=cells.begun_min,
        rest_of_cell_m3=cells.rest_of_cell_m3,
    )


def _moments(plant: PlantSupply, load: Recorded) -> tuple[float, ...]:
    """Rising moments of a load; what no ticket says before its arrival is as usual."""
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
    return load.placed_m3 * pumped_min(before, record) / max(pumped_min(load, record), SOON)


def _drawn_wastage(plan: PourModel, record: Record, draws: Draws, mean: float, deviation: float) -> Floats:
    found: Floats = mean + deviation * draws.wastage_z[:, 0]
    return found if record.measured else np.maximum(found, 0.0)


def _breaks_left(site: SiteWork, seen: Seen) -> tuple[tuple[float, float], ...]:
    """A break has been taken when a load was begun after its time."""
    starts = seen.start_min[~np.isnan(seen.start_min)]
    last = float(starts.max(initial=-math.inf))
    return tuple(pause for pause in site.breaks if pause[0] > last)
