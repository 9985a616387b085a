"""Lateral pressure after the American guide, ACI 347R-14 (same equations as ACI 347-04, Eq. 2.1 to 2.4), SI form.

The SI and inch-pound forms are each a standard of their own (4.2 m against 14 ft, 30 kPa against 600 psf): nothing is
converted between them. The guide was read in a public restatement, not in the guide itself.
"""

from dataclasses import dataclass
from typing import Literal

from wetfront.formwork.pressure import (
    BOUNDARY_NOISE,
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
    weight_density,
)
from wetfront.nouns.mix import CementGroup
from wetfront.nouns.reason import Notice, Provenance, Source

Equation = Literal["walls-and-columns", "second-wall", "none"]

LOW_RATE_SOURCE = Source(
    "ACI 347R-14, 4.2.2 (SI): columns; walls under 2.1 m/h to 4.2 m high: CwCc[7.2 + 785R/(T + 17.8)]",
    Provenance.PUBLISHED,
)
SECOND_WALL_SOURCE = Source(
    "ACI 347R-14, 4.2.2 (SI): walls over 4.2 m, or from 2.1 to 4.5 m/h: CwCc[7.2 + 1156/(T + 17.8) + 244R/(T + 17.8)]",
    Provenance.PUBLISHED,
)
MINIMUM_PER_CW_KN_PER_M2 = Coefficient(30.0, Source("ACI 347R-14, 4.2.2 (SI): at least 30 Cw", Provenance.PUBLISHED))
UNIT_WEIGHT_SOURCE = Source("ACI 347R-14, 4.2.2, table of unit weight coefficients", Provenance.PUBLISHED)
VALIDITY_SOURCE = Source(
    "ACI 347R-14, 4.2.2: slump to 175 mm, normal internal vibration to 1.2 m, placing from the top, walls to 4.5 m/h",
    Provenance.PUBLISHED,
)
_CHEMISTRY_TABLE = Source("ACI 347R-14, 4.2.2, table of chemistry coefficients", Provenance.PUBLISHED)
CHEMISTRY: dict[CementGroup, Coefficient] = {
    "portland": Coefficient(1.0, _CHEMISTRY_TABLE),
    "portland-retarded": Coefficient(1.2, _CHEMISTRY_TABLE),
    "blend": Coefficient(1.2, _CHEMISTRY_TABLE),
    "blend-retarded": Coefficient(1.4, _CHEMISTRY_TABLE),
    "high-blend": Coefficient(1.4, _CHEMISTRY_TABLE),
}

# Terms of the two equations, ACI 347R-14, 4.2.2 (SI); published, and confirmed by deriving them from inch-pound.
_BASE_KN_PER_M2, _TEMPERATURE_SHIFT_C = 7.2, 17.8
_LOW_RATE_TERM, _SECOND_CONSTANT_TERM, _SECOND_RATE_TERM = 785.0, 1156.0, 244.0
# Limits of validity, ACI 347R-14, 4.2.2; published.
HIGHEST_SLUMP_MM, DEEPEST_VIBRATION_M = 175.0, 1.2
LOW_WALL_M, SECOND_EQUATION_FROM_M_PER_H, FASTEST_WALL_M_PER_H = 4.2, 2.1, 4.5
GAP_STEP_M_PER_H = 1e-6
"""Kept below 2.1 m/h, where the second equation begins and gives up to 1 kN/m² more (rounded SI coefficients)."""
JUMP_WARNED_FROM_M = 3.9


@dataclass(frozen=True, slots=True, kw_only=True)
class AciConditions:
    """All that the guide asks about a pour, but for the rise rate. A column has no plan dimension over 2 m."""

    element: Element
    pour_height_m: float
    concrete_temperature_c: float
    """Lowest during placing, 0 to 40."""
    cement_group: CementGroup
    density_kg_per_m3: float = 2400.0
    slump_mm: float = 100.0
    vibration_depth_m: float = 1.2
    compaction: Compaction = "internal"
    placement: Placement = "from-top"

    @property
    def full_head_kn_per_m2(self) -> float:
        """Liquid head at the base, with the surge when filled from the base."""
        return full_head(weight_density(self.density_kg_per_m3), self.pour_height_m, self.placement)

    @property
    def minimum_kn_per_m2(self) -> float:
        """30 Cw."""
        return MINIMUM_PER_CW_KN_PER_M2.value * unit_weight_coefficient(self.density_kg_per_m3)


@dataclass(frozen=True, slots=True, kw_only=True)
class AciPressure(Pressure):
    """Pressure with the guide's coefficients."""

    unit_weight_coefficient: float
    chemistry_coefficient: float
    equation: Equation


def unit_weight_coefficient(density_kg_per_m3: float) -> float:
    """Cw of ACI 347R-14: 0.80 at least for light concrete, 1 from 2240 to 2400 kg/m³, density / 2320 above.

    >>> unit_weight_coefficient(2350), round(unit_weight_coefficient(1840), 4)
    (1.0, 0.8966)
    """
    if density_kg_per_m3 < 2240:
        return max(0.80, 0.5 * (1 + density_kg_per_m3 / 2320))
    return 1.0 if density_kg_per_m3 <= 2400 else density_kg_per_m3 / 2320


def aci_pressure(conditions: AciConditions, rise_rate_m_per_h: float) -> AciPressure:
    """Characteristic maximum lateral pressure [kN/m²]. Source: ACI 347R-14, 4.2.2.

    `rise_rate_m_per_h` is the highest of any half hour. Outside the guide's validity: full head, with a notice.
    >>> wall = AciConditions(element="wall", pour_height_m=3.6, concrete_temperature_c=15, cement_group="portland")
    >>> round(aci_pressure(wall, 1.5).max_pressure_kn_per_m2, 1)
    43.1
    """
    outside = [*_outside(conditions)]
    fast_wall = conditions.element == "wall" and over(rise_rate_m_per_h, FASTEST_WALL_M_PER_H)
    if fast_wall:
        text = "A wall rising faster than 4.5 m/h: the American guide has no formula, full head is taken."
        outside.append(Notice("rise-over-limit", text))
    pumped = conditions.placement == "pumped-from-base"
    equation: Equation = "none" if outside or pumped else _equation(conditions, rise_rate_m_per_h)
    formula = None if equation == "none" else _formula(conditions, rise_rate_m_per_h, equation)
    weight = weight_density(conditions.density_kg_per_m3)
    governing = governing_pressure(
        weight, conditions.pour_height_m, conditions.placement, formula, conditions.minimum_kn_per_m2
    )
    return AciPressure(
        max_pressure_kn_per_m2=governing.max_pressure_kn_per_m2,
        full_head_depth_m=governing.full_head_depth_m,
        governs=governing.governs,
        weight_density_kn_per_m3=weight,
        full_head_kn_per_m2=weight * conditions.pour_height_m,
        formula_kn_per_m2=formula,
        minimum_kn_per_m2=conditions.minimum_kn_per_m2,
        unit_weight_coefficient=unit_weight_coefficient(conditions.density_kg_per_m3),
        chemistry_coefficient=CHEMISTRY[conditions.cement_group].value,
        equation=equation,
        notices=((FILLED_FROM_BASE,) if pumped else ()) + tuple(outside) + _jump(conditions),
    )


def aci_max_rise(conditions: AciConditions, permitted_pressure_kn_per_m2: float) -> HighestRise:
    """Highest rise rate [m/h] for a permitted (characteristic) pressure: the inverse of `aci_pressure`.

    >>> wall = AciConditions(element="wall", pour_height_m=4, concrete_temperature_c=15, cement_group="portland")
    >>> round(aci_max_rise(wall, 50).max_rise_m_per_h, 3)
    1.788
    """
    pumped = (FILLED_FROM_BASE,) if conditions.placement == "pumped-from-base" else ()
    return highest_rise(
        permitted_pressure_kn_per_m2,
        conditions.full_head_kn_per_m2,
        pumped + _outside(conditions),
        conditions.minimum_kn_per_m2,
        lambda permitted: _inverse(conditions, permitted),
        lambda rise: aci_pressure(conditions, rise).max_pressure_kn_per_m2,
        FASTEST_WALL_M_PER_H if conditions.element == "wall" else None,
        _jump(conditions),
    )


def _outside(conditions: AciConditions) -> tuple[Notice, ...]:
    """Limits of validity that do not depend on the rise rate."""
    notices = []
    if over(conditions.slump_mm, HIGHEST_SLUMP_MM):
        text = "Slump over 175 mm is outside the American guide's formulas: full head is taken."
        notices.append(Notice("slump-over-limit", text))
    if over(conditions.vibration_depth_m, DEEPEST_VIBRATION_M):
        text = "Vibration deeper than 1.2 m is outside the American guide's formulas: full head is taken."
        notices.append(Notice("vibration-too-deep", text))
    if conditions.compaction != "internal":
        text = f"The American guide's formulas hold for internal vibration, not for {conditions.compaction}: full head."
        notices.append(Notice("compaction-not-covered", text))
    return tuple(notices)


def _equation(conditions: AciConditions, rise: float) -> Equation:
    """Which equation: 2.1 m/h already belongs to the second wall equation, 4.2 m is still a low wall (own reading)."""
    if conditions.element == "column":
        return "walls-and-columns"
    slow = rise < SECOND_EQUATION_FROM_M_PER_H - BOUNDARY_NOISE
    return "walls-and-columns" if slow and not over(conditions.pour_height_m, LOW_WALL_M) else "second-wall"


def _formula(conditions: AciConditions, rise: float, equation: Equation) -> float:
    shifted = conditions.concrete_temperature_c + _TEMPERATURE_SHIFT_C
    factor = unit_weight_coefficient(conditions.density_kg_per_m3) * CHEMISTRY[conditions.cement_group].value
    if equation == "walls-and-columns":
        return factor * (_BASE_KN_PER_M2 + _LOW_RATE_TERM * rise / shifted)
    return factor * (_BASE_KN_PER_M2 + (_SECOND_CONSTANT_TERM + _SECOND_RATE_TERM * rise) / shifted)


def _inverse(conditions: AciConditions, permitted: float) -> float:
    shifted = conditions.concrete_temperature_c + _TEMPERATURE_SHIFT_C
    factor = unit_weight_coefficient(conditions.density_kg_per_m3) * CHEMISTRY[conditions.cement_group].value
    x = (permitted / factor - _BASE_KN_PER_M2) * shifted
    low_rate, second = x / _LOW_RATE_TERM, (x - _SECOND_CONSTANT_TERM) / _SECOND_RATE_TERM
    if conditions.element == "column":
        return low_rate
    if over(conditions.pour_height_m, LOW_WALL_M) or second >= SECOND_EQUATION_FROM_M_PER_H:
        return second
    return min(low_rate, SECOND_EQUATION_FROM_M_PER_H - GAP_STEP_M_PER_H)


def _jump(conditions: AciConditions) -> tuple[Notice, ...]:
    """Near 4.2 m a slow wall's pressure jumps: a few centimetres more concrete ask for the second equation."""
    low_wall = not over(conditions.pour_height_m, LOW_WALL_M)
    if conditions.element != "wall" or not low_wall or conditions.pour_height_m <= JUMP_WARNED_FROM_M:
        return ()
    text = (
        "Pour height just under 4.2 m: below 2.1 m/h the American guide's pressure jumps up when the pour is higher "
        "than 4.2 m. Do not overfill, or work with the pressure of a higher pour."
    )
    return (Notice("near-height-limit", text),)
