"""What the methods of lateral pressure share: weight, full head, what governs, and the way back to a rise rate.

Safety: a wrong figure here can burst a form. Outside a method's validity the answer is the full head, never an
extrapolation; a rise rate that is found is never one that exceeds the permitted pressure.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

from wetfront.nouns.reason import Notice, Provenance, Source
from wetfront.quantities import GRAVITY_M_PER_S2

Element = Literal["wall", "column"]
Compaction = Literal["internal", "external", "self-compacting"]
Placement = Literal["from-top", "pumped-from-base"]
PressureGoverns = Literal["formula", "minimum", "full-head"]
RiseGoverns = Literal["formula", "validity-limit", "full-head", "not-permitted"]

SURGE_FACTOR = 1.25
SURGE_SOURCE = Source(
    "ACI 347R-14, 4.2.2: filled by pump from the base, full head plus at least 25 % for surge", Provenance.PUBLISHED
)
FULL_HEAD_SOURCE = Source("ACI 347R-14, 4.2.2, Eq. 2.1 (full liquid head w × h)", Provenance.PUBLISHED)
OUTSIDE_SOURCE = Source("outside the method's validity the full head is taken", Provenance.OWN_RULE)
CAP_SOURCE = Source("ACI 347R-14; CIRIA Report 108; DIN 18218: never more than the full head", Provenance.PUBLISHED)
BOUNDARY_NOISE = 1e-9
"""A figure this near to a limit counts as on it: 18.9 / 9 is 2.1 to a person and 2.0999999999999996 here."""
SITE_STEPS_PER_M_PER_H = 20
"""For site use a rise rate is cut down to 0.05 m/h (own rule)."""

FILLED_FROM_BASE = Notice(
    "filled-from-base",
    "Filled from the base by pump: at least full head plus 25 % for surge; the pressure at the piston face can act "
    "on the form. Have the form designed for it.",
)


@dataclass(frozen=True, slots=True)
class Coefficient:
    """A figure of a standard with the place where it stands."""

    value: float
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressure:
    """A characteristic maximum lateral pressure and how it came about."""

    max_pressure_kn_per_m2: float
    full_head_depth_m: float
    """Depth below the top at which the maximum is reached; never more than the pour height."""
    governs: PressureGoverns
    weight_density_kn_per_m3: float
    full_head_kn_per_m2: float
    formula_kn_per_m2: float | None
    """Before minimum and cap; None where the method has no formula for this pour."""
    minimum_kn_per_m2: float
    """0 where the method has none."""
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HighestRise:
    """The highest rise rate for a permitted pressure."""

    max_rise_m_per_h: float | None
    """None when the form carries the full head: pressure then does not limit the rate. 0 when not permitted."""
    governs: RiseGoverns
    full_head_kn_per_m2: float
    """With the surge when filled from the base."""
    minimum_kn_per_m2: float
    notices: tuple[Notice, ...]

    @property
    def site_rise_m_per_h(self) -> float | None:
        """The rate cut down to 0.05 m/h, for use on site."""
        if self.max_rise_m_per_h is None:
            return None
        return math.floor(self.max_rise_m_per_h * SITE_STEPS_PER_M_PER_H) / SITE_STEPS_PER_M_PER_H


class Governing(NamedTuple):
    """Maximum, depth of the full head, what governs."""

    max_pressure_kn_per_m2: float
    full_head_depth_m: float
    governs: PressureGoverns


def rise_rate(placing_rate_m3_per_h: float, plan_area_m2: float) -> float:
    """Vertical rise of the concrete in the form [m/h]. Source: definition.

    >>> rise_rate(18, 7.2)
    2.5
    """
    return placing_rate_m3_per_h / plan_area_m2


def weight_density(density_kg_per_m3: float) -> float:
    """Weight density [kN/m³] of a density, with g = 9.81 m/s² as the formwork guides round it."""
    return density_kg_per_m3 * GRAVITY_M_PER_S2 / 1000


def full_head(weight_density_kn_per_m3: float, pour_height_m: float, placement: Placement = "from-top") -> float:
    """Liquid pressure at the base [kN/m²], with the surge when the form is filled from the base by pump.

    >>> full_head(25, 4.0), full_head(24, 4.0, "pumped-from-base")
    (100.0, 120.0)
    """
    head = weight_density_kn_per_m3 * pour_height_m
    return SURGE_FACTOR * head if placement == "pumped-from-base" else head


def over(value: float, limit: float) -> bool:
    """More than the limit, by more than the noise of binary fractions."""
    return value > limit + BOUNDARY_NOISE


def reaches(pressure_kn_per_m2: float, limit_kn_per_m2: float) -> bool:
    """The pressure is the limit or more; equal but for the noise of binary fractions counts as equal."""
    return pressure_kn_per_m2 >= limit_kn_per_m2 * (1 - BOUNDARY_NOISE)


def governing_pressure(
    weight_density_kn_per_m3: float,
    pour_height_m: float,
    placement: Placement,
    formula_kn_per_m2: float | None,
    minimum_kn_per_m2: float,
) -> Governing:
    """The order in which the limits are tried: surge, no formula, minimum, full head.

    `formula_kn_per_m2` is None outside the method's validity. The cap at full head wins over the minimum.
    """
    if placement == "pumped-from-base":
        head = full_head(weight_density_kn_per_m3, pour_height_m, placement)
        return Governing(head, pour_height_m, "full-head")
    head = full_head(weight_density_kn_per_m3, pour_height_m)
    if formula_kn_per_m2 is None:
        return Governing(head, pour_height_m, "full-head")
    pressure = max(formula_kn_per_m2, minimum_kn_per_m2)
    if reaches(pressure, head):
        return Governing(head, pour_height_m, "full-head")
    governs: PressureGoverns = "minimum" if formula_kn_per_m2 < minimum_kn_per_m2 else "formula"
    return Governing(pressure, min(pressure / weight_density_kn_per_m3, pour_height_m), governs)


def highest_rise(
    permitted_pressure_kn_per_m2: float,
    full_head_kn_per_m2: float,
    outside: tuple[Notice, ...],
    minimum_kn_per_m2: float,
    inverted: Callable[[float], float],
    pressure_at: Callable[[float], float],
    fastest_m_per_h: float | None,
    notices: tuple[Notice, ...],
) -> HighestRise:
    """The order of steps that the three inverses share.

    `outside` says which limits of validity the pour breaks; `inverted` solves the method's formula for the rise rate
    at a pressure; `pressure_at` is the forward calculation; `fastest_m_per_h` is the method's highest rate, if any.
    """

    def found(rise: float | None, governs: RiseGoverns, *more: Notice) -> HighestRise:
        return HighestRise(
            max_rise_m_per_h=rise,
            governs=governs,
            full_head_kn_per_m2=full_head_kn_per_m2,
            minimum_kn_per_m2=minimum_kn_per_m2,
            notices=(*notices, *more),
        )

    if reaches(permitted_pressure_kn_per_m2, full_head_kn_per_m2):
        return found(None, "full-head")
    if outside:
        return found(0.0, "not-permitted", *outside)
    if permitted_pressure_kn_per_m2 < minimum_kn_per_m2:
        text = f"The permitted pressure is below the method's minimum of {minimum_kn_per_m2:.4g} kN/m²."
        return found(0.0, "not-permitted", Notice("below-minimum", text))
    rise = inverted(permitted_pressure_kn_per_m2)
    if fastest_m_per_h is not None and rise > fastest_m_per_h:
        return found(fastest_m_per_h, "validity-limit")
    rise = _shaved(rise, permitted_pressure_kn_per_m2, pressure_at)
    return found(rise, "formula") if rise > 0 else found(0.0, "not-permitted")


def _shaved(rise: float, permitted: float, pressure_at: Callable[[float], float]) -> float:
    """Take rounding noise off, so that the rate put back never gives more than the permitted pressure."""
    step = math.ulp(rise)
    while rise > 0 and pressure_at(rise) > permitted:
        rise -= step
        step *= 2
    return max(rise, 0.0)
