"""Contracts of the highest rise rate for a permitted pressure: the inverses of the pressure calculations."""

from typing import Any

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Number, Output
from wetfront.calculations.formwork_pressure import (
    ACI_CONDITIONS,
    CIRIA_CONDITIONS,
    DIN_CAUTIONS,
    DIN_CONDITIONS,
    RETARDER_CAUTION,
    aci_conditions,
    ciria_conditions,
    din_conditions,
    din_factor_steps,
)
from wetfront.formwork import HighestRise, aci_max_rise, ciria_max_rise, din_max_rise
from wetfront.formwork import aci as aci_guide
from wetfront.formwork import ciria as ciria_report
from wetfront.formwork import din as din_standard
from wetfront.formwork import pressure as shared
from wetfront.nouns.reason import Answer, Notice, Provenance, Source, Step

_INPUT = Source("given: the form designer's permitted pressure", Provenance.INPUT)
_INVERSE = Source("closed inverse, checked against a scan of the forward formula", Provenance.RECOMPUTED)
_SITE_CUT = Source("for site use cut down to 0.05 m/h", Provenance.OWN_RULE)
_AREA = Source("definition: rise rate × plan area", Provenance.COMMON_PRACTICE)
_CAUTIONS = (
    "The form designer's own rise rate and pressure rule: a calculated rate above it is never permission.",
    "Is the permitted pressure permissible (characteristic) or a design value with a load factor (1.5 after DIN 18218, "
    "from memory)? Only the permissible one belongs here: mixing them is an error of 50 %.",
    "The rate holds for the fastest half hour, not for the mean; use the smallest plan area of the pour and the "
    "lowest concrete temperature.",
    "Show the other methods beside it where their inputs are known, and never pick the highest rate unseen.",
)

_PERMITTED = Number(
    key="permitted_pressure_kn_per_m2",
    meaning="the form designer's permissible (characteristic) pressure",
    unit="kN/m²",
    above=0,
    high=10_000,
)
_PLAN_AREA = Number(
    key="plan_area_m2",
    meaning="smallest horizontal section of the pour",
    unit="m²",
    low=0.001,
    high=100_000,
    default=None,
)


def _verdict(found: HighestRise) -> tuple[Notice, ...]:
    """What the governing step means on site."""
    match found.governs:
        case "full-head":
            text = "The form carries the full head: pressure does not limit the rise rate. Other limits still do."
        case "not-permitted":
            text = (
                "No rise rate keeps within the permitted pressure by this method: smaller lifts, warmer concrete or a "
                "stronger form, and ask the form designer."
            )
        case "validity-limit":
            text = "The method's highest rate governs: faster than that it would take the full head."
        case "formula":
            site = found.site_rise_m_per_h
            if site == 0:
                text = "Less than 0.05 m/h is left: for site use this means not permitted."
            else:
                text = f"For site use take {site:.2f} m/h: the rate cut down to 0.05 m/h, never up."
    return (Notice(found.governs, text),)


def _answer(
    found: HighestRise,
    permitted: float,
    plan_area_m2: float | None,
    coefficients: list[Step],
    minimum: Source | None,
    cautions: tuple[str, ...],
) -> Answer:
    rise = found.max_rise_m_per_h
    why = [Step("permitted pressure", permitted, "kN/m²", _INPUT)]
    why.append(Step("full head of the pour", found.full_head_kn_per_m2, "kN/m²", shared.FULL_HEAD_SOURCE))
    if found.governs != "full-head":
        why += coefficients
    if minimum is not None and any(notice.code == "below-minimum" for notice in found.notices):
        why.append(Step("least pressure of the method", found.minimum_kn_per_m2, "kN/m²", minimum))
    why.append(Step("governs", found.governs, "", _INVERSE))
    placing_rate = None
    if rise is not None:
        why.append(Step("highest rise rate", rise, "m/h", _INVERSE))
        why.append(Step("highest rise rate for site use", found.site_rise_m_per_h, "m/h", _SITE_CUT))
        if plan_area_m2 is not None:
            placing_rate = rise * plan_area_m2
            why.append(Step("highest placing rate", placing_rate, "m³/h", _AREA))
    result = {
        "max_rise_m_per_h": rise,
        "max_placing_rate_m3_per_h": placing_rate,
        "site_rise_m_per_h": found.site_rise_m_per_h,
        "governs": found.governs,
    }
    return answered(result, why, (*_verdict(found), *found.notices), (*_CAUTIONS, *cautions))


def _aci(permitted_pressure_kn_per_m2: float, plan_area_m2: float | None, **given: Any) -> Answer:
    conditions = aci_conditions(**given)
    found = aci_max_rise(conditions, permitted_pressure_kn_per_m2)
    chemistry = aci_guide.CHEMISTRY[conditions.cement_group]
    unit_weight = aci_guide.unit_weight_coefficient(conditions.density_kg_per_m3)
    equations = aci_guide.LOW_RATE_SOURCE
    if conditions.element == "wall":
        equations = Source(f"{equations.citation}; {aci_guide.SECOND_WALL_SOURCE.citation}", equations.provenance)
    coefficients = [
        Step("unit weight coefficient Cw", unit_weight, "1", aci_guide.UNIT_WEIGHT_SOURCE),
        Step("chemistry coefficient Cc", chemistry.value, "1", chemistry.source),
        Step("equations solved for the rate", conditions.element, "", equations),
    ]
    return _answer(
        found,
        permitted_pressure_kn_per_m2,
        plan_area_m2,
        coefficients,
        aci_guide.MINIMUM_PER_CW_KN_PER_M2.source,
        (RETARDER_CAUTION,),
    )


def _ciria(permitted_pressure_kn_per_m2: float, plan_area_m2: float | None, **given: Any) -> Answer:
    conditions = ciria_conditions(**given)
    found = ciria_max_rise(conditions, permitted_pressure_kn_per_m2)
    shape = ciria_report.SHAPE[conditions.element]
    material = ciria_report.MATERIAL[conditions.cement_group]
    temperature = ciria_report.temperature_coefficient(conditions.concrete_temperature_c)
    coefficients = [
        Step("coefficient C1", shape.value, "1", shape.source),
        Step("coefficient C2", material.value, "1", material.source),
        Step("temperature coefficient K", temperature, "1", ciria_report.TEMPERATURE_SOURCE),
        Step("formula solved for the rate", "Pmax", "", ciria_report.FORMULA_SOURCE),
    ]
    if "above-charts" in {notice.code for notice in found.notices}:
        hot = conditions.concrete_temperature_c
        coefficients.append(Step("above the range in use", hot, "°C", ciria_report.HOT_SOURCE))
    return _answer(found, permitted_pressure_kn_per_m2, plan_area_m2, coefficients, None, (RETARDER_CAUTION,))


def _din(permitted_pressure_kn_per_m2: float, plan_area_m2: float | None, **given: Any) -> Answer:
    conditions = din_conditions(**given)
    found = din_max_rise(conditions, permitted_pressure_kn_per_m2)
    line = din_standard.LINES[conditions.consistence_class]
    coefficients = [
        *din_factor_steps(conditions),
        Step("line solved for the rate", conditions.consistence_class, "", line.source),
    ]
    return _answer(found, permitted_pressure_kn_per_m2, plan_area_m2, coefficients, line.minimum.source, DIN_CAUTIONS)


_METHOD = (
    "Form carries the full head (× 1.25 if filled from the base): no limit from pressure. Outside the method's "
    "validity or below its minimum: not permitted. Else the formula solved for the rate, not over the method's "
    "highest rate. The rate put back never gives more than the permitted pressure."
)
_OUTPUTS = (
    Output(
        key="max_rise_m_per_h", meaning="highest rise rate; left out when the form carries the full head", unit="m/h"
    ),
    Output(key="max_placing_rate_m3_per_h", meaning="with a plan area and a rate", unit="m³/h"),
    Output(key="site_rise_m_per_h", meaning="the rate cut down to 0.05 m/h for site use", unit="m/h"),
    Output(key="governs", meaning="formula, validity-limit, full-head (no limit) or not-permitted (rate 0)"),
)

CALCULATIONS = (
    Calculation(
        name="max-rise-aci",
        title="Highest rise rate for a permitted pressure, American guide",
        method=f"Inverse of formwork-pressure-aci. {_METHOD}",
        source=Source("inverse of ACI 347R-14, 4.2.2 (SI)", Provenance.RECOMPUTED),
        inputs=(_PERMITTED, _PLAN_AREA, *ACI_CONDITIONS),
        outputs=_OUTPUTS,
        answer=_aci,
    ),
    Calculation(
        name="max-rise-ciria",
        title="Highest rise rate for a permitted pressure, CIRIA Report 108",
        method=f"Closed inverse of formwork-pressure-ciria. {_METHOD}",
        source=Source("inverse of CIRIA Report 108 (1985)", Provenance.RECOMPUTED),
        inputs=(_PERMITTED, _PLAN_AREA, *CIRIA_CONDITIONS),
        outputs=_OUTPUTS,
        answer=_ciria,
    ),
    Calculation(
        name="max-rise-din",
        title="Highest rise rate for a permitted pressure, DIN 18218",
        method=f"Inverse of formwork-pressure-din. {_METHOD}",
        source=Source("inverse of DIN 18218:2010-01", Provenance.RECOMPUTED),
        inputs=(_PERMITTED, _PLAN_AREA, *DIN_CONDITIONS),
        outputs=_OUTPUTS,
        answer=_din,
    ),
)
