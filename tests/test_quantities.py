"""Units: exact factors, suffixes, and refusals."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetfront.errors import WetfrontError
from wetfront.quantities import from_text, suffix_of


@pytest.mark.parametrize(
    ("key", "text", "expected"),
    [
        ("thickness_mm", "4 in", 101.6),
        ("length_m", "12 ft", 3.6576),
        ("strength_mpa", "3000 psi", 20.6842719),
        ("load_m3", "12 cu yd", 9.17465834),
        ("placing_rate_m3_per_h", "40 cu yd/h", 30.5821945),
        ("concrete_temperature_c", "70 °F", 21.1111111),
        ("density_kg_per_m3", "150 pcf", 2402.76951),
        ("permitted_pressure_kn_per_m2", "1200 psf", 57.4563108),
        ("wastage_percent", "5 %", 5.0),
        ("wind_speed_m_per_s", "36 km/h", 10.0),
        ("rise_rate_m_per_h", "7 ft/h", 2.1336),
        ("haul_min", "0.5 h", 30.0),
    ],
)
def test_text_with_a_unit_becomes_the_unit_of_the_key(key, text, expected):
    """Factors recomputed from the exact definitions of yard, pound and gallon."""
    assert from_text(key, text) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("thickness_mm", "4 kg"),
        ("thickness_mm", "four in"),
        ("thickness_mm", "4"),
        ("name", "4 in"),
        ("slump_mm", "70 °F"),
    ],
)
def test_a_unit_of_another_kind_is_refused(key, text):
    with pytest.raises(WetfrontError):
        from_text(key, text)


def test_the_longest_ending_names_the_unit():
    assert suffix_of("placing_rate_m3_per_h") == "_m3_per_h"
    assert suffix_of("rise_rate_m_per_h") == "_m_per_h"
    assert suffix_of("waiting_min") == "_min"
    assert suffix_of("title") is None


@given(st.floats(-1e6, 1e6))
def test_its_own_unit_changes_nothing(number):
    assert from_text("length_m", f"{number!r} m") == pytest.approx(number, rel=1e-12)
