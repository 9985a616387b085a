"""What the day has taught: the level that all loads of a day have in common, learned from the loads that were seen.

ln x = ln median + s (√share z(day) + √(1 − share) z(load)), so that with y = (ln x − ln median) / s the level given n
complete observations is normal again: precision 1 + n a²/b², mean (a/b²) Σy over it, a² = share, b² = 1 − share. What
is only known to lie between two values multiplies this density by Φ((high − a z)/b) − Φ((low − a z)/b): one dimension,
so it is integrated. Exact; no particles are needed for either. What is still under way hangs on each member's own
course: members weigh by that chance.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from wetfront.hashed import normal_quantile
from wetfront.placing.draws import DAY_LEVELS
from wetfront.placing.model import Lognormal

Floats = NDArray[np.float64]
Z95 = 1.6448536269514722
FARTHEST_Z = 3.5
"""Own rule: an observation further out counts as this far: one truck at a closed crossing is not the day's traffic."""
_LEAST_CHANCE = 1e-300
_FARTHEST_LEVEL, _COARSE, _FINE = 12.0, 161, 401
_TABLE_FROM, _PER_UNIT = -37.0, 200
_NEGLIGIBLE = 40.0
"""Natural logarithms under the highest density at which a level is left out."""


@dataclass(frozen=True, slots=True)
class Between:
    """An observation that is only known to lie between two values, in deviations; either may be infinite."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Level:
    """A level's distribution, standard normal before anything is seen."""

    mean: float = 0.0
    deviation: float = 1.0
    seen_count: int = 0
    table: tuple[Floats, Floats] | None = field(default=None, compare=False, repr=False)
    """Where it is not normal: levels, and how likely the level lies below each."""

    def of(self, z: Floats) -> Floats:
        """The levels of members with these standard normal draws."""
        if self.table is None:
            normal: Floats = self.mean + self.deviation * z
            return normal
        points, below_point = self.table
        found: Floats = np.interp(normal_share(z), below_point, points)
        return found


def standard(law: Lognormal, value: float) -> float:
    """How many deviations of its logarithm a value lies above the median."""
    variance = math.log1p(law.cv**2)
    return 0.0 if variance == 0 else (math.log(value / law.mean) + variance / 2) / math.sqrt(variance)


def level_after(observed: Sequence[float], share: float, between: Sequence[Between] = ()) -> Level:
    """The level after these observations in deviations. With share 0 or 1 nothing or everything is the day's."""
    count = len(observed)
    if count + len(between) == 0 or share == 0.0:
        return Level(seen_count=count + len(between))
    kept = [_capped(value) for value in observed]
    if count and share == 1.0:
        return Level(math.fsum(kept) / count, 0.0, count + len(between))
    mean, deviation = 0.0, 1.0
    if count:
        precision = 1.0 + count * share / (1.0 - share)
        mean = math.sqrt(share) / (1.0 - share) * math.fsum(kept) / precision
        deviation = precision**-0.5
    return _within(mean, deviation, share, between, count) if between else Level(mean, deviation, count)


def _capped(value: float) -> float:
    return min(max(value, -FARTHEST_Z), FARTHEST_Z)


def _within(mean: float, deviation: float, share: float, between: Sequence[Between], count: int) -> Level:
    """A normal level, given in addition what is only known to lie between two values."""
    # A bound that only an observation beyond the farthest could meet counts as the farthest.
    low = np.array([min(each.low, FARTHEST_Z) for each in between])
    high = np.array([max(each.high, -FARTHEST_Z) for each in between])
    own = math.sqrt(max(1.0 - share, 1e-12))

    def log_density(level: Floats) -> Floats:
        of_the_load = math.sqrt(share) * level[:, np.newaxis]
        chance = _share_between((low - of_the_load) / own, (high - of_the_load) / own)
        found: Floats = -(((level - mean) / deviation) ** 2) / 2 + np.log(chance).sum(axis=1)
        return found

    coarse = np.linspace(-_FARTHEST_LEVEL, _FARTHEST_LEVEL, _COARSE)
    density = log_density(coarse)
    likely = np.flatnonzero(density > density.max() - _NEGLIGIBLE)
    points = np.linspace(coarse[max(likely[0] - 1, 0)], coarse[min(likely[-1] + 1, _COARSE - 1)], _FINE)
    density = log_density(points)
    weight = np.exp(density - density.max())
    total = np.concatenate([[0.0], np.cumsum((weight[1:] + weight[:-1]) / 2)])
    middle = float((weight * points).sum() / weight.sum())
    spread = math.sqrt(float((weight * (points - middle) ** 2).sum() / weight.sum()))
    return Level(middle, spread, count + len(between), (points, total / total[-1]))


@cache
def _normal_table() -> Floats:
    return normal_share(np.arange(_TABLE_FROM, 9.0, 1 / _PER_UNIT))


def _share_between(low: Floats, high: Floats) -> Floats:
    """Probability that a standard normal number lies between, never quite 0. From a table: to a part in 2,000."""
    # Of an interval above the middle its mirror image, so that two numbers near 1 are never subtracted.
    low, high = np.where(low > 0, -high, low), np.where(low > 0, -low, high)
    below_z = _normal_table()
    found: Floats = np.maximum(_looked_up(below_z, high) - _looked_up(below_z, low), _LEAST_CHANCE)
    return found


def _looked_up(table: Floats, z: Floats) -> Floats:
    place = np.clip((z - _TABLE_FROM) * _PER_UNIT, 0.0, len(table) - 1.001)
    before = place.astype(np.int64)
    found: Floats = table[before] + (place - before) * (table[before + 1] - table[before])
    return found


def levels_after(
    observed: Mapping[str, Sequence[float]], share: float, between: Mapping[str, Sequence[Between]] | None = None
) -> dict[str, Level]:
    """All levels of the day, by the names of `DAY_LEVELS`."""
    bounds = between or {}
    return {name: level_after(observed.get(name, ()), share, bounds.get(name, ())) for name in DAY_LEVELS}


def drawn(levels: Mapping[str, Level], day_z: Floats) -> Floats:
    """The members' levels: each keeps its own draw within the distribution as it is now."""
    return np.column_stack([levels[name].of(day_z[:, place]) for place, name in enumerate(DAY_LEVELS)])


def normal_share(z: Floats) -> Floats:
    """Probability that a standard normal number is below z."""
    flat = [0.5 * math.erfc(-value / math.sqrt(2.0)) for value in np.ravel(z).tolist()]
    return np.array(flat).reshape(np.shape(z))


def beyond(z: Floats, limit: Floats) -> Floats:
    """The same draws, given that they lie above the limit."""
    above = normal_share(-limit)
    tail = np.clip(above * normal_share(-z), _LEAST_CHANCE, 1.0 - 1e-16)
    moved: Floats = -normal_quantile(tail)
    return np.where(np.isneginf(limit), z, np.maximum(moved, limit))


def below(z: Floats, limit: Floats) -> Floats:
    """The same draws, given that they lie below the limit."""
    return -beyond(-z, -limit)


def resampled(weights: Floats) -> NDArray[np.int64]:
    """Members by weight, systematically: as many of each as its share, to within one."""
    total = float(weights.sum())
    count = len(weights)
    if not total > 0:
        return np.arange(count)
    points = (np.arange(count) + 0.5) / count * total
    return np.minimum(np.searchsorted(np.cumsum(weights), points), count - 1).astype(np.int64)
