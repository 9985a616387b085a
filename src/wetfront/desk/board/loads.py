"""The loads of the board: those that came, as the record tells them, then those still to be called, as planned."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wetfront.acceptance import LoadSoFar, sample_due
from wetfront.desk.board.basis import Basis
from wetfront.desk.board.delivered import judged, lacking, rules_say, too_old_at, verdict_words
from wetfront.desk.board.filling import Filling, is_discharged, placing_times
from wetfront.forecast import Coming
from wetfront.journal.state import LoadState, PourState
from wetfront.nouns.board import LoadPhase, LoadView
from wetfront.nouns.plan import CalledLoad, Moments
from wetfront.planning.steps import moments

LEFT_TO_CALL_M3 = 0.25
"""Own rule: less than the finest step that plants call off is no load."""
SAMPLE_DUE = "sample due"
Positions = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Loads:
    """The views, and what has gone into the work."""

    views: tuple[LoadView, ...]
    taken_m3: float
    """Accepted and not returned, by the tickets."""
    refused_m3: float


def load_views(basis: Basis, state: PourState, filling: Filling, now: dt.datetime, coming: Coming | None) -> Loads:
    """All loads in the order of the pour. Those to come are the forecast's where there is one, else the plan's."""
    came: list[LoadView] = []
    so_far: list[LoadSoFar] = []
    ahead = _Ahead(basis, state, filling)
    for number, load in enumerate(state.loads):
        if load.arrived is None:
            continue
        to_go = ahead.take(load.volume_m3) if not load.placings and load.decision != "refuse" else None
        view = _came(basis, state, filling, number, load, so_far, now, len(came) + 1, to_go)
        came.append(view)
        so_far.append(
            LoadSoFar(
                volume_m3=load.volume_m3,
                taken=load.decision != "refuse" and view.state != "refused",
                sampled=bool(load.specimens),
            )
        )
    taken = [each for each in so_far if each.taken]
    volume = sum(each.volume_m3 for each in taken) - _returned(state)
    planned: tuple[LoadView, ...] = ()
    if state.ended is None:
        expected = _by_plan(basis, state, so_far, volume, now) if coming is None else _by_forecast(basis, coming)
        planned = _to_come(basis, ahead, so_far, expected, len(came) + 1)
    refused = sum(each.volume_m3 for each in so_far if not each.taken)
    return Loads((*came, *planned), volume, refused)


def _returned(state: PourState) -> float:
    return sum(
        load.left.fact.returned_m3 for load in state.loads if load.left is not None and load.decision != "refuse"
    )


def _came(
    basis: Basis,
    state: PourState,
    filling: Filling,
    number: int,
    load: LoadState,
    so_far: Sequence[LoadSoFar],
    now: dt.datetime,
    shown_number: int,
    to_go: Positions | None,
) -> LoadView:
    """`to_go`: where a load that is here is to go, by the order of placing."""
    assert load.arrived is not None
    judgement = judged(basis, load, now)
    last = load.decisions[-1] if load.decisions else None
    phase = _phase(load, now)
    places = dict.fromkeys(entry.fact.place for entry in load.placings)
    cells: Sequence[int] = filling.cells_of_load[number]
    if to_go is not None and phase in ("waiting", "held"):
        places, cells = dict.fromkeys(_places(basis, to_go)), to_go.tolist()
    samples = ", ".join(entry.fact.sample_id for entry in load.specimens)
    due = ""
    if not samples and phase not in ("refused", "left", "placed"):
        due = SAMPLE_DUE if sample_due(basis.sampling, so_far, load.volume_m3).due else ""
    before_discharge = phase in ("waiting", "held", "discharging")
    return LoadView(
        number=shown_number,
        ticket_number=load.ticket_number,
        state=phase,
        volume_m3=load.volume_m3,
        arrives=None,
        expected_by="",
        arrived=load.arrived.at,
        batched=load.arrived.fact.batched,
        too_old_at=too_old_at(basis, load),
        verdict="" if judgement is None else verdict_words(judgement),
        rules_say="" if judgement is None else rules_say(judgement),
        lacks=() if judgement is None else lacking(judgement, load),
        decision="" if last is None or load.contested else f"{last.fact.decision} by {last.said_by}",
        contested=load.contested,
        place=", ".join(places),
        sample=samples or due,
        cells=tuple(basis.cell_of_position[list(cells)].tolist()) if cells else (),
        water_left_l=judgement.verdict.water.litres if judgement is not None and before_discharge else None,
    )


def _phase(load: LoadState, now: dt.datetime) -> LoadPhase:
    if load.decision == "refuse" and not load.placings:
        return "refused"
    if load.left is not None:
        return "placed" if load.placings else "left"
    if is_discharged(load):
        start, end = placing_times(load.placings[-1])
        return "discharging" if start <= now < end else "placed"
    if load.placings:
        return "discharging"
    return "held" if load.decision == "check-test" or load.contested else "waiting"


class _Ahead:
    """The cells that are still to be filled, handed out load by load in placing order."""

    def __init__(self, basis: Basis, state: PourState, filling: Filling):
        still = ~filling.placed
        for number, load in enumerate(state.loads):
            if load.placings and not is_discharged(load):
                still[list(filling.cells_of_load[number])] = False
        self._open = np.flatnonzero(still)
        self._starts = np.concatenate([[0.0], np.cumsum(basis.arranged.parts.cells.volume_m3[self._open])])
        self._waste = 1 + basis.waste
        self._reached = -(basis.lead_m3 if not filling.placed.any() else 0.0) / self._waste

    def take(self, volume_m3: float) -> Positions:
        """Positions that the next load of this size reaches, wholly or in part."""
        begin, end = self._reached, self._reached + volume_m3 / self._waste
        self._reached = end
        return self._open[(self._starts[1:] > begin + 1e-6) & (self._starts[:-1] < end - 1e-6)]


def _places(basis: Basis, positions: Positions) -> list[str]:
    return [basis.steps.names[step] for step in dict.fromkeys(basis.steps.of_cell[positions].tolist())]


@dataclass(frozen=True, slots=True)
class _Expected:
    """A load that nobody has seen yet."""

    volume_m3: float
    arrives: Moments
    is_on_road: bool
    by: Literal["forecast", "plan"]


def _by_forecast(basis: Basis, coming: Coming) -> list[_Expected]:
    return [
        _Expected(volume, moments(basis.day, coming.arrives_min[:, place]), place < coming.on_road_count, "forecast")
        for place, volume in enumerate(coming.volume_m3.tolist())
    ]


def _by_plan(
    basis: Basis, state: PourState, so_far: Sequence[LoadSoFar], taken_m3: float, now: dt.datetime
) -> list[_Expected]:
    """The rest of the call-off: as many rows as the volume still to come needs, moved by how late the pour runs."""
    rows = _remaining_rows(basis, so_far, taken_m3)
    shift = _shift(rows[0], state, basis, now) if rows else dt.timedelta(0)
    return [_Expected(row.volume_m3, _arrives(basis, row, shift), False, "plan") for row in rows]


def _to_come(
    basis: Basis,
    ahead: _Ahead,
    so_far: Sequence[LoadSoFar],
    expected: Sequence[_Expected],
    shown_number: int,
) -> tuple[LoadView, ...]:
    """The loads that are expected, each with the cells that it goes to."""
    so_far = list(so_far)
    found: list[LoadView] = []
    for row in expected:
        inside = ahead.take(row.volume_m3)
        due = sample_due(basis.sampling, so_far, row.volume_m3).due
        so_far.append(LoadSoFar(volume_m3=row.volume_m3, taken=True, sampled=due))
        found.append(
            LoadView(
                number=shown_number + len(found),
                ticket_number="",
                state="on the road" if row.is_on_road else "planned",
                volume_m3=row.volume_m3,
                arrives=row.arrives,
                expected_by=row.by,
                arrived=None,
                batched=None,
                too_old_at=None,
                verdict="",
                rules_say="",
                decision="",
                contested=False,
                place=", ".join(_places(basis, inside)),
                sample=SAMPLE_DUE if due else "",
                cells=tuple(basis.cell_of_position[inside].tolist()),
                water_left_l=None,
            )
        )
    return tuple(found)


def _remaining_rows(basis: Basis, so_far: Sequence[LoadSoFar], taken_m3: float) -> list[CalledLoad]:
    """Rows of the plan's call-off for the volume that has not come; one for each further full load it would take."""
    if basis.plan is None or not basis.plan.loads:
        return []
    missing = sum(row.volume_m3 for row in basis.plan.loads) - taken_m3
    rows = list(basis.plan.loads[sum(each.taken for each in so_far) :])
    found: list[CalledLoad] = []
    for row in rows:
        if missing < LEFT_TO_CALL_M3:
            break
        found.append(row)
        missing -= row.volume_m3
    return found


def _shift(row: CalledLoad, state: PourState, basis: Basis, now: dt.datetime) -> dt.timedelta:
    """How much later than planned the rest comes: the lag of the last load, and never before now (own rule)."""
    arrivals = [load.arrived.at for load in state.loads if load.arrived is not None and load.decision != "refuse"]
    lag = dt.timedelta(0)
    if arrivals and basis.plan is not None and len(arrivals) <= len(basis.plan.loads):
        lag = max(lag, arrivals[-1] - basis.plan.loads[len(arrivals) - 1].on_site)
    stop = state.stopped
    if arrivals or stop is not None:
        lag = max(lag, now - row.on_site)
    return lag


def _arrives(basis: Basis, row: CalledLoad, shift: dt.timedelta) -> Moments:
    plant = next((each for each in basis.sheet.plant if each.id == row.plant), None)
    usual = row.on_site + shift
    if plant is None:
        return Moments(early=usual, usual=usual, late=usual)
    travel = plant.travel_loaded_min
    sooner = dt.timedelta(minutes=max(0.0, travel.usual - travel.low))
    later = dt.timedelta(minutes=max(0.0, travel.high - travel.usual))
    return Moments(early=usual - sooner, usual=usual, late=usual + later)
