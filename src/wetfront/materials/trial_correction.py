"""What a trial batch says about its mix: its real yield and water, and the proportions to try next.

Source: ACI 211.1-91, 6.3.9 and Appendix 2; the rules for slump and air are from memory.
"""

from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.materials.absolute_volume import fine_aggregate
from wetfront.materials.site_batch import YIELD, yield_from_density
from wetfront.nouns.reason import Provenance, Source, Step

WATER_FOUND = Source("ACI 211.1-91, 6.3.9: water added and free on the aggregates, over the yield", Provenance.MEMORY)
WATER_FOR_SLUMP = Source("ACI 211.1-91, 6.3.9: 2 kg/m³ of water for each 10 mm of slump", Provenance.MEMORY)
WATER_FOR_AIR = Source("ACI 211.1-91, 6.3.9: 3 kg/m³ less water for each 1 % more air", Provenance.MEMORY)
SAME_RATIO = Source("ACI 211.1-91, 6.3.9: the ratio stays", Provenance.MEMORY)
SAME_STONE = Source("ACI 211.1-91, 6.3.9: stone per m³ as in the trial, sand fills the volume", Provenance.MEMORY)
WATER_KG_PER_10_MM, WATER_KG_PER_AIR_PERCENT = 2.0, 3.0
LARGEST_CHANGE_MM = 75.0
"""Own rule: a trial further off its slump says little about the water it needs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A batch as it was mixed. Masses in kg, aggregates as weighed."""

    designed_volume_m3: float
    cement_kg: float
    sand_kg: float
    stone_kg: float
    admixture_kg: float
    water_added_kg: float
    free_water_kg: float
    """On the aggregates, and of the admixture where it counts."""
    stone_ssd_kg: float
    slump_mm: float
    fresh_density_kg_per_m3: float
    air_content_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the mix must keep to, and the densities of its parts, aggregates saturated and surface-dry."""

    slump_mm: float
    air_content_percent: float
    air_entrained: bool
    water_cement_ratio: float
    minimum_cement_kg_per_m3: float
    admixture_dose_percent: float
    cement_relative_density: float
    sand_relative_density: float
    stone_relative_density: float
    admixture_relative_density: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """The next proportions of 1 m³, aggregates saturated and surface-dry."""

    yield_m3: float
    water_found_kg_per_m3: float
    water_kg_per_m3: float
    cement_kg_per_m3: float
    sand_kg_per_m3: float
    stone_kg_per_m3: float
    admixture_kg_per_m3: float
    air_content_percent: float
    why: tuple[Step, ...]


def corrected(trial: Trial, wanted: Wanted) -> Corrected:
    """The mix to try next. The trial's air counts where it was measured, else what the design counted.

    InvalidInput names slump_mm where the trial is over 75 mm off, water_added_kg where nothing of the water is left,
    coarse_aggregate_kg_per_m3 where no room is left for sand.
    Source: ACI 211.1-91, 6.3.9 and Appendix 2 (from memory).
    """
    change = wanted.slump_mm - trial.slump_mm
    if abs(change) > LARGEST_CHANGE_MM:
        raise InvalidInput(
            "slump_mm",
            f"slump_mm of the trial is {trial.slump_mm:g}, {wanted.slump_mm:g} is wanted: over "
            f"{LARGEST_CHANGE_MM:g} mm off; look at moisture and masses, and try again",
        )
    mass = trial.cement_kg + trial.sand_kg + trial.stone_kg + trial.admixture_kg + trial.water_added_kg
    volume = yield_from_density(mass, trial.fresh_density_kg_per_m3, trial.designed_volume_m3).yield_m3
    found = (trial.water_added_kg + trial.free_water_kg) / volume
    air = wanted.air_content_percent if trial.air_content_percent is None else trial.air_content_percent
    more_air = wanted.air_content_percent - air if wanted.air_entrained else 0.0
    water = found + WATER_KG_PER_10_MM * change / 10.0 - WATER_KG_PER_AIR_PERCENT * more_air
    if water <= 0:
        raise InvalidInput("water_added_kg", f"water_added_kg is {trial.water_added_kg:g}: no mixing water is left")
    cement = max(water / wanted.water_cement_ratio, wanted.minimum_cement_kg_per_m3)
    counted = wanted.air_content_percent if wanted.air_entrained else air
    stone = trial.stone_ssd_kg / volume
    filled = fine_aggregate(
        water_kg_per_m3=water,
        cement_kg_per_m3=cement,
        coarse_aggregate_kg_per_m3=stone,
        air_content_percent=counted,
        fine_relative_density=wanted.sand_relative_density,
        coarse_relative_density=wanted.stone_relative_density,
        cement_relative_density=wanted.cement_relative_density,
        admixture_kg_per_m3=cement * wanted.admixture_dose_percent / 100.0,
        admixture_relative_density=wanted.admixture_relative_density,
    )
    why = [
        Step("yield = mass of the batch / fresh density", volume, "m³", YIELD),
        Step("water that the trial took", found, "kg/m³", WATER_FOUND),
        Step(f"water for {change:+g} mm of slump", WATER_KG_PER_10_MM * change / 10.0, "kg/m³", WATER_FOR_SLUMP),
    ]
    if more_air:
        why.append(
            Step(f"water for {more_air:+g} % of air", -WATER_KG_PER_AIR_PERCENT * more_air, "kg/m³", WATER_FOR_AIR)
        )
    why += [
        Step("cement at the same ratio, not below the least", cement, "kg/m³", SAME_RATIO),
        Step("stone as in the trial", stone, "kg/m³", SAME_STONE),
        Step("sand that fills the volume", filled.fine_aggregate_kg_per_m3, "kg/m³", SAME_STONE),
    ]
    return Corrected(
        yield_m3=volume,
        water_found_kg_per_m3=found,
        water_kg_per_m3=water,
        cement_kg_per_m3=cement,
        sand_kg_per_m3=filled.fine_aggregate_kg_per_m3,
        stone_kg_per_m3=stone,
        admixture_kg_per_m3=cement * wanted.admixture_dose_percent / 100.0,
        air_content_percent=counted,
        why=tuple(why),
    )
