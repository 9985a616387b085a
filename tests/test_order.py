"""What to order: wastage, steps, loads."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from extreme_inputs import check_answer_or_key, question
from hostile_inputs import check_hostile_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.takeoff.order import (
    CALL_OFF_STEPS_M3,
    in_loads,
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
    shared = order.last_two_loads_m3
    assert (shared is not None) == (order.loads_count > 1 and order.last_load_m3 < 1), "a small last load is shared"
    if shared is not None:
        assert load_m3 / 2 <= shared <= load_m3
        assert 2 * shared == pytest.approx(load_m3 + order.last_load_m3)


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
    assert order.last_two_loads_m3 == 4.25
    inputs = {"net_volume_m3": 40.5, "wastage_percent": 0, "load_m3": 8}
    assert any("4.25" in caution for caution in calculation("order-quantity").ask(inputs).cautions)
    fine = calculation("order-quantity").ask(inputs | {"net_volume_m3": 41})
    assert not any("under 1 m³" in caution for caution in fine.cautions), "just 1 m³ is no small load"
    assert order_quantity(0.4, 0, 0, 0.5, 8).last_two_loads_m3 is None, "a single load has no one before it"


def test_a_load_so_small_that_the_order_has_no_end_is_refused():
    with pytest.raises(InvalidInput) as refused:
        order_quantity(1e6, 5, 0, 0.5, 0.01)
    assert refused.value.key == "load_m3"


# At the border


def test_hostile_inputs_are_refused_by_key():
    check_hostile_inputs("order-quantity", {"net_volume_m3": "load_m3"})


@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_the_ends_of_the_ranges_give_an_answer_or_a_key(data):
    check_answer_or_key("order-quantity", data.draw(question("order-quantity")))
