"""What comes next on the board: the plan's own model conditioned on the record, with the board's own cells."""

import datetime as dt
import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace

from wetfront.desk.board.basis import Basis
from wetfront.desk.board.filling import Filling, filled
from wetfront.errors import InvalidInput, WetfrontError
from wetfront.forecast import (
    Forecast,
    Forecaster,
    PlacedCells,
    compared,
    edge_views,
    forecast_of,
    forecast_view,
    forecaster,
    joints_ahead,
)
from wetfront.journal.state import PourState
from wetfront.nouns.board import Comparison, EdgeView, ForecastView, Question

LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Ahead:
    """The forecast, and the chances of the edges that wait; nothing where there is no plan to go on from."""

    view: ForecastView | None = None
    edges: tuple[EdgeView, ...] = ()
    joints: tuple[str, ...] = ()
    """Joints at which the pour could stop, the next one ahead first, in words."""
    trouble: str = ""
    """Why there is none although there is a plan."""

    def told(self, edges: Sequence[EdgeView]) -> tuple[EdgeView, ...]:
        """Waiting edges with the chances and the joining time of the forecast; all others as they are."""
        known = {edge.name: edge for edge in self.edges if not edge.closed}
        return tuple(
            edge
            if edge.closed or edge.name not in known
            else replace(
                edge,
                joined_at=known[edge.name].joined_at,
                chance_over_specification=known[edge.name].chance_over_specification,
                chance_of_cold_joint=known[edge.name].chance_of_cold_joint,
            )
            for edge in edges
        )


def forecaster_of(basis: Basis) -> Forecaster | None:
    """Made once for a plan; None without a decision."""
    if basis.situation is None or basis.candidate is None or basis.plan is None or basis.plan.search is None:
        return None
    return forecaster(basis.situation, basis.candidate, basis.plan.search.seed)


def ahead_of(by: Forecaster | None, state: PourState, filling: Filling, now: dt.datetime) -> Ahead:
    """The forecast now. What the record stands against is told; a fault of the program goes to the log as well."""
    if by is None or state.ended is not None:
        return Ahead()
    try:
        found = _forecast(by, state, filling, now)
        joints = tuple(joint.words for joint in joints_ahead(found))
        return Ahead(forecast_view(found), edge_views(found), joints)
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
    return forecast_of(by, state, now, PlacedCells(load=filling.load, placed_min=filling.placed_min))
