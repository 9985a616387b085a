"""Water that comes with the aggregates, and what is weighed and added because of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source

MOISTURE_BASIS = Source("moisture and absorption in percent of the oven-dry mass", Provenance.COMMON_PRACTICE)
CORRECTION = Source("ACI 211.1-91, 6.3.8: batch masses and mixing water for moist aggregates", Provenance.RECOMPUTED)
DRYING = Source("ASTM C566, EN 1097-5: moisture by drying, its definition", Provenance.COMMON_PRACTICE)
BULKING = Source("IS 2386 (Part 3): bulking by the moist and the inundated height", Provenance.PUBLISHED)
SAME_VOLUME = Source("inundated and dry sand have the same volume", Provenance.COMMON_PRACTICE)

AggregateBasis = Literal["oven-dry", "saturated-surface-dry"]
BASES: tuple[AggregateBasis, ...] = ("oven-dry", "saturated-surface-dry")
MOST_BULKING_PERCENT = 100.0
"""Sand does not double its volume; what looks like it is a slip in the test (own rule)."""


@dataclass(frozen=True, slots=True)
class MoistAggregate:
    """One aggregate of a mix as it lies on the heap. Per m³ of concrete, or for any other volume of it."""

    dry_kg: float
    free_water_kg: float
    """Below 0 the aggregate drinks water."""
    as_weighed_kg: float


def moist_aggregate(
    mass_kg: float, basis: AggregateBasis, absorption_percent: float, moisture_percent: float
) -> MoistAggregate:
    """Wet mass and free water of an aggregate whose mass in the mix is oven-dry or saturated surface-dry.

    Sources: MOISTURE_BASIS, CORRECTION.
    >>> round(moist_aggregate(801, "oven-dry", 0.7, 6).as_weighed_kg, 2)
    849.06
    """
    dry = mass_kg if basis == "oven-dry" else mass_kg / (1 + absorption_percent / 100)
    free = dry * (moisture_percent - absorption_percent) / 100
    return MoistAggregate(dry, free, dry * (1 + moisture_percent / 100))


def water_to_add(design_water_kg: float, aggregates: Sequence[MoistAggregate]) -> float:
    """Mixing water that is still to be added [kg]; below 0 the aggregates bring more than the mix may have."""
    return design_water_kg - sum(aggregate.free_water_kg for aggregate in aggregates)


def total_moisture_percent(wet_mass_g: float, oven_dry_mass_g: float) -> float:
    """Moisture of a sample by drying [% of the oven-dry mass]. InvalidInput where it grew heavier. Source: DRYING."""
    if oven_dry_mass_g > wet_mass_g:
        raise InvalidInput(
            "oven_dry_mass_g",
            f"oven_dry_mass_g is {oven_dry_mass_g:g}; a dried sample is not heavier than it was wet, "
            f"wet_mass_g = {wet_mass_g:g}",
        )
    return (wet_mass_g - oven_dry_mass_g) / oven_dry_mass_g * 100


def bulking_percent(moist_height_mm: float, inundated_height_mm: float) -> float:
    """Increase of volume of moist loose sand over the same sand under water [%]. Source: BULKING.

    InvalidInput where the sand stands higher under water than moist, or over twice as high moist.
    >>> bulking_percent(200, 160)
    25.0
    """
    if inundated_height_mm > moist_height_mm:
        raise InvalidInput(
            "inundated_height_mm",
            f"inundated_height_mm is {inundated_height_mm:g}; sand under water stands no higher than moist and loose, "
            f"moist_height_mm = {moist_height_mm:g}",
        )
    found = (moist_height_mm / inundated_height_mm - 1) * 100
    if found > MOST_BULKING_PERCENT:
        raise InvalidInput(
            "moist_height_mm",
            f"moist_height_mm is {moist_height_mm:g}, over twice inundated_height_mm = {inundated_height_mm:g}; sand "
            "does not bulk so much: repeat the test",
        )
    return found


def moist_volume(dry_volume: float, bulking: float) -> float:
    """Volume of moist loose sand that holds as much sand as `dry_volume` dry, in the unit of `dry_volume`."""
    return dry_volume * (1 + bulking / 100)
