"""Immersion vibrators: reach, pattern, number."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from extreme_inputs import check_answer_or_key, question
from hostile_inputs import check_hostile_inputs
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.placing.vibration import GROUPS, insertion_pattern, vibrator_count, vibrator_reach

modest = settings(max_examples=80, deadline=None)
REFERENCE_TABLE = {
    1: (20, 40, 150, 250, 0.4, 0.8, 80, 150, 0.8, 4),
    2: (30, 60, 140, 210, 0.5, 1.0, 130, 250, 2.3, 8),
    3: (50, 90, 130, 200, 0.6, 1.3, 180, 360, 4.6, 15),
    4: (80, 150, 120, 180, 0.8, 1.5, 300, 500, 11, 31),
    5: (130, 180, 90, 140, 1.0, 2.0, 400, 600, 19, 38),
}
"""Second reading of the table: diameter, frequency, amplitude, radius, rate; lower and upper end each."""


@pytest.mark.parametrize("number", GROUPS)
def test_every_cell_of_the_table_is_as_read_a_second_time(number):
    group = GROUPS[number]
    columns = (group.diameter_mm, group.frequency_hz, group.amplitude_mm, group.radius_mm, group.rate_m3_per_h)
    assert tuple(cell for column in columns for cell in column) == REFERENCE_TABLE[number]
    assert all(low < high for low, high in columns)


def test_larger_groups_reach_farther_and_do_more_and_shake_slower():
    for smaller, larger in zip((1, 2, 3, 4), (2, 3, 4, 5), strict=True):
        a, b = GROUPS[smaller], GROUPS[larger]
        for end in (0, 1):
            assert a.radius_mm[end] < b.radius_mm[end]
            assert a.rate_m3_per_h[end] < b.rate_m3_per_h[end]
            assert a.frequency_hz[end] > b.frequency_hz[end]


@pytest.mark.parametrize("number", GROUPS)
def test_the_ends_of_a_group_have_the_ends_of_its_radius_and_outside_is_refused(number):
    (thin, thick), (least, most) = GROUPS[number].diameter_mm, GROUPS[number].radius_mm
    assert vibrator_reach(number, thin).radius_of_action_mm == least
    assert vibrator_reach(number, thick).radius_of_action_mm == most
    for diameter in (thin - 0.1, thick + 0.1):
        with pytest.raises(OutOfRange) as refused:
            vibrator_reach(number, diameter)
        assert refused.value.key == "head_diameter_mm"


def test_an_unknown_group_is_refused():
    with pytest.raises(InvalidInput, match="vibrator_group"):
        vibrator_reach(6, 100)


def farthest_point(points: np.ndarray, cell: tuple[float, float]) -> float:
    """Largest distance from any place of one cell of the grid to the nearest insertion, by brute force."""
    x, y = np.meshgrid(np.linspace(0, cell[0], 61), np.linspace(0, cell[1], 61))
    distances = [np.hypot(x - px, y - py) for px, py in points]
    return float(np.min(distances, axis=0).max())


@pytest.mark.parametrize("pattern", ["staggered", "square"])
def test_the_pattern_leaves_no_gap(pattern):
    """Second method: every place of a fine grid within one radius of an insertion. 1.5 × radius in a square fails."""
    radius = 250.0
    found = insertion_pattern(radius, 10, 10, pattern)
    s, r = found.spacing_mm, found.row_spacing_mm
    shift = s / 2 if pattern == "staggered" else 0.0
    points = np.array([(i * s + (j % 2) * shift, j * r) for i in range(-2, 4) for j in range(-2, 4)])
    assert farthest_point(points, (s, r)) <= radius * (1 + 1e-9)
    wide = 1.5 * radius
    square = np.array([(i * wide, j * wide) for i in range(-1, 3) for j in range(-1, 3)])
    assert farthest_point(square, (wide, wide)) > radius


@modest
@given(st.floats(50, 700), st.floats(0.1, 60), st.floats(0.1, 60), st.sampled_from(["staggered", "square"]))
def test_rows_and_insertions_cover_the_layer_with_none_too_many(radius, length, width, pattern):
    found = insertion_pattern(radius, length, width, pattern)
    for count, spacing, whole in (
        (found.insertions_in_row_count, found.spacing_mm, length * 1000),
        (found.rows_count, found.row_spacing_mm, width * 1000),
    ):
        assert count * spacing >= whole * (1 - 1e-6)
        assert (count - 1) * spacing < whole
    assert found.insertions_per_layer_count == found.rows_count * found.insertions_in_row_count
    assert found.edge_distance_mm == found.spacing_mm / 2


@pytest.mark.parametrize("pattern", ["staggered", "square"])
def test_an_exact_multiple_of_the_spacing_needs_no_insertion_more(pattern):
    """Also where binary arithmetic makes the quotient a hair more than whole: it does for some of these."""
    quotients = []
    for radius in (150.0, 233.3, 304.8):
        one = insertion_pattern(radius, 1, 1, pattern)
        for count in range(1, 80):
            length_m, width_m = count * one.spacing_mm / 1000, count * one.row_spacing_mm / 1000
            found = insertion_pattern(radius, length_m, width_m, pattern)
            assert (found.insertions_in_row_count, found.rows_count) == (count, count)
            quotients.append(length_m * 1000 / one.spacing_mm - count)
    assert max(quotients) > 0, "the guard was put to the test"


def test_an_unknown_pattern_is_refused():
    with pytest.raises(InvalidInput, match="pattern"):
        insertion_pattern(300, 4, 4, "spiral")


@modest
@given(st.floats(0.1, 300), st.floats(0.5, 40), st.integers(1, 6))
def test_vibrators_do_the_rate_with_none_too_many_and_always_one_in_reserve(rate, each, share):
    found = vibrator_count(rate, each, share)
    assert found.vibrators_count * each >= rate * (1 - 1e-6)
    assert (found.vibrators_count - 1) * each < rate
    assert found.standby_count == math.ceil(found.vibrators_count / share)
    assert found.standby_count >= 1


def test_an_exact_multiple_of_the_rate_needs_no_vibrator_more():
    assert vibrator_count(36, 12).vibrators_count == 3
    assert vibrator_count(36, 12).standby_count == 1
    assert vibrator_count(2.1, 0.7).vibrators_count == 3, "2.1 / 0.7 is 3.0000000000000004 in binary"
    assert vibrator_count(36.001, 12).vibrators_count == 4
    assert vibrator_count(36.001, 12).standby_count == 2


NAMES = ["vibrator-group", "vibrator-spacing", "vibrator-count"]


@pytest.mark.parametrize("name", NAMES)
def test_hostile_inputs_are_refused_by_key(name):
    check_hostile_inputs(name, {"vibrator_group": "head_diameter_mm"})


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=50, deadline=None)
@given(data=st.data())
def test_the_ends_of_the_ranges_give_an_answer_or_a_key(name, data):
    check_answer_or_key(name, data.draw(question(name)))
