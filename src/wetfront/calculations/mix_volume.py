"""Contracts of the calculations that fill the cubic metre, and of a mix's carbon and cost."""

from wetfront.calculations import mix_keys as keys
from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Number, Numbers, Output
from wetfront.materials import absolute_volume as volume
from wetfront.materials import mix_sums as sums
from wetfront.materials.mix_reasons import unusual_sand
from wetfront.nouns.reason import Answer, Step


def _fine(
    water_kg_per_m3: float,
    cement_kg_per_m3: float,
    coarse_aggregate_kg_per_m3: float,
    air_content_percent: float,
    fine_relative_density: float,
    coarse_relative_density: float,
    cement_relative_density: float,
    addition_kg_per_m3: float,
    addition_relative_density: float,
    admixture_kg_per_m3: float,
    admixture_relative_density: float,
) -> Answer:
    found = volume.fine_aggregate(
        water_kg_per_m3=water_kg_per_m3,
        cement_kg_per_m3=cement_kg_per_m3,
        coarse_aggregate_kg_per_m3=coarse_aggregate_kg_per_m3,
        air_content_percent=air_content_percent,
        fine_relative_density=fine_relative_density,
        coarse_relative_density=coarse_relative_density,
        cement_relative_density=cement_relative_density,
        addition_kg_per_m3=addition_kg_per_m3,
        addition_relative_density=addition_relative_density,
        admixture_kg_per_m3=admixture_kg_per_m3,
        admixture_relative_density=admixture_relative_density,
    )
    parts = (
        ("water", water_kg_per_m3 / 1000, volume.WATER_DENSITY),
        ("cement", volume.volume_of(cement_kg_per_m3, cement_relative_density), volume.ABSOLUTE_VOLUME),
        ("addition", volume.volume_of(addition_kg_per_m3, addition_relative_density), volume.ABSOLUTE_VOLUME),
        ("admixture", volume.volume_of(admixture_kg_per_m3, admixture_relative_density), volume.ABSOLUTE_VOLUME),
        ("coarse aggregate", found.coarse_volume_m3, volume.ABSOLUTE_VOLUME),
        ("air", air_content_percent / 100, volume.ABSOLUTE_VOLUME),
    )
    why = (
        *(Step(f"volume of {name}", value, "m³", source) for name, value, source in parts if value > 0),
        Step("volume left for sand", found.fine_volume_m3, "m³", volume.ABSOLUTE_VOLUME),
        Step(
            "sand = volume × relative density × 1000", found.fine_aggregate_kg_per_m3, "kg/m³", volume.ABSOLUTE_VOLUME
        ),
        Step("sand of all aggregate, by mass", found.sand_percent, "%", volume.ABSOLUTE_VOLUME),
    )
    result = {
        "fine_aggregate_volume_m3_per_m3": found.fine_volume_m3,
        "fine_aggregate_kg_per_m3": found.fine_aggregate_kg_per_m3,
        "fresh_density_kg_per_m3": found.fresh_density_kg_per_m3,
    }
    notices = () if found.usual else (unusual_sand(found.sand_percent),)
    return answered(result, why, notices, (keys.FIRST_TRIAL,))


def _fraction(
    water_kg_per_m3: float,
    cement_kg_per_m3: float,
    air_content_percent: float,
    fines_volume_percent: float,
    fine_relative_density: float,
    coarse_relative_density: float,
    cement_relative_density: float,
    addition_kg_per_m3: float,
    addition_relative_density: float,
) -> Answer:
    found = volume.aggregate_by_fines(
        water_kg_per_m3=water_kg_per_m3,
        cement_kg_per_m3=cement_kg_per_m3,
        air_content_percent=air_content_percent,
        fines_volume_percent=fines_volume_percent,
        fine_relative_density=fine_relative_density,
        coarse_relative_density=coarse_relative_density,
        cement_relative_density=cement_relative_density,
        addition_kg_per_m3=addition_kg_per_m3,
        addition_relative_density=addition_relative_density,
    )
    why = (
        Step("volume left for aggregate", found.aggregate_volume_m3, "m³", volume.FINES_SHARE),
        Step("sand by its share of that volume", found.fine_aggregate_kg_per_m3, "kg/m³", volume.FINES_SHARE),
        Step("coarse aggregate by the rest", found.coarse_aggregate_kg_per_m3, "kg/m³", volume.FINES_SHARE),
    )
    result = {
        "fine_aggregate_kg_per_m3": found.fine_aggregate_kg_per_m3,
        "coarse_aggregate_kg_per_m3": found.coarse_aggregate_kg_per_m3,
    }
    return answered(result, why, (), (keys.FIRST_TRIAL,))


def _carbon(masses_kg_per_m3: tuple[float, ...], factors_kg_co2e_per_kg: tuple[float, ...], volume_m3: float) -> Answer:
    found = sums.embodied_carbon(masses_kg_per_m3, factors_kg_co2e_per_kg, volume_m3)
    why = (
        Step("sum of mass × factor", found.carbon_kg_co2e_per_m3, "kg CO2e/m³", sums.CARBON),
        Step("× volume", found.carbon_total_kg_co2e, "kg CO2e", sums.CARBON),
        Step("/ mass of the mix", found.carbon_kg_co2e_per_kg, "kg CO2e/kg", sums.CARBON),
    )
    result = {
        "carbon_kg_co2e_per_m3": found.carbon_kg_co2e_per_m3,
        "carbon_total_kg_co2e": found.carbon_total_kg_co2e,
        "carbon_kg_co2e_per_kg": found.carbon_kg_co2e_per_kg,
    }
    cautions = (
        "Constituents to the plant's gate (A1 to A3); transport, reinforcement and waste come on top. Compare mixes "
        "only with factors of one source and one boundary.",
    )
    return answered(result, why, (), cautions)


def _cost(masses_kg_per_m3: tuple[float, ...], prices_per_tonne: tuple[float, ...], volume_m3: float) -> Answer:
    cost = sums.material_cost(masses_kg_per_m3, prices_per_tonne)
    why = (
        Step("sum of mass × price / 1000", cost, "per m³", sums.COST),
        Step("× volume", cost * volume_m3, "", sums.COST),
    )
    cautions = ("Materials only, in the currency of the prices: no plant, transport, testing or waste.",)
    return answered({"cost_per_m3": cost, "cost_total": cost * volume_m3}, why, (), cautions)


_MASSES = Numbers(
    key="masses_kg_per_m3",
    meaning="constituents of a cubic metre",
    each=Number(key="masses_kg_per_m3", meaning="mass", unit="kg/m³", low=0, high=10_000),
    least_count=1,
    most_count=50,
)
_VOLUME = Number(key="volume_m3", meaning="of concrete", unit="m³", above=0, high=1e7, default=1.0)

CALCULATIONS = (
    Calculation(
        name="fine-aggregate-by-absolute-volume",
        title="Fine aggregate that fills the cubic metre",
        method="One cubic metre less the absolute volumes of all else and the air; times the sand's density.",
        source=volume.ABSOLUTE_VOLUME,
        inputs=(
            keys.WATER,
            keys.CEMENT,
            keys.mass("coarse_aggregate_kg_per_m3", "same moisture basis as its relative density"),
            keys.AIR,
            keys.FINE_DENSITY,
            keys.COARSE_DENSITY,
            keys.CEMENT_DENSITY,
            keys.ADDITION,
            keys.ADDITION_DENSITY,
            keys.mass("admixture_kg_per_m3", "liquid, as dosed", default=0.0),
            keys.admixture_density(volume.ADMIXTURE_RELATIVE_DENSITY),
        ),
        outputs=(
            Output(key="fine_aggregate_volume_m3_per_m3", meaning="absolute volume left for the sand", unit="m³/m³"),
            keys.FINE_OUT,
            keys.DENSITY_OUT,
        ),
        answer=_fine,
    ),
    Calculation(
        name="aggregate-by-fines-fraction",
        title="Fine and coarse aggregate from a chosen fines share by volume",
        method="The volume that water, cement, addition and air leave, split by the share of fines.",
        source=volume.FINES_SHARE,
        inputs=(
            keys.WATER,
            keys.CEMENT,
            keys.AIR,
            Number(
                key="fines_volume_percent",
                meaning="sand of all aggregate by absolute volume",
                unit="%",
                above=0,
                below=100,
            ),
            keys.FINE_DENSITY,
            keys.COARSE_DENSITY,
            keys.CEMENT_DENSITY,
            keys.ADDITION,
            keys.ADDITION_DENSITY,
        ),
        outputs=(keys.FINE_OUT, keys.COARSE_OUT),
        answer=_fraction,
    ),
    Calculation(
        name="embodied-carbon-of-mix",
        title="Embodied carbon of a mix, modules A1-A3 of its constituents",
        method="Sum of mass × factor. The factors are the user's, from declarations; none is shipped.",
        source=sums.CARBON,
        inputs=(
            _MASSES,
            Numbers(
                key="factors_kg_co2e_per_kg",
                meaning="as many as masses, in their order",
                each=Number(key="factors_kg_co2e_per_kg", meaning="factor", unit="kg/kg", low=0, high=1000),
                most_count=50,
            ),
            _VOLUME,
        ),
        outputs=(
            Output(key="carbon_kg_co2e_per_m3", meaning="sum of mass × factor", unit="kg CO2e/m³"),
            Output(key="carbon_total_kg_co2e", meaning="× volume", unit="kg CO2e"),
            Output(key="carbon_kg_co2e_per_kg", meaning="per kg of concrete", unit="kg CO2e/kg"),
        ),
        answer=_carbon,
    ),
    Calculation(
        name="cost-of-mix",
        title="Material cost of a mix",
        method="Sum of mass × price / 1000, in the user's currency.",
        source=sums.COST,
        inputs=(
            _MASSES,
            Numbers(
                key="prices_per_tonne",
                meaning="as many as masses, in their order, one currency",
                each=Number(key="prices_per_tonne", meaning="price", unit="per t", low=0, high=1e7),
                most_count=50,
            ),
            _VOLUME,
        ),
        outputs=(
            Output(key="cost_per_m3", meaning="sum of mass × price / 1000", unit="per m³"),
            Output(key="cost_total", meaning="× volume"),
        ),
        answer=_cost,
    ),
)
