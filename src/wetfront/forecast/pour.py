"""The forecast of a running pour: the plan's own model, conditioned on the record, on the draws of the plan."""

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from wetfront.forecast.cells import PlacedCells
from wetfront.forecast.coming import Coming, cells_before_ends, coming_of
from wetfront.forecast.record import Record, record_of
from wetfront.forecast.setting import with_measured_setting
from wetfront.forecast.under_way import UnderWay, under_way
from wetfront.journal.state import PourState
from wetfront.placing.core.library import core_name
from wetfront.placing.core.prepared import simulate
from wetfront.placing.draws import SPARE_LOADS_COUNT, Draws, hashed_draws
from wetfront.placing.model import Floats, Ints, PourModel, Replications
from wetfront.planning.arrange import Arrangement
from wetfront.planning.candidate import Candidate
from wetfront.planning.joint_clock import JointClock
from wetfront.planning.model import WeatherModels, arranged, pour_model
from wetfront.planning.race import ROUNDS
from wetfront.planning.situation import Situation
from wetfront.planning.thermal import fresh_temperature_c

MEMBERS, MEMBERS_PLAIN = ROUNDS[-1][0], 40
"""With the compiled core as many as a plan is shown on, so that an empty record gives its figures; and without it."""
THREADS = 2


@dataclass(frozen=True, slots=True, eq=False)
class Forecaster:
    """What all forecasts of one pour share: its decision, model and draws. Made once, asked after every entry."""

    situation: Situation
    candidate: Candidate
    model: PourModel
    draws: Draws
    where: Arrangement
    clock: JointClock
    """By which a load sets whose temperature was measured."""

    @property
    def members_count(self) -> int:
        """Courses that the pour may take."""
        return self.draws.count


def forecaster(
    situation: Situation, candidate: Candidate, seed: int, *, members_count: int | None = None
) -> Forecaster:
    """The forecaster of a decision. `seed`: of the plan, whose draws it goes on with.

    `members_count`: by default `MEMBERS`, without the compiled core `MEMBERS_PLAIN`. With as many members as the plan
    has replications an empty record gives the plan's own figures.
    """
    count = members_count or (MEMBERS if core_name() == "compiled" else MEMBERS_PLAIN)
    model = pour_model(situation, candidate, WeatherModels(situation, 0, count))
    loads = situation.loads_count(candidate.load_m3) + SPARE_LOADS_COUNT
    return Forecaster(
        situation=situation,
        candidate=candidate,
        model=model,
        draws=hashed_draws(seed, count, loads, len(model.finishing.strip_min)),
        where=arranged(situation, candidate),
        clock=JointClock(situation, model.concrete, model.finishing, fresh_temperature_c(situation, candidate)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """How the pour stands, and how it may go on: a row for each member."""

    by: Forecaster
    record: Record
    way: UnderWay
    outcome: Replications
    coming: Coming
    """Loads that nobody has seen yet."""

    @property
    def model(self) -> PourModel:
        """The plan's model, going on from the record."""
        return self.way.model

    @property
    def cells_full(self) -> int:
        """Number of full cells; they are the first in order."""
        return 0 if self.model.seen is None else self.model.seen.cells_count

    @property
    def edge_joined_min(self) -> Floats:
        """When the last cell of each edge's later side is placed: a row a member, a column an edge."""
        return self.outcome.watched_min[:, : len(self.model.joints.edge_names)]

    @property
    def begun_count(self) -> int:
        """Loads that have usually been begun by now and have not come."""
        return 0 if self.has_ended else self.coming.begun_count

    @property
    def next_call_min(self) -> float | None:
        """When the plant is to begin the next load; None when all are under way, or placing has ended."""
        return None if self.has_ended else self.coming.next_call_min

    @property
    def next_arrival_min(self) -> Floats | None:
        """When the next truck comes to the gate, by member; None when none is to come."""
        return None if self.has_ended else self.coming.next_arrival_min

    @property
    def has_ended(self) -> bool:
        """The end of placing is on record."""
        return bool(~np.isnan(self.record.ended_min))


def forecast_of(by: Forecaster, state: PourState, now: dt.datetime, placed: PlacedCells | None = None) -> Forecast:
    """The forecast at this moment. `state`: folded from the events up to now.

    `placed`: which cells are full, by position in the plan's order, where that is known better than by volume; loads
    are numbered as in `state.loads`.
    """
    record = record_of(state, by.situation.day, now, by.situation.sheet.specification.finish)
    return forecast_from(by, record, placed)


def forecast_from(by: Forecaster, record: Record, placed: PlacedCells | None = None) -> Forecast:
    """The same from a record in minutes."""
    way = with_measured_setting(under_way(by.model, by.draws, record, placed, by.clock), by.clock)
    edges, loads = last_of_edges(way.model), cells_before_ends(way)
    way = replace(way, model=replace(way.model, watched=np.concatenate([edges, loads])))
    outcome = simulate(way.model, way.chance, threads=THREADS)
    coming = coming_of(way, outcome.watched_min[:, len(edges) :], record.now_min)
    return Forecast(by, record, way, outcome, coming)


def last_of_edges(model: PourModel) -> Ints:
    """The cell that joins each edge to its end."""
    last = np.zeros(len(model.joints.edge_names), dtype=np.int64)
    np.maximum.at(last, model.joints.edge, model.joints.later)
    return last
