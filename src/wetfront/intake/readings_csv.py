"""Readings of temperature sensors as a logger exports them: a column of times, then one column a sensor."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.errors import Problem, SheetError
from wetfront.intake.table_lines import Cells, lines_of
from wetfront.intake.ticket_times import NotATime, placed, read_time

MOST_BYTES = 10_000_000
MOST_ROWS = 10_000
MOST_SENSORS = 40
LOWEST_C, HIGHEST_C = -300.0, 2000.0
"""Wide enough for a faulty sensor: such a reading is kept, and told apart later."""
LONGEST_NAME = 60
WHAT = "readings of temperature sensors (CSV or XLSX)"
TIME = "time_local"


@dataclass(frozen=True, slots=True)
class SensorReading:
    """One cell of the table."""

    sensor: str
    at: dt.datetime
    value_c: float


def read_readings(data: bytes, name: str, zone: dt.tzinfo) -> tuple[tuple[SensorReading, ...], tuple[str, ...]]:
    """The readings, and every cell that is none, in words. An empty cell says that nothing was read.

    The first row names `time_local` and the sensors, each ending in `_c`. Times without offset are local.
    SheetError where the file holds no such table at all.
    """
    if len(data) > MOST_BYTES:
        raise SheetError([Problem(name, "", f"{len(data) / 1e6:.1f} MB", f"{WHAT} of at most {MOST_BYTES / 1e6:g} MB")])
    lines, comma = lines_of(data, name, WHAT, MOST_SENSORS + 1)
    header = next(lines, None)
    if header is None:
        raise SheetError([Problem(name, "", "an empty file", f"a first row with {TIME} and a column a sensor")])
    sensors = _sensors(header, name)
    found: list[SensorReading] = []
    wrong: list[str] = []
    for count, (line, cells) in enumerate(lines, 1):
        if count > MOST_ROWS:
            raise SheetError([Problem(name, "", f"more than {MOST_ROWS} rows", f"at most {MOST_ROWS} rows", line)])
        at = _time(cells[0], zone)
        if at is None:
            wrong.append(f"line {line}: {TIME} {str(cells[0])[:40]!r} is no date with a time")
            continue
        for sensor, cell in zip(sensors, cells[1:], strict=False):
            value = _number(cell, comma)
            if value is None:
                wrong.append(f"line {line}: {sensor} {str(cell)[:40]!r} is no temperature")
            elif not math.isnan(value):
                found.append(SensorReading(sensor, at, value))
        if len(cells) > len(sensors) + 1:
            wrong.append(f"line {line}: more cells than the first row has")
    return tuple(found), tuple(wrong)


def _sensors(header: Cells, name: str) -> Sequence[str]:
    line, cells = header
    names = [str(cell).strip() for cell in cells]
    problems = []
    if not names or names[0] != TIME:
        problems.append(Problem(name, names[0][:60] if names else "", "the first column", TIME, line))
    for sensor in names[1:]:
        if not sensor.endswith("_c") or not 3 <= len(sensor) <= LONGEST_NAME + 2:
            problems.append(Problem(name, sensor[:60], "a column", "a sensor's name ending in _c", line))
        elif names.count(sensor) > 1:
            problems.append(Problem(name, sensor, "a column named twice", "each sensor once", line))
    if len(names) < 2 or len(names) > MOST_SENSORS + 1:
        problems.append(Problem(name, "", f"{len(names) - 1} sensors", f"1 to {MOST_SENSORS}", line))
    if problems:
        raise SheetError(problems)
    return [sensor.removesuffix("_c") for sensor in names[1:]]


def _time(cell: object, zone: dt.tzinfo) -> dt.datetime | None:
    try:
        read = read_time(str(cell))
    except NotATime:
        return None
    if read.moment is None:
        return None
    return placed({TIME: read}, read.moment.date(), None, zone).moments.get(TIME)


def _number(cell: object, comma: bool) -> float | None:
    """Not a number for an empty cell, None for one that is no temperature."""
    text = str(cell).strip()
    if not text:
        return math.nan
    try:
        value = float(text.replace(",", ".") if comma else text)
    except ValueError:
        return None
    return value if math.isfinite(value) and LOWEST_C <= value <= HIGHEST_C and "_" not in text else None
