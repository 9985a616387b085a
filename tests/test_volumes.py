"""Volumes of the poured shapes."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from extreme_inputs import check_answer_or_key, question
from hostile_inputs import check_hostile_inputs
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.takeoff.volumes import (
    column_area,
    deck_slab_volume,
    drop_panel_volume,
    ground_slab_volume,
    haunch_volume,
    measured_slab_volume,
    prismatoid_volume,
    stair_volume,
    tapered_footing_volume,
    wall_volume,
)

modest = settings(max_examples=80, deadline=None)
size = st.floats(0.05, 30)
top = st.floats(0, 30)
scale = st.floats(0.1, 10)


def by_slices(height, base_length, base_breadth, top_length, top_breadth):
    """Second method: Simpson's rule over 64 slices; exact for a section that is quadratic in the height."""
    z = np.linspace(0, 1, 65)
    area = (base_length + (top_length - base_length) * z) * (base_breadth + (top_breadth - base_breadth) * z)
    weights = np.ones(65)
    weights[1:-1:2], weights[2:-1:2] = 4, 2
    return float(height * (area * weights).sum() / 64 / 3)


@modest
@given(size, size, size, top, top)
def test_prismatoid_equals_the_sum_of_its_slices(height, l1, b1, l2, b2):
    assert prismatoid_volume(height, l1, b1, l2, b2) == pytest.approx(by_slices(height, l1, b1, l2, b2), rel=1e-9)


@modest
@given(size, size, size)
def test_taper_to_the_same_top_is_a_box_to_a_point_a_third_and_to_a_ridge_a_half(height, length, breadth):
    """Limit cases: box, pyramid, wedge."""
    box = height * length * breadth
    assert prismatoid_volume(height, length, breadth, length, breadth) == pytest.approx(box)
    assert prismatoid_volume(height, length, breadth, 0, 0) == pytest.approx(box / 3)
    assert prismatoid_volume(height, length, breadth, length, 0) == pytest.approx(box / 2)


@modest
@given(size, size, size, st.floats(0, 1), st.floats(0, 1), st.floats(0, 2), st.floats(0.05, 0.95))
def test_a_footing_cut_in_two_has_the_volume_of_both_parts(height, length, breadth, sl, sb, edge, cut):
    """Additivity, and the edge counts as a box."""
    tl, tb = sl * length, sb * breadth
    whole = tapered_footing_volume(length, breadth, height, tl, tb, edge)
    ml, mb = length + (tl - length) * cut, breadth + (tb - breadth) * cut
    lower = tapered_footing_volume(length, breadth, height * cut, ml, mb, edge)
    upper = tapered_footing_volume(ml, mb, height * (1 - cut), tl, tb)
    assert lower.volume_m3 + upper.volume_m3 == pytest.approx(whole.volume_m3, rel=1e-9)
    assert whole.volume_m3 == pytest.approx(whole.tapered_volume_m3 + edge * length * breadth)


@modest
@given(size, size, size, st.floats(0, 1), st.floats(0, 1), scale)
def test_twice_the_size_is_eight_times_the_volume(height, length, breadth, sl, sb, k):
    """Scaling of every shape whose sizes are all lengths."""
    cube = k**3
    sizes = (length, breadth, height, sl * length, sb * breadth)
    assert tapered_footing_volume(*(k * x for x in sizes)).volume_m3 == pytest.approx(
        cube * tapered_footing_volume(*sizes).volume_m3
    )
    assert drop_panel_volume(k * length, k * breadth, k * height, sl) == pytest.approx(
        cube * drop_panel_volume(length, breadth, height, sl)
    )
    assert haunch_volume(k * length, k * breadth, k * height) == pytest.approx(
        cube * haunch_volume(length, breadth, height)
    )
    assert stair_volume(7, k * height, k * length, k * breadth, k * 0.2).volume_m3 == pytest.approx(
        cube * stair_volume(7, height, length, breadth, 0.2).volume_m3
    )
    assert wall_volume(k * length, k * height, k * breadth).volume_m3 == pytest.approx(
        cube * wall_volume(length, height, breadth).volume_m3
    )


@pytest.mark.parametrize("key", ["top_length_m", "top_breadth_m"])
def test_a_top_larger_than_the_base_is_refused_by_key(key):
    sizes = {
        "base_length_m": 2,
        "base_breadth_m": 1.5,
        "tapered_height_m": 0.5,
        "top_length_m": 2,
        "top_breadth_m": 1.5,
    }
    assert tapered_footing_volume(**sizes).volume_m3 == pytest.approx(1.5)
    with pytest.raises(InvalidInput) as refused:
        tapered_footing_volume(**sizes | {key: sizes[key] + 0.001})
    assert refused.value.key == key


# Walls


@modest
@given(size, size, st.floats(0.05, 2), st.lists(st.tuples(st.floats(0.01, 1), st.floats(0.01, 1)), max_size=6))
def test_wall_and_what_was_cut_out_of_it_make_the_full_wall(length, height, thickness, shares):
    """Conservation: net volume + openings = full wall; the order of the openings does not matter."""
    widths = [length * share / 3 for share, _ in shares]
    heights = [height * share / 2 for _, share in shares]
    found = wall_volume(length, height, thickness, widths, heights)
    cut_out = sum(wall_volume(w, h, thickness).volume_m3 for w, h in zip(widths, heights, strict=True))
    assert found.volume_m3 + cut_out == pytest.approx(length * height * thickness)
    turned = wall_volume(length, height, thickness, widths[::-1], heights[::-1])
    assert turned.volume_m3 == pytest.approx(found.volume_m3)


def test_an_opening_of_just_the_smallest_deducted_area_stays_in():
    """0.4 × 0.25 is 0.1 m², and 0.1 × 0.1 × 10 is not quite in binary."""
    for width, height in ((0.4, 0.25), (1.0, 0.1), (0.2, 0.5)):
        assert wall_volume(4, 3, 0.2, [width], [height], 0.1).deducted_area_m2 == 0
        assert wall_volume(4, 3, 0.2, [width + 0.001], [height], 0.1).deducted_area_m2 > 0


@pytest.mark.parametrize(
    ("widths", "heights", "key"),
    [
        ([2.5], [1.0], "opening_widths_m"),
        ([1.0], [2.5], "opening_heights_m"),
        ([1.5, 1.5], [2.0, 2.0], "opening_widths_m"),
        ([1.0], [], "opening_heights_m"),
        ([], [1.0], "opening_heights_m"),
        ([1.0, 1.0], [1.0], "opening_heights_m"),
    ],
)
def test_openings_that_do_not_fit_are_refused_by_key(widths, heights, key):
    with pytest.raises(InvalidInput) as refused:
        wall_volume(2, 2, 0.2, widths, heights)
    assert refused.value.key == key


def test_openings_of_the_whole_wall_leave_nothing_and_that_is_told():
    ask = calculation("wall-volume").ask
    inputs = {"length_m": 2, "height_m": 2, "thickness_m": 0.2, "opening_widths_m": [1, 1], "opening_heights_m": [2, 2]}
    answer = ask(inputs)
    assert answer.result["volume_m3"] == 0
    assert any("nothing is left" in caution for caution in answer.cautions)


# Columns


@modest
@given(size)
def test_an_octagon_lies_between_its_circle_and_its_square(across):
    """Second method: eight triangles over the inscribed circle's radius."""
    circle = column_area("circular", diameter_m=across)
    octagon = column_area("octagonal", across_flats_m=across)
    square = column_area("rectangular", width_m=across, breadth_m=across)
    assert circle < octagon < square
    side = across * math.tan(math.pi / 8)
    assert octagon == pytest.approx(8 * side * across / 2 / 2)


@pytest.mark.parametrize(
    ("section", "given_sizes", "missing"),
    [
        ("rectangular", {"breadth_m": 0.4}, "width_m"),
        ("rectangular", {"width_m": 0.4}, "breadth_m"),
        ("circular", {"width_m": 0.4, "breadth_m": 0.4}, "diameter_m"),
        ("octagonal", {"diameter_m": 0.4}, "across_flats_m"),
        ("round", {"diameter_m": 0.4}, "section"),
    ],
)
def test_a_missing_size_of_a_section_is_named(section, given_sizes, missing):
    with pytest.raises(InvalidInput) as refused:
        column_area(section, **given_sizes)
    assert refused.value.key == missing
    with pytest.raises(InvalidInput) as refused:
        calculation("column-volume").ask({"height_m": 3, "section": section, **given_sizes})
    assert refused.value.key == missing


def test_a_size_of_another_section_is_not_used_and_that_is_told():
    answer = calculation("column-volume").ask({"height_m": 3, "section": "circular", "diameter_m": 0.5, "width_m": 9})
    assert answer.result["section_area_m2"] == pytest.approx(math.pi / 16)
    assert any("width_m is not used" in caution for caution in answer.cautions)


# Drop panels, haunches, stairs


@modest
@given(size, size, st.floats(0.05, 2), st.floats(0, 2))
def test_sloping_sides_only_add_to_a_drop_panel(length, breadth, depth, slope):
    upright = drop_panel_volume(length, breadth, depth)
    assert upright == pytest.approx(length * breadth * depth)
    assert drop_panel_volume(length, breadth, depth, slope) >= upright * (1 - 1e-12)


def test_a_drop_panel_of_no_size_with_slope_is_a_pyramid():
    """Limit case: side 2 s d at the top, nothing below."""
    assert drop_panel_volume(1e-9, 1e-9, 0.3, 1.0) == pytest.approx(0.6 * 0.6 * 0.3 / 3, rel=1e-6)


@modest
@given(size, st.floats(0.05, 3), st.floats(0.05, 3), st.integers(1, 4))
def test_haunches_add_up(length, width, depth, sides):
    assert haunch_volume(length, width, depth, sides) == pytest.approx(sides * haunch_volume(length, width, depth))
    two_fill_a_box = 2 * haunch_volume(length, width, depth)
    assert two_fill_a_box == pytest.approx(length * width * depth)


@modest
@given(st.integers(1, 40), st.floats(0.1, 0.25), st.floats(0.2, 0.4), st.floats(0.5, 4), st.floats(0.08, 0.4))
def test_a_stair_equals_its_side_view_times_its_width(steps, riser, going, width, waist):
    """Second method: area of the side view's polygon (shoelace) times the width."""
    down = waist * math.hypot(riser, going) / going
    outline = [(0.0, 0.0)]
    for step in range(steps):
        outline += [(step * going, (step + 1) * riser), ((step + 1) * going, (step + 1) * riser)]
    outline += [(steps * going, steps * riser - down), (0.0, -down)]
    pairs = zip(outline, outline[1:] + outline[:1], strict=True)
    area = abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2
    assert stair_volume(steps, riser, going, width, waist).volume_m3 == pytest.approx(area * width)


def test_landings_add_and_half_a_landing_is_told():
    flat = stair_volume(10, 0.17, 0.28, 1.2, 0.15)
    with_landing = stair_volume(10, 0.17, 0.28, 1.2, 0.15, 2.4, 0.2)
    assert with_landing.volume_m3 - flat.volume_m3 == pytest.approx(0.48)
    inputs = {"risers_count": 10, "riser_m": 0.17, "going_m": 0.28, "width_m": 1.2, "waist_m": 0.15}
    answer = calculation("stair-volume").ask(inputs | {"landing_area_m2": 2.4})
    assert any("no landing" in caution for caution in answer.cautions)


# Slabs

deck = st.tuples(
    st.floats(1, 2000), st.floats(80, 400), st.floats(0, 0.95), st.floats(100, 600), st.floats(0, 1), st.floats(0, 1)
)


@modest
@given(deck, st.floats(0, 60))
def test_a_deck_slab_lies_between_its_topping_and_a_solid_slab(sizes, deflection):
    area, depth, rib_share, pitch, top_share, bottom_share = sizes
    rib = depth * rib_share
    found = deck_slab_volume(area, depth, rib, pitch, top_share * pitch, bottom_share * pitch, deflection)
    assert depth - rib <= found.mean_thickness_mm * (1 + 1e-12)
    assert found.mean_thickness_mm <= depth * (1 + 1e-12)
    assert found.ponding_thickness_mm == 0
    level = deck_slab_volume(area, depth, rib, pitch, top_share * pitch, bottom_share * pitch, deflection, "level")
    assert level.volume_m3 - found.volume_m3 == pytest.approx(area * 0.7 * deflection / 1000, abs=1e-6)
    assert 0.7 * deflection >= 2 / 3 * deflection, "on the safe side of a parabola"


def test_full_width_ribs_make_a_solid_slab_and_no_ribs_the_topping_alone():
    """Limit cases."""
    assert deck_slab_volume(10, 150, 60, 300, 300, 300).mean_thickness_mm == pytest.approx(150)
    assert deck_slab_volume(10, 150, 60, 300, 0, 0).mean_thickness_mm == pytest.approx(90)


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"rib_height_mm": 140}, "rib_height_mm"),
        ({"rib_width_top_mm": 301}, "rib_width_top_mm"),
        ({"rib_width_bottom_mm": 301}, "rib_width_bottom_mm"),
    ],
)
def test_a_rib_that_does_not_fit_is_refused_by_key(change, key):
    with pytest.raises(InvalidInput) as refused:
        calculation("deck-slab-volume").ask(DECK | change)
    assert refused.value.key == key


DECK = {
    "area_m2": 450,
    "overall_depth_mm": 140,
    "rib_height_mm": 60,
    "rib_pitch_mm": 300,
    "rib_width_top_mm": 180,
    "rib_width_bottom_mm": 120,
}


def test_deflection_over_a_tenth_of_the_depth_is_warned():
    ask = calculation("deck-slab-volume").ask
    for deflection, warned in ((14.0, False), (14.1, True)):
        cautions = ask(DECK | {"deck_deflection_mm": deflection}).cautions
        assert any("ponding; ask the designer" in caution for caution in cautions) is warned


def test_remembered_ponding_rule_is_marked_only_where_it_is_used():
    ask = calculation("deck-slab-volume").ask
    assert not ask(DECK | {"deck_deflection_mm": 10}).rests_on_memory
    assert ask(DECK | {"deck_deflection_mm": 10, "poured_to": "level"}).rests_on_memory


@modest
@given(st.floats(1, 5000), st.floats(100, 400), st.floats(0, 90), st.floats(0, 90))
def test_a_ground_slab_lies_between_its_thinnest_and_its_thickest(area, thickness, low, high):
    found = ground_slab_volume(area, thickness, low, high)
    assert found.thinnest_mm <= found.mean_thickness_mm <= found.thickest_mm
    assert found.volume_m3 == pytest.approx(area * found.mean_thickness_mm / 1000)
    assert measured_slab_volume(area, [found.thinnest_mm, found.thickest_mm]).volume_m3 == pytest.approx(
        found.volume_m3
    ), "the two ends of the band, measured, have its mean"


@modest
@given(st.floats(1, 5000), st.lists(st.floats(50, 500), min_size=1, max_size=20), st.randoms())
def test_measured_thicknesses_have_their_mean_in_any_order(area, thicknesses, random):
    found = measured_slab_volume(area, thicknesses)
    assert found.thinnest_mm - 1e-9 <= found.mean_thickness_mm <= max(thicknesses) + 1e-9
    shuffled = random.sample(thicknesses, len(thicknesses))
    assert measured_slab_volume(area, shuffled).volume_m3 == found.volume_m3


@pytest.mark.parametrize("key", ["thickness_mm", "subbase_lowest_mm", "subbase_highest_mm"])
def test_a_ground_slab_without_measurements_needs_its_band(key):
    whole = {"area_m2": 100, "thickness_mm": 175, "subbase_lowest_mm": 25, "subbase_highest_mm": 0}
    with pytest.raises(InvalidInput) as refused:
        calculation("ground-slab-volume").ask({k: v for k, v in whole.items() if k != key})
    assert refused.value.key == key


def test_a_thin_place_is_told_and_measured_values_replace_the_band():
    ask = calculation("ground-slab-volume").ask
    band = {"area_m2": 100, "thickness_mm": 175, "subbase_lowest_mm": 25, "subbase_highest_mm": 10}
    assert any("as thin as 165" in caution for caution in ask(band).cautions)
    assert not any("thin as" in caution for caution in ask(band | {"subbase_highest_mm": 0}).cautions)
    measured = ask(band | {"measured_thicknesses_mm": [170, 190]})
    assert measured.result["mean_thickness_mm"] == 180
    assert "thickest_mm" not in measured.result
    assert any("170" in caution for caution in measured.cautions)


def test_a_sub_base_through_the_slab_is_refused():
    with pytest.raises(InvalidInput) as refused:
        ground_slab_volume(100, 100, 0, 100)
    assert refused.value.key == "subbase_highest_mm"


# At the border

NAMES = {
    "wall-volume": {
        "opening_widths_m": "opening_heights_m",
        "length_m": "opening_widths_m",
        "height_m": "opening_heights_m",
    },
    "column-volume": {"section": "width_m"},
    "tapered-footing-volume": {"base_length_m": "top_length_m", "base_breadth_m": "top_breadth_m"},
    "drop-panel-volume": {},
    "stair-volume": {},
    "deck-slab-volume": {"overall_depth_mm": "rib_height_mm", "rib_pitch_mm": "rib_width_top_mm"},
    "ground-slab-volume": {"thickness_mm": "subbase_highest_mm"},
    "haunch-volume": {},
    "reinforcement-displacement": {},
}


@pytest.mark.parametrize("name", NAMES)
def test_hostile_inputs_are_refused_by_key(name):
    check_hostile_inputs(name, NAMES[name])


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=50, deadline=None)
@given(data=st.data())
def test_the_ends_of_the_ranges_give_an_answer_or_a_key(name, data):
    check_answer_or_key(name, data.draw(question(name)))
