"""Checks of an aggregate as it lies on the heap: in a batch brief, and in a mix made on site."""

from wetfront.errors import InvalidInput
from wetfront.intake.kinds import Mistakes
from wetfront.intake.kinds import Path as KeyPath
from wetfront.materials.moisture import bulking_percent, total_moisture_percent
from wetfront.nouns.mix import Aggregate


def check_aggregate(aggregate: Aggregate, path: KeyPath, mistakes: Mistakes, *, by_volume: bool = False) -> None:
    """Moisture told once, by figure or by sample; what batching by volume needs."""
    _once(aggregate, path, "moisture_percent", ("wet_mass_g", "oven_dry_mass_g"), mistakes, needed=True)
    sand_by_volume = by_volume and aggregate.kind == "sand"
    heights = ("moist_height_mm", "inundated_height_mm")
    _once(aggregate, path, "bulking_percent", heights, mistakes, needed=sand_by_volume)
    if by_volume and aggregate.loose_bulk_density_kg_per_m3 is None:
        mistakes.add((*path, "loose_bulk_density_kg_per_m3"), "nothing", "the loose oven-dry density, by volume needed")
    for values, formula in (
        ((aggregate.wet_mass_g, aggregate.oven_dry_mass_g), total_moisture_percent),
        ((aggregate.moist_height_mm, aggregate.inundated_height_mm), bulking_percent),
    ):
        first, second = values
        if first is not None and second is not None:
            try:
                formula(first, second)
            except InvalidInput as error:
                mistakes.add((*path, error.key), error.message, "two readings of one sample that fit each other")


def _once(
    aggregate: Aggregate, path: KeyPath, figure: str, pair: tuple[str, str], mistakes: Mistakes, *, needed: bool
) -> None:
    given = [key for key in pair if getattr(aggregate, key) is not None]
    has_figure = getattr(aggregate, figure) is not None
    both = " and ".join(pair)
    if has_figure and given:
        mistakes.add((*path, figure), f"{figure} beside {given[0]}", f"one way: {figure}, or {both}")
    elif len(given) == 1:
        missing = next(key for key in pair if key not in given)
        mistakes.add((*path, missing), "nothing", f"a number beside {given[0]}")
    elif needed and not has_figure and not given:
        mistakes.add((*path, figure), "nothing", f"a number, or {both}")
