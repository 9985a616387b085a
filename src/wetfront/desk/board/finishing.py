"""Finishing of the strips that are placed: bleeding, first and last pass, and the saw cuts at them."""

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from wetfront.desk.board.basis import Basis
from wetfront.desk.board.delivered import batched_at, temperature_of
from wetfront.desk.board.filling import Filling
from wetfront.desk.board.joints import moments_or_none
from wetfront.desk.board.saw_cuts import Finished, element_of, saw_cuts_at
from wetfront.finishing.saw_cut import INTERPOLATION_SOURCE, LATEST_SOURCE, START_SOURCE
from wetfront.finishing.window import RANGE_C, WINDOW_SOURCE
from wetfront.forecast import StripAhead
from wetfront.journal.state import PourState
from wetfront.nouns.board import FinishView
from wetfront.nouns.plan import Moments
from wetfront.nouns.reason import Provenance, Source
from wetfront.planning.steps import moments

BLEED_SOURCE = Source("bleeding is over at about half of the initial set", Provenance.OWN_RULE)
FOOT_TEST_SOURCE = Source("foot test: a print not deeper than 6 mm, bleed water gone", Provenance.PUBLISHED)
CLOCK_SOURCE = Source(
    "finishers' clock: the slower of Arrhenius and halving per 11 °C at the mean of concrete and air",
    Provenance.OWN_RULE,
)
LAST_STEPS = ("trowelled", "hand finished")
"""Steps after which a surface is finished."""
Windows = tuple[Moments, Moments, Moments]
"""Bleeding over, first pass, last pass."""


def rests_on(basis: Basis) -> tuple[str, ...]:
    """The rules behind the windows; none where nothing is finished or nothing says how fast concrete sets."""
    if basis.clock is None or basis.sheet.specification.finish == "none":
        return ()
    rules = [BLEED_SOURCE, FOOT_TEST_SOURCE, WINDOW_SOURCE, CLOCK_SOURCE]
    if basis.sheet.specification.saw_cut_depth_mm is not None:
        rules += [START_SOURCE, INTERPOLATION_SOURCE, LATEST_SOURCE]
    return tuple(f"{rule.citation} ({rule.provenance})" for rule in rules)


def finish_views(
    basis: Basis, state: PourState, filling: Filling, ahead: Mapping[str, StripAhead]
) -> tuple[FinishView, ...]:
    """Strips that are placed. Windows are the forecast's where it knows the strip, else by the board's own bounds."""
    if basis.clock is None or basis.sheet.specification.finish == "none":
        return ()
    known: dict[str, tuple[Windows, bool]] = {}
    for name, cells in _placed_strips(basis, filling):
        if _beyond_c(state, filling, cells) is not None:
            continue
        windows = _own_windows(basis, state, filling, cells) if name not in ahead else _windows(basis, ahead[name])
        if windows is not None:
            known[name] = windows, name in ahead
    finished = {name: _finished(basis, state, filling, name, windows) for name, (windows, _) in known.items()}
    cuts = saw_cuts_at(basis, state, finished)
    return tuple(
        FinishView(
            place=name,
            bleed_ends=windows[0],
            opens=windows[1],
            closes=windows[2],
            saw_cuts=cuts.get(name, ()),
            by_forecast=by_forecast,
            text=_words(basis, state, name, windows),
        )
        for name, (windows, by_forecast) in known.items()
    )


def out_of_range(basis: Basis, state: PourState, filling: Filling) -> tuple[str, ...]:
    """Strips that have no window because the setting rules do not hold for their last load, in words."""
    if basis.clock is None or basis.sheet.specification.finish == "none":
        return ()
    found = [(name, _beyond_c(state, filling, cells)) for name, cells in _placed_strips(basis, filling)]
    low, high = RANGE_C
    return tuple(
        f"{name}: no finishing window, its last concrete came at {celsius:g} °C; the setting rules hold from {low:g} "
        f"to {high:g} °C"
        for name, celsius in found
        if celsius is not None
    )


def _placed_strips(basis: Basis, filling: Filling) -> list[tuple[str, NDArray[np.int64]]]:
    """Finished strips that are placed, with their cells."""
    parts = basis.arranged.parts
    strips = [
        (name, np.flatnonzero(parts.cells.strip == strip)) for strip, name in enumerate(parts.finished_strip_names)
    ]
    return [(name, cells) for name, cells in strips if len(cells) and filling.placed[cells].all()]


def _last_cell(filling: Filling, cells: NDArray[np.int64]) -> int:
    """The one of these cells that was placed last."""
    return int(cells[np.argmax(filling.placed_min[cells])])


def _beyond_c(state: PourState, filling: Filling, cells: NDArray[np.int64]) -> float | None:
    """Temperature of the last load where it was measured outside the range of the rules; else None."""
    last = _last_cell(filling, cells)
    celsius = temperature_of(state.loads[int(filling.load[last])])
    return celsius if celsius is not None and not RANGE_C[0] <= celsius <= RANGE_C[1] else None


def _windows(basis: Basis, ahead: StripAhead) -> Windows:
    return (
        moments(basis.day, ahead.bleed_ends_min),
        moments(basis.day, ahead.opens_min),
        moments(basis.day, ahead.closes_min),
    )


def _own_windows(basis: Basis, state: PourState, filling: Filling, cells: NDArray[np.int64]) -> Windows | None:
    """By the clock of the load that came last; None where nobody knows its age, or the clock does not reach so far."""
    clock = basis.clock
    assert clock is not None
    last = _last_cell(filling, cells)
    load = state.loads[int(filling.load[last])]
    batched = batched_at(basis, load)
    if batched is None:
        return None
    at = (filling.placed_min[last : last + 1], basis.day.minutes(batched), temperature_of(load))
    limits = (clock.bleed_clock_min, clock.finishing.ready_clock_min, clock.finishing.latest_clock_min)
    found = [moments_or_none(basis, [float(each[0]) for each in clock.reached_min(limit, *at)]) for limit in limits]
    bleed, opens, closes = found
    return None if bleed is None or opens is None or closes is None else (bleed, opens, closes)


def _finished(basis: Basis, state: PourState, filling: Filling, name: str, windows: Windows) -> Finished:
    """When the strip has been finished as told, else about when its window closes; and its concrete."""
    parts = basis.arranged.parts
    cells = np.flatnonzero(parts.cells.strip == parts.finished_strip_names.index(name))
    places = {name.casefold(), element_of(basis, name).casefold()}
    told = [
        entry.fact.until or entry.at
        for entry in state.surface
        if entry.fact.place.casefold() in places and entry.fact.step in LAST_STEPS
    ]
    last = _last_cell(filling, cells)
    at = told[-1].astimezone(basis.day.zone) if told else None
    return Finished(
        at=Moments(early=at, usual=at, late=at) if at is not None else windows[2],
        is_told=at is not None,
        placed_min=float(filling.placed_min[last]),
        fresh_c=temperature_of(state.loads[int(filling.load[last])]),
    )


def _words(basis: Basis, state: PourState, name: str, windows: Windows) -> str:
    bleed, opens, closes = windows
    done = [entry for entry in state.surface if entry.fact.place.casefold() == name.casefold()]
    worked = f"; {done[-1].fact.step} {_clock(basis, done[-1].at)}" if done else ""
    finish = basis.sheet.specification.finish
    return (
        f"{name}: {finish}, bleeding over about {_clock(basis, bleed.usual)}, first pass about "
        f"{_clock(basis, opens.usual)} ({_clock(basis, opens.early)} to {_clock(basis, opens.late)}), last pass before "
        f"{_clock(basis, closes.early)}{worked}; the foot test decides"
    )


def _clock(basis: Basis, moment: dt.datetime) -> str:
    return basis.day.clock(basis.day.minutes(moment))


def unfinished(state: PourState, views: Sequence[FinishView]) -> list[FinishView]:
    """Those that nobody has told as finished or covered."""
    done = {entry.fact.place.casefold() for entry in state.surface if entry.fact.step in (*LAST_STEPS, "covered")}
    return [view for view in views if view.place.casefold() not in done]
