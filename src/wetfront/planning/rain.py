"""Chance that rain harms a surface which is still fresh.

A forecast gives the probability of any rain in an hour and an amount. Two rules of our own, on the cautious side of the
plain reading "highest hourly probability", make one figure of it:

- How much: if it rains, the hour's amount is taken as exponential, with the mean amount / probability and at least
  0.5 mm. Drizzle under 1 mm/h (or under the sheet's own stop, if that is lower) counts as "cover and go on".
- How hours hang together: inside a spell of six hours they count as one and the same chance (the highest), spells as
  independent of each other. Independent hours would add up to rain on any dry day; one spell for the whole day would
  say too little.

Where weathers are drawn about the forecast, they follow the same two rules (`weather.ensemble`), and rain harms in a
replication when its own weather has a harmful hour while the surface is open: 1 or 0, and the share is the risk.
"""

import math
from dataclasses import dataclass

import numpy as np

from wetfront.nouns.reason import Provenance, Source
from wetfront.placing.model import Floats
from wetfront.planning.day import DayWeather
from wetfront.planning.members import DayEnsemble
from wetfront.weather.ensemble import LEAST_CHANCE, LEAST_MEAN_MM_PER_H, SPELL_H

HARMFUL_MM_PER_H = 1.0
RAIN_SOURCE = Source(
    "harmful from 1 mm/h, amounts exponential, spells of 6 h independent of each other", Provenance.OWN_RULE
)


@dataclass(frozen=True, slots=True)
class RainRisk:
    """Rain over the hours in which a surface is open."""

    harmful: float
    highest_any: float
    """Highest hourly probability of any rain."""
    highest_at_min: float
    stop_mm_per_h: float
    """Largest forecast amount in an hour."""


def rain_risk(weather: DayWeather, from_min: float, to_min: float, rain_stop_mm_per_h: float) -> RainRisk | None:
    """Chance of harm between two times; None where the series has no probability of rain."""
    if weather.rain_probability_percent is None:
        return None
    open_hours = (weather.minutes > from_min - 60.0) & (weather.minutes < to_min)
    chance = weather.rain_probability_percent[open_hours] / 100
    amount, times = weather.rain_mm[open_hours], weather.minutes[open_hours]
    if not len(times):
        return RainRisk(0.0, 0.0, from_min, 0.0)
    threshold = harmful_from_mm_per_h(rain_stop_mm_per_h)
    named = chance >= LEAST_CHANCE
    mean = np.maximum(amount / np.where(named, chance, 1.0), LEAST_MEAN_MM_PER_H)
    # A forecast amount with no probability at all contradicts itself: the amount is then taken at its word.
    harm = np.where(~named & (amount >= threshold), 1.0, chance * np.exp(-threshold / mean))
    spell = np.floor((times - times[0]) / (60 * SPELL_H)).astype(int)
    dry = math.prod(1.0 - float(harm[spell == number].max()) for number in range(int(spell[-1]) + 1))
    highest = int(chance.argmax())
    return RainRisk(1.0 - dry, float(chance[highest]), float(times[highest]), float(amount.max()))


def harmful_from_mm_per_h(rain_stop_mm_per_h: float) -> float:
    """From this on rain harms a fresh surface: 1 mm/h, or the sheet's own stop if that is lower."""
    return min(HARMFUL_MM_PER_H, rain_stop_mm_per_h)


def is_harmed(drawn: DayEnsemble, first: int, from_min: Floats, to_min: Floats, stop_mm_per_h: float) -> Floats:
    """1 where replication `first` + i meets harmful rain between `from_min[i]` and `to_min[i]`, else 0.

    The same hours count as in `rain_risk`: from the one that has begun to the last that begins before the end.
    """
    weathers = drawn.members
    harms = weathers.rain_mm >= harmful_from_mm_per_h(stop_mm_per_h)
    until = np.concatenate([np.zeros((len(harms), 1), dtype=np.int64), harms.cumsum(axis=1)], axis=1)
    begins = np.searchsorted(weathers.minutes, from_min - 60.0, side="right")
    ends = np.maximum(np.searchsorted(weathers.minutes, to_min, side="left"), begins)
    met = (first + np.arange(len(from_min))) % len(harms)
    return (until[met, ends] > until[met, begins]).astype(np.float64)
