"""The checks that a rule book must pass before anyone may ask it: structure, order, range, provenance."""

import math
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from itertools import pairwise
from operator import ge, gt, le, lt
from typing import Any

from wetfront.errors import Problem, SheetError
from wetfront.nouns.reason import Provenance
from wetfront.rules.model import Cell, Rule, RuleBook

UNIT_BOUNDS: dict[str, tuple[float, float]] = {
    "min": (1, 600),
    "count": (1, 1000),
    "°C": (-40, 60),
    "kg/m²h": (0.1, 5),
    "mm": (0, 1000),
    "m": (0.1, 50),
    "s": (1, 120),
    "mm/s": (1, 500),
    "kV": (0, 1200),
    "bar": (1, 300),
    "1": (0.1, 100),
    "ratio": (0.01, 1.5),
    "MPa": (1, 200),
    "kg/m³": (-50, 700),
    "g/kg": (0.1, 200),
    "l/m³": (0, 200),
    "%": (0, 100),
    "m³": (0, 1000),
    "m²": (1, 5000),
    "min/m³": (0.1, 10),
    "": (0, 0),
}
"""Unit -> what a limit in it can at all be. A slip of the decimal point falls outside."""


def _unordered(_first: float, _second: float) -> bool:
    return False


_ORDERS: dict[str, Callable[[float, float], bool]] = {
    "rising": ge,
    "falling": le,
    "rising or level": gt,
    "falling or level": lt,
    "none": _unordered,
}
"""How limits may run down the rows -> what breaks it. "none" where the rows are different things: kinds of attack."""

_BOOK_KEYS = {"name", "title", "covers"}
_TEXTS = ("title", "unit", "source", "edition", "clause", "provenance")
_OPTIONAL_TEXTS = ("by", "by_unit", "counts_from", "counts_to", "note", "order")
_RULE_KEYS = {*_TEXTS, *_OPTIONAL_TEXTS, "readings", "least", "most", "by_least", "rows"}
_ROW_KEYS = {"class", "under", "to", "least", "most", "provenance", "readings"}
_UNREAD = {Provenance.MEMORY, Provenance.COMMON_PRACTICE, Provenance.OWN_RULE}
_ALLOWED = (*_UNREAD, Provenance.PUBLISHED, Provenance.RECOMPUTED)


class _Report:
    """Collects the mistakes of one file."""

    def __init__(self, file: str):
        self.file = file
        self.problems: list[Problem] = []

    def add(self, key: str, found: object, allowed: str, nearest: str | None = None) -> None:
        self.problems.append(Problem(self.file, key, repr(found), allowed, nearest=nearest))

    def known_keys(self, key: str, given: Mapping[str, Any], known: set[str]) -> None:
        for name in given:
            if name not in known:
                near = get_close_matches(name, known, n=1)
                self.add(f"{key}.{name}", name, f"one of {', '.join(sorted(known))}", near[0] if near else None)

    def text(self, key: str, given: Mapping[str, Any], name: str, *, empty: bool) -> str:
        value = given.get(name, "" if empty else None)
        if not isinstance(value, str) or (not empty and not value.strip()):
            self.add(f"{key}.{name}", value, "text" if empty else "text, not empty")
            return ""
        return value

    def number(self, key: str, given: Mapping[str, Any], name: str, low: float, high: float) -> float | None:
        value = given.get(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            self.add(f"{key}.{name}", value, "a finite number")
            return None
        if not low <= value <= high:
            self.add(f"{key}.{name}", value, f"{low:g} to {high:g}")
            return None
        return float(value)

    def known_as(self, key: str, given: Mapping[str, Any]) -> tuple[Provenance, int]:
        """Provenance and readings, which must fit each other."""
        word, readings = given.get("provenance"), given.get("readings")
        if word not in [str(one) for one in _ALLOWED]:
            self.add(f"{key}.provenance", word, f"one of {'; '.join(_ALLOWED)}")
            return Provenance.MEMORY, 0
        provenance = Provenance(word)
        if isinstance(readings, bool) or not isinstance(readings, int) or not 0 <= readings <= 9:
            self.add(f"{key}.readings", readings, "a whole number from 0 to 9")
            return provenance, 0
        if provenance in _UNREAD and readings != 0:
            self.add(f"{key}.readings", readings, f"0 for what is {provenance}")
        if provenance is Provenance.PUBLISHED and readings == 0:
            self.add(f"{key}.readings", readings, "at least 1 for what is published; else it is from memory")
        return provenance, readings


def checked_book(data: Mapping[str, Any], file: str) -> RuleBook:
    """The book in `data`, or SheetError with every mistake, each by file and key."""
    report = _Report(file)
    report.known_keys("file", data, {"book", "rule"})
    head, rules = data.get("book"), data.get("rule")
    if not isinstance(head, Mapping) or not isinstance(rules, Mapping) or not rules:
        report.add("book, rule", sorted(data), "a table [book] and at least one table [rule.NAME]")
        raise SheetError(report.problems)
    report.known_keys("book", head, _BOOK_KEYS)
    name = report.text("book", head, "name", empty=False)
    if f"{name}.toml" != file:
        report.add("book.name", name, f"the name of the file, {file.removesuffix('.toml')}")
    title = report.text("book", head, "title", empty=False)
    covers = report.text("book", head, "covers", empty=False)
    found = {key: _rule(report, name, key, given) for key, given in rules.items()}
    if report.problems:
        raise SheetError(report.problems)
    return RuleBook(
        name=name, title=title, covers=covers, rules={key: each for key, each in found.items() if each is not None}
    )


def _rule(report: _Report, book: str, name: str, given: object) -> Rule | None:
    key = f"rule.{name}"
    if not isinstance(given, Mapping):
        report.add(key, given, "a table")
        return None
    report.known_keys(key, given, _RULE_KEYS)
    texts = {one: report.text(key, given, one, empty=one in ("edition", "clause")) for one in _TEXTS}
    more = {one: report.text(key, given, one, empty=True) for one in _OPTIONAL_TEXTS}
    bounds = _bounds(report, f"{key}.unit", texts["unit"])
    provenance, readings = report.known_as(key, given)
    low, high = report.number(key, given, "least", *bounds), report.number(key, given, "most", *bounds)
    if texts["unit"] == "min" and not (more["counts_from"] and more["counts_to"]):
        report.add(f"{key}.counts_from", more["counts_from"], "for a time: what it counts from and what it counts to")
    cells: tuple[Cell, ...] = ()
    by_least = None
    if "rows" in given:
        if "least" in given or "most" in given:
            report.add(key, "rows and a limit", "either rows or a limit (least, most)")
        by_least = report.number(key, given, "by_least", *_bounds(report, f"{key}.by_unit", more["by_unit"]))
        cells = _cells(report, key, given, bounds, (provenance, readings))
        _check_table(report, key, given, cells)
    elif "least" not in given and "most" not in given:
        report.add(key, "no limit", "least, most, or rows")
    elif low is not None and high is not None and low > high:
        report.add(f"{key}.least", low, f"not over most, {high:g}")
    return Rule(
        book=book,
        name=name,
        title=texts["title"],
        unit=texts["unit"],
        low=low,
        high=high,
        by=more["by"],
        by_unit=more["by_unit"],
        by_least=by_least,
        cells=cells,
        counts_from=more["counts_from"],
        counts_to=more["counts_to"],
        source=texts["source"],
        edition=texts["edition"],
        clause=texts["clause"],
        provenance=provenance,
        readings=readings,
        note=more["note"],
    )


def _bounds(report: _Report, key: str, unit: str) -> tuple[float, float]:
    if unit not in UNIT_BOUNDS:
        report.add(key, unit, f"one of {', '.join(one for one in UNIT_BOUNDS if one)}")
        return (-math.inf, math.inf)
    return UNIT_BOUNDS[unit]


def _cells(
    report: _Report,
    key: str,
    given: Mapping[str, Any],
    bounds: tuple[float, float],
    known_as: tuple[Provenance, int],
) -> tuple[Cell, ...]:
    rows = given["rows"]
    if not isinstance(rows, list) or len(rows) < 2 or not all(isinstance(row, Mapping) for row in rows):
        report.add(f"{key}.rows", rows, "a list of two tables or more")
        return ()
    cells = []
    for number, row in enumerate(rows, start=1):
        place = f"{key}.rows[{number}]"
        report.known_keys(place, row, _ROW_KEYS)
        own = known_as
        if "provenance" in row or "readings" in row:
            own = report.known_as(place, row)
        low, high = report.number(place, row, "least", *bounds), report.number(place, row, "most", *bounds)
        if "least" not in row and "most" not in row:
            report.add(place, dict(row), "least, most or both")
        if low is not None and high is not None and low > high:
            report.add(f"{place}.least", low, f"not over most, {high:g}")
        cells.append(
            Cell(
                word=report.text(place, row, "class", empty=True),
                under=report.number(place, row, "under", -math.inf, math.inf),
                to=report.number(place, row, "to", -math.inf, math.inf),
                low=low,
                high=high,
                provenance=own[0],
                readings=own[1],
            )
        )
    return tuple(cells)


def _check_table(report: _Report, key: str, given: Mapping[str, Any], cells: tuple[Cell, ...]) -> None:
    """Rows by class: each class once. Rows by number: bounds rise. Both: limits run in the stated order."""
    if not given.get("by"):
        report.add(f"{key}.by", given.get("by"), "what the rows go by")
    order = given.get("order")
    if order not in _ORDERS:
        report.add(f"{key}.order", order, f"how the limits run down the rows: one of {'; '.join(_ORDERS)}")
    words = [cell.word for cell in cells]
    if any(words):
        if not all(words) or len(set(words)) < len(words) or any(cell.under or cell.to for cell in cells):
            report.add(f"{key}.rows", words, "each class once, and no row by number among them")
    else:
        if given.get("by_least") is None or not given.get("by_unit"):
            report.add(f"{key}.by_least", given.get("by_least"), "the lowest number covered, with by_unit")
        _check_steps(report, key, cells, given.get("by_least"))
    for side in ("low", "high"):
        values = [value for cell in cells if (value := getattr(cell, side)) is not None]
        pairs = list(pairwise(values))
        broken = _ORDERS.get(str(order), _unordered)
        if any(broken(first, second) for first, second in pairs):
            report.add(f"{key}.rows", values, f"limits {order} from row to row")


def _check_steps(report: _Report, key: str, cells: tuple[Cell, ...], by_least: object) -> None:
    before = by_least if isinstance(by_least, int | float) and math.isfinite(by_least) else -math.inf
    for number, cell in enumerate(cells, start=1):
        if (cell.under is not None and cell.to is not None) or (
            cell.under is None and cell.to is None and number < len(cells)
        ):
            report.add(f"{key}.rows[{number}]", cell.label(""), "one of under and to; only the last row may be open")
            continue
        bound = cell.under if cell.under is not None else cell.to
        if bound is not None and bound <= before:
            report.add(f"{key}.rows[{number}]", bound, f"over {before:g}: bounds rise from row to row")
        before = before if bound is None else bound
