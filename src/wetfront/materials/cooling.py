"""Cooling a mix: what each measure gives alone, and the least that reaches a target.

The same heat balance as `materials/temperature.py`: colder water, shaded or night-cold aggregates, ice in place of
water. Mixing and first hydration add 1 to 3 °C that the balance does not know, so differences are better than figures.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.errors import OutOfRange
from wetfront.materials.temperature import Solids, ice_for_temperature, mix_temperature, solids

MOST_ICE_SHARE_PERCENT = 75.0
"""Of the added water: some is needed for admixtures and mixing (ACI 305R, from memory)."""


@dataclass(frozen=True, slots=True)
class Part:
    """An aggregate in a cubic metre: its mass with what it has absorbed, its free water in percent of it."""

    kg_per_m3: float
    free_moisture_percent: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Constituents:
    """A cubic metre as it is batched today."""

    cement_kg_per_m3: float
    cement_temperature_c: float
    aggregates: tuple[Part, ...]
    water_kg_per_m3: float
    """Added at the mixer."""
    water_temperature_c: float


@dataclass(frozen=True, slots=True)
class Measures:
    """What could be had. A measure of None cannot; prices per m³ of concrete, of ice per kg."""

    chilled_water_c: float | None = None
    chilled_water_cu_per_m3: float = 0.0
    shaded_aggregate_c: float | None = None
    shading_cu_per_m3: float = 0.0
    night_aggregate_c: float | None = None
    night_cu_per_m3: float = 0.0
    ice_to_be_had: bool = False
    ice_cu_per_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class CoolingWay:
    """One combination of measures."""

    measures: tuple[str, ...]
    ice_kg_per_m3: float
    temperature_c: float
    cost_cu_per_m3: float


@dataclass(frozen=True, slots=True)
class Cooling:
    """What it takes."""

    now_c: float
    alone: tuple[CoolingWay, ...]
    """Each measure by itself, ice as far as its share allows."""
    lowest_c: float
    """With all of them."""
    cheapest: CoolingWay
    least: CoolingWay
    """Fewest measures; of these the least ice."""


CHILLED, SHADED, NIGHT, ICE = "chilled water", "shaded aggregates", "aggregates as cold as at night", "ice"


def cooled(
    constituents: Constituents, measures: Sequence[str], had: Measures, ice_kg_per_m3: float = 0.0
) -> tuple[Solids, float, float]:
    """Solids, water temperature and mix temperature with some measures."""
    water_c = constituents.water_temperature_c
    if CHILLED in measures and had.chilled_water_c is not None:
        water_c = min(water_c, had.chilled_water_c)
    colder = [
        at
        for name, at in ((SHADED, had.shaded_aggregate_c), (NIGHT, had.night_aggregate_c))
        if name in measures and at is not None
    ]
    warmths = [min([part.temperature_c, *colder]) for part in constituents.aggregates]
    parts = solids(
        constituents.cement_kg_per_m3,
        constituents.cement_temperature_c,
        [part.kg_per_m3 for part in constituents.aggregates],
        warmths,
        [part.free_moisture_percent for part in constituents.aggregates],
    )
    water = constituents.water_kg_per_m3 - ice_kg_per_m3
    return parts, water_c, mix_temperature(parts, water, water_c, ice_kg_per_m3).concrete_temperature_c


def _cost(measures: Sequence[str], ice_kg: float, had: Measures) -> float:
    each = {CHILLED: had.chilled_water_cu_per_m3, SHADED: had.shading_cu_per_m3, NIGHT: had.night_cu_per_m3}
    return sum(each.get(name, 0.0) for name in measures) + ice_kg * had.ice_cu_per_kg


def _way(constituents: Constituents, measures: tuple[str, ...], had: Measures, target_c: float) -> CoolingWay | None:
    """The combination with the least ice that reaches the target; None where it does not, or needs no ice."""
    most_ice = MOST_ICE_SHARE_PERCENT / 100 * constituents.water_kg_per_m3
    parts, water_c, without = cooled(constituents, measures, had)
    if ICE not in measures:
        return CoolingWay(measures, 0.0, without, _cost(measures, 0.0, had)) if without <= target_c + 1e-9 else None
    if without <= target_c + 1e-9:
        return None
    try:
        ice = ice_for_temperature(target_c, parts, constituents.water_kg_per_m3, water_c).ice_kg_per_m3
    except OutOfRange:
        return None
    if ice > most_ice * (1 + 1e-9):
        return None
    return CoolingWay(measures, ice, target_c, _cost(measures, ice, had))


def _names(constituents: Constituents, had: Measures) -> tuple[str, ...]:
    return tuple(
        name
        for name, there in (
            (CHILLED, had.chilled_water_c is not None),
            (SHADED, had.shaded_aggregate_c is not None),
            (NIGHT, had.night_aggregate_c is not None),
            (ICE, had.ice_to_be_had and constituents.water_kg_per_m3 > 0),
        )
        if there
    )


def lowest_c(constituents: Constituents, had: Measures) -> float:
    """Temperature with all measures that can be had, ice as far as its share allows."""
    names = _names(constituents, had)
    ice = MOST_ICE_SHARE_PERCENT / 100 * constituents.water_kg_per_m3 if ICE in names else 0.0
    return cooled(constituents, names, had, ice)[2]


def cooling(constituents: Constituents, had: Measures, target_c: float) -> Cooling:
    """What brings the mix to the target temperature [°C].

    OutOfRange on target_temperature_c where the mix is no warmer already, where all measures together do not reach it,
    and at 0 °C or below, where mixing water freezes.
    """
    names = _names(constituents, had)
    now = cooled(constituents, (), had)[2]
    most_ice = MOST_ICE_SHARE_PERCENT / 100 * constituents.water_kg_per_m3
    alone = []
    for name in names:
        ice = most_ice if name == ICE else 0.0
        alone.append(CoolingWay((name,), ice, cooled(constituents, (name,), had, ice)[2], _cost((name,), ice, had)))
    lowest = lowest_c(constituents, had)
    if target_c <= 0:
        raise OutOfRange("target_temperature_c", target_c, "over 0 °C: mixing water freezes", "cooling a mix")
    if target_c >= now:
        raise OutOfRange("target_temperature_c", target_c, f"under {now:.1f} °C, what it is already", "cooling a mix")
    groups = [group for size in range(1, len(names) + 1) for group in itertools.combinations(names, size)]
    ways = [way for group in groups if (way := _way(constituents, group, had, target_c)) is not None]
    if not ways:
        allowed = f"from {lowest:.1f} °C: all that can be had, {MOST_ICE_SHARE_PERCENT:g} % of the water as ice at most"
        raise OutOfRange("target_temperature_c", target_c, allowed, "cooling a mix")
    return Cooling(
        now,
        tuple(alone),
        lowest,
        min(ways, key=lambda way: (way.cost_cu_per_m3, len(way.measures), way.ice_kg_per_m3)),
        min(ways, key=lambda way: (len(way.measures), way.ice_kg_per_m3, way.cost_cu_per_m3)),
    )
