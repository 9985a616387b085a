"""An hourly weather series as equally long columns."""

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherSeries:
    """Hourly values, one row an hour, without gaps. Wind at `wind_height_m` above ground.

    A column that the series does not have is None: what rests on it is then not known, never taken as zero.
    """

    start: dt.datetime
    """Local time of the first row, with offset."""
    wind_height_m: float
    air_temperature_c: NDArray[np.float64]
    relative_humidity_percent: NDArray[np.float64]
    wind_speed_m_per_s: NDArray[np.float64]
    wind_gust_m_per_s: NDArray[np.float64]
    rain_mm: NDArray[np.float64]
    rain_probability_percent: NDArray[np.float64] | None = None
    cloud_cover_percent: NDArray[np.float64] | None = None
    solar_irradiance_w_per_m2: NDArray[np.float64] | None = None
    issued: dt.datetime | None = None

    @property
    def end(self) -> dt.datetime:
        """Local time of the last row."""
        # In UTC: adding hours to a moment of a named time zone would ignore a change of the clock.
        rows = dt.timedelta(hours=len(self.air_temperature_c) - 1)
        return (self.start.astimezone(dt.UTC) + rows).astimezone(self.start.tzinfo)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastSpread:
    """How far the weather may turn out from its forecast: standard deviations at a lead of one day."""

    temperature_c: float
    dew_point_c: float
    wind_percent: float
    """Of the forecast's own wind; gusts with it."""
    cloud_percent: float
    """In percent of the sky."""
    growth_percent_per_day: float
    """Of the spread at one day, for each day more or less."""
    correlation_h: float
    """After so many hours an error has forgotten all but 1/e of itself."""
