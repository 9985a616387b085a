"""What the acceptance function says of a load, limit by limit, and what a person decided beside it."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from wetfront.nouns.reason import Source


class Outcome(StrEnum):
    """From the mildest to the hardest."""

    ACCEPT = "accept"
    CHECK_TEST = "check-test"
    """Not yet: a second test, or a fact that is missing, decides. Until then the load is held and not accepted."""
    REFUSE = "refuse"

    @property
    def rank(self) -> int:
        """0 accept, 1 check test, 2 refuse."""
        return _RANKS[self]


_RANKS = {outcome: rank for rank, outcome in enumerate(Outcome)}


class Whose(StrEnum):
    """Who set a limit."""

    RULE_BOOK = "rule book"
    PROJECT = "project"
    RULE_BOOK_AND_PROJECT = "rule book and project"
    TICKET = "ticket"
    ORDER = "order"


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitInForce:
    """One limit that a load is compared with, and whose it is."""

    title: str
    low: float | None = None
    high: float | None = None
    unit: str
    whose: Whose
    source: Source
    """Standard with edition and clause, or the sheet, ticket or order; and how surely it is known."""
    rests_on_memory: bool = False
    """The figure is a remembered one of the rule book, which nobody has looked up for this project."""
    text: str
    """What holds and why, as a sentence."""
    counts_from: str = ""
    counts_to: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that was judged."""

    about: str
    """A short fixed word: ticket, strength class, exposure, age, slump, air, temperature, water …"""
    outcome: Outcome
    text: str
    """What was found and what it was compared with, as a sentence."""
    value: float | None = None
    limit: LimitInForce | None = None
    holds: bool = False
    """The load waits for a fact that is missing or for a named person, not for a second test."""
    next_step: str = ""
    """What settles it; empty where nothing is left to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterLeft:
    """Water that may still be added to this load now."""

    litres: float
    """0 where none may be added."""
    why: str
    expected_slump_mm: float | None = None
    remixing_turns_count: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The function's word on a load. Its outcome is the hardest of its findings."""

    findings: tuple[Finding, ...]
    """All that was judged, passed or not, in the order of judging."""
    not_judged: tuple[str, ...] = ()
    """What was not compared with anything, and why: no test, no limit, nothing on the ticket."""
    water: WaterLeft

    @property
    def outcome(self) -> Outcome:
        """The hardest outcome among the findings."""
        return max((each.outcome for each in self.findings), key=lambda one: one.rank, default=Outcome.ACCEPT)

    @property
    def deciding(self) -> tuple[Finding, ...]:
        """The findings that give the outcome."""
        outcome = self.outcome
        return tuple(each for each in self.findings if each.outcome is outcome)

    @property
    def held(self) -> bool:
        """True where the load waits for a fact or for a named person."""
        return self.outcome is Outcome.CHECK_TEST and any(each.holds for each in self.deciding)

    @property
    def rests_on_memory(self) -> bool:
        """True where a remembered limit bears on the outcome: then it never stands as a plain accept or refuse.

        An acceptance needs every limit; a refusal is plain as soon as one refusing limit is known.
        """
        remembered = [each.limit is not None and each.limit.rests_on_memory for each in self.deciding]
        return any(remembered) if self.outcome is Outcome.ACCEPT else bool(remembered) and all(remembered)

    @property
    def plain(self) -> bool:
        """True where the outcome may be shown and acted on as it stands."""
        return not self.rests_on_memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What a person decided about a load."""

    outcome: Outcome
    by: str
    """Name or role; never empty: a decision has a person behind it."""
    at: dt.datetime | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """The function's verdict and, beside it, the decision of a person. Neither replaces the other in the record."""

    verdict: Verdict
    decision: Decision | None = None

    @property
    def differs(self) -> bool:
        """True where the person decided otherwise than the function says."""
        return self.decision is not None and self.decision.outcome is not self.verdict.outcome

    @property
    def stands(self) -> Outcome:
        """What holds for the load: the person's decision; without one a plain verdict; else it is held."""
        if self.decision is not None:
            return self.decision.outcome
        return self.verdict.outcome if self.verdict.plain else Outcome.CHECK_TEST

    @property
    def accepted(self) -> bool:
        """True only for a load that a person or a plain verdict accepts; never for one that is held."""
        return self.stands is Outcome.ACCEPT

    @property
    def refused(self) -> bool:
        """True only for a load that a person or a plain verdict refuses."""
        return self.stands is Outcome.REFUSE
