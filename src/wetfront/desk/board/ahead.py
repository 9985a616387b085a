"""What comes next on the board: the plan's own model conditioned on the record, with the board's own cells."""

import datetime as dt
import logging
from dataclasses import dataclass

from wetfront.desk.board.basis import Basis
from wetfront.desk.board.filling import Filling, filled
from wetfront.errors import InvalidInput, WetfrontError
from wetfront.forecast import (
    NOTHING,
    Coming,
    Forecast,
    Forecaster,
    PlacedCells,
    Standing,
    compared,
    forecast_of,
    forecast_view,
    forecaster,
    joints_ahead,
    standing,
)
from wetfront.journal.state import PourState
from wetfront.nouns.board import Comparison, ForecastView, Question

KNOWN_AFTER_END = dt.timedelta(hours=1)
"""Own rule: what was placed is on record so long after the end; from then on nothing changes what still sets."""
LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, eq=False)
class Ahead:
    """What the forecast knows; nothing where there is no plan to go on from."""

    view: ForecastView | None = None
    """None once placing has ended: what is placed still sets and is finished by the forecast."""
    standing: Standing = NOTHING
    coming: Coming | None = None
    """Loads that nobody has seen yet; None without a forecast."""
    joints: tuple[str, ...] = ()
    """Joints at which the pour could stop, the next one ahead first, in words."""
    trouble: str = ""
    """Why there is none although there is a plan."""


def forecaster_of(basis: Basis) -> Forecaster | None:
    """Made once for a plan; None without a decision."""
    if basis.situation is None or basis.candidate is None or basis.plan is None or basis.plan.search is None:
        return None
    return forecaster(basis.situation, basis.candidate, basis.plan.search.seed)


def ahead_of(by: Forecaster | None, state: PourState, filling: Filling, now: dt.datetime) -> Ahead:
    """The forecast now. What the record stands against is told; a fault of the program goes to the log as well."""
    if by is None:
        return Ahead()
    try:
        found = _forecast(by, state, filling, now)
        if found.has_ended:
            return Ahead(standing=standing(found))
        joints = tuple(joint.words for joint in joints_ahead(found))
        return Ahead(forecast_view(found), standing(found), found.coming, joints)
    except WetfrontError as error:
        return Ahead(trouble=f"no forecast can be made from this record: {error}")
    except Exception as error:
        LOG.exception("the forecast of pour %s failed at %s", state.pour, now.isoformat())
        return Ahead(
            trouble=f"fault of the program, no forecast: {type(error).__name__}; the server's log has it in full"
        )


def answer(basis: Basis, by: Forecaster | None, state: PourState, question: Question, now: dt.datetime) -> Comparison:
    """The ways to go on. InvalidInput names what is missing: a plan, minutes, a moment."""
    if by is None:
        raise InvalidInput("plan", f"there is no plan to go on from: {basis.planning or 'it has no decision'}")
    return compared(_forecast(by, state, filled(basis, state, now), now), question)


def _forecast(by: Forecaster, state: PourState, filling: Filling, now: dt.datetime) -> Forecast:
    if state.ended is not None:
        now = min(now, state.ended.at + KNOWN_AFTER_END)
    return forecast_of(by, state, now, PlacedCells(load=filling.load, placed_min=filling.placed_min))
