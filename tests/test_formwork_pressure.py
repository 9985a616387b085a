"""Pressure on formwork: second statements, limits, laws, the envelope. The way back stands in test_max_rise."""

import dataclasses
import doctest
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hostile_inputs import check_hostile_inputs, good_inputs
from pressure_pours import (
    GROUPS,
    METHODS,
    aci_pours,
    ciria_pours,
    ciria_wall,
    din_pours,
    din_wall,
    rates,
    temperatures,
    wall,
)
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.formwork import (
    aci,
    aci_pressure,
    ciria,
    ciria_pressure,
    din,
    din_pressure,
    envelope,
    pressure,
    pressure_envelope,
)

STUDIES = {
    study["id"]: study
    for study in tomllib.loads((Path(__file__).parent / "reference" / "measured.toml").read_text("utf-8"))["study"]
}
each_method = pytest.mark.parametrize("method", METHODS)
few = settings(max_examples=60, deadline=None)


# Published examples and second statements


@pytest.mark.parametrize("rise_ft", [2.0, 5.0, 6.5])
@pytest.mark.parametrize("temperature_f", [40.0, 59.0, 95.0])
def test_metric_equation_agrees_with_the_inch_pound_one(rise_ft, temperature_f):
    """Second method: 150 + 9000 R/T psf; the metric coefficients are rounded, by less than 0.5 %."""
    pour = wall(pour_height_m=4.0, concrete_temperature_c=(temperature_f - 32) / 1.8)
    found = aci_pressure(pour, rise_ft * 0.3048).formula_kn_per_m2
    assert found == pytest.approx((150 + 9000 * rise_ft / temperature_f) * 0.04788026, rel=0.005)


@pytest.mark.parametrize("rise_ft", [7.5, 10.0, 14.5])
@pytest.mark.parametrize("temperature_f", [40.0, 59.0, 95.0])
def test_second_wall_equation_agrees_with_the_inch_pound_one(rise_ft, temperature_f):
    """Second method: 150 + 43 400/T + 2800 R/T psf."""
    pour = wall(concrete_temperature_c=(temperature_f - 32) / 1.8)
    found = aci_pressure(pour, rise_ft * 0.3048).formula_kn_per_m2
    assert found == pytest.approx(
        (150 + 43_400 / temperature_f + 2800 * rise_ft / temperature_f) * 0.04788026, rel=5e-3
    )


@given(rise=st.floats(0.2, 7), setting_h=st.floats(5, 20))
def test_self_compacting_line_is_the_rounded_form_of_its_journal_formula(rise, setting_h):
    """Concrete International, June 2010: (1.0 m + 0.26 v tE) × weight density; 32.5 is tabulated as 33."""
    pour = din_wall(consistence_class="self-compacting", compaction="self-compacting", end_of_setting_h=setting_h)
    found = din_pressure(pour, rise).formula_kn_per_m2
    assert found == pytest.approx((1.0 + 0.26 * rise * setting_h) * 25, rel=0.016)


@pytest.mark.parametrize(
    ("name", "at_10_h", "at_20_h"),
    [("f1", 1.15, 1.45), ("f2", 1.25, 1.80), ("f3", 1.40, 2.15), ("f4", 1.70, 3.10), ("f5", 2, 4), ("f6", 2, 4)],
)
def test_setting_factor_lines_meet_the_tabled_values(name, at_10_h, at_20_h):
    """DIN 18218 tables the factor at 5, 10 and 20 h (values from memory); the lines keep within 1.5 %."""
    assert din.setting_factor(name, 5) == 1
    assert din.setting_factor(name, 10) == pytest.approx(at_10_h, rel=0.015)
    assert din.setting_factor(name, 20) == pytest.approx(at_20_h, rel=0.015)


def test_tall_wall_of_self_compacting_concrete_is_not_designed_below_what_was_measured():
    """Measured study: 37.9 kN/m² at most; where no method covers the concrete the answer stays hydrostatic."""
    study = STUDIES["tall-wall-self-compacting-slow"]
    height = study["conditions"]["height_m"]
    rise = study["conditions"]["rate_of_rise_m_per_h_maximum"]
    measured = study["observed"][0]["values"][0] + study["observed"][0]["plus_minus"]
    flowing = {"compaction": "self-compacting", "pour_height_m": height}
    american = aci_pressure(wall(**flowing), rise)
    british = ciria_pressure(ciria_wall(form_height_m=height, **flowing), rise)
    assert american.max_pressure_kn_per_m2 == pytest.approx(height * 2400 * 9.81 / 1000)
    assert british.max_pressure_kn_per_m2 == pytest.approx(height * 25)
    assert {american.governs, british.governs} == {"full-head"}
    for setting_h in (1, 5, 8, 20):
        for temperature in (10, 15, 40):
            pour = din_wall(
                consistence_class="self-compacting",
                end_of_setting_h=setting_h,
                concrete_temperature_c=temperature,
                **flowing,
            )
            assert din_pressure(pour, rise).max_pressure_kn_per_m2 > measured


# Limits


@pytest.mark.parametrize(
    ("height", "rise", "equation"),
    [
        (4.20, 2.09, "walls-and-columns"),
        (4.20, 18.9 / 9, "second-wall"),
        (4.20, 2.10, "second-wall"),
        (4.2001, 2.09, "second-wall"),
        (4.21, 2.09, "second-wall"),
        (4.21, 4.50, "second-wall"),
        (9.0, 4.51, "none"),
    ],
)
def test_american_equations_change_at_their_limits(height, rise, equation):
    """4.2 m is still low, 2.1 m/h (also as 18.9 / 9) belongs to the second equation, 4.5 m/h still has it."""
    found = aci_pressure(wall(pour_height_m=height), rise)
    assert found.equation == equation
    assert (found.governs == "full-head") == (equation == "none")


def test_jump_at_4_2_m_has_the_stated_size_and_is_announced():
    """Cw Cc (1156 − 541 R)/(T + 17.8): 61.2 to 88.7 kN/m² at 1.2 m/h, 8 °C, Cc 1.4."""
    cold = {"concrete_temperature_c": 8, "cement_group": "high-blend"}
    low = aci_pressure(wall(pour_height_m=4.2, **cold), 1.2)
    high = aci_pressure(wall(pour_height_m=4.21, **cold), 1.2)
    assert low.max_pressure_kn_per_m2 == pytest.approx(61.2, abs=0.05)
    assert high.max_pressure_kn_per_m2 == pytest.approx(88.7, abs=0.05)
    assert "near-height-limit" in [notice.code for notice in low.notices]
    assert "near-height-limit" not in [notice.code for notice in high.notices]
    assert not aci_pressure(wall(pour_height_m=3.9), 1.2).notices


def test_metric_gap_at_2_1_m_per_h_has_the_stated_size():
    """19.9/(T + 17.8) by rounding of the metric coefficients."""
    pour = wall(pour_height_m=4.0)
    below, at = (aci_pressure(pour, rise).max_pressure_kn_per_m2 for rise in (2.1 - 1e-7, 2.1))
    assert at - below == pytest.approx(19.9 / 32.8, abs=1e-3)


@pytest.mark.parametrize(
    ("other", "code"),
    [
        ({"slump_mm": 175.1}, "slump-over-limit"),
        ({"vibration_depth_m": 1.21}, "vibration-too-deep"),
        ({"compaction": "external"}, "compaction-not-covered"),
        ({"compaction": "self-compacting"}, "compaction-not-covered"),
    ],
)
def test_outside_the_american_guide_the_full_head_is_taken_and_said(other, code):
    found = aci_pressure(wall(**other), 0.5)
    assert (found.governs, found.full_head_depth_m, found.formula_kn_per_m2) == ("full-head", 6.0, None)
    assert code in [notice.code for notice in found.notices]
    assert aci_pressure(wall(slump_mm=175, vibration_depth_m=1.2), 0.5).governs == "formula"


@pytest.mark.parametrize(
    ("density", "coefficient"),
    [(800, 0.80), (1391, 0.80), (1393, 0.80022), (2239.9, 0.98274), (2240, 1), (2400, 1), (2401, 1.03491)],
)
def test_unit_weight_coefficient_at_the_edges_of_its_table(density, coefficient):
    assert aci.unit_weight_coefficient(density) == pytest.approx(coefficient, abs=1e-5)


def test_british_formula_just_full_gives_the_full_head():
    """C1√R = H: the formula gives D H, the same as the cap; above it the form fills before the concrete stiffens."""
    found = ciria_pressure(ciria_wall(), 16.0)
    assert (found.formula_kn_per_m2, found.max_pressure_kn_per_m2, found.governs) == (100, 100, "full-head")
    faster = ciria_pressure(ciria_wall(), 16.01)
    assert (faster.formula_kn_per_m2, faster.max_pressure_kn_per_m2) == (None, 100)
    assert "full-before-stiff" in [notice.code for notice in faster.notices]


def test_british_temperature_limits():
    """Below 5 °C full head; above 30 °C the formula with a warning; K is told in every case."""
    cold, cool, warm, hot = (
        ciria_pressure(ciria_wall(form_height_m=6.0, concrete_temperature_c=t), 1.0) for t in (4.9, 5, 30, 31)
    )
    assert (cold.governs, [notice.code for notice in cold.notices]) == ("full-head", ["too-cold"])
    assert cold.temperature_coefficient == pytest.approx((36 / 20.9) ** 2)
    assert (cool.formula_kn_per_m2 is not None, cool.notices, warm.notices) == (True, (), ())
    assert (hot.formula_kn_per_m2 is not None, [notice.code for notice in hot.notices]) == (True, ["above-charts"])


def test_pour_higher_than_the_form_is_refused():
    with pytest.raises(InvalidInput) as refused:
        ciria_wall(pour_height_m=4.01)
    assert refused.value.key == "pour_height_m"


@pytest.mark.parametrize(
    ("other", "rise", "inside"),
    [
        ({"end_of_setting_h": 20}, 0.5, True),
        ({"end_of_setting_h": 20.1}, 0.5, False),
        ({"pour_height_m": 10}, 7.0, True),
        ({"pour_height_m": 10}, 7.01, False),
        ({"pour_height_m": 10.01}, 2.0, False),
        ({"compaction": "external"}, 2.0, False),
        ({"compaction": "self-compacting"}, 2.0, False),
        ({"consistence_class": "self-compacting"}, 0.2, False),
    ],
)
def test_german_standard_ends_at_its_limits(other, rise, inside):
    """tE = 20 h, v = 7 m/h and h = 10 m still hold; beyond, or compacted otherwise, the full head."""
    found = din_pressure(din_wall(**other), rise)
    assert (found.formula_kn_per_m2 is not None) == inside
    assert inside or found.governs == "full-head"


def test_setting_under_5_h_counts_as_5_h():
    early, at_5 = (din_pressure(din_wall(end_of_setting_h=hours), 2.0) for hours in (3, 5))
    assert early.max_pressure_kn_per_m2 == at_5.max_pressure_kn_per_m2
    assert [notice.code for notice in early.notices] == ["setting-counts-as-5-h"]


def test_reduction_for_warm_concrete_stops_10_k_above_the_reference():
    assert din.temperature_factor("f5", 15, 25) == pytest.approx(0.70)
    assert din.temperature_factor("f5", 15, 40) == din.temperature_factor("f5", 15, 25)
    assert din.temperature_factor("f5", 15, 5) == pytest.approx(1.5)
    assert din.temperature_factor("f4", 15, 5) == pytest.approx(1.3)


@each_method
def test_filling_from_the_base_gives_full_head_and_a_quarter(method):
    """Also outside the method's validity: the surge is tried first."""
    pours = {
        "aci": wall(placement="pumped-from-base", slump_mm=250),
        "ciria": ciria_wall(placement="pumped-from-base", concrete_temperature_c=2),
        "din": din_wall(placement="pumped-from-base", pour_height_m=12),
    }
    found = METHODS[method][1](pours[method], 1.0)
    assert found.max_pressure_kn_per_m2 == pytest.approx(1.25 * found.full_head_kn_per_m2)
    assert (found.full_head_depth_m, found.governs) == (pours[method].pour_height_m, "full-head")


# Laws


@each_method
@few
@given(data=st.data(), first=rates, second=rates)
def test_rising_faster_never_lowers_the_pressure(method, data, first, second):
    pours, forward, _ = METHODS[method]
    pour = data.draw(pours)
    slow, fast = sorted((first, second))
    assert forward(pour, slow).max_pressure_kn_per_m2 <= forward(pour, fast).max_pressure_kn_per_m2 * (1 + 1e-12)


@each_method
@few
@given(data=st.data(), rise=rates, first=temperatures, second=temperatures)
def test_colder_concrete_never_lowers_the_pressure(method, data, rise, first, second):
    pours, forward, _ = METHODS[method]
    pour = data.draw(pours)
    cold, warm = (dataclasses.replace(pour, concrete_temperature_c=t) for t in sorted((first, second)))
    assert forward(cold, rise).max_pressure_kn_per_m2 >= forward(warm, rise).max_pressure_kn_per_m2 * (1 - 1e-12)


@each_method
@few
@given(data=st.data(), rise=rates)
def test_pressure_keeps_between_minimum_and_full_head(method, data, rise):
    """Cut at the full head (with the surge when filled from the base); the depth never passes the pour height."""
    pours, forward, _ = METHODS[method]
    pour = data.draw(pours)
    found = forward(pour, rise)
    assert found.max_pressure_kn_per_m2 <= pour.full_head_kn_per_m2
    assert found.max_pressure_kn_per_m2 >= min(found.minimum_kn_per_m2, pour.full_head_kn_per_m2)
    assert 0 < found.full_head_depth_m <= pour.pour_height_m
    assert (found.governs == "full-head") == (found.max_pressure_kn_per_m2 == pour.full_head_kn_per_m2)


@pytest.mark.parametrize(("weaker", "stronger"), [(0, 1), (1, 3), (2, 3), (3, 4)])
@few
@given(data=st.data(), rise=rates)
def test_slower_cement_never_lowers_the_pressure(weaker, stronger, data, rise):
    for pours, forward in ((aci_pours, aci_pressure), (ciria_pours, ciria_pressure)):
        pour = data.draw(pours)
        low, high = (dataclasses.replace(pour, cement_group=GROUPS[index]) for index in (weaker, stronger))
        assert forward(low, rise).max_pressure_kn_per_m2 <= forward(high, rise).max_pressure_kn_per_m2


@few
@given(pour=din_pours, rise=rates, first=st.floats(2, 22), second=st.floats(2, 22))
def test_later_setting_never_lowers_the_pressure(pour, rise, first, second):
    early, late = (dataclasses.replace(pour, end_of_setting_h=hours) for hours in sorted((first, second)))
    assert din_pressure(early, rise).max_pressure_kn_per_m2 <= din_pressure(late, rise).max_pressure_kn_per_m2 + 1e-9


@few
@given(pour=ciria_pours, rise=st.floats(0.1, 8), nudge=st.floats(1e-9, 1e-6))
def test_british_pressure_is_continuous_in_the_rise_rate(pour, rise, nudge):
    near, far = ciria_pressure(pour, rise), ciria_pressure(pour, rise + nudge)
    assert abs(near.max_pressure_kn_per_m2 - far.max_pressure_kn_per_m2) < 40 * 1e-3


# Pressure over the height


@few
@given(maximum=st.floats(1, 400), weight=st.floats(8, 40), height=st.floats(0.2, 15))
def test_force_and_resultant_are_those_of_the_summed_pressure(maximum, weight, height):
    """Second method: trapezoidal sum over 2,001 depths."""
    depths = np.linspace(0, height, 2001)
    found = pressure_envelope(maximum, weight, height, depths)
    pressures = np.array(found.pressures_kn_per_m2)
    force = np.trapezoid(pressures, depths)
    assert found.force_kn_per_m == pytest.approx(force, rel=1e-5)
    assert found.resultant_height_m == pytest.approx(
        np.trapezoid(pressures * (height - depths), depths) / force, rel=1e-5
    )
    assert np.all(np.diff(pressures) >= -1e-12)
    assert pressures[-1] == pytest.approx(min(maximum, weight * height))


def test_depth_below_the_base_is_refused():
    with pytest.raises(InvalidInput) as refused:
        pressure_envelope(60, 25, 5.0, [5.01])
    assert refused.value.key == "depths_m"


# The contracts


@pytest.mark.parametrize(
    ("name", "may_blame"),
    [
        ("formwork-pressure-aci", {}),
        ("formwork-pressure-ciria", {"form_height_m": "pour_height_m"}),
        ("formwork-pressure-din", {}),
        ("pressure-envelope", {"pour_height_m": "depths_m"}),
        ("rise-rate", {}),
    ],
)
def test_hostile_inputs_give_an_error_by_name_or_a_finite_answer(name, may_blame):
    check_hostile_inputs(name, may_blame)


@pytest.mark.parametrize(
    ("name", "other", "on_memory"),
    [
        ("formwork-pressure-aci", {"cement_group": "blend"}, False),
        ("formwork-pressure-ciria", {"cement_group": "portland"}, False),
        ("formwork-pressure-ciria", {"cement_group": "blend"}, True),
        ("formwork-pressure-ciria", {"concrete_temperature_c": 31, "cement_group": "portland"}, True),
        ("max-rise-ciria", {"cement_group": "high-blend"}, True),
        ("formwork-pressure-din", {"consistence_class": "f1", "rise_rate_m_per_h": 0.2}, True),
        ("formwork-pressure-din", {"consistence_class": "self-compacting"}, False),
        ("max-rise-din", {"consistence_class": "f2"}, True),
        ("max-rise-din", {"consistence_class": "f2", "permitted_pressure_kn_per_m2": 500}, False),
    ],
)
def test_answers_that_rest_on_memory_say_so(name, other, on_memory):
    """A form that carries the full head rests on no remembered line."""
    answer = calculation(name).ask({**good_inputs(name), **other})
    assert answer.rests_on_memory == on_memory
    assert any("from memory; check" in caution for caution in answer.cautions) == on_memory


@pytest.mark.parametrize("module", [aci, ciria, din, envelope, pressure])
def test_examples_in_the_docstrings_are_true(module):
    assert doctest.testmod(module).failed == 0
