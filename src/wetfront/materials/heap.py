"""The aggregates of a mix as a sheet or brief tells them: moisture, bulking, and what is weighed."""

from wetfront.errors import InvalidInput
from wetfront.materials.moisture import MoistAggregate, bulking_percent, moist_aggregate, total_moisture_percent
from wetfront.nouns.mix import Aggregate


def moisture_of(aggregate: Aggregate) -> float:
    """Total moisture, as told or by its sample [%]. InvalidInput where neither is given."""
    if aggregate.moisture_percent is not None:
        return aggregate.moisture_percent
    if aggregate.wet_mass_g is None or aggregate.oven_dry_mass_g is None:
        raise InvalidInput("moisture_percent", f"moisture_percent of {aggregate.id} is missing")
    return total_moisture_percent(aggregate.wet_mass_g, aggregate.oven_dry_mass_g)


def bulking_of(aggregate: Aggregate) -> float:
    """Bulking, as told or by its test [%]; 0 where neither is given, as for stone."""
    if aggregate.bulking_percent is not None:
        return aggregate.bulking_percent
    if aggregate.moist_height_mm is None or aggregate.inundated_height_mm is None:
        return 0.0
    return bulking_percent(aggregate.moist_height_mm, aggregate.inundated_height_mm)


def moist(aggregate: Aggregate, volume_m3: float, moisture_percent: float | None = None) -> MoistAggregate:
    """An aggregate in so much concrete, at today's moisture or another."""
    at = moisture_of(aggregate) if moisture_percent is None else moisture_percent
    return moist_aggregate(aggregate.kg_per_m3 * volume_m3, aggregate.basis, aggregate.absorption_percent, at)
