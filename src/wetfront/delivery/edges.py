"""How long the edge between neighbouring strips or layers waited, from the times of the loads.

Nobody writes on a ticket where exactly a load went. Assumed, and said wherever a wait is shown: the concrete is spread
evenly over equal strips, all placed in the same direction, each point of a strip against the same point of the next.
"""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from wetfront.delivery.loads import minutes
from wetfront.delivery.stops import discharged
from wetfront.hydration import setting_time_at_temperature
from wetfront.nouns.delivery import DeliveryRow
from wetfront.nouns.delivery_day import EdgeWait, Stop
from wetfront.nouns.mix import Mix
from wetfront.nouns.sheet import EdgeLimit

_SHARED = re.compile(r"(.*?)(\d+)\s*/\s*(\d+)")
_NOISE_M3 = 1e-9
SETTING_HOLDS_C = (0.0, 40.0)
"""Range of `setting_time_at_temperature`."""
NOISE_MIN = 1e-6
"""A wait that is just the limit is within it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Concrete that flowed without a stop: from one volume to another between two moments."""

    from_m3: float
    to_m3: float
    start_min: float
    end_min: float
    batched_min: float
    """Of its load; the first later time on the ticket where the batching time is missing."""

    def at(self, volume_m3: float) -> float:
        """Minute in which this volume was reached."""
        share = (volume_m3 - self.from_m3) / (self.to_m3 - self.from_m3)
        return self.start_min + share * (self.end_min - self.start_min)


def places_in_order(rows: Sequence[DeliveryRow]) -> tuple[str, ...] | None:
    """The places in which the loads went, in the order of their filling; "layer 1/2" is layer 1 and then layer 2.

    None where a place is not named, or one is taken up again after the next was begun: then nothing is even.
    """
    order: list[str] = []
    for _, _, row in discharged(rows):
        for place in places_of(row.placed_in):
            if not place or (place in order and order[-1] != place):
                return None
            if place not in order:
                order.append(place)
    return tuple(order)


def places_of(text: str) -> tuple[str, ...]:
    """The places that one entry names: "layer 1/2" is layer 1 and then layer 2."""
    shared = _SHARED.fullmatch(text.strip())
    return (f"{shared[1]}{shared[2]}", f"{shared[1]}{shared[3]}") if shared else (text.strip(),)


def pieces_of(rows: Sequence[DeliveryRow], stops: Sequence[Stop], zero: dt.datetime) -> list[Piece]:
    """The discharges one after the other; one with a stop whose times are known is cut there."""
    found: list[Piece] = []
    volume = 0.0
    for start, end, row in discharged(rows):
        stop = next(
            (
                each
                for each in stops
                if each.exact and row.number in each.tickets and start < each.start < each.end < end
            ),
            None,
        )
        spans = [(start, end)] if stop is None else [(start, stop.start), (stop.end, end)]
        flowing = sum(minutes(*span) for span in spans)
        for begins, ends in spans:
            share = minutes(begins, ends) / flowing if flowing else 1.0
            reached = volume + row.volume_m3 * share
            if reached > volume:
                found.append(
                    Piece(
                        from_m3=volume,
                        to_m3=reached,
                        start_min=minutes(zero, begins),
                        end_min=minutes(zero, ends),
                        batched_min=minutes(zero, row.moments[0]),
                    )
                )
            volume = reached
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """The longest wait of one edge, and the oldest that its concrete was when it was covered."""

    longest_min: float
    since_min: float
    """When the concrete that waited longest was placed."""
    oldest_min: float
    """From batching; the point of the oldest need not be that of the longest wait."""


def longest_wait(pieces: Sequence[Piece], first_from_m3: float, second_from_m3: float, strip_m3: float) -> Wait:
    """The longest time from a point of one strip to the same point of the next: exact, not sampled.

    The difference of two times that grow in straight pieces with jumps is largest just beside a joint of pieces.
    """
    offsets = {0.0, strip_m3}
    for piece in pieces:
        for edge in (piece.from_m3, piece.to_m3):
            offsets |= {edge - begin for begin in (first_from_m3, second_from_m3) if 0 <= edge - begin <= strip_m3}
    waits: list[tuple[float, float, float]] = []
    for low, high in pairwise(sorted(offsets)):
        if high - low <= _NOISE_M3:
            continue
        middle = (low + high) / 2
        older, newer = _piece_at(pieces, first_from_m3 + middle), _piece_at(pieces, second_from_m3 + middle)
        for offset in (low, high):
            since = older.at(first_from_m3 + offset)
            covered = newer.at(second_from_m3 + offset)
            waits.append((covered - since, since, covered - older.batched_min))
    longest, since, _ = max(waits, key=lambda each: each[0])
    return Wait(longest_min=longest, since_min=since, oldest_min=max(each[2] for each in waits))


def _piece_at(pieces: Sequence[Piece], volume_m3: float) -> Piece:
    return next(piece for piece in pieces if volume_m3 <= piece.to_m3)


NOTHING = "nothing was discharged yet: there is no edge"
NO_PLACES = "the tickets do not name the places one after the other, so no wait of an edge can be told"
ONE_PLACE = "all loads went into one place: no edge between places"
OVERLAP = "loads were discharged at the same time, so their concrete cannot be followed: no wait of an edge is told"


def edge_waits(
    rows: Sequence[DeliveryRow], stops: Sequence[Stop], limits: Sequence[EdgeLimit], mix: Mix
) -> tuple[tuple[EdgeWait, ...], str]:
    """The wait of each edge against the specification and against setting, and what it assumes or why none is told.

    `rows`: every load that was discharged, each once. The limit is that of the hottest concrete measured in the
    older strip. Initial set counts from batching, by the shorter of two rules.
    """
    done = discharged(rows)
    places = places_in_order(rows)
    if places is None:
        return (), NO_PLACES
    if not done:
        return (), NOTHING
    if len(places) < 2:
        return (), ONE_PLACE
    if any(then[0] < here[1] for here, then in pairwise(done)):
        return (), OVERLAP
    zero = done[0][0]
    pieces = pieces_of(rows, stops, zero)
    total = sum(row.volume_m3 for _, _, row in done)
    strip = total / len(places)
    found = []
    for index, (older, newer) in enumerate(pairwise(places)):
        wait = longest_wait(pieces, index * strip, (index + 1) * strip, strip)
        found.append(
            _edge(f"{older}-{newer}", wait, zero, _Strip(done, index * strip, (index + 1) * strip), limits, mix)
        )
    note = (
        f"{total:g} m³ spread evenly over {len(places)} equal places, {places[0]} to {places[-1]}, all placed in the "
        "same direction; a stop in the middle of a load is taken out where its times are known"
    )
    return tuple(found), note


@dataclass(frozen=True, slots=True)
class _Strip:
    """Part of the concrete, with the loads that it came from."""

    done: Sequence[tuple[dt.datetime, dt.datetime, DeliveryRow]]
    from_m3: float
    to_m3: float

    def loads(self) -> list[int]:
        """Places in `done` of the loads that reach into this part."""
        found, volume = [], 0.0
        for place, (_, _, row) in enumerate(self.done):
            if volume < self.to_m3 - _NOISE_M3 and volume + row.volume_m3 > self.from_m3 + _NOISE_M3:
                found.append(place)
            volume += row.volume_m3
        return found

    def hottest(self) -> tuple[float, str] | None:
        """Hottest measured concrete and its ticket; the hotter of the nearest tests around where none was made here."""
        inside = self.loads()
        tested = [place for place, each in enumerate(self.done) if _temperature(each[2]) is not None]
        chosen = [place for place in tested if place in inside]
        around = not chosen
        if around:
            before = [place for place in tested if place < inside[0]][-1:]
            chosen = before + [place for place in tested if place > inside[-1]][:1]
        if not chosen:
            return None
        place = max(chosen, key=lambda each: (_temperature(self.done[each][2]) or 0.0, -each))
        row = self.done[place][2]
        return _temperature(row) or 0.0, f"{row.number}{', the nearest test' if around else ''}"


def _temperature(row: DeliveryRow) -> float | None:
    return row.load.tests.concrete_temperature_c


def _edge(name: str, wait: Wait, zero: dt.datetime, strip: _Strip, limits: Sequence[EdgeLimit], mix: Mix) -> EdgeWait:
    hottest = strip.hottest()
    warm = None if hottest is None else hottest[0]
    limit = limit_at(limits, warm)
    setting = None if warm is None else _initial_set_min(mix, warm)
    return EdgeWait(
        name=name,
        longest_min=wait.longest_min,
        since=zero + dt.timedelta(minutes=wait.since_min),
        temperature_c=warm,
        temperature_from="" if hottest is None else hottest[1],
        limit_min=limit,
        within_limit=None if limit is None else wait.longest_min <= limit + NOISE_MIN,
        age_when_covered_min=wait.oldest_min,
        initial_set_min=setting,
        within_set=None if setting is None else wait.oldest_min <= setting + NOISE_MIN,
    )


def limit_at(limits: Sequence[EdgeLimit], temperature_c: float | None) -> float | None:
    """The specification's minutes; the shortest of all where no temperature was measured (own rule, cautious)."""
    if not limits:
        return None
    if temperature_c is None:
        return min(limit.longest_min for limit in limits)
    return next((limit.longest_min for limit in limits if temperature_c <= limit.up_to_c), limits[-1].longest_min)


def _initial_set_min(mix: Mix, temperature_c: float) -> float | None:
    """Minutes from batching; None where the setting rules do not reach this temperature."""
    if not SETTING_HOLDS_C[0] <= temperature_c <= SETTING_HOLDS_C[1]:
        return None
    setting = setting_time_at_temperature(
        mix.initial_set_at_20c_h,
        20.0,
        temperature_c,
        activation_energy_j_per_mol=mix.activation_energy_j_per_mol,
    )
    return setting.shorter_h * 60
