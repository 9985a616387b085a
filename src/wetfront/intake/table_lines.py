"""The lines of a table file as they stand: CSV divided by commas or semicolons, or the first worksheet of an XLSX."""

import csv
import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from typing import Any

from wetfront.errors import Problem, SheetError
from wetfront.intake.files import as_text

MOST_UNPACKED_BYTES = 200_000_000
_DIVIDERS = {",": "commas", ";": "semicolons"}
Cells = tuple[int, tuple[Any, ...]]
"""Line number in the file, and the cells without the empty ones at its end."""


def lines_of(data: bytes, name: str, what: str, most_columns: int) -> tuple[Iterator[Cells], bool]:
    """The lines that hold anything, and whether a decimal comma may be read: only between semicolons.

    `what` says in messages which file is meant. SheetError, here or while reading: a file that is no such table.
    """
    if data.startswith(b"PK\x03\x04"):
        return _xlsx_lines(data, name, what, most_columns), False
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise SheetError([Problem(name, "", "a spreadsheet of the old binary kind", f"{what}: save it as one")])
    text = as_text(data, name, what)
    divider = _divider(text)
    return _filled(csv_lines(text, name, divider)), divider == ";"


def _divider(text: str) -> str:
    first = next((line for line in text.splitlines() if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", first)
    return ";" if bare.count(";") > bare.count(",") else ","


def csv_lines(text: str, name: str, divider: str = ",") -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of each row of a CSV text. SheetError, while reading: a row that is no CSV."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=divider, strict=True)
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            found = f"a row that is no CSV ({error})"
            allowed = f"cells divided by {_DIVIDERS[divider]}"
            raise SheetError([Problem(name, "", found, allowed, reader.line_num)]) from None
        yield reader.line_num, cells


def _filled(lines: Iterator[tuple[int, list[str]]]) -> Iterator[Cells]:
    for line, cells in lines:
        if values := _without_empty_end([cell.strip() for cell in cells]):
            yield line, values


def _xlsx_lines(data: bytes, name: str, what: str, most_columns: int) -> Iterator[Cells]:
    """Rows of the first worksheet. A damaged file may raise anything in the reader, which then is one problem."""
    damaged = SheetError([Problem(name, "", "a damaged or foreign spreadsheet", f"{what} with one plain worksheet")])
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
    except (zipfile.BadZipFile, OSError, ValueError):
        raise damaged from None
    if unpacked > MOST_UNPACKED_BYTES:
        found = f"{unpacked / 1e6:.0f} MB when unpacked"
        raise SheetError([Problem(name, "", found, f"at most {MOST_UNPACKED_BYTES / 1e6:g} MB unpacked")])
    try:
        with warnings.catch_warnings():
            # The reader warns of styles and extensions that it leaves out; none of them holds a value.
            warnings.simplefilter("ignore")
            import openpyxl  # only who reads a spreadsheet waits for it

            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
            sheet = book.worksheets[0]
            for line, cells in enumerate(sheet.iter_rows(values_only=True, max_col=most_columns + 1), 1):
                values = _without_empty_end([_plain(cell) for cell in cells])
                if values:
                    yield line, values
            book.close()
    except Exception:
        raise damaged from None


def _without_empty_end(cells: list[Any]) -> tuple[Any, ...]:
    """Spreadsheets leave empty cells behind at the end of a row: they say nothing."""
    while cells and cells[-1] == "":
        cells.pop()
    return tuple(cells)


def _plain(cell: Any) -> Any:
    """A cell of a spreadsheet as text, number or truth value."""
    match cell:
        case None:
            return ""
        case str():
            return cell.strip()
        case bool() | int() | float():
            return cell
        case dt.datetime() | dt.date() | dt.time():
            return cell.isoformat()
    return str(cell)
