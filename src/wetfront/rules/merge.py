"""A project's own figure laid over a rule: the stricter holds, and a loosening needs a named approval."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source
from wetfront.rules.book import PRACTICE
from wetfront.rules.model import CHECK_FIRST, Rule, Value, limit_in_words

Governs = Literal["rule", "project", "both"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What holds after the merge, and who said so."""

    rule: Rule
    low: float | None
    high: float | None
    governs: Governs
    """`both` where each gives one side of a range, or where they agree."""
    loosened: bool
    """The project's figure is looser than the rule on some side."""
    approved_by: str
    """Who approved the loosening; empty where nobody did, and then the rule holds."""
    stated_in: str = ""
    """Where the project's specification gives its figure, if it says so."""
    text: str

    @property
    def value(self) -> Value | None:
        """The limit that holds."""
        if self.low is not None and self.high is not None:
            return (self.low, self.high)
        return self.low if self.high is None else self.high

    @property
    def changed(self) -> bool:
        """True where the project's word makes another limit of the rule, or wants to: stricter, looser, entered."""
        seen = self.rule.confirmed
        entered = seen is not None and (seen.least is not None or seen.most is not None)
        return self.loosened or entered or (self.low, self.high) != (self.rule.low, self.rule.high)

    @property
    def whose(self) -> str:
        """Whose limit holds, in few words."""
        if self.governs == "project":
            return f"project, approved by {self.approved_by}" if self.approved_by else "project"
        book = "common practice" if self.rule.book == PRACTICE else "rule book"
        return f"{book} and project" if self.governs == "both" else book

    @property
    def cited(self) -> Source:
        """The limit that holds as the source of a step: the rule where it says so, else the project."""
        if self.governs != "project":
            return self.rule.cited
        told = "looser" if self.loosened else "stricter"
        where = f" ({self.stated_in})" if self.stated_in else ""
        return Source(f"the project's specification{where}, {told} than {self.rule.citation}", Provenance.INPUT)

    @property
    def needs_approval(self) -> bool:
        """True when the project wants less than the rule and no name stands behind it."""
        return self.loosened and not self.approved_by

    @property
    def rests_on_memory(self) -> bool:
        """True when what holds is a remembered limit of the rule, not the project's own figure."""
        return self.governs != "project" and self.rule.provenance is Provenance.MEMORY


def stricter_of(rule: Rule, project_value: Value | None, approved_by: str = "", stated_in: str = "") -> Applied:
    """Lay the project's figure over a rule.

    `project_value`: one number for a rule with one limit, (lowest, highest) for a range, None where the project is
    silent. The stricter of the two holds on each side. A looser figure of the project holds only with `approved_by`,
    a name or role. `stated_in`: where the project's figure stands, for the text.

    Raises InvalidInput where the rule is a table (pick its row first), where the figure has another shape or is not
    finite, and where no value meets both.
    Source: own rule, on the cautious side.
    """
    if rule.cells:
        raise InvalidInput(rule.name, f"{rule.name} is a table; pick the row for {rule.by} first")
    low, high = sides(rule, project_value)
    approved_by = approved_by.strip()
    looser_low = low is not None and rule.low is not None and low < rule.low
    looser_high = high is not None and rule.high is not None and high > rule.high
    loosened = looser_low or looser_high
    if loosened and approved_by:
        kept_low = low if low is not None else rule.low
        kept_high = high if high is not None else rule.high
    else:
        kept_low = _tighter(rule.low, low, max)
        kept_high = _tighter(rule.high, high, min)
        approved_by = ""
    if kept_low is not None and kept_high is not None and kept_low > kept_high:
        raise InvalidInput(
            rule.name,
            f"nothing meets both: the project asks for {limit_in_words(low, high, rule.unit)}, "
            f"{rule.citation} for {limit_in_words(rule.low, rule.high, rule.unit)}",
        )
    governs = _governs(rule, (low, high), (kept_low, kept_high))
    return Applied(
        rule=rule,
        low=kept_low,
        high=kept_high,
        governs=governs,
        loosened=loosened,
        approved_by=approved_by,
        stated_in=stated_in,
        text=_text(rule, (low, high), (kept_low, kept_high), governs, loosened, approved_by, stated_in),
    )


def sides(rule: Rule, value: Value | None) -> tuple[float | None, float | None]:
    """A project's figure as (lowest, highest); InvalidInput where its shape is not that of the rule."""
    if value is None:
        return (None, None)
    if isinstance(value, tuple):
        low, high = value
        if (low is not None and rule.low is None) or (high is not None and rule.high is None):
            raise InvalidInput(rule.name, f"{rule.name} is one limit ({rule.limit}); give one number")
    elif rule.low is not None and rule.high is not None:
        raise InvalidInput(rule.name, f"{rule.name} is a range ({rule.limit}); give its lowest and its highest value")
    else:
        low, high = (None, value) if rule.low is None else (value, None)
    if any(side is not None and not math.isfinite(side) for side in (low, high)):
        raise InvalidInput(rule.name, f"{rule.name} of the project is not a finite number")
    if low is not None and high is not None and low > high:
        raise InvalidInput(rule.name, f"{rule.name} of the project runs from {low:g} down to {high:g}")
    return (low, high)


def _tighter(ours: float | None, theirs: float | None, pick: Callable[[float, float], float]) -> float | None:
    if ours is None or theirs is None:
        return theirs if ours is None else ours
    return pick(ours, theirs)


def _governs(
    rule: Rule, project: tuple[float | None, float | None], kept: tuple[float | None, float | None]
) -> Governs:
    if kept == (rule.low, rule.high):
        return "both" if kept == project else "rule"
    return "project" if all(side is None or side == own for side, own in zip(kept, project, strict=True)) else "both"


def _text(
    rule: Rule,
    project: tuple[float | None, float | None],
    kept: tuple[float | None, float | None],
    governs: Governs,
    loosened: bool,
    approved_by: str,
    stated_in: str,
) -> str:
    holds = limit_in_words(*kept, rule.unit)
    ours = limit_in_words(rule.low, rule.high, rule.unit)
    check = f" ({CHECK_FIRST})" if rule.provenance is Provenance.MEMORY else ""
    counted = f", counted from {rule.counts_from} to {rule.counts_to}" if rule.counts_from else ""
    by_rule = f"{rule.citation}{check}{counted}"
    if project == (None, None):
        return f"{holds} by {by_rule}; the project gives no figure of its own"
    theirs = limit_in_words(*project, rule.unit)
    project_says = f"the project ({stated_in})" if stated_in else "the project"
    if loosened and approved_by:
        return f"{holds} by {project_says}, looser than {ours} of {by_rule}; approved by {approved_by}"
    if loosened:
        return f"{holds}; {theirs} of {project_says} is looser than {ours} of {by_rule} and needs a named approval"
    if governs == "project":
        return f"{holds} by {project_says}, stricter than {ours} of {by_rule}"
    if project == (rule.low, rule.high):
        return f"{holds} by {project_says} and by {by_rule}"
    return f"{holds}: {project_says} asks for {theirs}, {by_rule} for {ours}"
