"""Every cell of the mix tables, typed a second time; the methods return the cells where a table has a node."""

import math

import numpy as np
import pytest

from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.materials import aci_211 as aci
from wetfront.materials import bre
from wetfront.materials import is_10262 as indian
from wetfront.materials import target_strength as target
from wetfront.nouns.reason import Provenance

SIZES = (9.5, 12.5, 19, 25, 37.5, 50, 75, 150)
SECOND_READING_WATER = {
    (False, 25): "207 199 190 179 166 154 130 113",
    (False, 75): "228 216 205 193 181 169 145 124",
    (False, 150): "243 228 216 202 190 178 160 -",
    (True, 25): "181 175 168 160 150 142 122 107",
    (True, 75): "202 193 184 175 165 157 133 119",
    (True, 150): "216 205 197 184 174 166 154 -",
}
SECOND_READING_AIR = {
    None: "3 2.5 2 1.5 1 0.5 0.3 0.2",
    "mild": "4.5 4.0 3.5 3.0 2.5 2.0 1.5 1.0",
    "moderate": "6.0 5.5 5.0 4.5 4.5 4.0 3.5 3.0",
    "severe": "7.5 7.0 6.0 6.0 5.5 5.0 4.5 4.0",
}
SECOND_READING_RATIO = {
    False: "45:0.38 40:0.42 35:0.47 30:0.54 25:0.61 20:0.69 15:0.79",
    True: "45:0.30 40:0.34 35:0.39 30:0.45 25:0.52 20:0.60 15:0.70",
}
SECOND_READING_COARSE = """
9.5 0.50 0.48 0.46 0.44
12.5 0.59 0.57 0.55 0.53
19 0.66 0.64 0.62 0.60
25 0.71 0.69 0.67 0.65
37.5 0.75 0.73 0.71 0.69
50 0.78 0.76 0.74 0.72
75 0.82 0.80 0.78 0.76
150 0.87 0.85 0.83 0.81
"""
SECOND_READING_FIRST_WEIGHT = (
    "9.5:2280/2200 12.5:2310/2230 19:2345/2275 25:2380/2290 37.5:2410/2350 50:2445/2345 75:2490/2405 150:2530/2435"
)
SECOND_READING_BRE = {
    (10, "uncrushed"): "150 180 205 225",
    (10, "crushed"): "180 205 230 250",
    (20, "uncrushed"): "135 160 180 195",
    (20, "crushed"): "170 190 210 225",
    (40, "uncrushed"): "115 140 160 175",
    (40, "crushed"): "155 175 190 205",
}
SECOND_READING_START = {
    (42.5, "uncrushed"): "22/30/42/49",
    (42.5, "crushed"): "27/36/49/56",
    (52.5, "uncrushed"): "29/37/48/54",
    (52.5, "crushed"): "34/43/55/61",
}
SECOND_READING_SHARE = {10: "0.48 0.50 0.52 0.54", 20: "0.60 0.62 0.64 0.66", 40: "0.69 0.71 0.72 0.73"}


def test_water_of_each_cell_at_both_ends_of_its_row():
    for (entrained, low), row in SECOND_READING_WATER.items():
        for size, cell in zip(SIZES, row.split(), strict=True):
            for slump in (low, low + 12.5, low + 25):
                if cell == "-":
                    with pytest.raises(InvalidInput, match="slump_mm"):
                        aci.mixing_water_and_air(slump, size, air_entrained=entrained)
                else:
                    found = aci.mixing_water_and_air(slump, size, air_entrained=entrained)
                    assert found.water_kg_per_m3 == float(cell)


def test_a_dash_is_not_reached_from_the_row_before_it():
    assert aci.mixing_water_and_air(100, 150).water_kg_per_m3 == 124
    with pytest.raises(InvalidInput) as refused:
        aci.mixing_water_and_air(100.1, 150)
    assert refused.value.key == "slump_mm"


def test_air_of_each_cell():
    for exposure, row in SECOND_READING_AIR.items():
        for size, cell in zip(SIZES, row.split(), strict=True):
            found = aci.mixing_water_and_air(50, size, air_entrained=exposure is not None, exposure=exposure or "mild")
            assert found.air_content_percent == float(cell)


def test_ratio_of_each_strength_of_the_table_survives_the_rounding_down():
    for entrained, row in SECOND_READING_RATIO.items():
        for entry in row.split():
            strength, ratio = map(float, entry.split(":"))
            assert aci.water_cement_ratio(strength, air_entrained=entrained).water_cement_ratio == ratio


def test_the_cells_of_the_later_table_name_it():
    assert aci.water_cement_ratio(45).source is aci.RATIO_TABLE_LATER
    assert aci.water_cement_ratio(40).source is aci.RATIO_TABLE
    assert aci.water_cement_ratio(40, air_entrained=True).source is aci.RATIO_TABLE_LATER
    assert aci.water_cement_ratio(35, air_entrained=True).source is aci.RATIO_TABLE


def test_coarse_volume_of_each_cell_and_halfway_between_cells():
    for line in SECOND_READING_COARSE.split("\n")[1:-1]:
        size, *row = map(float, line.split())
        for modulus, cell in zip((2.4, 2.6, 2.8, 3.0), row, strict=True):
            assert aci.dry_rodded_volume(size, modulus) == pytest.approx(cell, abs=1e-12)
        assert aci.dry_rodded_volume(size, 2.5) == pytest.approx((row[0] + row[1]) / 2, abs=1e-12)


def test_first_estimate_of_the_density_of_each_size():
    for entry in SECOND_READING_FIRST_WEIGHT.split():
        size, pair = entry.split(":")
        for entrained, cell in zip((False, True), pair.split("/"), strict=True):
            left = aci.fine_aggregate_by_weight(float(size), 100, 300, 1000, air_entrained=entrained)
            assert left == float(cell) - 1400


def test_free_water_of_each_cell_and_on_the_boundaries():
    for (size, kind), row in SECOND_READING_BRE.items():
        for (low, high), cell in zip(((0, 10), (10.1, 30), (30.1, 60), (60.1, 180)), row.split(), strict=True):
            for slump in (low, high):
                assert bre.free_water(slump, size, kind, kind).free_water_kg_per_m3 == pytest.approx(float(cell))


def test_strength_at_half_of_each_cell():
    for key, row in SECOND_READING_START.items():
        assert bre.STRENGTH_AT_HALF_MPA[key] == tuple(map(float, row.split("/")))


def test_only_cells_that_were_read_count_as_read():
    read = {
        (size, kind, column)
        for (size, kind) in SECOND_READING_BRE
        for column, slump in enumerate((5, 20, 50, 100))
        if bre.free_water(slump, size, kind, kind).fine_source.provenance is Provenance.PUBLISHED
    }
    assert read == {(40, "uncrushed", 2), (20, "uncrushed", 3), (20, "crushed", 3)}


def test_coarse_share_of_each_cell_at_a_ratio_of_half():
    for size, row in SECOND_READING_SHARE.items():
        for zone, cell in enumerate(row.split(), start=1):
            assert indian.coarse_share(size, zone, 0.5) == pytest.approx(float(cell))


def test_indian_water_air_and_shapes():
    for size, water, air in ((10, 208, 1.5), (20, 186, 1.0), (40, 165, 0.8)):
        assert indian.AIR_PERCENT[size] == air
        for shape, less in (("angular", 0), ("sub-angular", 10), ("gravel-with-crushed", 15), ("rounded-gravel", 20)):
            for slump in (25, 50):
                assert indian.mixing_water(slump, size, shape) == water - less
            assert indian.mixing_water(75, size, shape) == pytest.approx(1.03 * (water - less))


@pytest.mark.parametrize(
    ("strength", "x", "deviation"),
    [(10, 5, 3.5), (15, 5, 3.5), (15.1, 5.5, 4), (25, 5.5, 4), (25.1, 6.5, 5), (60, 6.5, 5), (60.1, 8, 6), (80, 8, 6)],
)
def test_indian_margins_change_above_the_last_grade_of_a_row(strength, x, deviation):
    found = target.target_mean_is(strength)
    assert found.standard_deviation_mpa == deviation
    assert found.target_mean_strength_mpa == pytest.approx(strength + max(x, 1.65 * deviation))
    assert target.target_mean_is(strength, 0.1).target_mean_strength_mpa == pytest.approx(strength + x)


def test_indian_target_above_80_needs_an_own_deviation():
    with pytest.raises(InvalidInput) as refused:
        target.target_mean_is(81)
    assert refused.value.key == "standard_deviation_mpa"
    assert target.target_mean_is(100, 5).target_mean_strength_mpa == pytest.approx(108.25)


@pytest.mark.parametrize(("count", "factor"), [(15, 1.16), (20, 1.08), (25, 1.03), (30, 1), (200, 1), (22, 1.06)])
def test_factor_for_the_number_of_tests(count, factor):
    found = target.required_average_strength(30, 4, count)
    assert found.modification_factor == pytest.approx(factor)


@pytest.mark.parametrize(
    ("strength", "count", "own", "line", "deviation"),
    [
        (15, 0, None, "A", 6),
        (20, 0, None, "A", 8),
        (40, 19, 5, "A", 8),
        (40, 19, 9, "", 9),
        (15, 20, 1, "B", 3),
        (20, 20, 1, "B", 4),
        (40, 20, 5, "", 5),
    ],
)
def test_british_deviation_by_the_lines(strength, count, own, line, deviation):
    found = target.target_mean_bre(strength, standard_deviation_mpa=own, results_count=count)
    assert (found.from_line, found.standard_deviation_mpa) == (line, pytest.approx(deviation))


def test_tables_run_the_way_they_must():
    """More stone size: less water, more stone. More strength: less ratio. Crushed: more water."""
    for rows in aci.WATER_KG_PER_M3.values():
        known = np.where(np.isnan(rows), -math.inf, rows)
        assert (np.diff(known, axis=1) < 0).all()
        assert (np.diff(rows, axis=0)[:, :-1] > 0).all()
    assert (aci.WATER_KG_PER_M3[True] < aci.WATER_KG_PER_M3[False])[:, :-1].all()
    assert (np.diff(aci.DRY_RODDED_M3, axis=0) > 0).all()
    assert (np.diff(aci.DRY_RODDED_M3, axis=1) < 0).all()
    for size in bre.SIZES_MM:
        crushed, round_stone = (np.array(bre.WATER_KG_PER_M3[size, kind]) for kind in bre.STONE_TYPES)
        assert (crushed > round_stone).all()
        assert (np.diff(crushed) > 0).all()


def test_remembered_cells_stand_out_in_the_reasons():
    def provenances(name, **inputs):
        return {step.step: step.source.provenance for step in calculation(name).ask(inputs).why}

    stone = {"fine_aggregate_type": "uncrushed", "coarse_aggregate_type": "uncrushed"}
    read = provenances("free-water-content-bre", slump_mm=50, maximum_aggregate_size_mm=40, **stone)
    remembered = provenances("free-water-content-bre", slump_mm=50, maximum_aggregate_size_mm=10, **stone)
    assert Provenance.MEMORY not in read.values()
    assert Provenance.MEMORY in remembered.values()
    answer = calculation("required-average-strength").ask({"specified_strength_mpa": 45})
    assert answer.rests_on_memory
    assert any("from memory" in caution for caution in answer.cautions)
