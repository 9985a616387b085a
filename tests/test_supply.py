"""Trucks, pump output, line content, pump pressure."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from extreme_inputs import check_answer_or_key, question
from hostile_inputs import check_hostile_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.placing.supply import pipeline_content, pump_output, pump_pressure, truck_fleet

modest = settings(max_examples=80, deadline=None)
volumes = st.floats(0.5, 2000)
loads = st.floats(1, 12)
rates = st.floats(3, 120)
trips = st.floats(20, 240)


def fleet_of(volume, load, rate, trip, count=None):
    assume(trip >= load / rate * 60)
    return truck_fleet(volume, load, rate, trip, count)


@modest
@given(volumes, loads, rates, trips)
def test_trucks_needed_keep_the_pump_going_with_none_too_many(volume, load, rate, trip):
    fleet = fleet_of(volume, load, rate, trip)
    assert 1 <= fleet.trucks_count <= fleet.loads_count
    assert fleet.loads_count * load >= volume * (1 - 1e-6)
    assert (fleet.loads_count - 1) * load < volume
    assert (fleet.trucks_count - 1) * fleet.headway_min < trip
    if fleet.trucks_count < fleet.loads_count:
        assert fleet.trucks_count * fleet.headway_min >= trip * (1 - 1e-6)
    assert (fleet.supply_rate_m3_per_h, fleet.wait_between_loads_min) == (None, None)
    assert fleet.duration_h == pytest.approx(volume / rate)


@modest
@given(volumes, loads, rates, trips, st.integers(1, 60))
def test_supply_never_beats_the_pump_and_one_truck_more_never_slows_it(volume, load, rate, trip, count):
    fleet, more = fleet_of(volume, load, rate, trip, count), fleet_of(volume, load, rate, trip, count + 1)
    assert fleet.supply_rate_m3_per_h <= rate
    assert fleet.wait_between_loads_min >= 0
    assert fleet.duration_h * fleet.supply_rate_m3_per_h == pytest.approx(volume)
    assert more.supply_rate_m3_per_h >= fleet.supply_rate_m3_per_h
    assert more.duration_h <= fleet.duration_h
    cycle_min = fleet.headway_min + fleet.wait_between_loads_min
    assert cycle_min == pytest.approx(load / fleet.supply_rate_m3_per_h * 60), "unloading and waiting make the cycle"


@modest
@given(volumes, loads, rates, trips, st.integers(0, 5))
def test_with_as_many_trucks_as_loads_the_placing_rate_holds(volume, load, rate, trip, extra):
    loads_count = fleet_of(volume, load, rate, trip).loads_count
    fleet = fleet_of(volume, load, rate, trip, loads_count + extra)
    assert fleet.supply_rate_m3_per_h == rate
    assert fleet.wait_between_loads_min == pytest.approx(0, abs=1e-9)


def test_one_truck_fewer_than_the_loads_has_to_come_twice():
    """Boundary of the rule: three loads, two trucks, a trip of 90 min: 2 × 8 m³ every 90 min."""
    assert truck_fleet(24, 8, 48, 90, 3).supply_rate_m3_per_h == 48
    assert truck_fleet(24, 8, 48, 90, 2).supply_rate_m3_per_h == pytest.approx(2 * 8 * 60 / 90)


@modest
@given(volumes, loads, rates, trips)
def test_the_trucks_needed_make_no_wait(volume, load, rate, trip):
    needed = fleet_of(volume, load, rate, trip).trucks_count
    assert fleet_of(volume, load, rate, trip, needed).wait_between_loads_min == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("trip", "trucks"), [(10.0, 1), (60.0, 6), (60.001, 7), (65.0, 7)])
def test_an_exact_multiple_of_the_headway_needs_no_truck_more(trip, trucks):
    assert truck_fleet(150, 10, 60, trip).trucks_count == trucks


def test_headway_that_binary_arithmetic_does_not_hold_exactly_is_still_a_multiple():
    """0.7 / 4.2 × 60 = 10 min, 0.7 × 3 = 2.1: both a hair off in binary."""
    fleet = truck_fleet(2.1, 0.7, 4.2, 10.0)
    assert (fleet.loads_count, fleet.trucks_count) == (3, 1)


def test_a_round_trip_shorter_than_unloading_is_refused_and_an_equal_one_is_not():
    with pytest.raises(OutOfRange) as refused:
        truck_fleet(50, 8, 20, 23.9)
    assert refused.value.key == "round_trip_min"
    assert truck_fleet(50, 8, 20, 24).trucks_count == 1


def test_a_queue_worked_out_truck_by_truck_finishes_up_to_one_round_trip_earlier():
    """Second method: each truck unloads when it is there and the pump is free, and is back a round trip later."""
    volume, load, rate, trip = 160.0, 8.0, 40.0, 84.0
    unload = load / rate * 60
    for count in (3, 5, 6, 7, 10):
        ready, pump_free = [0.0] * count, 0.0
        for _ in range(20):
            truck = min(range(count), key=lambda one: ready[one])
            pump_free = max(pump_free, ready[truck]) + unload
            ready[truck] = pump_free + trip - unload
        steady_min = truck_fleet(volume, load, rate, trip, count).duration_h * 60
        assert steady_min - trip <= pump_free <= steady_min + 1e-9


def test_too_few_trucks_are_told_and_the_optional_keys_come_only_then():
    ask = calculation("truck-fleet").ask
    inputs = {"volume_m3": 160, "load_m3": 8, "placing_rate_m3_per_h": 40, "round_trip_min": 84}
    assert set(ask(inputs).result) == {"headway_min", "loads_count", "trucks_count", "duration_h"}
    few = ask(inputs | {"trucks_available_count": 5})
    assert {"supply_rate_m3_per_h", "wait_between_loads_min"} <= set(few.result)
    assert any("Too few" in caution for caution in few.cautions)
    assert not any("Too few" in caution for caution in ask(inputs | {"trucks_available_count": 7}).cautions)


def test_a_fleet_beyond_reason_is_refused():
    with pytest.raises(InvalidInput) as refused:
        truck_fleet(1e7, 0.001, 1, 60)
    assert refused.value.key == "load_m3"


@modest
@given(st.floats(1, 200), st.floats(1, 100), st.floats(1, 100))
def test_a_pump_gives_at_most_its_plate_value(plate, filling, working):
    found = pump_output(plate, filling, working)
    assert 0 < found.average_output_m3_per_h <= found.pumping_rate_m3_per_h <= plate * (1 + 1e-12)
    assert pump_output(plate, 100, 100).average_output_m3_per_h == pytest.approx(plate)


@pytest.mark.parametrize(("diameter", "litres"), [(65, 3.32), (80, 5.03), (100, 7.85), (125, 12.27), (150, 17.67)])
def test_content_of_the_usual_lines(diameter, litres):
    """Recomputed litres per metre."""
    assert pipeline_content(diameter, 1).content_l_per_m == pytest.approx(litres, abs=0.005)


@modest
@given(st.floats(50, 250), st.floats(0, 500), st.floats(0, 500))
def test_lines_in_a_row_hold_the_sum(diameter, one, other):
    both = pipeline_content(diameter, one + other).content_m3
    assert both == pytest.approx(
        pipeline_content(diameter, one).content_m3 + pipeline_content(diameter, other).content_m3
    )
    assert both * 1000 == pytest.approx(pipeline_content(diameter, 1).content_l_per_m * (one + other))


@modest
@given(
    st.floats(0, 500),
    st.floats(-200, 300),
    st.integers(0, 20),
    st.integers(0, 20),
    st.integers(0, 100),
    st.integers(0, 3),
    st.floats(0, 50),
)
def test_pressure_is_the_sum_of_its_parts_and_every_part_only_adds(along, up, b90, b45, couplings, hoses, allowance):
    found = pump_pressure(along, up, b90, b45, couplings, hoses, allowance)
    by_hand = 20 + along / 20 + max(up, 0) / 4 + b90 + b45 / 2 + couplings / 10 + 2 * hoses
    assert found.pressure_bar == pytest.approx(by_hand * (1 + allowance / 100))
    longer = pump_pressure(along + 20, up, b90, b45, couplings, hoses, allowance)
    assert longer.pressure_bar - found.pressure_bar == pytest.approx(1 + allowance / 100)
    higher = pump_pressure(along, up + 4, b90, b45, couplings, hoses, allowance)
    assert higher.pressure_bar >= found.pressure_bar


def test_a_drop_is_not_deducted():
    assert pump_pressure(100, -50).pressure_bar == pump_pressure(100, 0).pressure_bar


def test_the_rise_term_is_the_weight_of_the_concrete():
    """Second method: 4 m at 24 kN/m³ are 0.96 bar; the rule's 1 bar lies 4 % above it."""
    assert pump_pressure(0, 4).rise_bar == pytest.approx(4 * 24 / 100, rel=0.05)
    assert pump_pressure(0, 4).rise_bar > 4 * 24 / 100


def test_power_is_given_only_for_a_rate_and_over_85_bar_is_warned():
    ask = calculation("pump-pressure").ask
    easy = ask({"horizontal_length_m": 100, "vertical_rise_m": 50})
    assert "power_kw" not in easy.result
    assert not any("85 bar" in caution for caution in easy.cautions)
    hard = ask({"horizontal_length_m": 300, "vertical_rise_m": 180, "placing_rate_m3_per_h": 30})
    assert hard.result["power_kw"] == pytest.approx(hard.result["pressure_bar"] * 30 / 25)
    assert any("85 bar" in caution for caution in hard.cautions)


def test_power_of_the_rule_covers_the_hydraulic_power():
    """Second method: bar × m³/h / 36 is the hydraulic power in kW; the rule is that over 69 % efficiency."""
    found = pump_pressure(100, 20, placing_rate_m3_per_h=40)
    hydraulic_kw = found.pressure_bar * 1e5 * 40 / 3600 / 1000
    assert hydraulic_kw / found.power_kw == pytest.approx(0.694, abs=0.001)
    assert math.isfinite(found.power_kw)


NAMES = ["truck-fleet", "pump-output", "pipeline-content", "pump-pressure"]


@pytest.mark.parametrize("name", NAMES)
def test_hostile_inputs_are_refused_by_key(name):
    check_hostile_inputs(name, {"load_m3": "round_trip_min", "placing_rate_m3_per_h": "round_trip_min"})


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=50, deadline=None)
@given(data=st.data())
def test_the_ends_of_the_ranges_give_an_answer_or_a_key(name, data):
    check_answer_or_key(name, data.draw(question(name)))
