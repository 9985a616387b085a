"""What a rule is: a limit of a standard, with where it stands and how surely it is known."""

import math
from dataclasses import dataclass, replace

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.limits import Confirmation
from wetfront.nouns.reason import Provenance, Source

Value = float | tuple[float | None, float | None]
"""One limit, or a lowest and a highest value (None: no limit on that side)."""

CHECK_FIRST = "by remembered limit, check the standard"


def unit_in_words(unit: str) -> str:
    """The unit as it is printed behind a number; nothing for counts and ratios."""
    return "" if unit in ("1", "count", "ratio") else unit


def limit_in_words(low: float | None, high: float | None, unit: str) -> str:
    """The limit as a person says it: "at most 90 min", "30 to 110 mm", "at least 5 °C"."""
    end = f" {unit_in_words(unit)}".rstrip()
    shown = ".2f" if unit == "ratio" else "g"
    if low is not None and high is not None:
        return f"{low:{shown}} to {high:{shown}}{end}"
    if high is not None:
        return f"at most {high:{shown}}{end}"
    return f"at least {low:{shown}}{end}"


def confirmed_in_words(seen: Confirmation) -> str:
    """Who looked, when, and whether a figure was entered."""
    entered = seen.least is not None or seen.most is not None
    return f"{'entered' if entered else 'seen'} by {seen.by} on {seen.on.isoformat()}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One row of a rule that is a table: for a class (`word`), or for a number `under` or up `to` a bound."""

    word: str = ""
    under: float | None = None
    to: float | None = None
    low: float | None = None
    high: float | None = None
    provenance: Provenance
    readings: int
    confirmed: Confirmation | None = None
    """Who looked it up for the project in hand."""

    def label(self, by_unit: str) -> str:
        """For whom the row holds."""
        end = "" if by_unit in ("", "1") else f" {by_unit}"
        if self.word:
            return self.word
        if self.under is not None:
            return f"under {self.under:g}{end}"
        return "above that" if self.to is None else f"up to {self.to:g}{end}"

    def covers(self, number: float) -> bool:
        """True when a stepped row takes this number in; rows are asked in their order."""
        return (self.under is None or number < self.under) and (self.to is None or number <= self.to)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule of one book. Either `low` and/or `high` stand, or `cells` do."""

    book: str
    name: str
    title: str
    unit: str
    low: float | None = None
    high: float | None = None
    by: str = ""
    """What the rows of a table go by, e.g. "consistence class" or "least dimension of the section"."""
    by_unit: str = ""
    by_least: float | None = None
    """Lowest number that a stepped table covers."""
    cells: tuple[Cell, ...] = ()
    counts_from: str = ""
    counts_to: str = ""
    source: str
    edition: str
    clause: str
    """Empty where nobody noted it."""
    provenance: Provenance
    readings: int
    """How many independent public statements of the value were read; 0 for what is remembered or chosen."""
    note: str = ""
    confirmed: Confirmation | None = None
    """Who looked it up for the project in hand; for a table each row tells its own."""

    @property
    def value(self) -> Value | None:
        """The one limit, both limits of a range, or None for a table (pick a row with `at`)."""
        if self.low is not None and self.high is not None:
            return (self.low, self.high)
        return self.low if self.high is None else self.high

    @property
    def number(self) -> float:
        """The number of a rule with one limit, on whichever side; InvalidInput for a range or a table."""
        if self.low is not None and self.high is None:
            return self.low
        if self.high is not None and self.low is None:
            return self.high
        raise InvalidInput(self.name, f"{self.name} of {self.book} is not one number: {self.limit}")

    @property
    def citation(self) -> str:
        """Standard with edition and clause; who looked it up for the project, or that its specification goes before."""
        seen = self.confirmed
        edition = (seen.edition if seen else "") or self.edition
        clause = (seen.clause if seen else "") or self.clause
        joint = ":" if edition[:1].isdigit() else "" if edition[:1] in ("-", "") else " "
        standard = f"{self.source}{joint}{edition}"
        cited = f"{standard}, {clause}" if clause else standard
        if self.provenance is Provenance.INPUT:
            return f"the project's specification over {cited}"
        return f"{cited}, {confirmed_in_words(seen)}" if seen else cited

    @property
    def cited(self) -> Source:
        """The rule as the source of a step of a derivation."""
        return Source(self.citation, self.provenance)

    @property
    def rests_on_memory(self) -> bool:
        """True when the rule, or any row of it, has not been read in its source."""
        return Provenance.MEMORY in {self.provenance, *(cell.provenance for cell in self.cells)}

    @property
    def standing(self) -> str:
        """How surely the rule is known, in words."""
        remembered = [cell.label(self.by_unit) for cell in self.cells if cell.provenance is Provenance.MEMORY]
        if self.provenance is Provenance.MEMORY or (remembered and len(remembered) == len(self.cells)):
            read = [cell.label(self.by_unit) for cell in self.cells if cell.provenance is not Provenance.MEMORY]
            return "FROM MEMORY: check the standard" + (f" (read: {', '.join(read)})" if read else "")
        known = str(self.provenance)
        if self.confirmed is not None:
            known += f", {confirmed_in_words(self.confirmed)}"
        if self.provenance is Provenance.PUBLISHED:
            known += ", read once" if self.readings == 1 else f", read {self.readings} times"
        return known + (f"; FROM MEMORY, check the standard: {', '.join(remembered)}" if remembered else "")

    @property
    def limit(self) -> str:
        """The limit in words; for a table all rows."""
        if not self.cells:
            return limit_in_words(self.low, self.high, self.unit)
        return "; ".join(
            f"{cell.label(self.by_unit)}: {limit_in_words(cell.low, cell.high, self.unit)}" for cell in self.cells
        )

    def at(self, where: str | float) -> "Rule":
        """The rule for one row: a class by its name, or the step that a number falls in.

        InvalidInput names what the table goes by where there is no such row; nothing is extrapolated.
        """
        if not self.cells:
            raise InvalidInput(self.name, f"{self.name} of {self.book} is one limit, not a table")
        cell = self.row_at(where)
        told = where if isinstance(where, str) else f"{where:g} {self.by_unit}".strip()
        return self.of_row(cell, f"{self.title}, {self.by} {told}")

    def of_row(self, cell: Cell, title: str) -> "Rule":
        """The rule for one of its rows, under a title that says for which."""
        return replace(
            self,
            title=title,
            low=cell.low,
            high=cell.high,
            cells=(),
            by="",
            by_unit="",
            by_least=None,
            provenance=cell.provenance,
            readings=cell.readings,
            confirmed=cell.confirmed,
        )

    def row_at(self, where: str | float) -> Cell:
        """The row itself, as `at` picks it."""
        rows = ", ".join(cell.label(self.by_unit) for cell in self.cells)
        if isinstance(where, str) or self.by_least is None:
            for cell in self.cells:
                if cell.word and cell.word == where:
                    return cell
            raise InvalidInput(self.by, f"{self.by} {where!r} has no row in {self.citation}; rows: {rows}")
        if math.isfinite(where) and where >= self.by_least:
            for cell in self.cells:
                if cell.covers(where):
                    return cell
        raise OutOfRange(self.by, where, f"from {self.by_least:g} {self.by_unit} ({rows})", self.citation)


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleBook:
    """The rules of one practice, by name."""

    name: str
    title: str
    covers: str
    rules: dict[str, Rule]

    @property
    def from_memory(self) -> tuple[Rule, ...]:
        """The rules that nobody has read in their source yet, wholly or in a row."""
        return tuple(rule for rule in self.rules.values() if rule.rests_on_memory)
