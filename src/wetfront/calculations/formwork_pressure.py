"""Contracts of the calculations about pressure on formwork. The inverses stand in `max_rise`."""

from typing import Any, get_args

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Key, Number, Numbers, Output
from wetfront.formwork import (
    AciConditions,
    CiriaConditions,
    DinConditions,
    Pressure,
    aci_pressure,
    ciria_pressure,
    din_pressure,
    pressure_envelope,
    rise_rate,
)
from wetfront.formwork import aci as aci_guide
from wetfront.formwork import ciria as ciria_report
from wetfront.formwork import din as din_standard
from wetfront.formwork import envelope as envelope_rule
from wetfront.formwork import pressure as shared
from wetfront.nouns.mix import CementGroup, FlowClass
from wetfront.nouns.reason import Answer, Provenance, Source, Step

_DEFINITION = Source("definition: placing rate over plan area", Provenance.COMMON_PRACTICE)
STANDING_CAUTIONS = (
    "The form designer's permitted pressure and rise rate rule; this figure is for planning and comparison.",
    "Characteristic value: compare it with a permissible pressure, not with a design value that holds a load factor "
    "(1.5 after DIN 18218, from memory).",
    "Use the highest rise rate of any half hour, the smallest plan area and the lowest concrete temperature. "
    "Revibration at depth, delayed set and new admixtures are outside the method: full head; expansive cement can "
    "exceed it.",
    "Show the other methods beside it where their inputs are known, and never pick the lowest unseen.",
)
DIN_CAUTIONS = (
    "Vibrators must dip less than 1 m and less than the depth of the full head; form within 5° of vertical; "
    "aggregate to 63 mm.",
    "If the concrete will cool in the form (cold air, steel forms), give that lower temperature.",
)
RETARDER_CAUTION = "Does any admixture delay setting, also a water reducer or superplasticizer? Then it is a retarder."

CEMENT_GROUP = Choice(
    key="cement_group",
    meaning="cement, and whether any admixture delays setting; high-blend from 70 % slag or 40 % fly ash",
    options=get_args(CementGroup),
)
PLACEMENT = Choice(
    key="placement", meaning="how the form is filled", options=get_args(shared.Placement), default="from-top"
)
COMPACTION = Choice(
    key="compaction",
    meaning="other than internal means full head",
    options=get_args(shared.Compaction),
    default="internal",
)
WEIGHT_DENSITY = Number(
    key="weight_density_kn_per_m3", meaning="weight density", unit="kN/m³", low=8, high=40, default=25.0
)
RISE_RATE = Number(
    key="rise_rate_m_per_h", meaning="vertical rise of the concrete, highest half hour", unit="m/h", above=0, high=1000
)
_TEMPERATURE = Number(
    key="concrete_temperature_c", meaning="concrete during placing, lowest", unit="°C", low=0, high=40
)
_ELEMENTS = get_args(shared.Element)

ACI_CONDITIONS: tuple[Key, ...] = (
    Choice(key="element", meaning="wall (a plan dimension over 2 m) or column (none over 2 m)", options=_ELEMENTS),
    Number(key="pour_height_m", meaning="height placed in one go", unit="m", above=0, high=200),
    _TEMPERATURE,
    Number(key="density_kg_per_m3", meaning="density", unit="kg/m³", low=800, high=4000, default=2400.0),
    CEMENT_GROUP,
    Number(key="slump_mm", meaning="slump; over 175 means full head", unit="mm", low=0, high=300, default=100.0),
    Number(
        key="vibration_depth_m",
        meaning="depth of internal vibration; over 1.2 means full head",
        unit="m",
        low=0,
        high=200,
        default=1.2,
    ),
    COMPACTION,
    PLACEMENT,
)
CIRIA_CONDITIONS: tuple[Key, ...] = (
    Choice(key="element", meaning="wall (width or breadth over 2 m) or column (both to 2 m)", options=_ELEMENTS),
    Number(key="form_height_m", meaning="vertical form height", unit="m", above=0, high=200),
    Number(
        key="pour_height_m",
        meaning="vertical pour height, to the form height (which it is unless given)",
        unit="m",
        above=0,
        high=200,
        default=None,
    ),
    Number(
        key="concrete_temperature_c", meaning="at placing, lowest; under 5 means full head", unit="°C", low=0, high=40
    ),
    WEIGHT_DENSITY,
    CEMENT_GROUP,
    COMPACTION,
    PLACEMENT,
)
DIN_CONDITIONS: tuple[Key, ...] = (
    Choice(key="consistence_class", meaning="flow class", options=get_args(FlowClass)),
    Number(
        key="pour_height_m", meaning="height placed in one go; over 10 means full head", unit="m", above=0, high=200
    ),
    Number(
        key="end_of_setting_h",
        meaning="end of setting at the reference temperature, from the producer; under 5 counts as 5, over 20 means "
        "full head",
        unit="h",
        above=0,
        high=200,
    ),
    Number(
        key="reference_temperature_c",
        meaning="at which the end of setting was found",
        unit="°C",
        low=5,
        high=30,
        default=15.0,
    ),
    Number(
        key="concrete_temperature_c",
        meaning="at placing, lowest; the reference temperature unless given",
        unit="°C",
        low=0,
        high=40,
        default=None,
    ),
    WEIGHT_DENSITY,
    Choice(
        key="compaction",
        meaning="internal (self-compacting for that class) unless given; any other means full head",
        options=get_args(shared.Compaction),
        default=None,
    ),
    PLACEMENT,
)


def aci_conditions(**given: Any) -> AciConditions:
    """Conditions from checked inputs."""
    return AciConditions(**given)


def ciria_conditions(**given: Any) -> CiriaConditions:
    """Conditions from checked inputs: the pour is as high as the form unless given."""
    if given["pour_height_m"] is None:
        given["pour_height_m"] = given["form_height_m"]
    return CiriaConditions(**given)


def din_conditions(**given: Any) -> DinConditions:
    """Conditions from checked inputs: temperature and compaction by the standard's reference unless given."""
    if given["concrete_temperature_c"] is None:
        given["concrete_temperature_c"] = given["reference_temperature_c"]
    if given["compaction"] is None:
        given["compaction"] = din_standard.usual_compaction(given["consistence_class"])
    return DinConditions(**given)


def din_factor_steps(conditions: DinConditions) -> tuple[Step, ...]:
    """The factors that pressure and inverse share."""
    line = din_standard.LINES[conditions.consistence_class]
    hours = max(conditions.end_of_setting_h, din_standard.EARLIEST_SETTING_H)
    early = hours > conditions.end_of_setting_h
    setting = din_standard.setting_factor(conditions.consistence_class, hours)
    temperature = din_standard.temperature_factor(
        conditions.consistence_class, conditions.reference_temperature_c, conditions.concrete_temperature_c
    )
    stopped = conditions.concrete_temperature_c > conditions.reference_temperature_c + din_standard.MOST_REDUCED_K
    warmth = din_standard.REDUCTION_STOP_SOURCE if stopped else din_standard.TEMPERATURE_SOURCE
    weight = conditions.weight_density_kn_per_m3 / din_standard.TABLED_WEIGHT_KN_PER_M3
    return (
        *((Step("end of setting counted", hours, "h", din_standard.EARLY_SETTING_SOURCE),) if early else ()),
        Step("setting factor K1", setting, "1", line.source),
        Step("temperature factor", temperature, "1", warmth),
        Step("weight density / 25", weight, "1", din_standard.WEIGHT_SOURCE),
    )


def limit_steps(found: Pressure, pumped: bool, minimum_source: Source, formula_source: Source) -> list[Step]:
    """Formula, minimum where it governs, full head and what governs: the same tail for the three methods."""
    steps = []
    if found.formula_kn_per_m2 is not None:
        steps.append(Step("pressure by the formula", found.formula_kn_per_m2, "kN/m²", formula_source))
    if found.governs == "minimum":
        steps.append(Step("least pressure of the method", found.minimum_kn_per_m2, "kN/m²", minimum_source))
    steps.append(Step("full head w × h", found.full_head_kn_per_m2, "kN/m²", shared.FULL_HEAD_SOURCE))
    if pumped:
        maximum = found.max_pressure_kn_per_m2
        steps.append(Step("full head × 1.25, filled from the base", maximum, "kN/m²", shared.SURGE_SOURCE))
    outside = found.formula_kn_per_m2 is None and not pumped
    governs_source = shared.OUTSIDE_SOURCE if outside else shared.SURGE_SOURCE if pumped else shared.CAP_SOURCE
    steps.append(Step("governs", found.governs, "", governs_source))
    steps.append(Step("depth of the full head P / w", found.full_head_depth_m, "m", envelope_rule.ENVELOPE_SOURCE))
    return steps


def _result(found: Pressure, **coefficients: float) -> dict[str, Any]:
    return {
        "max_pressure_kn_per_m2": found.max_pressure_kn_per_m2,
        **coefficients,
        "full_head_depth_m": found.full_head_depth_m,
        "governs": found.governs,
    }


def _rise_rate(placing_rate_m3_per_h: float, plan_area_m2: float) -> Answer:
    rise = rise_rate(placing_rate_m3_per_h, plan_area_m2)
    return Answer(
        {"rise_rate_m_per_h": rise},
        (Step("rise rate = placing rate / plan area", rise, "m/h", _DEFINITION),),
        (
            "Use the highest rate of any half hour and the smallest plan area of the pour, not their means.",
            "A step in plan area (pilaster, haunch, narrower wall above) changes the rise at the same placing rate.",
        ),
    )


def _aci(rise_rate_m_per_h: float, **given: Any) -> Answer:
    conditions = aci_conditions(**given)
    found = aci_pressure(conditions, rise_rate_m_per_h)
    formula = aci_guide.SECOND_WALL_SOURCE if found.equation == "second-wall" else aci_guide.LOW_RATE_SOURCE
    chemistry = aci_guide.CHEMISTRY[conditions.cement_group].source
    why = [
        Step("weight density w = density × 9.81 / 1000", found.weight_density_kn_per_m3, "kN/m³", formula),
        Step("unit weight coefficient Cw", found.unit_weight_coefficient, "1", aci_guide.UNIT_WEIGHT_SOURCE),
        Step("chemistry coefficient Cc", found.chemistry_coefficient, "1", chemistry),
        Step("equation", found.equation, "", aci_guide.VALIDITY_SOURCE if found.equation == "none" else formula),
        *limit_steps(
            found, conditions.placement == "pumped-from-base", aci_guide.MINIMUM_PER_CW_KN_PER_M2.source, formula
        ),
    ]
    result = _result(
        found,
        unit_weight_coefficient=found.unit_weight_coefficient,
        chemistry_coefficient=found.chemistry_coefficient,
    )
    return answered(result, why, found.notices, (*STANDING_CAUTIONS, RETARDER_CAUTION))


def _ciria(rise_rate_m_per_h: float, **given: Any) -> Answer:
    conditions = ciria_conditions(**given)
    found = ciria_pressure(conditions, rise_rate_m_per_h)
    why = [
        Step("coefficient C1", found.shape_coefficient, "1", ciria_report.SHAPE[conditions.element].source),
        Step("temperature coefficient K", found.temperature_coefficient, "1", ciria_report.TEMPERATURE_SOURCE),
    ]
    if found.formula_kn_per_m2 is not None:
        material = ciria_report.MATERIAL[conditions.cement_group]
        why.append(Step("coefficient C2", material.value, "1", material.source))
    if "above-charts" in {notice.code for notice in found.notices}:
        why.append(Step("above the range in use", conditions.concrete_temperature_c, "°C", ciria_report.HOT_SOURCE))
    pumped = conditions.placement == "pumped-from-base"
    why += limit_steps(found, pumped, ciria_report.FORMULA_SOURCE, ciria_report.FORMULA_SOURCE)
    result = _result(found, temperature_coefficient=found.temperature_coefficient)
    return answered(result, why, found.notices, (*STANDING_CAUTIONS, RETARDER_CAUTION))


def _din(rise_rate_m_per_h: float, **given: Any) -> Answer:
    conditions = din_conditions(**given)
    found = din_pressure(conditions, rise_rate_m_per_h)
    line = din_standard.LINES[conditions.consistence_class]
    pumped = conditions.placement == "pumped-from-base"
    why = [*din_factor_steps(conditions)]
    if found.formula_kn_per_m2 is None and not pumped:
        why.append(Step("validity", "outside", "", din_standard.VALIDITY_SOURCE))
    why += limit_steps(found, pumped, line.minimum.source, line.source)
    result = _result(found, setting_factor=found.setting_factor, temperature_factor=found.temperature_factor)
    return answered(result, why, found.notices, (*STANDING_CAUTIONS, *DIN_CAUTIONS))


def _envelope(
    max_pressure_kn_per_m2: float, weight_density_kn_per_m3: float, pour_height_m: float, depths_m: tuple[float, ...]
) -> Answer:
    found = pressure_envelope(max_pressure_kn_per_m2, weight_density_kn_per_m3, pour_height_m, depths_m)
    why = [
        Step("maximum, not over the full head", found.max_pressure_kn_per_m2, "kN/m²", envelope_rule.ENVELOPE_SOURCE),
        Step("depth of the full head P / w", found.full_head_depth_m, "m", envelope_rule.ENVELOPE_SOURCE),
        Step("pressure kept down to the base", True, "", envelope_rule.TO_THE_BASE_SOURCE),
        Step("force = P (h − hs/2)", found.force_kn_per_m, "kN/m", envelope_rule.FORCE_SOURCE),
        Step("resultant above the base", found.resultant_height_m, "m", envelope_rule.FORCE_SOURCE),
    ]
    cut = ("The maximum given is more than the full head: cut to the full head.",) if found.cut_to_full_head else ()
    cautions = (
        *cut,
        "Not for a form filled from the base by pump: the surge adds at least 25 % to the full head.",
        "For faces within 5° of vertical. Uplift on sloping faces is not covered: take it to the form designer.",
        *STANDING_CAUTIONS[:2],
    )
    result = {
        "pressures_kn_per_m2": list(found.pressures_kn_per_m2),
        "full_head_depth_m": found.full_head_depth_m,
        "force_kn_per_m": found.force_kn_per_m,
        "resultant_height_m": found.resultant_height_m,
    }
    return answered(result, why, (), cautions)


_MAXIMUM = Output(key="max_pressure_kn_per_m2", meaning="characteristic maximum lateral pressure", unit="kN/m²")
_DEPTH = Output(key="full_head_depth_m", meaning="depth at which the maximum is reached", unit="m")
_GOVERNS = Output(key="governs", meaning="formula, minimum or full-head")

CALCULATIONS = (
    Calculation(
        name="formwork-pressure-aci",
        title="Lateral pressure of fresh concrete, American guide",
        method="Pumped from the base: full head × 1.25. Slump over 175 mm, vibration over 1.2 m deep or other than "
        "internal, or a wall over 4.5 m/h: full head. Else Cw Cc[7.2 + 785R/(T + 17.8)] for columns and for walls "
        "under 2.1 m/h to 4.2 m high, Cw Cc[7.2 + (1156 + 244R)/(T + 17.8)] for other walls; at least 30 Cw, never "
        "over the full head.",
        source=Source(
            "ACI 347R-14, 4.2.2 (same equations as ACI 347-04 Eq. 2.1-2.4), SI form, read in a public restatement",
            Provenance.PUBLISHED,
        ),
        inputs=(RISE_RATE, *ACI_CONDITIONS),
        outputs=(
            _MAXIMUM,
            Output(key="unit_weight_coefficient", meaning="Cw", unit="1"),
            Output(key="chemistry_coefficient", meaning="Cc", unit="1"),
            _DEPTH,
            _GOVERNS,
        ),
        answer=_aci,
    ),
    Calculation(
        name="formwork-pressure-ciria",
        title="Lateral pressure of fresh concrete, CIRIA Report 108",
        method="Pumped from the base: full head × 1.25. Below 5 °C or not vibrated internally: full head. Else "
        "D[C1√R + C2 K√(H − C1√R)] with K = (36/(T + 16))², never over D h; D h where C1√R is more than H.",
        source=Source("CIRIA Report 108 (1985), read in two public restatements", Provenance.PUBLISHED),
        inputs=(RISE_RATE, *CIRIA_CONDITIONS),
        outputs=(_MAXIMUM, Output(key="temperature_coefficient", meaning="K", unit="1"), _DEPTH, _GOVERNS),
        answer=_ciria,
    ),
    Calculation(
        name="formwork-pressure-din",
        title="Lateral pressure of fresh concrete, DIN 18218",
        method="Pumped from the base: full head × 1.25. Over 7 m/h, over 10 m, end of setting after 20 h or compacted "
        "otherwise: full head. Else the line of the class with K1, times temperature factor, times weight density / "
        "25, at least 25 (F1 to F4) or 30 kN/m², never over the full head.",
        source=Source(
            "DIN 18218:2010-01; coefficients from one public note that had them indirectly", Provenance.PUBLISHED
        ),
        inputs=(RISE_RATE, *DIN_CONDITIONS),
        outputs=(
            _MAXIMUM,
            Output(key="setting_factor", meaning="K1", unit="1"),
            Output(key="temperature_factor", meaning="1 at the reference temperature", unit="1"),
            _DEPTH,
            _GOVERNS,
        ),
        answer=_din,
    ),
    Calculation(
        name="pressure-envelope",
        title="Pressure over the height of the form",
        method="Full head w z down to the depth P / w, then P to the base; P is cut to w h. Force P (h − hs/2) per "
        "metre of wall, with the height of its resultant.",
        source=envelope_rule.ENVELOPE_SOURCE,
        inputs=(
            Number(
                key="max_pressure_kn_per_m2",
                meaning="characteristic maximum; cut to the full head if more",
                unit="kN/m²",
                above=0,
                high=10_000,
            ),
            Number(key="weight_density_kn_per_m3", meaning="weight density", unit="kN/m³", low=8, high=40),
            Number(key="pour_height_m", meaning="height placed in one go", unit="m", above=0, high=200),
            Numbers(
                key="depths_m",
                meaning="depths below the top of the concrete, none over the pour height",
                each=Number(key="depths_m", meaning="depth", unit="m", low=0, high=200),
            ),
        ),
        outputs=(
            Output(key="pressures_kn_per_m2", meaning="one per depth", unit="kN/m²"),
            Output(key="full_head_depth_m", meaning="depth of the sloping part", unit="m"),
            Output(key="force_kn_per_m", meaning="whole force per metre of wall", unit="kN/m"),
            Output(key="resultant_height_m", meaning="height of the resultant above the base", unit="m"),
        ),
        answer=_envelope,
    ),
    Calculation(
        name="rise-rate",
        title="Rise rate from placing rate and plan area",
        method="The concrete rises by the placed volume over the plan area of the form.",
        source=_DEFINITION,
        inputs=(
            Number(key="placing_rate_m3_per_h", meaning="placing rate", unit="m³/h", above=0, high=10_000),
            Number(key="plan_area_m2", meaning="horizontal section of the pour", unit="m²", low=0.001, high=100_000),
        ),
        outputs=(Output(key="rise_rate_m_per_h", meaning="vertical rise", unit="m/h"),),
        answer=_rise_rate,
    ),
)
