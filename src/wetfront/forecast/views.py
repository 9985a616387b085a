"""The forecast in the nouns of the board."""

import datetime as dt
import math

import numpy as np

from wetfront.forecast.levels import Level
from wetfront.forecast.pour import Forecast
from wetfront.nouns.board import Band, EdgeView, FinishView, ForecastView, Learned
from wetfront.nouns.plan import Moments
from wetfront.placing.clock import clock_rate
from wetfront.placing.core.library import core_name
from wetfront.placing.front import Clock, specified_minutes
from wetfront.placing.model import Floats, Ints, Lognormal
from wetfront.placing.times import AirTable
from wetfront.planning.day import Day
from wetfront.planning.steps import band, moments

Z95 = 1.6448536269514722


def as_band(values: Floats) -> Band:
    """5 %, 50 % and 95 % of the members."""
    low, usual, high = band(values)
    return Band(low=low, usual=usual, high=high)


def forecast_view(forecast: Forecast) -> ForecastView:
    """What comes next, in figures."""
    by, outcome, way, record = forecast.by, forecast.outcome, forecast.way, forecast.record
    day = by.situation.day
    finishes = len(by.model.finishing.strip_min) > 0
    waiting = [load for load in record.loads if not load.is_out]
    seen = forecast.model.seen
    on_pump = 0 if seen is None else int((~np.isnan(seen.start_min) & np.isnan(seen.end_min)).sum())
    late = (outcome.end_of_pour_min > day.closes_min) | (outcome.loads_after_closing > 0)
    end = moments(day, outcome.end_of_pour_min)
    return ForecastView(
        members_count=outcome.count,
        end_of_placing=end,
        end_of_finishing=moments(day, outcome.finishing_end_min) if finishes else None,
        remaining_m3=as_band(way.remaining_m3),
        balance_load_m3=as_band(balance_m3(forecast)),
        call_next_by=None if (call := forecast.next_call_min) is None else day.moment(call),
        next_arrival=None if (comes := forecast.next_arrival_min) is None else moments(day, comes),
        on_road_count=forecast.on_road_count,
        waiting_count=max(0, len(waiting) - on_pump),
        chance_of_cold_joint=float((outcome.cold_joint_area_m2 > 0).mean()),
        chance_over_specification=float((outcome.area_over_specification_m2 > 0).mean()),
        chance_out_of_hours=float(late.mean()),
        learned=learned(forecast),
        text=_text(forecast, end),
    )


def _text(forecast: Forecast, end: Moments) -> str:
    if forecast.has_ended:
        return f"placing has ended; {forecast.way.taken_m3:.1f} m³ by the tickets"
    left = as_band(forecast.way.remaining_m3)
    plain = "" if core_name() == "compiled" else "; fewer courses, since the compiled core is not built"
    return (
        f"{forecast.way.taken_m3:.1f} m³ placed, {left.low:.1f} to {left.high:.1f} m³ to come; end between "
        f"{end.early:%H:%M} and {end.late:%H:%M} in nine of ten of {forecast.outcome.count} courses{plain}"
    )


def balance_m3(forecast: Forecast) -> Floats:
    """By member: size of the last load to call, by the call-off steps; 0 where no more is called."""
    supply, seen = forecast.model.supply, forecast.model.seen
    coming = 0.0
    if seen is not None:
        coming = float(seen.volume_m3[np.isnan(seen.end_min)].sum())
    missing = np.maximum(forecast.way.remaining_m3 - coming, 0.0)
    missing = np.where(missing < 1e-6, 0.0, missing)
    rest = missing - supply.load_m3 * np.floor(missing / supply.load_m3 - 1e-9).clip(min=0)
    step = supply.call_off_step_m3
    sized = np.ceil(rest / step - 1e-9) * step if step else np.full(len(rest), supply.load_m3)
    sized = np.clip(sized, supply.smallest_load_m3, supply.load_m3)
    return np.where(missing > 0, sized, 0.0)


def learned(forecast: Forecast) -> tuple[Learned, ...]:
    """What the day has taught: each quantity of a load as planned and as it looks now, and the wastage."""
    model, share = forecast.by.model, forecast.by.model.day_share
    plant = model.supply.plants[0]
    rate = float(np.average(model.cells.rate_m3_per_h, weights=model.cells.volume_m3))
    levels = forecast.way.levels
    found = [
        Learned(
            name=title,
            unit=unit,
            planned=_law(law, Level(), 0.0, by),
            now=_law(law, levels[name], share, by),
            seen_count=levels[name].seen_count,
        )
        for name, title, unit, law, by in (
            ("batching", "batching", "min", plant.batching_min, 1.0),
            ("haul", "road to the site", "min", plant.haul_min, 1.0),
            ("speed", "placing rate", "m³/h", model.site.speed, rate),
        )
    ]
    mean, sd = model.site.wastage, model.site.wastage_sd
    now_mean, now_sd = forecast.way.wastage
    found.append(
        Learned(
            name="wastage",
            unit="%",
            planned=_normal(100 * mean, 100 * sd),
            now=_normal(100 * now_mean, 100 * now_sd),
            seen_count=len(forecast.record.measured),
        )
    )
    return tuple(found)


def _law(law: Lognormal, level: Level, share: float, by: float) -> Band:
    """A load's figure, its level as it is known: prediction for the next one."""
    variance = math.log1p(law.cv**2)
    mean = math.log(law.mean) - variance / 2 + math.sqrt(variance * share) * level.mean
    spread = math.sqrt(variance * (share * level.deviation**2 + 1 - share))
    low, usual, high = (by * math.exp(mean + z * spread) for z in (-Z95, 0.0, Z95))
    return Band(low=low, usual=usual, high=high)


def _normal(mean: float, deviation: float) -> Band:
    return Band(low=mean - Z95 * deviation, usual=mean, high=mean + Z95 * deviation)


def edge_views(forecast: Forecast) -> tuple[EdgeView, ...]:
    """Every edge with concrete on at least one side: the live ones first, what must be joined soonest on top."""
    model, full = forecast.model, forecast.cells_full
    joints = model.joints
    found = []
    for edge in range(len(joints.edge_names)):
        pairs = np.flatnonzero((joints.edge == edge) & (joints.first < full))
        if len(pairs):
            found.append(_edge(forecast, edge, pairs))
    return tuple(sorted(found, key=lambda view: (view.closed, deadline(view))))


def deadline(edge: EdgeView) -> dt.datetime:
    """Until when an edge is to be joined: by the specification or, at the earliest, by its own setting."""
    ends = [edge.join_by_specification, edge.join_by_setting.early if edge.join_by_setting is not None else None]
    return min((end for end in ends if end is not None), default=edge.waits_since)


def _edge(forecast: Forecast, edge: int, pairs: Ints) -> EdgeView:
    model, day, full = forecast.model, forecast.by.situation.day, forecast.cells_full
    seen, joints = model.seen, model.joints
    assert seen is not None
    live = pairs[joints.later[pairs] >= full]
    closed = not len(live)
    looked = pairs if closed else live
    first = joints.first[looked]
    placed = seen.placed_min[first]
    allowed = _allowed(forecast, first)
    by_set = set_due(forecast, first)
    cold = float((forecast.outcome.edge_set_margin_min[:, edge] < 0).mean())
    over = float((forecast.outcome.edge_specified_margin_min[:, edge] < 0).mean())
    waits = seen.placed_min[joints.later[looked]] - placed if closed else None
    waited = None if waits is None else float(waits.max())
    joined = forecast.edge_joined_min[:, edge]
    specified = None if allowed is None else float((placed + allowed).min())
    cells = model.cells.lattice_cell[np.unique(first)]
    return EdgeView(
        name=joints.edge_names[edge],
        cells=tuple(int(cell) for cell in cells),
        waits_since=day.moment(float(placed.min())),
        join_by_specification=None if specified is None else day.moment(specified),
        join_by_setting=moments(day, by_set),
        joined_at=moments(day, joined),
        closed=closed,
        waited_min=waited,
        chance_over_specification=over,
        chance_of_cold_joint=cold,
        text=_edge_text(day, closed, waited, specified, allowed, float(np.quantile(by_set, 0.05)), over, cold),
    )


def _edge_text(
    day: Day,
    closed: bool,
    waited: float | None,
    specified: float | None,
    allowed: Floats | None,
    set_early: float,
    over: float,
    cold: float,
) -> str:
    setting = f"cold joint by its own setting in {cold:.0%} of the courses"
    if closed:
        limit = float(allowed.min()) if allowed is not None else math.inf
        if waited is not None and waited > limit:
            return (
                f"waited {waited:.0f} min, over the specification's {limit:g} min: a departure to be recorded and "
                f"shown to the designer, not by itself a cold joint; {setting}"
            )
        return f"joined after {waited:.0f} min; {setting}"
    by_minutes = "" if specified is None else f"by the specification until {day.clock(specified)}, "
    return (
        f"may wait {by_minutes}by its own setting until {day.clock(set_early)} at the earliest; departure from the "
        f"specification in {over:.0%}, {setting}"
    )


def _temperatures(forecast: Forecast) -> Floats:
    """Of the known loads at the pump: measured, else by the mean of the plant and the way."""
    model = forecast.model
    seen, concrete = model.seen, model.concrete
    assert seen is not None
    air = AirTable(concrete.air_temperature_c.tolist(), concrete.clock_step_min)
    found = seen.temperature_c.copy()
    for number in np.flatnonzero(np.isnan(found)):
        start = seen.start_min[number]
        fresh = float(np.mean(forecast.way.chance.plant_temperature_c[:, number]))
        share = concrete.change_per_h * (start - seen.batched_min[number]) / 60 if start == start else 0.0
        found[number] = (fresh + share * air.at(start)) / (1 + share) if share else fresh
    return found


def _allowed(forecast: Forecast, cells: Ints) -> Floats | None:
    """The specification's minutes for the concrete of these full cells; None where it names none."""
    concrete, seen = forecast.model.concrete, forecast.model.seen
    assert seen is not None
    if not concrete.edge_limits:
        return None
    return specified_minutes(concrete, _temperatures(forecast)[seen.cell_load[cells]])


def set_due(forecast: Forecast, cells: Ints) -> Floats:
    """By member: when the first of these full cells can no longer be joined, by setting at its own temperature."""
    concrete, seen = forecast.model.concrete, forecast.model.seen
    assert seen is not None
    clock = Clock(concrete)
    # Of the cells of one load the one that was placed first is due first.
    loads = np.unique(seen.cell_load[cells])
    earliest = np.array([seen.placed_min[cells[seen.cell_load[cells] == load]].min() for load in loads])
    own = forecast.way.chance.set_factor[:, loads]
    age = np.zeros(len(loads))
    if concrete.counts_age:
        rate = clock_rate(_temperatures(forecast)[loads], concrete.activation_temperature_k)
        age = rate * (earliest - seen.batching_min[loads])
    due = clock.at(earliest) + concrete.set_limit_min / own - age
    # The table reaches over four days: what would set after it is told as its end.
    due = np.minimum(np.maximum(due, clock.at(earliest)), clock.total[-1])
    found: Floats = clock.when(due).min(axis=1)
    return found


def finish_views(forecast: Forecast) -> tuple[FinishView, ...]:
    """From when and until when each finished strip can be worked, once its last concrete is in."""
    model, day = forecast.model, forecast.by.situation.day
    seen, finishing, concrete = model.seen, model.finishing, model.concrete
    if seen is None:
        return ()
    clock = Clock(concrete)
    found = []
    for strip, name in enumerate(finishing.strip_names):
        cells = np.flatnonzero(model.cells.strip == strip)
        if not len(cells) or cells[-1] >= seen.cells_count:
            continue
        cell = int(cells[-1])
        load, placed = int(seen.cell_load[cell]), float(seen.placed_min[cell])
        own = forecast.way.chance.set_factor[:, load]
        age = 0.0
        if concrete.counts_age:
            rate = clock_rate(_temperatures(forecast)[[load]], concrete.activation_temperature_k)[0]
            age = float(rate) * (placed - float(seen.batching_min[load]))
        start = clock.at(np.array([placed]))[0]
        opens, closes = (
            np.maximum(placed, clock.when(np.minimum(start + limit / own - age, clock.total[-1])))
            for limit in (finishing.ready_clock_min, finishing.latest_clock_min)
        )
        opening, closing = moments(day, opens), moments(day, closes)
        found.append(
            FinishView(
                place=name,
                bleed_ends=None,
                opens=opening,
                closes=closing,
                saw_cut=None,
                text=f"by its clock from {opening.usual:%H:%M} to {closing.usual:%H:%M}; the foot test opens it",
            )
        )
    return tuple(found)
