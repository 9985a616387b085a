"""The cubic metre filled: the volume that each constituent takes, and the aggregate that fills the rest."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source

ABSOLUTE_VOLUME = Source("ACI 211.1-91, 6.3.7.2 (absolute volume)", Provenance.RECOMPUTED)
FINES_SHARE = Source(
    "IS 10262:1982, 3.5.1, absolute volume equations, read at a published M40 design", Provenance.PUBLISHED
)
WATER_DENSITY = Source("water 1000 kg/m³, relative density = density / 1000 kg/m³", Provenance.DEFINITION)

CEMENT_RELATIVE_DENSITY = 3.15
"""Portland cement; a blended one is lighter (ACI 211.1-91 uses 3.15 throughout)."""
ADDITION_RELATIVE_DENSITY = 2.3
"""Fly ash about; common practice, no source. Enter the supplier's figure."""
ADMIXTURE_RELATIVE_DENSITY = 1.1
"""Of the liquid as dosed; common practice, no source."""
LEAST_USUAL_SAND_PERCENT, MOST_USUAL_SAND_PERCENT = 25.0, 50.0
"""Of the aggregate by mass; common practice, no source."""

Amount = TypeVar("Amount", float, NDArray[np.float64])
"""A number, or an array of them over many mixes; all of one call have the same shape."""


def volume_of(mass_kg: Amount, relative_density: Amount) -> Amount:
    """Absolute volume [m³] of a mass [kg]. Mass and relative density must have the same moisture basis."""
    return mass_kg / (1000.0 * relative_density)


def room_for_aggregate(
    water_kg_per_m3: Amount,
    cement_kg_per_m3: Amount,
    air_content_percent: Amount,
    cement_relative_density: Amount,
    rest_m3_per_m3: Amount,
) -> Amount:
    """What water, cement, air and the rest (additions, admixtures) leave of 1 m³ [m³]; not over 0 where it is full."""
    paste = water_kg_per_m3 / 1000.0 + volume_of(cement_kg_per_m3, cement_relative_density)
    return 1.0 - paste - air_content_percent / 100.0 - rest_m3_per_m3


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """The sand of a cubic metre, and what it weighs."""

    coarse_volume_m3: float
    fine_volume_m3: float
    fine_aggregate_kg_per_m3: float
    fresh_density_kg_per_m3: float
    sand_percent: float
    """Of the aggregate, by mass."""

    @property
    def usual(self) -> bool:
        """False where the share of sand is out of the usual range."""
        return LEAST_USUAL_SAND_PERCENT <= self.sand_percent <= MOST_USUAL_SAND_PERCENT


def fine_aggregate(
    *,
    water_kg_per_m3: float,
    cement_kg_per_m3: float,
    coarse_aggregate_kg_per_m3: float,
    air_content_percent: float,
    fine_relative_density: float,
    coarse_relative_density: float,
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY,
    addition_kg_per_m3: float = 0.0,
    addition_relative_density: float = ADDITION_RELATIVE_DENSITY,
    admixture_kg_per_m3: float = 0.0,
    admixture_relative_density: float = ADMIXTURE_RELATIVE_DENSITY,
) -> Filled:
    """The sand that fills 1 m³ beside all else, in the moisture basis of its relative density.

    InvalidInput names coarse_aggregate_kg_per_m3 where no room is left for sand.
    Source: ACI 211.1-91, 6.3.7.2.
    """
    coarse = volume_of(coarse_aggregate_kg_per_m3, coarse_relative_density)
    room = room_for_aggregate(
        water_kg_per_m3,
        cement_kg_per_m3,
        air_content_percent,
        cement_relative_density,
        volume_of(addition_kg_per_m3, addition_relative_density)
        + volume_of(admixture_kg_per_m3, admixture_relative_density),
    )
    fine = room - coarse
    if fine <= 0:
        raise InvalidInput(
            "coarse_aggregate_kg_per_m3",
            f"coarse_aggregate_kg_per_m3 is {coarse_aggregate_kg_per_m3:g}: its {coarse:.3f} m³ and the rest of the "
            f"mix leave no room for sand; allowed is less than {max(0.0, room):.3f} m³",
        )
    mass = 1000.0 * fine * fine_relative_density
    total = water_kg_per_m3 + cement_kg_per_m3 + coarse_aggregate_kg_per_m3 + mass
    return Filled(
        coarse_volume_m3=coarse,
        fine_volume_m3=fine,
        fine_aggregate_kg_per_m3=mass,
        fresh_density_kg_per_m3=total + addition_kg_per_m3 + admixture_kg_per_m3,
        sand_percent=100.0 * mass / (mass + coarse_aggregate_kg_per_m3),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """Sand and stone that share the room left by the rest."""

    aggregate_volume_m3: float
    fine_aggregate_kg_per_m3: float
    coarse_aggregate_kg_per_m3: float


def aggregate_by_fines(
    *,
    water_kg_per_m3: float,
    cement_kg_per_m3: float,
    air_content_percent: float,
    fines_volume_percent: float,
    fine_relative_density: float,
    coarse_relative_density: float,
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY,
    addition_kg_per_m3: float = 0.0,
    addition_relative_density: float = ADDITION_RELATIVE_DENSITY,
    admixture_kg_per_m3: float = 0.0,
    admixture_relative_density: float = ADMIXTURE_RELATIVE_DENSITY,
) -> Shared:
    """Sand and stone from the sand's share [%] of all aggregate by absolute volume.

    InvalidInput names cement_kg_per_m3 where paste and air leave no room for aggregate.
    Source: IS 10262:1982, 3.5.1.
    """
    room = room_for_aggregate(
        water_kg_per_m3,
        cement_kg_per_m3,
        air_content_percent,
        cement_relative_density,
        volume_of(addition_kg_per_m3, addition_relative_density)
        + volume_of(admixture_kg_per_m3, admixture_relative_density),
    )
    if room <= 0:
        raise InvalidInput(
            "cement_kg_per_m3",
            f"cement_kg_per_m3 is {cement_kg_per_m3:g}: with water and air it leaves no room for aggregate",
        )
    share = fines_volume_percent / 100.0
    return Shared(
        aggregate_volume_m3=room,
        fine_aggregate_kg_per_m3=1000.0 * room * share * fine_relative_density,
        coarse_aggregate_kg_per_m3=1000.0 * room * (1.0 - share) * coarse_relative_density,
    )
