"""Finishing: when the window opens and closes, and the machines it takes."""

import doctest
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hostile_inputs import check_hostile_inputs, good_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.finishing import finishing_machines, finishing_window, window

few = settings(max_examples=80, deadline=None)
initial_sets = st.floats(2, 12)
longer = st.floats(0.1, 8)
temperatures = st.floats(0, 40)


@few
@given(initial=initial_sets, more=longer, reference=st.floats(5, 40))
def test_window_at_the_reference_temperature_is_as_tested(initial, more, reference):
    found = finishing_window(initial, initial + more, reference, reference)
    assert (found.window_opens_h, found.window_closes_h) == (initial, initial + more)


@few
@given(initial=initial_sets, more=longer, first=temperatures, second=temperatures)
def test_colder_surface_opens_later_and_gives_a_longer_window(initial, more, first, second):
    cold, warm = (finishing_window(initial, initial + more, 20, t) for t in sorted((first, second)))
    assert cold.window_opens_h >= warm.window_opens_h
    assert cold.window_closes_h >= warm.window_closes_h
    assert cold.window_h >= warm.window_h > 0


@few
@given(initial=initial_sets, more=longer, temperature=temperatures)
def test_all_times_of_the_window_scale_alike(initial, more, temperature):
    found = finishing_window(initial, initial + more, 20, temperature)
    assert found.window_opens_h == pytest.approx(found.factor * initial)
    assert found.window_h == pytest.approx(found.factor * more, rel=1e-9)
    assert found.latest_close_h >= found.window_closes_h


@pytest.mark.parametrize("final", [5.0, 4.99])
def test_final_set_not_later_than_the_initial_is_refused(final):
    with pytest.raises(InvalidInput) as refused:
        finishing_window(5.0, final, 20, 14)
    assert refused.value.key == "final_set_h"


@pytest.mark.parametrize(("surface", "warned"), [(4.9, True), (5.0, False), (20.0, False)])
def test_surface_below_5_c_is_announced(surface, warned):
    assert bool(finishing_window(5.0, 7.0, 20, surface).notices) == warned


@pytest.mark.parametrize(
    ("area", "passes", "rate", "hours", "machines"),
    [(900, 4, 350, 2.5, 5), (700, 4, 350, 2.0, 4), (210, 1, 100, 0.7, 3), (1, 1, 1000, 8, 1), (701, 4, 350, 2.0, 5)],
)
def test_machines_are_rounded_up_but_not_for_noise(area, passes, rate, hours, machines):
    """210 / 100 / 0.7 is exactly three machines, and above three in binary fractions."""
    assert finishing_machines(area, passes, rate, hours).machines_count == machines


@few
@given(area=st.floats(1, 20_000), passes=st.integers(1, 8), rate=st.floats(20, 1500), hours=st.floats(0.25, 12))
def test_machines_found_are_just_enough(area, passes, rate, hours):
    found = finishing_machines(area, passes, rate, hours)
    done = found.machines_count * rate * hours
    assert done >= area * passes * (1 - 1e-8)
    assert done - rate * hours < area * passes
    assert found.machine_hours_h == pytest.approx(area * passes / rate)


@pytest.mark.parametrize(
    ("name", "may_blame"),
    [("finishing-window", {"initial_set_h": "final_set_h"}), ("finishing-machines", {})],
)
def test_hostile_inputs_give_an_error_by_name_or_a_finite_answer(name, may_blame):
    check_hostile_inputs(name, may_blame)


def test_answer_names_the_longer_rule_for_the_staff():
    """At 14 °C halving is the longer rule: 7 h × 2^(6/11)."""
    answer = calculation("finishing-window").ask(good_inputs("finishing-window"))
    assert any(f"{7 * math.exp2(6 / 11):.1f} h" in caution for caution in answer.cautions)


def test_examples_in_the_docstrings_are_true():
    assert doctest.testmod(window).failed == 0
