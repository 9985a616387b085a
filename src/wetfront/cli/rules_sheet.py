"""`wetfront rules --sheet POUR.toml`: what is in force for the project, whose limit each is, what awaits a tick."""

import argparse
import json
import textwrap
from collections.abc import Callable, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any

from wetfront.cli.mistakes import mistakes_told
from wetfront.desk.rules_in_force import RulesInForce, rules_in_force
from wetfront.errors import WetfrontError
from wetfront.intake import read_sheet
from wetfront.rules import InForce, in_force_rules, search
from wetfront.rules.model import limit_in_words

WIDTH = 120
NAME, LIMIT, WHOSE = 36, 22, 29


def run(arguments: argparse.Namespace) -> int:
    """Print what is in force, or what is wrong with the sheet."""
    return mistakes_told("rules", "sheet", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    if arguments.book or arguments.compare:
        raise WetfrontError("--sheet names its own rule book: leave --book and --compare out")
    if arguments.name and arguments.search:
        raise WetfrontError("name one rule, or search; not both")
    found = rules_in_force(read_sheet(Path(arguments.sheet)).sheet)
    shown = [each for each in found.limits if _wanted(arguments, found)(each)]
    print(json.dumps(as_json(found, shown), ensure_ascii=False, indent=2) if arguments.json else text(found, shown))
    return 0


def _wanted(arguments: argparse.Namespace, found: RulesInForce) -> Callable[[InForce], bool]:
    """Whether a limit is asked for."""
    known = in_force_rules(found.book)
    if arguments.name and arguments.name not in known:
        raise WetfrontError(f"the book {found.book} has no rule {arguments.name} (wetfront rules --book {found.book})")
    names = {arguments.name} if arguments.name else set(known)
    if arguments.search:
        names &= {one.name for one in search(" ".join(arguments.search))}
    return lambda each: each.applied.rule.name in names and (not arguments.from_memory or each.applied.rests_on_memory)


def as_json(found: RulesInForce, shown: Sequence[InForce]) -> dict[str, Any]:
    """What is in force, for programs."""
    return {
        "project": found.project,
        "book": found.book,
        "in_force": [_limit(each) for each in shown],
        "changed": [f"{_named(each)}: {each.applied.text}" for each in shown if each.applied.changed],
        "awaits_tick": [_key(each) for each in shown if each.applied.rests_on_memory],
        "awaits_name": [_key(each) for each in shown if each.applied.needs_approval],
    }


def _key(each: InForce) -> dict[str, str | None]:
    return {"rule": each.applied.rule.name, "row": each.row or None}


def _limit(each: InForce) -> dict[str, Any]:
    applied = each.applied
    seen = applied.rule.confirmed
    return _key(each) | {
        "title": applied.rule.title,
        "unit": applied.rule.unit,
        "least": applied.low,
        "most": applied.high,
        "book_least": applied.rule.low,
        "book_most": applied.rule.high,
        "book": applied.rule.book,
        "whose": applied.whose,
        "text": applied.text,
        "source": applied.cited.citation,
        "provenance": str(applied.cited.provenance),
        "rests_on_memory": applied.rests_on_memory,
        "needs_approval": applied.needs_approval,
        "approved_by": applied.approved_by or None,
        "confirmed_by": seen.by if seen else None,
        "confirmed_on": seen.on.isoformat() if seen else None,
    }


def text(found: RulesInForce, shown: Sequence[InForce]) -> str:
    """What is in force, a line a limit; tables that hold as the book has them in one line."""
    lines = [f"{found.project}: {found.book_title} ({found.book}), with common practice where it is silent", ""]
    lines.append(f"{'rule':<{NAME}}{'limit in force':<{LIMIT}}{'whose':<{WHOSE}}known as")
    for _, rows in groupby(shown, key=lambda each: each.applied.rule.name):
        lines += _rule_lines(list(rows))
    lines += _told("What your specification changed", [_changed(each) for each in shown if each.applied.changed])
    lines += _told(
        "By remembered limit, check the standard; then tick it in [[specification.confirmed]]",
        _rows_together([each for each in shown if each.applied.rests_on_memory]),
    )
    lines += _told(
        "Named approval needed ([[specification.looser]]); until then the rule book's limit holds",
        [_named(each) for each in shown if each.applied.needs_approval],
    )
    return "\n".join(lines)


def _rule_lines(rows: list[InForce]) -> list[str]:
    first = rows[0].applied
    standing = {(each.applied.whose, str(each.applied.cited.provenance)) for each in rows}
    if len(rows) > 1 and len(standing) == 1 and not any(each.applied.changed for each in rows):
        return [_line(first.rule.name, f"{len(rows)} rows", rows[0])]
    if len(rows) == 1 and not rows[0].row:
        return [_line(first.rule.name, _words(rows[0]), rows[0])]
    return [first.rule.name, *(_line(f"  {each.row}", _words(each), each) for each in rows)]


def _line(name: str, limit: str, each: InForce) -> str:
    known = "own figure" if each.applied.governs == "project" else str(each.applied.rule.provenance)
    if each.applied.rests_on_memory:
        known = "FROM MEMORY"
    gap = "" if len(name) < NAME else " "
    return f"{name:<{NAME}}{gap}{limit:<{LIMIT}}{_short(each):<{WHOSE}}{known}".rstrip()


def _short(each: InForce) -> str:
    return "project, approved" if each.applied.approved_by else each.applied.whose


def _words(each: InForce) -> str:
    return limit_in_words(each.applied.low, each.applied.high, each.applied.rule.unit)


def _named(each: InForce) -> str:
    return each.applied.rule.name + (f", {each.row}" if each.row else "")


def _changed(each: InForce) -> str:
    return f"{_named(each)}: {each.applied.text}"


def _rows_together(found: Sequence[InForce]) -> list[str]:
    """A rule each with its source; its rows behind it where only some of them are meant."""
    lines = []
    for name, group in groupby(found, key=lambda each: each.applied.rule.name):
        rows = list(group)
        some = f" ({'; '.join(each.row for each in rows)})" if 0 < len(rows) < rows[0].rows_count else ""
        lines.append(f"{name}{some}: {rows[0].applied.rule.citation}")
    return lines


def _told(head: str, texts: Sequence[str]) -> list[str]:
    if not texts:
        return []
    lines = ["", f"{head}:"]
    for each in texts:
        lines += textwrap.wrap(each, WIDTH, break_on_hyphens=False, initial_indent="  ", subsequent_indent="    ")
    return lines
