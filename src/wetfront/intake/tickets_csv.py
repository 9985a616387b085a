"""Delivery tickets of a pour as CSV or XLSX: one row a ticket, in the order in which the gate wrote them.

Each row is checked by itself and ends in exactly one way: taken, held, refused by the site, in error, or the same
ticket again. A row in error stops no other row. Only a file that holds no such table at all is refused whole.
"""

import dataclasses
import datetime as dt
import hashlib
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Annotated, Any

from annotated_types import Ge, Gt, Le, Len, MinLen

from wetfront.errors import Problem, SheetError
from wetfront.intake.declared import table_of as kinds_of
from wetfront.intake.kinds import BAD, REQUIRED, Field, Mistakes, shown
from wetfront.intake.table_lines import Cells, lines_of
from wetfront.intake.ticket_loads import delivery_row
from wetfront.intake.ticket_times import NotATime, Read, placed, read_time
from wetfront.nouns.delivery import Correction, DeliveryRow, Reading, RowAccount, RowState
from wetfront.nouns.sheet import Pour

MOST_BYTES = 10_000_000
MOST_ROWS = 5_000
MOST_COLUMNS = 200
WHAT = "a list of delivery tickets (CSV or XLSX)"
TIMES = {
    "batched_local": "batched",
    "left_plant_local": "left_plant",
    "arrived_local": "arrived",
    "discharge_start_local": "discharge_start",
    "discharge_end_local": "discharge_end",
    "left_site_local": "left_site",
}
"""Columns of times in the order in which they happen."""
_YES, _NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")
_COMMA_NUMBER = re.compile(r"([+-]?\d+),(\d+)")
EARLIEST_BEFORE_START = dt.timedelta(hours=6)
"""Own rule: without a column of days the first time of a ticket lies in the 24 h from 6 h before the planned start."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketCells:
    """The columns of a ticket file beside its times. What a file lacks, or an empty cell, is not recorded."""

    ticket_number: Annotated[str, Len(1, 40)]
    load_m3: Annotated[float, Gt(0), Le(20)]
    accepted: Annotated[str, MinLen(0)]
    """The site's decision: yes or no; empty where nobody has decided."""
    date_local: dt.date | None = None
    """Day of the first time of the row."""
    plant: Annotated[str, Len(0, 60)] = ""
    truck: Annotated[str, Len(0, 60)] = ""
    mix_code: Annotated[str, Len(0, 60)] = ""
    slump_mm: Annotated[float, Ge(0), Le(300)] | None = None
    slump_retest_mm: Annotated[float, Ge(0), Le(300)] | None = None
    """On another portion of the sample, or after water or admixture was added."""
    concrete_temperature_c: Annotated[float, Ge(-10), Le(60)] | None = None
    water_added_l: Annotated[float, Ge(0), Le(2000)] | None = None
    """On site, into this load."""
    admixture_added_l: Annotated[float, Ge(0), Le(200)] | None = None
    """On site, into this load."""
    sample_id: Annotated[str, Len(0, 60)] = ""
    placed_in: Annotated[str, Len(0, 60)] = ""
    signed_by_role: Annotated[str, Len(0, 60)] = ""
    remarks: Annotated[str, Len(0, 2000)] = ""


_FIELDS: Mapping[str, Field] = kinds_of(TicketCells).fields
NEEDED = (
    "ticket_number",
    "load_m3",
    "accepted",
    "batched_local",
    "arrived_local",
    "discharge_start_local",
    "discharge_end_local",
)
COLUMNS = (*_FIELDS, *TIMES)
_NUMBERS = tuple(name for name in _FIELDS if name.endswith(("_m3", "_mm", "_c", "_l")))


@dataclass(frozen=True, slots=True)
class _Row:
    """One row whose own mistakes are noted; `values` is None where there are any."""

    line: int
    number: str
    values: dict[str, Any] | None
    pour: str = ""
    moments: Mapping[str, dt.datetime] = field(default_factory=dict)


@dataclass(slots=True)
class _Reader:
    """The file being read."""

    name: str
    pours: Sequence[Pour]
    zone: dt.tzinfo
    only: Pour | None
    comma: bool = False
    problems: list[Problem] = field(default_factory=list)
    corrections: list[Correction] = field(default_factory=list)

    def wrong(self, line: int, column: str, found: str, allowed: str, nearest: str | None = None) -> None:
        self.problems.append(Problem(self.name, column, found, allowed, line, nearest))


def read_tickets(
    data: bytes, name: str, pours: Sequence[Pour], zone: dt.tzinfo, only: Pour | None = None
) -> tuple[tuple[DeliveryRow, ...], Reading]:
    """The loads in a file, each given to the pour of its day, and the account of every row.

    `pours`: those of the sheet. `only`: the pour of rows without a day, and of a day with several pours; where it is
    None and the sheet has several, the file needs the column date_local. SheetError where the file holds no table of
    tickets: unreadable, no rows, a needed column missing, a column twice, too many rows.
    """
    if len(data) > MOST_BYTES:
        raise SheetError([Problem(name, "", f"{len(data) / 1e6:.1f} MB", f"{WHAT} of at most {MOST_BYTES / 1e6:g} MB")])
    reader = _Reader(name, pours, zone, only or (pours[0] if len(pours) == 1 else None))
    lines, reader.comma = lines_of(data, name, WHAT, MOST_COLUMNS)
    header = next(lines, None)
    if header is None:
        raise SheetError([Problem(name, "", "an empty file", "a first row with " + ", ".join(NEEDED))])
    columns, unknown = _columns(header, reader)
    rows = [_row(line, cells, columns, reader) for line, cells in _limited(lines, name)]
    if not rows:
        raise SheetError([Problem(name, "", "no rows", "one row for each ticket")])
    loads, accounts = _accounted(rows, reader)
    reading = Reading(
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        rows=accounts,
        corrections=tuple(reader.corrections),
        mistakes=tuple(str(problem) for problem in reader.problems),
        unknown_columns=unknown,
        missing_columns=tuple(column for column in COLUMNS if column not in columns and column != "date_local"),
    )
    return loads, reading


def _limited(lines: Iterator[Cells], name: str) -> Iterator[Cells]:
    for count, line in enumerate(lines, 1):
        if count > MOST_ROWS:
            raise SheetError([Problem(name, "", f"more than {MOST_ROWS} rows", f"at most {MOST_ROWS} rows", line[0])])
        yield line


def _columns(header: Cells, reader: _Reader) -> tuple[list[str], tuple[str, ...]]:
    """The known column of each place, empty where it has none, and the names of the unknown ones."""
    line, cells = header
    if len(cells) > MOST_COLUMNS:
        raise SheetError([Problem(reader.name, "", f"{len(cells)} columns", f"at most {MOST_COLUMNS}", line)])
    problems: list[Problem] = []
    columns: list[str] = []
    unknown: list[str] = []
    for cell in cells:
        found = str(cell)
        column = re.sub(r"[\s.-]+", "_", found.strip().lower())
        if column not in COLUMNS:
            if found:
                near = get_close_matches(column, COLUMNS, n=1)
                short = found if len(found) <= 60 else found[:57] + "..."
                unknown.append(f"{short} (did you mean {near[0]}?)" if near else short)
            column = ""
        elif column in columns:
            problems.append(Problem(reader.name, column, "a column named twice", "each column once", line))
        elif column != found:
            reader.corrections.append(
                Correction(line=line, column=found[:60], found=found[:60], read_as=column, why="name of a column")
            )
        columns.append(column)
    needed = NEEDED if reader.only is not None else (*NEEDED, "date_local")
    for column in needed:
        if column not in columns:
            why = ", to tell the pours apart, or choose one with --pour" if column == "date_local" else ""
            problems.append(Problem(reader.name, column, "no such column", f"a column of this name{why}", line))
    if problems:
        hint = [Problem(reader.name, each, "an unknown column", ", ".join(COLUMNS), line) for each in unknown]
        raise SheetError(problems + hint)
    return columns, tuple(unknown)


def _row(line: int, cells: tuple[Any, ...], columns: list[str], reader: _Reader) -> _Row:
    before = len(reader.problems)
    texts = {column: _text(cell) for column, cell in zip(columns, cells, strict=False) if column and cell != ""}
    number = texts.get("ticket_number", "")[:60]
    if len(cells) > len(columns):
        reader.wrong(line, "", f"{len(cells)} cells", f"{len(columns)} cells as in the first row")
        return _Row(line, number, None)
    values = _values(line, texts, reader)
    times = _times(line, texts, reader)
    pour, day, earliest = _pour_of(line, values, reader)
    if pour is None or len(reader.problems) > before:
        return _Row(line, number, None)
    laid = placed(times, day, earliest, reader.zone)
    for column, found, allowed in laid.mistakes:
        reader.wrong(line, column, found, allowed)
    _check_day(line, laid.moments, day, reader)
    _check_sense(line, values, times, reader)
    if len(reader.problems) > before:
        return _Row(line, number, None)
    for column, found, read_as, why in laid.corrections:
        reader.corrections.append(Correction(line=line, column=column, found=found, read_as=read_as, why=why))
    return _Row(line, number, values, pour.id, {TIMES[column]: moment for column, moment in laid.moments.items()})


def _text(cell: Any) -> str:
    """A cell of either kind of file as the text that a person would have typed."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, str) and cell.endswith("T00:00:00"):
        return cell.removesuffix("T00:00:00")  # a day, as spreadsheets keep it
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return str(cell)


def _values(line: int, texts: Mapping[str, str], reader: _Reader) -> dict[str, Any]:
    """The checked cells beside the times; mistakes are noted, and what is wrong is left out."""
    values: dict[str, Any] = {}
    for column, entry in _FIELDS.items():
        text = texts.get(column, "")
        if not text and entry.default is not REQUIRED:
            values[column] = entry.default
            continue
        mistakes = Mistakes()
        value = entry.kind.check(
            _number(line, column, text, reader) if column in _NUMBERS else text, (column,), mistakes
        )
        if column == "accepted" and value is not BAD:
            value = _decided(text, mistakes)
        if not text and mistakes.noted:
            mistakes.noted = [dataclasses.replace(each, found="an empty cell") for each in mistakes.noted]
        for each in mistakes.noted:
            reader.wrong(line, column, each.found, each.allowed, each.nearest)
        if value is not BAD:
            values[column] = value
    return values


def _number(line: int, column: str, text: str, reader: _Reader) -> Any:
    """The text as a number where it is one; a decimal comma is read between semicolons only."""
    swapped = _COMMA_NUMBER.fullmatch(text)
    if swapped and reader.comma:
        text = f"{swapped[1]}.{swapped[2]}"
        reader.corrections.append(
            Correction(line=line, column=column, found=swapped[0], read_as=text, why="decimal comma")
        )
    try:
        value = float(text)
    except ValueError:
        return text
    return value if math.isfinite(value) and "_" not in text else text


def _decided(text: str, mistakes: Mistakes) -> Any:
    word = text.strip().casefold()
    if word in _YES or word in _NO:
        return word in _YES
    if not word:
        return None
    return mistakes.add(("accepted",), shown(text), "yes or no, or empty where nobody has decided")


def _times(line: int, texts: Mapping[str, str], reader: _Reader) -> dict[str, Read]:
    times: dict[str, Read] = {}
    for column in TIMES:
        if column not in texts:
            continue
        try:
            times[column] = read_time(texts[column])
        except NotATime as error:
            reader.wrong(line, column, shown(texts[column]), str(error))
    return times


def _pour_of(line: int, values: Mapping[str, Any], reader: _Reader) -> tuple[Pour | None, dt.date, dt.datetime | None]:
    """The pour of a row, the day of its first time, and where no day is written the first moment that it may have."""
    day = values.get("date_local")
    pour = reader.only
    if day is None and pour is not None and "date_local" in values:
        start = pour.planned_start_local
        if start is None:
            return pour, pour.date, None
        begin = dt.datetime.combine(pour.date, start, reader.zone).astimezone(dt.UTC) - EARLIEST_BEFORE_START
        return pour, pour.date, begin.astimezone(reader.zone)
    if day is None:
        if "date_local" in values:  # an empty cell; one that is no date is told already
            reader.wrong(line, "date_local", "an empty cell", "the day of the pour")
        return None, dt.date.min, None
    same = [each for each in reader.pours if each.date == day]
    if pour is not None and pour in same:
        return pour, day, None
    eve = [each for each in reader.pours if each.date == day + dt.timedelta(days=1)]
    after = [each for each in reader.pours if each.date == day - dt.timedelta(days=1)]
    fitting = same or eve or after
    if len(fitting) == 1:
        return fitting[0], day, None
    days = ", ".join(f"{each.date.isoformat()} ({each.id})" for each in reader.pours[:20])
    found = day.isoformat() if not fitting else f"{day.isoformat()}, on which there are {len(fitting)} pours"
    reader.wrong(line, "date_local", found, f"the day of a pour of the sheet: {days}; or choose one with --pour")
    return None, day, None


def _check_day(line: int, moments: Mapping[str, dt.datetime], day: dt.date, reader: _Reader) -> None:
    for column, moment in moments.items():
        if abs((moment.date() - day).days) > 1:
            reader.wrong(
                line, column, moment.date().isoformat(), f"the day of the pour, {day.isoformat()}, or one beside it"
            )
            return


def _check_sense(line: int, values: Mapping[str, Any], times: Mapping[str, Read], reader: _Reader) -> None:
    """What no single cell can tell."""
    if values["accepted"] is False and ("discharge_start_local" in times or "discharge_end_local" in times):
        allowed = "no discharge of a load that is refused; give the part that was placed a row and number of its own"
        reader.wrong(line, "accepted", "'no' beside a time of discharge", allowed)
    if "discharge_end_local" in times and "discharge_start_local" not in times:
        reader.wrong(line, "discharge_start_local", "an empty cell", "the start of a discharge that has an end")
    if "discharge_start_local" in times and "arrived_local" not in times:
        reader.wrong(line, "arrived_local", "an empty cell", "the arrival of a load that is discharged")


def _accounted(rows: Sequence[_Row], reader: _Reader) -> tuple[tuple[DeliveryRow, ...], tuple[RowAccount, ...]]:
    """The loads, and one end for each row: tickets with one number and two contents are all held."""
    same: dict[str, list[_Row]] = {}
    for row in rows:
        if row.values is not None:
            same.setdefault(row.values["ticket_number"], []).append(row)
    loads: list[DeliveryRow] = []
    accounts: list[RowAccount] = []
    for row in rows:
        state, reason = RowState.IN_ERROR, ""
        if row.values is None:
            reason = next((each.key or each.found for each in reader.problems if each.line == row.line), "")
        else:
            alike = same[row.values["ticket_number"]]
            unlike = [(other.line, columns) for other in alike if (columns := _unlike(row, other))]
            if row is not alike[0] and not any(_unlike(one, alike[0]) for one in alike):
                state, reason = RowState.REPEATED, f"counted once, from line {alike[0].line}"
            else:
                load = delivery_row(row.line, row.pour, row.values, row.moments, _conflict(unlike))
                loads.append(load)
                state, reason = load.state, load.why_held
        accounts.append(RowAccount(line=row.line, ticket_number=row.number, state=state, reason=reason))
    return tuple(loads), tuple(accounts)


def _unlike(row: _Row, other: _Row) -> list[str]:
    """Columns in which two good rows differ."""
    mine, theirs = row.values or {}, other.values or {}
    columns = [column for column in mine if mine[column] != theirs[column]]
    columns += [column for column, name in TIMES.items() if row.moments.get(name) != other.moments.get(name)]
    return columns or ([] if row.pour == other.pour else ["date_local"])


def _conflict(unlike: Sequence[tuple[int, list[str]]]) -> str:
    if not unlike:
        return ""
    line, columns = unlike[0]
    return f"line {line} has the same number and another content ({', '.join(columns[:4])})"
