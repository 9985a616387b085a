"""What a cooler concrete takes: the heat balance behind the what-ifs of a plan and behind `wetfront cool`."""

from wetfront.errors import OutOfRange
from wetfront.materials.cooling import Constituents, Cooling, CoolingWay, Measures, Part, cooled, cooling, lowest_c
from wetfront.materials.heap import moist
from wetfront.materials.moisture import water_to_add
from wetfront.nouns.mix import CoolingMeasures, Mix
from wetfront.planning.situation import Situation


def constituents_of(mix: Mix, told: CoolingMeasures) -> Constituents:
    """A cubic metre of a checked mix as it is batched today."""
    parts, heaps = [], []
    for aggregate in mix.aggregate:
        heap = moist(aggregate, 1.0)
        heaps.append(heap)
        free = max(0.0, heap.free_water_kg)
        held = heap.as_weighed_kg - free
        assert aggregate.temperature_c is not None
        parts.append(Part(held, free / held * 100, aggregate.temperature_c))
    added = max(0.0, water_to_add(mix.water_kg_per_m3, heaps))
    return Constituents(mix.cement_kg_per_m3, told.cement_temperature_c, tuple(parts), added, told.water_temperature_c)


def measures_of(told: CoolingMeasures) -> Measures:
    """What could be had."""
    return Measures(
        told.chilled_water_c,
        told.chilled_water_cu_per_m3,
        told.shaded_aggregate_c,
        told.shading_cu_per_m3,
        told.night_aggregate_c,
        told.night_cu_per_m3,
        told.ice_to_be_had,
        told.ice_cu_per_kg,
    )


def balance_c(mix: Mix, told: CoolingMeasures) -> float:
    """Temperature of the mix by the heat balance, without the 1 to 3 °C of mixing and first hydration."""
    return cooled(constituents_of(mix, told), (), measures_of(told))[2]


def cooling_of(mix: Mix, told: CoolingMeasures, target_c: float) -> Cooling:
    """What brings a checked mix to the target, both by the heat balance. Errors: those of `cooling`."""
    return cooling(constituents_of(mix, told), measures_of(told), target_c)


def way_words(way: CoolingWay, currency: str) -> str:
    """A combination in words."""
    parts = [
        f"{way.ice_kg_per_m3:.0f} kg/m³ of ice in place of water" if name == "ice" else name for name in way.measures
    ]
    price = f", {way.cost_cu_per_m3:.1f} {currency}/m³" if way.cost_cu_per_m3 > 0 else ""
    return " + ".join(parts) + price


def takes(situation: Situation, by_c: float) -> str:
    """What so much cooler concrete takes, for the comment of a what-if; empty where the mix does not tell its heat."""
    told = situation.mix.cooling
    if told is None:
        return ""
    currency = situation.sheet.project.currency
    try:
        found = cooling_of(situation.mix, told, balance_c(situation.mix, told) - by_c)
    except OutOfRange:
        now = balance_c(situation.mix, told)
        lowest = lowest_c(constituents_of(situation.mix, told), measures_of(told))
        return f"not to be had: all measures of the mix together give {max(0.0, now - lowest):.1f} °C"
    return f"takes {way_words(found.cheapest, currency)}"
