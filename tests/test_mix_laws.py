"""What every proportioning method must obey, whatever the numbers."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.materials import absolute_volume as volume
from wetfront.materials import aci_211 as aci
from wetfront.materials import bre
from wetfront.materials import is_10262 as indian
from wetfront.materials import target_strength as target
from wetfront.materials.mix_sums import embodied_carbon

densities = st.floats(2.2, 3.2)
slumps = st.floats(25, 175)
sizes = st.sampled_from(aci.SIZES_MM[:-1])
strengths = st.floats(15, 45)
entrained = st.booleans()


@given(
    strengths, slumps, sizes, st.floats(2.4, 3.0), densities, densities, entrained, st.floats(0, 40), st.floats(0, 400)
)
def test_parts_of_the_aci_mix_fill_one_cubic_metre(
    strength, slump, size, modulus, coarse, fine, air_entrained, reduction, least
):
    try:
        mix = aci.proportions(
            average_strength_mpa=strength,
            slump_mm=slump,
            maximum_aggregate_size_mm=size,
            fineness_modulus=modulus,
            dry_rodded_density_kg_per_m3=1600,
            coarse_relative_density=coarse,
            fine_relative_density=fine,
            air_entrained=air_entrained,
            water_reduction_percent=reduction,
            minimum_cement_kg_per_m3=least,
        )
    except InvalidInput as refused:
        assert refused.key == "coarse_aggregate_kg_per_m3"
        return
    filled = (
        mix.water_kg_per_m3 / 1000
        + mix.cement_kg_per_m3 / 3150
        + mix.coarse_aggregate_kg_per_m3 / (1000 * coarse)
        + mix.fine_aggregate_kg_per_m3 / (1000 * fine)
        + mix.air_content_percent / 100
    )
    assert filled == pytest.approx(1, abs=1e-9)
    assert mix.cement_kg_per_m3 >= least
    assert mix.water_cement_ratio <= mix.ratio.water_cement_ratio + 1e-9


@given(
    st.sampled_from(indian.SIZES_MM),
    st.floats(25, 200),
    st.floats(0.2, 0.8),
    st.integers(1, 4),
    densities,
    densities,
    st.floats(0, 40),
    st.floats(0, 2),
    st.floats(0, 10),
)
def test_parts_of_the_indian_mix_fill_one_cubic_metre(size, slump, ratio, zone, coarse, fine, reduction, dose, pumping):
    try:
        mix = indian.proportions(
            maximum_aggregate_size_mm=size,
            slump_mm=slump,
            water_cement_ratio=ratio,
            sand_zone=zone,
            coarse_relative_density=coarse,
            fine_relative_density=fine,
            water_reduction_percent=reduction,
            admixture_dose_percent=dose,
            coarse_reduction_for_pumping_percent=pumping,
        )
    except InvalidInput as refused:
        assert refused.key == "maximum_cement_kg_per_m3"
        return
    filled = (
        mix.water_kg_per_m3 / 1000
        + mix.cement_kg_per_m3 / 3150
        + mix.admixture_kg_per_m3 / (1000 * volume.ADMIXTURE_RELATIVE_DENSITY)
        + mix.coarse_aggregate_kg_per_m3 / (1000 * coarse)
        + mix.fine_aggregate_kg_per_m3 / (1000 * fine)
        + mix.air_content_percent / 100
    )
    assert filled == pytest.approx(1, abs=1e-9)
    assert mix.cement_kg_per_m3 <= indian.LARGEST_CEMENT_KG_PER_M3 + 1e-9


@given(st.floats(100, 250), st.floats(0.25, 0.9), st.floats(10, 80), st.floats(2.2, 3.0), st.floats(0, 6))
def test_parts_of_the_british_mix_fill_one_cubic_metre(water, ratio, fines, relative_density, air):
    try:
        mix = bre.proportions(
            free_water_kg_per_m3=water,
            water_cement_ratio=ratio,
            fines_percent=fines,
            aggregate_relative_density=relative_density,
            air_content_percent=air,
        )
    except InvalidInput as refused:
        assert refused.key == "free_water_kg_per_m3"
        return
    aggregate = mix.total_aggregate_kg_per_m3 / (1000 * relative_density)
    assert water / 1000 + mix.cement_kg_per_m3 / 3150 + aggregate + air / 100 == pytest.approx(1, abs=1e-9)
    assert mix.fine_aggregate_kg_per_m3 + mix.coarse_aggregate_kg_per_m3 == pytest.approx(mix.total_aggregate_kg_per_m3)


@given(slumps, slumps, sizes, entrained)
def test_more_slump_never_takes_less_water(one, other, size, air_entrained):
    low, high = sorted((one, other))
    first, second = (aci.mixing_water_and_air(slump, size, air_entrained=air_entrained) for slump in (low, high))
    assert first.water_kg_per_m3 <= second.water_kg_per_m3


@given(st.floats(25, 180), st.floats(25, 180), st.sampled_from(bre.SIZES_MM), st.sampled_from(bre.STONE_TYPES))
def test_more_slump_never_takes_less_water_in_the_other_methods(one, other, size, kind):
    low, high = sorted((one, other))
    assert (
        bre.free_water(low, size, kind, "crushed").free_water_kg_per_m3
        <= bre.free_water(high, size, kind, "crushed").free_water_kg_per_m3
    )
    assert indian.mixing_water(low, size, "angular") <= indian.mixing_water(high, size, "angular")


@given(strengths, strengths, entrained)
def test_more_strength_never_allows_a_higher_ratio(one, other, air_entrained):
    low, high = sorted((one, other))
    first, second = (aci.water_cement_ratio(each, air_entrained=air_entrained) for each in (low, high))
    assert first.water_cement_ratio >= second.water_cement_ratio


@given(strengths, entrained, st.floats(0.2, 1.0))
def test_ratio_is_never_over_the_durability_limit_nor_over_the_table(strength, air_entrained, limit):
    free = aci.water_cement_ratio(strength, air_entrained=air_entrained)
    held = aci.water_cement_ratio(strength, air_entrained=air_entrained, maximum_water_cement_ratio=limit)
    assert held.water_cement_ratio <= limit + 1e-9
    assert held.water_cement_ratio <= free.water_cement_ratio <= free.interpolated + 1e-8
    assert free.interpolated - free.water_cement_ratio < 0.01
    assert (held.governed_by == "durability") == (limit < free.water_cement_ratio - 1e-9)


@given(st.floats(1, 80), st.floats(1, 80), st.floats(0.1, 8), st.integers(15, 60))
def test_the_strength_aimed_at_is_over_the_one_specified_and_rises_with_it(one, other, deviation, count):
    low, high = sorted((one, other))
    assume(high > low)
    for record in ((), (deviation, count)):
        first, second = (target.required_average_strength(each, *record) for each in (low, high))
        assert first.required_average_strength_mpa > low
        # The rules themselves step down by a little at their own borders, 21 and 35 MPa with a record.
        if not record:
            assert first.required_average_strength_mpa <= second.required_average_strength_mpa


@given(st.floats(5, 100), st.floats(0.1, 10), st.floats(0.1, 10), st.integers(0, 60))
def test_a_larger_deviation_never_asks_for_less_strength(strength, one, other, count):
    low, high = sorted((one, other))
    first, second = (
        target.target_mean_bre(strength, standard_deviation_mpa=each, results_count=count) for each in (low, high)
    )
    assert first.target_mean_strength_mpa <= second.target_mean_strength_mpa


@given(
    st.floats(100, 250), st.floats(150, 600), st.floats(0, 8), st.floats(1, 99), st.floats(1, 99), densities, densities
)
def test_more_fines_is_more_sand_and_less_stone(water, cement, air, one, other, fine, coarse):
    low, high = sorted((one, other))
    first, second = (
        volume.aggregate_by_fines(
            water_kg_per_m3=water,
            cement_kg_per_m3=cement,
            air_content_percent=air,
            fines_volume_percent=share,
            fine_relative_density=fine,
            coarse_relative_density=coarse,
        )
        for share in (low, high)
    )
    assert first.fine_aggregate_kg_per_m3 <= second.fine_aggregate_kg_per_m3
    assert first.coarse_aggregate_kg_per_m3 >= second.coarse_aggregate_kg_per_m3


@given(st.lists(st.tuples(st.floats(1, 2000), st.floats(0, 2)), min_size=1, max_size=8), st.floats(0.1, 1000))
def test_carbon_is_the_sum_over_any_split_of_the_mix(parts, volume_m3):
    masses, factors = zip(*parts, strict=True)
    whole = embodied_carbon(masses, factors, volume_m3)
    halves = embodied_carbon([m / 2 for m in masses] * 2, factors * 2, volume_m3)
    assert halves.carbon_kg_co2e_per_m3 == pytest.approx(whole.carbon_kg_co2e_per_m3)
    assert whole.carbon_total_kg_co2e == pytest.approx(whole.carbon_kg_co2e_per_m3 * volume_m3)


def test_sample_problem_of_the_standard_by_the_weight_variant():
    """ACI 211.1-91, Appendix 2: 801 kg of sand by the estimated weight (printed)."""
    assert aci.fine_aggregate_by_weight(37.5, 181, 292, 1136) == 801


REFUSED = [
    ("mixing-water-and-air", {"slump_mm": 24.9, "maximum_aggregate_size_mm": 19}, "slump_mm"),
    ("mixing-water-and-air", {"slump_mm": 175.1, "maximum_aggregate_size_mm": 19}, "slump_mm"),
    ("mixing-water-and-air", {"slump_mm": 160, "maximum_aggregate_size_mm": 150}, "slump_mm"),
    ("mixing-water-and-air", {"slump_mm": 80, "maximum_aggregate_size_mm": True}, "maximum_aggregate_size_mm"),
    ("mixing-water-and-air", {"slump_mm": 80, "maximum_aggregate_size_mm": 19, "exposure": "extreme"}, "exposure"),
    ("water-cement-ratio-for-strength", {"average_strength_mpa": 14.9}, "average_strength_mpa"),
    (
        "water-cement-ratio-for-strength",
        {"average_strength_mpa": 30, "maximum_water_cement_ratio": 0},
        "maximum_water_cement_ratio",
    ),
    (
        "coarse-aggregate-volume",
        {"maximum_aggregate_size_mm": 20, "fineness_modulus": 2.6},
        "maximum_aggregate_size_mm",
    ),
    ("coarse-aggregate-volume", {"maximum_aggregate_size_mm": 19, "fineness_modulus": 2.39}, "fineness_modulus"),
    ("target-mean-strength-is-10262", {"characteristic_strength_mpa": 9}, "characteristic_strength_mpa"),
    ("target-mean-strength-bre", {"characteristic_strength_mpa": 30, "defective_percent": 3}, "defective_percent"),
    ("target-mean-strength-bre", {"characteristic_strength_mpa": 30, "results_count": 20}, "standard_deviation_mpa"),
    (
        "required-average-strength",
        {"specified_strength_mpa": 30, "standard_deviation_mpa": 0, "test_results_count": 30},
        "standard_deviation_mpa",
    ),
    (
        "required-average-strength",
        {"specified_strength_mpa": 30, "standard_deviation_mpa": 3, "test_results_count": 0},
        "test_results_count",
    ),
    ("maximum-aggregate-size", {}, "clear_bar_spacing_mm"),
    ("cost-of-mix", {"masses_kg_per_m3": [300, 150], "prices_per_tonne": [100]}, "prices_per_tonne"),
    ("embodied-carbon-of-mix", {"masses_kg_per_m3": [300], "factors_kg_co2e_per_kg": []}, "factors_kg_co2e_per_kg"),
    ("embodied-carbon-of-mix", {"masses_kg_per_m3": [0], "factors_kg_co2e_per_kg": [1]}, "masses_kg_per_m3"),
    (
        "free-water-content-bre",
        {
            "slump_mm": 181,
            "maximum_aggregate_size_mm": 20,
            "fine_aggregate_type": "crushed",
            "coarse_aggregate_type": "crushed",
        },
        "slump_mm",
    ),
    (
        "mix-proportions-bre",
        {
            "free_water_kg_per_m3": 200,
            "water_cement_ratio": 0.4,
            "fines_percent": 30,
            "aggregate_relative_density": 2.6,
            "maximum_cement_kg_per_m3": 499,
        },
        "maximum_cement_kg_per_m3",
    ),
    (
        "aggregate-by-fines-fraction",
        {
            "water_kg_per_m3": 180,
            "cement_kg_per_m3": 350,
            "air_content_percent": 2,
            "fines_volume_percent": 100,
            "fine_relative_density": 2.6,
            "coarse_relative_density": 2.6,
        },
        "fines_volume_percent",
    ),
]


@pytest.mark.parametrize(("name", "inputs", "key"), REFUSED)
def test_what_no_table_covers_is_refused_by_key_and_range(name, inputs, key):
    with pytest.raises(InvalidInput) as refused:
        calculation(name).ask(inputs)
    assert refused.value.key == key
    assert key in refused.value.message


def test_a_limit_just_met_is_met():
    """Cement of exactly the most allowed: 199.5 / 0.57 is a hair over 350 in binary."""
    inputs = {"free_water_kg_per_m3": 199.5, "water_cement_ratio": 0.57, "fines_percent": 30}
    answer = calculation("mix-proportions-bre").ask(
        {**inputs, "aggregate_relative_density": 2.6, "maximum_cement_kg_per_m3": 350}
    )
    assert answer.result["cement_kg_per_m3"] == pytest.approx(350)


@pytest.mark.parametrize(
    "name",
    ["mixing-water-and-air", "mix-proportions-aci-211", "mix-proportions-is-10262", "mix-proportions-bre"],
)
def test_each_proportioning_says_that_the_trial_comes_first(name):
    inputs = {
        "mixing-water-and-air": {"slump_mm": 75, "maximum_aggregate_size_mm": 19},
        "mix-proportions-aci-211": {
            "average_strength_mpa": 30,
            "slump_mm": 75,
            "maximum_aggregate_size_mm": 19,
            "fineness_modulus": 2.6,
            "dry_rodded_density_kg_per_m3": 1600,
            "coarse_relative_density": 2.7,
            "fine_relative_density": 2.6,
        },
        "mix-proportions-is-10262": {
            "maximum_aggregate_size_mm": 20,
            "slump_mm": 75,
            "water_cement_ratio": 0.5,
            "sand_zone": 2,
            "coarse_relative_density": 2.7,
            "fine_relative_density": 2.6,
        },
        "mix-proportions-bre": {
            "free_water_kg_per_m3": 180,
            "water_cement_ratio": 0.5,
            "fines_percent": 35,
            "aggregate_relative_density": 2.6,
        },
    }[name]
    cautions = " ".join(calculation(name).ask(inputs).cautions)
    assert "trial batch" in cautions
    assert "consent of specifier and producer" in cautions
