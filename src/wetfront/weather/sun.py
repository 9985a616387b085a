"""Sunrise, sunset and height of the sun, for daylight checks.

Source: NOAA Global Monitoring Laboratory, "General Solar Position Calculations" (published), with Spencer's series of
1971 for declination and equation of time. Good to some two minutes between the polar circles; a horizon of hills or
houses is not known to it.
"""

import datetime as dt
import math
from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source

SUN = Source(
    "NOAA, General Solar Position Calculations, after Spencer, Search 2(5), 1971, p. 172", Provenance.PUBLISHED
)
_SUNRISE_ZENITH_DEG = 90.833
"""Zenith angle of the sun's centre at sunrise and sunset: half a diameter and refraction (SUN)."""


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
    noon_utc = dt.datetime.combine(day, dt.time(12), dt.UTC)
    moments = []
    for side in (-1, 0, 1):
        moment = noon_utc
        # The sun's place is taken at the event itself; three rounds settle it to a second.
        for _ in range(3):
            declination, equation_min = _sun(moment)
            angle_deg = side * _half_day_deg(latitude_deg, declination, day) if side else 0.0
            minutes = 720 + 4 * (angle_deg - longitude_deg) - equation_min
            moment = dt.datetime.combine(day, dt.time(), dt.UTC) + dt.timedelta(minutes=minutes)
        moments.append(moment)
    shift = dt.timedelta(days=(day - moments[1].astimezone(zone).date()).days)
    sunrise, noon, sunset = ((moment + shift).astimezone(zone) for moment in moments)
    return SunTimes(sunrise, noon, sunset)


def sun_height_deg(latitude_deg: float, longitude_deg: float, moment: dt.datetime) -> float:
    """Height of the sun's centre above the horizon [°], without refraction; below zero at night."""
    declination, equation_min = _sun(moment)
    utc = moment.astimezone(dt.UTC)
    minutes = utc.hour * 60 + utc.minute + utc.second / 60 + equation_min + 4 * longitude_deg
    hour_angle = math.radians(minutes / 4 - 180)
    latitude = math.radians(latitude_deg)
    sine = math.sin(latitude) * math.sin(declination) + math.cos(latitude) * math.cos(declination) * math.cos(
        hour_angle
    )
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))


def daylight_h(latitude_deg: float, day: dt.date) -> float:
    """Hours between sunrise and sunset; no longitude needed. InvalidInput where there is neither."""
    declination, _ = _sun(dt.datetime.combine(day, dt.time(12), dt.UTC))
    return 2 * _half_day_deg(latitude_deg, declination, day) / 15


def _sun(moment: dt.datetime) -> tuple[float, float]:
    """Declination [rad] and equation of time [min] at a moment (SUN)."""
    utc = moment.astimezone(dt.UTC)
    start_of_year = dt.datetime(utc.year, 1, 1, tzinfo=dt.UTC)
    days_in_year = 366 if utc.year % 4 == 0 and (utc.year % 100 != 0 or utc.year % 400 == 0) else 365
    # The first of January at noon is the series' zero.
    x = 2 * math.pi / days_in_year * ((utc - start_of_year) / dt.timedelta(days=1) - 0.5)
    equation_min = 229.18 * (
        0.000075
        + 0.001868 * math.cos(x)
        - 0.032077 * math.sin(x)
        - 0.014615 * math.cos(2 * x)
        - 0.040849 * math.sin(2 * x)
    )
    declination = (
        0.006918
        - 0.399912 * math.cos(x)
        + 0.070257 * math.sin(x)
        - 0.006758 * math.cos(2 * x)
        + 0.000907 * math.sin(2 * x)
        - 0.002697 * math.cos(3 * x)
        + 0.00148 * math.sin(3 * x)
    )
    return declination, equation_min


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
