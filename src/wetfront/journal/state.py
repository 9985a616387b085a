"""The state of a pour: what its events say together. Frozen; nothing in it is computed by a formula."""

import datetime as dt
from dataclasses import dataclass
from typing import Generic, TypeVar

from wetfront.journal.event import Event
from wetfront.journal.kinds import (
    AddedOnSite,
    CalledOff,
    CheckRecorded,
    Curing,
    Decision,
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
    RemainingMeasured,
    SawCut,
    SpecimensMade,
    StopReason,
    SurfaceWorked,
    TemperatureRead,
    WeatherObserved,
)
from wetfront.journal.lineage import Clash, Corrected

F = TypeVar("F")


@dataclass(frozen=True, slots=True)
class Entry(Generic[F]):
    """A fact with the event that tells it."""

    fact: F
    event: Event

    @property
    def at(self) -> dt.datetime:
        """When it happened."""
        return self.event.at

    @property
    def said_by(self) -> str:
        """Role, and the person where one is named."""
        return f"{self.event.role} ({self.event.person})" if self.event.person else self.event.role


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadState:
    """All that is known of one load, each list in the order in which it happened."""

    ticket_number: str
    arrived: Entry[LoadArrived] | None
    """None where something was said of a load that nobody saw arrive."""
    tests: tuple[Entry[LoadTested], ...] = ()
    additions: tuple[Entry[AddedOnSite], ...] = ()
    decisions: tuple[Entry[LoadDecided], ...] = ()
    placings: tuple[Entry[LoadPlaced], ...] = ()
    left: Entry[LoadLeft] | None = None
    specimens: tuple[Entry[SpecimensMade], ...] = ()

    @property
    def contested(self) -> bool:
        """Two roles or people decided differently, and neither has taken it back."""
        last_of = {each.said_by: each.fact.decision for each in self.decisions}
        return len({said for said in last_of.values() if said != "check-test"}) > 1

    @property
    def decision(self) -> Decision | None:
        """What was decided last; None where nobody has decided, or where people have decided differently."""
        return None if self.contested or not self.decisions else self.decisions[-1].fact.decision

    @property
    def volume_m3(self) -> float:
        """By its ticket; 0 where nobody saw it arrive."""
        return self.arrived.fact.volume_m3 if self.arrived else 0.0


@dataclass(frozen=True, slots=True)
class Stop:
    """Placing stood still. `until` is None while it does."""

    since: dt.datetime
    until: dt.datetime | None
    cause: StopReason
    note: str


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold point that has been released, or worked past by a named person."""

    released: Entry[HoldReleased] | None
    overridden: Entry[HoldOverridden] | None


@dataclass(frozen=True, slots=True)
class Oddity:
    """What a person should look at: the record is kept as it is."""

    what: str
    event: Event


@dataclass(frozen=True, slots=True, kw_only=True)
class PourState:
    """One pour as its journal tells it."""

    pour: str
    checks: dict[str, tuple[Entry[CheckRecorded], ...]]
    """By item, in order; the last one holds."""
    holds: dict[str, Hold]
    loads: tuple[LoadState, ...]
    """In order of arrival; those that nobody saw arrive last, by ticket."""
    stops: tuple[Stop, ...]
    ended: Entry[PlacingEnded] | None
    call_offs: tuple[Entry[CalledOff], ...]
    remaining: tuple[Entry[RemainingMeasured], ...]
    weather: tuple[Entry[WeatherObserved], ...]
    surface: tuple[Entry[SurfaceWorked], ...]
    saw_cuts: tuple[Entry[SawCut], ...]
    curing: tuple[Entry[Curing], ...]
    temperatures: tuple[Entry[TemperatureRead], ...]
    struck: tuple[Entry[FormStruck], ...]
    notes: tuple[Entry[Noted], ...]
    photos: tuple[Entry[PhotoTaken], ...]
    corrected: tuple[Corrected, ...]
    clashes: tuple[Clash, ...]
    oddities: tuple[Oddity, ...]
    last_recorded: dt.datetime | None
    """How fresh the record is."""

    def load(self, ticket_number: str) -> LoadState | None:
        """A load by its ticket."""
        return next((load for load in self.loads if load.ticket_number == ticket_number), None)

    @property
    def stopped(self) -> Stop | None:
        """The stop that is going on; None while concrete flows, and before and after."""
        return self.stops[-1] if self.stops and self.stops[-1].until is None else None
