"""The chain of hashes: each record carries the hash of the one before, so that no past can be rewritten unseen."""

import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from wetfront.journal.event import Event, body_of, canonical

FIRST = "0" * 64
"""Stands for the predecessor of the first record."""
LEAST_SKEW_S = 60
"""A clock that is off by less is taken as right: the way through the network takes as long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """An event as it was received: its place in the pour's journal, when, and the seal on it and all before it."""

    number: int
    """From 1 on, without gaps."""
    received: dt.datetime
    """The server's clock, with offset."""
    skew_s: int
    """How far the device's clock was ahead of the server's when it sent this; below 0: behind."""
    event: Event
    """As the device sent it."""
    previous: str
    seal: str

    @property
    def told(self) -> Event:
        """The event by the server's clock. A moment that a person chose is left as it was chosen."""
        if abs(self.skew_s) < LEAST_SKEW_S:
            return self.event
        by = dt.timedelta(seconds=self.skew_s)
        stamped = self.event.at == self.event.recorded
        at = self.event.at - by if stamped else self.event.at
        return replace(self.event, at=at, recorded=self.event.recorded - by)


@dataclass(frozen=True, slots=True)
class Break:
    """Where a chain does not hold, and how it shows."""

    number: int
    what: str


def sealed(event: Event, received: dt.datetime, number: int, previous: str, skew_s: int = 0) -> Record:
    """The record of an event behind its predecessor."""
    seal = _seal(event, received, skew_s, number, previous)
    return Record(number=number, received=received, skew_s=skew_s, event=event, previous=previous, seal=seal)


def appended(records: Sequence[Record], events: Iterable[Event], received: dt.datetime) -> list[Record]:
    """The records with further events behind them."""
    found = list(records)
    for event in events:
        previous = found[-1].seal if found else FIRST
        found.append(sealed(event, received, len(found) + 1, previous))
    return found


def first_break(records: Iterable[Record], kept: Mapping[int, str] | None = None) -> Break | None:
    """The first place where the chain does not hold; None where it does.

    A journal whose end was cut off still holds by itself. `kept`, the seals of some numbers that stand elsewhere (on a
    printed record, on a second device), shows that too.
    """
    wanted, previous, number = dict(kept or {}), FIRST, 0
    for number, record in enumerate(records, 1):
        if record.number != number:
            return Break(number, f"record {number} is missing: the next one there is number {record.number}")
        if record.previous != previous:
            return Break(number, f"record {number} does not follow the one before it")
        if record.seal != _seal(record.event, record.received, record.skew_s, number, previous):
            return Break(number, f"record {number} has been changed after it was sealed")
        if wanted.pop(number, record.seal) != record.seal:
            return Break(number, f"record {number} has another seal than the one kept elsewhere")
        previous = record.seal
    if wanted:
        return Break(number + 1, f"the journal ends at record {number}; a seal kept elsewhere is of {min(wanted)}")
    return None


def _seal(event: Event, received: dt.datetime, skew_s: int, number: int, previous: str) -> str:
    parts = {"number": number, "previous": previous, "received": received.isoformat(), "skew_s": skew_s}
    return hashlib.sha256(canonical({**parts, "body": body_of(event)}).encode()).hexdigest()
