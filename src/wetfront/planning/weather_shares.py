"""What the weathers drawn about a forecast do over the hours of a pour: shares of them, bands, the spread in words."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from wetfront.nouns.plan import WeatherSpread
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.members import DayEnsemble
from wetfront.planning.situation import Situation
from wetfront.planning.thermal import fresh_rows_c
from wetfront.planning.words import percent
from wetfront.weather.ensemble import growth, lead_h
from wetfront.weather.evaporation import governing_rate, holds
from wetfront.weather.wind import wind_at_height

LIKELY = 0.5
"""Share of the weathers with a stop from which it speaks against the pour as one in the forecast does (own rule)."""
POSSIBLE = 0.05
"""Share of the weathers with a stop from which the plan asks to be ready for it (own rule)."""
BAND = (0.05, 0.95)


def share_of(happens: NDArray[np.bool_]) -> float:
    """Share of the weathers, given by rows of hours, in which it happens in any hour."""
    return float(happens.any(axis=1).mean())


def share_words(share: float, drawn: DayEnsemble) -> str:
    """A share of the weathers in words."""
    return f"in {percent(share)} of {drawn.count} weathers"


def evaporation_by_weather(situation: Situation, candidate: Candidate, times: Sequence[float]) -> Floats | None:
    """Evaporation [kg/m²/h], a row for each weather, at these minutes; None without an ensemble.

    By the rule of `hourly.evaporation_by_hour`; not a number where the equations do not hold.
    """
    weather = situation.weather
    if weather.drawn is None:
        return None
    weathers, at = weather.drawn.members, np.array(times)
    air, humidity, wind = (
        weathers.at(at, column)
        for column in (
            weathers.air_c,
            weathers.humidity_percent,
            wind_at_height(weathers.wind_m_per_s, weather.wind_height_m),
        )
    )
    fresh = fresh_rows_c(situation, candidate, np.arange(weather.drawn.count))
    surface = np.maximum(fresh[:, np.newaxis], air)
    known = holds(air, humidity, surface, wind)
    rates = np.full(air.shape, np.nan)
    rates[known] = governing_rate(air[known], humidity[known], surface[known], wind[known])
    return rates


def banded(values: Floats) -> tuple[tuple[str, tuple[float | None, ...]], ...]:
    """Lines of the 5 % and the 95 % of the weathers, hour by hour; none where no weather has a value."""
    known = ~np.isnan(values).all(axis=0)
    lines = []
    for name, quantile in zip(("weathers (5 %)", "weathers (95 %)"), BAND, strict=True):
        found = np.full(values.shape[1], np.nan)
        found[known] = np.nanquantile(values[:, known], quantile, axis=0)
        lines.append((name, tuple(float(value) if np.isfinite(value) else None for value in found)))
    return tuple(lines)


def spread_of(situation: Situation, candidate: Candidate) -> WeatherSpread | None:
    """The ensemble as the plan tells it, with its spread at the first concrete; None without one."""
    drawn = situation.weather.drawn
    if drawn is None:
        return None
    forecast, spread = drawn.ensemble.forecast, drawn.ensemble.spread
    lead = float(np.interp(candidate.start_min, _row_minutes(drawn), lead_h(forecast)))
    larger = float(growth(np.array([lead]), spread)[0])
    temperature, dew_point, wind = (
        larger * value for value in (spread.temperature_c, spread.dew_point_c, spread.wind_percent)
    )
    when = "the first row of the forecast" if forecast.issued is None else "the forecast was made"
    rain = (
        "rain by the forecast's probabilities"
        if forecast.rain_probability_percent is not None
        else "rain as forecast, which gives no probabilities"
    )
    return WeatherSpread(
        members_count=drawn.count,
        lead_h=lead,
        temperature_spread_c=temperature,
        dew_point_spread_c=dew_point,
        wind_spread_percent=wind,
        sentence=f"{drawn.count} weathers drawn about the forecast, a replication meets one of them: at the first "
        f"concrete, {lead / 24:.1f} days after {when}, air ±{temperature:.1f} °C, dew point ±{dew_point:.1f} °C, wind "
        f"±{wind:.0f} % (standard deviations), {rain}.",
    )


def _row_minutes(drawn: DayEnsemble) -> Floats:
    """Of every row of the forecast, from local midnight of the pour day."""
    rows = np.arange(len(drawn.ensemble.forecast.air_temperature_c), dtype=np.float64)
    return drawn.first_min + 60.0 * (rows - drawn.first_row)
