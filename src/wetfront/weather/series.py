"""Asking a weather series: a value at a moment, a column over a day, evaporation by hour, hours within limits.

Outside the series the answer is NoForecast, never a guess. Hours are counted in UTC, so a change of the clock in the
night neither loses nor repeats one.
"""

import datetime as dt
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput, NoForecast
from wetfront.nouns.weather import WeatherSeries
from wetfront.weather.evaporation import (
    LOW_BLEED_THRESHOLD_KG_PER_M2_H,
    THRESHOLD_KG_PER_M2_H,
    governing_rate,
)
from wetfront.weather.wind import wind_at_height

Column = Literal[
    "air_temperature_c",
    "relative_humidity_percent",
    "wind_speed_m_per_s",
    "wind_gust_m_per_s",
    "rain_mm",
    "rain_probability_percent",
    "cloud_cover_percent",
    "solar_irradiance_w_per_m2",
]
Floats = NDArray[np.float64]
_HOUR = dt.timedelta(hours=1)
_EVAPORATION = "evaporation_under_kg_per_m2_h"


def covers(series: WeatherSeries, start: dt.datetime, end: dt.datetime) -> bool:
    """True where the series reaches from `start` to `end` (both with offset)."""
    first, last = _hours_in(series, start), _hours_in(series, end)
    return 0 <= first <= last <= len(series.air_temperature_c) - 1


def require(series: WeatherSeries, start: dt.datetime, end: dt.datetime) -> None:
    """Raise NoForecast unless the series reaches from `start` to `end`."""
    if not covers(series, start, end):
        raise NoForecast(
            f"no forecast for that day yet: the series reaches from {_text(series.start)} to {_text(series.end)}"
        )


def column_of(series: WeatherSeries, column: Column) -> Floats:
    """All values of a column. NoForecast where the series does not have it."""
    values: Floats | None = getattr(series, column)
    if values is None:
        raise NoForecast(f"the weather series has no column {column}")
    return values


def at(series: WeatherSeries, moment: dt.datetime, column: Column) -> float:
    """The value at a moment, linear between the rows. NoForecast outside the series."""
    require(series, moment, moment)
    values = column_of(series, column)
    return float(np.interp(_hours_in(series, moment), np.arange(len(values)), values))


def values_at(series: WeatherSeries, start: dt.datetime, minutes_after: Floats, column: Column) -> Floats:
    """The values at many moments given as minutes after `start`, linear between the rows. NoForecast outside."""
    offset = _hours_in(series, start)
    hours = offset + np.asarray(minutes_after, dtype=np.float64) / 60
    if hours.size:
        require(
            series,
            start + dt.timedelta(minutes=float(np.min(minutes_after))),
            start + dt.timedelta(minutes=float(np.max(minutes_after))),
        )
    values = column_of(series, column)
    return np.asarray(np.interp(hours, np.arange(len(values)), values), dtype=np.float64)


def column_over(series: WeatherSeries, start: dt.datetime, end: dt.datetime, column: Column) -> Floats:
    """The value at `start` and each full hour after it up to `end`. NoForecast where the series does not reach."""
    require(series, start, end)
    count = math.floor(_hours_in(series, end) - _hours_in(series, start) + 1e-9) + 1
    return values_at(series, start, np.arange(count, dtype=np.float64) * 60, column)


def hours_of_day(series: WeatherSeries, day: dt.date, zone: dt.tzinfo | None = None) -> tuple[dt.datetime, ...]:
    """Each full hour of a local day: 24 of them, 23 or 25 when the clock changes.

    `zone` is the site's time zone, the one of the series without it. NoForecast unless the series has the whole day.
    """
    local = zone or series.start.tzinfo
    first = dt.datetime.combine(day, dt.time(), local).astimezone(dt.UTC)
    after = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), local).astimezone(dt.UTC)
    count = round((after - first) / _HOUR)
    hours = tuple((first + hour * _HOUR).astimezone(local) for hour in range(count))
    require(series, hours[0], hours[-1])
    return hours


def column_of_day(
    series: WeatherSeries, day: dt.date, column: Column, zone: dt.tzinfo | None = None
) -> tuple[tuple[dt.datetime, ...], Floats]:
    """The hours of a local day and the column's value at each."""
    hours = hours_of_day(series, day, zone)
    return hours, column_over(series, hours[0], hours[-1], column)


def evaporation_over(
    series: WeatherSeries,
    start: dt.datetime,
    end: dt.datetime,
    concrete_temperature_c: float | Floats,
    thresholds_kg_per_m2_h: tuple[float, ...] = (LOW_BLEED_THRESHOLD_KG_PER_M2_H, THRESHOLD_KG_PER_M2_H),
) -> Floats:
    """Evaporation [kg/m²/h] at `start` and each full hour after it up to `end`, from an open surface.

    The wind is brought from the series' height to 0.5 m. NoForecast outside the series, OutOfRange naming the weather
    or concrete value for which the equations do not hold.
    """
    wind = wind_at_height(column_over(series, start, end, "wind_speed_m_per_s"), series.wind_height_m)
    return np.asarray(
        governing_rate(
            column_over(series, start, end, "air_temperature_c"),
            column_over(series, start, end, "relative_humidity_percent"),
            concrete_temperature_c,
            wind,
            thresholds_kg_per_m2_h,
        ),
        dtype=np.float64,
    )


def evaporation_by_hour(
    series: WeatherSeries,
    day: dt.date,
    concrete_temperature_c: float | Floats,
    zone: dt.tzinfo | None = None,
    thresholds_kg_per_m2_h: tuple[float, ...] = (LOW_BLEED_THRESHOLD_KG_PER_M2_H, THRESHOLD_KG_PER_M2_H),
) -> tuple[tuple[dt.datetime, ...], Floats]:
    """The hours of a local day and the evaporation [kg/m²/h] at each, as `evaporation_over`."""
    hours = hours_of_day(series, day, zone)
    return hours, evaporation_over(series, hours[0], hours[-1], concrete_temperature_c, thresholds_kg_per_m2_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherLimits:
    """What the weather may be. None: not checked. A value equal to a limit of rain, gust or temperature is within it;
    evaporation has to stay under its limit, because precautions begin at it."""

    rain_mm_per_h: float | None = None
    rain_probability_percent: float | None = None
    gust_m_per_s: float | None = None
    evaporation_under_kg_per_m2_h: float | None = None
    concrete_temperature_c: float | None = None
    """Surface temperature for the evaporation; needed with its limit."""
    lowest_air_c: float | None = None
    highest_air_c: float | None = None


@dataclass(frozen=True, slots=True)
class Breach:
    """An hour in which a limit does not hold."""

    hour: dt.datetime
    key: str
    """Name of the limit in WeatherLimits."""
    value: float
    limit: float


@dataclass(frozen=True, slots=True)
class Window:
    """A time in which every limit holds."""

    start: dt.datetime
    end: dt.datetime

    @property
    def hours(self) -> float:
        """Length [h]."""
        return (self.end.astimezone(dt.UTC) - self.start.astimezone(dt.UTC)) / _HOUR


def breaches(series: WeatherSeries, start: dt.datetime, end: dt.datetime, limits: WeatherLimits) -> tuple[Breach, ...]:
    """Every row of the series that touches `start` to `end` and breaks a limit, in order of time.

    A row stands for the hours on both sides of it, so the rows just before `start` and just after `end` count.
    NoForecast where the series does not reach.
    """
    first, last = _rows(series, start, end)
    found = []
    for key, values, limit, upper in _limited_columns(series, first, last, limits):
        broken = values >= limit if key == _EVAPORATION else values > limit if upper else values < limit
        found += [
            Breach(_moment(series, first + int(row)), key, float(values[row]), limit) for row in np.flatnonzero(broken)
        ]
    return tuple(sorted(found, key=lambda breach: breach.hour.astimezone(dt.UTC)))


def windows(series: WeatherSeries, start: dt.datetime, end: dt.datetime, limits: WeatherLimits) -> tuple[Window, ...]:
    """The times between `start` and `end` in which every limit holds, in order.

    An hour counts only if the rows at both its ends are within the limits (own rule, cautious): a shower between two
    rows is then never inside a window. NoForecast where the series does not reach.
    """
    first, last = _rows(series, start, end)
    bad = {_hours_in(series, breach.hour) for breach in breaches(series, start, end, limits)}
    found: list[Window] = []
    for row in range(first, last):
        if row in bad or row + 1 in bad:
            continue
        opens, closes = max(_moment(series, row), start), min(_moment(series, row + 1), end)
        if found and found[-1].end == opens:
            found[-1] = Window(found[-1].start, closes)
        else:
            found.append(Window(opens, closes))
    return tuple(found)


def _limited_columns(
    series: WeatherSeries, first: int, last: int, limits: WeatherLimits
) -> list[tuple[str, Floats, float, bool]]:
    """Name of the limit, its values from row `first` to `last`, the limit, and whether it is an upper one."""
    columns: list[tuple[str, Column, float | None, bool]] = [
        ("rain_mm_per_h", "rain_mm", limits.rain_mm_per_h, True),
        ("rain_probability_percent", "rain_probability_percent", limits.rain_probability_percent, True),
        ("gust_m_per_s", "wind_gust_m_per_s", limits.gust_m_per_s, True),
        ("lowest_air_c", "air_temperature_c", limits.lowest_air_c, False),
        ("highest_air_c", "air_temperature_c", limits.highest_air_c, True),
    ]
    found = [
        (key, column_of(series, column)[first : last + 1], limit, most)
        for key, column, limit, most in columns
        if limit is not None
    ]
    if limits.evaporation_under_kg_per_m2_h is not None:
        if limits.concrete_temperature_c is None:
            raise InvalidInput("concrete_temperature_c", "an evaporation limit needs the concrete's temperature")
        evaporation = evaporation_over(
            series,
            _moment(series, first),
            _moment(series, last),
            limits.concrete_temperature_c,
            (limits.evaporation_under_kg_per_m2_h,),
        )
        found.append((_EVAPORATION, evaporation, limits.evaporation_under_kg_per_m2_h, True))
    return found


def _rows(series: WeatherSeries, start: dt.datetime, end: dt.datetime) -> tuple[int, int]:
    require(series, start, end)
    return math.floor(_hours_in(series, start) + 1e-9), math.ceil(_hours_in(series, end) - 1e-9)


def _moment(series: WeatherSeries, row: int) -> dt.datetime:
    return (series.start.astimezone(dt.UTC) + row * _HOUR).astimezone(series.start.tzinfo)


def _hours_in(series: WeatherSeries, moment: dt.datetime) -> float:
    if moment.tzinfo is None:
        raise InvalidInput("moment", f"{moment} has no time zone")
    # In UTC: the difference of two moments of one time zone would ignore a change of the clock.
    return (moment.astimezone(dt.UTC) - series.start.astimezone(dt.UTC)) / _HOUR


def _text(moment: dt.datetime) -> str:
    return moment.isoformat(sep=" ", timespec="minutes")
