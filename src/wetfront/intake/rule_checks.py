"""What a sheet settles about the rules of its book: names, rows and figures must be those of the book."""

import datetime as dt
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from wetfront.intake.kinds import Mistakes, Path
from wetfront.intake.parts import Parts
from wetfront.nouns.limits import BookConfirmation, Confirmation, LooserLimit, OwnLimit
from wetfront.nouns.reason import Provenance
from wetfront.rules import Rule, book, in_force_rules
from wetfront.rules.check import UNIT_BOUNDS
from wetfront.rules.model import limit_in_words, unit_in_words
from wetfront.rules.terms import STANDS_IN_A_STANDARD, has_figure, same_edition

_LISTS = ("confirmed", "own_limit", "looser")


def check_rule_terms(parts: Parts, mistakes: Mistakes, today: dt.date) -> None:
    """Note what does not fit the rule book in `confirmed`, `own_limit` and `looser` of the specification."""
    asked = parts.whole("specification")
    if asked is None:
        return
    given = [(key, place, entry) for key in _LISTS for place, entry in enumerate(getattr(asked, key))]
    if asked.rule_book is None:
        if given:
            path: Path = ("specification", "rule_book")
            mistakes.add(path, f"nothing, though {given[0][0]} speaks of its rules", "the book that is meant")
        return
    rules = in_force_rules(asked.rule_book)
    once: dict[tuple[str, str, str], int] = {}
    for key, place, entry in given:
        path = ("specification", key, place)
        if isinstance(entry, Confirmation | LooserLimit) and entry.on > today:
            mistakes.add((*path, "on"), entry.on.isoformat(), f"a day that has been, until {today.isoformat()}")
        if isinstance(entry, Confirmation) and not entry.rule:
            _whole_standard(entry, rules, path, mistakes)
            continue
        rule = _rule(entry.rule, rules, asked.rule_book, path, mistakes)
        if rule is not None:
            _entry(entry, rule, once.setdefault((key, entry.rule, entry.row), place), path, mistakes)


def check_confirmations(given: Sequence[BookConfirmation], mistakes: Mistakes, today: dt.date) -> None:
    """Note what does not fit the rule books in the `confirmed` of a brief that asks several of them."""
    once: dict[tuple[str, str, str], int] = {}
    for place, entry in enumerate(given):
        path: Path = ("confirmed", place)
        rules = book(entry.book).rules
        if entry.on > today:
            mistakes.add((*path, "on"), entry.on.isoformat(), f"a day that has been, until {today.isoformat()}")
        if not entry.rule:
            _whole_standard(entry, rules, path, mistakes)
            continue
        rule = _rule(entry.rule, rules, entry.book, path, mistakes)
        if rule is not None:
            _entry(entry, rule, once.setdefault((entry.book, entry.rule, entry.row), place), path, mistakes)


def _entry(
    entry: Confirmation | OwnLimit | LooserLimit, rule: Rule, first: int, path: Path, mistakes: Mistakes
) -> None:
    """An entry about a known rule; `first`: the place in its list at which the same rule or row stands first."""
    *table, place = path
    if first != place:
        allowed = f"each rule or row once; it stands in {'.'.join(map(str, table))}[{first + 1}]"
        mistakes.add((*path, "rule"), f"{entry.rule!r} again", allowed)
    row = _row(entry, rule, path, mistakes)
    if row is not None:
        _figures(entry, rule, row, path, mistakes)


def _rule(name: str, rules: Mapping[str, Rule], book_name: str, path: Path, mistakes: Mistakes) -> Rule | None:
    if name in rules:
        return rules[name]
    near = get_close_matches(name, rules, n=1)
    allowed = f"a rule of the book {book_name} or of common practice (wetfront rules)"
    mistakes.add((*path, "rule"), repr(name), allowed, near[0] if near else None)
    return None


def _whole_standard(entry: Confirmation, rules: Mapping[str, Rule], path: Path, mistakes: Mistakes) -> None:
    """A tick for a standard and edition: it must meet a rule, and can carry no figure."""
    if not entry.standard:
        mistakes.add((*path, "rule"), "neither rule nor standard", "the rule or the standard that was looked up")
        return
    for key in ("row", "least", "most"):
        if getattr(entry, key) not in ("", None):
            mistakes.add((*path, key), str(getattr(entry, key)), "nothing without the rule that it belongs to")
    of_standard = [rule for rule in rules.values() if rule.source.casefold() == entry.standard.casefold()]
    if not of_standard:
        known = sorted({rule.source for rule in rules.values() if rule.provenance in STANDS_IN_A_STANDARD})
        near = get_close_matches(entry.standard, known, n=1)
        allowed = f"a standard that the book takes a rule from: {'; '.join(known)}"
        mistakes.add((*path, "standard"), repr(entry.standard), allowed, near[0] if near else None)
        return
    if not any(same_edition(entry.edition, rule.edition) for rule in of_standard):
        known = sorted({rule.edition for rule in of_standard})
        mistakes.add((*path, "edition"), repr(entry.edition), f"an edition that the book holds: {', '.join(known)}")
    elif entry.clause and not any(rule.clause in ("", entry.clause) for rule in of_standard):
        known = sorted({rule.clause for rule in of_standard})
        mistakes.add((*path, "clause"), repr(entry.clause), f"a clause that the book holds: {', '.join(known)}")


def _row(entry: Any, rule: Rule, path: Path, mistakes: Mistakes) -> Any:
    """The row that is meant, the rule itself where it has no rows or all are meant; None after a mistake."""
    labels = [cell.label(rule.by_unit) for cell in rule.cells]
    if entry.row and entry.row not in labels:
        near = get_close_matches(entry.row, labels, n=1)
        allowed = f"a row of {rule.name}: {', '.join(labels)}" if labels else f"nothing: {rule.name} is no table"
        mistakes.add((*path, "row"), repr(entry.row), allowed, near[0] if near else None)
        return None
    return rule.cells[labels.index(entry.row)] if entry.row else rule


def _figures(
    entry: Confirmation | OwnLimit | LooserLimit, rule: Rule, row: Any, path: Path, mistakes: Mistakes
) -> None:
    cells = [row] if entry.row or not rule.cells else list(rule.cells)
    low, high = UNIT_BOUNDS[rule.unit]
    for key, side in (("least", "low"), ("most", "high")):
        value = getattr(entry, key)
        if value is None:
            continue
        if any(getattr(cell, side) is None for cell in cells):
            mistakes.add((*path, key), f"{value:g}", f"a side that the rule limits: {rule.name} is {rule.limit}")
        elif not low <= value <= high:
            mistakes.add(
                (*path, key), f"{value:g}", f"a number from {low:g} to {high:g} {unit_in_words(rule.unit)}".strip()
            )
    if entry.least is not None and entry.most is not None and entry.least > entry.most:
        mistakes.add((*path, "least"), f"{entry.least:g}", f"at most the highest, {entry.most:g}")
        return
    _can_hold(entry, rule, cells, path, mistakes)
    if isinstance(entry, Confirmation):
        _confirmed(entry, rule, cells, path, mistakes)
    elif entry.least is None and entry.most is None:
        mistakes.add(path, "neither least nor most", "the limit that is meant")


def _can_hold(
    entry: Confirmation | OwnLimit | LooserLimit, rule: Rule, cells: list[Any], path: Path, mistakes: Mistakes
) -> None:
    """A figure beside which no value is left is a slip: entered ones replace a side, own ones are laid over it."""
    if isinstance(entry, LooserLimit):
        return
    entered = isinstance(entry, Confirmation)
    for cell in cells:
        lows = [
            side
            for side in (entry.least, None if entered and entry.least is not None else cell.low)
            if side is not None
        ]
        highs = [
            side for side in (entry.most, None if entered and entry.most is not None else cell.high) if side is not None
        ]
        if lows and highs and max(lows) > min(highs):
            key = "least" if entry.least is not None else "most"
            allowed = f"a limit that leaves a value beside the rule's, {limit_in_words(cell.low, cell.high, rule.unit)}"
            mistakes.add((*path, key), f"{getattr(entry, key):g}", allowed)
            return


def _confirmed(entry: Confirmation, rule: Rule, cells: list[Any], path: Path, mistakes: Mistakes) -> None:
    if entry.standard and entry.standard.casefold() != rule.source.casefold():
        mistakes.add((*path, "standard"), repr(entry.standard), f"the rule's standard, {rule.source}, or nothing")
    if not any(cell.provenance in STANDS_IN_A_STANDARD for cell in cells):
        mistakes.add((*path, "rule"), repr(entry.rule), f"a rule that stands in a standard; this is {rule.provenance}")
        return
    if not has_figure(entry):
        if not same_edition(entry.edition, rule.edition):
            allowed = f"the book's edition, {rule.edition}; or enter what the other edition says (least, most)"
            mistakes.add((*path, "edition"), repr(entry.edition), allowed)
        return
    key = "least" if entry.least is not None else "most"
    figure = f"{getattr(entry, key):g}"
    if rule.cells and not entry.row:
        mistakes.add((*path, "row"), "nothing", "the one row that the figure belongs to")
    elif cells[0].provenance is not Provenance.MEMORY:
        allowed = "nothing: the book's figure was read. Lay the project's own over it (own_limit, looser)"
        mistakes.add((*path, key), figure, allowed)
