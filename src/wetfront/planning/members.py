"""The members of an ensemble of weather over the hours of one pour day."""

from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from wetfront.weather.ensemble import Ensemble, members

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DayEnsemble:
    """Which rows of which ensemble are the pour day's; small, and equal in every process that asks for its members."""

    ensemble: Ensemble
    first_row: int
    until_row: int
    first_min: float
    """Of the first row, from local midnight of the pour day."""

    @property
    def count(self) -> int:
        """Number of members."""
        return self.ensemble.count

    @property
    def members(self) -> "DayMembers":
        """The weathers themselves."""
        return _members_of(self)

    def rows(self, first: int, count: int) -> tuple[int, NDArray[np.int64]]:
        """Members that the replications `first` to `first + count` meet, and the replication that meets the first one.

        Replication r meets member r mod `self.count`. Of few replications only their own members are named.
        """
        if count >= self.count:
            return 0, np.arange(self.count)
        return first, np.arange(first, first + count) % self.count


@dataclass(frozen=True, slots=True, eq=False)
class DayMembers:
    """One row a member, one column an hour; as in `DayWeather`."""

    minutes: Floats
    air_c: Floats
    humidity_percent: Floats
    wind_m_per_s: Floats
    gust_m_per_s: Floats
    rain_mm: Floats

    def at(self, minutes: Floats, column: Floats) -> Floats:
        """Rows of a column at these minutes, linear between the hours; its first or last hour beyond them."""
        time = np.clip(minutes, self.minutes[0], self.minutes[-1])
        before = np.minimum(((time - self.minutes[0]) / 60.0).astype(np.int64), column.shape[1] - 2)
        # By the arithmetic of numpy's interp, by which the forecast itself is read.
        slope = (column[:, before + 1] - column[:, before]) / 60.0
        values: Floats = slope * (time - self.minutes[before]) + column[:, before]
        values[:, minutes >= self.minutes[-1]] = column[:, -1:]
        return values

    def hours(self, from_min: float, to_min: float) -> "DayMembers":
        """From the hour that has begun at `from_min` to the last one that begins before `to_min`."""
        shown = (self.minutes > from_min - 60.0) & (self.minutes < to_min)
        columns = (column.name for column in fields(self) if column.name != "minutes")
        return DayMembers(minutes=self.minutes[shown], **{name: getattr(self, name)[:, shown] for name in columns})


@lru_cache(maxsize=16)
def _members_of(day: DayEnsemble) -> DayMembers:
    drawn = members(day.ensemble, hours=day.until_row)
    rows = slice(day.first_row, day.until_row)
    return DayMembers(
        minutes=day.first_min + 60.0 * np.arange(day.until_row - day.first_row, dtype=np.float64),
        air_c=np.ascontiguousarray(drawn.air_temperature_c[:, rows]),
        humidity_percent=np.ascontiguousarray(drawn.relative_humidity_percent[:, rows]),
        wind_m_per_s=np.ascontiguousarray(drawn.wind_speed_m_per_s[:, rows]),
        gust_m_per_s=np.ascontiguousarray(drawn.wind_gust_m_per_s[:, rows]),
        rain_mm=np.ascontiguousarray(drawn.rain_mm[:, rows]),
    )
