"""Finishing: when the window opens and closes, the machines it takes, and when joints can be sawn."""

import doctest
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hostile_inputs import check_hostile_inputs, good_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.finishing import SAW_METHODS, finishing_machines, finishing_window, saw_cut, saw_cut_window, window

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
    [
        ("finishing-window", {"initial_set_h": "final_set_h"}),
        ("finishing-machines", {}),
        ("saw-cut-window", {}),
    ],
)
def test_hostile_inputs_give_an_error_by_name_or_a_finite_answer(name, may_blame):
    check_hostile_inputs(name, may_blame)


def test_answer_names_the_longer_rule_for_the_staff():
    """At 14 °C halving is the longer rule: 7 h × 2^(6/11)."""
    answer = calculation("finishing-window").ask(good_inputs("finishing-window"))
    assert any(f"{7 * math.exp2(6 / 11):.1f} h" in caution for caution in answer.cautions)


def test_examples_in_the_docstrings_are_true():
    assert doctest.testmod(window).failed == 0 and doctest.testmod(saw_cut).failed == 0


methods = st.sampled_from(SAW_METHODS)


@few
@given(method=methods, first=st.floats(5, 40), second=st.floats(5, 40))
def test_colder_concrete_is_sawn_later_and_never_outside_the_published_hours(method, first, second):
    cold, warm = (saw_cut_window(t, method) for t in sorted((first, second)))
    assert cold.earliest_h >= warm.earliest_h
    low, high = {"conventional": (4, 12), "early-entry": (1, 4)}[method]
    assert low <= warm.earliest_h <= cold.earliest_h <= high
    assert cold.latest_h == warm.latest_h == {"conventional": 18, "early-entry": 12}[method]


@few
@given(temperature=st.floats(5, 40))
def test_an_early_entry_saw_begins_before_the_conventional_one(temperature):
    early, usual = (saw_cut_window(temperature, method) for method in ("early-entry", "conventional"))
    assert early.earliest_h < usual.earliest_h


@few
@given(method=methods, temperature=st.floats(5, 40), peak=st.floats(0, 48))
def test_a_slab_that_cools_sooner_closes_the_window_and_never_before_it_opens(method, temperature, peak):
    found, alone = saw_cut_window(temperature, method, surface_peak_time_h=peak), saw_cut_window(temperature, method)
    assert found.earliest_h == alone.earliest_h <= found.latest_h <= alone.latest_h
    assert found.latest_h == max(found.earliest_h, min(alone.latest_h, peak))
    assert bool(found.notices) == (peak < found.earliest_h)


@pytest.mark.parametrize("temperature", [4.99, 40.01, math.nan, -10.0])
def test_saw_cuts_outside_the_rules_temperatures_are_refused(temperature):
    with pytest.raises(OutOfRange) as refused:
        saw_cut_window(temperature, "conventional")
    assert refused.value.key == "concrete_temperature_c"


@pytest.mark.parametrize(
    ("given", "key"),
    [({"method": "wet"}, "method"), ({"method": "early-entry", "surface_peak_time_h": -0.1}, "surface_peak_time_h")],
)
def test_a_saw_that_is_not_known_and_a_peak_before_finishing_are_refused_by_name(given, key):
    with pytest.raises(InvalidInput) as refused:
        saw_cut_window(20, **given)
    assert refused.value.key == key


def test_no_window_is_said_in_words():
    asked = {"concrete_temperature_c": 10, "method": "conventional", "surface_peak_time_h": 5}
    answer = calculation("saw-cut-window").ask(asked)
    assert answer.result == {"earliest_h": 12, "latest_h": 12}
    assert any("before it can be cut at 12 h" in caution for caution in answer.cautions)
