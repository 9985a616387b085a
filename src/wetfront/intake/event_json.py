"""Events as devices send them: each checked by itself, so that one bad entry never holds up the others."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from wetfront.errors import Problem
from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, Mistakes, path_text, shown
from wetfront.journal.chain import LEAST_SKEW_S
from wetfront.journal.event import Event
from wetfront.journal.kinds import KINDS, HoldOverridden, LoadArrived, LoadPlaced, Withdrawn, payload_of

MOST_AT_ONCE = 10_000
FUTURE_ALLOWED_S = 300
"""Clocks and networks are not exact; what is later than this after correction is a mistake."""


@dataclass(frozen=True, slots=True)
class Refused:
    """An entry that was not taken, and why. It stays on the device, where a person can put it right."""

    place: int
    """In the list that was sent, from 0."""
    event_id: str
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Sorted:
    """What was sent, sorted."""

    taken: tuple[Event, ...]
    refused: tuple[Refused, ...]
    skew_s: int
    """How far the device's clock is ahead."""


def sorted_events(pour: str, entries: list[Any], device_now: dt.datetime | None, now: dt.datetime) -> Sorted:
    """Check what a device sent for one pour. `device_now` is its clock when it sent; None: taken as right."""
    skew_s = 0 if device_now is None else round((device_now - now).total_seconds())
    taken: list[Event] = []
    refused: list[Refused] = []
    for place, entry in enumerate(entries):
        mistakes = Mistakes()
        event = _checked(pour, entry, skew_s, now, mistakes)
        if event is BAD or mistakes.noted:
            name = entry.get("id") if isinstance(entry, Mapping) else ""
            problems = tuple(
                Problem("", path_text(each.path), each.found, each.allowed, nearest=each.nearest)
                for each in mistakes.noted
            )
            refused.append(Refused(place, name if isinstance(name, str) else "", problems))
        else:
            taken.append(event)
    return Sorted(tuple(taken), tuple(refused), skew_s)


def _checked(pour: str, entry: Any, skew_s: int, now: dt.datetime, mistakes: Mistakes) -> Any:
    event = table_of(Event).check(entry, (), mistakes)
    if event is BAD:
        return BAD
    if event.pour != pour:
        mistakes.add(("pour",), shown(event.pour), f"{pour}, the pour that it is sent to")
    noun = KINDS.get((event.kind, event.schema))
    if noun is None:
        known = ", ".join(sorted({kind for kind, _ in KINDS}))
        return mistakes.add(("kind",), f"{event.kind} of schema {event.schema}", f"one of {known}, of schema 1")
    fact = table_of(noun).check(event.payload, ("payload",), mistakes)
    if fact is BAD:
        return BAD
    by = dt.timedelta(seconds=skew_s if abs(skew_s) >= LEAST_SKEW_S else 0)
    happened = event.at - by if event.at == event.recorded else event.at
    _check_time(event, happened, skew_s, now, mistakes)
    _check_sense(event, fact, happened, mistakes)
    return replace(event, payload=payload_of(fact))


def _check_time(event: Event, happened: dt.datetime, skew_s: int, now: dt.datetime, mistakes: Mistakes) -> None:
    latest = now + dt.timedelta(seconds=FUTURE_ALLOWED_S)
    by = dt.timedelta(seconds=skew_s)
    fast = f"; the clock of this device is {abs(skew_s) / 60:.0f} min {'fast' if skew_s > 0 else 'slow'}"
    allowed = f"not in the future: it is {now.astimezone(event.at.tzinfo).isoformat(timespec='minutes')}"
    if happened > latest:
        mistakes.add(("at",), shown(event.at), allowed + (fast if abs(skew_s) >= 60 else ""))
    elif event.recorded - by > latest:
        mistakes.add(("recorded",), shown(event.recorded), allowed + (fast if abs(skew_s) >= 60 else ""))


def _check_sense(event: Event, fact: Any, happened: dt.datetime, mistakes: Mistakes) -> None:
    """What one part of an entry says of another. `happened`: by the server's clock."""
    match fact:
        case Withdrawn():
            if not event.corrects:
                mistakes.add(("corrects",), "nothing", "the id of the entry that is withdrawn")
        case HoldOverridden():
            if not event.person.strip():
                mistakes.add(("person",), "nothing", "the name of the person who answers for going on")
        case LoadArrived():
            for key in ("batched", "left_plant"):
                moment = getattr(fact, key)
                if moment is not None and moment > happened:
                    allowed = f"not after its arrival at {happened.isoformat(timespec='minutes')}"
                    mistakes.add(("payload", key), shown(moment), allowed)
            if fact.batched and fact.left_plant and fact.left_plant < fact.batched:
                allowed = f"not before its batching at {fact.batched.isoformat(timespec='minutes')}"
                mistakes.add(("payload", "left_plant"), shown(fact.left_plant), allowed)
        case LoadPlaced():
            if fact.placed_from and fact.placed_until and fact.placed_until < fact.placed_from:
                mistakes.add(("payload", "placed_until"), shown(fact.placed_until), "not before placed_from")
    if event.corrects == event.id:
        mistakes.add(("corrects",), shown(event.corrects), "the id of another entry")
