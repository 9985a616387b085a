"""Sunrise, sunset and height of the sun, for daylight checks.

The sun's place is that of the almanac's low-precision formulas (0.01° from 1950 to 2050), sunrise the moment at which
its centre stands 0.833° under a level horizon (NOAA). Good to about a minute up to 60° latitude; hills and houses are
not known to it.
"""

import datetime as dt
import math
from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source

SUN = Source("Astronomical Almanac 2017, p. C5, low-precision formulas for the sun", Provenance.PUBLISHED)
HORIZON = Source(
    "NOAA, General Solar Position Calculations: zenith 90.833° at sunrise and sunset", Provenance.PUBLISHED
)
_SUNRISE_ZENITH_DEG = 90.833
"""Zenith angle of the sun's centre at sunrise and sunset: half a diameter and refraction (HORIZON)."""
_J2000 = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True)
class SunTimes:
    """Sun of one day, in the time zone asked for."""

    sunrise: dt.datetime
    noon: dt.datetime
    sunset: dt.datetime


def sun_times(latitude_deg: float, longitude_deg: float, day: dt.date, zone: dt.tzinfo) -> SunTimes:
    """Sunrise, solar noon and sunset of the solar day whose noon falls on the local `day`. East is positive.

    InvalidInput names latitude_deg where the sun does not rise, or does not set, on that day.
    """
    noon = _event(latitude_deg, longitude_deg, day, 0)
    # Far from Greenwich the solar noon of a local day belongs to another day in UTC.
    utc_day = day + (day - noon.astimezone(zone).date())
    sunrise, noon, sunset = (_event(latitude_deg, longitude_deg, utc_day, side).astimezone(zone) for side in (-1, 0, 1))
    return SunTimes(sunrise, noon, sunset)


def _event(latitude_deg: float, longitude_deg: float, utc_day: dt.date, side: int) -> dt.datetime:
    """Sunrise (-1), noon (0) or sunset (1) of the solar day whose noon falls on `utc_day` at Greenwich."""
    midnight = dt.datetime.combine(utc_day, dt.time(), dt.UTC)
    moment = midnight + dt.timedelta(hours=12 - longitude_deg / 15)
    # The sun's place is taken at the event itself; three rounds settle it to a second.
    for _ in range(3):
        declination, equation_min = sun_place(moment)
        angle_deg = side * _half_day_deg(latitude_deg, declination, utc_day) if side else 0.0
        moment = midnight + dt.timedelta(minutes=720 + 4 * (angle_deg - longitude_deg) - equation_min)
    return moment


def sun_height_deg(latitude_deg: float, longitude_deg: float, moment: dt.datetime) -> float:
    """Height of the sun's centre above the horizon [°], without refraction; below zero at night."""
    declination, equation_min = sun_place(moment)
    utc = moment.astimezone(dt.UTC)
    minutes = utc.hour * 60 + utc.minute + utc.second / 60 + equation_min + 4 * longitude_deg
    hour_angle = math.radians(minutes / 4 - 180)
    latitude = math.radians(latitude_deg)
    sine = math.sin(latitude) * math.sin(declination) + math.cos(latitude) * math.cos(declination) * math.cos(
        hour_angle
    )
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))


def sun_place(moment: dt.datetime) -> tuple[float, float]:
    """Declination [rad] and equation of time [min] at a moment (SUN)."""
    days = (moment - _J2000) / dt.timedelta(days=1)
    anomaly = math.radians(357.528 + 0.9856003 * days)
    mean_longitude_deg = 280.460 + 0.9856474 * days
    longitude = math.radians(mean_longitude_deg + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2 * anomaly))
    tilt = math.radians(23.439 - 0.0000004 * days)
    ascension_deg = math.degrees(math.atan2(math.cos(tilt) * math.sin(longitude), math.cos(longitude)))
    equation_deg = (mean_longitude_deg - ascension_deg + 180) % 360 - 180
    return math.asin(math.sin(tilt) * math.sin(longitude)), 4 * equation_deg


def _half_day_deg(latitude_deg: float, declination: float, day: dt.date) -> float:
    """Hour angle of sunset [°]."""
    if not -90 <= latitude_deg <= 90:
        raise InvalidInput("latitude_deg", f"latitude_deg is {latitude_deg:g}; allowed is from -90 to 90")
    latitude = math.radians(latitude_deg)
    flat = math.cos(latitude) * math.cos(declination)
    # A pole has a cosine that is only almost zero: far outside ±1 there, which is right.
    cosine = (math.cos(math.radians(_SUNRISE_ZENITH_DEG)) - math.sin(latitude) * math.sin(declination)) / flat
    if cosine > 1:
        raise InvalidInput("latitude_deg", f"the sun does not rise on {day} at latitude {latitude_deg:g}")
    if cosine < -1:
        raise InvalidInput("latitude_deg", f"the sun does not set on {day} at latitude {latitude_deg:g}")
    return math.degrees(math.acos(cosine))
