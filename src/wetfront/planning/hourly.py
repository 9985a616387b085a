"""Charts over the hours of the pour: placed volume, joint margin, evaporation, rise and pressure."""

import math
from collections.abc import Callable, Sequence

import numpy as np

from wetfront.errors import OutOfRange
from wetfront.nouns.plan import HourlySeries
from wetfront.placing.model import Floats, PourModel, Trace
from wetfront.planning.day import Day, DayWeather
from wetfront.planning.form_pressure import FormLimit
from wetfront.weather.evaporation import governing_rate
from wetfront.weather.wind import wind_at_height

HALF_HOUR_MIN = 30.0
Line = tuple[str, tuple[float | None, ...]]


def placed_volume(day: Day, model: PourModel, traces: Sequence[Trace]) -> HourlySeries:
    """Net volume in the work over time, as a band."""
    placed = np.array([trace.cell_placed_min for trace in traces])
    times = grid(float(placed.min()) - 60.0, float(np.quantile(placed.max(axis=1), 0.95)), 30.0)
    volumes = np.array([[model.cells.volume_m3[row <= time].sum() for time in times] for row in placed])
    low, middle, high = np.quantile(volumes, (0.05, 0.5, 0.95), axis=0)
    net = float(model.cells.volume_m3.sum())
    half = next((time for time, volume in zip(times, middle, strict=True) if volume >= net / 2), times[-1])
    return HourlySeries(
        title="Volume in the work",
        unit="m³",
        times=tuple(day.moment(time) for time in times),
        lines=(("slow (5 %)", numbers(low)), ("usual", numbers(middle)), ("quick (95 %)", numbers(high))),
        limits=(("net volume", net),),
        sentence=f"Half of the {net:.1f} m³ is in the work by about {day.clock(half)}, all of it by "
        f"{day.clock(float(np.median(placed.max(axis=1))))} (95 %: {day.clock(times[-1])}).",
    )


def joint_margin(day: Day, model: PourModel, traces: Sequence[Trace]) -> HourlySeries | None:
    """Least time left on the edges that are joined in each half hour; None for a pour without edges."""
    if not len(model.joints.first):
        return None
    later = np.array([trace.cell_placed_min[model.joints.later] for trace in traces])
    times = grid(float(later.min()), float(np.quantile(later.max(axis=1), 0.95)), HALF_HOUR_MIN)
    lines = []
    margins = {
        "setting, 30 min kept (5 %)": (np.array([trace.joint_set_margin_min for trace in traces]), 0.05),
        "setting, 30 min kept (usual)": (np.array([trace.joint_set_margin_min for trace in traces]), 0.5),
    }
    if model.concrete.edge_limits:
        by_minutes = np.array([trace.joint_specified_margin_min for trace in traces])
        margins["specification (5 %)"] = (by_minutes, 0.05)
        margins["specification (usual)"] = (by_minutes, 0.5)
    least = {}
    for name, (values, quantile) in margins.items():
        line = [_least_in(values, later, time, quantile) for time in times]
        lines.append((name, tuple(line)))
        known = [value for value in line if value is not None]
        least[name] = min(known) if known else math.nan
    text = ", ".join(f"{name} {value:.0f} min".replace(" -", " −") for name, value in least.items())
    return HourlySeries(
        title="Time left on live edges when they are joined",
        unit="min",
        times=tuple(day.moment(time) for time in times),
        lines=tuple(lines),
        limits=(("limit", 0.0),),
        sentence=f"Least time left at any half hour: {text}. Below 0 the limit is passed.",
    )


def _least_in(values: Floats, later: Floats, time: float, quantile: float) -> float | None:
    """Quantile over the replications of the least margin among edges joined in the half hour before `time`."""
    joined = (later > time - HALF_HOUR_MIN) & (later <= time)
    rows = joined.any(axis=1)
    if not rows.any():
        return None
    least = np.where(joined, values, np.inf).min(axis=1)[rows]
    return float(np.quantile(least, quantile))


def evaporation_by_hour(weather: DayWeather, concrete_c: float, times: Sequence[float]) -> list[float | None]:
    """Evaporation [kg/m²/h] at these minutes from a wet surface; None where the equations do not hold.

    The surface is taken as warm as the placed concrete or as the air, whichever is warmer: sun and hydration keep a
    slab from staying cooler than the air (own rule).
    """
    wind = wind_at_height(weather.wind_m_per_s, weather.wind_height_m)
    found: list[float | None] = []
    for time in times:
        air, humidity, speed = (
            float(np.interp(time, weather.minutes, column))
            for column in (weather.air_c, weather.humidity_percent, wind)
        )
        try:
            found.append(float(governing_rate(air, humidity, max(concrete_c, air), speed)))
        except OutOfRange:
            found.append(None)
    return found


def evaporation_chart(
    day: Day,
    times: Sequence[float],
    line: Sequence[float | None],
    band: Sequence[Line],
    action: float,
    stop: float,
) -> HourlySeries:
    """Evaporation by the forecast over the hours in which a surface is open, with a band where weathers are drawn."""
    known = [(value, time) for value, time in zip(line, times, strict=True) if value is not None]
    over = [time for value, time in known if value >= action]
    worst, at = max(known, default=(0.0, times[0]))
    if over:
        sentence = (
            f"Evaporation is at or over the action value of {action:g} kg/m²h from {day.clock(over[0])} to "
            f"{day.clock(over[-1] + 60)}; worst hour {day.clock(at)} with {worst:.1f} kg/m²h"
        )
        sentence += f", over the stop value of {stop:g}." if worst >= stop else f", under the stop value of {stop:g}."
    else:
        sentence = f"Evaporation stays under {action:g} kg/m²h; worst hour {day.clock(at)} with {worst:.1f} kg/m²h."
    return HourlySeries(
        title="Evaporation from an open surface (forecast)",
        unit="kg/m²h",
        times=tuple(day.moment(time) for time in times),
        lines=(("evaporation" if not band else "forecast", tuple(line)), *band),
        limits=(("action", action), ("stop", stop)),
        sentence=sentence,
    )


def rise_charts(day: Day, model: PourModel, traces: Sequence[Trace], limits: Sequence[FormLimit]) -> list[HourlySeries]:
    """Rise in half an hour and the pressure that it gives, for each form, against what is permitted."""
    by_element = {limit.element: limit for limit in limits}
    found = []
    for panel, name in enumerate(model.panel_names):
        limit = by_element.get(name)
        if limit is None:
            continue
        cells = np.flatnonzero(model.cells.panel == panel)
        placed = np.array([trace.cell_placed_min[cells] for trace in traces])
        level = np.cumsum(model.cells.rise_m[cells])
        begins = placed[:, 0] - 60 * model.cells.volume_m3[cells[0]] / model.cells.rate_m3_per_h[cells[0]]
        times = grid(float(begins.min()), float(np.quantile(placed[:, -1], 0.95)) + HALF_HOUR_MIN, 15.0)
        rise = np.array(
            [_rise_at(np.concatenate([[begin], row]), level, times) for begin, row in zip(begins, placed, strict=True)]
        )
        usual, high = np.quantile(rise, 0.5, axis=0), np.quantile(rise, 0.95, axis=0)
        permitted = limit.highest_rise_m_per_h
        stated = "no limit: the form carries the full head" if permitted is None else f"permitted {permitted:.2f} m/h"
        found.append(
            HourlySeries(
                title=f"Rise in {name} over half an hour",
                unit="m/h",
                times=tuple(day.moment(time) for time in times),
                lines=(("usual", numbers(usual)), ("quick (95 %)", numbers(high))),
                limits=() if permitted is None else ((f"permitted by {limit.governs}", permitted),),
                sentence=f"Highest rise {float(high.max()):.2f} m/h (95 %), {stated} by {limit.governs}.",
            )
        )
        pressure = _pressure_line(limit, high)
        if pressure is not None:
            text, line = pressure
            found.append(
                HourlySeries(
                    title=f"Pressure on the form of {name}",
                    unit="kN/m²",
                    times=tuple(day.moment(time) for time in times),
                    lines=((f"{text} at the quick rise", line),),
                    limits=(("permitted", limit.permitted_kn_per_m2),),
                    sentence=f"Highest pressure {max(value or 0.0 for value in line):.1f} kN/m² by {text}; "
                    f"the form permits {limit.permitted_kn_per_m2:g} kN/m².",
                )
            )
    return found


def _pressure_line(limit: FormLimit, rise: Floats) -> tuple[str, tuple[float | None, ...]] | None:
    """Highest pressure of the methods that cover this concrete, at each rise."""
    covering = [method for method in limit.methods if method.covers]
    if not covering:
        return None
    pressure: Callable[[float], float] = lambda value: max(  # noqa: E731
        method.pressure(value).max_pressure_kn_per_m2 for method in covering
    )
    names = ", ".join(method.name for method in covering)
    return f"highest of {names}", tuple(pressure(float(value)) if value > 0 else 0.0 for value in rise)


def _rise_at(corners_min: Floats, level: Floats, times: Sequence[float]) -> Floats:
    """Mean rise [m/h] over the half hour before each time."""
    levels = np.concatenate([[0.0], level])
    now = np.interp(times, corners_min, levels)
    before = np.interp(np.array(times) - HALF_HOUR_MIN, corners_min, levels)
    rise: Floats = (now - before) / (HALF_HOUR_MIN / 60)
    return rise


def grid(from_min: float, to_min: float, step_min: float) -> list[float]:
    """Full steps from the one before `from_min` to the one after `to_min`."""
    first, last = math.floor(from_min / step_min), math.ceil(to_min / step_min)
    return [step * step_min for step in range(first, last + 1)]


def numbers(values: Floats) -> tuple[float | None, ...]:
    """Plain numbers, None where there is none."""
    return tuple(float(value) if math.isfinite(value) else None for value in values)
