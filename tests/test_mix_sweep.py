"""Candidates as arrays against one candidate at a time, and the choice among them against looking at all pairs."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from mix_briefs import GONE, brief_of
from wetfront.desk.design_mix import design_mix
from wetfront.materials.absolute_volume import aggregate_by_fines
from wetfront.materials.aci_211 import mixing_water_and_air
from wetfront.materials.mix_batch import carbon_of, cost_of, ssd_density
from wetfront.materials.mix_sweep import LEAST_STEP, SweepLimits, candidates, frontier, swept
from wetfront.materials.stone_sizes import aci_size

FREE = SweepLimits(ratio_for_strength=1.0, ratio_most=None, cement_least=None, cement_most=None, stone_most_mm=None)


def test_each_candidate_is_what_the_single_formulas_give():
    brief = brief_of()
    sweep = brief.sweep
    found = candidates(brief, FREE)
    assert found.ratio.size == 9 * 5 * 2 * 2 * 3
    for index in range(0, found.ratio.size, 7):
        ratio, share, stone, cement, admixture = (int(each) for each in found.place[:, index])
        stone, cement, admixture = sweep.stone[stone], sweep.cement[cement], sweep.admixture[admixture]
        first = mixing_water_and_air(brief.target.slump_mm, aci_size(stone.maximum_size_mm))
        water = first.water_kg_per_m3 * (1 - admixture.water_reduction_percent / 100)
        content = water / sweep.water_cement_ratios[ratio]
        shared = aggregate_by_fines(
            water_kg_per_m3=water,
            cement_kg_per_m3=content,
            air_content_percent=first.air_content_percent,
            fines_volume_percent=sweep.sand_percents[share],
            fine_relative_density=ssd_density(brief.sand),
            coarse_relative_density=ssd_density(stone),
            cement_relative_density=cement.relative_density,
            admixture_kg_per_m3=content * admixture.dose_percent / 100,
            admixture_relative_density=admixture.relative_density,
        )
        assert found.cement[index] == pytest.approx(content)
        assert found.sand[index] == pytest.approx(shared.fine_aggregate_kg_per_m3)
        assert found.stone[index] == pytest.approx(shared.coarse_aggregate_kg_per_m3)
        one = replace(brief, stone=stone, cement=cement, admixture=admixture)
        masses = {
            "cement": content,
            "water": water,
            "sand": shared.fine_aggregate_kg_per_m3,
            "stone": shared.coarse_aggregate_kg_per_m3,
            "admixture": content * admixture.dose_percent / 100,
        }
        assert found.cost[index] == pytest.approx(cost_of(one, masses))
        assert found.carbon[index] == pytest.approx(carbon_of(one, masses))


def test_every_limit_refuses_what_it_says_and_nothing_else():
    brief = brief_of()
    limits = SweepLimits(
        ratio_for_strength=0.5, ratio_most=0.48, cement_least=360.0, cement_most=460.0, stone_most_mm=15
    )
    found = candidates(brief, limits)
    for index in range(found.ratio.size):
        stone = brief.sweep.stone[int(found.place[2, index])].maximum_size_mm
        own = brief.sweep.cement[int(found.place[3, index])].ratio_for_strength or 0.5
        holds = (
            found.ratio[index] <= min(own, 0.48) + 1e-9
            and 360 - 1e-9 <= found.cement[index] <= 460 + 1e-9
            and stone <= 15
            and 25 <= found.sand_mass_percent[index] <= 50
        )
        assert found.feasible[index] == holds
    assert 0 < found.feasible.sum() < found.feasible.size


def test_a_limit_just_met_is_met():
    brief = brief_of(sweep__water_cement_ratios=[0.45], sweep__cement=GONE)
    exactly = SweepLimits(
        ratio_for_strength=0.45, ratio_most=0.45, cement_least=None, cement_most=None, stone_most_mm=20
    )
    assert candidates(brief, exactly).feasible.any()


def test_a_cements_own_ratio_by_trials_goes_before_the_table():
    cements = [
        {"name": "one", "price_cu_per_t": 1.0, "carbon_kg_co2e_per_kg": 1.0},
        {"name": "other", "ratio_for_strength": 0.40, "price_cu_per_t": 1.0, "carbon_kg_co2e_per_kg": 1.0},
    ]
    brief = brief_of(sweep__cement=cements, sweep__water_cement_ratios=[0.40, 0.44])
    found = candidates(brief, replace(FREE, ratio_for_strength=0.44))
    highest = [found.ratio[found.feasible & (found.place[3] == number)].max() for number in (0, 1)]
    assert highest == [0.44, 0.40]


figures = arrays(np.float64, 12, elements=st.sampled_from([1.0, 2.0, 3.0, 5.0, 8.0, math.nan]))


@settings(max_examples=300)
@given(figures, figures, arrays(np.bool_, 12))
def test_no_candidate_is_better_than_the_frontier(cost, carbon, feasible):
    edge = frontier(cost, carbon, feasible)
    usable = feasible & ~np.isnan(cost) & ~np.isnan(carbon)
    assert all(usable[index] for index in edge)
    assert bool(len(edge)) == bool(usable.any())
    for first, second in pairwise(edge):
        assert cost[first] < cost[second]
        assert carbon[second] < carbon[first] * (1 - LEAST_STEP)
    for other in np.flatnonzero(usable):
        assert any(cost[index] <= cost[other] and carbon[index] <= carbon[other] for index in edge)


def test_cheapest_and_least_carbon_are_the_ends_of_the_frontier():
    found = swept(brief_of(), replace(FREE, ratio_for_strength=0.5))
    assert found.frontier[0] == found.cheapest
    assert found.frontier[-1].carbon_kg_co2e_per_m3 <= found.least_carbon.carbon_kg_co2e_per_m3 * (1 + LEAST_STEP)
    assert found.feasible_count < found.candidates_count


def test_without_prices_the_least_carbon_is_still_found():
    brief = brief_of(sand__price_cu_per_t=GONE)
    found = swept(brief, FREE)
    assert found.cheapest is None
    assert found.frontier == ()
    assert found.least_carbon is not None


def test_candidates_that_leave_no_room_are_refused_not_made():
    brief = brief_of(
        sweep__water_cement_ratios=[0.2],
        target__slump_mm=175,
        methods=["absolute-volume"],
        cement__relative_density=1.0,
        sweep__cement=GONE,
    )
    found = swept(brief, FREE)
    assert found.feasible_count == 0
    assert found.sentence.startswith(f"None of {found.candidates_count} candidates holds all limits.")
    assert {each.limit for each in found.refused} >= {"room for aggregate"}


def test_candidates_that_cannot_be_judged_are_left_out_of_the_design_with_the_reason():
    design = design_mix(brief_of(target__strength_class="C40/50", british__water_cement_ratio=0.42))
    assert design.sweep is None
    assert any(left.method == "candidates" and "average_strength_mpa" in left.reason for left in design.left_out)


def test_a_cement_judged_by_the_table_alone_is_told():
    assert "knows no cement class" in swept(brief_of(), FREE).sentence
    proven = [{"name": "one", "ratio_for_strength": 0.45}]
    assert "knows no cement class" not in swept(brief_of(sweep__cement=proven), FREE).sentence
