"""One mix brief proportioned by each of the three methods, so that the results stand side by side.

All results are brought to aggregates that are saturated and surface-dry. The brief gives the strength of cylinders and
of cubes; no method's strength is converted.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.materials import aci_211, bre, is_10262, mix_reasons, target_strength
from wetfront.materials.absolute_volume import LEAST_USUAL_SAND_PERCENT, MOST_USUAL_SAND_PERCENT
from wetfront.materials.admixture import REDUCTION
from wetfront.materials.mix_batch import (
    SSD_DENSITY,
    Masses,
    carbon_of,
    cost_of,
    oven_dry_density,
    parts_volume,
    ssd_density,
    trial_batch,
)
from wetfront.materials.mix_limits import LEAST_CEMENT, MOST_CEMENT, RATIO, MixLimits, rules_of
from wetfront.materials.stone_sizes import aci_size, metric_size
from wetfront.nouns.mix_brief import MixBrief, MixMethod, StoneSurface
from wetfront.nouns.mix_design import MethodMix
from wetfront.nouns.reason import Provenance, Source, Step

_Given = TypeVar("_Given")
TITLES: dict[MixMethod, str] = {
    "absolute-volume": "absolute volume, ACI 211.1",
    "british": "British method, BRE",
    "indian": "Indian method, IS 10262",
}
SHORT_RECORD = Source("fewer than 30 results: not below the deviation that the table assumes", Provenance.OWN_RULE)
SAME_SIZE = Source("10, 20 and 40 mm stone taken for 9.5, 19 and 37.5 mm, and back", Provenance.OWN_RULE)
ALL_ENTRAINED = Source("all of the recommended total air counted as entrained", Provenance.OWN_RULE)
COMBINED = Source("by the volumes of sand and stone", Provenance.DEFINITION)
RECORD = Source("the record of the brief", Provenance.INPUT)
ENOUGH_RESULTS = 30
FAR_FROM_ONE_M3 = 0.02
"""A yield so far from 1 m³ is told (own rule; short delivery is counted from 2 % too)."""
HIGHEST_STANDARD_GRADE_MPA = 60.0
"""M60: section 2 of IS 10262:2019 is for ordinary and standard grades, stronger ones have their own (from memory)."""
LIKELY_RATIOS = (0.45, 0.60)
ROUGH_RATIO = 0.02
"""exp(−3.0 (w/c − 0.50)) follows two published readings of Fig. 4 to so much, in that range. A check only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """What a method found, before batch, cost and carbon."""

    specimen: str
    specified: float
    aimed_at: float
    margin_from: str
    masses: Masses
    ratio_for_strength: float
    governed_by: str
    air: float
    notices: tuple[str, ...] = ()
    why: tuple[Step, ...]


def strength_of(brief: MixBrief, specimen: str) -> float | None:
    """Specified strength of cylinders or cubes: by the class, else as given; None where neither tells."""
    target = brief.target
    if target.strength_class:
        return rules_of(brief)("en", f"strength-classes-{specimen}").at(target.strength_class).low
    return target.cylinder_strength_mpa if specimen == "cylinder" else target.cube_strength_mpa


def method_mix(method: MixMethod, brief: MixBrief, limits: MixLimits) -> MethodMix:
    """First trial proportions by one method. InvalidInput names what is missing or outside the method's tables."""
    found = _METHODS[method](brief, limits)
    masses = found.masses
    sand_percent = 100.0 * masses["sand"] / (masses["sand"] + masses["stone"])
    notices = list(found.notices)
    if not LEAST_USUAL_SAND_PERCENT <= sand_percent <= MOST_USUAL_SAND_PERCENT:
        notices.append(mix_reasons.unusual_sand(sand_percent).text)
    volume = parts_volume(brief, masses, found.air)
    if abs(volume - 1.0) > FAR_FROM_ONE_M3:
        notices.append(
            f"These masses make {volume:.3f} m³ by their densities, not 1 m³: look at the density read from the chart "
            "and at the relative densities."
        )
    batch, batch_notices = trial_batch(brief, masses)
    return MethodMix(
        method=method,
        title=TITLES[method],
        specimen=found.specimen,
        specified_strength_mpa=found.specified,
        target_strength_mpa=found.aimed_at,
        margin_from=found.margin_from,
        water_kg_per_m3=masses["water"],
        cement_kg_per_m3=masses["cement"],
        water_cement_ratio=masses["water"] / masses["cement"],
        ratio_for_strength=found.ratio_for_strength,
        governed_by=found.governed_by,
        sand_kg_per_m3=masses["sand"],
        stone_kg_per_m3=masses["stone"],
        admixture_kg_per_m3=masses["admixture"],
        air_content_percent=found.air,
        sand_percent=sand_percent,
        fresh_density_kg_per_m3=sum(masses.values()),
        parts_volume_m3=volume,
        cost_cu_per_m3=cost_of(brief, masses),
        carbon_kg_co2e_per_m3=carbon_of(brief, masses),
        batch=batch,
        notices=(*notices, *batch_notices),
        why=(*_class_step(brief, found.specimen), *found.why),
    )


def _class_step(brief: MixBrief, specimen: str) -> tuple[Step, ...]:
    """Where the specified strength comes from: the class in the book, or the brief itself."""
    if not brief.target.strength_class:
        return ()
    cell = rules_of(brief)("en", f"strength-classes-{specimen}").at(brief.target.strength_class)
    return (Step(f"{specimen} strength of {brief.target.strength_class}", cell.low, "MPa", cell.cited),)


def _strength(brief: MixBrief, specimen: str) -> float:
    found = strength_of(brief, specimen)
    if found is None:
        raise InvalidInput(f"{specimen}_strength_mpa", f"the brief gives no strength of {specimen}s")
    return found


def _needed(value: _Given | None, key: str) -> _Given:
    if value is None:
        raise InvalidInput(key, f"{key} is missing")
    return value


def _governed(ratio: float, for_strength: float, limit: float | None) -> str:
    """What set the ratio that the mix ends up with."""
    if ratio < min(for_strength, limit or for_strength) - 1e-9:
        return "least cement"
    return "durability" if limit is not None and limit < for_strength - 1e-9 else "strength"


def _admixture(brief: MixBrief) -> tuple[float, float, float]:
    """Water reduction [%], dose [%] and relative density of the brief's admixture."""
    given = brief.admixture
    return (given.water_reduction_percent, given.dose_percent, given.relative_density) if given else (0.0, 0.0, 1.1)


def _refuse_much_cement(cement: float, most: float | None) -> None:
    if most is not None and cement > most + 1e-9:
        raise InvalidInput(
            "maximum_cement_kg_per_m3",
            f"maximum_cement_kg_per_m3 is {most:g}, this mix needs {cement:.0f} kg/m³: less water is needed (a water "
            "reducer, less slump, larger aggregate)",
        )


def entrained_air_percent(brief: MixBrief) -> float:
    """The total air that ACI 211.1 recommends for the brief's stone and frost exposure; 0 without entrained air."""
    if not brief.target.air_entrained:
        return 0.0
    size = aci_size(brief.stone.maximum_size_mm)
    if size not in aci_211.SIZES_MM:
        raise OutOfRange("maximum_size_mm", size, "the sizes of ACI 211.1, Table A1.5.3.3", "the air content")
    return aci_211.TOTAL_AIR_PERCENT[brief.target.frost_exposure][aci_211.SIZES_MM.index(size)]


def _absolute_volume(brief: MixBrief, limits: MixLimits) -> _Found:
    specified = _strength(brief, "cylinder")
    record = brief.record
    target = target_strength.required_average_strength(
        specified,
        record.standard_deviation_mpa if record else None,
        record.results_count if record else None,
    )
    reduction, dose, density = _admixture(brief)
    limit = limits.value(RATIO)
    mix = aci_211.proportions(
        average_strength_mpa=target.required_average_strength_mpa,
        slump_mm=brief.target.slump_mm,
        maximum_aggregate_size_mm=aci_size(brief.stone.maximum_size_mm),
        fineness_modulus=_needed(brief.sand.fineness_modulus, "sand.fineness_modulus"),
        dry_rodded_density_kg_per_m3=_needed(
            brief.stone.dry_rodded_density_kg_per_m3, "stone.dry_rodded_density_kg_per_m3"
        ),
        coarse_relative_density=oven_dry_density(brief.stone),
        fine_relative_density=ssd_density(brief.sand),
        cement_relative_density=brief.cement.relative_density,
        air_entrained=brief.target.air_entrained,
        exposure=brief.target.frost_exposure,
        maximum_water_cement_ratio=limit,
        minimum_cement_kg_per_m3=limits.value(LEAST_CEMENT) or 0.0,
        water_reduction_percent=reduction,
        admixture_dose_percent=dose,
        admixture_relative_density=density,
    )
    _refuse_much_cement(mix.cement_kg_per_m3, limits.value(MOST_CEMENT))
    stone = mix.coarse_aggregate_kg_per_m3 * (1.0 + brief.stone.absorption_percent / 100.0)
    by_weight = _by_weight(brief, mix)
    basis = "record" if target.basis == "standard-deviation" else "no record"
    return _Found(
        specimen="cylinder",
        specified=specified,
        aimed_at=target.required_average_strength_mpa,
        margin_from=f"f'cr, {basis}",
        masses={
            "cement": mix.cement_kg_per_m3,
            "water": mix.water_kg_per_m3,
            "sand": mix.fine_aggregate_kg_per_m3,
            "stone": stone,
            "admixture": mix.admixture_kg_per_m3,
        },
        ratio_for_strength=mix.ratio.for_strength,
        governed_by=_governed(mix.water_cement_ratio, mix.ratio.for_strength, limit),
        air=mix.air_content_percent,
        notices=by_weight,
        why=(
            Step("f'cr", target.required_average_strength_mpa, "MPa", target.source),
            Step("size in the tables", aci_size(brief.stone.maximum_size_mm), "mm", SAME_SIZE),
            *mix_reasons.aci_steps(mix),
            Step("coarse aggregate, saturated and surface-dry", stone, "kg/m³", SSD_DENSITY),
        ),
    )


def _by_weight(brief: MixBrief, mix: aci_211.AciMix) -> tuple[str, ...]:
    """What the standard's quicker variant would take for sand: a check that density and rodded density are right."""
    try:
        dry = aci_211.fine_aggregate_by_weight(
            aci_size(brief.stone.maximum_size_mm),
            mix.water_kg_per_m3,
            mix.cement_kg_per_m3,
            mix.coarse_aggregate_kg_per_m3,
            air_entrained=brief.target.air_entrained,
        )
    except InvalidInput:
        return ()
    change = dry - mix.fine_aggregate_kg_per_m3 / (1.0 + brief.sand.absorption_percent / 100.0)
    return (f"Sand by the first estimate of the weight (from memory): {change:+.0f} kg/m³ against this.",)


def _british(brief: MixBrief, limits: MixLimits) -> _Found:
    specified = _strength(brief, "cube")
    read = _needed(brief.british, "british")
    sand: StoneSurface = _needed(brief.sand.surface, "sand.surface")
    stone: StoneSurface = _needed(brief.stone.surface, "stone.surface")
    air = entrained_air_percent(brief)
    target = target_strength.target_mean_bre(
        specified,
        defective_percent=float(read.defective_percent),
        standard_deviation_mpa=brief.record.standard_deviation_mpa if brief.record else None,
        results_count=brief.record.results_count if brief.record else 0,
        air_content_percent=air,
    )
    water = bre.free_water(
        brief.target.slump_mm, metric_size(brief.stone.maximum_size_mm), sand, stone, air_entrained=air > 0
    )
    reduction, dose, _ = _admixture(brief)
    limit = limits.value(RATIO)
    fines = read.fines_percent / 100.0
    combined = 1.0 / (fines / ssd_density(brief.sand) + (1.0 - fines) / ssd_density(brief.stone))
    free = water.free_water_kg_per_m3 * (1.0 - reduction / 100.0)
    mix = bre.proportions(
        free_water_kg_per_m3=free,
        water_cement_ratio=read.water_cement_ratio,
        fines_percent=read.fines_percent,
        aggregate_relative_density=combined,
        maximum_water_cement_ratio=limit,
        minimum_cement_kg_per_m3=limits.value(LEAST_CEMENT) or 0.0,
        maximum_cement_kg_per_m3=limits.value(MOST_CEMENT),
        fresh_density_kg_per_m3=read.fresh_density_kg_per_m3,
        air_content_percent=air,
    )
    line = f"line {target.from_line} of Fig. 3" if target.from_line else "record"
    return _Found(
        specimen="cube",
        specified=specified,
        aimed_at=target.target_mean_strength_mpa,
        margin_from=f"{target.k:g} × {target.standard_deviation_mpa:g} MPa, {line}",
        masses={
            "cement": mix.cement_kg_per_m3,
            "water": free,
            "sand": mix.fine_aggregate_kg_per_m3,
            "stone": mix.coarse_aggregate_kg_per_m3,
            "admixture": mix.cement_kg_per_m3 * dose / 100.0,
        },
        ratio_for_strength=read.water_cement_ratio,
        governed_by=_governed(mix.water_cement_ratio, read.water_cement_ratio, limit),
        air=air,
        notices=_chart_notices(brief, target.target_mean_strength_mpa),
        why=(
            Step("fm", target.target_mean_strength_mpa, "N/mm²", target_strength.BRE_MARGIN),
            Step("size in the table", metric_size(brief.stone.maximum_size_mm), "mm", SAME_SIZE),
            *mix_reasons.free_water_steps(water, sand, stone),
            *(_air_steps(air) if air > 0 else ()),
            Step("less the admixture's reduction", free, "kg/m³", REDUCTION),
            Step("combined relative density of the aggregate", combined, "1", COMBINED),
            *mix_reasons.british_steps(
                mix, density_read=read.fresh_density_kg_per_m3 is not None, air_content_percent=air
            ),
        ),
    )


def _air_steps(air_percent: float) -> tuple[Step, ...]:
    """What entrained air changes in the British method before the proportions."""
    return (
        Step("entrained air", air_percent, "%", ALL_ENTRAINED),
        Step("water of the next drier column, with air", air_percent, "%", bre.DRIER_COLUMN),
        Step("target divided by 1 − 0.055 a", 1 - 0.055 * air_percent, "1", target_strength.BRE_AIR),
    )


def _chart_notices(brief: MixBrief, aimed_at: float) -> tuple[str, ...]:
    """Where to enter Fig. 4, and a warning where the reading is far from what it roughly must be."""
    grade, surface, read = brief.cement.strength_class, brief.stone.surface, brief.british
    if grade is None or surface is None or read is None:
        return ()
    start = bre.STRENGTH_AT_HALF_MPA[float(grade), surface][2]
    text = f"Fig. 4 is entered at w/c 0.50 with {start:g} N/mm² (28 d, from memory) and left at {aimed_at:.1f} N/mm²."
    rough = 0.5 - math.log(aimed_at / start) / 3.0
    low, high = LIKELY_RATIOS
    given = read.water_cement_ratio
    if abs(rough - given) > ROUGH_RATIO + 1e-9:
        if low <= rough <= high:
            text += f" That gives roughly {rough:.2f}; the brief says {given:.2f}: read the chart again."
        elif low <= given <= high:  # the rule holds at the reading, where it gives another strength
            made = start * math.exp(-3.0 * (given - 0.5))
            text += f" The brief says {given:.2f}, where it roughly shows {made:.0f} N/mm²: read the chart again."
    return (text,)


def _indian(brief: MixBrief, limits: MixLimits) -> _Found:
    if brief.target.air_entrained:
        raise InvalidInput("air_entrained", "no rule for entrained air was read in IS 10262: use another method")
    specified = _strength(brief, "cube")
    if specified > HIGHEST_STANDARD_GRADE_MPA:
        raise OutOfRange(
            "cube_strength_mpa",
            specified,
            f"to {HIGHEST_STANDARD_GRADE_MPA:g} N/mm², the standard grades (from memory)",
            "IS 10262:2019, section 2,",
        )
    read = _needed(brief.indian, "indian")
    zone = _needed(brief.sand.zone, "sand.zone")
    deviation, source = _indian_deviation(brief, specified)
    target = target_strength.target_mean_is(specified, deviation)
    size = metric_size(brief.stone.maximum_size_mm)
    reduction, dose, density = _admixture(brief)
    limit, most = limits.value(RATIO), limits.value(MOST_CEMENT)
    mix = is_10262.proportions(
        maximum_aggregate_size_mm=size,
        slump_mm=brief.target.slump_mm,
        water_cement_ratio=read.water_cement_ratio,
        sand_zone=zone,
        coarse_relative_density=ssd_density(brief.stone),
        fine_relative_density=ssd_density(brief.sand),
        cement_relative_density=brief.cement.relative_density,
        aggregate_shape=brief.stone.shape,
        water_reduction_percent=reduction,
        admixture_dose_percent=dose,
        admixture_relative_density=density,
        coarse_reduction_for_pumping_percent=read.coarse_reduction_for_pumping_percent,
        maximum_water_cement_ratio=limit,
        minimum_cement_kg_per_m3=limits.value(LEAST_CEMENT) or 0.0,
        maximum_cement_kg_per_m3=is_10262.LARGEST_CEMENT_KG_PER_M3 if most is None else most,
    )
    by_deviation = target.by_deviation_mpa >= target.by_least_margin_mpa
    return _Found(
        specimen="cube",
        specified=specified,
        aimed_at=target.target_mean_strength_mpa,
        margin_from=f"1.65 × {target.standard_deviation_mpa:g} MPa" if by_deviation else "least margin X",
        masses={
            "cement": mix.cement_kg_per_m3,
            "water": mix.water_kg_per_m3,
            "sand": mix.fine_aggregate_kg_per_m3,
            "stone": mix.coarse_aggregate_kg_per_m3,
            "admixture": mix.admixture_kg_per_m3,
        },
        ratio_for_strength=read.water_cement_ratio,
        governed_by=_governed(mix.water_cement_ratio, read.water_cement_ratio, limit),
        air=mix.air_content_percent,
        why=(
            Step("standard deviation", target.standard_deviation_mpa, "N/mm²", source),
            Step("target mean strength", target.target_mean_strength_mpa, "N/mm²", target_strength.IS_TARGET),
            Step("size in the tables", size, "mm", SAME_SIZE),
            *mix_reasons.indian_steps(
                mix,
                maximum_aggregate_size_mm=size,
                slump_mm=brief.target.slump_mm,
                sand_zone=zone,
                aggregate_shape=brief.stone.shape,
                coarse_reduction_for_pumping_percent=read.coarse_reduction_for_pumping_percent,
            ),
        ),
    )


def _indian_deviation(brief: MixBrief, specified: float) -> tuple[float | None, Source]:
    """The record's deviation from 30 results on; below that not less than the table's. None: the table's."""
    record = brief.record
    if record is None:
        return None, target_strength.IS_DEVIATION
    if record.results_count >= ENOUGH_RESULTS:
        return record.standard_deviation_mpa, RECORD
    assumed = target_strength.target_mean_is(specified).standard_deviation_mpa
    return max(assumed, record.standard_deviation_mpa), SHORT_RECORD


_METHODS: dict[MixMethod, Callable[[MixBrief, MixLimits], _Found]] = {
    "absolute-volume": _absolute_volume,
    "british": _british,
    "indian": _indian,
}
