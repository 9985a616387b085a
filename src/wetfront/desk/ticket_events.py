"""Delivery tickets as entries of the record, so that a day kept on paper or at the plant can be read in later.

An entry's id comes from pour, ticket and what it tells: the same file again adds nothing, and a ticket that was changed
meanwhile is a clash that is shown. What a ticket does not time is put at the arrival, in its order, a second apart.
"""

import datetime as dt
import hashlib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from wetfront.journal.event import Event
from wetfront.journal.kinds import (
    AddedOnSite,
    LoadArrived,
    LoadDecided,
    LoadLeft,
    LoadPlaced,
    LoadTested,
    Noted,
    SpecimensMade,
    kind_of,
    payload_of,
)
from wetfront.nouns.delivery import DeliveryRow

DEVICE, ROLE = "ticket-file", "read from tickets"
PLACE_UNKNOWN = "not told"


@dataclass(frozen=True, slots=True)
class TicketEntries:
    """The entries of the loads that are taken, and why the others are left out."""

    events: tuple[Event, ...]
    left_out: tuple[tuple[str, str], ...]
    """Ticket and reason."""


def entries_of(
    pour: str, rows: Sequence[DeliveryRow], specimens_count: int, recorded_by_people: Collection[str] = ()
) -> TicketEntries:
    """Entries of these loads. Loads in `recorded_by_people` stand in the record already and are left out."""
    events: list[Event] = []
    left_out: list[tuple[str, str]] = []
    for row in rows:
        if row.number in recorded_by_people:
            left_out.append((row.number, "people recorded this load already"))
        elif row.load.arrived is None:
            left_out.append((row.number, "no time of arrival"))
        elif "same number and another content" in row.why_held:
            left_out.append((row.number, row.why_held))
        else:
            events += _of_load(pour, row, row.load.arrived, specimens_count)
    return TicketEntries(tuple(events), tuple(left_out))


def _of_load(pour: str, row: DeliveryRow, arrived: dt.datetime, specimens_count: int) -> Iterator[Event]:
    load, number = row.load, row.number
    told = row.left_site or max(row.moments)
    step = dt.timedelta(seconds=1)

    def entry(what: str, at: dt.datetime, fact: Any, role: str = ROLE) -> Event:
        kind, schema = kind_of(fact)
        name = hashlib.sha256("\n".join((pour, number, what)).encode()).hexdigest()[:40]
        return Event(
            id=f"ticket-{name}",
            pour=pour,
            kind=kind,
            schema=schema,
            at=at,
            recorded=max(told, at),
            device=DEVICE,
            role=role,
            payload=payload_of(fact),
        )

    ticket = load.ticket
    yield entry(
        "arrived",
        arrived,
        LoadArrived(
            ticket_number=number,
            volume_m3=row.volume_m3,
            plant=ticket.plant,
            truck=ticket.truck,
            mix=ticket.mix,
            batched=ticket.batched,
            left_plant=ticket.left_plant,
        ),
    )
    at = arrived
    for what, fact, told_at in _done_on_site(row):
        at = max(at + step, told_at or at)
        yield entry(what, at, fact)
    if row.sample_id:
        at += step
        yield entry("sampled", at, SpecimensMade(sample_id=row.sample_id, ticket_number=number, count=specimens_count))
    if row.decision is not None:
        decided = "accept" if row.decided else "refuse"
        when = max(at, load.discharge_start or row.left_site or at)
        fact = LoadDecided(ticket_number=number, decision=_decision(decided), why=row.decision.why[:400])
        yield entry("decided", when, fact, row.decision.by)
    if load.discharge_start is not None:
        placed = LoadPlaced(
            ticket_number=number,
            place=row.placed_in or PLACE_UNKNOWN,
            placed_from=load.discharge_start,
            placed_until=load.discharge_end,
        )
        yield entry("placed", load.discharge_end or load.discharge_start, placed)
    if row.left_site is not None:
        yield entry("left", row.left_site, LoadLeft(ticket_number=number))
    if row.remarks and row.decision is None:
        yield entry("remarks", told, Noted(text=row.remarks, about=number))


def _decision(word: str) -> Literal["accept", "refuse"]:
    return "accept" if word == "accept" else "refuse"


def _done_on_site(row: DeliveryRow) -> Iterator[tuple[str, Any, dt.datetime | None]]:
    """Tests and additions in the order in which they were made, with their moment where it is told."""
    load, number = row.load, row.number
    tests = load.tests
    if tests.concrete_temperature_c is not None:
        warm = LoadTested(ticket_number=number, test="temperature", value=tests.concrete_temperature_c)
        yield "temperature", warm, None
    if row.slump_first_mm is not None:
        yield "slump", LoadTested(ticket_number=number, test="slump", value=row.slump_first_mm), None
    for place, each in enumerate(load.additions):
        added = AddedOnSite(
            ticket_number=number, substance=each.kind, amount_l=each.amount_l, agreed_by=each.agreed_by[:60]
        )
        yield f"added {place}", added, each.at
    if load.additions and tests.slump_mm is not None:
        yield "slump after", LoadTested(ticket_number=number, test="slump", value=tests.slump_mm), None
    if tests.slump_check_mm is not None:
        check = LoadTested(ticket_number=number, test="slump", value=tests.slump_check_mm, portion="check")
        yield "slump check", check, None
