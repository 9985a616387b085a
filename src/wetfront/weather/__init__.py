"""Weather: series, ensembles about a forecast, evaporation, wind, sun, hours within limits."""

from wetfront.weather.ensemble import Ensemble, Members, ensemble_of, members
from wetfront.weather.evaporation import evaporation_rate, governing_rate
from wetfront.weather.series import (
    WeatherLimits,
    Window,
    at,
    breaches,
    column_of_day,
    covers,
    evaporation_by_hour,
    evaporation_over,
    windows,
)
from wetfront.weather.sun import sun_height_deg, sun_times
from wetfront.weather.wind import wind_at_height

__all__ = [
    "Ensemble",
    "Members",
    "WeatherLimits",
    "Window",
    "at",
    "breaches",
    "column_of_day",
    "covers",
    "ensemble_of",
    "evaporation_by_hour",
    "evaporation_over",
    "evaporation_rate",
    "governing_rate",
    "members",
    "sun_height_deg",
    "sun_times",
    "wind_at_height",
    "windows",
]
