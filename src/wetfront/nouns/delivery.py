"""Delivery tickets as a site's file holds them: the loads that were read, and what became of every row."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from wetfront.nouns.load import DeliveredLoad
from wetfront.nouns.verdict import Decision


class RowState(StrEnum):
    """What became of a row of the file. Every row has exactly one."""

    TAKEN = "taken"
    HELD = "held"
    """Needs a person's decision: its concrete counts as delivered, not as accepted."""
    REFUSED = "refused by the site"
    IN_ERROR = "in error"
    """Counted nowhere until it is put right."""
    REPEATED = "the same ticket again"
    """The same ticket with the same content stands above: counted once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryRow:
    """One load of the file, with what the gate and the placing gang wrote about it."""

    line: int
    """Of the file."""
    pour: str
    state: RowState
    """Taken, held or refused: a row in error is no load."""
    why_held: str
    load: DeliveredLoad
    decision: Decision | None
    """The site's own, with the role that signed it; None where nobody has decided or signed."""
    decided: bool | None
    """Accepted or not as the file says, signed or not; None: nobody has decided."""
    left_site: dt.datetime | None = None
    slump_first_mm: float | None = None
    """First slump of the load, before a check test or an addition."""
    sample_id: str = ""
    placed_in: str = ""
    remarks: str = ""

    @property
    def number(self) -> str:
        """Of the ticket."""
        return self.load.ticket.ticket_number

    @property
    def volume_m3(self) -> float:
        """Of the load as delivered."""
        return self.load.ticket.volume_m3

    @property
    def moments(self) -> tuple[dt.datetime, ...]:
        """All that are known, in the order in which they should happen."""
        load = self.load
        every = (
            *(load.ticket.batched, load.ticket.left_plant, load.arrived),
            *(load.discharge_start, load.discharge_end, self.left_site),
        )
        return tuple(moment for moment in every if moment is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowAccount:
    """One row of the file and what became of it."""

    line: int
    ticket_number: str
    """Empty where the row has none that can be read."""
    state: RowState
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A cell or a name of a column that was read as something else than what stands there."""

    line: int
    column: str
    found: str
    read_as: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How a file was read: an account of every row, and all that was changed, missed or not understood."""

    file: str
    sha256: str
    rows: tuple[RowAccount, ...]
    corrections: tuple[Correction, ...]
    mistakes: tuple[str, ...]
    """Each with file, line, column, what was found and what is allowed."""
    unknown_columns: tuple[str, ...]
    missing_columns: tuple[str, ...]
    """Columns that the program knows and the file does not have: what they would tell is not recorded."""

    def count(self, state: RowState) -> int:
        """Rows with this end."""
        return sum(row.state is state for row in self.rows)
