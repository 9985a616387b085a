"""Pressure over the height of the form: full head down to the maximum, then constant to the base."""

from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.errors import OutOfRange
from wetfront.nouns.reason import Provenance, Source

ENVELOPE_SOURCE = Source(
    "ACI 347R-14, 4.2.2; CIRIA Report 108 (1985); DIN 18218:2010-01: trapezoid of full head and maximum",
    Provenance.PUBLISHED,
)
TO_THE_BASE_SOURCE = Source("the maximum is kept down to the base", Provenance.OWN_RULE)
FORCE_SOURCE = Source("geometry of the trapezoid, checked by summation", Provenance.RECOMPUTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureEnvelope:
    """The trapezoid for one pour, per metre of wall."""

    max_pressure_kn_per_m2: float
    """Cut to the full head."""
    cut_to_full_head: bool
    pressures_kn_per_m2: tuple[float, ...]
    full_head_depth_m: float
    force_kn_per_m: float
    resultant_height_m: float
    """Above the base."""


def pressure_envelope(
    max_pressure_kn_per_m2: float,
    weight_density_kn_per_m3: float,
    pour_height_m: float,
    depths_m: Sequence[float] = (),
) -> PressureEnvelope:
    """Pressure at depths below the top of the concrete, force and its height, for a form within 5° of vertical.

    OutOfRange names `depths_m` when a depth lies outside the pour.
    >>> found = pressure_envelope(60.0, 25, 5.0, [1.2, 2.4, 5.0])
    >>> found.pressures_kn_per_m2, found.force_kn_per_m
    ((30.0, 60.0, 60.0), 228.0)
    """
    for depth in depths_m:
        if not 0 <= depth <= pour_height_m:
            raise OutOfRange("depths_m", depth, f"from 0 to the pour height of {pour_height_m:g} m", "the envelope")
    full_head = weight_density_kn_per_m3 * pour_height_m
    maximum = min(max_pressure_kn_per_m2, full_head)
    sloping = min(maximum / weight_density_kn_per_m3, pour_height_m)
    # Force and moment over the base per unit of the maximum pressure; w × sloping = maximum.
    area = pour_height_m - sloping / 2
    moment = sloping / 2 * (pour_height_m - 2 * sloping / 3) + (pour_height_m - sloping) ** 2 / 2
    return PressureEnvelope(
        max_pressure_kn_per_m2=maximum,
        cut_to_full_head=max_pressure_kn_per_m2 > full_head,
        pressures_kn_per_m2=tuple(min(weight_density_kn_per_m3 * depth, maximum) for depth in depths_m),
        full_head_depth_m=sloping,
        force_kn_per_m=maximum * area,
        resultant_height_m=moment / area,
    )
