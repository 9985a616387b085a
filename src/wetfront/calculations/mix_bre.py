"""Contracts of the British method: free water, and proportions from the charts that the user reads."""

from wetfront.calculations import mix_keys as keys
from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Number, Output
from wetfront.calculations.mix_aci import size_key
from wetfront.materials import bre
from wetfront.materials.bre import StoneType
from wetfront.materials.mix_reasons import british_steps, free_water_steps
from wetfront.nouns.reason import Answer

_CHARTS = "Ratio, fines and density are those that you read from the method's Figs 4, 6 and 5; nothing checks them."


def _water(
    slump_mm: float,
    maximum_aggregate_size_mm: float,
    fine_aggregate_type: StoneType,
    coarse_aggregate_type: StoneType,
) -> Answer:
    found = bre.free_water(slump_mm, maximum_aggregate_size_mm, fine_aggregate_type, coarse_aggregate_type)
    why = free_water_steps(found, fine_aggregate_type, coarse_aggregate_type)
    cautions = (
        "With entrained air take the water of the next drier slump column: enter a slump in it (from memory).",
        keys.FIRST_TRIAL,
    )
    return answered({"free_water_kg_per_m3": found.free_water_kg_per_m3}, why, (), cautions)


def _proportions(
    free_water_kg_per_m3: float,
    water_cement_ratio: float,
    fines_percent: float,
    aggregate_relative_density: float,
    maximum_water_cement_ratio: float | None,
    minimum_cement_kg_per_m3: float,
    maximum_cement_kg_per_m3: float | None,
    fresh_density_kg_per_m3: float | None,
    air_content_percent: float,
) -> Answer:
    found = bre.proportions(
        free_water_kg_per_m3=free_water_kg_per_m3,
        water_cement_ratio=water_cement_ratio,
        fines_percent=fines_percent,
        aggregate_relative_density=aggregate_relative_density,
        maximum_water_cement_ratio=maximum_water_cement_ratio,
        minimum_cement_kg_per_m3=minimum_cement_kg_per_m3,
        maximum_cement_kg_per_m3=maximum_cement_kg_per_m3,
        fresh_density_kg_per_m3=fresh_density_kg_per_m3,
        air_content_percent=air_content_percent,
    )
    why = british_steps(
        found, density_read=fresh_density_kg_per_m3 is not None, air_content_percent=air_content_percent
    )
    result = {output.key: getattr(found, output.key) for output in _OUTPUTS}
    return answered(result, why, (), (_CHARTS, keys.FIRST_TRIAL, keys.ON_SITE))


_OUTPUTS = (
    keys.CEMENT_OUT,
    Output(key="total_aggregate_kg_per_m3", meaning="density − cement − water", unit="kg/m³"),
    keys.FINE_OUT,
    keys.COARSE_OUT,
    keys.DENSITY_OUT,
    keys.RATIO_OUT,
)


def _type(key: str, meaning: str) -> Choice:
    return Choice(key=key, meaning=meaning, options=bre.STONE_TYPES)


CALCULATIONS = (
    Calculation(
        name="free-water-content-bre",
        title="Free water content by the British method",
        method="Table by slump, size and type; 2/3 of the sand's and 1/3 of the stone's figure. A slump on a boundary "
        "takes the drier column.",
        source=bre.WATER_REMEMBERED,
        inputs=(
            Number(key="slump_mm", meaning="wanted", unit="mm", low=0, high=180),
            size_key(bre.SIZES_MM),
            _type("fine_aggregate_type", "of the sand"),
            _type("coarse_aggregate_type", "of the stone"),
        ),
        outputs=(Output(key="free_water_kg_per_m3", meaning="2/3 Wf + 1/3 Wc", unit="kg/m³"),),
        answer=_water,
    ),
    Calculation(
        name="mix-proportions-bre",
        title="Mix proportions by the British method",
        method="Cement by the ratio and its limits; aggregate by the fresh density, read from Fig. 5 or computed; sand "
        "by the share read from Fig. 6. Entrained air takes 10 a G off either density.",
        source=bre.METHOD,
        inputs=(
            keys.mass("free_water_kg_per_m3", "free water", above=True),
            Number(key="water_cement_ratio", meaning="read from Fig. 4", unit="1", low=0.25, high=0.9),
            Number(
                key="fines_percent",
                meaning="read from Fig. 6, by mass of total aggregate",
                unit="%",
                low=10,
                high=80,
            ),
            Number(
                key="aggregate_relative_density",
                meaning="combined, saturated surface-dry",
                unit="1",
                low=2.0,
                high=3.2,
            ),
            keys.ratio_limit(),
            keys.LEAST_CEMENT,
            Number(
                key="maximum_cement_kg_per_m3",
                meaning="most cement allowed",
                unit="kg/m³",
                above=0,
                high=10_000,
                default=None,
            ),
            Number(
                key="fresh_density_kg_per_m3",
                meaning="read from Fig. 5; computed when absent",
                unit="kg/m³",
                above=0,
                high=10_000,
                default=None,
            ),
            Number(key="air_content_percent", meaning="entrained", unit="%", low=0, high=12, default=0.0),
        ),
        outputs=_OUTPUTS,
        answer=_proportions,
    ),
)
