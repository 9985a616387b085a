"""An hourly weather series from a CSV file.

Columns: `time_local` (ISO 8601 with offset, one row an hour), `air_temperature_c`, `relative_humidity_percent`,
`wind_speed_at_10m_m_per_s` and `wind_gust_at_10m_m_per_s` (any height in the name, or none: then `wind_height_m` of the
sheet holds), `rain_mm` in the hour. May be left out: `rain_probability_percent`, `cloud_cover_percent`,
`solar_irradiance_w_per_m2`; what is left out is None in the series, never zero.
"""

import datetime as dt
import math
import re

import numpy as np

from wetfront.errors import Problem, SheetError
from wetfront.intake.csv_rows import Table, table_of
from wetfront.nouns.weather import WeatherSeries

MOST_HOURS = 9_000
"""A little over a year."""

TIME = "time_local"
RANGES = {
    "air_temperature_c": (-60.0, 60.0, "°C"),
    "relative_humidity_percent": (1.0, 100.0, "%"),
    "wind_speed_m_per_s": (0.0, 80.0, "m/s"),
    "wind_gust_m_per_s": (0.0, 120.0, "m/s"),
    "rain_mm": (0.0, 200.0, "mm"),
    "rain_probability_percent": (0.0, 100.0, "%"),
    "cloud_cover_percent": (0.0, 100.0, "%"),
    "solar_irradiance_w_per_m2": (0.0, 1400.0, "W/m²"),
}
OPTIONAL = ("rain_probability_percent", "cloud_cover_percent", "solar_irradiance_w_per_m2")
_WIND = re.compile(r"^(wind_speed|wind_gust)_at_(\d{1,3}(?:\.\d)?)m_m_per_s$")
_HOUR = dt.timedelta(hours=1)


def weather_series(
    text: str, name: str, wind_height_m: float = 10.0, issued: dt.datetime | None = None
) -> WeatherSeries:
    """The series in `text`. SheetError tells gaps, repeated hours, wrong order and absurd values, each with its row."""
    text, height_m = _without_heights(text, name, wind_height_m)
    needed = (TIME, *(column for column in RANGES if column not in OPTIONAL))
    table = table_of(text, name, needed, OPTIONAL, MOST_HOURS)
    problems: list[Problem] = []
    times = _times(table, name, problems)
    columns = {column: _numbers(table, column, name, problems) for column in table.columns if column != TIME}
    if not table.rows:
        problems.append(Problem(name, "", "no rows", "one row for each hour"))
    if problems:
        raise SheetError(problems)
    return WeatherSeries(
        start=times[0],
        wind_height_m=height_m,
        issued=issued,
        **{column: np.array(values, dtype=np.float64) for column, values in columns.items()},
    )


def _without_heights(text: str, name: str, wind_height_m: float) -> tuple[str, float]:
    """The text with the heights taken out of the wind columns' names, and that height."""
    head, newline, rest = text.partition("\n")
    if len(head) > 10_000:
        raise SheetError([Problem(name, "", "a first row of over 10,000 characters", "the names of the columns", 1)])
    heights = set()
    columns = []
    for column in head.split(","):
        found = _WIND.match(column.strip())
        if found:
            heights.add(float(found[2]))
            column = f"{found[1]}_m_per_s"
        columns.append(column)
    if len(heights) > 1:
        listed = " and ".join(f"{height:g} m" for height in sorted(heights))
        raise SheetError([Problem(name, "wind_speed", f"wind at {listed}", "speed and gust at one height", 1)])
    height_m = heights.pop() if heights else wind_height_m
    if not 0 < height_m <= 100:
        raise SheetError([Problem(name, "wind_speed", f"wind at {height_m:g} m", "a height over 0 to 100 m", 1)])
    return ",".join(columns) + newline + rest, height_m


def _times(table: Table, name: str, problems: list[Problem]) -> list[dt.datetime]:
    times: list[dt.datetime] = []
    for line, row in table.rows:
        shown = repr(row[TIME][:40])
        try:
            time = dt.datetime.fromisoformat(row[TIME])
        except ValueError:
            time = None
        if time is None or time.tzinfo is None or not 2000 <= time.year < 2100:
            allowed = "a time with offset such as 2027-06-15T07:00+01:00"
            problems.append(Problem(name, TIME, shown, allowed, line))
            continue
        if time.minute or time.second or time.microsecond:
            problems.append(Problem(name, TIME, shown, "a full hour", line))
        elif times:
            _step(times[-1], time, name, line, problems)
        times.append(time)
    return times


def _step(before: dt.datetime, time: dt.datetime, name: str, line: int, problems: list[Problem]) -> None:
    step = time - before
    if step == _HOUR:
        return
    if step > _HOUR:
        missing = int(step / _HOUR) - 1
        hours = "hour is" if missing == 1 else "hours are"
        found = f"a gap: {missing} {hours} missing after {before.isoformat(timespec='minutes')}"
    elif not step:
        found = f"the hour {time.isoformat(timespec='minutes')} again"
    else:
        found = f"{time.isoformat(timespec='minutes')} after {before.isoformat(timespec='minutes')}"
    problems.append(Problem(name, TIME, found, "one row an hour, in order, without gaps", line))


def _numbers(table: Table, column: str, name: str, problems: list[Problem]) -> list[float]:
    low, high, unit = RANGES[column]
    values = []
    for line, row in table.rows:
        try:
            value = float(row[column])
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            found = repr(row[column][:40]) if row[column] else "an empty cell"
            problems.append(Problem(name, column, found, f"a number from {low:g} to {high:g} {unit}", line))
        values.append(value)
    return values
