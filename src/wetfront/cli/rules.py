"""`wetfront rules`: list, search, show and compare the rule books."""

import argparse
import json
import sys
import textwrap
from collections.abc import Sequence
from typing import Any

from wetfront.errors import WetfrontError
from wetfront.nouns.reason import Provenance
from wetfront.rules import Rule, book, books, rule, search
from wetfront.rules.model import limit_in_words

WIDTH = 120
LABEL = 14
_IN_A_STANDARD = (Provenance.PUBLISHED, Provenance.MEMORY)


def run(arguments: argparse.Namespace) -> int:
    """Dispatch the forms of `rules`."""
    try:
        text, data = _answer(arguments)
    except WetfrontError as error:
        print(f"wetfront rules: {error.message}", file=sys.stderr)
        return 2
    print(json.dumps(data, ensure_ascii=False, indent=2) if arguments.json else text)
    return 0


def _answer(arguments: argparse.Namespace) -> tuple[str, dict[str, Any]]:
    if arguments.name and (arguments.search or arguments.from_memory):
        raise WetfrontError("name one rule, or search; not both")
    if arguments.name and arguments.book:
        found = rule(arguments.book, arguments.name)
        return shown(found), as_json(found)
    if arguments.name:
        return _compared(arguments.name)
    if arguments.search or arguments.from_memory:
        found_rules = search(" ".join(arguments.search or []))
    else:
        found_rules = tuple(one for each in books() for one in each.rules.values())
    if arguments.book:
        chosen = book(arguments.book).name
        found_rules = tuple(one for one in found_rules if one.book == chosen)
    if arguments.from_memory:
        found_rules = tuple(one for one in found_rules if one.rests_on_memory)
    whole = not (arguments.search or arguments.from_memory or arguments.book)
    return listed(found_rules, whole=whole), {
        "books": [{"name": each.name, "title": each.title, "covers": each.covers} for each in books()],
        "rules": [as_json(one) for one in found_rules],
    }


def as_json(one: Rule) -> dict[str, Any]:
    """One rule with all that is known of it."""
    return {
        "book": one.book,
        "rule": one.name,
        "title": one.title,
        "unit": one.unit,
        "least": one.low,
        "most": one.high,
        "by": one.by,
        "by_unit": one.by_unit,
        "by_least": one.by_least,
        "rows": [
            {
                "row": cell.label(one.by_unit),
                "class": cell.word or None,
                "under": cell.under,
                "to": cell.to,
                "least": cell.low,
                "most": cell.high,
                "provenance": str(cell.provenance),
                "readings": cell.readings,
            }
            for cell in one.cells
        ],
        "counts_from": one.counts_from,
        "counts_to": one.counts_to,
        "source": one.citation,
        "standard": one.source,
        "edition": one.edition,
        "clause": one.clause,
        "provenance": str(one.provenance),
        "readings": one.readings,
        "rests_on_memory": one.rests_on_memory,
        "standing": one.standing,
        "note": one.note,
    }


def listed(found: Sequence[Rule], *, whole: bool) -> str:
    """One rule a line, under its book."""
    if not found:
        return "no rule speaks of that"
    lines: list[str] = []
    for each in books():
        of_this = [one for one in found if one.book == each.name]
        if not of_this:
            continue
        lines += [f"{each.name}: {each.title}. {each.covers}"]
        for one in of_this:
            limit = one.limit if not one.cells else f"{len(one.cells)} rows by {one.by}"
            mark = "FROM MEMORY" if one.provenance is Provenance.MEMORY else "part FROM MEMORY"
            lines.append(f"  {one.name:<36}{limit:<44}{mark if one.rests_on_memory else one.provenance}")
        lines.append("")
    remembered = sum(one.rests_on_memory for one in found)
    lines.append(
        f"{len(found)} rules, {remembered} of them wholly or partly from memory: check the standard for those."
    )
    if whole:
        lines.append("Show one over all books: wetfront rules NAME. Of one book: wetfront rules NAME --book BOOK.")
    return "\n".join(lines)


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


def shown(one: Rule) -> str:
    """One rule of one book in full."""
    return "\n".join([f"{one.name} ({one.book}): {one.title}", "", *_columns([_facts(one)], [one.book])])


def _compared(name: str) -> tuple[str, dict[str, Any]]:
    known = [each.rules[name] for each in books() if name in each.rules]
    if not known:
        rule(books()[0].name, name)  # says which name is near
    silent = [each.name for each in books() if name not in each.rules]
    lines = [f"{name}: {known[0].title}", ""]
    lines += _columns([_facts(one) for one in known], [one.book for one in known])
    if silent:
        lines += ["", f"no such rule in: {', '.join(silent)}"]
    return "\n".join(lines), {"rule": name, "books": [as_json(one) for one in known], "no_such_rule_in": silent}


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
