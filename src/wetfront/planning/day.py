"""The pour day as minutes from local midnight: hours, bans, breaks and noise limits that hold on its weekday."""

import datetime as dt
import math
import re
from dataclasses import dataclass
from functools import partial
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.nouns.sheet import PourSheet
from wetfront.nouns.site import WEEKDAYS, Weekday
from wetfront.nouns.weather import WeatherSeries
from wetfront.planning.members import DayEnsemble
from wetfront.weather.ensemble import Ensemble

DAY_MIN = 1440.0
Interval = tuple[float, float]
_OFFSET = re.compile(r"^UTC([+-])(\d{2}):(\d{2})$")


def zone_of(name: str) -> dt.tzinfo:
    """The time zone of an IANA name or of a fixed offset such as UTC+01:00. InvalidInput for any other text."""
    fixed = _OFFSET.match(name)
    if fixed is not None:
        minutes = int(fixed[2]) * 60 + int(fixed[3])
        return dt.timezone(dt.timedelta(minutes=-minutes if fixed[1] == "-" else minutes))
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InvalidInput("time_zone", f"time_zone is {name!r}; allowed: an IANA name or UTC+hh:mm") from None


def minutes_of(time: dt.time) -> float:
    """Minutes from midnight of a time of day."""
    return time.hour * 60 + time.minute + time.second / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Permitted times of one date. Minutes count from local midnight and go on past 1440 into the night."""

    date: dt.date
    zone: dt.tzinfo
    opens_min: float
    closes_min: float
    """End of placing by the working hours."""
    trowelling_until_min: float
    """End of finishing: the agreed extension where there is one."""
    works: bool
    """False where the sheet gives no hours for this weekday."""
    bans: tuple[Interval, ...]
    """No truck may arrive; joined where they touch, with the time before opening as the first."""
    ban_reasons: tuple[tuple[str, float, float], ...]
    noise: tuple[tuple[float, float, float], ...]
    """From, to, limit in dB; over two days, so that limits after midnight hold as well."""
    breaks: tuple[tuple[float, float], ...]

    def wall(self, time: dt.time) -> float:
        """Minutes from local midnight at which the clock on the wall shows this time of the pour day."""
        return _since_midnight(self.date, self.zone, minutes_of(time))

    def in_hours(self, time: dt.time) -> float:
        """The same, for a time within the hours: one before they open is in the night after."""
        shown = self.wall(time)
        return shown if shown >= self.opens_min else _since_midnight(self.date, self.zone, minutes_of(time) + DAY_MIN)

    def moment(self, minutes: float) -> dt.datetime:
        """The local date-time of these minutes, to the nearest minute; right over a change of the clocks."""
        midnight = dt.datetime.combine(self.date, dt.time(0), self.zone).astimezone(dt.UTC)
        return (midnight + dt.timedelta(minutes=math.floor(minutes + 0.5))).astimezone(self.zone)

    def clock(self, minutes: float) -> str:
        """hh:mm, with the day named where it is not the pour day."""
        moment = self.moment(minutes)
        text = moment.strftime("%H:%M")
        return text if moment.date() == self.date else f"{text} on {moment.date().isoformat()}"

    def minutes(self, moment: dt.datetime) -> float:
        """Minutes from local midnight of a moment with offset."""
        midnight = dt.datetime.combine(self.date, dt.time(0), self.zone)
        return (moment - midnight.astimezone(dt.UTC)).total_seconds() / 60

    def noise_limit_db(self, minutes: float) -> float | None:
        """The limit in force at that time; None where the sheet gives none."""
        held = [limit for start, end, limit in self.noise if start <= minutes < end]
        return min(held) if held else None


def day_of(sheet: PourSheet, date: dt.date) -> Day:
    """The day as the sheet permits it. A weekday without hours gets none: `works` is then False.

    Times of day are what the clock on the wall shows, also in a night in which it is put back or forward.
    """
    weekday: Weekday = WEEKDAYS[date.weekday()]
    zone = zone_of(sheet.project.time_zone)
    wall = partial(_since_midnight, date, zone)
    hours = [entry for entry in sheet.hours if weekday in entry.days]
    first = min((minutes_of(entry.start_local) for entry in hours), default=0.0)
    opens = wall(first)
    closes = wall(max((_end(entry.start_local, entry.end_local) for entry in hours), default=0.0))
    extended = [
        wall(_end(entry.start_local, entry.trowelling_until_local)) for entry in hours if entry.trowelling_until_local
    ]
    reasons = tuple(
        (ban.reason, wall(minutes_of(ban.start_local) + shift), wall(_end(ban.start_local, ban.end_local) + shift))
        for shift, day in ((0.0, weekday), (DAY_MIN, WEEKDAYS[(date.weekday() + 1) % 7]))
        for ban in sheet.delivery_ban
        if day in ban.days and (shift == 0 or wall(minutes_of(ban.start_local) + shift) < closes)
    )
    return Day(
        date=date,
        zone=zone,
        opens_min=opens,
        closes_min=closes,
        trowelling_until_min=max([closes, *extended]),
        works=bool(hours),
        bans=joined([(0.0, opens), *[(start, end) for _, start, end in reasons]]) if hours else (),
        ban_reasons=tuple(sorted(reasons, key=lambda entry: entry[1:])),
        noise=tuple(
            (
                wall(minutes_of(entry.start_local) + shift),
                wall(_end(entry.start_local, entry.end_local) + shift),
                entry.limit_db,
            )
            for shift in (-DAY_MIN, 0.0, DAY_MIN)
            for entry in sheet.noise_limit
        ),
        breaks=tuple(
            sorted((wall(_within(first, entry.start_local)), entry.duration_min) for entry in sheet.crew.breaks)
        ),
    )


def joined(intervals: list[Interval]) -> tuple[Interval, ...]:
    """Intervals in rising order, those that touch or overlap as one; empty ones left out."""
    found: list[Interval] = []
    for start, end in sorted(interval for interval in intervals if interval[1] > interval[0]):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return tuple(found)


def _end(start: dt.time, end: dt.time) -> float:
    """Minutes of an end; one at or before its start is on the next day."""
    minutes = minutes_of(end)
    return minutes if minutes > minutes_of(start) else minutes + DAY_MIN


def _within(first: float, time: dt.time) -> float:
    """Minutes of a time of day in hours that begin at `first`; one before that is on the next day."""
    minutes = minutes_of(time)
    return minutes if minutes >= first else minutes + DAY_MIN


def _since_midnight(date: dt.date, zone: dt.tzinfo, wall_min: float) -> float:
    """Minutes that have really gone by since local midnight when the clock on the wall shows `wall_min`.

    Of an hour that the clock shows twice the first counts; one that it leaves out counts from the time before.
    """
    midnight = dt.datetime.combine(date, dt.time(0))
    shown = midnight + dt.timedelta(minutes=wall_min)
    passed = shown.replace(tzinfo=zone).astimezone(dt.UTC) - midnight.replace(tzinfo=zone).astimezone(dt.UTC)
    return passed.total_seconds() / 60


@dataclass(frozen=True, slots=True, eq=False)
class DayWeather:
    """The forecast of a pour day and the night after it, hour by hour; linear between the hours."""

    minutes: NDArray[np.float64]
    """Of each row, from local midnight of the pour day."""
    air_c: NDArray[np.float64]
    humidity_percent: NDArray[np.float64]
    wind_m_per_s: NDArray[np.float64]
    """At the height of the series."""
    gust_m_per_s: NDArray[np.float64]
    rain_mm: NDArray[np.float64]
    rain_probability_percent: NDArray[np.float64] | None
    wind_height_m: float
    drawn: DayEnsemble | None = None
    """Weathers about the forecast that the replications meet; None: the forecast is taken as certain."""

    @property
    def last_min(self) -> float:
        """Of the last row."""
        return float(self.minutes[-1])

    def air_rows(self, minutes: NDArray[np.float64], members: NDArray[np.int64] | None = None) -> NDArray[np.float64]:
        """Air temperature [°C] at these minutes, a row for each of these members; without members the forecast's.

        The first or last reading beyond the series' ends. InvalidInput where members are asked for and there are none.
        """
        if members is None:
            return np.interp(minutes, self.minutes, self.air_c)[np.newaxis]
        if self.drawn is None:
            raise InvalidInput("weather", "no ensemble has been drawn about this forecast")
        weathers = self.drawn.members
        return weathers.at(minutes, weathers.air_c[members])


def weather_of(
    series: WeatherSeries, day: Day, until_min: float, ensemble: Ensemble | None = None
) -> DayWeather | None:
    """The rows from midnight of the pour day to `until_min`; None where the series does not hold all of them."""
    rows = day.minutes(series.start) + 60.0 * np.arange(len(series.air_temperature_c), dtype=np.float64)
    if not len(rows) or rows[0] > day.opens_min or rows[-1] < until_min:
        return None
    keep = (rows >= -60.0) & (rows <= until_min + 12 * 60.0)
    chance = series.rain_probability_percent
    return DayWeather(
        minutes=rows[keep],
        air_c=series.air_temperature_c[keep],
        humidity_percent=series.relative_humidity_percent[keep],
        wind_m_per_s=series.wind_speed_m_per_s[keep],
        gust_m_per_s=series.wind_gust_m_per_s[keep],
        rain_mm=series.rain_mm[keep],
        rain_probability_percent=None if chance is None else chance[keep],
        wind_height_m=series.wind_height_m,
        drawn=None if ensemble is None else _drawn(ensemble, rows, keep),
    )


def _drawn(ensemble: Ensemble, rows: NDArray[np.float64], keep: NDArray[np.bool_]) -> DayEnsemble:
    """The kept rows of the series in the ensemble drawn about it."""
    first, last = (int(row) for row in np.flatnonzero(keep)[[0, -1]])
    return DayEnsemble(ensemble, first, last + 1, float(rows[first]))
