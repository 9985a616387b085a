"""Contract of the mix proportions after IS 10262."""

from wetfront.calculations import mix_keys as keys
from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Number, Output
from wetfront.calculations.mix_aci import size_key
from wetfront.materials import is_10262 as indian
from wetfront.materials.is_10262 import AggregateShape
from wetfront.materials.mix_reasons import indian_steps
from wetfront.nouns.reason import Answer


def _proportions(
    maximum_aggregate_size_mm: float,
    slump_mm: float,
    water_cement_ratio: float,
    sand_zone: int,
    coarse_relative_density: float,
    fine_relative_density: float,
    cement_relative_density: float,
    aggregate_shape: AggregateShape,
    water_reduction_percent: float,
    admixture_dose_percent: float,
    admixture_relative_density: float,
    coarse_reduction_for_pumping_percent: float,
    maximum_water_cement_ratio: float | None,
    minimum_cement_kg_per_m3: float,
    maximum_cement_kg_per_m3: float,
) -> Answer:
    found = indian.proportions(
        maximum_aggregate_size_mm=maximum_aggregate_size_mm,
        slump_mm=slump_mm,
        water_cement_ratio=water_cement_ratio,
        sand_zone=sand_zone,
        coarse_relative_density=coarse_relative_density,
        fine_relative_density=fine_relative_density,
        cement_relative_density=cement_relative_density,
        aggregate_shape=aggregate_shape,
        water_reduction_percent=water_reduction_percent,
        admixture_dose_percent=admixture_dose_percent,
        admixture_relative_density=admixture_relative_density,
        coarse_reduction_for_pumping_percent=coarse_reduction_for_pumping_percent,
        maximum_water_cement_ratio=maximum_water_cement_ratio,
        minimum_cement_kg_per_m3=minimum_cement_kg_per_m3,
        maximum_cement_kg_per_m3=maximum_cement_kg_per_m3,
    )
    why = indian_steps(
        found,
        maximum_aggregate_size_mm=maximum_aggregate_size_mm,
        slump_mm=slump_mm,
        sand_zone=sand_zone,
        aggregate_shape=aggregate_shape,
        coarse_reduction_for_pumping_percent=coarse_reduction_for_pumping_percent,
    )
    cautions = (keys.FIRST_TRIAL, keys.ON_SITE)
    result = {output.key: getattr(found, output.key) for output in _OUTPUTS}
    return answered(result, why, (), cautions)


_OUTPUTS = (
    keys.WATER_OUT,
    keys.CEMENT_OUT,
    Output(key="admixture_kg_per_m3", meaning="cement × dose", unit="kg/m³"),
    Output(key="coarse_aggregate_volume_fraction", meaning="of total aggregate", unit="1"),
    Output(key="aggregate_volume_m3_per_m3", meaning="absolute volume of all aggregate", unit="m³/m³"),
    keys.COARSE_OUT,
    keys.FINE_OUT,
    keys.RATIO_OUT,
)


def _percent(key: str, meaning: str, high: float) -> Number:
    return Number(key=key, meaning=meaning, unit="%", low=0, high=high, default=0.0)


CALCULATIONS = (
    Calculation(
        name="mix-proportions-is-10262",
        title="Mix proportions by the Indian guideline",
        method="Water for 50 mm slump by size, changed for shape, slump and admixture; cement by the ratio and its "
        "limits; coarse share by size, sand zone and ratio; aggregate by absolute volume.",
        source=indian.METHOD,
        inputs=(
            size_key(indian.SIZES_MM),
            Number(key="slump_mm", meaning="wanted", unit="mm", low=25, high=200),
            Number(key="water_cement_ratio", meaning="free, from Fig. 1 or trials", unit="1", low=0.2, high=0.8),
            Number(key="sand_zone", meaning="I to IV of IS 383", unit="", low=1, high=4, whole=True),
            keys.relative_density("coarse_relative_density", "of the stone, saturated surface-dry"),
            keys.relative_density("fine_relative_density", "of the sand, saturated surface-dry"),
            keys.CEMENT_DENSITY,
            Choice(
                key="aggregate_shape",
                meaning="of the stone",
                options=tuple(indian.SHAPE_KG_PER_M3),
                default="angular",
            ),
            keys.REDUCTION,
            _percent("admixture_dose_percent", "of the cement's mass", 10),
            keys.admixture_density(indian.IS_ADMIXTURE_RELATIVE_DENSITY),
            _percent("coarse_reduction_for_pumping_percent", "pumped or congested", 10),
            keys.ratio_limit(),
            keys.LEAST_CEMENT,
            Number(
                key="maximum_cement_kg_per_m3",
                meaning="without additions",
                unit="kg/m³",
                above=0,
                high=10_000,
                default=indian.LARGEST_CEMENT_KG_PER_M3,
            ),
        ),
        outputs=_OUTPUTS,
        answer=_proportions,
    ),
)
