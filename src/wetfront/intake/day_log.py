"""The day log: who said what on radio, phone or paper, with local times, from a CSV file."""

import datetime as dt

from wetfront.delivery.stops import LogLine
from wetfront.errors import Problem, SheetError
from wetfront.intake.csv_rows import table_of
from wetfront.intake.ticket_times import NotATime, Read, placed, read_time

MOST_LINES = 5_000
LONGEST_TEXT = 500


def log_lines(text: str, name: str, day: dt.date, zone: dt.tzinfo) -> tuple[LogLine, ...]:
    """The lines in the order of the file, which is that of time: an earlier clock time is after midnight.

    SheetError tells all mistakes with their rows.
    """
    table = table_of(text, name, ("time_local", "text"), ("role", "channel"), MOST_LINES)
    problems: list[Problem] = []
    found: list[LogLine] = []
    for line, row in table.rows:
        try:
            read = read_time(row["time_local"])
        except NotATime as error:
            problems.append(Problem(name, "time_local", repr(row["time_local"][:40]), str(error), line))
            continue
        at = _at(read, found[-1].at if found else None, day, zone)
        if at is None:
            allowed = "a time that the clocks show, not before the line above"
            problems.append(Problem(name, "time_local", repr(row["time_local"]), allowed, line))
            continue
        if len(row["text"]) > LONGEST_TEXT:
            allowed = f"a text of at most {LONGEST_TEXT}"
            problems.append(Problem(name, "text", f"{len(row['text'])} characters", allowed, line))
        found.append(LogLine(at=at, role=row.get("role", ""), text=row["text"]))
    if problems:
        raise SheetError(problems)
    return tuple(found)


def _at(read: Read, before: dt.datetime | None, day: dt.date, zone: dt.tzinfo) -> dt.datetime | None:
    """The first such time on the pour's day, or after the line before it, over midnight where it must be."""
    first = placed({"time_local": read}, day, None, zone).moments.get("time_local")
    if before is None or first is None or first >= before or read.moment is not None:
        return first if before is None or first is None or first >= before else None
    return placed({"time_local": read}, day + dt.timedelta(days=1), None, zone).moments.get("time_local")
