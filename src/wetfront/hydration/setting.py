"""Setting of concrete: how fast the clock runs at a temperature, and when it is up.

Times count from first contact of water and cement. Joints, form pressure and finishing all use this one clock.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, overload

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Notice, Provenance, Source
from wetfront.quantities import GAS_CONSTANT_J_PER_MOL_K, KELVIN_AT_0_C

SettingMethod = Literal["arrhenius", "halving"]

DEFAULT_ACTIVATION_ENERGY_J_PER_MOL = 40_000.0
ACTIVATION_ENERGY_SOURCE = Source(
    "ASTM C1074: 40 000 to 45 000 J/mol for Portland cement without admixture; a mix has one of its own",
    Provenance.MEMORY,
)
ARRHENIUS_SOURCE = Source("Arrhenius' law as in ASTM C1074 (equivalent age)", Provenance.PUBLISHED)
HALVING_K = 11.0
HALVING_SOURCE = Source(
    "rule of thumb of the trade: setting time halves per 20 °F (11 °C) warmer, doubles colder", Provenance.PUBLISHED
)
COLDEST_C, HOT_FROM_C = 5.0, 30.0

INITIAL_SET_MPA, FINAL_SET_MPA, VIBRATION_LIMIT_MPA = 3.5, 27.6, 0.5
SET_LIMITS_SOURCE = Source("ASTM C403: initial set 3.5 MPa, final set 27.6 MPa", Provenance.PUBLISHED)
VIBRATION_LIMIT_SOURCE = Source(
    "admixture standards: 0.5 MPa is the limit of placing and vibrating on top", Provenance.MEMORY
)
FIT_SOURCE = Source("ASTM C403: straight line through the logarithms, least squares", Provenance.PUBLISHED)
LEAST_READINGS = 6
LEAST_READINGS_SOURCE = Source("ASTM C403: at least 6 readings, correlation (r²) from 0.98", Provenance.MEMORY)
LEAST_R_SQUARED = 0.98
_FARTHEST_LOG10_H = 6.0
"""A line that meets its limits at 10^6 hours, or at 10^-6, says that the readings do not rise."""


@overload
def maturity_rate(
    concrete_temperature_c: float, activation_energy_j_per_mol: float, reference_temperature_c: float = ...
) -> float: ...


@overload
def maturity_rate(
    concrete_temperature_c: NDArray[np.float64],
    activation_energy_j_per_mol: float,
    reference_temperature_c: float = ...,
) -> NDArray[np.float64]: ...


def maturity_rate(
    concrete_temperature_c: float | NDArray[np.float64],
    activation_energy_j_per_mol: float,
    reference_temperature_c: float = 20.0,
) -> float | NDArray[np.float64]:
    """Hours of equivalent age at the reference temperature gained in one hour [1].

    exp{-E/R [1/(T + 273.15) - 1/(T0 + 273.15)]}: 1 at the reference temperature, more when warmer.
    Source: ASTM C1074, equivalent age.
    >>> maturity_rate(20.0, 40_000), round(maturity_rate(10.0, 40_000), 4)
    (1.0, 0.5601)
    """
    kelvin_per_reference = 1 / (reference_temperature_c + KELVIN_AT_0_C)
    energy_k = activation_energy_j_per_mol / GAS_CONSTANT_J_PER_MOL_K
    if isinstance(concrete_temperature_c, np.ndarray):
        rates: NDArray[np.float64] = np.exp(
            -energy_k * (1 / (concrete_temperature_c + KELVIN_AT_0_C) - kelvin_per_reference)
        )
        return rates
    return math.exp(-energy_k * (1 / (concrete_temperature_c + KELVIN_AT_0_C) - kelvin_per_reference))


def halving_factor(reference_temperature_c: float, concrete_temperature_c: float) -> float:
    """Multiplier of a setting time by the rule that it halves per 11 °C warmer [1].

    >>> halving_factor(20, 31), halving_factor(20, 9)
    (0.5, 2.0)
    """
    return float(0.5 ** ((concrete_temperature_c - reference_temperature_c) / HALVING_K))


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingTime:
    """A setting time at the concrete temperature, by the method asked for and by the other one."""

    setting_time_h: float
    factor: float
    method: SettingMethod
    arrhenius_h: float
    halving_h: float
    notices: tuple[Notice, ...]

    @property
    def shorter_h(self) -> float:
        """The one to use for joints."""
        return min(self.arrhenius_h, self.halving_h)

    @property
    def longer_h(self) -> float:
        """The one to use for form pressure and for the hours of the finishing staff."""
        return max(self.arrhenius_h, self.halving_h)


def setting_time_at_temperature(
    setting_time_h: float,
    reference_temperature_c: float,
    concrete_temperature_c: float,
    *,
    activation_energy_j_per_mol: float = DEFAULT_ACTIVATION_ENERGY_J_PER_MOL,
    method: SettingMethod = "arrhenius",
) -> SettingTime:
    """Setting time [h] at another concrete temperature, 0 to 40 °C (below 5 °C with a notice).

    In heat the halving rule is mostly the shorter one, in cold the longer one: both are returned.
    >>> round(setting_time_at_temperature(5.5, 20, 10).setting_time_h, 3)
    9.819
    """
    arrhenius = 1 / maturity_rate(concrete_temperature_c, activation_energy_j_per_mol, reference_temperature_c)
    halving = halving_factor(reference_temperature_c, concrete_temperature_c)
    factor = arrhenius if method == "arrhenius" else halving
    return SettingTime(
        setting_time_h=setting_time_h * factor,
        factor=factor,
        method=method,
        arrhenius_h=setting_time_h * arrhenius,
        halving_h=setting_time_h * halving,
        notices=temperature_notices(concrete_temperature_c),
    )


def temperature_notices(concrete_temperature_c: float) -> tuple[Notice, ...]:
    """Where no setting rule may be trusted without a test."""
    if concrete_temperature_c < COLDEST_C:
        text = (
            "Concrete below 5 °C: the setting rules hold from 5 to 40 °C; below that setting can nearly stop. "
            "Test at the site's temperature."
        )
        return (Notice("below-5-c", text),)
    if concrete_temperature_c > HOT_FROM_C:
        text = (
            "Concrete above 30 °C: measured concrete sets sooner than one activation energy says. "
            "Keep a margin on the short side for joints, or test."
        )
        return (Notice("above-30-c", text),)
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PenetrationSetting:
    """Setting times from penetration resistance: log10(MPa) = intercept + slope × log10(h)."""

    initial_set_h: float
    final_set_h: float
    limit_of_vibration_h: float
    correlation: float
    intercept: float
    slope: float
    notices: tuple[Notice, ...]


def setting_from_penetration(
    times_h: Sequence[float], penetration_resistances_mpa: Sequence[float]
) -> PenetrationSetting:
    """Setting times [h] from the penetration test on sieved mortar, at the mortar's own temperature.

    At least 6 readings, times rising, resistances over 0 and the last one at least 27.6 MPa; InvalidInput otherwise,
    also when the resistance does not rise with time. Source: ASTM C403.
    """
    _check_readings(times_h, penetration_resistances_mpa)
    x = [math.log10(time) for time in times_h]
    y = [math.log10(resistance) for resistance in penetration_resistances_mpa]
    mean_x, mean_y = math.fsum(x) / len(x), math.fsum(y) / len(y)
    sxx = math.fsum((value - mean_x) ** 2 for value in x)
    syy = math.fsum((value - mean_y) ** 2 for value in y)
    sxy = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True))
    if sxx <= 0:
        raise InvalidInput("times_h", "times_h lie too close together for a line")
    slope = sxy / sxx
    intercept = mean_y - slope * mean_x
    limits = (math.log10(INITIAL_SET_MPA), math.log10(FINAL_SET_MPA))
    if slope <= 0 or any(abs(limit - intercept) > _FARTHEST_LOG10_H * slope for limit in limits):
        text = "penetration_resistances_mpa do not rise with time; a setting test's resistance must"
        raise InvalidInput("penetration_resistances_mpa", text)

    def time_at(limit_mpa: float) -> float:
        return float(10 ** ((math.log10(limit_mpa) - intercept) / slope))

    initial, final, vibration = time_at(INITIAL_SET_MPA), time_at(FINAL_SET_MPA), time_at(VIBRATION_LIMIT_MPA)
    correlation = sxy / math.sqrt(sxx * syy)
    return PenetrationSetting(
        initial_set_h=initial,
        final_set_h=final,
        limit_of_vibration_h=vibration,
        correlation=correlation,
        intercept=intercept,
        slope=slope,
        notices=_fit_notices(times_h, correlation, initial, final, vibration),
    )


def _check_readings(times_h: Sequence[float], resistances_mpa: Sequence[float]) -> None:
    if len(times_h) < LEAST_READINGS:
        text = f"times_h has {len(times_h)} readings; a setting test needs at least {LEAST_READINGS}"
        raise InvalidInput("times_h", text)
    if len(resistances_mpa) != len(times_h):
        text = f"penetration_resistances_mpa has {len(resistances_mpa)} readings for {len(times_h)} times"
        raise InvalidInput("penetration_resistances_mpa", text)
    if times_h[0] <= 0 or any(later <= earlier for earlier, later in pairwise(times_h)):
        raise InvalidInput("times_h", "times_h must rise from reading to reading, from over 0")
    if min(resistances_mpa) <= 0:
        raise InvalidInput("penetration_resistances_mpa", "penetration_resistances_mpa must be over 0")
    if resistances_mpa[-1] < FINAL_SET_MPA:
        text = f"the last reading is {resistances_mpa[-1]:g} MPa; the test goes on to at least {FINAL_SET_MPA} MPa"
        raise InvalidInput("penetration_resistances_mpa", text)


def _fit_notices(
    times_h: Sequence[float], correlation: float, initial: float, final: float, vibration: float
) -> tuple[Notice, ...]:
    notices = []
    if correlation**2 < LEAST_R_SQUARED:
        text = f"Low correlation: r² = {correlation**2:.3f}, under 0.98. Look for outliers before using these times."
        notices.append(Notice("low-correlation", text))
    for name, time in (("limit of vibration", vibration), ("initial set", initial), ("final set", final)):
        if not times_h[0] <= time <= times_h[-1]:
            text = f"The {name} lies outside the readings: it is extrapolated along the line."
            notices.append(Notice("extrapolated", text))
    return tuple(notices)
