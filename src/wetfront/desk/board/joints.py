"""Cells and live edges of a running pour: what is placed, what waits, and until when it may."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wetfront.delivery.edges import NOISE_MIN, limit_at
from wetfront.desk.board.basis import Basis
from wetfront.desk.board.delivered import batched_at, temperature_of
from wetfront.desk.board.filling import Filling
from wetfront.desk.board.waits import waits_of
from wetfront.forecast import CellsAhead, EdgeAhead
from wetfront.journal.state import PourState
from wetfront.nouns.board import CellView, EdgeView
from wetfront.nouns.plan import Moments
from wetfront.planning.steps import BAND, moments
from wetfront.takeoff.lattice import Lattice

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Deadlines:
    """By position in placing order; infinite where nothing limits, not a number for open cells."""

    specified_min: Floats
    """Counted from the first concrete of the cell's row: a wait is that of any point of it (`waits`)."""
    allowed_min: Floats
    """How long each may wait by the specification."""
    set_min: tuple[Floats, Floats, Floats]
    """Early, usual, late."""
    by_forecast: NDArray[np.bool_]
    """Cells that wait and whose setting is the forecast's; for all others it is the board's own bound."""


def deadlines(basis: Basis, state: PourState, filling: Filling, ahead: CellsAhead) -> Deadlines:
    """Until when each placed cell may be joined, by the specification and by its own setting.

    The forecast's where it knows the cell. It does not know those of a load that is still being placed.
    """
    count = len(filling.load)
    specified, by_set = np.full(count, np.nan), tuple(np.full(count, np.nan) for _ in range(3))
    for number, load in enumerate(state.loads):
        mine = np.flatnonzero(filling.load == number)
        if not len(mine):
            continue
        placed = filling.placed_min[mine]
        longest = specified_minutes(basis, temperature_of(load))
        specified[mine] = np.inf if longest is None else placed + longest
        batched = batched_at(basis, load)
        if basis.clock is None or batched is None:
            found = (np.full(len(mine), np.inf),) * 3
        else:
            found = basis.clock.join_until_min(placed, basis.day.minutes(batched), temperature_of(load))
        for column, values in zip(by_set, found, strict=True):
            column[mine] = values
    known = filling.placed[ahead.position]
    specified[ahead.position[known]] = ahead.specified_min[known]
    by_forecast = np.zeros(count, dtype=np.bool_)
    if len(ahead.waits):
        waits = filling.placed[ahead.waits]
        by_forecast[ahead.waits[waits]] = True
        for column, values in zip(by_set, np.quantile(ahead.join_until_min, BAND, axis=0), strict=True):
            column[ahead.waits[waits]] = values[waits]
    allowed = specified - filling.placed_min
    return Deadlines(_row_begun(basis, filling) + allowed, allowed, (by_set[0], by_set[1], by_set[2]), by_forecast)


def _row_begun(basis: Basis, filling: Filling) -> Floats:
    """When the first concrete of each placed cell's row came; not a number for open cells."""
    row, begun = basis.arranged.order.row, filling.placed_min.copy()
    placed = np.flatnonzero(filling.placed)
    begun[placed] = [filling.courses[each][0].from_min for each in row[placed].tolist()]
    return begun


def specified_minutes(basis: Basis, temperature_c: float | None) -> float | None:
    """The specification's minutes for concrete of this temperature; where nobody measured it, of the one planned."""
    known = temperature_c
    if known is None and basis.clock is not None:
        known = basis.clock.expected_c
    return limit_at(basis.sheet.specification.live_edge, known)


def waiting_cells(basis: Basis, filling: Filling) -> NDArray[np.bool_]:
    """Placed cells with a neighbour that is still to come."""
    joints, placed = basis.arranged.parts.joints, filling.placed
    open_pair = placed[joints.first] != placed[joints.later]
    waits = np.zeros(len(placed), dtype=np.bool_)
    waits[joints.first[open_pair & placed[joints.first]]] = True
    waits[joints.later[open_pair & placed[joints.later]]] = True
    return waits


def cell_views(basis: Basis, state: PourState, filling: Filling, due: Deadlines) -> tuple[CellView, ...]:
    """Every cell in placing order."""
    lattice, day = basis.arranged.lattice, basis.day
    outlines, waits = _outlines(lattice), waiting_cells(basis, filling)
    found = []
    for position, cell in enumerate(basis.cell_of_position.tolist()):
        number, edge = int(filling.load[position]), bool(waits[position])
        found.append(
            CellView(
                index=cell,
                element=lattice.element_ids[int(lattice.element[cell])],
                place=basis.steps.names[int(basis.steps.of_cell[position])],
                outline_m=outlines[cell],
                layer=int(lattice.layer[cell]),
                volume_m3=round(float(lattice.volume_m3[cell]), 4),
                state="placed" if number >= 0 else "open",
                ticket_number=state.loads[number].ticket_number if number >= 0 else "",
                placed_at=day.moment(float(filling.placed_min[position])) if number >= 0 else None,
                edge_open=edge,
                join_by_specification=moment_or_none(basis, due.specified_min[position]) if edge else None,
                join_by_setting=moments_or_none(basis, [column[position] for column in due.set_min]) if edge else None,
            )
        )
    return tuple(found)


@lru_cache(maxsize=16)
def _outlines(lattice: Lattice) -> tuple[tuple[tuple[float, float], ...], ...]:
    corners = np.round(lattice.outline_uv_m, 3).tolist()
    starts = lattice.outline_start.tolist()
    return tuple(tuple((u, v) for u, v in corners[start:end]) for start, end in pairwise(starts))


def edge_views(
    basis: Basis,
    state: PourState,
    filling: Filling,
    due: Deadlines,
    ahead: Mapping[str, EdgeAhead],
    now: dt.datetime,
) -> tuple[EdgeView, ...]:
    """Every edge that has concrete on one side: those that wait first, the shortest wait left before the others.

    Setting, chances and the moment of joining are the forecast's where it knows the edge as it stands; else setting by
    the board's own bounds, chances as the plan had them.
    """
    joints, placed = basis.arranged.parts.joints, filling.placed
    first_in, later_in = placed[joints.first], placed[joints.later]
    waiting: list[tuple[float, EdgeView]] = []
    joined: list[EdgeView] = []
    for edge, name in enumerate(joints.edge_names):
        pairs = np.flatnonzero(joints.edge == edge)
        live = pairs[first_in[pairs] != later_in[pairs]]
        if len(live):
            cells = np.unique(np.where(first_in[live], joints.first[live], joints.later[live]))
            waiting.append(_waiting(basis, state, filling, due, ahead.get(name), name, cells, now))
        elif len(pairs) and first_in[pairs].all() and later_in[pairs].all():
            joined.append(_joined(basis, state, filling, due, ahead.get(name), name, pairs))
    waiting.sort(key=lambda each: (each[0], each[1].name))
    joined.sort(key=lambda each: (each.waits_since, each.name), reverse=True)
    return (*(view for _, view in waiting), *joined)


def _waiting(
    basis: Basis,
    state: PourState,
    filling: Filling,
    due: Deadlines,
    ahead: EdgeAhead | None,
    name: str,
    cells: NDArray[np.int64],
    now: dt.datetime,
) -> tuple[float, EdgeView]:
    now_min = basis.day.minutes(now)
    specified = float(due.specified_min[cells].min())
    early, usual, late = _join_until(due, ahead, cells)
    if ahead is None:
        over, cold = _planned_chances(basis, name)
        over = 1.0 if now_min > specified else over
        cold = max(cold, _chance(basis, state, filling, cells, now_min))
    else:
        over, cold = ahead.chance_over_specification, ahead.chance_of_cold_joint
    view = EdgeView(
        name=name,
        cells=tuple(basis.cell_of_position[cells].tolist()),
        waits_since=basis.day.moment(float(filling.placed_min[cells].min())),
        join_by_specification=moment_or_none(basis, specified),
        join_by_setting=moments_or_none(basis, (early, usual, late)),
        joined_at=None if ahead is None else moments(basis.day, ahead.joined_min),
        closed=False,
        waited_min=None,
        chance_over_specification=over,
        chance_of_cold_joint=cold,
        by_forecast=ahead is not None,
        text=_waiting_words(basis, name, specified, early, usual, now_min),
    )
    return min(specified, early), view


def _join_until(due: Deadlines, ahead: EdgeAhead | None, cells: NDArray[np.int64]) -> tuple[float, float, float]:
    """Band of the first of these cells that can no longer be joined."""
    own = cells if ahead is None or not ahead.waits else cells[~due.by_forecast[cells]]
    found = [np.array([float(column[own].min(initial=np.inf)) for column in due.set_min])]
    if ahead is not None and ahead.waits:
        found.append(np.quantile(ahead.join_until_min, BAND))
    early, usual, late = np.minimum.reduce(found)
    return float(early), float(usual), float(late)


def _planned_chances(basis: Basis, name: str) -> tuple[float, float]:
    """Over the specification, and of a cold joint, as the plan had them."""
    edges = basis.plan.edges if basis.plan is not None else ()
    planned = next((edge for edge in edges if edge.name == name), None)
    return (0.0, 0.0) if planned is None else (planned.chance_specified_exceeded, planned.chance_set_exceeded)


def _chance(basis: Basis, state: PourState, filling: Filling, cells: NDArray[np.int64], at_min: float) -> float:
    """Highest chance that one of these cells can no longer be joined then."""
    if basis.clock is None:
        return 0.0
    oldest: dict[int, float] = {}
    for position in cells.tolist():
        number, placed = int(filling.load[position]), float(filling.placed_min[position])
        oldest[number] = min(placed, oldest.get(number, math.inf))
    chances = [0.0]
    for number, placed in oldest.items():
        load = state.loads[number]
        batched = batched_at(basis, load)
        if batched is not None:
            chances.append(
                basis.clock.chance_set(max(at_min, placed), placed, basis.day.minutes(batched), temperature_of(load))
            )
    return round(max(chances), 4)


def _waiting_words(basis: Basis, name: str, specified: float, early: float, usual: float, now_min: float) -> str:
    clock = basis.day.clock
    parts = []
    if math.isfinite(specified):
        parts.append(
            f"by the specification to be joined by {clock(specified)}"
            if now_min <= specified
            else f"the specification's minutes ran out at {clock(specified)}: a departure to record and show to the "
            "designer, not by itself a cold joint"
        )
    if math.isfinite(early):
        parts.append(
            f"its concrete can be joined until {clock(usual)} (5 %: {clock(early)}) by setting, 30 min kept"
            if now_min <= early
            else f"by setting it may no longer be joined since {clock(early)} (5 %; usual {clock(usual)}): try the "
            "vibrator, and be ready for a joint"
        )
    return f"{name}: {'; '.join(parts) or 'nothing says how long it may wait'}"


def _joined(
    basis: Basis,
    state: PourState,
    filling: Filling,
    due: Deadlines,
    ahead: EdgeAhead | None,
    name: str,
    pairs: NDArray[np.int64],
) -> EdgeView:
    joints = basis.arranged.parts.joints
    first, later = joints.first[pairs], joints.later[pairs]
    placed = filling.placed_min
    older = np.where(placed[first] <= placed[later], first, later)
    newer_min = np.maximum(placed[first], placed[later])
    newer, row = np.where(older == first, later, first), basis.arranged.order.row
    waits = waits_of(filling.courses, row[older], row[newer])
    longest, joined = float(waits.wait_min.max()), float(newer_min.max())
    departed = bool((waits.wait_min - due.allowed_min[older] > NOISE_MIN).any())
    worst = int(waits.wait_min.argmax())
    by_set = [float(column[older].min()) for column in due.set_min]
    if ahead is not None and not ahead.waits:
        by_set = np.quantile(ahead.join_until_min, BAND).tolist()
        chance, chance_over = ahead.chance_of_cold_joint, max(ahead.chance_over_specification, float(departed))
    else:
        ahead, chance, chance_over = None, 0.0, 1.0 if departed else 0.0
        for place in {worst, int((waits.covered_min - due.set_min[0][older]).argmax())}:
            covered = float(waits.covered_min[place])
            chance = max(chance, _chance(basis, state, filling, older[place : place + 1], covered))
    text = f"{name}: joined, longest wait {longest:.0f} min"
    if departed:
        text += "; over the specification's minutes: a departure to record and show to the designer"
    if chance > 0.05:
        text += f"; setting may have been over ({100 * chance:.0f} %): look at it in the work"
    elif departed and basis.clock is not None:
        text += "; not a cold joint by setting"
    return EdgeView(
        name=name,
        cells=tuple(basis.cell_of_position[np.unique(older)].tolist()),
        waits_since=basis.day.moment(float(placed[older].min())),
        join_by_specification=moment_or_none(basis, float(due.specified_min[older].min())),
        join_by_setting=moments_or_none(basis, by_set),
        joined_at=Moments(**dict.fromkeys(("early", "usual", "late"), basis.day.moment(joined))),
        closed=True,
        waited_min=round(longest, 1),
        chance_over_specification=chance_over,
        chance_of_cold_joint=chance,
        by_forecast=ahead is not None,
        text=text,
    )


def moment_or_none(basis: Basis, minutes: float) -> dt.datetime | None:
    """A moment; None for what is not finite."""
    return basis.day.moment(float(minutes)) if math.isfinite(minutes) else None


def moments_or_none(basis: Basis, minutes: Sequence[float]) -> Moments | None:
    """A band of moments; None where the clock does not reach."""
    if not all(math.isfinite(each) for each in minutes):
        return None
    early, usual, late = (basis.day.moment(float(each)) for each in minutes)
    return Moments(early=early, usual=usual, late=late)
