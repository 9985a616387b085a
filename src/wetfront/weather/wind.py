"""Wind speed at another height above open ground."""

from typing import Any

from wetfront.nouns.reason import Provenance, Source

POWER_LAW = Source("power law over open ground, exponent 1/7", Provenance.COMMON_PRACTICE)
SURFACE_HEIGHT_M = 0.5
"""Height above the surface at which the evaporation equations want the wind (Uno, ACI 95-M34, 1998; published)."""
EXPONENT = 1 / 7


def wind_at_height(
    wind_speed_m_per_s: Any,
    measured_height_m: float,
    wanted_height_m: float = SURFACE_HEIGHT_M,
    exponent: float = EXPONENT,
) -> Any:
    """Wind [m/s] at `wanted_height_m` from a reading at `measured_height_m`; number or array. Source: POWER_LAW.

    A logarithmic profile over short grass (FAO-56, from memory) gives 0.51 in place of 0.652 from 10 m to 0.5 m:
    the power law errs towards more evaporation. Behind a wind break or in a building take a measured value.

    >>> round(wind_at_height(8.0, 10.0), 3)
    5.215
    """
    return wind_speed_m_per_s * (wanted_height_m / measured_height_m) ** exponent
