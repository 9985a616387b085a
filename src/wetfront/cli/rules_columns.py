"""Rules in full beside each other, one column a book."""

import textwrap
from collections.abc import Sequence

from wetfront.nouns.reason import Provenance
from wetfront.rules import Rule
from wetfront.rules.model import limit_in_words

WIDTH = 120
LABEL = 14
_IN_A_STANDARD = (Provenance.PUBLISHED, Provenance.MEMORY)


def beside(rules: Sequence[Rule]) -> list[str]:
    """The lines of a table with everything that is known of each rule."""
    return _columns([_facts(one) for one in rules], [one.book for one in rules])


def _facts(one: Rule) -> list[tuple[str, str]]:
    facts = [("limit", one.limit if not one.cells else f"by {one.by}:")]
    for cell in one.cells:
        remembered = " FROM MEMORY" if cell.provenance is Provenance.MEMORY else ""
        facts.append(
            ("", f"{cell.label(one.by_unit)}: {limit_in_words(cell.low, cell.high, one.unit)}{remembered}"),
        )
    if one.counts_from:
        facts += [("counts from", one.counts_from), ("counts to", one.counts_to)]
    facts += [
        (
            "source",
            one.citation + ("" if one.clause or one.provenance not in _IN_A_STANDARD else " (clause not noted)"),
        ),
        ("known as", one.standing),
    ]
    if one.note:
        facts.append(("note", one.note))
    return facts


def _columns(tables: Sequence[list[tuple[str, str]]], heads: Sequence[str]) -> list[str]:
    """Facts under each other by label, one column a book, wrapped to the width of the page."""
    width = (WIDTH - LABEL) // len(tables) - 2
    lines = [_line("", heads, width)] if len(heads) > 1 else []
    for label in ("limit", "counts from", "counts to", "source", "known as", "note"):
        cells = [_under(table, label, width) for table in tables]
        for number in range(max(len(cell) for cell in cells)):
            parts = [cell[number] if number < len(cell) else "" for cell in cells]
            lines.append(_line(label if number == 0 else "", parts, width))
    return lines


def _under(table: Sequence[tuple[str, str]], wanted: str, width: int) -> list[str]:
    lines: list[str] = []
    current = ""
    for label, text in table:
        current = label or current
        if current == wanted:
            lines += textwrap.wrap(text, width, subsequent_indent="  ")
    return lines


def _line(label: str, parts: Sequence[str], width: int) -> str:
    return (f"{label:<{LABEL}}" + "".join(f"{part:<{width + 2}}" for part in parts)).rstrip()
