"""What a project settles about the rules of its book, each line with a name behind it."""

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Len

RuleName = Annotated[str, Len(1, 60)]
Person = Annotated[str, Len(1, 60)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmation:
    """Somebody looked into the standard: what the book remembers stands there, or `least` and `most` stand there."""

    rule: Annotated[str, Len(0, 60)] = ""
    """Name of the rule, as `wetfront rules` lists it; empty: every rule that the book has from `standard`."""
    row: Annotated[str, Len(0, 60)] = ""
    """One row of a rule that is a table, as `wetfront rules NAME` prints it; empty: all its rows."""
    standard: Annotated[str, Len(0, 80)] = ""
    """The standard as the rule names it; needed where no rule is named."""
    edition: Annotated[str, Len(1, 40)]
    """The edition that was looked into. Another edition than the book's confirms nothing unless a figure is entered."""
    clause: Annotated[str, Len(0, 60)] = ""
    least: float | None = None
    """What the standard says, where the book remembers another figure or the person prefers to enter it."""
    most: float | None = None
    by: Person
    """Name or role of who looked."""
    on: dt.date
    """The day of looking; not in the future."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookConfirmation(Confirmation):
    """A confirmation where the rules of several books are asked."""

    book: Literal["en", "aci", "is"]
    """The rule book that the rule stands in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLimit:
    """A figure of the project's own specification for one rule; the stricter of it and the rule holds."""

    rule: RuleName
    """Name of the rule, as `wetfront rules` lists it."""
    row: Annotated[str, Len(0, 60)] = ""
    """One row of a rule that is a table; empty: all its rows."""
    least: float | None = None
    most: float | None = None
    clause: Annotated[str, Len(0, 80)] = ""
    """Where the project's specification says so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LooserLimit:
    """A named approval of one limit that is looser than the rule book's, up to the figure given here and no further."""

    rule: RuleName
    """Name of the rule, as `wetfront rules` lists it."""
    row: Annotated[str, Len(0, 60)] = ""
    """One row of a rule that is a table; empty: all its rows."""
    least: float | None = None
    """The lowest limit that was approved."""
    most: float | None = None
    """The highest limit that was approved."""
    by: Person
    """Name or role of who approved."""
    on: dt.date
    """The day of approval; not in the future."""
