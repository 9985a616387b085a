"""The setting clock: equivalent age at 20 °C, summed from midnight on equally spaced points."""

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput

Floats = NDArray[np.float64]

_ZERO_C_IN_K = 273.15
_REFERENCE_K = 293.15


def clock_rate(temperature_c: Floats | float, activation_temperature_k: float) -> Floats:
    """Minutes of equivalent age at 20 °C in one minute at this temperature.

    Source: Arrhenius form of the equivalent age, ASTM C1074 (from memory), reference temperature 20 °C.

    >>> round(float(clock_rate(30.0, 4000.0)), 4)
    1.5685
    """
    kelvin = np.asarray(temperature_c, dtype=np.float64) + _ZERO_C_IN_K
    rate: Floats = np.exp(-activation_temperature_k * (1.0 / kelvin - 1.0 / _REFERENCE_K))
    return rate


def clock_table(temperature_c: Floats, step_min: float, activation_temperature_k: float) -> Floats:
    """Equivalent age [min] at 0, step, 2 step … for concrete at these temperatures, by the trapezoidal rule."""
    if len(temperature_c) < 2 or not np.isfinite(temperature_c).all():
        raise InvalidInput("temperature_c", "a clock needs at least two temperatures, all of them known")
    rate = clock_rate(temperature_c, activation_temperature_k)
    return np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) * (step_min / 2))])
