"""What the day has taught: the level that all loads of a day have in common, learned from the loads that were seen.

ln x = ln median + s (√share z(day) + √(1 − share) z(load)), so that with y = (ln x − ln median) / s the level given n
complete observations is normal again: precision 1 + n a²/b², mean (a/b²) Σy over it, a² = share, b² = 1 − share. Exact;
no particles are needed for it. What is still under way only tells that it lasts longer: members weigh by that chance.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.hashed import normal_quantile
from wetfront.placing.draws import DAY_LEVELS
from wetfront.placing.model import Lognormal

Floats = NDArray[np.float64]
FARTHEST_Z = 3.5
"""Own rule: an observation further out counts as this far: one truck at a closed crossing is not the day's traffic."""
_LEAST_CHANCE = 1e-300


@dataclass(frozen=True, slots=True)
class Level:
    """A level's distribution, standard normal before anything is seen."""

    mean: float = 0.0
    deviation: float = 1.0
    seen_count: int = 0


def standard(law: Lognormal, value: float) -> float:
    """How many deviations of its logarithm a value lies above the median."""
    variance = math.log1p(law.cv**2)
    return 0.0 if variance == 0 else (math.log(value / law.mean) + variance / 2) / math.sqrt(variance)


def level_after(observed: Sequence[float], share: float) -> Level:
    """The level after these observations in deviations. With share 0 or 1 nothing or everything is the day's."""
    count = len(observed)
    if count == 0 or share == 0.0:
        return Level(seen_count=count)
    kept = [min(max(value, -FARTHEST_Z), FARTHEST_Z) for value in observed]
    if share == 1.0:
        return Level(math.fsum(kept) / count, 0.0, count)
    precision = 1.0 + count * share / (1.0 - share)
    mean = math.sqrt(share) / (1.0 - share) * math.fsum(kept) / precision
    return Level(mean, precision**-0.5, count)


def levels_after(observed: Mapping[str, Sequence[float]], share: float) -> dict[str, Level]:
    """All levels of the day, by the names of `DAY_LEVELS`."""
    return {name: level_after(observed.get(name, ()), share) for name in DAY_LEVELS}


def drawn(levels: Mapping[str, Level], day_z: Floats) -> Floats:
    """The members' levels: each keeps its own draw within the distribution as it is now."""
    mean = np.array([levels[name].mean for name in DAY_LEVELS])
    deviation = np.array([levels[name].deviation for name in DAY_LEVELS])
    found: Floats = mean + deviation * day_z
    return found


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
