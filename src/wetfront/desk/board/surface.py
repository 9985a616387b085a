"""What forms and surfaces do now: rise and pressure, drying."""

import datetime as dt
import math

import numpy as np

from wetfront.desk.board.basis import Basis
from wetfront.desk.board.delivered import temperature_of
from wetfront.desk.board.filling import Filling
from wetfront.errors import OutOfRange
from wetfront.journal.state import PourState
from wetfront.nouns.board import FormView, SurfaceNow
from wetfront.planning.form_pressure import FormLimit
from wetfront.planning.hourly import HALF_HOUR_MIN, evaporation_by_hour
from wetfront.weather.evaporation import governing_rate
from wetfront.weather.wind import wind_at_height

OBSERVED_HOLDS = dt.timedelta(hours=1)
"""Own rule: weather seen on the spot holds for so long; after that the forecast does."""


def form_views(basis: Basis, state: PourState, filling: Filling, now: dt.datetime) -> tuple[FormView, ...]:
    """Each form that rises, with what it permits at the coldest concrete that was planned for or has come."""
    if basis.situation is None or not basis.situation.forms:
        return ()
    option = basis.candidate.mix_option if basis.candidate is not None else ""
    measured = [value for load in state.loads if (value := temperature_of(load)) is not None]
    lowest = min([basis.situation.lowest_concrete_c(option), *measured])
    limits = {limit.element: limit for limit in basis.situation.form_limits_at(option, lowest)}
    found = []
    for panel, name in enumerate(basis.arranged.parts.panel_names):
        if name in limits:
            rise = _rise(basis, filling, panel, basis.day.minutes(now))
            found.append(_form(limits[name], rise, lowest))
    return tuple(found)


def _rise(basis: Basis, filling: Filling, panel: int, now_min: float) -> float:
    """Mean rise over the half hour before now [m/h]."""
    cells = basis.arranged.parts.cells
    recent = (cells.panel == panel) & (filling.placed_min > now_min - HALF_HOUR_MIN) & (filling.placed_min <= now_min)
    return float(cells.rise_m[recent].sum()) / (HALF_HOUR_MIN / 60)


def _form(limit: FormLimit, rise: float, lowest_c: float) -> FormView:
    pressures = [
        (method.pressure(rise).max_pressure_kn_per_m2, method.name) for method in limit.methods if method.covers
    ]
    pressure, method = max(pressures) if pressures and rise > 0 else (0.0, "nothing rises")
    if rise > 0 and not pressures:
        pressure, method = limit.full_head_kn_per_m2, "full head: no method covers this concrete"
    permitted = limit.highest_rise_m_per_h
    stated = "any rise: it carries the full head" if permitted is None else f"{permitted:.2f} m/h by {limit.governs}"
    over = permitted is not None and rise > permitted + 1e-9
    text = (
        f"{limit.element}: {rise:.2f} m/h over the last half hour by the record, permitted {stated}; pressure "
        f"{pressure:.0f} of {limit.permitted_kn_per_m2:g} kN/m² at {lowest_c:.0f} °C"
    )
    return FormView(
        element=limit.element,
        rise_m_per_h=round(rise, 3),
        permitted_rise_m_per_h=permitted,
        pressure_kn_per_m2=round(pressure, 2),
        permitted_kn_per_m2=limit.permitted_kn_per_m2,
        method=method,
        text=f"slow down: {text}" if over else text,
    )


def surface_now(basis: Basis, state: PourState, now: dt.datetime) -> SurfaceNow | None:
    """Drying now; None for a pour without an open top."""
    if not basis.has_surface:
        return None
    specification = basis.sheet.specification
    action, stop = specification.evaporation_action_kg_per_m2_h, specification.evaporation_stop_kg_per_m2_h
    rate, from_where = _evaporation(basis, state, now)
    if rate is None:
        text = "no weather is known for this hour: measure air, humidity and wind on the spot"
    elif rate >= stop:
        text = f"drying {rate:.1f} kg/m²h ({from_where}), over the stop value of {stop:g}: all measures, or stop"
    elif rate >= action:
        text = f"drying {rate:.1f} kg/m²h ({from_where}), over the action value of {action:g}: mist or film, wind break"
    else:
        text = f"drying {rate:.1f} kg/m²h ({from_where}), under the action value of {action:g}"
    return SurfaceNow(
        evaporation_kg_per_m2_h=None if rate is None else round(rate, 3),
        action_kg_per_m2_h=action,
        stop_kg_per_m2_h=stop,
        text=text,
    )


def _evaporation(basis: Basis, state: PourState, now: dt.datetime) -> tuple[float | None, str]:
    concrete_c = concrete_now_c(basis, state)
    now_min = basis.day.minutes(now)
    seen = state.weather[-1] if state.weather else None
    weather = basis.weather
    if seen is not None and dt.timedelta(0) <= now - seen.at <= OBSERVED_HOLDS:
        fact = seen.fact
        air, humidity, wind = fact.air_c, fact.humidity_percent, fact.wind_m_per_s
        if weather is not None and weather.minutes[0] <= now_min <= weather.minutes[-1]:
            at_surface = wind_at_height(weather.wind_m_per_s, weather.wind_height_m)
            air = float(np.interp(now_min, weather.minutes, weather.air_c)) if air is None else air
            if humidity is None:
                humidity = float(np.interp(now_min, weather.minutes, weather.humidity_percent))
            wind = float(np.interp(now_min, weather.minutes, at_surface)) if wind is None else wind
        if air is not None and humidity is not None and wind is not None:
            surface = fact.concrete_surface_c if fact.concrete_surface_c is not None else max(concrete_c or air, air)
            try:
                return float(governing_rate(air, humidity, surface, wind)), f"seen {seen.at:%H:%M}"
            except OutOfRange:
                return None, ""
    if weather is None or not weather.minutes[0] <= now_min <= weather.minutes[-1]:
        return None, ""
    found = evaporation_by_hour(weather, -math.inf if concrete_c is None else concrete_c, [now_min])[0]
    return found, "forecast"


def concrete_now_c(basis: Basis, state: PourState) -> float | None:
    """Temperature of the concrete that came last, as measured, else as planned."""
    measured = [value for load in state.loads if (value := temperature_of(load)) is not None]
    if measured:
        return measured[-1]
    return None if basis.clock is None else basis.clock.expected_c
