"""What is in force for one project: its rule book, what it looked up, its own figures and its approvals."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wetfront.errors import InvalidInput
from wetfront.nouns.limits import Confirmation, LooserLimit, OwnLimit
from wetfront.nouns.reason import Provenance
from wetfront.rules.book import PRACTICE, in_force, in_force_rules
from wetfront.rules.merge import Applied, sides, stricter_of
from wetfront.rules.model import CHECK_FIRST, Cell, Rule, Value

if TYPE_CHECKING:
    from wetfront.nouns.sheet import Specification

STANDS_IN_A_STANDARD = (Provenance.MEMORY, Provenance.PUBLISHED)
"""What can be looked up. Common practice and our own rules stand nowhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """A project's word on the rules: whose book, and what it confirmed, set itself and approved."""

    book: str
    confirmed: tuple[Confirmation, ...] = ()
    own: tuple[OwnLimit, ...] = ()
    looser: tuple[LooserLimit, ...] = ()
    looser_approved_by: str = ""
    """Stands behind every looser figure; an approval of one limit goes before it."""


def terms_of(specification: "Specification") -> Terms | None:
    """The terms of a sheet's specification; None where it names no rule book."""
    if specification.rule_book is None:
        return None
    return Terms(
        book=specification.rule_book,
        confirmed=specification.confirmed,
        own=specification.own_limit,
        looser=specification.looser,
        looser_approved_by=specification.looser_approved_by,
    )


def held(terms: Terms, name: str, where: str | float | None = None, own: Value | None = None) -> Applied | None:
    """What holds for one rule in this project, how it is known, and who stands for it.

    `where`: the row of a rule that is a table, by class or by number. `own`: the project's figure from another place
    than `terms.own`; the stricter of both is laid over the rule. None where neither the book nor common practice has
    the rule, or where it is a table and `where` is missing.

    InvalidInput where no rule has that name, no row fits, or no value meets both rule and project.
    Source: own rule, on the cautious side.
    """
    rule = in_force(terms.book, name)
    if rule is None or (rule.cells and where is None):
        return None
    rule = with_confirmations(rule, terms.confirmed)
    if where is None or not rule.cells:
        return _laid(terms, rule, "", own)
    return _laid(terms, rule.at(where), rule.row_at(where).label(rule.by_unit), own)


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """One limit that is in force for a project: of a rule, or of one row of it."""

    row: str
    """Label of the row; empty for a rule with one limit."""
    rows_count: int
    """How many rows the rule has."""
    applied: Applied


def all_held(terms: Terms, own: Mapping[str, Value]) -> tuple[InForce, ...]:
    """Every limit of the book and of common practice as it holds for the project, row by row.

    `own`: rule -> the project's figure from another place than `terms.own`, laid over each row of a table.
    InvalidInput where no value meets both rule and project.
    """
    found = []
    for name, rule in in_force_rules(terms.book).items():
        seen = with_confirmations(rule, terms.confirmed)
        pairs = [(cell.label(rule.by_unit), seen.of_row(cell, rule.title)) for cell in seen.cells] or [("", seen)]
        found += [
            InForce(row=row, rows_count=len(seen.cells), applied=_laid(terms, one, row, own.get(name)))
            for row, one in pairs
        ]
    return tuple(found)


def with_terms(rule: Rule, terms: Terms) -> Rule:
    """The rule as this project's people left it: what they confirmed, and row by row the limit that holds.

    For methods that work a limit out of several rules. A rule of another book than the project's stays as it is.
    InvalidInput where no value meets both rule and project.
    """
    if rule.book not in (terms.book, PRACTICE):
        return rule
    seen = with_confirmations(rule, terms.confirmed)
    if not seen.cells:
        applied = _laid(terms, seen, "", None)
        return replace(seen, low=applied.low, high=applied.high, **_known(applied))
    cells = []
    for cell in seen.cells:
        row = cell.label(seen.by_unit)
        applied = _laid(terms, seen.of_row(cell, seen.title), row, None)
        cells.append(replace(cell, low=applied.low, high=applied.high, **_known(applied)))
    return replace(seen, cells=tuple(cells))


def _known(applied: Applied) -> dict[str, Any]:
    """How the limit that holds is known: a figure of the project's own is its input, whatever the rule rests on."""
    if applied.governs == "project":
        return {"provenance": Provenance.INPUT, "readings": 0}
    return {"provenance": applied.rule.provenance, "readings": applied.rule.readings}


def _laid(terms: Terms, one: Rule, row: str, own: Value | None) -> Applied:
    """One limit with the project's figures and approvals; `row` is its label in the table that it comes from."""
    meant = [each for each in terms.own if _meant(each.rule, each.row, one.name, row)]
    project = _strictest(sides(one, figure) for figure in (own, *((each.least, each.most) for each in meant)))
    low, high = sides(one, project)
    said = [
        each.clause
        for each in meant
        if (each.least is not None and each.least == low) or (each.most is not None and each.most == high)
    ]
    stated_in = "; ".join(dict.fromkeys(clause for clause in said if clause))
    return stricter_of(one, project, _approver(terms, row, one, project), stated_in)


def approver_of_deviations(terms: Terms, asked: Iterable[tuple[str, str, float]]) -> str:
    """Who stands for deviations that are larger than the rules', each given as (rule, row, deviation).

    For limits worked out from several rules. Each deviation needs its approval, as far as that reaches, or the general
    name where nobody approved that rule by itself; empty where one of them has neither.
    """
    names = []
    for rule_name, row, deviation in asked:
        approvals = [each for each in terms.looser if _meant(each.rule, each.row, rule_name, row)]
        reaching = [each for each in approvals if _at_most(deviation, each.most)]
        name = f"{reaching[0].by} on {reaching[0].on.isoformat()}" if reaching else ""
        names.append(name or ("" if approvals else terms.looser_approved_by.strip()))
    return "" if "" in names else "; ".join(dict.fromkeys(names))


def with_confirmations(rule: Rule, confirmed: Iterable[Confirmation]) -> Rule:
    """The rule with what the project's people looked up: provenance, figure, edition and clause.

    Only what stands in a standard is touched. The nearest word counts, whatever the order: a figure before a tick, a
    row before its rule, a rule before a whole standard. A figure replaces what is from memory and nothing else: over a
    figure that was read, the project's own is laid (`OwnLimit`), and a looser one needs an approval.
    """
    for seen in sorted(confirmed, key=lambda seen: (not has_figure(seen), not seen.row, not seen.rule)):
        if confirms(seen, rule):
            rule = _seen(rule, seen)
    return rule


def confirms(seen: Confirmation, rule: Rule) -> bool:
    """True when the confirmation speaks of this rule, in this edition or with a figure of its own."""
    if seen.rule and seen.rule != rule.name:
        return False
    if seen.standard and seen.standard.casefold() != rule.source.casefold():
        return False
    if not seen.rule and (not seen.standard or (seen.clause and rule.clause and seen.clause != rule.clause)):
        return False
    return has_figure(seen) or same_edition(seen.edition, rule.edition)


def has_figure(seen: Confirmation) -> bool:
    """True when the person entered what the standard says."""
    return seen.least is not None or seen.most is not None


def same_edition(looked_into: str, of_rule: str) -> bool:
    """True when the editions are the same, however their marks are written, or the rule's is not noted."""
    return not of_rule or _plain(looked_into) == _plain(of_rule)


def qualified(verdict: str, limits: Iterable[Applied]) -> str:
    """The verdict as it may be shown: one that rests on a remembered limit never stands alone."""
    if any(each.rests_on_memory for each in limits):
        return f"{CHECK_FIRST}: {verdict}"
    return verdict


def _plain(edition: str) -> str:
    return edition.casefold().strip().removeprefix("of ").lstrip("-: ")


def _meant(rule: str, row: str, name: str, at: str) -> bool:
    return rule == name and row in ("", at)


def _seen(rule: Rule, seen: Confirmation) -> Rule:
    if not rule.cells:
        if not _touched(rule.provenance, seen):
            return rule
        low, high = _figure(seen, rule.low, rule.high)
        return replace(rule, low=low, high=high, provenance=Provenance.CONFIRMED, readings=0, confirmed=seen)
    if has_figure(seen) and not seen.row:
        raise InvalidInput(rule.name, f"{rule.name} is a table; a figure is entered for one row of it")
    cells = tuple(_seen_cell(cell, seen, rule.by_unit) for cell in rule.cells)
    remembered = any(cell.provenance is Provenance.MEMORY for cell in cells)
    settled = rule.provenance is Provenance.MEMORY and not remembered
    return replace(rule, cells=cells, provenance=Provenance.CONFIRMED if settled else rule.provenance)


def _seen_cell(cell: Cell, seen: Confirmation, by_unit: str) -> Cell:
    if seen.row not in ("", cell.label(by_unit)) or not _touched(cell.provenance, seen):
        return cell
    low, high = _figure(seen, cell.low, cell.high)
    return replace(cell, low=low, high=high, provenance=Provenance.CONFIRMED, readings=0, confirmed=seen)


def _touched(known: Provenance, seen: Confirmation) -> bool:
    return known is Provenance.MEMORY or (known is Provenance.PUBLISHED and not has_figure(seen))


def _figure(seen: Confirmation, low: float | None, high: float | None) -> tuple[float | None, float | None]:
    return (low if seen.least is None else seen.least, high if seen.most is None else seen.most)


def _strictest(pairs: Iterable[tuple[float | None, float | None]]) -> Value | None:
    """The strictest of the project's own figures, side by side; None where it has none."""
    pairs = tuple(pairs)
    low = max((low for low, _ in pairs if low is not None), default=None)
    high = min((high for _, high in pairs if high is not None), default=None)
    return None if low is None and high is None else (low, high)


def _approver(terms: Terms, row: str, rule: Rule, project: Value | None) -> str:
    """Who stands behind a looser figure: who approved this limit, as far as that reaches, else the general name."""
    low, high = sides(rule, project)
    approvals = [each for each in terms.looser if _meant(each.rule, each.row, rule.name, row)]
    for each in approvals:
        reaches_low = low is None or rule.low is None or low >= rule.low or _at_least(low, each.least)
        reaches_high = high is None or rule.high is None or high <= rule.high or _at_most(high, each.most)
        if reaches_low and reaches_high:
            return f"{each.by} on {each.on.isoformat()}"
    return "" if approvals else terms.looser_approved_by


def _at_least(value: float, bound: float | None) -> bool:
    return bound is not None and value >= bound


def _at_most(value: float, bound: float | None) -> bool:
    return bound is not None and value <= bound
