"""What the weather may turn out to be: members of an ensemble, drawn about a forecast by the stated spread.

Every member is as long as the forecast and hangs together in time. Errors of temperature, dew point, wind and cloud are
first-order autoregressive from hour to hour and grow with the lead (SPREAD_SOURCE); rain comes in spells (RAIN_SOURCE).
Member 0 keeps the forecast's temperature, humidity, wind and cloud; its rain is drawn as in all others, so that the
share of wet members is the forecast's probability. A member depends on seed and number alone: never on how many there
are, on who draws it, or on how far the series reaches.
"""

import datetime as dt
import hashlib
import math
from collections.abc import Iterable
from dataclasses import astuple, dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.hashed import normal_quantile, rows_of, uniforms
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.weather import ForecastSpread, WeatherSeries
from wetfront.weather.evaporation import temperature_of_exponent, vapour_exponent

Floats = NDArray[np.float64]

SPREAD_SOURCE = Source(
    "stated spread at a lead of one day, growing in proportion to the days; errors autoregressive from hour to hour",
    Provenance.OWN_RULE,
)
RAIN_SOURCE = Source("wet by the forecast's probability, amounts exponential, spells of 6 h", Provenance.OWN_RULE)

LONGEST_LEAD_D = 10.0
"""Spread stops growing here: a later forecast knows no more than the season (own rule)."""
SPELL_H = 6.0
"""Mean length of a spell: within it the hours share one chance of rain, spells are independent (own rule)."""
LEAST_MEAN_MM_PER_H = 0.5
"""Rain that falls in an hour is exponential with the mean amount / probability, and at least this (own rule)."""
LEAST_CHANCE = 0.01
"""A forecast amount with a probability below this contradicts itself and is taken at its word."""

# Streams of the hash, see wetfront.hashed. A number never changes its meaning: new streams go to the end.
_TEMPERATURE, _DEW_POINT, _WIND, _CLOUD, _SPELL, _RAIN = range(100, 106)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ensemble:
    """How members are drawn; the members themselves come from `members`, in any process the same."""

    forecast: WeatherSeries
    spread: ForecastSpread
    seed: int
    count: int
    key: bytes
    """A digest of all the others: ensembles with the same key are equal, also in another process."""

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Ensemble) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Members:
    """Columns as in `WeatherSeries`: one row a member, one column an hour of the forecast."""

    air_temperature_c: Floats
    relative_humidity_percent: Floats
    wind_speed_m_per_s: Floats
    wind_gust_m_per_s: Floats
    rain_mm: Floats
    cloud_cover_percent: Floats | None
    """None where the forecast has none."""
    solar_irradiance_w_per_m2: Floats | None
    """The forecast's own in every member: nothing is said of its errors."""


def ensemble_of(forecast: WeatherSeries, spread: ForecastSpread, seed: int, count: int) -> Ensemble:
    """An ensemble of `count` members about this forecast. InvalidInput for no member or a seed beyond 64 bits."""
    if count < 1:
        raise InvalidInput("members_count", f"members_count is {count}; must be at least 1")
    if not 0 <= seed < 2**64:
        raise InvalidInput("seed", f"seed is {seed}; allowed: 0 to 2^64 - 1")
    told = (forecast.start, forecast.issued, forecast.wind_height_m, astuple(spread), seed, count)
    digest = hashlib.blake2b(repr(told).encode(), digest_size=16)
    for column in _columns(forecast):
        digest.update(b"-" if column is None else np.ascontiguousarray(column).tobytes())
    return Ensemble(forecast=forecast, spread=spread, seed=seed, count=count, key=digest.digest())


def _columns(forecast: WeatherSeries) -> Iterable[Floats | None]:
    return (
        *(forecast.air_temperature_c, forecast.relative_humidity_percent, forecast.wind_speed_m_per_s),
        *(forecast.wind_gust_m_per_s, forecast.rain_mm, forecast.rain_probability_percent),
        *(forecast.cloud_cover_percent, forecast.solar_irradiance_w_per_m2),
    )


def lead_h(forecast: WeatherSeries) -> Floats:
    """Hours from the issue of the forecast to each row, from the first row where the issue is not known.

    Below zero the row lay in the past when the forecast was made: it has no error.
    """
    issued = forecast.issued or forecast.start
    first = (forecast.start.astimezone(dt.UTC) - issued.astimezone(dt.UTC)) / dt.timedelta(hours=1)
    return first + np.arange(len(forecast.air_temperature_c), dtype=np.float64)


def growth(lead: Floats, spread: ForecastSpread) -> Floats:
    """By what the spread at a lead of one day is multiplied at these leads [h]: 1 at 24 h; 0 in the past."""
    days = np.minimum(lead / 24.0, LONGEST_LEAD_D)
    larger: Floats = np.where(lead < 0, 0.0, 1.0 + spread.growth_percent_per_day / 100 * (days - 1.0))
    return larger


def members(ensemble: Ensemble, first: int = 0, count: int | None = None, hours: int | None = None) -> Members:
    """Members `first` to `first + count`, without a count all that follow; the first `hours` of the series."""
    forecast, spread = ensemble.forecast, ensemble.spread
    count = ensemble.count - first if count is None else count
    if first < 0 or count < 0 or first + count > ensemble.count:
        raise InvalidInput("members", f"members {first} to {first + count} of {ensemble.count}")
    until = len(forecast.air_temperature_c) if hours is None else hours
    rows = rows_of(ensemble.seed, first, count)
    lead = lead_h(forecast)[:until]
    begin = int(np.searchsorted(lead, 0.0))
    larger = growth(lead, spread)
    is_control = (np.arange(first, first + count) == 0)[:, np.newaxis]

    def standard(stream: int) -> Floats:
        """Errors of standard deviation 1; none in the past, none in member 0."""
        errors = np.zeros((count, until))
        errors[:, begin:] = _autoregressive(rows, stream, until - begin, spread.correlation_h)
        return np.where(is_control, 0.0, errors)

    air = forecast.air_temperature_c[:until]
    warmer = spread.temperature_c * larger * standard(_TEMPERATURE)
    wetter = spread.dew_point_c * larger * standard(_DEW_POINT)
    deviation = np.sqrt(np.log1p((spread.wind_percent / 100 * larger) ** 2))
    # Lognormal with mean 1: the mean of the members keeps the forecast's wind.
    factor = np.where(is_control, 1.0, np.exp(deviation * standard(_WIND) - deviation**2 / 2))
    cloud, sun = forecast.cloud_cover_percent, forecast.solar_irradiance_w_per_m2
    cloudier = spread.cloud_percent * larger * standard(_CLOUD)
    return Members(
        air_temperature_c=air + warmer,
        relative_humidity_percent=_humidity(air, forecast.relative_humidity_percent[:until], warmer, wetter),
        wind_speed_m_per_s=forecast.wind_speed_m_per_s[:until] * factor,
        wind_gust_m_per_s=forecast.wind_gust_m_per_s[:until] * factor,
        rain_mm=_rain(forecast, rows, until, begin),
        cloud_cover_percent=None if cloud is None else np.clip(cloud[:until] + cloudier, 0.0, 100.0),
        solar_irradiance_w_per_m2=None if sun is None else np.broadcast_to(sun[:until], (count, until)),
    )


def _autoregressive(rows: NDArray[np.uint64], stream: int, hours: int, correlation_h: float) -> Floats:
    """Standard normal numbers; exp(-1 / correlation_h) of each goes on into the next hour."""
    values = normal_quantile(uniforms(rows, stream, hours))
    kept = math.exp(-1.0 / correlation_h)
    new = math.sqrt(1.0 - kept**2)
    for hour in range(1, hours):
        values[:, hour] = kept * values[:, hour - 1] + new * values[:, hour]
    return values


def _rain(forecast: WeatherSeries, rows: NDArray[np.uint64], until: int, begin: int) -> Floats:
    """Rain in each hour [mm]; the forecast's own where it has no probabilities, and in the past."""
    amount = forecast.rain_mm[:until]
    if forecast.rain_probability_percent is None:
        return np.broadcast_to(amount, (len(rows), until))
    chance = forecast.rain_probability_percent[:until] / 100
    rank = np.ones((len(rows), until))
    rank[:, begin:] = _ranks_by_spell(rows, until - begin)
    mean = np.maximum(amount / np.maximum(chance, LEAST_CHANCE), LEAST_MEAN_MM_PER_H)
    # Given rain, rank / chance is uniform: one number says whether it rains and how hard.
    drawn = np.where(rank < chance, -mean * np.log(np.minimum(rank / np.maximum(chance, 1e-300), 1.0)), 0.0)
    is_known = (np.arange(until) < begin) | ((chance < LEAST_CHANCE) & (amount > 0))
    rain: Floats = np.where(is_known, amount, drawn)
    return rain


def _ranks_by_spell(rows: NDArray[np.uint64], hours: int) -> Floats:
    """Uniform numbers, low for rain: kept from hour to hour until a new spell begins, as one hour in SPELL_H does."""
    begins = uniforms(rows, _SPELL, hours) < 1.0 / SPELL_H
    begins[:, :1] = True
    since = np.maximum.accumulate(np.where(begins, np.arange(hours), 0), axis=1)
    return np.take_along_axis(uniforms(rows, _RAIN, hours), since, axis=1)


def _humidity(air_c: Floats, humidity_percent: Floats, warmer_c: Floats, wetter_c: Floats) -> Floats:
    """Relative humidity [%] of air so much warmer and its dew point so much higher, which stops at the air's own."""
    exponent = vapour_exponent(air_c)
    dew_c = temperature_of_exponent(exponent + np.log(np.maximum(humidity_percent, 1e-3) / 100))
    # As a ratio to the forecast's own, so that no error gives the forecast to the last bit.
    wetter = vapour_exponent(dew_c + wetter_c) - vapour_exponent(dew_c)
    warmer = vapour_exponent(air_c + warmer_c) - exponent
    humidity: Floats = np.minimum(humidity_percent * np.exp(wetter - warmer), 100.0)
    return humidity
