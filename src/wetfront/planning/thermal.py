"""Temperatures and setting clocks of a candidate's concrete, one row a weather: the forecast, or members about it."""

import math
from dataclasses import dataclass

import numpy as np

from wetfront.hydration.setting import HALVING_K, maturity_rate
from wetfront.nouns.reason import Provenance, Source
from wetfront.placing.model import Floats, Ints
from wetfront.planning.candidate import Candidate
from wetfront.planning.situation import Situation
from wetfront.quantities import GAS_CONSTANT_J_PER_MOL_K, KELVIN_AT_0_C

CLOCK_STEP_MIN, CLOCK_UNTIL_MIN = 10.0, 4 * 1440.0
CLOCK_TIMES_MIN = np.arange(0.0, CLOCK_UNTIL_MIN + CLOCK_STEP_MIN, CLOCK_STEP_MIN)
# ACI 306R (from memory): change of temperature in one hour, as a share of the difference between concrete and air.
CHANGE_PER_H = {"revolving-drum": 0.25, "covered-body": 0.10, "open-body": 0.20}
TRANSPORT_SOURCE = Source("ACI 306R: 0.25, 0.10 or 0.20 of the difference to the air in an hour", Provenance.MEMORY)
CLOCK_SOURCE = Source(
    "joints: the warmer of fresh concrete and its mean with the air; the faster of Arrhenius and halving per 11 °C",
    Provenance.OWN_RULE,
)


@dataclass(frozen=True, slots=True, eq=False)
class Thermal:
    """What the weather makes of the concrete: a row for each weather."""

    air_c: Floats
    """On the points of the clock."""
    fresh_c: Floats
    """When it is placed, in the mean over the pour."""
    clock_min: Floats
    """Equivalent age since midnight on those points (CLOCK_SOURCE)."""
    activation_k: Floats
    """E/R of the setting rule that is the faster one at the fresh temperature."""
    set_factor_sd: Floats
    slower_share: Floats
    """How much slower than the joint clock the finishers' cautious clock runs."""


def thermal_of(
    situation: Situation, candidate: Candidate, members: Ints | None = None, air_c: Floats | None = None
) -> Thermal:
    """In the forecast's weather (one row), or in that of some members of the situation's ensemble.

    `air_c` is their air on CLOCK_TIMES_MIN where it is known: it is the same for every candidate.
    """
    mix = situation.mix
    energy = mix.activation_energy_j_per_mol
    air = situation.weather.air_rows(CLOCK_TIMES_MIN, members) if air_c is None else air_c
    fresh = fresh_rows_c(situation, candidate, members)
    activation_k = _faster_activation_k(energy, fresh)
    # A load's own temperature enters as spread: the clock's table already stands at the cautious temperature.
    by_temperature = mix.temperature_spread_c * activation_k / (KELVIN_AT_0_C + fresh) ** 2
    by_setting = own_spread(situation)
    return Thermal(
        air_c=air,
        fresh_c=fresh,
        clock_min=_clock(air, fresh, energy, situation.weather.last_min),
        activation_k=activation_k,
        set_factor_sd=np.hypot(by_setting, by_temperature),
        slower_share=_slower_share(situation, candidate, fresh, members),
    )


def own_spread(situation: Situation) -> float:
    """Spread of the setting of concrete whose temperature is known: standard deviation of its logarithm."""
    return math.sqrt(math.log1p((situation.mix.set_time_spread_percent / 100) ** 2))


def clock_at_fresh(situation: Situation, fresh_c: float) -> Floats:
    """The joint clock on CLOCK_TIMES_MIN, by the forecast, for concrete that comes at this temperature."""
    air = situation.weather.air_rows(CLOCK_TIMES_MIN, None)
    energy = situation.mix.activation_energy_j_per_mol
    row: Floats = _clock(air, np.array([fresh_c]), energy, situation.weather.last_min)[0]
    return row


def fresh_rows_c(situation: Situation, candidate: Candidate, members: Ints | None = None) -> Floats:
    """Concrete when it is placed, in the mean over the pour: plant temperature and the way (TRANSPORT_SOURCE)."""
    plant_c = situation.plant_temperature_c(candidate.mix_option, candidate.cooler_by_c)
    duration = situation.gross_m3 / candidate.rate_m3_per_h * 60
    times = np.linspace(candidate.start_min, candidate.start_min + duration, 9)
    air = situation.weather.air_rows(times, members).mean(axis=1)
    on_the_way = situation.usual_haul_min + situation.sheet.trucks.position_and_check_min + 10.0
    share = CHANGE_PER_H[situation.sheet.trucks.vehicle] * on_the_way / 60
    fresh: Floats = (plant_c + share * air) / (1 + share)
    return fresh


def fresh_temperature_c(situation: Situation, candidate: Candidate) -> float:
    """The same by the forecast."""
    return float(fresh_rows_c(situation, candidate)[0])


def joint_temperature_c(fresh_c: float | Floats, air_c: Floats) -> Floats:
    """Temperature on which the joint clock runs (CLOCK_SOURCE)."""
    warm: Floats = np.maximum(fresh_c, (fresh_c + air_c) / 2)
    return warm


def _faster_rate(temperature_c: Floats, energy: float) -> Floats:
    rate: Floats = np.maximum(maturity_rate(temperature_c, energy), 2.0 ** ((temperature_c - 20.0) / HALVING_K))
    return rate


def _faster_activation_k(activation_energy_j_per_mol: float, fresh_c: Floats) -> Floats:
    """E/R of the setting rule that is the faster one at this temperature; halving written in Arrhenius' form."""
    arrhenius = activation_energy_j_per_mol / GAS_CONSTANT_J_PER_MOL_K
    halving = math.log(2.0) / HALVING_K * (KELVIN_AT_0_C + 20.0) * (KELVIN_AT_0_C + fresh_c)
    return np.where(fresh_c >= 20.0, np.maximum(arrhenius, halving), np.minimum(arrhenius, halving))


def _clock(air_c: Floats, fresh_c: Floats, energy: float, last_min: float) -> Floats:
    """Equivalent age by the trapezoidal rule; after the last reading the air, and so the rate, stays as it is."""
    known = min(air_c.shape[1], max(2, math.ceil(last_min / CLOCK_STEP_MIN) + 1))
    rate = _faster_rate(joint_temperature_c(fresh_c[:, np.newaxis], air_c[:, :known]), energy)
    rate = np.concatenate([rate, np.repeat(rate[:, -1:], air_c.shape[1] - known, axis=1)], axis=1)
    total = np.zeros_like(rate)
    np.cumsum((rate[:, 1:] + rate[:, :-1]) * (CLOCK_STEP_MIN / 2), axis=1, out=total[:, 1:])
    return total


def _slower_share(situation: Situation, candidate: Candidate, fresh_c: Floats, members: Ints | None) -> Floats:
    """Over the ten hours after the start.

    Finishers' hours are planned with the longer of the two setting rules at the mean of concrete and air (own rule).
    """
    fresh = fresh_c[:, np.newaxis]
    air = situation.weather.air_rows(candidate.start_min + np.arange(0.0, 600.0, 30.0), members)
    energy = situation.mix.activation_energy_j_per_mol
    surface = (fresh + air) / 2
    slow = np.minimum(maturity_rate(surface, energy), 2.0 ** ((surface - 20.0) / HALVING_K))
    share: Floats = (slow / _faster_rate(joint_temperature_c(fresh, air), energy)).mean(axis=1)
    return share


def slower_clock_share(situation: Situation, candidate: Candidate) -> float:
    """How much slower than the joint clock the finishers' cautious clock runs, by the forecast."""
    return float(_slower_share(situation, candidate, fresh_rows_c(situation, candidate), None)[0])
