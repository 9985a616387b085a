"""A plan is a forecast with an empty record: the figures that the plan shows are the forecast's to the last digit."""

import datetime as dt

import numpy as np
import pytest

from planned import QUICK, SEED, checked
from sheets import tree_of
from wetfront.desk.board.ahead import forecaster_of
from wetfront.desk.board.basis import basis_of
from wetfront.desk.plan_pour import plan_one
from wetfront.forecast.pour import MEMBERS, forecast_of, forecaster
from wetfront.forecast.views import as_band, forecast_view
from wetfront.journal import fold
from wetfront.planning.model import DAY_SHARE
from wetfront.planning.search import FINAL_ROUNDS

CLOCK = dt.time
SLAB = {
    "element_order": ["C", "B", "A"],
    "strips_along": "y",
    "strip_widths_m": [4.0],
    "start_between_local": [CLOCK(7, 20), CLOCK(7, 20)],
    "interval_between_min": [14.0, 16.0],
    "trucks_between": [8, 8],
    "load_sizes_m3": [8.0],
}
WALL = {"start_between_local": [CLOCK(9, 10), CLOCK(9, 30)], "trucks_between": [3, 4], "load_sizes_m3": [3.6]}


@pytest.fixture(scope="module", params=[("slab", 0, SLAB), ("wall", 0, WALL)], ids=["slab", "wall"])
def planned(request, tmp_path_factory):
    """The demo's pour with few choices left, its plan, and the forecast of the board before anything is on record."""
    name, number, choices = request.param
    tree = tree_of(name)
    tree["pour"] = [tree["pour"][number]]
    tree["choices"] = choices
    sheet = checked(tmp_path_factory.mktemp(name), tree)
    pour = sheet.sheet.pour[0]
    plan = plan_one(sheet, pour, None, None, SEED, QUICK)
    basis = basis_of(sheet, pour, plan)
    by = forecaster(basis.situation, basis.candidate, plan.search.seed, members_count=plan.search.replications_count)
    early = basis.day.moment(by.model.supply.first_batching_min - 30)
    return plan, basis, forecast_of(by, fold(pour.id, []), early)


def test_the_ends_are_the_plans(planned):
    plan, _, empty = planned
    view = forecast_view(empty)
    assert view.end_of_placing == plan.end_of_placing
    assert view.end_of_finishing == plan.end_of_finishing


def test_every_edge_has_the_plans_margins_and_chances(planned):
    plan, _, empty = planned
    names, outcome = empty.model.joints.edge_names, empty.outcome
    assert plan.edges
    for edge in plan.edges:
        number = names.index(edge.name)
        set_margin = outcome.edge_set_margin_min[:, number]
        band = as_band(set_margin)
        # The plan's draws are made in C, the forecast's in numpy: their exponentials differ in the last bit.
        assert (band.low, band.usual, band.high) == pytest.approx(edge.set_margin_min, rel=0, abs=1e-9)
        assert float((set_margin < 0).mean()) == edge.chance_set_exceeded
        over = outcome.edge_specified_margin_min[:, number] < 0
        assert float(over.mean()) == edge.chance_specified_exceeded


def test_the_chances_are_the_plans(planned):
    plan, _, empty = planned
    view = forecast_view(empty)
    chance = {risk.key: risk.probability for risk in plan.risks}
    assert view.chance_of_cold_joint == chance["cold_joint"]
    assert view.chance_over_specification == chance["specified_edge_exceeded"]
    assert view.chance_out_of_hours == chance["placing_out_of_hours"]
    over_age = (empty.outcome.refused_age_count + empty.outcome.over_age_count) > 0
    assert float(over_age.mean()) == chance["load_over_age"] > 0


def test_the_loads_of_a_day_share_a_level_in_plan_and_forecast_alike(planned):
    """Else the plan's bands were too narrow: on a day of slow trucks most of them are slow."""
    _, basis, empty = planned
    assert empty.model.day_share == DAY_SHARE > 0
    between = np.corrcoef(np.log(empty.way.chance.haul_min[:, :20]).T)
    assert between[np.triu_indices(20, 1)].mean() == pytest.approx(DAY_SHARE, abs=0.1)
    by = forecaster_of(basis)
    assert by.members_count == MEMBERS == FINAL_ROUNDS[-1][0]
