"""The setting clock: laws of both rules, penetration readings, and setting times measured by others."""

import doctest
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hostile_inputs import check_hostile_inputs, good_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.hydration import maturity_rate, setting, setting_from_penetration, setting_time_at_temperature

STUDIES = {
    study["id"]: study
    for study in tomllib.loads((Path(__file__).parent / "reference" / "measured.toml").read_text("utf-8"))["study"]
}
METHODS = ("arrhenius", "halving")
temperatures = st.floats(0, 40)
energies = st.floats(20_000, 70_000)
hours = st.floats(0.5, 48)
few = settings(max_examples=60, deadline=None)


@pytest.mark.parametrize("index", range(4))
def test_setting_times_of_the_trade_are_met_within_their_fair_error(index):
    """Measured study: calibrated to 6 h at 21.1 °C; the row below 0 °C is refused, never extrapolated."""
    observed = STUDIES["setting-time-by-temperature"]["observed"][0]
    temperature, value = observed["temperatures_c"][index], observed["values"][index]
    inputs = {
        "setting_time_h": observed["values"][0],
        "reference_temperature_c": observed["temperatures_c"][0],
        "concrete_temperature_c": temperature,
    }
    if temperature < 0:
        with pytest.raises(InvalidInput) as refused:
            calculation("setting-time-at-temperature").ask(inputs)
        assert refused.value.key == "concrete_temperature_c"
        return
    found = calculation("setting-time-at-temperature").ask(inputs).result["setting_time_h"]
    assert found == pytest.approx(value, rel=observed["plus_minus_percent"] / 100)


def test_working_time_shortens_with_heat_as_observed():
    """Measured study, direction only: considerably shorter at 30 °C than at 21.2 °C."""
    study = STUDIES["working-time-with-superplasticizer"]
    cool, hot = study["conditions"]["temperatures_c"]
    for method in METHODS:
        found = setting_time_at_temperature(study["observed"][0]["low"], cool, hot, method=method)
        assert found.factor < 0.75


@given(temperature=temperatures, energy=energies, reference=st.floats(5, 40))
def test_clock_runs_at_one_at_the_reference_and_matches_the_equation(temperature, energy, reference):
    """Second writing of ASTM C1074's exponent, on floats and arrays alike."""
    expected = math.exp(energy / 8.3145 * (1 / (reference + 273.15) - 1 / (temperature + 273.15)))
    assert maturity_rate(temperature, energy, reference) == pytest.approx(expected, rel=1e-12)
    assert maturity_rate(reference, energy, reference) == 1
    rates = maturity_rate(np.array([temperature, reference]), energy, reference)
    assert rates == pytest.approx([expected, 1.0], rel=1e-12)


@pytest.mark.parametrize("method", METHODS)
@few
@given(time=hours, reference=st.floats(5, 40), first=temperatures, second=temperatures, energy=energies)
def test_warmer_concrete_sets_sooner(method, time, reference, first, second, energy):
    cold, warm = (
        setting_time_at_temperature(time, reference, t, activation_energy_j_per_mol=energy, method=method)
        for t in sorted((first, second))
    )
    assert cold.setting_time_h >= warm.setting_time_h
    assert (cold.setting_time_h > warm.setting_time_h) or abs(first - second) < 1e-9


@pytest.mark.parametrize("method", METHODS)
@few
@given(time=hours, there=st.floats(5, 40), here=st.floats(5, 40), between=st.floats(5, 40))
def test_going_there_and_back_changes_nothing(method, time, there, here, between):
    """Round trip, and the same by way of a third temperature."""

    def moved(setting_time: float, start: float, end: float) -> float:
        return setting_time_at_temperature(setting_time, start, end, method=method).setting_time_h

    assert moved(moved(time, here, there), there, here) == pytest.approx(time, rel=1e-12)
    assert moved(moved(time, here, between), between, there) == pytest.approx(moved(time, here, there), rel=1e-12)
    assert moved(time, here, here) == time


@pytest.mark.parametrize(("temperature", "factor"), [(31, 0.5), (9, 2.0), (20, 1.0), (25.5, 2**-0.5)])
def test_halving_rule_halves_per_11_k(temperature, factor):
    assert setting_time_at_temperature(6.0, 20, temperature, method="halving").factor == pytest.approx(
        factor, rel=1e-15
    )


def test_halving_rule_equals_an_activation_energy_of_about_45():
    """From the rule's own 11 K around 20 °C: E = R ln 2 / (1/T1 − 1/T2)."""
    energy = 8.3145 * math.log(2) / (1 / (14.5 + 273.15) - 1 / (25.5 + 273.15))
    assert energy == pytest.approx(45_000, rel=0.01)
    found = setting_time_at_temperature(6, 14.5, 25.5, activation_energy_j_per_mol=energy)
    assert found.arrhenius_h == pytest.approx(found.halving_h, rel=1e-12)


@given(temperature=temperatures)
def test_halving_is_the_shorter_rule_in_heat_and_the_longer_in_cold(temperature):
    """With 40 kJ/mol and times at 20 °C, but within a few kelvin of each other they cross."""
    found = setting_time_at_temperature(5, 20, temperature)
    assert found.shorter_h == (found.halving_h if temperature > 20 else found.arrhenius_h)
    assert found.longer_h == (found.arrhenius_h if temperature > 20 else found.halving_h)


@pytest.mark.parametrize(("temperature", "codes"), [(4.9, ["below-5-c"]), (5, []), (30, []), (30.1, ["above-30-c"])])
def test_cold_and_heat_are_announced(temperature, codes):
    assert [notice.code for notice in setting_time_at_temperature(5, 20, temperature).notices] == codes


# Penetration resistance


@few
@given(
    initial=st.floats(2, 12),
    longer=st.floats(1.2, 2.5),
    spread=st.lists(st.floats(0.3, 0.99), min_size=5, max_size=9, unique_by=lambda share: round(share, 3)),
)
def test_readings_on_a_power_law_give_its_times_back(initial, longer, spread):
    """Conservation: readings made from known setting times return them, with correlation 1."""
    final = initial * longer
    exponent = math.log(27.6 / 3.5) / math.log(longer)
    times = [*(share * final for share in sorted(spread)), final * 1.01]
    found = setting_from_penetration(times, [3.5 * (time / initial) ** exponent for time in times])
    assert found.initial_set_h == pytest.approx(initial, rel=1e-6)
    assert found.final_set_h == pytest.approx(final, rel=1e-6)
    assert found.limit_of_vibration_h == pytest.approx(initial * (0.5 / 3.5) ** (1 / exponent), rel=1e-6)
    assert found.correlation == pytest.approx(1, abs=1e-9)


def test_line_agrees_with_a_library_fit():
    """Second method: polynomial fit of the logarithms."""
    times = [3.0, 3.75, 4.5, 5.25, 6.0, 6.75, 7.5]
    resistances = [0.6, 1.5, 3.2, 6.8, 12.0, 20.5, 33.0]
    slope, intercept = np.polyfit(np.log10(times), np.log10(resistances), 1)
    found = setting_from_penetration(times, resistances)
    assert (found.slope, found.intercept) == pytest.approx((slope, intercept))
    assert found.correlation == pytest.approx(np.corrcoef(np.log10(times), np.log10(resistances))[0, 1])


@pytest.mark.parametrize(
    ("times", "resistances", "key"),
    [
        ([3, 4, 5, 6, 7], [1, 2, 4, 9, 30], "times_h"),
        ([3, 4, 5, 6, 7, 8], [1, 2, 4, 9, 30], "penetration_resistances_mpa"),
        ([3, 4, 5, 6, 7, 8], [1, 2, 4, 9, 20, 30, 40], "penetration_resistances_mpa"),
        ([3, 4, 5, 5, 7, 8], [1, 2, 4, 9, 20, 30], "times_h"),
        ([3, 4, 6, 5, 7, 8], [1, 2, 4, 9, 20, 30], "times_h"),
        ([3, 4, 5, 6, 7, 8], [1, 2, 4, 9, 20, 27.5], "penetration_resistances_mpa"),
        ([3, 4, 5, 6, 7, 8], [1, 2, 0, 9, 20, 30], "penetration_resistances_mpa"),
        ([0, 4, 5, 6, 7, 8], [1, 2, 4, 9, 20, 30], "times_h"),
        ([3, 4, 5, 6, 7, 8], [60, 50, 45, 40, 35, 30], "penetration_resistances_mpa"),
        ([3, 4, 5, 6, 7, 8], [30, 30, 30, 30, 30, 30], "penetration_resistances_mpa"),
        ([3, 4, 5, 6, 7, 8], [30, 30, 30, 30, 30, 30.001], "penetration_resistances_mpa"),
        ([], [], "times_h"),
    ],
)
def test_readings_that_make_no_test_are_refused(times, resistances, key):
    for ask in (
        lambda: setting_from_penetration(times, resistances),
        lambda: calculation("setting-from-penetration").ask(
            {"times_h": times, "penetration_resistances_mpa": resistances}
        ),
    ):
        with pytest.raises(InvalidInput) as refused:
            ask()
        assert refused.value.key == key


def test_last_reading_just_at_the_final_set_is_enough():
    assert setting_from_penetration([3, 4, 5, 6, 7, 8], [0.7, 1.9, 4.4, 9, 16, 27.6]).final_set_h < 8.5


def test_scatter_and_extrapolation_are_announced():
    found = setting_from_penetration([3, 4, 5, 6, 7, 8], [4, 1.2, 9, 4, 40, 28])
    codes = [notice.code for notice in found.notices]
    assert "low-correlation" in codes
    assert "extrapolated" in codes
    clean = setting_from_penetration([2, 3, 4, 5, 6, 7, 8], [0.3, 0.9, 2.6, 6.2, 12, 20, 32])
    assert clean.notices == ()


# The contracts


@pytest.mark.parametrize(
    ("name", "may_blame"),
    [("setting-time-at-temperature", {}), ("setting-from-penetration", {"times_h": "penetration_resistances_mpa"})],
)
def test_hostile_inputs_give_an_error_by_name_or_a_finite_answer(name, may_blame):
    check_hostile_inputs(name, may_blame)


def test_both_rules_are_told_and_which_to_use_for_what():
    answer = calculation("setting-time-at-temperature").ask(
        {"setting_time_h": 6, "reference_temperature_c": 20, "concrete_temperature_c": 31}
    )
    slower = 6 * math.exp(40_000 / 8.3145 * (1 / 304.15 - 1 / 293.15))
    assert any(f"3.00 and {slower:.2f} h" in caution and "shorter for joints" in caution for caution in answer.cautions)
    assert answer.rests_on_memory, "the default activation energy is from memory"
    own = {**good_inputs("setting-time-at-temperature"), "activation_energy_j_per_mol": 45_000}
    assert not calculation("setting-time-at-temperature").ask(own).rests_on_memory


def test_examples_in_the_docstrings_are_true():
    assert doctest.testmod(setting).failed == 0
