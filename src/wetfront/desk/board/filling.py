"""Which cells the recorded loads filled, and when: by the cells that were named, else by the place and the volume.

Own rules: a load fills the cells of its place in placing order, less wastage and what stays in the line; a cell that
two loads share belongs to the first, whose concrete is the older; once a load goes to a later place, what little is
open of the place before counts as filled by its last load.
"""

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.delivery.edges import places_of
from wetfront.desk.board.basis import Basis
from wetfront.desk.board.waits import Course, Put, courses_of
from wetfront.journal.kinds import LoadPlaced
from wetfront.journal.state import Entry, LoadState, PourState

FULL = 0.98
"""Own rule: a cell is full at this share of its volume; the rest is rounding."""
NOBODY = -1
_PLAIN = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True, eq=False)
class Filling:
    """By position in placing order."""

    load: NDArray[np.int64]
    """Number of the load in the state's order; NOBODY for an open cell."""
    placed_min: NDArray[np.float64]
    """From local midnight of the pour's day; not a number for an open cell."""
    cells_of_load: tuple[tuple[int, ...], ...]
    """Positions that each load went to, wholly or in part."""
    courses: dict[int, Course]
    """By row of the placing order: how it was filled."""
    strange: tuple[str, ...]
    """What could not be brought onto the drawing, in words."""

    @property
    def placed(self) -> NDArray[np.bool_]:
        """Cells that are full."""
        return self.load >= 0


@dataclass(frozen=True, slots=True)
class _Piece:
    """Concrete of one load that went to one place."""

    load: int
    ticket: str
    fact: LoadPlaced
    from_min: float
    until_min: float
    volume_m3: float
    pauses: tuple[tuple[float, float], ...]
    """Recorded stops within it."""

    def at(self, share: float) -> float:
        """Minute in which this share of it was out; nothing comes out in a stop."""
        flowing = self.until_min - self.from_min - sum(end - start for start, end in self.pauses)
        when = self.from_min + share * max(flowing, 0.0)
        for start, end in self.pauses:
            if when > start:
                when += end - start
        return min(when, self.until_min)

    def flows(self, low: float, high: float) -> Iterator[tuple[float, float, float]]:
        """From one share of it to another, cut at the stops: how much of it, from when until when."""
        ends = [self.from_min, *(minute for pause in self.pauses for minute in pause), self.until_min]
        spans = list(zip(ends[::2], ends[1::2], strict=True))
        flowing, out = sum(end - start for start, end in spans), 0.0
        if flowing <= 0:
            yield high - low, self.from_min, self.until_min
            return
        for start, end in spans:
            share = (end - start) / flowing
            begins, stops = max(low, out), min(high, out + share)
            if stops > begins:
                pace = (end - start) / share
                yield stops - begins, start + (begins - out) * pace, start + (stops - out) * pace
            out += share


class _Filler:
    def __init__(self, basis: Basis):
        self.basis = basis
        cells = basis.arranged.parts.cells
        self.volume = cells.volume_m3
        count = len(self.volume)
        self.filled = np.zeros(count)
        self.owner = np.full(count, NOBODY, dtype=np.int64)
        self.done = np.full(count, np.nan)
        self.lead_m3 = basis.lead_m3
        self.touched: dict[int, dict[int, None]] = {}
        self.puts: list[Put] = []
        self.strange: list[str] = []
        self.last: dict[int, tuple[int, float]] = {}
        """By step: the load that came last, and until when."""
        self.position = np.full(int(basis.cell_of_position.max()) + 1, NOBODY, dtype=np.int64)
        self.position[basis.cell_of_position] = np.arange(count)
        self.names = {_plain(name): step for step, name in enumerate(basis.steps.names)}

    def take(self, piece: _Piece) -> None:
        named = self._named(piece)
        steps = [] if named is not None else self._steps(piece)
        if named is None and not steps:
            self.strange.append(f"load {piece.ticket} went to {piece.fact.place!r}, which is no place of this drawing")
            return
        positions = named if named is not None else self._open_of(steps)
        net = piece.volume_m3 / (1.0 + self.basis.waste)
        lost = min(self.lead_m3, net)
        self.lead_m3 -= lost
        net -= lost
        if named is not None:
            self._close_named(piece, positions)
        else:
            self._pour(piece, positions, net)
        reached = np.unique(self.basis.steps.of_cell[positions]) if len(positions) else np.array(steps)
        for step in reached.tolist():
            self.last[step] = (piece.load, piece.until_min)
        self._close_behind(int(reached.min()) if len(reached) else 0, piece)

    def _named(self, piece: _Piece) -> NDArray[np.int64] | None:
        """Positions of the cells that the entry names, where they are of this lattice."""
        fact = piece.fact
        if not fact.cells:
            return None
        if fact.lattice and fact.lattice != self.basis.lattice:
            self.strange.append(
                f"load {piece.ticket} names cells of another drawing of this pour; shown by its place, {fact.place}"
            )
            return None
        known = [cell for cell in fact.cells if cell < len(self.position) and self.position[cell] >= 0]
        if not known:
            return None
        return np.sort(self.position[np.array(known)])

    def _steps(self, piece: _Piece) -> list[int]:
        """Steps of a place by its name: "C1", "layer 1/2", or a whole element."""
        found: list[int] = []
        for place in places_of(piece.fact.place):
            name = _plain(place)
            if name in self.names:
                found.append(self.names[name])
                continue
            ends = [step for known, step in self.names.items() if name and known.endswith(name)]
            whole = [step for step, element in enumerate(self.basis.steps.elements) if _plain(element) == name]
            found += ends if len(ends) == 1 else whole
        return sorted(set(found))

    def _open_of(self, steps: Sequence[int]) -> NDArray[np.int64]:
        inside = np.isin(self.basis.steps.of_cell, steps)
        return np.flatnonzero(inside & np.isnan(self.done))

    def _close_named(self, piece: _Piece, positions: NDArray[np.int64]) -> None:
        share = np.concatenate([[0.0], np.cumsum(self.volume[positions])])
        share /= share[-1]
        for place, position in enumerate(positions.tolist()):
            self._touch(piece.load, position)
            if np.isnan(self.done[position]):
                low, high = float(share[place]), float(share[place + 1])
                self._put(piece, position, self.volume[position] - self.filled[position], low, high)
                self.filled[position] = self.volume[position]
                self._close(position, piece.load, piece.at(high))

    def _pour(self, piece: _Piece, positions: NDArray[np.int64], net_m3: float) -> None:
        left, total = net_m3, net_m3
        for position in positions.tolist():
            if left <= 1e-9:
                return
            put = min(left, self.volume[position] - self.filled[position])
            self._put(piece, position, put, 1.0 - left / total, 1.0 - (left - put) / total)
            left -= put
            self.filled[position] += put
            self._touch(piece.load, position)
            if self.owner[position] == NOBODY:
                self.owner[position] = piece.load
            if self.filled[position] >= FULL * self.volume[position]:
                self._close(position, piece.load, piece.at(1.0 if total <= 0 else 1.0 - left / total))
        if left > self.basis.sheet.trucks.capacity_m3 / 2:
            self.strange.append(
                f"load {piece.ticket}: {left:.1f} m³ more went to {piece.fact.place} than it holds by the drawing"
            )

    def _put(self, piece: _Piece, position: int, volume_m3: float, low: float, high: float) -> None:
        """Write down that the load's shares from `low` to `high` went into one cell."""
        if high <= low:
            return
        for share, from_min, to_min in piece.flows(low, high):
            self.puts.append(Put(position, float(volume_m3) * share / (high - low), from_min, to_min))

    def _close(self, position: int, load: int, at_min: float) -> None:
        if self.owner[position] == NOBODY:
            self.owner[position] = load
        rest = float(self.volume[position] - self.filled[position])
        self.puts.append(Put(position, rest, at_min, at_min))  # what counts as filled without having been told
        self.filled[position] = self.volume[position]
        self.done[position] = at_min

    def _touch(self, load: int, position: int) -> None:
        self.touched.setdefault(load, {})[position] = None

    def _close_behind(self, step: int, piece: _Piece) -> None:
        """Fill up what is open of begun steps before this one; more than a load short is told and stays open."""
        for before in [known for known in self.last if known < step]:
            positions = self._open_of([before])
            if not len(positions):
                del self.last[before]
                continue
            short = float((self.volume[positions] - self.filled[positions]).sum())
            name = self.basis.steps.names[before]
            if short > self.basis.sheet.trucks.capacity_m3 / 2:
                text = f"{name} has {short:.1f} m³ open by the record, and placing went on to {piece.fact.place}"
                if text not in self.strange:
                    self.strange = [each for each in self.strange if not each.startswith(f"{name} has ")] + [text]
                continue
            load, until = self.last.pop(before)
            for position in positions.tolist():
                self._touch(load, position)
                self._close(position, load, until)

    def end(self, at_min: float) -> None:
        """Placing has ended: what was begun is filled."""
        for step, (load, until) in list(self.last.items()):
            positions = self._open_of([step])
            short = float((self.volume[positions] - self.filled[positions]).sum()) if len(positions) else 0.0
            if short <= self.basis.sheet.trucks.capacity_m3 / 2:
                for position in positions.tolist():
                    self._touch(load, position)
                    self._close(position, load, min(until, at_min))


def filled(basis: Basis, state: PourState, now: dt.datetime) -> Filling:
    """The cells of the pour as the record tells them. A discharge under way goes at the planned rate."""
    filler = _Filler(basis)
    for piece in _pieces(basis, state):
        filler.take(piece)
    if state.ended is not None and not state.ended.fact.at_joint:
        filler.end(basis.day.minutes(state.ended.at))
    open_cells = ~(filler.done <= basis.day.minutes(now))
    return Filling(
        load=np.where(open_cells, NOBODY, filler.owner),
        placed_min=np.where(open_cells, np.nan, filler.done),
        cells_of_load=tuple(tuple(filler.touched.get(number, ())) for number in range(len(state.loads))),
        courses=courses_of(basis.arranged.order.row, filler.puts),
        strange=tuple(filler.strange),
    )


def _pieces(basis: Basis, state: PourState) -> list[_Piece]:
    found = []
    for number, load in enumerate(state.loads):
        left = load.volume_m3
        for entry in load.placings:
            from_at, until_at = placing_times(entry)
            part = entry.fact.volume_m3 if entry.fact.volume_m3 is not None else max(left, 0.0)
            left -= part
            from_min, until_min = basis.day.minutes(from_at), basis.day.minutes(until_at)
            if under_way(entry) and load.left is None:
                until_min = max(until_min, from_min + 60 * part / basis.rate_m3_per_h)
            pauses = _pauses(basis, state, from_min, until_min)
            found.append(_Piece(number, load.ticket_number, entry.fact, from_min, until_min, part, pauses))
    return sorted(found, key=lambda piece: (piece.from_min, piece.until_min, piece.load))


def _pauses(basis: Basis, state: PourState, from_min: float, until_min: float) -> tuple[tuple[float, float], ...]:
    """Recorded stops between two moments; one that goes on lasts to the end."""
    found = []
    for stop in state.stops:
        start = max(basis.day.minutes(stop.since), from_min)
        end = until_min if stop.until is None else min(basis.day.minutes(stop.until), until_min)
        if start < end:
            found.append((start, end))
    return tuple(found)


def placing_times(entry: Entry[LoadPlaced]) -> tuple[dt.datetime, dt.datetime]:
    """From when until when; what was not written down is the moment of the entry."""
    start = entry.fact.placed_from or entry.at
    return start, max(start, entry.fact.placed_until or entry.at)


def under_way(entry: Entry[LoadPlaced]) -> bool:
    """Begun, and nobody has written down its end."""
    return entry.fact.placed_from is not None and entry.fact.placed_until is None


def is_discharged(load: LoadState) -> bool:
    """All of it is out: its placings name no smaller volume, or it has left."""
    if not load.placings:
        return False
    if load.left is not None:
        return True
    if any(under_way(entry) for entry in load.placings):
        return False
    told = [entry.fact.volume_m3 for entry in load.placings]
    if load.volume_m3 <= 0 or any(part is None for part in told):
        return True
    return sum(part or 0.0 for part in told) >= load.volume_m3 - 0.05


def _plain(text: str) -> str:
    return _PLAIN.sub("", text.casefold())
