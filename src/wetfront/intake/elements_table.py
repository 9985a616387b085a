"""A list of elements as CSV or XLSX: one row an element, one column a key of the pour sheet's [[element]] tables.

- `id` and `shape` are needed; a cell stays empty where its shape has no such key.
- Positions stand in `x_m` and `y_m`. Openings are numbered: `opening_1_width_m`, `opening_1_from_start_m`, …
- A list stands in one cell: `measured_thicknesses_mm` as "150 | 163 | 171", `outline_m` as "0 0 | 12 0 | 12 5".
- A header may name another unit of the same kind: `length_ft`, `thickness_in`, `height_cm`, `landing_area_ft2`.
- CSV: comma or semicolon, UTF-8. A decimal comma is read only between semicolons. A point is never a thousands mark.
- A text with a unit ("4 in") is handed on as it is. Formulas are not worked out: they are refused.
"""

import dataclasses
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, get_args, get_type_hints

from wetfront.errors import Problem, SheetError, WetfrontError
from wetfront.intake.table_lines import Cells, lines_of
from wetfront.nouns.element import Element, PlanOpening, WallOpening
from wetfront.quantities import from_text, suffix_of

MOST_BYTES = 10_000_000
MOST_ROWS = 5_000
MOST_COLUMNS = 200
_WHAT = "a list of elements (CSV or XLSX)"
_TEXT_KEYS = frozenset(("id", "shape", "section", "support", "poured_to"))
_UNITS = {
    "m": "m",
    "mm": "mm",
    "cm": "cm",
    "in": "in",
    "ft": "ft",
    "yd": "yd",
    "m2": "m2",
    "ft2": "ft2",
    "yd2": "sq yd",
}
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_WITH_UNIT = re.compile(_NUMBER.pattern + r'\s*["a-zA-Z°%][^\d_]{0,18}[23]?')
_COMMA_NUMBER = re.compile(r"([+-]?\d+),(\d+)(\s*\D.*)?", re.DOTALL)
_OPENING = re.compile(r"opening_([1-9]\d?)_(\w+)")


@dataclass(frozen=True, slots=True)
class ElementRow:
    """One element as a sheet's table, with the line of the file that it came from."""

    line: int
    values: dict[str, Any]


def _keys_by_shape() -> dict[str, tuple[str, ...]]:
    """Column names of each shape: its keys, x_m and y_m for its position, its opening's keys behind `opening_1_`."""
    found = {}
    for noun in get_args(Element):
        (shape,) = get_args(get_type_hints(noun)["shape"])
        keys: list[str] = []
        for entry in dataclasses.fields(noun):
            match entry.name:
                case "at_m":
                    keys += ["x_m", "y_m"]
                case "opening":
                    inner = WallOpening if shape == "wall" else PlanOpening
                    names = [one.name for one in dataclasses.fields(inner) if one.name != "at_m"]
                    names += ["x_m", "y_m"] if inner is PlanOpening else []
                    keys += [f"opening_1_{name}" for name in names]
                case "thickening":
                    continue
                case name:
                    keys.append(name)
        found[shape] = tuple(keys)
    return found


_KEYS = _keys_by_shape()
_ALL_KEYS = tuple(dict.fromkeys(key for keys in _KEYS.values() for key in keys))


def read_elements(data: bytes, name: str) -> tuple[list[ElementRow], list[Problem]]:
    """The rows of a list of elements and everything that is wrong with it; `name` is the file's name for messages.

    Ranges and sizes that do not fit each other are the sheet's to check. Never raises for what stands in the file.
    """
    if len(data) > MOST_BYTES:
        return [], [Problem(name, "", f"{len(data) / 1e6:.1f} MB", f"{_WHAT} of at most {MOST_BYTES / 1e6:g} MB")]
    problems: list[Problem] = []
    try:
        lines, comma = lines_of(data, name, _WHAT, MOST_COLUMNS)
        header = next(lines, None)
        if header is None:
            raise SheetError([Problem(name, "", "an empty file", "a first row with id, shape and the keys", 1)])
        columns = _columns(header, name, problems)
        rows = _rows(lines, columns, name, comma, problems)
    except SheetError as error:
        return [], [*problems, *error.problems]
    return rows, problems


def _columns(header: Cells, name: str, problems: list[Problem]) -> list[str]:
    line, cells = header
    columns = [str(cell) for cell in cells]
    if len(columns) > MOST_COLUMNS:
        raise SheetError([Problem(name, "", f"{len(columns)} columns", f"at most {MOST_COLUMNS}", line)])
    missing = [needed for needed in ("id", "shape") if needed not in columns]
    if missing:
        raise SheetError([Problem(name, key, "no such column", "a column of this name", line) for key in missing])
    for place, column in enumerate(columns):
        if column in columns[:place] and column:
            problems.append(Problem(name, column, "a column named twice", "each column once", line))
        elif column and not any(_key_for(column, keys) for keys in _KEYS.values()):
            near = get_close_matches(column, _ALL_KEYS, n=1)
            allowed = "keys of the [[element]] tables: " + ", ".join(_ALL_KEYS)
            shown = column if len(column) <= 60 else column[:57] + "..."
            problems.append(Problem(name, shown, "an unknown column", allowed, line, near[0] if near else None))
    return columns


def _key_for(column: str, keys: Sequence[str]) -> tuple[str, str | None] | None:
    """(key of the shape, unit of the column where it is not the key's own), or None where the shape has no such key."""
    asked = _OPENING.fullmatch(column)
    if asked:
        inner = _key_for(f"opening_1_{asked[2]}", keys) if asked[1] != "1" else None
        if inner:
            return inner[0].replace("opening_1_", f"opening_{asked[1]}_", 1), inner[1]
    if column in keys:
        return column, None
    stem, _, unit = column.rpartition("_")
    if unit in _UNITS and stem:
        for key in keys:
            own = suffix_of(key)
            if own and key.removesuffix(own) == stem and (own == "_m2") == unit.endswith("2"):
                return key, _UNITS[unit]
    return None


def _rows(
    lines: Iterator[Cells], columns: list[str], name: str, comma: bool, problems: list[Problem]
) -> list[ElementRow]:
    rows: list[ElementRow] = []
    for count, (line, cells) in enumerate(lines, 1):
        if count > MOST_ROWS:
            problems.append(Problem(name, "", f"more than {MOST_ROWS} rows", f"at most {MOST_ROWS} rows", line))
            break
        if len(cells) > len(columns):
            problems.append(Problem(name, "", f"{len(cells)} cells", f"{len(columns)} cells as in the first row", line))
            continue
        by_column = {column: cell for column, cell in zip(columns, cells, strict=False) if column and cell != ""}
        values = _element(by_column, name, line, comma, problems)
        if values is not None:
            rows.append(ElementRow(line, values))
    return rows


def _element(
    cells: dict[str, Any], name: str, line: int, comma: bool, problems: list[Problem]
) -> dict[str, Any] | None:
    """One row as the table of an element, or None with the problems noted."""
    before = len(problems)
    shape = str(cells.get("shape", ""))
    if shape not in _KEYS:
        near = get_close_matches(shape, _KEYS, n=1)
        found = repr(shape[:60]) if shape else "an empty cell"
        problems.append(Problem(name, "shape", found, ", ".join(_KEYS), line, near[0] if near else None))
        return None
    if "id" not in cells:
        problems.append(Problem(name, "id", "an empty cell", "the element's name", line))
    flat: dict[str, Any] = {}
    for column, cell in cells.items():
        target = _key_for(column, _KEYS[shape])
        if target is None:
            if any(_key_for(column, keys) for keys in _KEYS.values()):
                allowed = f"nothing here: a {shape} has " + ", ".join(_KEYS[shape])
                near = get_close_matches(column, _KEYS[shape], n=1)
                problems.append(Problem(name, column, repr(cell), allowed, line, near[0] if near else None))
            continue
        key, unit = target
        if key in flat:
            problems.append(Problem(name, column, "a second value", f"{key} once, in one unit", line))
            continue
        try:
            flat[key] = _value(key, unit, cell, comma)
        except WetfrontError as error:
            problems.append(Problem(name, column, repr(cell), error.message, line))
    _pair_up(flat, "x_m", "y_m", "at_m", name, line, problems)
    values = _with_openings(flat, name, line, problems)
    return values if len(problems) == before else None


def _value(key: str, unit: str | None, cell: Any, comma: bool) -> Any:
    """A cell as the sheet would hold it. WetfrontError says what is allowed."""
    plain_key = _OPENING.sub(r"\2", key)
    if isinstance(cell, str) and cell.startswith("="):
        raise WetfrontError("a value; formulas are not worked out")
    if plain_key in _TEXT_KEYS:
        return str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell)
    if plain_key == "outline_m":
        return [[_number(part, unit, key, comma) for part in point.split()] for point in str(cell).split("|")]
    if plain_key == "measured_thicknesses_mm":
        return [_number(part.strip(), unit, key, comma) for part in str(cell).split("|")]
    return _number(cell, unit, key, comma)


def _number(cell: Any, unit: str | None, key: str, comma: bool) -> Any:
    """A number in the key's unit; a text with its own unit is handed on where the column names none."""
    if isinstance(cell, str):
        swapped = _COMMA_NUMBER.fullmatch(cell)
        if swapped:
            if not comma:
                raise WetfrontError("a decimal point; a decimal comma is read only in a file divided by semicolons")
            cell = f"{swapped[1]}.{swapped[2]}{swapped[3] or ''}"
        if not _NUMBER.fullmatch(cell):
            if unit is None and _WITH_UNIT.fullmatch(cell):
                return cell
            raise WetfrontError("a number" if unit else "a number, or a number with its unit")
        cell = int(cell) if cell.lstrip("+-").isdigit() and len(cell) < 16 else float(cell)
    if isinstance(cell, bool) or not isinstance(cell, int | float) or not math.isfinite(cell):
        raise WetfrontError("a number")
    if unit is not None:
        return from_text(key, f"{cell!r} {unit}")
    return int(cell) if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15 else cell


def _pair_up(
    flat: dict[str, Any], x_key: str, y_key: str, key: str, name: str, line: int, problems: list[Problem]
) -> None:
    """x and y as one point."""
    given = [one for one in (x_key, y_key) if one in flat]
    if len(given) == 1:
        missing = y_key if given == [x_key] else x_key
        problems.append(Problem(name, missing, "an empty cell", f"both {x_key} and {y_key}, or neither", line))
    elif given:
        flat[key] = [flat.pop(x_key), flat.pop(y_key)]


def _with_openings(flat: dict[str, Any], name: str, line: int, problems: list[Problem]) -> dict[str, Any]:
    """`opening_2_width_m` and the like, gathered in a list of tables under `opening`."""
    openings: dict[int, dict[str, Any]] = {}
    values: dict[str, Any] = {}
    for key, value in flat.items():
        asked = _OPENING.fullmatch(key)
        if asked:
            openings.setdefault(int(asked[1]), {})[asked[2]] = value
        else:
            values[key] = value
    for number, opening in sorted(openings.items()):
        _pair_up(opening, "x_m", "y_m", "at_m", name, line, problems)
        opening.setdefault("id", f"opening {number}")
    if openings:
        values["opening"] = [openings[number] for number in sorted(openings)]
    return values
