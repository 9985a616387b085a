"""Joints: the interval between layers, the live edge, stepped layers."""

import doctest

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from hostile_inputs import check_hostile_inputs, good_inputs
from wetfront.calculations import calculation
from wetfront.placing import joints
from wetfront.placing.joints import layer_interval, live_edge, stepped_layers

few = settings(max_examples=80, deadline=None)
volumes = st.floats(0.5, 200)
rates = st.floats(1, 120)
initial_sets = st.floats(1.5, 12)
temperatures = st.floats(5, 35)


def test_contract_of_half_an_hour_overrides_setting():
    """Published limit: 30 min in a highway specification, whatever the setting allows."""
    found = layer_interval(14.4, 16, 5.0, 25, specified_interval_min=30)
    assert found.allowed_by_setting_min > 130
    assert (found.allowed_interval_min, found.within_limit) == (30, False)
    assert found.lowest_placing_rate_m3_per_h == pytest.approx(28.8)


def test_interval_equal_to_the_allowed_one_is_within():
    """Limit case, also where binary fractions miss the equality: 14.1 / 28.2 × 60."""
    assert layer_interval(14.4, 28.8, 5.0, 25, specified_interval_min=30).within_limit
    assert layer_interval(14.1, 28.2, 5.0, 25, specified_interval_min=30).within_limit
    assert not layer_interval(14.4, 28.79, 5.0, 25, specified_interval_min=30).within_limit


@few
@given(volume=volumes, initial=initial_sets, temperature=temperatures, gap=st.floats(0, 30))
def test_lowest_rate_put_back_is_just_within(volume, initial, temperature, gap):
    lowest = layer_interval(volume, 10, initial, temperature, delivery_gap_min=gap).lowest_placing_rate_m3_per_h
    assume(lowest is not None and lowest < 1e5)
    found = layer_interval(volume, lowest, initial, temperature, delivery_gap_min=gap)
    assert found.interval_min == pytest.approx(found.allowed_interval_min)
    assert layer_interval(volume, lowest * 1.001, initial, temperature, delivery_gap_min=gap).within_limit
    assert not layer_interval(volume, lowest * 0.999, initial, temperature, delivery_gap_min=gap).within_limit


@pytest.mark.parametrize("allowed_less_gap", [0, -5])
def test_no_rate_will_do_when_the_gap_takes_all_the_time(allowed_less_gap):
    found = layer_interval(10, 50, 5.0, 20, specified_interval_min=20, delivery_gap_min=20 - allowed_less_gap)
    assert found.lowest_placing_rate_m3_per_h is None
    assert not found.within_limit


@few
@given(volume=volumes, rate=rates, initial=initial_sets, first=temperatures, second=temperatures)
def test_warmer_concrete_never_allows_more_time(volume, rate, initial, first, second):
    cold, warm = (layer_interval(volume, rate, initial, t) for t in sorted((first, second)))
    assert warm.allowed_interval_min <= cold.allowed_interval_min
    assert warm.within_limit <= cold.within_limit


@few
@given(volume=volumes, initial=initial_sets, temperature=temperatures, first=rates, second=rates)
def test_placing_faster_never_lengthens_the_interval(volume, initial, temperature, first, second):
    slow, fast = (layer_interval(volume, rate, initial, temperature) for rate in sorted((first, second)))
    assert fast.interval_min <= slow.interval_min
    assert fast.within_limit >= slow.within_limit
    assert fast.allowed_interval_min == slow.allowed_interval_min


@few
@given(volume=volumes, rate=rates, initial=initial_sets, temperature=temperatures, more=st.floats(0, 60))
def test_age_margin_and_gap_each_take_their_minutes(volume, rate, initial, temperature, more):
    usual = layer_interval(volume, rate, initial, temperature)
    older = layer_interval(volume, rate, initial, temperature, age_at_placing_min=60 + more)
    wider = layer_interval(volume, rate, initial, temperature, margin_min=30 + more)
    stopped = layer_interval(volume, rate, initial, temperature, delivery_gap_min=more)
    assert older.allowed_interval_min == pytest.approx(max(0, usual.allowed_interval_min - more), abs=1e-9)
    assert wider.allowed_interval_min == pytest.approx(older.allowed_interval_min, abs=1e-9)
    assert stopped.interval_min == pytest.approx(usual.interval_min + more)


@few
@given(volume=volumes, rate=rates, initial=initial_sets, temperature=temperatures)
def test_cautious_time_is_never_longer(volume, rate, initial, temperature):
    found = layer_interval(volume, rate, initial, temperature)
    assert 0 <= found.cautious_allowed_interval_min <= found.allowed_interval_min
    assert found.cautious_within_limit <= found.within_limit


@few
@given(rate=rates, allowed=st.floats(5, 300), width=st.floats(0.2, 30), thickness=st.floats(0.1, 1.5))
def test_layer_as_long_as_the_live_edge_is_covered_just_in_time(rate, allowed, width, thickness):
    """Volume conserved: length × width × thickness at that rate takes the allowed interval."""
    length = live_edge(rate, allowed, width, thickness)
    found = layer_interval(length * width * thickness, rate, 1000.0, 20, specified_interval_min=allowed)
    assert found.interval_min == pytest.approx(allowed)
    assert found.within_limit


@pytest.mark.parametrize(
    ("depth", "largest", "layers"),
    [(1.6, 0.4, 4), (1.2, 0.3, 4), (0.9, 0.3, 3), (1.61, 0.4, 5), (0.3, 0.5, 1), (2.1, 0.7, 3)],
)
def test_depth_that_divides_evenly_takes_no_layer_more(depth, largest, layers):
    """1.2 / 0.3 and 2.1 / 0.7 come out above a whole number in binary fractions or below it."""
    assert stepped_layers(depth, largest, 3.0, 10.0, 40).layers_count == layers


@few
@given(depth=st.floats(0.1, 6), largest=st.floats(0.1, 1), step=st.floats(1, 8), width=st.floats(2, 30), rate=rates)
def test_stepped_round_places_its_own_volume(depth, largest, step, width, rate):
    """Conservation: a round places one step of the full depth."""
    found = stepped_layers(depth, largest, step, width, rate)
    assert found.layers_count * found.layer_thickness_m == pytest.approx(depth)
    assert found.layer_thickness_m <= largest * (1 + 1e-8)
    assert (found.layers_count - 1) * largest < depth
    assert found.cover_interval_min * rate / 60 == pytest.approx(depth * width * step)
    assert found.live_face_length_m == pytest.approx(found.layers_count * step)


# The contracts


@pytest.mark.parametrize("name", ["layer-interval", "live-edge", "stepped-layers"])
def test_hostile_inputs_give_an_error_by_name_or_a_finite_answer(name):
    check_hostile_inputs(name)


def test_lowest_rate_is_left_out_if_none_will_do():
    inputs = {**good_inputs("layer-interval"), "delivery_gap_min": 600}
    answer = calculation("layer-interval").ask(inputs)
    assert "lowest_placing_rate_m3_per_h" not in answer.result
    assert any("no rate will do" in caution for caution in answer.cautions)


def test_answer_within_by_one_rule_only_says_that_the_shorter_breaks():
    """66 min at 33 °C: Arrhenius allows 74, halving 55; that must not hide behind `within_limit`."""
    inputs = {
        "layer_volume_m3": 11.0,
        "placing_rate_m3_per_h": 10,
        "initial_set_h": 5.5,
        "concrete_temperature_c": 33,
    }
    answer = calculation("layer-interval").ask(inputs)
    assert answer.result["within_limit"]
    assert answer.cautions[0].startswith("By the halving rule the limit is broken")


def test_examples_in_the_docstrings_are_true():
    assert doctest.testmod(joints).failed == 0
