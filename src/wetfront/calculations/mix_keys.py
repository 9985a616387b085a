"""Keys and cautions that the calculations about a concrete mix share."""

from typing import Any

from wetfront.calculations.contract import REQUIRED, Number, Output
from wetfront.materials import absolute_volume

FIRST_TRIAL = (
    "A first trial: trial batch, slump, density, air and strength before use. Not to be poured without that trial and "
    "the consent of specifier and producer."
)
ON_SITE = (
    "Water added on site to a mix that is at its ratio weakens the structure. Fresh concrete is caustic: gloves, boots "
    "and eye protection."
)
_DENSEST = 10.0
"""Heavier than any aggregate or binder; a density in kg/m³ put here by mistake is refused."""


def mass(key: str, meaning: str, *, above: bool = False, default: Any = REQUIRED) -> Number:
    """A content of a cubic metre; with `above` not 0."""
    low, over = (None, 0.0) if above else (0.0, None)
    return Number(key=key, meaning=meaning, unit="kg/m³", low=low, above=over, high=10_000, default=default)


def relative_density(key: str, meaning: str, default: Any = REQUIRED, least: float = 1.0) -> Number:
    """A density over that of water."""
    return Number(key=key, meaning=meaning, unit="1", low=least, high=_DENSEST, default=default)


def admixture_density(default: float) -> Number:
    """Of a liquid admixture; some float on water."""
    return relative_density("admixture_relative_density", "of the liquid", default, least=0.5)


def ratio_limit() -> Number:
    """The durability limit of the ratio."""
    return Number(
        key="maximum_water_cement_ratio", meaning="durability limit", unit="1", low=0.2, high=1.0, default=None
    )


WATER = mass("water_kg_per_m3", "free (mixing) water", above=True)
CEMENT = mass("cement_kg_per_m3", "cement content", above=True)
AIR = Number(key="air_content_percent", meaning="of the concrete, by volume", unit="%", low=0, high=12)
FINE_DENSITY = relative_density("fine_relative_density", "of the sand, in the moisture basis of its mass")
COARSE_DENSITY = relative_density("coarse_relative_density", "of the stone, in the moisture basis of its mass")
CEMENT_DENSITY = relative_density("cement_relative_density", "of the cement", absolute_volume.CEMENT_RELATIVE_DENSITY)
ADDITION = mass("addition_kg_per_m3", "fly ash, slag or the like", default=0.0)
ADDITION_DENSITY = relative_density(
    "addition_relative_density", "of the addition", absolute_volume.ADDITION_RELATIVE_DENSITY
)
LEAST_CEMENT = mass("minimum_cement_kg_per_m3", "least cement asked for", default=0.0)
REDUCTION = Number(
    key="water_reduction_percent",
    meaning="by the admixture, measured in trials",
    unit="%",
    low=0,
    high=40,
    default=0.0,
)

WATER_OUT = Output(key="water_kg_per_m3", meaning="free (mixing) water", unit="kg/m³")
CEMENT_OUT = Output(key="cement_kg_per_m3", meaning="cement content", unit="kg/m³")
FINE_OUT = Output(
    key="fine_aggregate_kg_per_m3", meaning="sand, in the moisture basis of its relative density", unit="kg/m³"
)
COARSE_OUT = Output(
    key="coarse_aggregate_kg_per_m3", meaning="stone, in the moisture basis of its relative density", unit="kg/m³"
)
RATIO_OUT = Output(key="water_cement_ratio", meaning="after all limits: water / cement", unit="1")
DENSITY_OUT = Output(key="fresh_density_kg_per_m3", meaning="sum of the masses", unit="kg/m³")
