"""Batches of a site mixer: how many, how large, in whole bags of cement, and what the fresh density says of them."""

import math
from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source

BATCHES = Source("volume with waste / output of one batch, rounded up", Provenance.COMMON_PRACTICE)
WHOLE_BAGS = Source(
    "bags rounded down to what the mixer takes; batch volume = their cement", Provenance.COMMON_PRACTICE
)
YIELD = Source("ASTM C138/C138M, EN 12350-6: yield = batched mass / fresh density", Provenance.MEMORY)
SHORT_DELIVERY = Source("NZS 3104: 2 % under-supply is tolerated", Provenance.PUBLISHED)
MIXING_TIME = Source(
    "mixing time: 1 min up to 0.75 m³ and 15 s for each further 0.75 m³, after ASTM C94", Provenance.MEMORY
)
SITE_MIXING_TIME = Source("a drum mixer on site mixes for at least 2 min", Provenance.COMMON_PRACTICE)

LEAST_RELATIVE_YIELD = 0.98
"""SHORT_DELIVERY."""
LEAST_SITE_MIXING_MIN = 2.0
MOST_BATCHES = 1_000_000
_GUARD = 1e-9


@dataclass(frozen=True, slots=True)
class Batches:
    """Equal batches; in whole bags each is as large as its bags make it."""

    batches_count: int
    batch_volume_m3: float
    cement_batch_kg: float
    bags_per_batch_count: int | None = None

    @property
    def bags_total_count(self) -> int | None:
        """Bags to open; None where cement is weighed."""
        return None if self.bags_per_batch_count is None else self.bags_per_batch_count * self.batches_count


def mixer_batches(
    required_volume_m3: float,
    mixer_capacity_m3: float,
    cement_kg_per_m3: float,
    cement_bag_kg: float | None = None,
    waste_percent: float = 0.0,
) -> Batches:
    """Number and size of the batches for a volume. Capacity is the fresh concrete of one batch, not the drum.

    Sources: BATCHES, WHOLE_BAGS. InvalidInput where one bag makes more than the mixer takes, or for endless batches.
    >>> mixer_batches(1.8, 0.25, 320).batches_count
    8
    """
    volume = required_volume_m3 * (1 + waste_percent / 100)
    if volume / mixer_capacity_m3 > MOST_BATCHES:
        raise InvalidInput(
            "mixer_capacity_m3", f"mixer_capacity_m3 is {mixer_capacity_m3:g}: over {MOST_BATCHES} batches"
        )
    if cement_bag_kg is None:
        count = max(1, math.ceil(volume / mixer_capacity_m3 - _GUARD))
        return Batches(count, volume / count, volume / count * cement_kg_per_m3)
    bags = math.floor(mixer_capacity_m3 * cement_kg_per_m3 / cement_bag_kg + _GUARD)
    if bags < 1:
        raise InvalidInput(
            "cement_bag_kg",
            f"cement_bag_kg is {cement_bag_kg:g}: one bag makes {cement_bag_kg / cement_kg_per_m3:.3f} m³, "
            f"mixer_capacity_m3 is {mixer_capacity_m3:g}; take smaller bags, a larger mixer, or weigh the cement",
        )
    batch = bags * cement_bag_kg / cement_kg_per_m3
    return Batches(max(1, math.ceil(volume / batch - _GUARD)), batch, bags * cement_bag_kg, bags)


def least_mixing_min(batch_volume_m3: float) -> float:
    """Shortest mixing once all is in the drum [min]. Sources: MIXING_TIME, SITE_MIXING_TIME."""
    further = max(0.0, batch_volume_m3 - 0.75) / 0.75
    return max(LEAST_SITE_MIXING_MIN, 1.0 + 0.25 * math.ceil(further - _GUARD))


@dataclass(frozen=True, slots=True)
class Yield:
    """What a batch made."""

    yield_m3: float
    relative_yield: float
    """Below 1: less concrete than designed."""
    cement_kg_per_m3: float | None
    air_content_percent: float | None


def yield_from_density(
    batch_mass_kg: float,
    fresh_density_kg_per_m3: float,
    designed_volume_m3: float,
    cement_batch_kg: float | None = None,
    theoretical_air_free_density_kg_per_m3: float | None = None,
) -> Yield:
    """Volume, cement content and air of a batch from its measured density. Source: YIELD.

    InvalidInput where there is more cement than batch.
    """
    if cement_batch_kg is not None and cement_batch_kg > batch_mass_kg:
        raise InvalidInput(
            "cement_batch_kg",
            f"cement_batch_kg is {cement_batch_kg:g}; no more than the batch, batch_mass_kg = {batch_mass_kg:g}",
        )
    made = batch_mass_kg / fresh_density_kg_per_m3
    air_free = theoretical_air_free_density_kg_per_m3
    return Yield(
        made,
        made / designed_volume_m3,
        None if cement_batch_kg is None else cement_batch_kg / made,
        None if air_free is None else (air_free - fresh_density_kg_per_m3) / air_free * 100,
    )
