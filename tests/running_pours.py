"""A simulated pour as a journal of so many events, as gate, tester and hose would write it."""

import datetime as dt
from collections.abc import Callable

import numpy as np

from wetfront.journal import Event, kind_of, payload_of
from wetfront.journal.kinds import LoadArrived, LoadDecided, LoadLeft, LoadPlaced, LoadTested, TemperatureRead
from wetfront.placing.model import Trace
from wetfront.planning.day import Day


def journal_of(pour: Trace, day: Day, count: int, place_of: Callable[[int], str] = lambda _: "slab") -> list[Event]:
    """Everything about the loads, filled up with sensor readings to this number of events. `place_of`: of a load."""
    loads, facts = pour.loads, []
    for number in np.argsort(loads.arrival_min, kind="stable").tolist():
        ticket = f"L{number:03d}"
        moment = {
            name: day.moment(float(getattr(loads, name)[number]))
            for name in ("batching_min", "batched_min", "arrival_min", "start_min", "end_min", "left_min")
        }
        arrived, refused = moment["arrival_min"], bool(loads.refused[number])
        facts += [
            (
                arrived,
                LoadArrived(
                    ticket_number=ticket,
                    volume_m3=float(loads.volume_m3[number]),
                    batched=moment["batching_min"],
                    left_plant=moment["batched_min"],
                ),
            ),
            (arrived, LoadTested(ticket_number=ticket, test="slump", value=120.0)),
            (
                arrived,
                LoadTested(ticket_number=ticket, test="temperature", value=float(loads.temperature_c[number])),
            ),
            (moment["start_min"], LoadDecided(ticket_number=ticket, decision="refuse" if refused else "accept")),
            (moment["left_min"], LoadLeft(ticket_number=ticket)),
        ]
        if not refused:
            placed = LoadPlaced(
                ticket_number=ticket,
                place=place_of(number),
                placed_from=moment["start_min"],
                placed_until=moment["end_min"],
                volume_m3=float(loads.used_m3[number]),
            )
            facts.append((moment["end_min"], placed))
    first = min(when for when, _ in facts)
    facts += [
        (first + dt.timedelta(minutes=number), TemperatureRead(sensor="s1", value_c=22.0))
        for number in range(max(0, count - len(facts)))
    ]
    return [slab_event(number, when, fact) for number, (when, fact) in enumerate(facts)]


def slab_event(number: int, when: dt.datetime, fact: object) -> Event:
    """A fact of the invented slab as its gate would write it down."""
    kind, schema = kind_of(fact)
    return Event(
        id=f"e{number:05d}",
        pour="slab",
        kind=kind,
        schema=schema,
        at=when,
        recorded=when,
        device="gate",
        role="site-engineer",
        payload=payload_of(fact),
    )
