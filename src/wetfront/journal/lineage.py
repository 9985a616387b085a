"""Which of the recorded events hold: repeats count once, a correction stands in the place of what it corrects.

The answer depends on the set of events alone, never on the order in which they came.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from wetfront.journal.event import Event, body_hash

WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True)
class Corrected:
    """An event that no longer holds, and what stands in its place; None where it was withdrawn."""

    old: Event
    new: Event | None
    by: Event
    """The correction or withdrawal itself."""


@dataclass(frozen=True, slots=True)
class Clash:
    """Two statements that cannot both hold. Both are kept; the first named is the one that counts."""

    what: str
    counts: Event
    other: Event


@dataclass(frozen=True, slots=True)
class Standing:
    """What holds, in the order in which it happened, with everything that was put right or stands against it."""

    events: tuple[Event, ...]
    corrected: tuple[Corrected, ...]
    clashes: tuple[Clash, ...]


def standing(events: Iterable[Event]) -> Standing:
    """Sort out repeats, corrections and withdrawals."""
    once, clashes = _once(events)
    lines: dict[str, list[Event]] = {}
    for event in once.values():
        lines.setdefault(_root(event, once), []).append(event)
    holding: list[Event] = []
    corrected: list[Corrected] = []
    for line in lines.values():
        kept, put_right, against = _settled(sorted(line, key=_when_recorded))
        holding += kept
        corrected += put_right
        clashes += against
    return Standing(
        events=tuple(sorted(holding, key=when_it_happened)),
        corrected=tuple(sorted(corrected, key=lambda each: (_when_recorded(each.by), each.old.id))),
        clashes=tuple(sorted(clashes, key=lambda each: (_when_recorded(each.other), each.counts.id, each.what))),
    )


def when_it_happened(event: Event) -> tuple[float, float, str]:
    """The order of the state: when it happened, then when it was written down, then its id."""
    return (event.at.timestamp(), event.recorded.timestamp(), event.id)


def _when_recorded(event: Event) -> tuple[float, str]:
    return (event.recorded.timestamp(), event.id)


def _once(events: Iterable[Event]) -> tuple[dict[str, Event], list[Clash]]:
    """Each id once. Another body under a known id is a clash: the earliest recorded one counts."""
    told: dict[str, list[Event]] = {}
    for event in events:
        told.setdefault(event.id, []).append(event)
    once: dict[str, Event] = {}
    clashes: list[Clash] = []
    for name, known in told.items():
        if len(known) == 1:  # nothing to compare its body with
            once[name] = known[0]
            continue
        bodies = {body_hash(event): event for event in known}
        first, *others = sorted(bodies.items(), key=lambda each: (each[1].recorded.timestamp(), each[0]))
        once[name] = first[1]
        clashes += [Clash(f"two different entries have the id {name}", first[1], other) for _, other in others]
    return once, clashes


def _root(event: Event, once: Mapping[str, Event]) -> str:
    """The id at the beginning of a line of corrections; an id that has not arrived yet may be one.

    A circle, which no honest device makes, has the smallest id of its members as its root.
    """
    seen = [event.id]
    while event.corrects:
        if event.corrects in seen:
            return min(seen[seen.index(event.corrects) :])
        seen.append(event.corrects)
        if event.corrects not in once:
            break
        event = once[event.corrects]
    return seen[-1]


def _settled(line: list[Event]) -> tuple[list[Event], list[Corrected], list[Clash]]:
    """What holds of one line of corrections, oldest first."""
    withdrawals = {event.corrects: event for event in _in_force([each for each in line if each.kind == WITHDRAWN])}
    facts = [event for event in line if event.kind != WITHDRAWN]
    usable = [event for event in facts if event.id not in withdrawals]
    replaced = {event.corrects for event in usable if event.corrects}
    tips = [event for event in usable if event.id not in replaced] or usable
    kept = tips[-1:]
    corrected = []
    for event in facts:
        if event in kept:
            continue
        by = withdrawals.get(event.id) or next((each for each in usable if each.corrects == event.id), None)
        by = by or (kept[0] if kept else event)
        corrected.append(Corrected(event, kept[0] if kept else None, by))
    clashes = [Clash("two corrections of the same entry", kept[0], other) for other in tips[:-1]]
    return kept, corrected, clashes


def _in_force(withdrawals: list[Event]) -> list[Event]:
    """Those that have not been withdrawn themselves: taking back a withdrawal lets the entry stand again."""
    by_target: dict[str, list[Event]] = {}
    for event in withdrawals:
        by_target.setdefault(event.corrects, []).append(event)

    def holds(event: Event, above: frozenset[str]) -> bool:
        against = [each for each in by_target.get(event.id, ()) if each.id not in above]
        return not any(holds(each, above | {event.id}) for each in against)

    return [event for event in withdrawals if holds(event, frozenset())]
