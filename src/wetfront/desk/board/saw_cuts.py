"""When the sawn joints of a slab can be cut, strip by strip."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.desk.board.basis import Basis
from wetfront.errors import OutOfRange
from wetfront.finishing.saw_cut import SAW_METHODS, SawMethod, saw_cut_window
from wetfront.journal.state import PourState
from wetfront.nouns.board import SawCutView
from wetfront.nouns.plan import Moments

SAWN = "saw"
"""In the words of a joint's kind: "induced contraction joint, saw cut"."""
ON_THE_LINE_M = 0.01
MEAN_OVER_MIN = 12 * 60.0
"""Own rule: the concrete's temperature since placing is the mean of fresh concrete and air over so long."""


@dataclass(frozen=True, slots=True)
class Finished:
    """A strip that is placed, for the saw."""

    at: Moments
    """End of its finishing: as told, else about when its window closes."""
    is_told: bool
    placed_min: float
    fresh_c: float | None


@dataclass(frozen=True, slots=True)
class _Line:
    """A joint to be sawn, and the finished strips that it lies at."""

    joint: str
    where: str
    strips: tuple[str, ...]


def saw_cuts_at(basis: Basis, state: PourState, finished: Mapping[str, Finished]) -> dict[str, tuple[SawCutView, ...]]:
    """By strip: its saw cuts with both saws. Nothing where the specification asks for none."""
    if basis.sheet.specification.saw_cut_depth_mm is None:
        return {}
    found: dict[str, tuple[SawCutView, ...]] = {}
    for line in _lines(basis):
        views = tuple(_view(basis, state, line, method, finished) for method in SAW_METHODS)
        for strip in line.strips:
            if strip in finished:
                found[strip] = (*found.get(strip, ()), *views)
    return found


def _lines(basis: Basis) -> list[_Line]:
    """The sheet's sawn joints. Where it names none, every strip on the ground has cuts whose place is not known."""
    spans = _spans(basis)
    lines = []
    for joint in basis.sheet.joint:
        if SAWN not in joint.kind.casefold() or (joint.x_m is None and joint.y_m is None):
            continue
        axis, line = (0, joint.x_m) if joint.x_m is not None else (1, joint.y_m)
        assert line is not None
        at = [
            name
            for name, (low, high) in spans.items()
            if low[axis] - ON_THE_LINE_M <= line <= high[axis] + ON_THE_LINE_M
        ]
        lines.append(_Line(joint.id, f"{'xy'[axis]} = {line:g} m", tuple(at)))
    if not lines:
        ground = {element.id for element in basis.sheet.element if element.shape == "ground-slab"}
        lines = [_Line("", "", (name,)) for name in spans if element_of(basis, name) in ground]
    return lines


def _spans(basis: Basis) -> dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Least and greatest x and y [m] of every finished strip, from the outlines of its cells on the plan."""
    parts, lattice = basis.arranged.parts, basis.arranged.lattice
    found = {}
    for strip, name in enumerate(parts.finished_strip_names):
        cells = basis.cell_of_position[parts.cells.strip == strip]
        corners = np.concatenate(
            [lattice.outline_uv_m[lattice.outline_start[cell] : lattice.outline_start[cell + 1]] for cell in cells]
        )
        found[name] = corners.min(axis=0), corners.max(axis=0)
    return found


def element_of(basis: Basis, strip: str) -> str:
    """The element that a finished strip belongs to."""
    parts, lattice = basis.arranged.parts, basis.arranged.lattice
    position = int(np.flatnonzero(parts.cells.strip == parts.finished_strip_names.index(strip))[0])
    return lattice.element_ids[int(lattice.element[basis.cell_of_position[position]])]


def _view(
    basis: Basis, state: PourState, line: _Line, method: SawMethod, finished: Mapping[str, Finished]
) -> SawCutView:
    """The window of one line: when its youngest side can bear the saw, until its oldest side can wait no longer."""
    depth = basis.sheet.specification.saw_cut_depth_mm
    what = f"{line.joint} at {line.where}" if line.joint else "joints of the drawing (the sheet does not say where)"
    cut_at = _cut_at(basis, state, line)
    missing = [strip for strip in line.strips if strip not in finished]
    opens, closes = None, None
    if missing:
        text = f"{what}: waits for {', '.join(missing)}, not in yet or without a finishing window"
    else:
        try:
            opens, closes = _window(basis, line, method, finished)
            is_told = all(finished[strip].is_told for strip in line.strips)
            text = _words(basis, f"{what}, {depth:g} mm, {method} saw", opens, closes, is_told)
        except OutOfRange as error:
            text = f"{what}: no window, {error.message}"
    if cut_at is not None:
        text = f"{what}: cut {basis.day.clock(basis.day.minutes(cut_at))}"
    return SawCutView(joint=line.joint, method=method, opens=opens, closes=closes, cut_at=cut_at, text=text)


def _window(
    basis: Basis, line: _Line, method: SawMethod, finished: Mapping[str, Finished]
) -> tuple[Moments, dt.datetime]:
    begins, ends = [], []
    for strip in line.strips:
        side = finished[strip]
        window = saw_cut_window(_mean_c(basis, side), method)
        minutes = [basis.day.minutes(moment) for moment in (side.at.early, side.at.usual, side.at.late)]
        begins.append([at + 60 * window.earliest_h for at in minutes])
        ends.append(minutes[0] + 60 * window.latest_h)
    early, usual, late = (basis.day.moment(max(column)) for column in zip(*begins, strict=True))
    return Moments(early=early, usual=usual, late=late), basis.day.moment(min(ends))


def _mean_c(basis: Basis, side: Finished) -> float:
    """Mean temperature of the concrete since placing (own rule: between fresh concrete and air)."""
    assert basis.clock is not None and basis.weather is not None
    fresh = basis.clock.expected_c if side.fresh_c is None else side.fresh_c
    times = side.placed_min + np.linspace(0.0, MEAN_OVER_MIN, 25)
    return float((fresh + basis.weather.air_rows(times)[0].mean()) / 2)


def _words(basis: Basis, what: str, opens: Moments, closes: dt.datetime, is_told: bool) -> str:
    counted = f"counted from the end of {'finishing' if is_told else 'the finishing window'}"
    begin, end = (basis.day.clock(basis.day.minutes(moment)) for moment in (opens.usual, closes))
    if closes <= opens.usual:
        return (
            f"{what}: no window, the oldest side should be cut by {end} and the youngest not before "
            f"{begin}; {counted}: cut as soon as a trial cut does not break out"
        )
    return f"{what}: from about {begin}, by {end}, sooner where the slab begins to cool; {counted}; a trial cut decides"


def _cut_at(basis: Basis, state: PourState, line: _Line) -> dt.datetime | None:
    """The first saw cut that was told of this joint, by its id; where it has none, of a strip."""
    names = {name.casefold() for name in ((line.joint,) if line.joint else line.strips)}
    told = [entry.at for entry in state.saw_cuts if entry.fact.place.casefold() in names]
    return told[0].astimezone(basis.day.zone) if told else None
