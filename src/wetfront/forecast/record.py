"""The record of a pour as the forecast reads it: loads, stops and measurements in minutes of the pour's day."""

import datetime as dt
import math
from dataclasses import dataclass

from wetfront.journal.kinds import LoadArrived
from wetfront.journal.state import Entry, LoadState, PourState
from wetfront.planning.day import Day

NOT_SEEN = math.nan
NOT_OF_THE_PUMP = ("no concrete", "break")
"""Stops that end by themselves when concrete or people come."""
SET_FAR_ENOUGH: dict[str, tuple[str, ...]] = {
    "power-trowelled": ("floated", "trowelled"),
    "hand-floated": ("floated", "trowelled", "hand finished"),
    "tamped": (),
    "none": (),
}
"""By finish: steps that begin when the surface is ready for it. Edges are finished by hand before a machine can go."""
DISCHARGED_M3 = 0.05
"""Own rule: a load is out when no more than this is missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """One load; not a number where a moment is not recorded."""

    ticket: str
    volume_m3: float
    batching_min: float
    left_plant_min: float
    arrived_min: float
    accepted_min: float
    start_min: float
    end_min: float
    left_site_min: float
    refused_min: float
    placed_m3: float
    temperature_c: float
    cells: tuple[int, ...]
    plant: str = ""
    truck: str = ""
    """By the ticket; empty where it does not say."""

    @property
    def is_refused(self) -> bool:
        """It was sent back."""
        return not math.isnan(self.refused_min)

    @property
    def is_out(self) -> bool:
        """Its discharge has ended, or it was refused."""
        return self.is_refused or not math.isnan(self.end_min)


@dataclass(frozen=True, slots=True)
class Stood:
    """A stop of the pump or of placing; `until_min` is not a number while it goes on."""

    since_min: float
    until_min: float
    is_of_the_pump: bool

    @property
    def is_open(self) -> bool:
        """It goes on."""
        return math.isnan(self.until_min)


@dataclass(frozen=True, slots=True)
class Measured:
    """What was still to be placed at that moment, with the standard deviation of the measurement."""

    at_min: float
    remaining_m3: float
    spread_m3: float


@dataclass(frozen=True, slots=True)
class Worked:
    """A pass of floating or trowelling on a strip; `until_min` is not a number where its end is not recorded."""

    place: str
    begun_min: float
    until_min: float


@dataclass(frozen=True, slots=True)
class CallOff:
    """What the plant was told."""

    at_min: float
    order: str
    interval_min: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """All that the forecast takes from the journal, up to now."""

    now_min: float
    loads: tuple[Recorded, ...]
    """By arrival."""
    stops: tuple[Stood, ...]
    measured: tuple[Measured, ...]
    called: tuple[CallOff, ...]
    ended_min: float
    """Not a number while the pour goes on."""
    is_cut_off: bool = False
    """It has ended at a joint, before the pour was whole."""
    worked: tuple[Worked, ...] = ()
    """Surfaces that bear being worked, by begin."""


def record_of(state: PourState, day: Day, now: dt.datetime, finish: str = "power-trowelled") -> Record:
    """The record up to now: what happened later counts as not yet seen. `finish`: of the specification."""
    clock = _Clock(day, day.minutes(now))
    return Record(
        now_min=clock.now_min,
        loads=tuple(
            _recorded(load, load.arrived, clock)
            for load in state.loads
            if load.arrived is not None and clock.has_come(load.arrived.at)
        ),
        stops=tuple(
            Stood(clock.seen(stop.since), clock.seen(stop.until), stop.cause not in NOT_OF_THE_PUMP)
            for stop in state.stops
            if clock.has_come(stop.since)
        ),
        measured=tuple(
            Measured(clock.seen(entry.at), entry.fact.volume_m3, entry.fact.spread_m3)
            for entry in state.remaining
            if clock.has_come(entry.at)
        ),
        called=tuple(
            CallOff(clock.seen(entry.at), entry.fact.order, entry.fact.interval_min)
            for entry in state.call_offs
            if clock.has_come(entry.at)
        ),
        ended_min=clock.seen(None if state.ended is None else state.ended.at),
        is_cut_off=state.ended is not None and bool(state.ended.fact.at_joint),
        worked=tuple(
            Worked(entry.fact.place, clock.seen(entry.at), clock.seen(entry.fact.until))
            for entry in sorted(state.surface, key=lambda entry: entry.at)
            if clock.has_come(entry.at) and entry.fact.step in SET_FAR_ENOUGH[finish]
        ),
    )


@dataclass(frozen=True, slots=True)
class _Clock:
    day: Day
    now_min: float

    def seen(self, moment: dt.datetime | None) -> float:
        """Minutes of a moment; not a number for one that is not recorded or still to come."""
        minutes = NOT_SEEN if moment is None else self.day.minutes(moment)
        return minutes if minutes <= self.now_min else NOT_SEEN

    def has_come(self, moment: dt.datetime) -> bool:
        """Whether it is on record by now."""
        return self.day.minutes(moment) <= self.now_min


def _recorded(load: LoadState, arrived: Entry[LoadArrived], clock: _Clock) -> Recorded:
    fact = arrived.fact
    volume = fact.volume_m3
    left = clock.seen(load.left.at if load.left else None)
    returned = load.left.fact.returned_m3 if load.left is not None else 0.0
    parts = [entry.fact.volume_m3 for entry in load.placings]
    told = math.fsum(part or 0.0 for part in parts)
    is_whole = any(part is None for part in parts) or told >= volume - DISCHARGED_M3
    ends = [clock.seen(entry.fact.placed_until or entry.at) for entry in load.placings]
    is_out = bool(ends) and (is_whole or not math.isnan(left)) and not any(map(math.isnan, ends))
    refused = [entry.at for entry in load.decisions if entry.fact.decision == "refuse"]
    accepted = [entry.at for entry in load.decisions if entry.fact.decision == "accept"]
    temperatures = [entry.fact.value for entry in load.tests if entry.fact.test == "temperature"]
    return Recorded(
        ticket=load.ticket_number,
        volume_m3=volume,
        batching_min=clock.seen(fact.batched),
        left_plant_min=clock.seen(fact.left_plant),
        arrived_min=clock.seen(arrived.at),
        accepted_min=clock.seen(accepted[-1]) if load.decision == "accept" else NOT_SEEN,
        start_min=min((clock.seen(entry.fact.placed_from or entry.at) for entry in load.placings), default=NOT_SEEN),
        end_min=max(ends) if is_out else NOT_SEEN,
        left_site_min=left,
        refused_min=clock.seen(refused[-1]) if load.decision == "refuse" and not load.placings else NOT_SEEN,
        placed_m3=min(volume - returned if is_whole else told, volume) if is_out else 0.0,
        temperature_c=temperatures[-1] if temperatures else NOT_SEEN,
        cells=tuple(cell for entry in load.placings for cell in entry.fact.cells),
        plant=fact.plant,
        truck=fact.truck,
    )
