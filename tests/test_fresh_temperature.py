"""Temperature of fresh concrete: constituents, ice, the drive."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from extreme_inputs import check_answer_or_key, question
from hostile_inputs import check_hostile_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.materials import (
    ice_for_temperature,
    mix_temperature,
    solids,
    temperature_after,
    transport_temperature,
)

VEHICLES = ("revolving-drum", "covered-body", "open-body")
modest = settings(max_examples=80, deadline=None)
aggregates = st.lists(st.tuples(st.floats(100, 1500), st.floats(-5, 60), st.floats(0, 10)), min_size=1, max_size=4)


def parts_of(cement_kg, cement_c, rows, ratio=0.22):
    return solids(cement_kg, cement_c, *(tuple(column) for column in zip(*rows, strict=True)), ratio)


@modest
@given(st.floats(100, 600), st.floats(0, 90), aggregates, st.floats(50, 300), st.floats(1, 80), st.floats(0.15, 0.3))
def test_mixing_stays_between_the_coldest_and_the_warmest_constituent(cement, cement_c, rows, water, water_c, ratio):
    mixed = mix_temperature(parts_of(cement, cement_c, rows, ratio), water, water_c).concrete_temperature_c
    temperatures = [cement_c, water_c, *(row[1] for row in rows)]
    assert min(temperatures) - 1e-9 <= mixed <= max(temperatures) + 1e-9


@modest
@given(aggregates, st.floats(100, 600), st.floats(50, 300), st.floats(1, 50), st.floats(0.2, 5))
def test_heat_is_conserved_and_the_batch_size_does_not_matter(rows, cement, water, warmth, scale):
    """All at one temperature stay there; a batch of any size has the same temperature."""
    same = [(mass, warmth, moisture) for mass, _, moisture in rows]
    assert mix_temperature(parts_of(cement, warmth, same), water, warmth).concrete_temperature_c == pytest.approx(
        warmth
    )
    once = mix_temperature(parts_of(cement, 60, rows), water, 15, 10, -5)
    scaled_rows = [(mass * scale, c, moisture) for mass, c, moisture in rows]
    scaled = mix_temperature(parts_of(cement * scale, 60, scaled_rows), water * scale, 15, 10 * scale, -5)
    assert scaled.concrete_temperature_c == pytest.approx(once.concrete_temperature_c, rel=1e-9, abs=1e-9)


@modest
@given(aggregates, st.floats(100, 600), st.floats(100, 300), st.floats(1, 40), st.floats(0, 60), st.floats(-30, 0))
def test_melting_ice_takes_the_heat_that_the_rest_gives(rows, cement, water, water_c, ice, ice_c):
    """Second method: solve for the temperature at which heat given equals heat taken, by bisection."""
    parts = parts_of(cement, 30, rows)
    found = mix_temperature(parts, water, water_c, ice, ice_c).concrete_temperature_c

    def gained(t):
        dry = 0.22 * cement * (t - 30) + sum(0.22 * mass * (t - c) for mass, c, _ in rows)
        wet = sum(mass * moisture / 100 * (t - c) for mass, c, moisture in rows) + water * (t - water_c)
        return dry + wet + ice * (0.5 * (0 - ice_c) + 79.6 + t)

    low, high = -100.0, 200.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if gained(middle) < 0 else (low, middle)
    assert found == pytest.approx(low, abs=1e-6)


@modest
@given(aggregates, st.floats(150, 600), st.floats(80, 250), st.floats(1, 40), st.floats(-30, 0), st.floats(0, 1))
def test_ice_found_put_back_into_the_balance_gives_the_target(rows, cement, water, water_c, ice_c, share):
    parts = parts_of(cement, 55, rows)
    without = mix_temperature(parts, water, water_c).concrete_temperature_c
    lowest = mix_temperature(parts, 0, 0, water, ice_c).concrete_temperature_c
    target = lowest + share * (without - lowest)
    assume(0 <= target <= 50)
    found = ice_for_temperature(target, parts, water, water_c, ice_c)
    assert found.ice_kg_per_m3 + found.water_kg_per_m3 == pytest.approx(water)
    assert found.lowest_temperature_c == pytest.approx(lowest, abs=1e-9)
    back = mix_temperature(parts, found.water_kg_per_m3, water_c, found.ice_kg_per_m3, ice_c)
    assert back.concrete_temperature_c == pytest.approx(target, abs=1e-6)


def test_all_batch_water_as_ice_is_allowed_and_a_hair_colder_is_not():
    """Limit case."""
    parts = parts_of(340, 55, [(780, 34, 4), (1060, 36, 1)])
    lowest = ice_for_temperature(25, parts, 125, 25).lowest_temperature_c
    whole = ice_for_temperature(lowest, parts, 125, 25)
    assert whole.ice_kg_per_m3 == pytest.approx(125)
    assert whole.ice_kg_per_m3 <= 125
    with pytest.raises(OutOfRange, match=r"15\.2") as refused:
        ice_for_temperature(lowest - 0.001, parts, 125, 25)
    assert refused.value.key == "target_temperature_c"


def test_no_ice_where_the_mix_is_cool_enough():
    parts = parts_of(340, 20, [(1800, 15, 2)])
    found = ice_for_temperature(30, parts, 150, 10)
    assert (found.ice_kg_per_m3, found.water_kg_per_m3, found.ice_share_percent) == (0, 150, 0)


@pytest.mark.parametrize("key", ["aggregate_temperature_c", "aggregate_free_moisture_percent"])
@pytest.mark.parametrize("name", ["fresh-concrete-temperature", "ice-for-temperature"])
def test_lists_of_other_length_are_refused_by_key(name, key):
    inputs = USUAL_ICE if name == "ice-for-temperature" else USUAL
    for wrong in ([20.0], [20.0, 20.0, 20.0], []):
        with pytest.raises(InvalidInput) as refused:
            calculation(name).ask(inputs | {key: wrong})
        assert refused.value.key == key


def test_an_empty_mix_is_refused():
    nothing = USUAL | {"cement_kg_per_m3": 0, "aggregate_kg_per_m3": [0, 0], "water_kg_per_m3": 0}
    with pytest.raises(InvalidInput) as refused:
        calculation("fresh-concrete-temperature").ask(nothing)
    assert refused.value.key == "cement_kg_per_m3"


USUAL = {
    "cement_kg_per_m3": 340,
    "cement_temperature_c": 55,
    "aggregate_kg_per_m3": [780, 1060],
    "aggregate_temperature_c": [18, 15],
    "aggregate_free_moisture_percent": [4, 1],
    "water_kg_per_m3": 115,
    "water_temperature_c": 14,
}
USUAL_ICE = {key: value for key, value in USUAL.items() if key != "water_kg_per_m3"} | {
    "target_temperature_c": 15,
    "water_and_ice_kg_per_m3": 115,
}


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"aggregate_temperature_c": [-2, 15]}, "Moist aggregate below"),
        ({"water_temperature_c": 61}, "flash set"),
        ({"ice_kg_per_m3": 20}, "melted"),
        ({"aggregate_temperature_c": [-20, -20], "cement_temperature_c": -10, "water_temperature_c": 0}, "freezes"),
    ],
)
def test_what_the_balance_cannot_know_is_told(change, word):
    ask = calculation("fresh-concrete-temperature").ask
    assert any(word in caution for caution in ask(USUAL | change).cautions)
    assert not any(word in caution for caution in ask(USUAL).cautions)


def test_dry_cold_aggregate_and_water_of_60_degrees_raise_no_alarm():
    """Boundaries of the two warnings."""
    change = {
        "aggregate_temperature_c": [-2, 15],
        "aggregate_free_moisture_percent": [0, 1],
        "water_temperature_c": 60,
    }
    cautions = calculation("fresh-concrete-temperature").ask(USUAL | change).cautions
    assert not any("Moist" in caution or "flash" in caution for caution in cautions)


def test_over_75_percent_ice_is_questioned():
    ask = calculation("ice-for-temperature").ask
    some, much = ask(USUAL_ICE | {"target_temperature_c": 8}), ask(USUAL_ICE | {"target_temperature_c": 5})
    assert some.result["ice_share_percent"] < 75 < much.result["ice_share_percent"]
    assert not any("75 %" in caution for caution in some.cautions)
    assert any("75 %" in caution for caution in much.cautions)


# On the way


@modest
@given(st.floats(0, 40), st.floats(-40, 50), st.floats(0, 240), st.sampled_from(VEHICLES))
def test_loaded_as_told_the_concrete_arrives_as_wanted(wanted, air, minutes, vehicle):
    loaded = transport_temperature(wanted, air, minutes, vehicle).plant_temperature_c
    assert temperature_after(loaded, air, minutes, vehicle) == pytest.approx(wanted, abs=1e-9)


@modest
@given(st.floats(0, 45), st.floats(-40, 50), st.floats(0, 600), st.floats(0, 600), st.sampled_from(VEHICLES))
def test_on_the_way_the_concrete_tends_to_the_air_and_never_passes_it(loaded, air, one, other, vehicle):
    early, late = (temperature_after(loaded, air, minutes, vehicle) for minutes in sorted((one, other)))
    assert min(loaded, air) - 1e-9 <= late <= max(loaded, air) + 1e-9
    assert abs(late - air) <= abs(early - air) + 1e-9


@modest
@given(st.floats(0, 40), st.floats(-40, 50), st.floats(1, 240))
def test_an_open_body_and_a_drum_lose_more_than_a_covered_body(wanted, air, minutes):
    drum, covered, open_body = (
        abs(transport_temperature(wanted, air, minutes, vehicle).temperature_change_c) for vehicle in VEHICLES
    )
    assert covered <= open_body <= drum


def test_no_time_on_the_road_changes_nothing():
    for vehicle in VEHICLES:
        assert transport_temperature(20, -10, 0, vehicle).temperature_change_c == 0
        assert temperature_after(20, -10, 0, vehicle) == 20


def test_many_loads_at_once_give_what_one_gives():
    loaded, air, minutes = np.array([20.0, 25.0, 30.0]), np.array([5.0, 35.0, 30.0]), np.array([30.0, 60.0, 90.0])
    together = temperature_after(loaded, air, minutes, "revolving-drum")
    singly = [
        temperature_after(float(c), float(a), float(m), "revolving-drum")
        for c, a, m in zip(loaded, air, minutes, strict=True)
    ]
    assert together.tolist() == pytest.approx(singly)


def test_an_unknown_vehicle_is_refused():
    with pytest.raises(InvalidInput, match="vehicle"):
        temperature_after(20, 10, 30, "barrow")


def test_gain_and_long_drive_are_told():
    ask = calculation("transport-temperature").ask
    hot = {"required_temperature_c": 28, "air_temperature_c": 40, "delivery_time_min": 91, "vehicle": "revolving-drum"}
    cautions = ask(hot).cautions
    assert any("extension" in caution for caution in cautions)
    assert any("90 min" in caution for caution in cautions)
    assert not ask(hot | {"air_temperature_c": 20, "delivery_time_min": 90}).cautions


NAMES = ["fresh-concrete-temperature", "ice-for-temperature", "transport-temperature"]


@pytest.mark.parametrize("name", NAMES)
def test_hostile_inputs_are_refused_by_key(name):
    """A wrong mass or temperature may put the target out of reach of ice: the error then names the target."""
    ice = name == "ice-for-temperature"
    check_hostile_inputs(name, dict.fromkeys(USUAL_ICE, "target_temperature_c") if ice else None)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=50, deadline=None)
@given(data=st.data())
def test_the_ends_of_the_ranges_give_an_answer_or_a_key(name, data):
    check_answer_or_key(name, data.draw(question(name)))
