"""A sweep of a thousand candidate mixes as arrays, against one candidate at a time in plain Python."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from benchmarks.measure import Measure, best_seconds
from mix_briefs import brief_of
from wetfront.materials.absolute_volume import aggregate_by_fines
from wetfront.materials.aci_211 import mixing_water_and_air
from wetfront.materials.mix_batch import carbon_of, cost_of, ssd_density
from wetfront.materials.mix_sweep import Candidates, SweepLimits, candidates, swept
from wetfront.materials.stone_sizes import aci_size
from wetfront.nouns.mix_brief import MixBrief

LIMITS = SweepLimits(ratio_for_strength=0.5, ratio_most=0.55, cement_least=280, cement_most=None, stone_most_mm=40)


def _brief(ratios: int, shares: int) -> MixBrief:
    """Two stones, two cements and three admixtures of the template, with so many ratios and sand shares."""
    return brief_of(
        sweep__water_cement_ratios=[round(0.36 + 0.2 * place / ratios, 4) for place in range(ratios)],
        sweep__sand_percents=[round(30 + 18 * place / shares, 3) for place in range(shares)],
    )


def run() -> Iterator[Measure]:
    """Seconds for the whole answer, and how far ahead the arrays are of single candidates with the same results."""
    thousand = _brief(12, 7)
    count = candidates(thousand, LIMITS).ratio.size
    seconds = best_seconds(lambda: swept(thousand, LIMITS))
    yield Measure(f"{count} candidates with limits, cost, carbon, frontier", 1e3 * seconds, "ms", "wanted: under 1000")
    found = candidates(thousand, LIMITS)
    arrays = best_seconds(lambda: candidates(thousand, LIMITS))
    singly = best_seconds(lambda: _one_by_one(thousand, found), repeats=3)
    deviation = float(np.abs(_one_by_one(thousand, found) - np.column_stack((found.cost, found.carbon))).max())
    yield Measure("the same one candidate at a time", singly / arrays, "times longer", f"deviation {deviation:.0e}")
    many = _brief(190, 85)
    count = candidates(many, LIMITS).ratio.size
    yield Measure(f"{count:,} candidates", 1e3 * best_seconds(lambda: swept(many, LIMITS), repeats=3), "ms")


def _one_by_one(brief: MixBrief, found: Candidates) -> np.ndarray:
    """Cost and carbon of each candidate by the functions for a single mix."""
    sweep = brief.sweep
    rows = []
    for place in found.place.T:
        stone, cement, admixture = sweep.stone[place[2]], sweep.cement[place[3]], sweep.admixture[place[4]]
        first = mixing_water_and_air(brief.target.slump_mm, aci_size(stone.maximum_size_mm))
        water = first.water_kg_per_m3 * (1 - admixture.water_reduction_percent / 100)
        content = water / sweep.water_cement_ratios[place[0]]
        dose = content * admixture.dose_percent / 100
        shared = aggregate_by_fines(
            water_kg_per_m3=water,
            cement_kg_per_m3=content,
            air_content_percent=first.air_content_percent,
            fines_volume_percent=sweep.sand_percents[place[1]],
            fine_relative_density=ssd_density(brief.sand),
            coarse_relative_density=ssd_density(stone),
            cement_relative_density=cement.relative_density,
            admixture_kg_per_m3=dose,
            admixture_relative_density=admixture.relative_density,
        )
        sand, coarse = shared.fine_aggregate_kg_per_m3, shared.coarse_aggregate_kg_per_m3
        masses = {"cement": content, "water": water, "sand": sand, "stone": coarse, "admixture": dose}
        one = replace(brief, stone=stone, cement=cement, admixture=admixture)
        rows.append((cost_of(one, masses), carbon_of(one, masses)))
    return np.array(rows)
