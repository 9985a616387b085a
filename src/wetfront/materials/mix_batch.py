"""A proportioned mix as it is made: densities by moisture state, the trial batch, volume, cost and carbon."""

from collections.abc import Mapping
from typing import Literal

from wetfront.materials.absolute_volume import volume_of
from wetfront.materials.admixture import admixture_dose
from wetfront.materials.mix_sums import embodied_carbon, material_cost
from wetfront.materials.moisture import moist_aggregate, water_to_add
from wetfront.nouns.mix_brief import BriefSand, BriefStone, MixBrief
from wetfront.nouns.mix_design import TrialBatch
from wetfront.nouns.reason import Provenance, Source

SSD_DENSITY = Source("oven-dry density × (1 + absorption)", Provenance.DEFINITION)
Part = Literal["cement", "water", "sand", "stone", "admixture"]
Masses = Mapping[Part, float]
"""kg per m³ of concrete, aggregates saturated and surface-dry."""


def ssd_density(material: BriefStone | BriefSand) -> float:
    """Relative density of an aggregate, saturated and surface-dry. Source: SSD_DENSITY."""
    wetting = 1.0 + material.absorption_percent / 100.0
    return material.relative_density * (wetting if material.density_basis == "oven-dry" else 1.0)


def oven_dry_density(material: BriefStone | BriefSand) -> float:
    """Relative density of an aggregate, oven-dry: dry mass over the volume that the saturated grain takes."""
    return ssd_density(material) / (1.0 + material.absorption_percent / 100.0)


def parts_volume(brief: MixBrief, masses: Masses, air_content_percent: float) -> float:
    """Absolute volume of all parts and the air [m³]: what these masses yield."""
    admixture = brief.admixture.relative_density if brief.admixture is not None else 1.0
    densities: dict[Part, float] = {
        "cement": brief.cement.relative_density,
        "water": 1.0,
        "sand": ssd_density(brief.sand),
        "stone": ssd_density(brief.stone),
        "admixture": admixture,
    }
    return sum(volume_of(mass, densities[part]) for part, mass in masses.items()) / (1 - air_content_percent / 100)


def trial_batch(brief: MixBrief, masses: Masses) -> tuple[TrialBatch, tuple[str, ...]]:
    """The batch that is weighed, aggregates as they lie, and what to beware of.

    Absorbed water is not counted in the mixing water; a liquid admixture's water is, above 3 l/m³ (EN 206, from
    memory), where its solids are known.
    """
    share = brief.trial.volume_l / 1000.0
    sand, stone = (
        moist_aggregate(mass * share, "saturated-surface-dry", material.absorption_percent, material.moisture_percent)
        for mass, material in ((masses["sand"], brief.sand), (masses["stone"], brief.stone))
    )
    add = water_to_add(masses["water"] * share, (sand, stone))
    litres, counted, notices = 0.0, None, []
    if brief.admixture is not None:
        given = brief.admixture
        dose = admixture_dose(masses["cement"], given.dose_percent, share, given.relative_density, given.solids_percent)
        litres = dose.admixture_batch_l
        if dose.water_counts_in_ratio and dose.admixture_water_kg_per_m3 is not None:
            counted = dose.admixture_water_kg_per_m3 * share
            add -= counted
        elif dose.water_counts_in_ratio:
            notices.append(
                f"{given.name}: {dose.admixture_l_per_m3:.1f} l/m³, over 3 l/m³: its water counts in the ratio (from "
                "memory). Give solids_percent, or take its water off by hand."
            )
    if add < 0:
        notices.append("The aggregates bring more water than the mix may have: dry or drain them before the trial.")
    batch = TrialBatch(
        volume_l=brief.trial.volume_l,
        cement_kg=masses["cement"] * share,
        water_to_add_kg=add,
        sand_kg=sand.as_weighed_kg,
        stone_kg=stone.as_weighed_kg,
        admixture_kg=masses["admixture"] * share,
        admixture_l=litres,
        free_water_in_aggregates_kg=sand.free_water_kg + stone.free_water_kg,
        water_in_admixture_kg=counted,
    )
    return batch, tuple(notices)


def cost_of(brief: MixBrief, masses: Masses) -> float | None:
    """Materials of 1 m³ in the brief's currency; None where a price is missing."""
    known = _known(brief, masses, "price_cu_per_t")
    return None if known is None else material_cost(known[0], known[1])


def carbon_of(brief: MixBrief, masses: Masses) -> float | None:
    """Embodied carbon of 1 m³ [kg CO2e], A1 to A3; None where a factor is missing."""
    known = _known(brief, masses, "carbon_kg_co2e_per_kg")
    return None if known is None else embodied_carbon(known[0], known[1]).carbon_kg_co2e_per_m3


def _known(brief: MixBrief, masses: Masses, attribute: str) -> tuple[list[float], list[float]] | None:
    """Masses and their prices or factors; None where one that is used is not given."""
    values = {part: getattr(getattr(brief, part), attribute, None) for part, mass in masses.items() if mass > 0}
    known = [float(value) for value in values.values() if value is not None]
    return ([masses[part] for part in values], known) if len(known) == len(values) else None
