"""Many candidate mixes at once, as arrays: which hold the limits, which is cheapest, which has least carbon.

Every combination of ratio, sand share, stone, cement and admixture, by absolute volume: water and air by ACI 211.1's
table for each stone, cement by the ratio, aggregate by the room that is left. A candidate's cement is never raised to a
limit: the candidate is refused by it, and a lower ratio is another candidate.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.materials import aci_211
from wetfront.materials.absolute_volume import (
    LEAST_USUAL_SAND_PERCENT,
    MOST_USUAL_SAND_PERCENT,
    room_for_aggregate,
    volume_of,
)
from wetfront.materials.mix_batch import ssd_density
from wetfront.materials.stone_sizes import aci_size
from wetfront.nouns.mix_brief import BriefAdmixture, BriefCement, BriefStone, MixBrief
from wetfront.nouns.mix_design import MixCandidate, RefusedCandidates, SweepFound

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
MOST_CANDIDATES = 200_000
NO_CEMENT_CLASS = (
    "By ACI 211.1's table, which knows no cement class: give each cement its ratio_for_strength from trials before you "
    "choose."
)
LEAST_STEP = 0.001
"""A frontier counts only steps of at least so much of the carbon (own rule): no factor is known better."""
_SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepLimits:
    """What a candidate must hold. None: not checked."""

    ratio_for_strength: float
    """By ACI 211.1 for the cylinder strength to aim at; a cement's own ratio by trials goes before."""
    ratio_most: float | None
    cement_least: float | None
    cement_most: float | None
    stone_most_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidates:
    """All candidates; each array has one entry a candidate, `place` the five options that made it."""

    place: NDArray[np.int64]
    """Row by option: ratio, sand share, stone, cement, admixture."""
    ratio: Floats
    sand_volume_percent: Floats
    water: Floats
    cement: Floats
    sand: Floats
    stone: Floats
    admixture: Floats
    air_percent: Floats
    sand_mass_percent: Floats
    cost: Floats
    """NaN where a price is missing."""
    carbon: Floats
    """NaN where a factor is missing."""
    broken: dict[str, Flags]
    """Limit in words -> the candidates that break it."""

    @property
    def feasible(self) -> Flags:
        """Those that break none."""
        held: Flags = np.ones(self.ratio.shape, dtype=np.bool_)
        for flags in self.broken.values():
            held &= ~flags
        return held


def _gathered(options: Sequence[object], place: NDArray[np.int64], value: Callable[[object], float | None]) -> Floats:
    """One value of each option, picked for every candidate; None becomes NaN."""
    table = np.array([np.nan if (found := value(option)) is None else found for option in options], dtype=np.float64)
    return table[place]


def candidates(brief: MixBrief, limits: SweepLimits) -> Candidates:
    """Every combination of the brief's sweep. ValueError where the brief has none.

    OutOfRange names slump_mm or maximum_aggregate_size_mm where the water table does not cover a stone.
    """
    sweep = brief.sweep
    if sweep is None:
        raise ValueError("the brief has no sweep")
    stones = sweep.stone or (brief.stone,)
    cements = sweep.cement or (brief.cement,)
    admixtures: tuple[BriefAdmixture | None, ...] = sweep.admixture or (brief.admixture,)
    counts = (len(sweep.water_cement_ratios), len(sweep.sand_percents), len(stones), len(cements), len(admixtures))
    place = np.indices(counts, dtype=np.int64).reshape(5, -1)
    ratio = np.array(sweep.water_cement_ratios)[place[0]]
    sand_share = np.array(sweep.sand_percents)[place[1]]
    table = [_water_and_air(brief, stone) for stone in stones]
    reduction = _of_admixture(admixtures, place[4], "water_reduction_percent")
    water = np.array([each.water_kg_per_m3 for each in table])[place[2]] * (1.0 - reduction / 100.0)
    air = np.array([each.air_content_percent for each in table])[place[2]]
    cement = water / ratio
    admixture = cement * _of_admixture(admixtures, place[4], "dose_percent") / 100.0
    cement_density = np.array([each.relative_density for each in cements])[place[3]]
    admixture_density = np.array([1.0 if each is None else each.relative_density for each in admixtures])[place[4]]
    room = room_for_aggregate(water, cement, air, cement_density, volume_of(admixture, admixture_density))
    kept = np.maximum(room, 0.0)
    sand = 1000.0 * kept * sand_share / 100.0 * ssd_density(brief.sand)
    stone_density = np.array([ssd_density(each) for each in stones])[place[2]]
    stone = 1000.0 * kept * (1.0 - sand_share / 100.0) * stone_density
    with np.errstate(invalid="ignore"):
        mass_percent = np.where(kept > 0, 100.0 * sand / (sand + stone), np.nan)
    sizes = np.array([each.maximum_size_mm for each in stones])[place[2]]
    table_ratio = limits.ratio_for_strength
    own_ratio = np.array([each.ratio_for_strength or table_ratio for each in cements])[place[3]]
    sums = [
        _sum(brief, (cements, stones, admixtures), place, (cement, water, sand, stone, admixture), key)
        for key in ("price_cu_per_t", "carbon_kg_co2e_per_kg")
    ]
    return Candidates(
        place=place,
        ratio=ratio,
        sand_volume_percent=sand_share,
        water=water,
        cement=cement,
        sand=sand,
        stone=stone,
        admixture=admixture,
        air_percent=air,
        sand_mass_percent=mass_percent,
        cost=sums[0] / 1000.0,
        carbon=sums[1],
        broken=_broken(limits, ratio, own_ratio, cement, room, mass_percent, sizes),
    )


def _water_and_air(brief: MixBrief, stone: BriefStone) -> aci_211.WaterAndAir:
    target = brief.target
    return aci_211.mixing_water_and_air(
        target.slump_mm,
        aci_size(stone.maximum_size_mm),
        air_entrained=target.air_entrained,
        exposure=target.frost_exposure,
    )


def _of_admixture(options: Sequence[BriefAdmixture | None], place: NDArray[np.int64], key: str) -> Floats:
    """A figure of each candidate's admixture; 0 where it has none."""
    return np.array([0.0 if option is None else getattr(option, key) for option in options])[place]


def _sum(
    brief: MixBrief,
    options: tuple[Sequence[BriefCement], Sequence[BriefStone], Sequence[BriefAdmixture | None]],
    place: NDArray[np.int64],
    masses: tuple[Floats, Floats, Floats, Floats, Floats],
    key: str,
) -> Floats:
    """Sum of mass × price or factor; NaN where one that is used is missing."""
    cements, stones, admixtures = options
    cement, water, sand, stone, admixture = masses

    def values(parts: Sequence[object], at: NDArray[np.int64]) -> Floats:
        return _gathered(parts, at, lambda part: 0.0 if part is None else getattr(part, key))

    once = np.zeros(place.shape[1], dtype=np.int64)
    total = cement * values(cements, place[3]) + stone * values(stones, place[2])
    total += water * values((brief.water,), once) + sand * values((brief.sand,), once)
    used = admixture > 0
    total[used] += (admixture * values(admixtures, place[4]))[used]
    return total


def _broken(
    limits: SweepLimits,
    ratio: Floats,
    own_ratio: Floats,
    cement: Floats,
    room: Floats,
    sand_percent: Floats,
    sizes: Floats,
) -> dict[str, Flags]:
    low, high = float(own_ratio.min()), float(own_ratio.max())
    highest = f"{low:.2f}" if low == high else f"{low:.2f} to {high:.2f} by cement"
    broken = {
        f"w/c for the strength, {highest}": ratio > own_ratio + _SLACK,
        "room for aggregate": room <= 0,
        f"sand from {LEAST_USUAL_SAND_PERCENT:g} to {MOST_USUAL_SAND_PERCENT:g} % of the aggregate by mass": (
            (sand_percent < LEAST_USUAL_SAND_PERCENT - _SLACK) | (sand_percent > MOST_USUAL_SAND_PERCENT + _SLACK)
        ),
    }
    if limits.ratio_most is not None:
        broken[f"w/c for the exposure, {limits.ratio_most:.2f}"] = ratio > limits.ratio_most + _SLACK
    if limits.cement_least is not None:
        broken[f"least cement, {limits.cement_least:g} kg/m³"] = cement < limits.cement_least - _SLACK
    if limits.cement_most is not None:
        broken[f"most cement, {limits.cement_most:g} kg/m³"] = cement > limits.cement_most + _SLACK
    if limits.stone_most_mm is not None:
        broken[f"largest aggregate, {limits.stone_most_mm:g} mm"] = sizes > limits.stone_most_mm + _SLACK
    return broken


def frontier(cost: Floats, carbon: Floats, feasible: Flags) -> NDArray[np.int64]:
    """From the cheapest on, each candidate with less carbon, by LEAST_STEP or more, than all that cost no more."""
    usable = np.flatnonzero(feasible & np.isfinite(cost) & np.isfinite(carbon))
    ordered = usable[np.lexsort((carbon[usable], cost[usable]))]
    if not len(ordered):
        return ordered
    kept, least = [], np.inf
    for index in ordered:
        if carbon[index] < least * (1.0 - LEAST_STEP):
            kept.append(index)
            least = carbon[index]
    return np.array(kept, dtype=np.int64)


def swept(brief: MixBrief, limits: SweepLimits) -> SweepFound:
    """The candidates judged. Raises what `candidates` raises."""
    found = candidates(brief, limits)
    feasible = found.feasible
    count, total = int(feasible.sum()), int(feasible.size)
    edge = frontier(found.cost, found.carbon, feasible)
    cheapest, least = (_best(found, values, tie, feasible) for values, tie in _both(found.cost, found.carbon))
    refused = sorted(((name, int(flags.sum())) for name, flags in found.broken.items()), key=lambda pair: -pair[1])
    return SweepFound(
        candidates_count=total,
        feasible_count=count,
        refused=tuple(RefusedCandidates(limit=name, count=number) for name, number in refused if number),
        cheapest=None if cheapest is None else _candidate(brief, found, cheapest),
        least_carbon=None if least is None else _candidate(brief, found, least),
        frontier=tuple(_candidate(brief, found, int(index)) for index in edge),
        sentence=f"{_sentence(found, edge, count, total)}{_unproven(brief)}",
    )


def _both(cost: Floats, carbon: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    return (cost, carbon), (carbon, cost)


def _best(found: Candidates, values: Floats, tie: Floats, feasible: Flags) -> int | None:
    """The feasible candidate with the least value; of equal ones that with the least of the other figure."""
    usable = np.flatnonzero(feasible & np.isfinite(values))
    if not len(usable):
        return None
    return int(usable[np.lexsort((np.nan_to_num(tie[usable]), values[usable]))[0]])


def _candidate(brief: MixBrief, found: Candidates, index: int) -> MixCandidate:
    sweep = brief.sweep
    assert sweep is not None  # `candidates` refuses a brief without one
    stones, cements = sweep.stone or (brief.stone,), sweep.cement or (brief.cement,)
    admixtures: tuple[BriefAdmixture | None, ...] = sweep.admixture or (brief.admixture,)
    _, _, stone, cement, admixture = (int(each) for each in found.place[:, index])
    chosen = admixtures[admixture]
    cost, carbon = float(found.cost[index]), float(found.carbon[index])
    return MixCandidate(
        stone=stones[stone].name,
        cement=cements[cement].name,
        admixture="" if chosen is None else chosen.name,
        water_cement_ratio=float(found.ratio[index]),
        sand_percent=float(found.sand_volume_percent[index]),
        water_kg_per_m3=float(found.water[index]),
        cement_kg_per_m3=float(found.cement[index]),
        sand_kg_per_m3=float(found.sand[index]),
        stone_kg_per_m3=float(found.stone[index]),
        admixture_kg_per_m3=float(found.admixture[index]),
        cost_cu_per_m3=None if np.isnan(cost) else cost,
        carbon_kg_co2e_per_m3=None if np.isnan(carbon) else carbon,
    )


def _unproven(brief: MixBrief) -> str:
    """A warning where a cement is judged by the table alone."""
    sweep = brief.sweep
    cements = (sweep.cement if sweep else ()) or (brief.cement,)
    return f" {NO_CEMENT_CLASS}" if any(cement.ratio_for_strength is None for cement in cements) else ""


def _sentence(found: Candidates, edge: NDArray[np.int64], count: int, total: int) -> str:
    if not count:
        return f"None of {total} candidates holds all limits."
    text = f"{count} of {total} candidates hold all limits"
    if not len(edge):
        return f"{text}; without every price and factor they cannot be set against each other."
    first, last = edge[0], edge[-1]
    if first == last:
        return f"{text}; the cheapest, {found.cost[first]:.2f} per m³, has also the least carbon."
    saved, extra = found.carbon[first] - found.carbon[last], found.cost[last] - found.cost[first]
    return f"{text}; from the cheapest to the least carbon {saved:.0f} kg CO2e/m³ less cost {extra:.2f} per m³ more."
