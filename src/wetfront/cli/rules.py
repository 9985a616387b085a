"""`wetfront rules`: list, search, show and compare the rule books, and what of them is in force for a sheet."""

import argparse
import json
import sys
from collections.abc import Sequence
from typing import Any

from wetfront.cli.rules_columns import beside
from wetfront.cli.rules_compare import comparison
from wetfront.errors import WetfrontError
from wetfront.nouns.reason import Provenance
from wetfront.rules import Rule, book, books, rule, search


def run(arguments: argparse.Namespace) -> int:
    """Dispatch the forms of `rules`."""
    if arguments.sheet:
        from wetfront.cli.rules_sheet import run as run_for_sheet

        return run_for_sheet(arguments)
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
    if arguments.compare:
        if arguments.search or arguments.from_memory or arguments.book:
            raise WetfrontError("--compare goes with the name of a rule, or alone")
        return comparison(arguments.compare, arguments.name)
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


def shown(one: Rule) -> str:
    """One rule of one book in full."""
    return "\n".join([f"{one.name} ({one.book}): {one.title}", "", *beside([one])])


def _compared(name: str) -> tuple[str, dict[str, Any]]:
    known = [each.rules[name] for each in books() if name in each.rules]
    if not known:
        rule(books()[0].name, name)  # says which name is near
    silent = [each.name for each in books() if name not in each.rules]
    lines = [f"{name}: {known[0].title}", ""]
    lines += beside(known)
    if silent:
        lines += ["", f"no such rule in: {', '.join(silent)}"]
    return "\n".join(lines), {"rule": name, "books": [as_json(one) for one in known], "no_such_rule_in": silent}
