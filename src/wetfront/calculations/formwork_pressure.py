"""Contracts of the calculations about pressure on formwork."""

from wetfront.calculations.contract import Calculation, Number, Output
from wetfront.formwork import rise_rate
from wetfront.nouns.reason import Answer, Provenance, Source, Step

_DEFINITION = Source("definition: placing rate over plan area", Provenance.COMMON_PRACTICE)


def _rise_rate(placing_rate_m3_per_h: float, plan_area_m2: float) -> Answer:
    rise = rise_rate(placing_rate_m3_per_h, plan_area_m2)
    return Answer(
        {"rise_rate_m_per_h": rise},
        (Step("rise rate = placing rate / plan area", rise, "m/h", _DEFINITION),),
        ("Use the highest rate of any half hour and the smallest plan area of the pour, not their means.",),
    )


CALCULATIONS = (
    Calculation(
        name="rise-rate",
        title="Rise rate from placing rate and plan area",
        method="The concrete rises by the placed volume over the plan area of the form.",
        source=_DEFINITION,
        inputs=(
            Number(key="placing_rate_m3_per_h", meaning="placing rate", unit="m³/h", above=0),
            Number(key="plan_area_m2", meaning="horizontal section of the pour", unit="m²", above=0),
        ),
        outputs=(Output(key="rise_rate_m_per_h", meaning="vertical rise", unit="m/h"),),
        answer=_rise_rate,
    ),
)
