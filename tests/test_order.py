"""What to order: wastage, steps, loads, probability, the balance load."""

from decimal import Decimal
from fractions import Fraction
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from extreme_inputs import check_answer_or_key, question
from hostile_inputs import check_hostile_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.takeoff.order import (
    CALL_OFF_STEPS_M3,
    Wastage,
    balance_call,
    in_loads,
    loads_of,
    loads_surely_needed,
    order_for_probability,
    order_quantity,
    rounded_up_to_step,
)

modest = settings(max_examples=100, deadline=None)
net = st.floats(0.5, 3000)
wastage = st.floats(0, 30)
line = st.floats(0, 3)
step = st.sampled_from(CALL_OFF_STEPS_M3)
load = st.sampled_from([1.0, 6.0, 7.5, 7.6455, 8.0, 9.0])


@modest
@given(net, wastage, line, step, load)
def test_an_order_covers_the_need_and_is_never_a_whole_step_more(net_m3, percent, line_m3, step_m3, load_m3):
    order = order_quantity(net_m3, percent, line_m3, step_m3, load_m3)
    need = net_m3 * (1 + percent / 100) + line_m3
    assert order.gross_volume_m3 == pytest.approx(need, rel=1e-12)
    assert order.order_volume_m3 >= need - 1e-6 * step_m3 - 1e-12 * need
    assert order.order_volume_m3 - need < step_m3
    steps = Decimal(repr(order.order_volume_m3)) / Decimal(repr(step_m3))
    assert steps == steps.to_integral_value(), "a whole number of steps in decimal arithmetic"


@modest
@given(net, wastage, line, step, load)
def test_loads_make_up_the_order_and_the_last_is_never_empty(net_m3, percent, line_m3, step_m3, load_m3):
    order = order_quantity(net_m3, percent, line_m3, step_m3, load_m3)
    assert 0 < order.last_load_m3 <= load_m3 * (1 + 1e-9)
    whole = order.full_loads_count * Fraction(repr(load_m3)) + Fraction(repr(order.last_load_m3))
    assert float(whole) == pytest.approx(order.order_volume_m3, abs=1e-9)
    sizes = loads_of(order)
    assert len(sizes) == order.loads_count
    assert sum(sizes) == pytest.approx(order.order_volume_m3, abs=1e-6)
    assert all(0 < one <= load_m3 * (1 + 1e-9) for one in sizes)
    if order.loads_count > 1:
        assert min(sizes) >= min(1.0, load_m3 / 2), "a small last load is shared"


@pytest.mark.parametrize(
    ("net_m3", "percent", "step_m3", "expected"),
    [
        (100, 7, 0.25, 107.0),
        (100, 7, 0.1, 107.0),
        (0.1 + 0.2, 0, 0.1, 0.3),
        (107.00000000000001, 0, 0.25, 107.0),
        (107.001, 0, 0.25, 107.25),
        (50, 0, 0.5, 50.0),
        (50.0001, 0, 0.5, 50.5),
        (1e-9, 0, 0.5, 0.5),
    ],
)
def test_an_exact_step_stays_and_a_hair_more_takes_the_next(net_m3, percent, step_m3, expected):
    assert order_quantity(net_m3, percent, 0, step_m3, 8).order_volume_m3 == expected


@modest
@given(st.integers(1, 50_000), step)
def test_every_multiple_of_a_step_stays_as_it_is(count, step_m3):
    volume = float(count * Decimal(repr(step_m3)))
    assert rounded_up_to_step(volume, step_m3) == volume


def test_a_last_load_that_is_just_full_is_a_full_load():
    for volume, loads_count in ((16, 2), (24, 3), (80, 10)):
        order = order_quantity(volume, 0, 0, 0.5, 8)
        assert (order.loads_count, order.last_load_m3) == (loads_count, 8)
    order = in_loads(2.1, 0.1, 0.7)
    assert (order.loads_count, order.last_load_m3) == (3, 0.7)
    worked_out = 2.3999999999999995 / 3
    assert worked_out < 0.8
    assert in_loads(1.6, 0.1, worked_out).loads_count == 2, "a load that was worked out in binary"


@pytest.mark.parametrize("wrong", [0.3, 0.2, 0.75, 0.10001])
def test_a_step_that_no_plant_takes_is_refused(wrong):
    with pytest.raises(InvalidInput) as refused:
        order_quantity(10, 5, 0, wrong, 8)
    assert refused.value.key == "rounding_step_m3"


def test_a_small_last_load_is_shared_with_the_one_before():
    order = order_quantity(40.5, 0, 0, 0.5, 8)
    assert order.last_load_m3 == 0.5
    assert loads_of(order) == (8, 8, 8, 8, 4.25, 4.25)
    inputs = {"net_volume_m3": 40.5, "wastage_percent": 0, "load_m3": 8}
    assert any("4.25" in caution for caution in calculation("order-quantity").ask(inputs).cautions)
    fine = calculation("order-quantity").ask(inputs | {"net_volume_m3": 41})
    assert not any("under 1 m³" in caution for caution in fine.cautions), "just 1 m³ is no small load"
    assert order_quantity(0.4, 0, 0, 0.5, 8).last_two_loads_m3 is None, "a single load has no one before it"


def test_a_load_so_small_that_the_order_has_no_end_is_refused():
    with pytest.raises(InvalidInput) as refused:
        order_quantity(1e6, 5, 0, 0.5, 0.01)
    assert refused.value.key == "load_m3"


# Wastage as a distribution

usual = Wastage(4.0, 2.0)


@modest
@given(net, st.floats(0, 12), st.floats(0.1, 6), line, step, st.floats(0.55, 0.99))
def test_the_chosen_order_is_enough_as_often_as_asked_and_a_step_less_is_not(n, mean, spread, line_m3, step_m3, chance):
    chosen = order_for_probability(n, Wastage(mean, spread), line_m3, step_m3, 8, chance)
    assert chosen.probability_enough >= chance - 1e-6
    less = chosen.order.order_volume_m3 - step_m3
    need_mean, need_spread = n * (1 + mean / 100) + line_m3, n * spread / 100
    assume(less > 0)
    z_less = (less - need_mean) / need_spread
    z_chosen = (chosen.order.order_volume_m3 - need_mean) / need_spread
    assert NormalDist().cdf(z_less) < chance
    assert NormalDist().cdf(z_chosen) == pytest.approx(chosen.probability_enough)


def test_left_over_and_shortage_agree_with_draws():
    """Second method: a million normal draws; conservation: left over less shortage is order less need, in the mean."""
    chosen = order_for_probability(200, usual, 1.0, 0.5, 8, 0.8)
    draws = np.random.default_rng(7).normal(200 * 1.04 + 1, 200 * 0.02, 1_000_000)
    surplus = chosen.order.order_volume_m3 - draws
    assert chosen.mean_left_over_m3 == pytest.approx(np.clip(surplus, 0, None).mean(), abs=0.02)
    assert chosen.mean_short_m3 == pytest.approx(np.clip(-surplus, 0, None).mean(), abs=0.02)
    assert chosen.probability_enough == pytest.approx((surplus >= 0).mean(), abs=0.003)
    assert chosen.mean_left_over_m3 - chosen.mean_short_m3 == pytest.approx(chosen.order.order_volume_m3 - 209)


def test_a_surer_order_is_never_smaller():
    orders = [
        order_for_probability(200, usual, 1, 0.1, 8, p).order.order_volume_m3 for p in (0.5, 0.8, 0.9, 0.95, 0.99)
    ]
    assert orders == sorted(orders)
    assert orders[0] < orders[-1]


def test_without_spread_it_is_the_plain_order():
    """Limit case."""
    chosen = order_for_probability(100, Wastage(7, 0), 0, 0.25, 8, 0.9)
    plain = order_quantity(100, 7, 0, 0.25, 8)
    assert chosen.order.order_volume_m3 == plain.order_volume_m3
    assert (chosen.probability_enough, chosen.mean_short_m3) == (1.0, 0.0)


@pytest.mark.parametrize(
    ("spread", "chance", "key"),
    [
        (2.0, 0.0, "probability"),
        (2.0, 1.0, "probability"),
        (-1.0, 0.9, "spread_percent"),
        (500.0, 0.05, "spread_percent"),
    ],
)
def test_an_impossible_wish_is_refused_by_key(spread, chance, key):
    with pytest.raises(InvalidInput) as refused:
        order_for_probability(100, Wastage(4, spread), 0, 0.5, 8, chance)
    assert refused.value.key == key


@modest
@given(net, st.floats(0, 10), st.floats(0, 5), st.floats(0.6, 0.99))
def test_loads_surely_needed_are_no_more_than_those_ordered(n, mean, spread, chance):
    sure = loads_surely_needed(n, Wastage(mean, spread), 0, 8, chance)
    chosen = order_for_probability(n, Wastage(mean, spread), 0, 0.5, 8, chance)
    assert 0 <= sure <= chosen.order.loads_count


# The balance load


@modest
@given(net, st.floats(5, 80), st.floats(0, 180))
def test_the_balance_load_called_in_time_arrives_when_the_last_full_load_is_empty(n, rate, notice):
    order = order_quantity(n, 5, 0.5, 0.5, 8)
    call = balance_call(order, rate, notice)
    assert call.placed_at_call_m3 + call.left_at_call_m3 == pytest.approx(order.order_volume_m3)
    full_loads_empty_h = order.full_loads_count * 8 / rate
    if call.measured_before_call:
        assert call.call_after_h + notice / 60 == pytest.approx(full_loads_empty_h)
        assert call.placed_at_call_m3 > 0
    else:
        assert (call.call_after_h, call.placed_at_call_m3) == (0, 0)
        assert notice / 60 >= full_loads_empty_h - 1e-9


def test_a_balance_load_that_has_to_be_called_before_the_start_is_a_guess():
    order = order_quantity(20, 0, 0, 0.5, 8)
    assert balance_call(order, 40, 30).measured_before_call is False
    assert balance_call(order, 10, 30).measured_before_call is True


# At the border


def test_hostile_inputs_are_refused_by_key():
    check_hostile_inputs("order-quantity", {"net_volume_m3": "load_m3"})


@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_the_ends_of_the_ranges_give_an_answer_or_a_key(data):
    check_answer_or_key("order-quantity", data.draw(question("order-quantity")))
