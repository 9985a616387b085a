"""A model that contradicts itself, or runs beyond its tables, is refused by the name of what is wrong."""

from dataclasses import replace

import numpy as np
import pytest

import workloads
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.placing.clock import clock_table
from wetfront.placing.core import prepared
from wetfront.placing.draws import STOPS_COUNT, hashed_draws
from wetfront.placing.model import Lognormal, WeatherMembers
from wetfront.placing.simulate import simulate
from workloads import P1

MODEL = workloads.pour(P1, 1)
DRAWS = hashed_draws(1, 2, 80, P1.nx)


def changed(part, **values):
    return replace(MODEL, **{part: replace(getattr(MODEL, part), **values)})


def plant(**values):
    return changed("supply", plants=(replace(MODEL.supply.plants[0], **values),))


def column(name, value, where=5):
    values = getattr(MODEL.cells, name).copy()
    values[where] = value
    return changed("cells", **{name: values})


def members(**values):
    concrete, finishing = MODEL.concrete, MODEL.finishing
    usual = {
        "clock_min": np.tile(concrete.clock_min, (2, 1)),
        "air_temperature_c": np.zeros((2, 0)),
        "set_factor_sd": np.full(2, 0.1),
        "activation_temperature_k": np.full(2, 4000.0),
        "ready_clock_min": np.full(2, finishing.ready_clock_min),
        "latest_clock_min": np.full(2, finishing.latest_clock_min),
    }
    return replace(MODEL, members=WeatherMembers(**(usual | values)))


@pytest.mark.parametrize(
    ("key", "model"),
    [
        ("members", members(clock_min=np.zeros((0, len(MODEL.concrete.clock_min))))),
        ("clock_min", members(clock_min=np.tile(MODEL.concrete.clock_min[:-1], (2, 1)))),
        ("clock_min", members(clock_min=np.ones((2, len(MODEL.concrete.clock_min))))),
        ("set_factor_sd", members(set_factor_sd=np.array([0.1, -0.1]))),
        ("set_factor_sd", members(set_factor_sd=np.zeros(3))),
        ("ready_clock_min", members(ready_clock_min=np.array([np.nan, 1.0]))),
        ("trucks_count", plant(trucks_count=0)),
        ("haul_min", plant(haul_min=Lognormal(0.0, 0.2))),
        ("haul_min", plant(haul_min=Lognormal(float("nan"), 0.2))),
        ("return_min", plant(return_min=Lognormal(20.0, -0.1))),
        ("plants", changed("supply", plants=())),
        ("plant_of_load", changed("supply", plant_of_load=(0, 1))),
        ("load_m3", changed("supply", load_m3=-8.0)),
        ("interval_min", changed("supply", interval_min=float("nan"))),
        ("call_off_step_m3", changed("supply", call_off_step_m3=0.0)),
        ("smallest_load_m3", changed("supply", smallest_load_m3=9.0)),
        ("bans", changed("supply", bans=((540.0, 510.0),))),
        ("bans", changed("supply", bans=((510.0, 540.0), (530.0, 600.0)))),
        ("weather_stops", changed("site", weather_stops=((510.0, 510.0),))),
        ("breaks", changed("site", breaks=((600.0, 30.0), (540.0, 15.0)))),
        ("breaks", changed("site", breaks=((600.0, 0.0),))),
        ("discharge_places_count", changed("site", discharge_places_count=0)),
        ("wastage", changed("site", wastage=-0.1)),
        ("priming_m3", changed("site", priming_m3=float("inf"))),
        ("consistence_refusal_probability", changed("acceptance", consistence_refusal_probability=1.0)),
        ("lowest_c", changed("acceptance", lowest_c=30.0, highest_c=5.0)),
        ("clock_min", changed("concrete", clock_min=np.zeros(10))),
        ("set_limit_min", changed("concrete", set_limit_min=0.0)),
        ("air_temperature_c", changed("concrete", change_per_h=0.25)),
        ("activation_temperature_k", changed("concrete", counts_age=True)),
        ("edge_limits", changed("concrete", edge_limits=((25.0, 75.0), (20.0, 90.0)))),
        ("crews_count", changed("finishing", crews_count=0)),
        ("strip_area_m2", changed("finishing", evaporation_kg_per_m2_h=np.ones(900))),
        ("volume_m3", column("volume_m3", 0.0)),
        ("volume_m3", column("volume_m3", np.nan)),
        ("rate_m3_per_h", column("rate_m3_per_h", -1.0)),
        ("move_min", column("move_min", -1.0)),
        ("strip", column("strip", P1.nx)),
        ("strip", changed("finishing", strip_min=np.full(P1.nx + 1, 14.0))),
        ("panel", column("panel", 0)),
        ("joints", changed("joints", first=MODEL.joints.later, later=MODEL.joints.first)),
        ("edge", changed("joints", edge_names=("one",))),
    ],
)
def test_contradictions_are_refused_by_key(key, model):
    with pytest.raises(InvalidInput) as refusal:
        simulate(model, hashed_draws(1, 1, 80, P1.nx + 1))
    assert refusal.value.key == key
    assert key in refusal.value.message


def test_a_pour_beyond_the_clock_is_an_error_not_a_stopped_clock():
    short = clock_table(np.full(80, 20.0), 10.0, 4000.0)
    with pytest.raises(OutOfRange) as refusal:
        simulate(changed("concrete", clock_min=short), DRAWS)
    assert refusal.value.key == "clock_min"


def test_a_pour_beyond_the_air_table_is_an_error():
    model = changed("concrete", change_per_h=0.25, air_temperature_c=np.full(60, 15.0))
    with pytest.raises(OutOfRange) as refusal:
        simulate(model, DRAWS)
    assert refusal.value.key == "air_temperature_c"


def test_loads_that_are_all_refused_end_in_an_error_not_in_an_endless_day():
    with pytest.raises(OutOfRange) as refusal:
        simulate(changed("acceptance", longest_age_min=1.0), DRAWS)
    assert refusal.value.key == "draws"


def test_more_breakdowns_than_draws_are_an_error():
    with pytest.raises(OutOfRange) as refusal:
        simulate(changed("site", pumping_min_between_stops=0.01), DRAWS)
    assert refusal.value.key == "draws"
    assert str(STOPS_COUNT) in refusal.value.message


def test_a_table_without_enough_strips_is_refused():
    with pytest.raises(InvalidInput) as refusal:
        simulate(MODEL, hashed_draws(1, 1, 80, 3))
    assert refusal.value.key == "draws"


@pytest.mark.parametrize("door", [simulate, prepared.simulate], ids=["plain", "as built"])
def test_a_ban_without_end_is_refused_and_not_an_empty_pour(door):
    """No truck ever arrives, so nothing is placed: both implementations name the supply."""
    shut = changed("supply", bans=((0.0, float("inf")),))
    with pytest.raises(InvalidInput) as refused:
        door(shut, DRAWS)
    assert refused.value.key in ("supply", "bans")
