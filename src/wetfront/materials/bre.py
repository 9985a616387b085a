"""The British method (BRE BR 331, 2nd edition 1997). Its charts are read by the user; nothing is digitised here."""

from dataclasses import dataclass
from typing import Literal

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Provenance, Source

StoneType = Literal["crushed", "uncrushed"]
STONE_TYPES: tuple[StoneType, ...] = ("crushed", "uncrushed")

_BOOK = "Design of normal concrete mixes, BRE BR 331, 2nd ed. 1997"
METHOD = Source(f"{_BOOK}, C3 to C5", Provenance.RECOMPUTED)
WATER_REMEMBERED = Source(f"{_BOOK}, Table 3", Provenance.MEMORY)
WATER_READ = Source(f"{_BOOK}, Table 3, this cell read in worked forms of the method", Provenance.PUBLISHED)
MIXED_TYPES = Source(f"{_BOOK}: water = 2/3 of the sand's and 1/3 of the stone's", Provenance.PUBLISHED)
CHART = Source(f"{_BOOK}, a chart, read by the user", Provenance.INPUT)
COMPUTED_DENSITY = Source("absolute volumes in place of Fig. 5, cement 3.15", Provenance.RECOMPUTED)
DRIER_COLUMN = Source(f"{_BOOK}: with entrained air the next drier slump column", Provenance.MEMORY)
AIR_DENSITY = Source(f"{_BOOK}: entrained air a % takes 10 a G off the density", Provenance.MEMORY)
START = Source(f"{_BOOK}, Table 2, strength at free w/c 0.50", Provenance.MEMORY)

SIZES_MM = (10.0, 20.0, 40.0)
SLUMP_TO_MM = (10.0, 30.0, 60.0, 180.0)
"""Upper ends of the columns; a slump on a boundary takes the drier one."""
WATER_KG_PER_M3: dict[tuple[float, StoneType], tuple[float, ...]] = {
    (10.0, "uncrushed"): (150, 180, 205, 225),
    (10.0, "crushed"): (180, 205, 230, 250),
    (20.0, "uncrushed"): (135, 160, 180, 195),
    (20.0, "crushed"): (170, 190, 210, 225),
    (40.0, "uncrushed"): (115, 140, 160, 175),
    (40.0, "crushed"): (155, 175, 190, 205),
}
READ_CELLS = {(40.0, "uncrushed", 2), (20.0, "uncrushed", 3), (20.0, "crushed", 3)}
"""Cells that stand in published worked forms; the others are from memory."""
STRENGTH_AT_HALF_MPA: dict[tuple[float, StoneType], tuple[float, ...]] = {
    (42.5, "uncrushed"): (22, 30, 42, 49),
    (42.5, "crushed"): (27, 36, 49, 56),
    (52.5, "uncrushed"): (29, 37, 48, 54),
    (52.5, "crushed"): (34, 43, 55, 61),
}
"""Cement class and stone -> cube strength at 3, 7, 28 and 91 days (START): where the user enters Fig. 4."""


@dataclass(frozen=True, slots=True)
class FreeWater:
    """Free water, and the sources of the two cells that it is made of."""

    free_water_kg_per_m3: float
    fine_kg_per_m3: float
    coarse_kg_per_m3: float
    fine_source: Source
    coarse_source: Source


def free_water(
    slump_mm: float,
    maximum_aggregate_size_mm: float,
    fine_aggregate_type: StoneType,
    coarse_aggregate_type: StoneType,
    *,
    air_entrained: bool = False,
) -> FreeWater:
    """Free water [kg/m³] for a slump of 0 to 180 mm: 2/3 by the sand's type, 1/3 by the stone's.

    With entrained air the next drier column counts (from memory).

    OutOfRange names slump_mm or maximum_aggregate_size_mm. Source: BRE BR 331, Table 3.
    """
    if maximum_aggregate_size_mm not in SIZES_MM:
        raise OutOfRange("maximum_aggregate_size_mm", maximum_aggregate_size_mm, "10, 20 or 40 mm", "BRE BR 331")
    if not 0 <= slump_mm <= SLUMP_TO_MM[-1]:
        raise OutOfRange("slump_mm", slump_mm, "from 0 to 180 mm", "BRE BR 331, Table 3,")
    column = next(place for place, up_to in enumerate(SLUMP_TO_MM) if slump_mm <= up_to)
    if air_entrained:
        column = max(0, column - 1)
    fine, coarse = (
        WATER_KG_PER_M3[maximum_aggregate_size_mm, each][column]
        for each in (fine_aggregate_type, coarse_aggregate_type)
    )
    sources = [
        WATER_READ if (maximum_aggregate_size_mm, each, column) in READ_CELLS else WATER_REMEMBERED
        for each in (fine_aggregate_type, coarse_aggregate_type)
    ]
    return FreeWater(2 / 3 * fine + 1 / 3 * coarse, fine, coarse, *sources)


@dataclass(frozen=True, slots=True, kw_only=True)
class BreMix:
    """A first trial; aggregate saturated and surface-dry."""

    cement_kg_per_m3: float
    total_aggregate_kg_per_m3: float
    fine_aggregate_kg_per_m3: float
    coarse_aggregate_kg_per_m3: float
    fresh_density_kg_per_m3: float
    water_cement_ratio: float
    density_without_air_kg_per_m3: float
    ratio_used: float
    """After the durability limit, before the least cement."""


def proportions(
    *,
    free_water_kg_per_m3: float,
    water_cement_ratio: float,
    fines_percent: float,
    aggregate_relative_density: float,
    maximum_water_cement_ratio: float | None = None,
    minimum_cement_kg_per_m3: float = 0.0,
    maximum_cement_kg_per_m3: float | None = None,
    fresh_density_kg_per_m3: float | None = None,
    air_content_percent: float = 0.0,
) -> BreMix:
    """Constituents of 1 m³ from free water, the ratio of Fig. 4 and the fines of Fig. 6, both read by the user.

    The fresh density is that of Fig. 5, or computed where none is given; entrained air takes 10 a G off either.
    InvalidInput names maximum_cement_kg_per_m3 where the mix would need more; fresh_density_kg_per_m3 or
    free_water_kg_per_m3 where nothing is left for aggregate.
    Source: BRE BR 331, 2nd ed. 1997, C3 to C5.
    """
    water = free_water_kg_per_m3
    ratio = min(water_cement_ratio, maximum_water_cement_ratio or water_cement_ratio)
    cement = max(water / ratio, minimum_cement_kg_per_m3)
    if maximum_cement_kg_per_m3 is not None and cement > maximum_cement_kg_per_m3 + 1e-9:
        raise InvalidInput(
            "maximum_cement_kg_per_m3",
            f"maximum_cement_kg_per_m3 is {maximum_cement_kg_per_m3:g}, the mix would need {cement:.0f} kg/m³: another "
            "mix is needed (less water, another cement class, other aggregate)",
        )
    computed = water + cement + (1000.0 - water - cement / 3.15) * aggregate_relative_density
    without_air = computed if fresh_density_kg_per_m3 is None else fresh_density_kg_per_m3
    density = without_air - 10.0 * air_content_percent * aggregate_relative_density
    aggregate = density - cement - water
    if aggregate <= 0:
        key = "free_water_kg_per_m3" if fresh_density_kg_per_m3 is None else "fresh_density_kg_per_m3"
        raise InvalidInput(key, f"{key}: {density:.0f} kg/m³ leaves no room for aggregate beside water and cement")
    fine = aggregate * fines_percent / 100.0
    return BreMix(
        cement_kg_per_m3=cement,
        total_aggregate_kg_per_m3=aggregate,
        fine_aggregate_kg_per_m3=fine,
        coarse_aggregate_kg_per_m3=aggregate - fine,
        fresh_density_kg_per_m3=density,
        water_cement_ratio=water / cement,
        density_without_air_kg_per_m3=without_air,
        ratio_used=ratio,
    )
