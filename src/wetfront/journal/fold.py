"""From events to the state of a pour. A pure function of the set of events: order and repeats change nothing."""

import datetime as dt
from collections.abc import Iterable
from typing import Any, TypeVar

from wetfront.journal.event import Event
from wetfront.journal.kinds import (
    AddedOnSite,
    CalledOff,
    CheckRecorded,
    Curing,
    FormStruck,
    HoldOverridden,
    HoldReleased,
    LoadArrived,
    LoadDecided,
    LoadLeft,
    LoadPlaced,
    LoadTested,
    Noted,
    PhotoTaken,
    PlacingEnded,
    PlacingRestarted,
    PlacingStopped,
    RemainingMeasured,
    SawCut,
    SpecimensMade,
    SurfaceWorked,
    TemperatureRead,
    WeatherObserved,
    fact_of,
)
from wetfront.journal.lineage import standing
from wetfront.journal.state import Entry, Hold, LoadState, Oddity, PourState, Stop

T = TypeVar("T")
OF_A_LOAD = (LoadArrived, LoadTested, AddedOnSite, LoadDecided, LoadPlaced, LoadLeft, SpecimensMade)


def fold(pour: str, events: Iterable[Event]) -> PourState:
    """The state of one pour. Events of other pours are left out."""
    mine = standing(event for event in events if event.pour == pour)
    entries, oddities = _entries(mine.events)
    loads, of_loads = _loads(entries)
    stops, of_stops = _stops(entries)
    ended = _last(entries, PlacingEnded)
    oddities += of_loads + of_stops
    if ended is not None:
        oddities += [
            Oddity(f"load {entry.fact.ticket_number} arrived after placing had ended", entry.event)
            for entry in _all(entries, LoadArrived)
            if entry.at > ended.at
        ]
    return PourState(
        pour=pour,
        checks=_grouped(_all(entries, CheckRecorded)),
        holds=_holds(entries),
        loads=loads,
        stops=stops,
        ended=ended,
        call_offs=_all(entries, CalledOff),
        remaining=_all(entries, RemainingMeasured),
        weather=_all(entries, WeatherObserved),
        surface=_all(entries, SurfaceWorked),
        saw_cuts=_all(entries, SawCut),
        curing=_all(entries, Curing),
        temperatures=_all(entries, TemperatureRead),
        struck=_all(entries, FormStruck),
        notes=_all(entries, Noted),
        photos=_all(entries, PhotoTaken),
        corrected=mine.corrected,
        clashes=mine.clashes,
        oddities=tuple(sorted(oddities, key=lambda each: (each.event.at.timestamp(), each.event.id, each.what))),
        last_recorded=max((entry.event.recorded for entry in entries), default=None),
    )


def _entries(events: Iterable[Event]) -> tuple[list[Entry[Any]], list[Oddity]]:
    found, oddities = [], []
    for event in events:
        fact = fact_of(event.kind, event.schema, event.payload)
        if fact is None:
            oddities.append(Oddity(f"kind {event.kind} {event.schema} is of a newer program", event))
        else:
            found.append(Entry(fact, event))
    return found, oddities


def _all(entries: Iterable[Entry[Any]], kind: type[T]) -> tuple[Entry[T], ...]:
    return tuple(entry for entry in entries if type(entry.fact) is kind)


def _last(entries: Iterable[Entry[Any]], kind: type[T]) -> Entry[T] | None:
    found = _all(entries, kind)
    return found[-1] if found else None


def _grouped(checks: Iterable[Entry[CheckRecorded]]) -> dict[str, tuple[Entry[CheckRecorded], ...]]:
    found: dict[str, tuple[Entry[CheckRecorded], ...]] = {}
    for entry in checks:
        found[entry.fact.item] = (*found.get(entry.fact.item, ()), entry)
    return dict(sorted(found.items()))


def _holds(entries: Iterable[Entry[Any]]) -> dict[str, Hold]:
    found: dict[str, Hold] = {}
    for released in _all(entries, HoldReleased):
        found[released.fact.hold_point] = Hold(released, None)
    for overridden in _all(entries, HoldOverridden):
        known = found.get(overridden.fact.hold_point, Hold(None, None))
        found[overridden.fact.hold_point] = Hold(known.released, overridden)
    return dict(sorted(found.items()))


def _loads(entries: Iterable[Entry[Any]]) -> tuple[tuple[LoadState, ...], list[Oddity]]:
    by_ticket: dict[str, list[Entry[Any]]] = {}
    for entry in entries:
        if isinstance(entry.fact, OF_A_LOAD):
            by_ticket.setdefault(entry.fact.ticket_number, []).append(entry)
    loads, oddities = [], []
    for ticket, mine in by_ticket.items():
        arrivals = _all(mine, LoadArrived)
        load = LoadState(
            ticket_number=ticket,
            arrived=arrivals[0] if arrivals else None,
            tests=_all(mine, LoadTested),
            additions=_all(mine, AddedOnSite),
            decisions=_all(mine, LoadDecided),
            placings=_all(mine, LoadPlaced),
            left=_last(mine, LoadLeft),
            specimens=_all(mine, SpecimensMade),
        )
        loads.append(load)
        oddities += [Oddity(f"load {ticket} arrived a second time", entry.event) for entry in arrivals[1:]]
        oddities += _odd(load, mine[0].event)
    loads.sort(key=_arrival)
    return tuple(loads), oddities


def _odd(load: LoadState, first: Event) -> list[Oddity]:
    found = []
    if load.arrived is None:
        found.append(Oddity(f"nobody recorded the arrival of load {load.ticket_number}", first))
    if load.contested:
        found.append(Oddity(f"people decided differently on load {load.ticket_number}", load.decisions[-1].event))
    if load.placings and load.decision == "refuse":
        found.append(Oddity(f"load {load.ticket_number} was refused and placed", load.placings[0].event))
    return found


def _arrival(load: LoadState) -> tuple[float, str]:
    return (load.arrived.at.timestamp() if load.arrived else float("inf"), load.ticket_number)


def _stops(entries: Iterable[Entry[Any]]) -> tuple[tuple[Stop, ...], list[Oddity]]:
    found: list[Stop] = []
    oddities: list[Oddity] = []
    for entry in entries:
        fact, at = entry.fact, entry.at
        open_stop = found[-1] if found and found[-1].until is None else None
        if isinstance(fact, PlacingStopped):
            if open_stop is None:
                found.append(Stop(at, None, fact.cause, fact.note))
            else:
                oddities.append(Oddity("stopped again while it stood still", entry.event))
        elif isinstance(fact, PlacingRestarted):
            if open_stop is None:
                oddities.append(Oddity("restarted, but nobody recorded the stop", entry.event))
            else:
                found[-1] = _closed(open_stop, at)
        elif isinstance(fact, PlacingEnded) and open_stop is not None:
            found[-1] = _closed(open_stop, at)
    return tuple(found), oddities


def _closed(stop: Stop, at: dt.datetime) -> Stop:
    return Stop(stop.since, at, stop.cause, stop.note)
