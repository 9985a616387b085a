"""A day that has been, as the entries that its people would have made: to watch the board live, and to train on it.

What the day log says in words becomes an entry where its words leave no doubt; every line is kept as a note besides.
Hold points that log and check list leave open are released by their roles before the first concrete, so that the day
can be played at all: that much is invented, and said.
"""

import datetime as dt
import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from wetfront.delivery.additions import with_log
from wetfront.delivery.stops import LogLine
from wetfront.desk.ticket_events import entries_of
from wetfront.journal.event import Event
from wetfront.journal.kinds import (
    CalledOff,
    HoldReleased,
    Noted,
    PlacingEnded,
    PlacingRestarted,
    PlacingStopped,
    RemainingMeasured,
    kind_of,
    payload_of,
)
from wetfront.nouns.delivery import DeliveryRow
from wetfront.nouns.sheet import CheckedSheet, Pour

DEVICE = "rehearsal"
RELEASE_BEFORE = dt.timedelta(minutes=30)
MEASURED_SPREAD = 0.1
"""Own rule: a remaining volume in a log is known to a tenth."""
_SIGNED = re.compile(r"\b(\w{1,20})\b.*\bsigned\b", re.IGNORECASE)
_BLOCKED = re.compile(r"\bblocked\b", re.IGNORECASE)
_CLEAR = re.compile(r"^clear\b", re.IGNORECASE)
_LAST = re.compile(r"\blast concrete\b", re.IGNORECASE)
_HOLD = re.compile(r"\bplant\b.*\bhold\b", re.IGNORECASE)
_REMAINING = re.compile(r"\bremaining (\d+(?:\.\d+)?) ?m3\b.*\bmeasured\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Played:
    """The entries of a day in the order in which they were made, and what was added to the files."""

    events: tuple[Event, ...]
    added: tuple[str, ...]


def day_to_play(checked: CheckedSheet, pour: Pour, rows: Sequence[DeliveryRow], log: Sequence[LogLine] = ()) -> Played:
    """All entries of the day. A discharge is told when it begins, and corrected when it has ended."""
    told = [replace(row, load=with_log(row, log)) for row in rows if row.pour == pour.id]
    tickets = entries_of(pour.id, told, checked.sheet.sampling.specimens_per_sample_count).events
    events = [each for event in tickets for each in _as_it_came(event)]
    events += [each for number, line in enumerate(log) for each in _of_line(checked, pour, number, line)]
    events, added = _with_releases(checked, pour, events)
    return Played(tuple(sorted(events, key=lambda event: (event.recorded, event.id))), added)


def _as_it_came(event: Event) -> Iterator[Event]:
    """A ticket's entry when it was made, not when the truck had left; a discharge in two steps."""
    at_once = replace(event, recorded=event.at, device=DEVICE)
    if event.kind != "load-placed" or "placed_until" not in event.payload:
        yield at_once
        return
    start = dt.datetime.fromisoformat(event.payload["placed_from"])
    begun = {key: value for key, value in event.payload.items() if key != "placed_until"}
    first = replace(at_once, id=f"{event.id}-a", at=start, recorded=start, payload=begun)
    yield first
    yield replace(at_once, corrects=first.id, reason="the discharge has ended")


def _of_line(checked: CheckedSheet, pour: Pour, number: int, line: LogLine) -> Iterator[Event]:
    role = (line.role or "site")[:60]
    yield _entry(pour, f"note {number}", line.at, Noted(text=line.text), role)
    fact: Any = None
    signed = _SIGNED.search(line.text)
    points = {point.id: point for point in checked.sheet.hold_point}
    if signed and signed[1] in points and points[signed[1]].released_by == line.role:
        fact = HoldReleased(hold_point=signed[1])
    elif _BLOCKED.search(line.text):
        fact = PlacingStopped(cause="blockage", note=line.text)
    elif _CLEAR.search(line.text):
        fact = PlacingRestarted(note=line.text)
    elif _LAST.search(line.text):
        fact = PlacingEnded()
    elif _HOLD.search(line.text):
        fact = CalledOff(order="hold", note=line.text)
    elif remaining := _REMAINING.search(line.text):
        volume = float(remaining[1])
        fact = RemainingMeasured(volume_m3=volume, spread_m3=MEASURED_SPREAD * volume)
    if fact is not None:
        yield _entry(pour, f"log {number}", line.at, fact, role)


def _with_releases(checked: CheckedSheet, pour: Pour, events: list[Event]) -> tuple[list[Event], tuple[str, ...]]:
    starts = [event.at for event in events if event.kind == "load-placed"]
    first = min(starts, default=min((event.at for event in events), default=None))
    if first is None:
        return events, ()
    released = {event.payload["hold_point"] for event in events if event.kind == "hold-released"}
    found, added = list(events), []
    for point in checked.sheet.hold_point:
        if point.before == "placing" and point.id not in released:
            fact = HoldReleased(hold_point=point.id)
            found.append(_entry(pour, f"release {point.id}", first - RELEASE_BEFORE, fact, point.released_by))
            added.append(f"{point.id} released by {point.released_by}")
    return found, tuple(added)


def _entry(pour: Pour, what: str, at: dt.datetime, fact: Any, role: str) -> Event:
    kind, schema = kind_of(fact)
    name = hashlib.sha256(f"{pour.id}\n{what}".encode()).hexdigest()[:40]
    return Event(
        id=f"rehearsal-{name}",
        pour=pour.id,
        kind=kind,
        schema=schema,
        at=at,
        recorded=at,
        device=DEVICE,
        role=role,
        payload=payload_of(fact),
    )
