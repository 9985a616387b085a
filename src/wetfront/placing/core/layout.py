"""A model as the compiled core wants it: numbers and columns by the names of pour.h, worked out once."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log, log1p, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wetfront.placing.front import crews_away
from wetfront.placing.model import Floats, Ints, Joints, Lognormal, PourModel, Supply, WeatherMembers
from wetfront.placing.stream import VOLUME_GUARD_M3, plan_stream

Values = dict[str, Any]
"""By field of pour.h: a number, or a column in its own type."""

MOST_USUAL_LOADS = 20_000
"""The usual course is not worked out for more loads than this; such pours take the general way."""


def law(values: Lognormal) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm; without deviation the value itself and 0."""
    variance = log1p(values.cv**2)
    mean = log(values.mean) - variance / 2
    return (mean, sqrt(variance)) if variance > 0 else (float(np.exp(np.array([mean]))[0]), 0.0)


def supply_values(supply: Supply) -> Values:
    """What a search varies."""
    return {**plant_values(supply), **order_values(supply)}


def plant_values(supply: Supply) -> Values:
    """The plants and their laws."""
    return {
        "plants_count": len(supply.plants),
        "plants": np.array(
            [
                (plant.trucks_count, plant.batching_min.mean + plant.haul_min.mean, plant.opens_min, plant.closes_min)
                for plant in supply.plants
            ],
            dtype=np.float64,
        ),
        "plant_laws": np.array(
            [(*law(plant.batching_min), *law(plant.haul_min), *law(plant.return_min)) for plant in supply.plants],
            dtype=np.float64,
        ),
    }


def order_values(supply: Supply) -> Values:
    """When loads are called off, and how large."""
    return {
        "pattern_count": len(supply.plant_of_load),
        "pattern": np.array(supply.plant_of_load, dtype=np.int64),
        "load_m3": supply.load_m3,
        "interval_min": supply.interval_min,
        "first_batching_min": supply.first_batching_min,
        "bans_count": len(supply.bans),
        "bans": np.array(supply.bans, dtype=np.float64),
        "has_step": supply.call_off_step_m3 is not None,
        "call_off_step_m3": supply.call_off_step_m3 or 0.0,
        "smallest_load_m3": supply.smallest_load_m3,
        "balance_after_measuring": supply.balance_after_measuring,
        "due_count": len(supply.due_min),
        "due": np.array(supply.due_min, dtype=np.float64),
    }


Memo = dict[tuple[Any, ...], Values]
"""Values already worked out for parts that several models share, by the identity of those parts."""


def shared_values(model: PourModel, memo: Memo | None = None) -> Values:
    """Everything but the supply; the size of a load counts in the usual course.

    Whoever passes a `memo` keeps the models alive and unchanged as long as it is used.
    """
    known: Memo = {} if memo is None else memo
    cells, joints, site = id(model.cells), id(model.joints), model.site
    lead = (site.priming_m3, site.line_content_m3, id(model.seen))
    course = (*lead, site.wastage, site.wastage_sd, model.supply.load_m3)

    def pairs() -> Values:
        return _once(known, ("pairs", joints), lambda: _by_distance(model.joints, len(model.cells.volume_m3)))

    return {
        **_site_values(model),
        **_seen_values(model),
        "watched_count": len(model.watched),
        "watched": np.ascontiguousarray(model.watched, dtype=np.int64),
        **_once(known, ("concrete", id(model.concrete), id(model.members)), lambda: _concrete_values(model)),
        **_once(known, ("cells", cells, *lead), lambda: _cell_values(model)),
        **_once(known, ("joints", joints), lambda: _joint_values(model.joints, pairs())),
        **_once(known, ("panels", cells, len(model.panel_names)), lambda: _panel_values(model)),
        **_once(known, ("finishing", id(model.finishing), id(model.members), cells), lambda: _finishing_values(model)),
        **_once(known, ("usual", cells, joints, *course), lambda: _usual_values(model, pairs())),
    }


def _once(memo: Memo, key: tuple[Any, ...], work: Callable[[], Values]) -> Values:
    if key not in memo:
        memo[key] = work()
    return memo[key]


def _site_values(model: PourModel) -> Values:
    site, acceptance = model.site, model.acceptance
    speed, repair = law(site.speed), law(site.repair_min)
    longest_age_min, lowest_c, highest_c = acceptance.widened
    return {
        "places_count": site.discharge_places_count,
        "position_min": site.position_min,
        "wash_min": site.wash_min,
        "rate_is_held": site.rate_is_held,
        "breaks_count": len(site.breaks),
        "breaks": np.array(site.breaks, dtype=np.float64),
        "weather_stops_count": len(site.weather_stops),
        "weather_stops": np.array(site.weather_stops, dtype=np.float64),
        "gang_count": len(site.gang_hours),
        "gang_hours": np.array(site.gang_hours, dtype=np.float64),
        "wastage": site.wastage,
        "wastage_sd": site.wastage_sd,
        "waiting_free_min": site.waiting_free_min,
        "rise_window_min": site.rise_window_min,
        "up_mean_min": site.pumping_min_between_stops,
        "speed_m": speed[0],
        "speed_s": speed[1],
        "repair_m": repair[0],
        "repair_s": repair[1],
        "longest_age_min": longest_age_min,
        "age_from_loading": acceptance.age_counted_from == "loading",
        "judged_at_end": acceptance.age_judged_at == "expected-end",
        "lowest_c": lowest_c,
        "highest_c": highest_c,
        "refusal_probability": acceptance.consistence_refusal_probability,
    }


def _seen_values(model: PourModel) -> Values:
    """What has been seen, and the day's part of the deviations."""
    seen, share = model.seen, model.day_share
    deviations = {"day_deviation": sqrt(share), "load_deviation": sqrt(1.0 - share)}
    if seen is None:
        nothing = np.zeros(0)
        return {
            **deviations,
            **dict.fromkeys(("has_seen", "seen_loads", "seen_served", "seen_full", "seen_owned"), 0),
            **dict.fromkeys(("seen", "seen_placed", "seen_begun"), nothing),
            "now_min": 0.0,
            "seen_order": nothing.astype(np.int64),
            "seen_owner": nothing.astype(np.int32),
        }
    moments = (seen.batching_min, seen.batched_min, seen.reached_min, seen.start_min, seen.end_min, seen.left_min)
    others = (seen.volume_m3, seen.used_m3, seen.refused, seen.temperature_c)
    served = np.array(seen.served, dtype=np.int64)
    accepted = served[seen.refused[served] == 0].tolist()
    place = {number: at for at, number in enumerate(accepted)}
    return {
        **deviations,
        "has_seen": 1,
        "now_min": seen.now_min,
        "seen_loads": seen.loads_count,
        "seen": np.ascontiguousarray(np.column_stack([*moments, *others]), dtype=np.float64),
        "seen_served": len(served),
        "seen_order": served,
        "seen_full": seen.cells_count,
        "seen_placed": np.ascontiguousarray(seen.placed_min, dtype=np.float64),
        "seen_owned": len(seen.cell_load),
        "seen_owner": np.array([place[number] for number in seen.cell_load.tolist()], dtype=np.int32),
        "seen_begun": np.ascontiguousarray(seen.begun_min, dtype=np.float64),
    }


def _concrete_values(model: PourModel) -> Values:
    """Tables and numbers of the clock: with members of an ensemble a row for each."""
    concrete, members = model.concrete, model.members
    clocks = concrete.clock_min[np.newaxis] if members is None else members.clock_min
    air = concrete.air_temperature_c if members is None else members.air_temperature_c
    total = np.ascontiguousarray(clocks, dtype=np.float64)
    count = total.shape[1]
    times = np.arange(count) * concrete.clock_step_min
    rise = np.diff(total)
    slope = rise / np.diff(times)
    bend = np.abs(np.diff(slope)).max(axis=1, initial=0.0)
    # Only where to begin to look: of one row for all, so fine that it is that point or the next.
    parts = 4 * count
    per_min = parts / (total[0, -1] - total[0, 0])
    begins = total[0, 0] + np.arange(parts) / per_min
    return {
        **_member_values(members, bend, slope.max(axis=1)),
        "clock_points": count,
        "clock_step_min": concrete.clock_step_min,
        "clock_per_min": 1.0 / concrete.clock_step_min,
        "clock_times": times,
        "clock_total": total,
        # The last point stands for itself: slope 0.
        "clock_slope": _with_last(slope),
        "clock_rate": rise / concrete.clock_step_min,
        "clock_bend": float(bend[0]),
        "clock_fastest": float(slope[0].max()),
        "when_slope": _with_last(np.diff(times) / rise),
        "when_start": np.clip(np.searchsorted(total[0], begins, side="right") - 1, 0, count - 1).astype(np.int64),
        "when_parts": parts,
        "when_per_min": per_min,
        "set_limit_min": concrete.set_limit_min,
        "set_factor_sd": concrete.set_factor_sd,
        "counts_age": concrete.counts_age,
        "counts_temperature": concrete.counts_load_temperature,
        "activation_k": concrete.activation_temperature_k,
        "plant_c": concrete.plant_temperature_c,
        "plant_sd_c": concrete.plant_temperature_sd_c,
        "change_per_h": concrete.change_per_h,
        "air_points": len(concrete.air_temperature_c),
        "air_c": np.ascontiguousarray(air, dtype=np.float64),
        "limits_count": len(concrete.edge_limits),
        "limits_up_to_c": np.array([step[0] for step in concrete.edge_limits], dtype=np.float64),
        "limits_min": np.array([step[1] for step in concrete.edge_limits], dtype=np.float64),
    }


def _with_last(slope: Floats) -> Floats:
    """Slopes of the points, that of the last one 0."""
    return np.concatenate([slope, np.zeros((len(slope), 1))], axis=1)


def _member_values(members: WeatherMembers | None, bend: Floats, fastest: Floats) -> Values:
    """Numbers by member, in the order of pour.h."""
    if members is None:
        return {"members_count": 0, "members_first": 0, "member_values": np.zeros(0)}
    of_concrete = (members.set_factor_sd, members.activation_temperature_k)
    of_finishing = (members.ready_clock_min, members.latest_clock_min)
    return {
        "members_count": members.count,
        "members_first": members.first_replication,
        "member_values": np.ascontiguousarray(np.column_stack([*of_concrete, *of_finishing, bend, fastest])),
    }


def _cell_values(model: PourModel) -> Values:
    plan = plan_stream(model)
    count = len(model.cells.volume_m3)
    until = plan.net_until_array
    parts = 2 * count
    begins = np.arange(parts) * (plan.net_m3 / parts)
    is_open = plan.net_m3 > 0
    return {
        "cells_count": count,
        "lead_m3": plan.lead_m3,
        "lead_min_per_m3": plan.lead_min_per_m3,
        "lead_min": plan.lead_min,
        "net_m3": plan.net_m3,
        "net_until": until,
        "work_until": plan.work_until_array,
        "moves_until": plan.moves_until_array,
        "min_per_m3": np.ascontiguousarray(plan.min_per_m3_array, dtype=np.float64),
        "has_moves": bool((plan.moves_until_array != 0).any()),
        "cell_start": np.clip(np.searchsorted(until, begins, side="right") - 1, 0, count - 1).astype(np.int64),
        "cell_parts": parts,
        "cell_per_m3": parts / plan.net_m3 if is_open else 0.0,
    }


def _joint_values(joints: Joints, pairs: Values) -> Values:
    first, later, edge = pairs["first"], pairs["later"], pairs["edge"]
    at = _begins((first, 1), (later, 1), (edge, 0))
    stretches = np.column_stack([first[at], later[at], np.diff(np.append(at, len(first))), at, edge[at]])
    return {
        "edges_count": len(joints.edge_names),
        "stretches_count": len(at),
        "stretches": np.ascontiguousarray(stretches, dtype=np.int32),
        "sorted_area": pairs["area"],
    }


def _by_distance(joints: Joints, cells_count: int) -> Values:
    """Joints by edge; within it those that wait longest come first: after them few others are open."""
    # One number for edge, distance from the longest on, and first cell.
    apart = joints.later - joints.first
    order = np.argsort((joints.edge * cells_count + (cells_count - apart)) * cells_count + joints.first, kind="stable")
    columns = {name: getattr(joints, name)[order] for name in ("first", "later", "edge")}
    return columns | {"area": np.ascontiguousarray(joints.area_m2[order], dtype=np.float64)}


def _begins(*columns: tuple[Ints, int]) -> Ints:
    """Where a row is not the one before, each of its columns one step on."""
    goes_on = np.logical_and.reduce([column[1:] - column[:-1] == step for column, step in columns])
    is_first = np.ones(min(len(columns[0][0]), 1), dtype=bool)
    begins: Ints = np.flatnonzero(np.concatenate([is_first, ~goes_on]))
    return begins


def _panel_values(model: PourModel) -> Values:
    panel, rise = model.cells.panel, model.cells.rise_m
    of_panel = [np.flatnonzero(panel == number) for number in range(len(model.panel_names))]
    after = [np.cumsum(rise[cells]) for cells in of_panel]
    before = [above - rise[cells] for above, cells in zip(after, of_panel, strict=True)]
    return {
        "panels_count": len(of_panel),
        "panel_from": np.cumsum([0] + [len(cells) for cells in of_panel], dtype=np.int64),
        "panel_cell": _joined(of_panel).astype(np.int32),
        "panel_before": _joined(before),
        "panel_after": _joined(after),
    }


def _joined(parts: Sequence[NDArray[Any]]) -> NDArray[Any]:
    return np.concatenate(parts) if parts else np.zeros(0)


def _finishing_values(model: PourModel) -> Values:
    finishing, strip, members = model.finishing, model.cells.strip, model.members
    rates = finishing.evaporation_kg_per_m2_h if members is None else members.evaporation_kg_per_m2_h
    on_top = np.flatnonzero(strip >= 0)
    last_cell = np.zeros(len(finishing.strip_min), dtype=np.int64)
    np.maximum.at(last_cell, strip[on_top], on_top)
    first_cell = np.full(len(finishing.strip_min), len(strip), dtype=np.int64)
    np.minimum.at(first_cell, strip[on_top], on_top)
    factor = law(Lognormal(1.0, finishing.strip_cv))
    away = crews_away(finishing)
    return {
        "strips_count": len(finishing.strip_min),
        "strip_min": np.ascontiguousarray(finishing.strip_min, dtype=np.float64),
        "strip_first_cell": first_cell,
        "strip_last_cell": last_cell,
        "strip_area": np.ascontiguousarray(finishing.strip_area_m2, dtype=np.float64),
        "evaporation_points": len(finishing.evaporation_kg_per_m2_h),
        "evaporation": np.ascontiguousarray(rates, dtype=np.float64),
        "evaporation_action": finishing.evaporation_action_kg_per_m2_h,
        "strip_m": factor[0],
        "strip_s": factor[1],
        "ready_clock_min": finishing.ready_clock_min,
        "latest_clock_min": finishing.latest_clock_min,
        "crews_count": len(away),
        "crew_away": np.array([interval for gone in away for interval in gone], dtype=np.float64),
        "crew_away_from": np.cumsum([0] + [len(gone) for gone in away], dtype=np.int64),
    }


LINE_COLUMNS = 32
"""POUR_LINE_COLUMNS of pour.h."""
STRAIGHT = 1e-12
"""Shares of a load that are this near to a straight line count as on it."""


@dataclass(frozen=True, slots=True)
class _Usual:
    """The usual course: all loads full and accepted, the last one as far as it is needed."""

    scale: float
    used_m3: Floats
    position_m3: Floats
    """Begins with 0, one longer than the loads."""


def _usual_course(model: PourModel, lead_m3: float, net_m3: float) -> _Usual | None:
    """None where wastage is drawn, so that no two replications need the same volume, and where the pour has begun."""
    site, load = model.site, model.supply.load_m3
    if site.wastage_sd != 0 or model.seen is not None:
        return None
    scale = 1.0 + max(site.wastage, 0.0)
    needed = lead_m3 + scale * net_m3
    if needed / load > MOST_USUAL_LOADS or needed <= VOLUME_GUARD_M3:
        return None
    used: list[float] = []
    position = [0.0]
    # As loads.py adds up, so that the same loads give the same bits.
    while needed - position[-1] > VOLUME_GUARD_M3:
        used.append(min(load, needed - position[-1]))
        position.append(position[-1] + used[-1])
    return _Usual(scale, np.array(used), np.array(position))


def _usual_values(model: PourModel, pairs: Values) -> Values:
    plan = plan_stream(model)
    usual = _usual_course(model, plan.lead_m3, plan.net_m3)
    if usual is None:
        return _no_usual_course(len(model.joints.edge_names))
    loads, until = len(usual.used_m3), usual.position_m3[1:]
    net = (usual.position_m3 - plan.lead_m3) / usual.scale
    in_lead = usual.position_m3 <= plan.lead_m3
    cell = np.clip(np.searchsorted(plan.net_until_array, net, side="right") - 1, 0, len(plan.min_per_m3_array) - 1)
    in_cell = (net - plan.net_until_array[cell]) * plan.min_per_m3_array[cell]
    work = np.where(
        in_lead,
        usual.position_m3 * plan.lead_min_per_m3,
        plan.lead_min + usual.scale * (plan.work_until_array[cell] + in_cell),
    )
    begun = np.searchsorted(plan.net_until_array[:-1], net - VOLUME_GUARD_M3)
    begun[0] = 0
    ends = plan.lead_m3 + usual.scale * plan.net_until_array[1:]
    begins = np.concatenate([[plan.lead_m3], ends[:-1]])
    last = np.minimum(np.searchsorted(until, ends - VOLUME_GUARD_M3), loads - 1)
    first = np.minimum(np.searchsorted(until, begins + VOLUME_GUARD_M3, side="right"), loads - 1)
    work[0] = 0.0
    to_end = plan.lead_min + usual.scale * plan.work_until_array[1:]
    share = (to_end - work[last]) / (work[last + 1] - work[last])
    return {
        "usual_loads": loads,
        "usual_scale": usual.scale,
        # Ends with a number that no load uses.
        "usual_used": np.append(usual.used_m3, -1.0),
        "usual_position": usual.position_m3,
        "usual_work": work,
        "usual_begun": begun.astype(np.int64),
        "usual_last_from": np.searchsorted(last, np.arange(loads + 1)).astype(np.int64),
        "usual_first_of": first.astype(np.int32),
        "usual_last_of": last.astype(np.int32),
        "usual_work_to_end": to_end,
        **_bands(len(model.joints.edge_names), pairs, first, last, share),
    }


def _no_usual_course(edges_count: int) -> Values:
    nothing = np.zeros(0)
    return {
        "usual_loads": 0,
        "usual_scale": 0.0,
        **dict.fromkeys(("usual_used", "usual_position", "usual_work", "usual_work_to_end"), nothing),
        **dict.fromkeys(("usual_begun", "usual_last_from"), nothing.astype(np.int64)),
        **dict.fromkeys(("usual_first_of", "usual_last_of"), nothing.astype(np.int32)),
        **_no_bands(edges_count),
    }


def _bands(edges: int, pairs: Values, first_of: Ints, last_of: Ints, share: Floats) -> Values:
    """Pairs by edge, the loads in which they lie, and distance; in a band, runs of pairs that step on by one cell."""
    first, later, edge = pairs["first"], pairs["later"], pairs["edge"]
    if len(first) == 0:
        return _no_bands(edges)
    # Loads rise with the cells, so that at one distance the pairs of a band stand together.
    loads = (first_of[first], last_of[first], last_of[later])
    labels = [(column, 0) for column in (edge, *loads, later - first)]
    band_at, run_at = _begins(*labels), _begins(*labels, (first, 1))
    runs = np.column_stack([first[run_at], later[run_at], np.diff(np.append(run_at, len(first))), run_at])
    band_loads = np.column_stack([column[band_at] for column in loads]).astype(np.int32)
    shares = _band_shares(first, later, band_at, share, band_loads[:, 1] == band_loads[:, 2])
    reach = np.zeros((len(band_at), 5))
    reach[:, :4] = shares[:, :4]
    reach[np.isinf(shares[:, 4])] = (0.0, 0.0, 1.0, 1.0, np.inf)
    return {
        "bands_count": len(band_at),
        "edge_bands": np.searchsorted(edge[band_at], np.arange(edges + 1)).astype(np.int64),
        "band_loads": band_loads,
        "band_lines": LINE_COLUMNS * band_loads,
        "band_shares": shares,
        "band_reach": reach,
        "band_area": np.add.reduceat(pairs["area"], band_at),
        "band_runs": np.searchsorted(run_at, np.append(band_at, len(first))).astype(np.int64),
        "runs_count": len(runs),
        "runs": runs.astype(np.int32),
    }


def _no_bands(edges_count: int) -> Values:
    none, nothing, zeros = np.zeros(0, dtype=np.int32), np.zeros(0), np.zeros(edges_count + 1, dtype=np.int64)
    return {
        "bands_count": 0,
        "runs_count": 0,
        "edge_bands": zeros,
        "band_runs": zeros[:1],
        **dict.fromkeys(("band_loads", "band_lines", "runs"), none),
        **dict.fromkeys(("band_shares", "band_reach", "band_area"), nothing),
    }


def _band_shares(first: Ints, later: Ints, band_at: Ints, share: Floats, is_in_one_load: NDArray[np.bool_]) -> Floats:
    """Shares of their load's work at both ends of each band, and what the clock's bends within the loads can do to it.

    With `bend` a quarter of the change of slope times the load's time, a cell at share s is off its line by no more
    than 4 s (1 - s) bends; two cells of one load are off by no more than 4 bends times the share between them.
    """
    last_at = np.append(band_at[1:], len(first)) - 1
    band = np.repeat(np.arange(len(band_at)), last_at - band_at + 1)
    steps = np.maximum(first[last_at] - first[band_at], 1)
    along = (first - first[band_at][band]) * (1.0 / steps)[band]
    done = [share[first], share[later]]
    ends = [of_cells[at] for of_cells in done for at in (band_at, last_at)]
    uneven = np.zeros(len(band_at))
    for of_cells, begin, end in zip(done, ends[::2], ends[1::2], strict=True):
        off_line = of_cells - (begin[band] + along * (end - begin)[band])
        uneven = np.maximum(uneven, np.maximum.reduceat(np.abs(off_line), band_at))
    between = np.maximum.reduceat(done[1] - done[0], band_at)
    off = [np.maximum.reduceat(np.clip(4 * of_cells * (1 - of_cells), 0.0, 1.0), band_at) for of_cells in done]
    # Of two cells in one load it is the sum that the share between them bounds.
    both = np.maximum(off[0] + off[1], STRAIGHT)
    part = np.where(is_in_one_load, np.minimum(1.0, 4 * between / both), 1.0)
    bends = [np.where(uneven < STRAIGHT, part * least, np.inf) for least in off]
    return np.ascontiguousarray(np.column_stack([*ends, *bends]))
