"""Mix proportions after IS 10262:2019, section 2 (ordinary and standard grades), read in summaries only."""

from dataclasses import dataclass
from typing import Literal

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.materials.absolute_volume import (
    ADMIXTURE_RELATIVE_DENSITY,
    CEMENT_RELATIVE_DENSITY,
    aggregate_by_fines,
)
from wetfront.nouns.reason import Provenance, Source
from wetfront.rules import rule

AggregateShape = Literal["angular", "sub-angular", "gravel-with-crushed", "rounded-gravel"]

METHOD = Source("IS 10262:2019, section 2", Provenance.RECOMPUTED)
WATER = Source("IS 10262:2019, Table 4, water for 50 mm slump, angular stone", Provenance.PUBLISHED)
SHAPE = Source("IS 10262:2019, 5.3, less water for rounder stone", Provenance.MEMORY)
SLUMP = Source("IS 10262:2019, 5.3, + 3 % of water for each 25 mm over 50 mm", Provenance.PUBLISHED)
LOW_SLUMP = Source("below 50 mm slump the water of 50 mm stays", Provenance.OWN_RULE)
AIR = Source("IS 10262:2019, Table 3, entrapped air", Provenance.MEMORY)
_SHARE = "IS 10262:2019, Table 5, coarse share of the aggregate volume at w/c 0.50"
SHARE_READ = Source(f"{_SHARE}, zone II (read in a summary)", Provenance.PUBLISHED)
SHARE_REMEMBERED = Source(f"{_SHARE}, zones I, III and IV", Provenance.MEMORY)
SHARE_BY_RATIO = Source("IS 10262:2019, 5.5.1, ± 0.01 for each 0.05 of w/c under or over 0.50", Provenance.PUBLISHED)
PUMPED = Source("IS 10262:2019, 5.5.2, up to 10 % less coarse for pumping", Provenance.MEMORY)
_CEMENT_CAP = rule("is", "cement-content-most")
MOST_CEMENT = _CEMENT_CAP.cited

SIZES_MM = (10.0, 20.0, 40.0)
WATER_KG_PER_M3 = {10.0: 208.0, 20.0: 186.0, 40.0: 165.0}
AIR_PERCENT = {10.0: 1.5, 20.0: 1.0, 40.0: 0.8}
SHAPE_KG_PER_M3: dict[AggregateShape, float] = {
    "angular": 0.0,
    "sub-angular": -10.0,
    "gravel-with-crushed": -15.0,
    "rounded-gravel": -20.0,
}
"""On the water, before the slump's correction (SHAPE)."""
COARSE_SHARE: dict[float, tuple[float, ...]] = {
    10.0: (0.48, 0.50, 0.52, 0.54),
    20.0: (0.60, 0.62, 0.64, 0.66),
    40.0: (0.69, 0.71, 0.72, 0.73),
}
"""Size -> share for the sand's zones I to IV: the finer the sand, the more stone."""
READ_ZONE = 2
LARGEST_CEMENT_KG_PER_M3 = _CEMENT_CAP.number
IS_ADMIXTURE_RELATIVE_DENSITY = 1.145
"""Of the standard's own example (IS 10262:2019, annex, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IsMix:
    """A first trial, with the findings of its steps; aggregate saturated and surface-dry."""

    water_kg_per_m3: float
    cement_kg_per_m3: float
    admixture_kg_per_m3: float
    coarse_aggregate_volume_fraction: float
    aggregate_volume_m3_per_m3: float
    coarse_aggregate_kg_per_m3: float
    fine_aggregate_kg_per_m3: float
    water_cement_ratio: float
    air_content_percent: float
    water_before_admixture_kg_per_m3: float
    ratio_used: float
    """After the durability limit, before the least cement."""


def mixing_water(slump_mm: float, maximum_aggregate_size_mm: float, aggregate_shape: AggregateShape) -> float:
    """Water [kg/m³] before an admixture, for a slump of 25 to 200 mm.

    OutOfRange names slump_mm or maximum_aggregate_size_mm. Source: IS 10262:2019, Table 4 and 5.3.
    """
    if maximum_aggregate_size_mm not in WATER_KG_PER_M3:
        raise OutOfRange("maximum_aggregate_size_mm", maximum_aggregate_size_mm, "10, 20 or 40 mm", "IS 10262:2019")
    if not 25 <= slump_mm <= 200:
        raise OutOfRange("slump_mm", slump_mm, "from 25 to 200 mm", "IS 10262:2019, 5.3,")
    start = WATER_KG_PER_M3[maximum_aggregate_size_mm] + SHAPE_KG_PER_M3[aggregate_shape]
    return start * (1.0 + 0.03 * max(0.0, slump_mm - 50.0) / 25.0)


def coarse_share(
    maximum_aggregate_size_mm: float, sand_zone: int, ratio: float, reduction_for_pumping_percent: float = 0.0
) -> float:
    """Coarse aggregate as a share of all aggregate by volume. Source: IS 10262:2019, Table 5, 5.5.1, 5.5.2."""
    at_half = COARSE_SHARE[maximum_aggregate_size_mm][sand_zone - 1]
    return (at_half + 0.01 * (0.50 - ratio) / 0.05) * (1.0 - reduction_for_pumping_percent / 100.0)


def proportions(
    *,
    maximum_aggregate_size_mm: float,
    slump_mm: float,
    water_cement_ratio: float,
    sand_zone: int,
    coarse_relative_density: float,
    fine_relative_density: float,
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY,
    aggregate_shape: AggregateShape = "angular",
    water_reduction_percent: float = 0.0,
    admixture_dose_percent: float = 0.0,
    admixture_relative_density: float = ADMIXTURE_RELATIVE_DENSITY,
    coarse_reduction_for_pumping_percent: float = 0.0,
    maximum_water_cement_ratio: float | None = None,
    minimum_cement_kg_per_m3: float = 0.0,
    maximum_cement_kg_per_m3: float = LARGEST_CEMENT_KG_PER_M3,
) -> IsMix:
    """Constituents of 1 m³ from a free water/cement ratio (Fig. 1 or trials) and a slump.

    InvalidInput names maximum_cement_kg_per_m3 where the mix would need more, cement_kg_per_m3 where no room is left.
    Source: IS 10262:2019, section 2.
    """
    before = mixing_water(slump_mm, maximum_aggregate_size_mm, aggregate_shape)
    water = before * (1.0 - water_reduction_percent / 100.0)
    ratio = min(water_cement_ratio, maximum_water_cement_ratio or water_cement_ratio)
    cement = max(water / ratio, minimum_cement_kg_per_m3)
    if cement > maximum_cement_kg_per_m3 + 1e-9:
        raise InvalidInput(
            "maximum_cement_kg_per_m3",
            f"maximum_cement_kg_per_m3 is {maximum_cement_kg_per_m3:g}, the mix would need {cement:.0f} kg/m³: less "
            "water (a water reducer, less slump, larger aggregate)",
        )
    final = water / cement
    share = coarse_share(maximum_aggregate_size_mm, sand_zone, final, coarse_reduction_for_pumping_percent)
    admixture = cement * admixture_dose_percent / 100.0
    air = AIR_PERCENT[maximum_aggregate_size_mm]
    shared = aggregate_by_fines(
        water_kg_per_m3=water,
        cement_kg_per_m3=cement,
        air_content_percent=air,
        fines_volume_percent=100.0 * (1.0 - share),
        fine_relative_density=fine_relative_density,
        coarse_relative_density=coarse_relative_density,
        cement_relative_density=cement_relative_density,
        admixture_kg_per_m3=admixture,
        admixture_relative_density=admixture_relative_density,
    )
    return IsMix(
        water_kg_per_m3=water,
        cement_kg_per_m3=cement,
        admixture_kg_per_m3=admixture,
        coarse_aggregate_volume_fraction=share,
        aggregate_volume_m3_per_m3=shared.aggregate_volume_m3,
        coarse_aggregate_kg_per_m3=shared.coarse_aggregate_kg_per_m3,
        fine_aggregate_kg_per_m3=shared.fine_aggregate_kg_per_m3,
        water_cement_ratio=final,
        air_content_percent=air,
        water_before_admixture_kg_per_m3=before,
        ratio_used=ratio,
    )
