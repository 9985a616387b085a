"""Why a number is what it is: the step, its value, and where the method was published."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any


class Provenance(StrEnum):
    """How a value is known. The words are shown to the user as they stand."""

    PUBLISHED = "published"
    """Read during development, mostly in a restatement of the named standard."""
    RECOMPUTED = "recomputed"
    MEMORY = "from memory"
    """Nobody has read it in its source yet: check the standard before relying on it."""
    CONFIRMED = "confirmed for this project"
    """Remembered or read by us, and looked up in the standard by a person whom the project names."""
    COMMON_PRACTICE = "common practice, no source"
    OWN_RULE = "own rule, on the cautious side"
    DEFINITION = "definition"
    INPUT = "input"


@dataclass(frozen=True, slots=True)
class Source:
    """A standard or paper with edition and clause."""

    citation: str
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a derivation."""

    step: str
    value: float | str | bool | None
    unit: str
    source: Source

    def as_json(self) -> dict[str, Any]:
        """The step in the shape of the `why` contract."""
        return {
            "step": self.step,
            "value": self.value,
            "unit": self.unit,
            "source": self.source.citation,
            "provenance": str(self.source.provenance),
        }


@dataclass(frozen=True, slots=True)
class Notice:
    """A warning that a method raises: a short code for programs, the sentence for people."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What a calculation says: results by key, why, and what to beware of."""

    result: dict[str, Any]
    why: tuple[Step, ...]
    cautions: tuple[str, ...] = field(default=())

    def as_json(self) -> dict[str, Any]:
        """The answer in the shape of the contract."""
        return {"result": self.result, "why": [step.as_json() for step in self.why], "cautions": list(self.cautions)}

    @property
    def rests_on_memory(self) -> bool:
        """True when any step stands on a value that nobody has read in its source."""
        return any(step.source.provenance is Provenance.MEMORY for step in self.why)
