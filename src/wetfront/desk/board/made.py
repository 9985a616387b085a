"""The board itself: one pure function of what is planned, what is recorded, and now."""

import datetime as dt

from wetfront.desk.board.advice import Seen, advice_of
from wetfront.desk.board.ahead import ahead_of
from wetfront.desk.board.basis import Basis
from wetfront.desk.board.figures import figures_of, limit_views
from wetfront.desk.board.filling import filled
from wetfront.desk.board.finishing import finish_views, out_of_range, rests_on
from wetfront.desk.board.joints import cell_views, deadlines, edge_views, specified_minutes
from wetfront.desk.board.loads import load_views
from wetfront.desk.board.ready import Ready, ready_of
from wetfront.desk.board.surface import concrete_now_c, form_views, surface_now
from wetfront.forecast import Forecaster
from wetfront.journal.state import PourState
from wetfront.nouns.board import BOARD_SCHEMA, Board, Phase

READY_FROM = dt.timedelta(hours=36)
"""Own rule: so long before the first concrete the board turns from planning to getting ready."""
RELEASED_FROM = dt.timedelta(minutes=90)
"""Own rule: so long before the first batch a pour that is released counts as running."""


def board_of(
    basis: Basis, state: PourState, records_count: int, now: dt.datetime, by: Forecaster | None = None
) -> Board:
    """All that the app shows of one pour at `now`. `by` (`forecaster_of`) makes its forecast; None: without."""
    project = basis.sheet.project
    now = now.astimezone(basis.day.zone)
    ready = ready_of(basis, state)
    filling = filled(basis, state, now)
    ahead = ahead_of(by, state, filling, now)
    due = deadlines(basis, state, filling, ahead.standing.cells)
    loads = load_views(basis, state, filling, now, ahead.coming)
    edges = edge_views(basis, state, filling, due, ahead.standing.edges, now)
    finishing = finish_views(basis, state, filling, ahead.standing.strips)
    phase = phase_of(basis, state, ready, now)
    seen = Seen(basis, state, filling, due, ready, loads.views, edges, finishing, phase, now, ahead.joints, ahead.view)
    weather = basis.sheet.weather
    strange = (*filling.strange, *out_of_range(basis, state, filling), *([ahead.trouble] if ahead.trouble else []))
    return Board(
        schema=BOARD_SCHEMA,
        pour=basis.pour.id,
        title=basis.pour.title,
        project=project.name,
        time_zone=project.time_zone,
        language="en",
        invented=project.invented,
        phase=phase,
        made_at=now,
        records_count=records_count,
        last_told=state.last_recorded,
        weather_issued=weather.issued_local if weather is not None else None,
        plan_verdict=basis.plan.verdict.value if basis.plan is not None else basis.planning,
        plan_revision=basis.plan_revision,
        may_place=not ready.blocked_by,
        blocked_by=ready.blocked_by,
        advice=advice_of(seen),
        stopped_since=state.stopped.since if state.stopped is not None else None,
        checks=ready.checks,
        holds=ready.holds,
        loads=loads.views,
        cells=cell_views(basis, state, filling, due),
        edges=edges,
        forms=form_views(basis, state, filling, now),
        finishing=finishing,
        finishing_rests_on=rests_on(basis),
        surface=surface_now(basis, state, now),
        forecast=ahead.view,
        look_at=_look_at(state, ready, strange),
        cautions=basis.cautions,
        lattice=basis.lattice,
        limits=limit_views(basis),
        may_wait_min=specified_minutes(basis, concrete_now_c(basis, state)),
        figures=figures_of(basis, state, loads),
    )


def phase_of(basis: Basis, state: PourState, ready: Ready, now: dt.datetime) -> Phase:
    """Where the pour is, by the record first and by the clock where it says nothing."""
    if state.ended is not None:
        return "prove" if _cured(state) else "cure"
    if any(load.arrived is not None or load.placings for load in state.loads) or state.stops:
        return "pour"
    decision = basis.plan.decision if basis.plan is not None else None
    start = decision.start if decision is not None else basis.day.moment(basis.day.opens_min)
    if not ready.blocked_by and decision is not None and decision.first_batch - RELEASED_FROM <= now:
        return "pour" if now < start + dt.timedelta(days=1) else "ready"
    return "ready" if now >= start - READY_FROM or state.checks else "plan"


def _cured(state: PourState) -> bool:
    """Every place whose curing was begun has been told ended."""
    last = {entry.fact.place.casefold(): entry.fact.step for entry in state.curing}
    return bool(last) and all(step == "ended" for step in last.values())


def _look_at(state: PourState, ready: Ready, strange: tuple[str, ...]) -> tuple[str, ...]:
    """What a person should look at, each once."""
    clashes = [
        f"{clash.what}: the one by {clash.counts.role} counts, {clash.other.role} wrote another"
        for clash in state.clashes
    ]
    return tuple(dict.fromkeys([*(each.what for each in state.oddities), *clashes, *ready.strange, *strange]))
