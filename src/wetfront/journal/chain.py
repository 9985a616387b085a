"""The chain of hashes: each record carries the hash of the one before, so that no past can be rewritten unseen."""

import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from wetfront.journal.event import Event, body_of, canonical

FIRST = "0" * 64
"""Stands for the predecessor of the first record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """An event as it was received: its place in the pour's journal, when, and the seal on it and all before it."""

    number: int
    """From 1 on, without gaps."""
    received: dt.datetime
    """The server's clock, with offset."""
    event: Event
    previous: str
    seal: str


@dataclass(frozen=True, slots=True)
class Break:
    """Where a chain does not hold, and how it shows."""

    number: int
    what: str


def sealed(event: Event, received: dt.datetime, number: int, previous: str) -> Record:
    """The record of an event behind its predecessor."""
    return Record(
        number=number, received=received, event=event, previous=previous, seal=_seal(event, received, number, previous)
    )


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
        if record.seal != _seal(record.event, record.received, number, previous):
            return Break(number, f"record {number} has been changed after it was sealed")
        if wanted.pop(number, record.seal) != record.seal:
            return Break(number, f"record {number} has another seal than the one kept elsewhere")
        previous = record.seal
    if wanted:
        return Break(number + 1, f"the journal ends at record {number}; a seal kept elsewhere is of {min(wanted)}")
    return None


def _seal(event: Event, received: dt.datetime, number: int, previous: str) -> str:
    text = canonical({"body": body_of(event), "number": number, "previous": previous, "received": received.isoformat()})
    return hashlib.sha256(text.encode()).hexdigest()
