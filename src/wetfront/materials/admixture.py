"""Admixtures: the dose of one, and what a water reducer does to water and cement."""

from dataclasses import dataclass
from typing import Literal

from wetfront.errors import OutOfRange
from wetfront.nouns.reason import Provenance, Source
from wetfront.quantities import G_PER_KG_IN_PERCENT
from wetfront.rules import rule

_MOST, _UNDISPERSED, _WATER_COUNTS = (
    rule("en", name) for name in ("admixture-dose", "admixture-dose-undispersed", "admixture-water-counts")
)
DOSE_RULES = _MOST.cited
"""All three (EN 206, 5.2.6)."""
DOSE = Source("cement × dose, litres = mass / density", Provenance.DEFINITION)
REDUCTION = Source("water × (1 − reduction); cement kept, or cut with the water", Provenance.COMMON_PRACTICE)

MOST_DOSE_PERCENT = _MOST.number / G_PER_KG_IN_PERCENT
LEAST_PLAIN_DOSE_PERCENT = _UNDISPERSED.number / G_PER_KG_IN_PERCENT
WATER_COUNTS_ABOVE_L_PER_M3 = _WATER_COUNTS.number
_SLACK = 1e-9

Keep = Literal["cement", "ratio"]


@dataclass(frozen=True, slots=True)
class AdmixtureDose:
    """One admixture in one mix and one batch."""

    admixture_kg_per_m3: float
    admixture_l_per_m3: float
    admixture_batch_l: float
    water_counts_in_ratio: bool
    below_2_g_per_kg: bool
    admixture_water_kg_per_m3: float | None
    """None where the solids are not known."""


def admixture_dose(
    cement_kg_per_m3: float,
    dose_percent: float,
    batch_volume_m3: float,
    density_kg_per_l: float,
    solids_percent: float | None = None,
) -> AdmixtureDose:
    """Mass and litres of an admixture dosed in percent of the cement mass. Sources: DOSE, DOSE_RULES.

    OutOfRange over 5 %: such doses need their own proof.
    """
    if dose_percent > MOST_DOSE_PERCENT:
        raise OutOfRange("dose_percent", dose_percent, "from 0 to 5 % of the cement (50 g/kg)", "EN 206, 5.2.6,")
    mass = cement_kg_per_m3 * dose_percent / 100
    litres = mass / density_kg_per_l
    return AdmixtureDose(
        mass,
        litres,
        litres * batch_volume_m3,
        litres > WATER_COUNTS_ABOVE_L_PER_M3 + _SLACK,
        dose_percent < LEAST_PLAIN_DOSE_PERCENT - _SLACK,
        None if solids_percent is None else mass * (1 - solids_percent / 100),
    )


@dataclass(frozen=True, slots=True)
class ReducedWater:
    """Water and cement with a water reducer."""

    water_kg_per_m3: float
    cement_kg_per_m3: float
    water_cement_ratio: float


def water_reduction(
    water_kg_per_m3: float, water_reduction_percent: float, cement_kg_per_m3: float, keep: Keep = "cement"
) -> ReducedWater:
    """Less water at the same slump: cement stays (the ratio falls) or falls with it (the ratio stays).

    Source: REDUCTION.
    """
    water = water_kg_per_m3 * (1 - water_reduction_percent / 100)
    cement = cement_kg_per_m3 if keep == "cement" else cement_kg_per_m3 * water / water_kg_per_m3
    return ReducedWater(water, cement, water / cement)
