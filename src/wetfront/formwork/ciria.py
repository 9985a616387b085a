"""Lateral pressure after CIRIA Report 108 (1985), read in two public restatements, not in the report itself."""

import math
from dataclasses import dataclass

from wetfront.errors import OutOfRange
from wetfront.formwork.pressure import (
    FILLED_FROM_BASE,
    Coefficient,
    Compaction,
    Element,
    HighestRise,
    Placement,
    Pressure,
    full_head,
    governing_pressure,
    highest_rise,
    over,
)
from wetfront.nouns.mix import CementGroup
from wetfront.nouns.reason import Notice, Provenance, Source

FORMULA_SOURCE = Source(
    "CIRIA Report 108 (1985): Pmax = D[C1√R + C2K√(H − C1√R)], at most D h; D h if C1√R > H", Provenance.PUBLISHED
)
TEMPERATURE_SOURCE = Source("CIRIA Report 108 (1985): K = (36/(T + 16))²", Provenance.PUBLISHED)
HOT_SOURCE = Source("CIRIA Report 108 (1985): used up to about 30 °C, charts for 5 to 15 °C", Provenance.MEMORY)
_SHAPE_TABLE = "CIRIA Report 108 (1985), coefficient C1"
SHAPE: dict[Element, Coefficient] = {
    "wall": Coefficient(1.0, Source(f"{_SHAPE_TABLE}: wall or base", Provenance.PUBLISHED)),
    "column": Coefficient(1.5, Source(f"{_SHAPE_TABLE}: column, both sides to 2 m", Provenance.PUBLISHED)),
}
_MATERIAL_TABLE = "CIRIA Report 108 (1985), table of coefficient C2"
MATERIAL: dict[CementGroup, Coefficient] = {
    "portland": Coefficient(0.30, Source(f"{_MATERIAL_TABLE}: Portland, no retarder", Provenance.PUBLISHED)),
    "portland-retarded": Coefficient(
        0.45, Source(f"{_MATERIAL_TABLE}: Portland with a retarder", Provenance.PUBLISHED)
    ),
    "blend": Coefficient(0.45, Source(f"{_MATERIAL_TABLE}: blends, no retarder", Provenance.MEMORY)),
    "blend-retarded": Coefficient(
        0.60, Source(f"{_MATERIAL_TABLE}: figure published, grouping of retarded blends", Provenance.MEMORY)
    ),
    "high-blend": Coefficient(
        0.60, Source(f"{_MATERIAL_TABLE}: 70 % slag or 40 % fly ash and more", Provenance.MEMORY)
    ),
}
COLDEST_C, HOTTEST_WITHOUT_NOTICE_C = 5.0, 30.0
"""Below the first: full head (own rule). Above the second: formula with a notice (range from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CiriaConditions:
    """All that the report asks about a pour, but for the rise rate. Exactly 2 m counts as a column (own rule)."""

    element: Element
    form_height_m: float
    """H, of the form."""
    pour_height_m: float
    """h, of the pour; not over the form. OutOfRange names it otherwise."""
    concrete_temperature_c: float
    """Lowest during placing, 0 to 40; below 5 full head."""
    cement_group: CementGroup
    weight_density_kn_per_m3: float = 25.0
    compaction: Compaction = "internal"
    placement: Placement = "from-top"

    def __post_init__(self) -> None:
        if self.pour_height_m > self.form_height_m:
            allowed = f"to the form height of {self.form_height_m:g} m"
            raise OutOfRange("pour_height_m", self.pour_height_m, allowed, "CIRIA Report 108")

    @property
    def full_head_kn_per_m2(self) -> float:
        """Liquid head at the base, with the surge when filled from the base."""
        return full_head(self.weight_density_kn_per_m3, self.pour_height_m, self.placement)


@dataclass(frozen=True, slots=True, kw_only=True)
class CiriaPressure(Pressure):
    """Pressure with the report's coefficients."""

    temperature_coefficient: float
    shape_coefficient: float
    material_coefficient: float


def temperature_coefficient(concrete_temperature_c: float) -> float:
    """K of CIRIA Report 108.

    >>> temperature_coefficient(20)
    1.0
    """
    return (36 / (concrete_temperature_c + 16)) ** 2


def ciria_pressure(conditions: CiriaConditions, rise_rate_m_per_h: float) -> CiriaPressure:
    """Design maximum lateral pressure [kN/m²]. Source: CIRIA Report 108 (1985).

    `rise_rate_m_per_h` is the highest of any half hour. Outside the report's validity: full head, with a notice.
    >>> column = CiriaConditions(element="column", form_height_m=9.05, pour_height_m=9.05,
    ...                          concrete_temperature_c=12.5, cement_group="portland-retarded")
    >>> round(ciria_pressure(column, 1.0).max_pressure_kn_per_m2, 2)
    86.82
    """
    shape = SHAPE[conditions.element].value
    material = MATERIAL[conditions.cement_group].value
    coefficient = temperature_coefficient(conditions.concrete_temperature_c)
    outside = _outside(conditions)
    pumped = conditions.placement == "pumped-from-base"
    fluid = shape * math.sqrt(rise_rate_m_per_h)
    filled_first = fluid > conditions.form_height_m
    notices: tuple[Notice, ...] = (FILLED_FROM_BASE,) if pumped else ()
    notices += outside + _hot(conditions)
    formula = None
    if not outside and not pumped and not filled_first:
        stiffening = material * coefficient * math.sqrt(conditions.form_height_m - fluid)
        formula = conditions.weight_density_kn_per_m3 * (fluid + stiffening)
    elif filled_first and not pumped:
        text = "The form is full before the concrete stiffens (C1√R is more than the form height): full head."
        notices += (Notice("full-before-stiff", text),)
    governing = governing_pressure(
        conditions.weight_density_kn_per_m3, conditions.pour_height_m, conditions.placement, formula, 0.0
    )
    return CiriaPressure(
        max_pressure_kn_per_m2=governing.max_pressure_kn_per_m2,
        full_head_depth_m=governing.full_head_depth_m,
        governs=governing.governs,
        weight_density_kn_per_m3=conditions.weight_density_kn_per_m3,
        full_head_kn_per_m2=conditions.weight_density_kn_per_m3 * conditions.pour_height_m,
        formula_kn_per_m2=formula,
        minimum_kn_per_m2=0.0,
        temperature_coefficient=coefficient,
        shape_coefficient=shape,
        material_coefficient=material,
        notices=notices,
    )


def ciria_max_rise(conditions: CiriaConditions, permitted_pressure_kn_per_m2: float) -> HighestRise:
    """Highest rise rate [m/h] for a permitted pressure: the closed inverse of `ciria_pressure`. No highest rate.

    >>> wall = CiriaConditions(element="wall", form_height_m=4, pour_height_m=4, concrete_temperature_c=15,
    ...                        cement_group="portland")
    >>> round(ciria_max_rise(wall, 60).max_rise_m_per_h, 2)
    3.24
    """
    pumped = (FILLED_FROM_BASE,) if conditions.placement == "pumped-from-base" else ()
    return highest_rise(
        permitted_pressure_kn_per_m2,
        conditions.full_head_kn_per_m2,
        pumped + _outside(conditions),
        0.0,
        lambda permitted: _inverse(conditions, permitted),
        lambda rise: ciria_pressure(conditions, rise).max_pressure_kn_per_m2,
        None,
        _hot(conditions),
    )


def _inverse(conditions: CiriaConditions, permitted: float) -> float:
    """With y = √(H − X), X = C1√R: the larger root of y² − a y − (H − P/D) = 0 is the first crossing."""
    a = MATERIAL[conditions.cement_group].value * temperature_coefficient(conditions.concrete_temperature_c)
    head = permitted / conditions.weight_density_kn_per_m3
    y = (a + math.sqrt(a * a + 4 * (conditions.form_height_m - head))) / 2
    fluid = conditions.form_height_m - y * y
    return (fluid / SHAPE[conditions.element].value) ** 2 if fluid > 0 else 0.0


def _outside(conditions: CiriaConditions) -> tuple[Notice, ...]:
    notices = []
    if conditions.concrete_temperature_c < COLDEST_C:
        text = "Concrete below 5 °C is outside CIRIA Report 108: full head is taken."
        notices.append(Notice("too-cold", text))
    if conditions.compaction != "internal":
        text = f"CIRIA Report 108 holds for internal vibration, not for {conditions.compaction}: full head is taken."
        notices.append(Notice("compaction-not-covered", text))
    return tuple(notices)


def _hot(conditions: CiriaConditions) -> tuple[Notice, ...]:
    if not over(conditions.concrete_temperature_c, HOTTEST_WITHOUT_NOTICE_C):
        return ()
    text = (
        "Concrete above 30 °C is above the range in which CIRIA Report 108 is used (range from memory): "
        "take the result as a guess and keep a reserve."
    )
    return (Notice("above-charts", text),)
