"""Why a mix is what it is: the steps of each proportioning method, for calculations and mix designs alike."""

from wetfront.materials import aci_211 as aci
from wetfront.materials import bre
from wetfront.materials import is_10262 as indian
from wetfront.nouns.reason import Notice, Provenance, Source, Step

_DIVISION = Source("water / ratio", Provenance.DEFINITION)
_LEAST = Source("least cement", Provenance.INPUT)
_RATIO_GIVEN = Source("water/cement ratio of Fig. 1 or trials", Provenance.INPUT)


def unusual_sand(share_percent: float) -> Notice:
    """That the sand is out of the usual share."""
    return Notice(
        "sand-share",
        f"Sand is {share_percent:.0f} % of the aggregate by mass; usual are 25 to 50 % (common practice): look at "
        "density and fineness of the aggregates again.",
    )


def water_steps(found: aci.WaterAndAir) -> tuple[Step, ...]:
    """Water and air of ACI 211.1."""
    return (
        Step("mixing water of the table", found.water_kg_per_m3, "kg/m³", found.source),
        Step("air of the table", found.air_content_percent, "%", aci.WATER_TABLE),
    )


def ratio_steps(found: aci.Ratio) -> tuple[Step, ...]:
    """From the ratio of ACI 211.1's table to the one that holds."""
    return (
        Step("w/c of the table for the strength", found.interpolated, "1", found.source),
        Step("rounded down", found.for_strength, "1", aci.ROUNDED_DOWN),
        Step(f"w/c that holds, by {found.governed_by}", found.water_cement_ratio, "1", aci.METHOD),
    )


def aci_steps(found: aci.AciMix) -> tuple[Step, ...]:
    """The steps of a first trial by absolute volume."""
    cement, source = (
        ("cement = the least asked for", _LEAST) if found.cement_by_minimum else ("cement = water / ratio", _DIVISION)
    )
    return (
        *water_steps(found.first_water),
        Step("water less the admixture's reduction", found.water_kg_per_m3, "kg/m³", aci.METHOD),
        *ratio_steps(found.ratio),
        Step(cement, found.cement_kg_per_m3, "kg/m³", source),
        Step("dry-rodded volume of the table", found.dry_rodded_volume_m3, "m³/m³", aci.COARSE_TABLE),
        Step("coarse aggregate, oven-dry", found.coarse_aggregate_kg_per_m3, "kg/m³", aci.METHOD),
        Step("volume left for sand", found.filled.fine_volume_m3, "m³", aci.METHOD),
        Step("sand", found.fine_aggregate_kg_per_m3, "kg/m³", aci.METHOD),
    )


def indian_steps(
    found: indian.IsMix,
    *,
    maximum_aggregate_size_mm: float,
    slump_mm: float,
    sand_zone: int,
    aggregate_shape: indian.AggregateShape,
    coarse_reduction_for_pumping_percent: float,
) -> tuple[Step, ...]:
    """The steps of a first trial after IS 10262."""
    size, ratio = maximum_aggregate_size_mm, found.water_cement_ratio
    why = [Step("water of the table", indian.WATER_KG_PER_M3[size], "kg/m³", indian.WATER)]
    if aggregate_shape != "angular":
        change = indian.SHAPE_KG_PER_M3[aggregate_shape]
        why.append(Step(f"change for {aggregate_shape} stone", change, "kg/m³", indian.SHAPE))
    slump = indian.LOW_SLUMP if slump_mm < 50 else indian.SLUMP
    read = sand_zone == indian.READ_ZONE
    share = indian.SHARE_READ if read else indian.SHARE_REMEMBERED
    why += [
        Step("water for the slump", found.water_before_admixture_kg_per_m3, "kg/m³", slump),
        Step("less the admixture's reduction", found.water_kg_per_m3, "kg/m³", indian.METHOD),
        Step("w/c, not over the durability limit", found.ratio_used, "1", _RATIO_GIVEN),
        Step("cement = water / ratio, not below the least", found.cement_kg_per_m3, "kg/m³", indian.METHOD),
        Step("entrapped air", found.air_content_percent, "%", indian.AIR),
        Step("coarse share of the table", indian.COARSE_SHARE[size][sand_zone - 1], "1", share),
    ]
    if abs(ratio - 0.5) > 1e-9:
        at_ratio = indian.coarse_share(size, sand_zone, ratio)
        why.append(Step("coarse share at this w/c", at_ratio, "1", indian.SHARE_BY_RATIO))
    if coarse_reduction_for_pumping_percent > 0:
        why.append(Step("less for pumping", found.coarse_aggregate_volume_fraction, "1", indian.PUMPED))
    why.append(Step("volume of all aggregate", found.aggregate_volume_m3_per_m3, "m³", indian.METHOD))
    return tuple(why)


def free_water_steps(found: bre.FreeWater, sand: bre.StoneType, stone: bre.StoneType) -> tuple[Step, ...]:
    """Free water of the British method."""
    return (
        Step(f"water of the table, {sand} sand", found.fine_kg_per_m3, "kg/m³", found.fine_source),
        Step(f"water of the table, {stone} stone", found.coarse_kg_per_m3, "kg/m³", found.coarse_source),
        Step("2/3 of the sand's + 1/3 of the stone's", found.free_water_kg_per_m3, "kg/m³", bre.MIXED_TYPES),
    )


def british_steps(found: bre.BreMix, *, density_read: bool, air_content_percent: float) -> tuple[Step, ...]:
    """The steps of a first trial by the British method, from the free water on."""
    density = bre.CHART if density_read else bre.COMPUTED_DENSITY
    why = [
        Step("w/c, not over the durability limit", found.ratio_used, "1", bre.CHART),
        Step("cement = water / ratio, not below the least", found.cement_kg_per_m3, "kg/m³", bre.METHOD),
        Step("fresh density", found.density_without_air_kg_per_m3, "kg/m³", density),
    ]
    if air_content_percent > 0:
        why.append(Step("less entrained air", found.fresh_density_kg_per_m3, "kg/m³", bre.AIR_DENSITY))
    return (
        *why,
        Step("aggregate = density − cement − water", found.total_aggregate_kg_per_m3, "kg/m³", bre.METHOD),
        Step("sand by its share", found.fine_aggregate_kg_per_m3, "kg/m³", bre.CHART),
    )
