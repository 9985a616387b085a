"""What a mix weighs in carbon and costs, from factors and prices that the user gives. None is shipped."""

from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source

CARBON = Source("sum of mass × factor, modules A1 to A3 of EN 15804, factors of the user", Provenance.COMMON_PRACTICE)
COST = Source("sum of mass × price / 1000, prices of the user", Provenance.COMMON_PRACTICE)


def _same_length(key: str, entries: Sequence[float], masses: Sequence[float]) -> None:
    if len(entries) != len(masses):
        raise InvalidInput(key, f"{key} has {len(entries)} entries, masses_kg_per_m3 has {len(masses)}")


@dataclass(frozen=True, slots=True)
class Carbon:
    """Embodied carbon of the constituents, to the plant's gate."""

    carbon_kg_co2e_per_m3: float
    carbon_total_kg_co2e: float
    carbon_kg_co2e_per_kg: float


def embodied_carbon(masses_kg_per_m3: Sequence[float], factors: Sequence[float], volume_m3: float = 1.0) -> Carbon:
    """Carbon of a mix from factors [kg CO2e per kg] in the order of the masses.

    InvalidInput names factors_kg_co2e_per_kg of another length, masses_kg_per_m3 that sum to nothing.
    """
    _same_length("factors_kg_co2e_per_kg", factors, masses_kg_per_m3)
    total = sum(masses_kg_per_m3)
    if total <= 0:
        raise InvalidInput("masses_kg_per_m3", "masses_kg_per_m3 sum to 0: there is no mix")
    carbon = sum(mass * factor for mass, factor in zip(masses_kg_per_m3, factors, strict=True))
    return Carbon(carbon, carbon * volume_m3, carbon / total)


def material_cost(masses_kg_per_m3: Sequence[float], prices_per_tonne: Sequence[float]) -> float:
    """Cost of 1 m³ from prices per tonne in the order of the masses. InvalidInput names prices_per_tonne."""
    _same_length("prices_per_tonne", prices_per_tonne, masses_kg_per_m3)
    return sum(mass * price / 1000.0 for mass, price in zip(masses_kg_per_m3, prices_per_tonne, strict=True))
