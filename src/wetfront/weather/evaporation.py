"""Water leaving a fresh, wet concrete surface.

All functions take numbers or numpy arrays (`Values`): air and surface temperature in °C, relative humidity in percent,
wind in m/s at 0.5 m above the surface (`wind_at_height` brings a mast's reading down). Below zero means dew.

The equation behind the nomograph can be off by about 40 % (ACI SP-338, 2020, pp. 10-28, published): a rate is an alarm,
not a measurement. It holds for a wet surface; once bleed water is gone the loss is less and the danger greater.
"""

from collections.abc import Sequence
from typing import Any, Literal, TypeAlias

import numpy as np

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Provenance, Source

Values: TypeAlias = Any
"""A number, or an array of them; numbers and arrays mix, and numbers alone give a float."""
Method = Literal["uno", "menzel"]

UNO = Source("Uno, ACI Materials Journal 95-M34 (1998), single equation in SI", Provenance.PUBLISHED)
MENZEL = Source("Menzel (1954), quoted in Uno, ACI Materials Journal 95-M34 (1998)", Provenance.MEMORY)
THRESHOLDS = Source("ACI 305R: 0.2 lb/ft²/h; 0.1 for mixes that bleed little", Provenance.MEMORY)
CHOICE = Source(
    "Menzel over 40 °C or on a surface cooler than the air; the larger where the two straddle a threshold",
    Provenance.OWN_RULE,
)

THRESHOLD_KG_PER_M2_H = 1.0
"""Precautions from here on (THRESHOLDS, rounded)."""
LOW_BLEED_THRESHOLD_KG_PER_M2_H = 0.5
"""The same for mixes that bleed little: silica fume, high fines, low water/cement, stiff mixes with fibres."""
ACCURACY = 0.4
"""The actual rate lies within ± this share of the estimate (ACI SP-338, 2020, pp. 10-28, abstract; published)."""
UNO_RELIABLE_TO_C = 40.0
"""Above this surface temperature the single equation under-reads by up to 29 % (recomputed): CHOICE."""

_RANGES: dict[str, tuple[float, float, str]] = {
    "air_temperature_c": (-10, 50, "from -10 to 50 °C"),
    "relative_humidity_percent": (0, 100, "from 0 to 100 %"),
    "concrete_temperature_c": (0, 50, "from 0 to 50 °C"),
    "wind_speed_m_per_s": (0, 30, "from 0 to 30 m/s at 0.5 m"),
}


def uno(
    air_temperature_c: Values,
    relative_humidity_percent: Values,
    concrete_temperature_c: Values,
    wind_speed_m_per_s: Values,
) -> Values:
    """Evaporation [kg/m²/h] by the single equation, signed (below zero: dew). Source: UNO.

    >>> round(uno(27.0, 50.0, 31.0, 5.3), 2)
    1.16
    """
    wind_km_per_h = 3.6 * wind_speed_m_per_s
    concrete, air = (concrete_temperature_c + 18) ** 2.5, (air_temperature_c + 18) ** 2.5
    return 5e-6 * (concrete - relative_humidity_percent / 100 * air) * (wind_km_per_h + 4)


def vapour_pressure_kpa(temperature_c: Values) -> Values:
    """Saturation vapour pressure [kPa], as MENZEL takes it."""
    return _plain(0.61 * np.exp(vapour_exponent(temperature_c)))


def vapour_exponent(temperature_c: Values) -> Values:
    """Logarithm of the saturation vapour pressure over that at 0 °C (MENZEL)."""
    return 17.3 * temperature_c / (237.3 + temperature_c)


def temperature_of_exponent(exponent: Values) -> Values:
    """The temperature [°C] with this exponent: of the vapour in the air it is the dew point."""
    return 237.3 * exponent / (17.3 - exponent)


def menzel(
    air_temperature_c: Values,
    relative_humidity_percent: Values,
    concrete_temperature_c: Values,
    wind_speed_m_per_s: Values,
) -> Values:
    """Evaporation [kg/m²/h] by the equation behind the nomograph, signed (below zero: dew). Source: MENZEL.

    >>> round(menzel(27.0, 50.0, 31.0, 5.3), 2)
    1.2
    """
    wind_km_per_h = 3.6 * wind_speed_m_per_s
    deficit_kpa = vapour_pressure_kpa(concrete_temperature_c) - relative_humidity_percent / 100 * vapour_pressure_kpa(
        air_temperature_c
    )
    return 0.315 * deficit_kpa * (0.253 + 0.060 * wind_km_per_h)


def check_range(**values: Values) -> None:
    """Raise OutOfRange naming the first input outside the range in which the two equations are used."""
    for key, value in values.items():
        low, high, allowed = _RANGES[key]
        entries = np.atleast_1d(np.asarray(value, dtype=np.float64))
        wrong = entries[~((entries >= low) & (entries <= high))]
        if wrong.size:
            raise OutOfRange(key, float(wrong[0]), allowed, "the evaporation equation")


def holds(
    air_temperature_c: Values,
    relative_humidity_percent: Values,
    concrete_temperature_c: Values,
    wind_speed_m_per_s: Values,
) -> Any:
    """Where the equations hold: what `check_range` would not refuse; bool or array of bool."""
    given = (air_temperature_c, relative_humidity_percent, concrete_temperature_c, wind_speed_m_per_s)
    inside = [(low <= value) & (value <= high) for value, (low, high, _) in zip(given, _RANGES.values(), strict=True)]
    return inside[0] & inside[1] & inside[2] & inside[3]


def evaporation_rate(
    air_temperature_c: Values,
    relative_humidity_percent: Values,
    concrete_temperature_c: Values,
    wind_speed_m_per_s: Values,
    method: Method = "uno",
) -> Values:
    """Evaporation [kg/m²/h] by one named equation, 0 where there is dew.

    OutOfRange outside air -10..50 °C, humidity 0..100 %, surface 0..50 °C, wind 0..30 m/s.
    """
    check_range(
        air_temperature_c=air_temperature_c,
        relative_humidity_percent=relative_humidity_percent,
        concrete_temperature_c=concrete_temperature_c,
        wind_speed_m_per_s=wind_speed_m_per_s,
    )
    if method not in ("uno", "menzel"):
        raise InvalidInput("method", f"method is {method!r}; allowed is one of uno, menzel")
    equation = uno if method == "uno" else menzel
    rate = equation(air_temperature_c, relative_humidity_percent, concrete_temperature_c, wind_speed_m_per_s)
    return _not_below_zero(rate)


def governing_rate(
    air_temperature_c: Values,
    relative_humidity_percent: Values,
    concrete_temperature_c: Values,
    wind_speed_m_per_s: Values,
    thresholds_kg_per_m2_h: Sequence[float] = (LOW_BLEED_THRESHOLD_KG_PER_M2_H, THRESHOLD_KG_PER_M2_H),
) -> Values:
    """Evaporation [kg/m²/h] for a decision: the equation that holds here, the larger where they straddle a threshold.

    Menzel where the surface is over 40 °C or cooler than the air, Uno else (CHOICE). OutOfRange as `evaporation_rate`.
    """
    conditions = (air_temperature_c, relative_humidity_percent, concrete_temperature_c, wind_speed_m_per_s)
    by_uno, by_menzel = evaporation_rate(*conditions, "uno"), evaporation_rate(*conditions, "menzel")
    by_rule = np.where(menzel_holds_better(air_temperature_c, concrete_temperature_c), by_menzel, by_uno)
    straddle = np.zeros(np.shape(by_rule), dtype=bool)
    for threshold in thresholds_kg_per_m2_h:
        straddle |= (by_uno >= threshold) != (by_menzel >= threshold)
    rate = np.where(straddle, np.maximum(by_uno, by_menzel), by_rule)
    return _plain(rate)


def menzel_holds_better(air_temperature_c: Values, concrete_temperature_c: Values) -> Any:
    """Where the single equation is not to be relied on (CHOICE); bool or array of bool."""
    return (concrete_temperature_c > UNO_RELIABLE_TO_C) | (concrete_temperature_c < air_temperature_c)


def _plain(values: Values) -> Values:
    """A plain float where there is a single number."""
    return float(values) if np.ndim(values) == 0 else values


def _not_below_zero(rate: Values) -> Values:
    # Adding 0.0 turns a negative zero into a plain one.
    return _plain(np.maximum(rate, 0.0) + 0.0)
