"""Batching on site: moisture, whole bags, yield, bulking, admixtures."""

import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from extreme_inputs import check_answer_or_key, question
from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.materials.admixture import admixture_dose, water_reduction
from wetfront.materials.moisture import (
    bulking_percent,
    moist_aggregate,
    moist_volume,
    total_moisture_percent,
    water_to_add,
)
from wetfront.materials.site_batch import least_mixing_min, mixer_batches, yield_from_density

NAMES = (
    "moisture-corrected-batch",
    "aggregate-moisture",
    "mixer-batches",
    "yield-from-density",
    "sand-bulking",
    "admixture-dose",
    "water-reduction",
)
modest = settings(max_examples=80, deadline=None)
percents = st.floats(0, 30)
bases = st.sampled_from(("oven-dry", "saturated-surface-dry"))
heaps = st.lists(st.tuples(st.floats(100, 1500), bases, percents, percents), min_size=1, max_size=4)


def asked(name, **inputs):
    return calculation(name).ask(inputs)


def refused(name, **inputs):
    with pytest.raises(InvalidInput) as error:
        asked(name, **inputs)
    return error.value.key


@modest
@given(st.floats(100, 250), heaps)
def test_added_and_brought_free_water_make_the_design_water(design, rows):
    parts = [moist_aggregate(*row) for row in rows]
    brought = sum(part.free_water_kg for part in parts)
    assert water_to_add(design, parts) + brought == pytest.approx(design, abs=1e-9)


@modest
@given(st.floats(100, 250), st.floats(100, 500), heaps)
def test_all_that_goes_into_the_drum_weighs_as_much_as_the_mix_with_its_absorbed_water(design, cement, rows):
    """Second method: dry aggregate + what it absorbs + free water + cement, without looking at the moisture."""
    parts = [moist_aggregate(*row) for row in rows]
    batched = cement + water_to_add(design, parts) + sum(part.as_weighed_kg for part in parts)
    absorbed = sum(part.dry_kg * row[2] / 100 for part, row in zip(parts, rows, strict=True))
    assert batched == pytest.approx(cement + design + sum(part.dry_kg for part in parts) + absorbed, rel=1e-12)


@modest
@given(st.floats(100, 1500), bases, percents, percents, st.floats(0.001, 10))
def test_a_wetter_heap_never_takes_more_added_water(mass, basis, absorption, moisture, wetter):
    drier, wet = (moist_aggregate(mass, basis, absorption, each) for each in (moisture, moisture + wetter))
    assert water_to_add(180, [wet]) < water_to_add(180, [drier])
    assert wet.as_weighed_kg > drier.as_weighed_kg
    assert wet.dry_kg == drier.dry_kg


def test_an_aggregate_at_its_absorption_brings_nothing_and_takes_nothing():
    part = moist_aggregate(720, "saturated-surface-dry", 1.2, 1.2)
    assert part.free_water_kg == 0
    assert part.as_weighed_kg == pytest.approx(720)


def test_a_heap_that_brings_too_much_is_answered_and_said_not_to_be_batched():
    answer = asked(
        "moisture-corrected-batch",
        water_kg_per_m3=150,
        cement_kg_per_m3=300,
        fine_aggregate_kg_per_m3=900,
        coarse_aggregate_kg_per_m3=1000,
        aggregate_basis="oven-dry",
        fine_absorption_percent=1,
        coarse_absorption_percent=1,
        fine_moisture_percent=14,
        coarse_moisture_percent=5,
    )
    assert answer.result["water_to_add_kg"] == pytest.approx(150 - 117 - 40)
    assert "not to be batched" in answer.cautions[0]


@modest
@given(st.floats(0.05, 200), st.floats(0.05, 2), st.floats(200, 450), st.floats(0, 30))
def test_equal_batches_make_the_volume_with_its_waste_and_fit_the_mixer(volume, capacity, cement, waste):
    found = mixer_batches(volume, capacity, cement, None, waste)
    assert found.batches_count * found.batch_volume_m3 == pytest.approx(volume * (1 + waste / 100), rel=1e-9)
    assert found.batch_volume_m3 <= capacity * (1 + 1e-8)
    assert (found.batches_count - 1) * capacity < volume * (1 + waste / 100) or found.batches_count == 1
    assert found.bags_total_count is None


@modest
@given(st.floats(0.05, 200), st.floats(0.05, 2), st.floats(200, 450), st.sampled_from((20, 25, 40, 42.5, 50)))
def test_bags_are_whole_the_mix_keeps_its_cement_and_one_bag_more_would_not_fit(volume, capacity, cement, bag):
    assume(capacity * cement >= bag)
    found = mixer_batches(volume, capacity, cement, bag)
    assert found.bags_per_batch_count == int(found.bags_per_batch_count) >= 1
    assert found.cement_batch_kg == found.bags_per_batch_count * bag
    assert found.cement_batch_kg / found.batch_volume_m3 == pytest.approx(cement)
    assert found.batch_volume_m3 <= capacity * (1 + 1e-8)
    assert (found.bags_per_batch_count + 1) * bag / cement > capacity
    assert found.batches_count * found.batch_volume_m3 >= volume * (1 - 1e-8)
    assert found.bags_total_count == found.bags_per_batch_count * found.batches_count


@modest
@given(st.floats(0.05, 20), st.floats(100, 250), st.floats(200, 450), st.floats(500, 900), st.floats(800, 1300))
def test_batch_masses_sum_to_the_mix_times_the_volume(volume, water, cement, fine, coarse):
    result = asked(
        "mixer-batches",
        required_volume_m3=volume,
        mixer_capacity_m3=0.25,
        cement_kg_per_m3=cement,
        water_kg_per_m3=water,
        fine_aggregate_kg_per_m3=fine,
        coarse_aggregate_kg_per_m3=coarse,
    ).result
    keys = ("cement_batch_kg", "water_batch_kg", "fine_aggregate_batch_kg", "coarse_aggregate_batch_kg")
    total = result["batches_count"] * sum(result[key] for key in keys)
    assert total == pytest.approx(volume * (water + cement + fine + coarse))
    assert set(result) == {"batches_count", "batch_volume_m3", *keys}


def test_a_volume_of_exactly_so_many_batches_takes_no_batch_more():
    assert mixer_batches(0.7, 0.1, 300).batches_count == 7
    assert mixer_batches(0.6, 0.2, 300).batches_count == 3
    assert mixer_batches(1.0, 0.5, 100, 50).bags_per_batch_count == 1


def test_a_bag_too_large_for_the_mixer_and_endless_batches_are_refused_by_name():
    mix = {"cement_kg_per_m3": 300, "water_kg_per_m3": 170, "fine_aggregate_kg_per_m3": 700}
    mix["coarse_aggregate_kg_per_m3"] = 1100
    inputs = {"required_volume_m3": 1, "mixer_capacity_m3": 0.1, **mix}
    assert refused("mixer-batches", **inputs, cement_bag_kg=50) == "cement_bag_kg"
    assert refused("mixer-batches", **inputs | {"waste_percent": 31}) == "waste_percent"
    assert refused("mixer-batches", **inputs | {"required_volume_m3": 0}) == "required_volume_m3"
    endless = inputs | {"required_volume_m3": 100_000, "mixer_capacity_m3": 0.001}
    assert refused("mixer-batches", **endless) == "mixer_capacity_m3"


def test_mixing_lasts_two_minutes_in_a_small_drum_and_longer_in_a_large_one():
    assert least_mixing_min(0.2) == least_mixing_min(3.75) == 2.0
    assert least_mixing_min(4.5) == 2.25


@modest
@given(st.floats(10, 20_000), st.floats(1800, 2600), st.floats(0.01, 10))
def test_yield_times_density_is_the_batch_and_a_denser_concrete_yields_less(mass, density, designed):
    found = yield_from_density(mass, density, designed, 0.14 * mass, 2700)
    assert found.yield_m3 * density == pytest.approx(mass)
    assert found.relative_yield * designed == pytest.approx(found.yield_m3)
    assert found.cement_kg_per_m3 == pytest.approx(0.14 * density)
    assert found.air_content_percent == pytest.approx(100 * (1 - density / 2700))
    assert yield_from_density(mass, density * 1.01, designed).yield_m3 < found.yield_m3


def test_short_yield_is_cautioned_only_beyond_two_percent_and_optional_outputs_stay_out():
    just = asked("yield-from-density", batch_mass_kg=2352, fresh_density_kg_per_m3=2400, designed_volume_m3=1)
    assert set(just.result) == {"yield_m3", "relative_yield"}
    assert not any("short" in caution for caution in just.cautions)
    short = asked("yield-from-density", batch_mass_kg=2340, fresh_density_kg_per_m3=2400, designed_volume_m3=1)
    assert "2.5 % short" in short.cautions[0]
    heavy = {"batch_mass_kg": 100, "fresh_density_kg_per_m3": 2400, "designed_volume_m3": 0.04, "cement_batch_kg": 101}
    assert refused("yield-from-density", **heavy) == "cement_batch_kg"


@modest
@given(st.floats(1, 5000), st.floats(0.5, 1), st.floats(0, 1000))
def test_inundated_sand_has_the_volume_of_dry_sand(moist_mm, share, dry_l):
    """What is measured moist falls back to the dry volume under water."""
    bulking = bulking_percent(moist_mm, moist_mm * share)
    moist_l = moist_volume(dry_l, bulking)
    assert moist_l * share == pytest.approx(dry_l)
    assert moist_l >= dry_l
    assert moist_volume(dry_l, 0) == dry_l


@pytest.mark.parametrize(
    ("inputs", "key"),
    [
        ({}, "bulking_percent"),
        ({"moist_height_mm": 200, "inundated_height_mm": 160, "bulking_percent": 25}, "bulking_percent"),
        ({"moist_height_mm": 200, "bulking_percent": 25}, "bulking_percent"),
        ({"moist_height_mm": 200}, "inundated_height_mm"),
        ({"inundated_height_mm": 160}, "moist_height_mm"),
        ({"moist_height_mm": 330, "inundated_height_mm": 160}, "moist_height_mm"),
        ({"bulking_percent": -1}, "bulking_percent"),
    ],
)
def test_bulking_takes_the_heights_or_the_percentage_and_never_both(inputs, key):
    assert refused("sand-bulking", **inputs) == key


def test_bulking_as_given_measures_the_same_volume_as_the_heights():
    heights = asked("sand-bulking", moist_height_mm=200, inundated_height_mm=160, dry_sand_volume_l=30).result
    given_percent = asked("sand-bulking", bulking_percent=25, dry_sand_volume_l=30).result
    assert heights == given_percent == {"bulking_percent": 25.0, "moist_sand_volume_l": 37.5}


def test_moisture_by_drying_needs_a_sample_that_grew_no_heavier():
    assert total_moisture_percent(530, 500) == pytest.approx(6)
    assert asked("aggregate-moisture", wet_mass_g=500, oven_dry_mass_g=500).result == {"total_moisture_percent": 0}
    dry = asked("aggregate-moisture", wet_mass_g=501, oven_dry_mass_g=500, absorption_percent=1.2)
    assert dry.result["free_moisture_percent"] == pytest.approx(-1.0)
    assert "drink" in dry.cautions[0]
    assert refused("aggregate-moisture", wet_mass_g=499, oven_dry_mass_g=500) == "oven_dry_mass_g"


def test_limits_of_the_dose_that_are_just_met_are_met():
    at = admixture_dose(300, 0.2, 1, 1.0)
    assert not at.below_2_g_per_kg
    assert not at.water_counts_in_ratio
    assert admixture_dose(300, 1.0, 1, 1.0).admixture_l_per_m3 == 3.0
    assert not admixture_dose(300, 1.0, 1, 1.0).water_counts_in_ratio
    assert admixture_dose(301, 1.0, 1, 1.0).water_counts_in_ratio
    assert admixture_dose(300, 0.199, 1, 1.0).below_2_g_per_kg
    assert admixture_dose(300, 5.0, 1, 1.0).admixture_kg_per_m3 == 15
    with pytest.raises(InvalidInput, match="50 g/kg"):
        admixture_dose(300, 5.001, 1, 1.0)


def test_water_of_the_admixture_needs_its_solids():
    plain = {"cement_kg_per_m3": 380, "dose_percent": 1, "batch_volume_m3": 0.2, "density_kg_per_l": 1.08}
    assert "admixture_water_kg_per_m3" not in asked("admixture-dose", **plain).result
    assert asked("admixture-dose", **plain, solids_percent=100).result["admixture_water_kg_per_m3"] == 0


@modest
@given(st.floats(100, 250), st.floats(0, 40), st.floats(200, 500))
def test_a_water_reducer_keeps_the_cement_or_the_ratio(water, reduction, cement):
    kept = water_reduction(water, reduction, cement)
    assert kept.cement_kg_per_m3 == cement
    assert kept.water_cement_ratio <= water / cement
    ratio = water_reduction(water, reduction, cement, "ratio")
    assert ratio.water_kg_per_m3 == kept.water_kg_per_m3
    assert ratio.water_cement_ratio == pytest.approx(water / cement)
    assert math.isclose(ratio.cement_kg_per_m3, cement * (1 - reduction / 100))


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_the_ends_of_all_ranges_give_a_finite_answer_or_a_key(name, data):
    check_answer_or_key(name, data.draw(question(name)))


@pytest.mark.parametrize("name", NAMES)
def test_what_rests_on_memory_says_so_and_a_calculated_mix_asks_for_its_trial(name):
    text = " ".join(calculation(name).ask(good_inputs(name)).cautions)
    assert text
    if name in ("admixture-dose", "yield-from-density"):
        assert "from memory" in text
    if name in ("moisture-corrected-batch", "mixer-batches", "water-reduction"):
        assert "trial batch, slump, density, air and strength before use" in text
    if name.startswith("admixture"):
        assert "compatibility statement" in text


def good_inputs(name):
    cases = tomllib.loads((Path(__file__).parent / "reference" / "mix.toml").read_text(encoding="utf-8"))["case"]
    return next(case["inputs"] for case in cases if case["calculation"] == name and "expected" in case)


@pytest.mark.parametrize(
    ("name", "inputs"),
    [
        ("admixture-dose", {"cement_kg_per_m3": 0.5, "dose_percent": 1, "batch_volume_m3": 1, "density_kg_per_l": 1}),
        ("required-average-strength", {"specified_strength_mpa": 180}),
        (
            "fine-aggregate-by-absolute-volume",
            {
                "water_kg_per_m3": 160,
                "cement_kg_per_m3": 350,
                "coarse_aggregate_kg_per_m3": 1050,
                "air_content_percent": 2,
                "fine_relative_density": 2.6,
                "coarse_relative_density": 2.7,
                "admixture_kg_per_m3": 7,
                "admixture_relative_density": 0.95,
            },
        ),
        (
            "mixer-batches",
            {
                "required_volume_m3": 1,
                "mixer_capacity_m3": 0.2,
                "cement_kg_per_m3": 0.5,
                "water_kg_per_m3": 0.5,
                "fine_aggregate_kg_per_m3": 0,
                "coarse_aggregate_kg_per_m3": 1500,
            },
        ),
    ],
)
def test_unusual_values_that_a_method_can_answer_are_not_refused(name, inputs):
    """No-fines concrete, a shrinkage reducer lighter than water, a strength beyond the usual."""
    assert calculation(name).ask(inputs).as_json()["result"]
