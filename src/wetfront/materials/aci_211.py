"""First trial proportions after ACI 211.1-91, its tables of Appendix 1 in SI units.

Read in reproductions, not in the standard itself. Nothing is extrapolated: what no table covers is refused.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.materials.absolute_volume import (
    ADMIXTURE_RELATIVE_DENSITY,
    CEMENT_RELATIVE_DENSITY,
    Filled,
    fine_aggregate,
)
from wetfront.nouns.reason import Provenance, Source

AirExposure = Literal["mild", "moderate", "severe"]
AIR_EXPOSURES: tuple[AirExposure, ...] = ("mild", "moderate", "severe")

_REPRODUCED = "as reproduced in doi 10.1155/2018/4398017, Table 3, and twice more"
WATER_TABLE = Source(f"ACI 211.1-91 (reapproved 2009), Table A1.5.3.3, {_REPRODUCED}", Provenance.PUBLISHED)
WATER_DISPUTED = Source(
    "ACI 211.1-91, Table A1.5.3.3, 37.5 mm air-entrained at 25 to 50 mm: 150 in one reproduction (used), 148 in two",
    Provenance.PUBLISHED,
)
BETWEEN_ROWS = Source("linear between the facing ends of two rows of Table A1.5.3.3", Provenance.OWN_RULE)
RATIO_TABLE = Source("ACI 211.1-91, Table A1.5.3.4(a), and PCA EB001, Table 9-3 metric", Provenance.PUBLISHED)
RATIO_TABLE_LATER = Source("PCA EB001, Table 9-3 metric (not in ACI 211.1-91)", Provenance.PUBLISHED)
ROUNDED_DOWN = Source("linear between the table's strengths, rounded down to 0.01", Provenance.OWN_RULE)
COARSE_TABLE = Source("ACI 211.1-91, Table A1.5.3.6, and PCA EB001, Table 9-4", Provenance.PUBLISHED)
FIRST_WEIGHT = Source("ACI 211.1-91, Table A1.5.3.7.1 (first estimate of the fresh mass)", Provenance.MEMORY)
METHOD = Source("ACI 211.1-91, chapter 6 and Appendix 1", Provenance.RECOMPUTED)
AGGREGATE_SIZE = Source(
    "ACI 318, 26.4.2.1; ACI 211.1, 6.3.2: 1/5 form, 1/3 slab, 3/4 clear bar spacing", Provenance.PUBLISHED
)

SIZES_MM = (9.5, 12.5, 19.0, 25.0, 37.5, 50.0, 75.0, 150.0)
"""Nominal maximum sizes of the tables."""
SLUMP_ROWS_MM = ((25.0, 50.0), (75.0, 100.0), (150.0, 175.0))
_NONE = math.nan
"""A dash of the table."""
WATER_KG_PER_M3: dict[bool, np.ndarray] = {
    False: np.array(
        [
            [207, 199, 190, 179, 166, 154, 130, 113],
            [228, 216, 205, 193, 181, 169, 145, 124],
            [243, 228, 216, 202, 190, 178, 160, _NONE],
        ]
    ),
    True: np.array(
        [
            [181, 175, 168, 160, 150, 142, 122, 107],
            [202, 193, 184, 175, 165, 157, 133, 119],
            [216, 205, 197, 184, 174, 166, 154, _NONE],
        ]
    ),
}
"""Air-entrained or not -> slump row by size (WATER_TABLE). For well-shaped angular stone within its grading."""
ENTRAPPED_AIR_PERCENT = (3.0, 2.5, 2.0, 1.5, 1.0, 0.5, 0.3, 0.2)
TOTAL_AIR_PERCENT: dict[AirExposure, tuple[float, ...]] = {
    "mild": (4.5, 4.0, 3.5, 3.0, 2.5, 2.0, 1.5, 1.0),
    "moderate": (6.0, 5.5, 5.0, 4.5, 4.5, 4.0, 3.5, 3.0),
    "severe": (7.5, 7.0, 6.0, 6.0, 5.5, 5.0, 4.5, 4.0),
}
STRENGTHS_MPA = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0)
"""Average strength of cylinders at 28 days."""
RATIOS: dict[bool, tuple[float, ...]] = {
    False: (0.79, 0.69, 0.61, 0.54, 0.47, 0.42, 0.38),
    True: (0.70, 0.60, 0.52, 0.45, 0.39, 0.34, 0.30),
}
"""Air-entrained or not -> w/c by strength (RATIO_TABLE). One reproduction prints 0.71 for the last cell."""
LATER_RATIOS_FROM_MPA = {False: 40.0, True: 35.0}
"""Above these the next cell is the later table's: 45 MPa in both rows, 40 MPa with entrained air."""
FINENESS_MODULI = (2.40, 2.60, 2.80, 3.00)
DRY_RODDED_M3 = np.array(
    [
        [0.50, 0.48, 0.46, 0.44],
        [0.59, 0.57, 0.55, 0.53],
        [0.66, 0.64, 0.62, 0.60],
        [0.71, 0.69, 0.67, 0.65],
        [0.75, 0.73, 0.71, 0.69],
        [0.78, 0.76, 0.74, 0.72],
        [0.82, 0.80, 0.78, 0.76],
        [0.87, 0.85, 0.83, 0.81],
    ]
)
"""Size by fineness modulus of the sand (COARSE_TABLE)."""
FIRST_DENSITY_KG_PER_M3: dict[bool, tuple[float, ...]] = {
    False: (2280, 2310, 2345, 2380, 2410, 2445, 2490, 2530),
    True: (2200, 2230, 2275, 2290, 2350, 2345, 2405, 2435),
}
"""Air-entrained or not -> first estimate of the fresh density by size (FIRST_WEIGHT)."""


def _place(maximum_aggregate_size_mm: float) -> int:
    if maximum_aggregate_size_mm not in SIZES_MM:
        sizes = ", ".join(f"{size:g}" for size in SIZES_MM)
        raise OutOfRange("maximum_aggregate_size_mm", maximum_aggregate_size_mm, f"one of {sizes} mm", "ACI 211.1")
    return SIZES_MM.index(maximum_aggregate_size_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterAndAir:
    """Mixing water for aggregate that is saturated and surface-dry, and the air to count with."""

    water_kg_per_m3: float
    air_content_percent: float
    between_rows: bool
    source: Source
    """Of the water."""


def mixing_water_and_air(
    slump_mm: float,
    maximum_aggregate_size_mm: float,
    *,
    air_entrained: bool = False,
    exposure: AirExposure = "moderate",
) -> WaterAndAir:
    """Water [kg/m³] and air [%] by slump, 25 to 175 mm, and nominal largest aggregate.

    Within a row of the table the water is that row's, between two rows linear. Air is what is trapped, or with
    entrained air the recommended total for the exposure. OutOfRange names slump_mm outside the rows and where the
    table has a dash (150 mm stone over 100 mm slump), and a size that the table does not have.
    Source: ACI 211.1-91, Table A1.5.3.3; between rows our convention.
    """
    place = _place(maximum_aggregate_size_mm)
    ends = [end for row in SLUMP_ROWS_MM for end in row]
    if not ends[0] <= slump_mm <= ends[-1]:
        raise OutOfRange("slump_mm", slump_mm, f"from {ends[0]:g} to {ends[-1]:g} mm", "ACI 211.1, Table A1.5.3.3,")
    column = np.repeat(WATER_KG_PER_M3[air_entrained][:, place], 2)
    in_table = ~np.isnan(column)
    highest = float(np.array(ends)[in_table].max())
    if slump_mm > highest:
        raise OutOfRange(
            "slump_mm",
            slump_mm,
            f"up to {highest:g} mm with {maximum_aggregate_size_mm:g} mm aggregate",
            "ACI 211.1, Table A1.5.3.3,",
        )
    between = not any(low <= slump_mm <= high for low, high in SLUMP_ROWS_MM)
    disputed = air_entrained and maximum_aggregate_size_mm == 37.5 and slump_mm < SLUMP_ROWS_MM[1][0]
    air = TOTAL_AIR_PERCENT[exposure] if air_entrained else ENTRAPPED_AIR_PERCENT
    return WaterAndAir(
        water_kg_per_m3=float(np.interp(slump_mm, np.array(ends)[in_table], column[in_table])),
        air_content_percent=air[place],
        between_rows=between,
        source=BETWEEN_ROWS if between else WATER_DISPUTED if disputed else WATER_TABLE,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """A water/cement ratio and what set it."""

    water_cement_ratio: float
    for_strength: float
    """Rounded down to 0.01."""
    interpolated: float
    governed_by: Literal["strength", "durability"]
    source: Source


def water_cement_ratio(
    average_strength_mpa: float,
    *,
    air_entrained: bool = False,
    maximum_water_cement_ratio: float | None = None,
) -> Ratio:
    """The ratio for an average 28-day cylinder strength of 15 to 45 MPa, and not over the durability limit.

    OutOfRange names average_strength_mpa outside the table.
    Source: ACI 211.1-91, Table A1.5.3.4(a), with PCA EB001, Table 9-3; rounding down: own rule.
    >>> water_cement_ratio(24).water_cement_ratio
    0.62
    """
    low, high = STRENGTHS_MPA[0], STRENGTHS_MPA[-1]
    if not low <= average_strength_mpa <= high:
        raise OutOfRange(
            "average_strength_mpa",
            average_strength_mpa,
            f"from {low:g} to {high:g} MPa",
            "ACI 211.1, Table A1.5.3.4(a),",
        )
    found = float(np.interp(average_strength_mpa, STRENGTHS_MPA, RATIOS[air_entrained]))
    # The small addition keeps a node of the table, such as 0.54, from falling to 0.53.
    rounded = math.floor((found + 1e-8) * 100) / 100
    capped = maximum_water_cement_ratio is not None and maximum_water_cement_ratio < rounded - 1e-9
    later = average_strength_mpa > LATER_RATIOS_FROM_MPA[air_entrained]
    return Ratio(
        water_cement_ratio=maximum_water_cement_ratio if capped and maximum_water_cement_ratio else rounded,
        for_strength=rounded,
        interpolated=found,
        governed_by="durability" if capped else "strength",
        source=RATIO_TABLE_LATER if later else RATIO_TABLE,
    )


def dry_rodded_volume(maximum_aggregate_size_mm: float, fineness_modulus: float) -> float:
    """Bulk volume of dry-rodded coarse aggregate [m³ per m³ of concrete]; linear in the fineness modulus.

    OutOfRange names fineness_modulus outside 2.40 to 3.00, and a size that the table does not have.
    Source: ACI 211.1-91, Table A1.5.3.6.
    """
    low, high = FINENESS_MODULI[0], FINENESS_MODULI[-1]
    if not low <= fineness_modulus <= high:
        raise OutOfRange(
            "fineness_modulus", fineness_modulus, f"from {low:.2f} to {high:.2f}", "ACI 211.1, Table A1.5.3.6,"
        )
    return float(np.interp(fineness_modulus, FINENESS_MODULI, DRY_RODDED_M3[_place(maximum_aggregate_size_mm)]))


def fine_aggregate_by_weight(
    maximum_aggregate_size_mm: float,
    water_kg_per_m3: float,
    cement_kg_per_m3: float,
    coarse_aggregate_kg_per_m3: float,
    *,
    air_entrained: bool = False,
) -> float:
    """The sand [kg/m³] that is left of the first estimate of the fresh density: the quicker variant, from memory.

    InvalidInput names coarse_aggregate_kg_per_m3 where nothing is left.
    Source: ACI 211.1-91, 6.3.7.1 and Table A1.5.3.7.1.
    """
    first = FIRST_DENSITY_KG_PER_M3[air_entrained][_place(maximum_aggregate_size_mm)]
    left = first - water_kg_per_m3 - cement_kg_per_m3 - coarse_aggregate_kg_per_m3
    if left <= 0:
        raise InvalidInput(
            "coarse_aggregate_kg_per_m3",
            f"coarse_aggregate_kg_per_m3 is {coarse_aggregate_kg_per_m3:g}: nothing of {first:g} kg/m³ is left",
        )
    return left


@dataclass(frozen=True, slots=True, kw_only=True)
class AciMix:
    """A first trial by the absolute-volume method, with the findings of its steps."""

    water_kg_per_m3: float
    cement_kg_per_m3: float
    coarse_aggregate_kg_per_m3: float
    fine_aggregate_kg_per_m3: float
    air_content_percent: float
    water_cement_ratio: float
    fresh_density_kg_per_m3: float
    admixture_kg_per_m3: float
    first_water: WaterAndAir
    """Before the admixture."""
    ratio: Ratio
    dry_rodded_volume_m3: float
    filled: Filled
    cement_by_minimum: bool


def proportions(
    *,
    average_strength_mpa: float,
    slump_mm: float,
    maximum_aggregate_size_mm: float,
    fineness_modulus: float,
    dry_rodded_density_kg_per_m3: float,
    coarse_relative_density: float,
    fine_relative_density: float,
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY,
    air_entrained: bool = False,
    exposure: AirExposure = "moderate",
    maximum_water_cement_ratio: float | None = None,
    minimum_cement_kg_per_m3: float = 0.0,
    water_reduction_percent: float = 0.0,
    admixture_dose_percent: float = 0.0,
    admixture_relative_density: float = ADMIXTURE_RELATIVE_DENSITY,
) -> AciMix:
    """Water, cement, stone and sand of 1 m³ for an average cylinder strength and a slump before the admixture.

    Relative densities in the moisture basis of the masses: the stone's mass comes out oven-dry, because the rodded
    density is. Raises what its steps raise.
    Source: ACI 211.1-91, chapter 6.
    """
    first = mixing_water_and_air(slump_mm, maximum_aggregate_size_mm, air_entrained=air_entrained, exposure=exposure)
    ratio = water_cement_ratio(
        average_strength_mpa, air_entrained=air_entrained, maximum_water_cement_ratio=maximum_water_cement_ratio
    )
    volume = dry_rodded_volume(maximum_aggregate_size_mm, fineness_modulus)
    water = first.water_kg_per_m3 * (1.0 - water_reduction_percent / 100.0)
    by_ratio = water / ratio.water_cement_ratio
    cement = max(by_ratio, minimum_cement_kg_per_m3)
    admixture = cement * admixture_dose_percent / 100.0
    filled = fine_aggregate(
        water_kg_per_m3=water,
        cement_kg_per_m3=cement,
        coarse_aggregate_kg_per_m3=volume * dry_rodded_density_kg_per_m3,
        air_content_percent=first.air_content_percent,
        fine_relative_density=fine_relative_density,
        coarse_relative_density=coarse_relative_density,
        cement_relative_density=cement_relative_density,
        admixture_kg_per_m3=admixture,
        admixture_relative_density=admixture_relative_density,
    )
    return AciMix(
        water_kg_per_m3=water,
        cement_kg_per_m3=cement,
        coarse_aggregate_kg_per_m3=volume * dry_rodded_density_kg_per_m3,
        fine_aggregate_kg_per_m3=filled.fine_aggregate_kg_per_m3,
        air_content_percent=first.air_content_percent,
        water_cement_ratio=water / cement,
        fresh_density_kg_per_m3=filled.fresh_density_kg_per_m3,
        admixture_kg_per_m3=admixture,
        first_water=first,
        ratio=ratio,
        dry_rodded_volume_m3=volume,
        filled=filled,
        cement_by_minimum=minimum_cement_kg_per_m3 > by_ratio,
    )


@dataclass(frozen=True, slots=True)
class LargestAggregate:
    """The largest aggregate that form, slab and bars let through."""

    maximum_aggregate_size_mm: float
    governed_by: Literal["form", "slab", "bar-spacing"]


def maximum_aggregate_size(
    narrowest_form_mm: float | None = None,
    slab_depth_mm: float | None = None,
    clear_bar_spacing_mm: float | None = None,
) -> LargestAggregate:
    """The least of 1/5 narrowest form, 1/3 slab depth and 3/4 clear bar spacing, of those that are given.

    InvalidInput names clear_bar_spacing_mm where none is given. Source: ACI 318, 26.4.2.1; ACI 211.1, 6.3.2.
    """
    bounds: list[LargestAggregate] = []
    if narrowest_form_mm is not None:
        bounds.append(LargestAggregate(narrowest_form_mm / 5, "form"))
    if slab_depth_mm is not None:
        bounds.append(LargestAggregate(slab_depth_mm / 3, "slab"))
    if clear_bar_spacing_mm is not None:
        bounds.append(LargestAggregate(0.75 * clear_bar_spacing_mm, "bar-spacing"))
    if not bounds:
        raise InvalidInput(
            "clear_bar_spacing_mm",
            "none of narrowest_form_mm, slab_depth_mm and clear_bar_spacing_mm is given; at least one is needed",
        )
    return min(bounds, key=lambda bound: bound.maximum_aggregate_size_mm)
