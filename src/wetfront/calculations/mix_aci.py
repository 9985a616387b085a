"""Contracts of the calculations after ACI 211.1: water and air, ratio, coarse aggregate, the whole first trial."""

from wetfront.calculations import mix_keys as keys
from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Flag, Number, Output, Size
from wetfront.materials import aci_211 as aci
from wetfront.materials.aci_211 import AirExposure
from wetfront.materials.mix_reasons import aci_steps, ratio_steps, unusual_sand, water_steps
from wetfront.nouns.reason import Answer, Step

_OTHER_STONE = (
    "The table holds for well-shaped angular stone within its grading. Above 175 mm slump use a water reducer and "
    "enter the slump before it."
)
_NORMAL = "Cylinders at 28 days, normal cement and aggregate: the producer's own curve is better than the table."


def _water(slump_mm: float, maximum_aggregate_size_mm: float, air_entrained: bool, exposure: AirExposure) -> Answer:
    found = aci.mixing_water_and_air(
        slump_mm, maximum_aggregate_size_mm, air_entrained=air_entrained, exposure=exposure
    )
    result = {"water_kg_per_m3": found.water_kg_per_m3, "air_content_percent": found.air_content_percent}
    return answered(result, water_steps(found), (), (_OTHER_STONE, keys.FIRST_TRIAL))


def _ratio(average_strength_mpa: float, air_entrained: bool, maximum_water_cement_ratio: float | None) -> Answer:
    found = aci.water_cement_ratio(
        average_strength_mpa, air_entrained=air_entrained, maximum_water_cement_ratio=maximum_water_cement_ratio
    )
    result = {"water_cement_ratio": found.water_cement_ratio, "governed_by": found.governed_by}
    return answered(result, ratio_steps(found), (), (_NORMAL, keys.FIRST_TRIAL))


def _coarse(
    maximum_aggregate_size_mm: float, fineness_modulus: float, dry_rodded_density_kg_per_m3: float | None
) -> Answer:
    volume = aci.dry_rodded_volume(maximum_aggregate_size_mm, fineness_modulus)
    why = [Step("dry-rodded volume of the table", volume, "m³/m³", aci.COARSE_TABLE)]
    mass = None
    if dry_rodded_density_kg_per_m3 is not None:
        mass = volume * dry_rodded_density_kg_per_m3
        why.append(Step("oven-dry mass = volume × dry-rodded density", mass, "kg/m³", aci.METHOD))
    cautions = (
        "Pavements take up to 10 % more; pumped or congested concrete up to 10 % less (partly from memory).",
        keys.FIRST_TRIAL,
    )
    return answered({"dry_rodded_volume_m3_per_m3": volume, "coarse_aggregate_dry_kg_per_m3": mass}, why, (), cautions)


def _proportions(
    average_strength_mpa: float,
    slump_mm: float,
    maximum_aggregate_size_mm: float,
    fineness_modulus: float,
    dry_rodded_density_kg_per_m3: float,
    coarse_relative_density: float,
    fine_relative_density: float,
    cement_relative_density: float,
    air_entrained: bool,
    exposure: AirExposure,
    maximum_water_cement_ratio: float | None,
    minimum_cement_kg_per_m3: float,
    water_reduction_percent: float,
) -> Answer:
    found = aci.proportions(
        average_strength_mpa=average_strength_mpa,
        slump_mm=slump_mm,
        maximum_aggregate_size_mm=maximum_aggregate_size_mm,
        fineness_modulus=fineness_modulus,
        dry_rodded_density_kg_per_m3=dry_rodded_density_kg_per_m3,
        coarse_relative_density=coarse_relative_density,
        fine_relative_density=fine_relative_density,
        cement_relative_density=cement_relative_density,
        air_entrained=air_entrained,
        exposure=exposure,
        maximum_water_cement_ratio=maximum_water_cement_ratio,
        minimum_cement_kg_per_m3=minimum_cement_kg_per_m3,
        water_reduction_percent=water_reduction_percent,
    )
    notices = () if found.filled.usual else (unusual_sand(found.filled.sand_percent),)
    cautions = (
        "Coarse aggregate is oven-dry, because the rodded density is: give its oven-dry relative density, and the "
        "sand's in the basis that you want its mass in.",
        keys.FIRST_TRIAL,
        keys.ON_SITE,
    )
    result = {
        "water_kg_per_m3": found.water_kg_per_m3,
        "cement_kg_per_m3": found.cement_kg_per_m3,
        "coarse_aggregate_kg_per_m3": found.coarse_aggregate_kg_per_m3,
        "fine_aggregate_kg_per_m3": found.fine_aggregate_kg_per_m3,
        "air_content_percent": found.air_content_percent,
        "water_cement_ratio": found.water_cement_ratio,
        "fresh_density_kg_per_m3": found.fresh_density_kg_per_m3,
    }
    return answered(result, aci_steps(found), notices, cautions)


def _largest(
    narrowest_form_mm: float | None, slab_depth_mm: float | None, clear_bar_spacing_mm: float | None
) -> Answer:
    found = aci.maximum_aggregate_size(narrowest_form_mm, slab_depth_mm, clear_bar_spacing_mm)
    given = (
        ("narrowest form / 5", narrowest_form_mm, 1 / 5),
        ("slab depth / 3", slab_depth_mm, 1 / 3),
        ("3/4 of the clear bar spacing", clear_bar_spacing_mm, 3 / 4),
    )
    why = [Step(words, value * share, "mm", aci.AGGREGATE_SIZE) for words, value, share in given if value is not None]
    result = {"maximum_aggregate_size_mm": found.maximum_aggregate_size_mm, "governed_by": found.governed_by}
    cautions = (
        "An upper bound: choose the next smaller size in stock. Other codes ask for more (EN 1992-1-1, from memory: "
        "clear bar spacing at least the aggregate + 5 mm).",
    )
    return answered(result, why, (), cautions)


def size_key(options: tuple[float, ...]) -> Size:
    """The nominal maximum sizes of a method."""
    return Size(key="maximum_aggregate_size_mm", meaning="nominal maximum size", unit="mm", options=options)


_SIZE = size_key(aci.SIZES_MM)
_SLUMP = Number(key="slump_mm", meaning="before an admixture that makes it flow", unit="mm", low=25, high=175)
_STRENGTH = Number(key="average_strength_mpa", meaning="f'cr, cylinders at 28 days", unit="MPa", low=15, high=45)
_MODULUS = Number(key="fineness_modulus", meaning="of the sand", unit="1", low=2.4, high=3.0)
_ENTRAINED = Flag(key="air_entrained", meaning="true with an air-entraining admixture", default=False)
_EXPOSURE = Choice(
    key="exposure",
    meaning="frost exposure, used with entrained air",
    options=aci.AIR_EXPOSURES,
    default="moderate",
)


def _length(key: str, meaning: str) -> Number:
    return Number(key=key, meaning=meaning, unit="mm", above=0, high=100_000, default=None)


CALCULATIONS = (
    Calculation(
        name="mixing-water-and-air",
        title="Mixing water and air content by slump and aggregate size",
        method="Table by slump row and size; within a row its value, between two rows linear. Air is what is trapped, "
        "or the recommended total with entrained air.",
        source=aci.WATER_TABLE,
        inputs=(_SLUMP, _SIZE, _ENTRAINED, _EXPOSURE),
        outputs=(
            Output(key="water_kg_per_m3", meaning="mixing water, aggregates saturated surface-dry", unit="kg/m³"),
            Output(key="air_content_percent", meaning="entrapped, or recommended total when air-entrained", unit="%"),
        ),
        answer=_water,
    ),
    Calculation(
        name="water-cement-ratio-for-strength",
        title="Water-cement ratio for an average strength",
        method="Linear between the table's strengths, rounded down to 0.01; not over the durability limit.",
        source=aci.RATIO_TABLE,
        inputs=(_STRENGTH, _ENTRAINED, keys.ratio_limit()),
        outputs=(
            Output(key="water_cement_ratio", meaning="lower of strength and durability", unit="1"),
            Output(key="governed_by", meaning="strength, durability"),
        ),
        answer=_ratio,
    ),
    Calculation(
        name="coarse-aggregate-volume",
        title="Dry-rodded coarse aggregate per cubic metre of concrete",
        method="Table by size, linear in the sand's fineness modulus; times the dry-rodded density where it is given.",
        source=aci.COARSE_TABLE,
        inputs=(
            _SIZE,
            _MODULUS,
            Number(
                key="dry_rodded_density_kg_per_m3",
                meaning="measured bulk density",
                unit="kg/m³",
                above=0,
                high=10_000,
                default=None,
            ),
        ),
        outputs=(
            Output(
                key="dry_rodded_volume_m3_per_m3",
                meaning="bulk volume of dry-rodded coarse aggregate per m³ of concrete",
                unit="m³/m³",
            ),
            Output(
                key="coarse_aggregate_dry_kg_per_m3", meaning="oven-dry mass, if the density is given", unit="kg/m³"
            ),
        ),
        answer=_coarse,
    ),
    Calculation(
        name="mix-proportions-aci-211",
        title="First trial proportions by the absolute-volume method",
        method="Water and air by slump and size, ratio by strength and durability, cement, dry-rodded coarse "
        "aggregate, and sand that fills the cubic metre.",
        source=aci.METHOD,
        inputs=(
            _STRENGTH,
            _SLUMP,
            _SIZE,
            _MODULUS,
            Number(
                key="dry_rodded_density_kg_per_m3",
                meaning="measured bulk density of the stone",
                unit="kg/m³",
                above=0,
                high=10_000,
            ),
            keys.COARSE_DENSITY,
            keys.FINE_DENSITY,
            keys.CEMENT_DENSITY,
            _ENTRAINED,
            _EXPOSURE,
            keys.ratio_limit(),
            keys.LEAST_CEMENT,
            keys.REDUCTION,
        ),
        outputs=(
            keys.WATER_OUT,
            keys.CEMENT_OUT,
            keys.COARSE_OUT,
            keys.FINE_OUT,
            Output(key="air_content_percent", meaning="of the table, by volume", unit="%"),
            keys.RATIO_OUT,
            keys.DENSITY_OUT,
        ),
        answer=_proportions,
    ),
    Calculation(
        name="maximum-aggregate-size",
        title="Largest usable aggregate",
        method="The least of 1/5 of the narrowest form, 1/3 of the slab depth and 3/4 of the clear bar spacing, of "
        "those that are given; at least one must be.",
        source=aci.AGGREGATE_SIZE,
        inputs=(
            _length("narrowest_form_mm", "between the faces of the form"),
            _length("slab_depth_mm", "depth of the slab"),
            _length("clear_bar_spacing_mm", "clear distance of the bars"),
        ),
        outputs=(
            Output(
                key="maximum_aggregate_size_mm",
                meaning="upper bound, choose the next smaller stocked size",
                unit="mm",
            ),
            Output(key="governed_by", meaning="form, slab, bar-spacing"),
        ),
        answer=_largest,
    ),
)
