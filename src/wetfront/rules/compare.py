"""Rule books beside each other: what is the same, what differs, and whose limit is the stricter."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wetfront.errors import InvalidInput
from wetfront.rules.book import rule_names
from wetfront.rules.model import Rule, RuleBook, limit_in_words

Standing = Literal["same", "differs", "counted otherwise", "other rows", "not in all"]
"""`other rows`: the tables go by different things or steps, so that no row of one stands beside one of the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One limit over several books, in their order."""

    rule: str
    title: str
    unit: str
    row: str
    """The row of a table; empty for one limit, and where the rows of the books go by different things."""
    limits: tuple[tuple[float | None, float | None] | None, ...]
    """(lowest, highest) of each book; None where it has none, or a table that cannot be set beside the others."""
    words: tuple[str, ...]
    """Each as a person says it; empty where the book has none."""
    standing: Standing
    stricter: tuple[int, ...]
    """Places of the books with the strictest limit; empty where all are equal or it cannot be told."""


def compared(chosen: Sequence[RuleBook], name: str | None = None) -> tuple[Compared, ...]:
    """The rules of these books beside each other, or one of them.

    InvalidInput where fewer than two books are given, or none of them has the rule.
    """
    if len(chosen) < 2:
        raise InvalidInput("compare", "give two books or more to compare, such as en,is")
    names = [each for each in rule_names() if any(each in one.rules for one in chosen)]
    if name is not None:
        if name not in names:
            raise InvalidInput("rule", f"none of {', '.join(one.name for one in chosen)} has a rule {name}")
        names = [name]
    return tuple(line for each in names for line in _lines(each, [one.rules.get(each) for one in chosen]))


def _lines(name: str, rules: Sequence[Rule | None]) -> list[Compared]:
    having = [one for one in rules if one is not None]
    if len({_kind(one) for one in having}) > 1:
        words = ["" if one is None else one.limit if not one.by else f"by {one.by}" for one in rules]
        return [_line(name, "", having[0], [None] * len(rules), words, "other rows")]
    counting = len({(one.counts_from, one.counts_to) for one in having}) > 1
    rows = list(dict.fromkeys(cell.label(one.by_unit) for one in having for cell in one.cells)) or [""]
    return [_limits(name, row, rules, counting=counting) for row in rows]


def _kind(one: Rule) -> tuple[str, ...]:
    """What must be equal for rows to stand beside each other: classes by their name, steps only all together."""
    steps = () if all(cell.word for cell in one.cells) else tuple(cell.label(one.by_unit) for cell in one.cells)
    return (one.by, one.by_unit, *steps)


def _limits(name: str, row: str, rules: Sequence[Rule | None], *, counting: bool) -> Compared:
    limits = [None if one is None else _at(one, row) for one in rules]
    unit = next(one.unit for one in rules if one is not None)
    words = ["" if limit is None else limit_in_words(*limit, unit) for limit in limits]
    known = {limit for limit in limits if limit is not None}
    standing: Standing = "same"
    if counting:
        standing = "counted otherwise"
    elif len(known) > 1:
        standing = "differs"
    elif None in limits:
        standing = "not in all"
    return _line(name, row, next(one for one in rules if one is not None), limits, words, standing)


def _line(
    name: str,
    row: str,
    one: Rule,
    limits: Sequence[tuple[float | None, float | None] | None],
    words: Sequence[str],
    standing: Standing,
) -> Compared:
    return Compared(
        rule=name,
        title=one.title,
        unit=one.unit,
        row=row,
        limits=tuple(limits),
        words=tuple(words),
        standing=standing,
        stricter=_strictest(limits) if standing == "differs" else (),
    )


def _at(one: Rule, row: str) -> tuple[float | None, float | None] | None:
    if not one.cells:
        return (one.low, one.high)
    return next(((cell.low, cell.high) for cell in one.cells if cell.label(one.by_unit) == row), None)


def _strictest(limits: Sequence[tuple[float | None, float | None] | None]) -> tuple[int, ...]:
    """Where both the lowest value is highest and the highest value lowest; nowhere, if no one limit is both."""
    known = [limit for limit in limits if limit is not None]
    lows = [low for low, _ in known if low is not None]
    highs = [high for _, high in known if high is not None]
    best = (max(lows, default=None), min(highs, default=None))
    return tuple(place for place, limit in enumerate(limits) if limit == best)
