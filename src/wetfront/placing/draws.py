"""The chance in a pour as a table of numbers, so that every candidate and every implementation meets the same day.

Two makers. `hashed_draws` is a counter hash of (seed, replication, stream, index): a number depends on nothing else,
neither on the order of use nor on the number of workers nor on how many others are drawn. `draws_from_generator` is the
table of the benchmark workloads, from one numpy generator in a fixed order.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput

Floats = NDArray[np.float64]

STOPS_COUNT = 64
"""Breakdowns that a replication has draws for."""
SPARE_LOADS_COUNT = 40
"""Loads beyond the planned ones that a replication has draws for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """One row a replication: z a standard normal number, e a standard exponential one, u uniform between 0 and 1."""

    batching_z: Floats
    """A column for each load, as the next six."""
    haul_z: Floats
    return_z: Floats
    speed_z: Floats
    set_z: Floats
    temperature_z: Floats
    consistence_u: Floats
    up_e: Floats
    """A column for each breakdown, as the next."""
    repair_z: Floats
    finishing_z: Floats
    """A column for each strip."""
    wastage_z: Floats
    """One column."""

    @property
    def count(self) -> int:
        """Number of replications."""
        return len(self.batching_z)

    @property
    def loads_count(self) -> int:
        """Loads that there are draws for."""
        return int(self.batching_z.shape[1])

    def part(self, replications: slice) -> "Draws":
        """The same table for some of the replications."""
        return Draws(**{column.name: getattr(self, column.name)[replications] for column in fields(self)})


def draws_from_generator(seed: int, replications_count: int, planned_loads_count: int, strips_count: int) -> Draws:
    """The draw table of the benchmark workloads: blocks from one generator, in the order of `Draws`.

    Temperature, consistence and wastage have no draws there: they are neutral.
    """
    if min(replications_count, planned_loads_count) < 1:
        raise InvalidInput("replications_count", "replications and planned loads must be at least 1")
    generator = np.random.default_rng(seed)
    loads = (replications_count, planned_loads_count + SPARE_LOADS_COUNT)
    stops = (replications_count, STOPS_COUNT)
    batching, haul, back, speed, setting = (generator.standard_normal(loads) for _ in range(5))
    return Draws(
        batching_z=batching,
        haul_z=haul,
        return_z=back,
        speed_z=speed,
        set_z=setting,
        up_e=generator.standard_exponential(stops),
        repair_z=generator.standard_normal(stops),
        finishing_z=generator.standard_normal((replications_count, strips_count)),
        temperature_z=np.zeros(loads),
        consistence_u=np.ones(loads),
        wastage_z=np.zeros((replications_count, 1)),
    )


# The streams of the hash. A number never changes its meaning: new streams go to the end.
_STREAMS = (
    "batching_z",
    "haul_z",
    "return_z",
    "speed_z",
    "set_z",
    "temperature_z",
    "consistence_u",
    "up_e",
    "repair_z",
    "finishing_z",
    "wastage_z",
)


def hashed_draws(
    seed: int, replications_count: int, loads_count: int, strips_count: int, *, first_replication: int = 0
) -> Draws:
    """The draws of replications `first_replication` and on; `loads_count` is the number of load columns."""
    if not 0 <= seed < 2**64:
        raise InvalidInput("seed", f"seed is {seed}; allowed: 0 to 2^64 - 1")
    if min(replications_count, loads_count) < 1 or min(first_replication, strips_count) < 0:
        raise InvalidInput("replications_count", "replications and loads must be at least 1, nothing below 0")
    width = dict.fromkeys(_STREAMS, loads_count) | {
        "up_e": STOPS_COUNT,
        "repair_z": STOPS_COUNT,
        "finishing_z": strips_count,
        "wastage_z": 1,
    }
    root = _split(np.array([seed], dtype=np.uint64), np.zeros(1, dtype=np.uint64))
    rows = _split(root, np.arange(first_replication, first_replication + replications_count, dtype=np.uint64))
    table = {}
    for number, name in enumerate(_STREAMS):
        stream = _split(rows, np.array([number], dtype=np.uint64))
        uniform = _as_uniform(_split(stream[:, np.newaxis], np.arange(width[name], dtype=np.uint64)[np.newaxis]))
        kind = name[-1]
        table[name] = uniform if kind == "u" else -np.log(uniform) if kind == "e" else normal_quantile(uniform)
    return Draws(**table)


def _split(parent: NDArray[np.uint64], index: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Output number `index` of the SplitMix64 generator whose state is `parent`.

    Applied level by level (seed, replication, stream, index) it makes a tree of generators. Constants and mixing
    function: Steele, Lea, Flood, Fast splittable pseudorandom number generators, OOPSLA 2014 (mix variant 13 of
    Stafford); from memory, checked in the tests against the generator's known first outputs.
    """
    state = parent + (index + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15)
    state = (state ^ (state >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    state = (state ^ (state >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    mixed: NDArray[np.uint64] = state ^ (state >> np.uint64(31))
    return mixed


def _as_uniform(bits: NDArray[np.uint64]) -> Floats:
    """The upper 53 bits as the middle of one of 2^53 equal parts of (0, 1): never 0, never 1."""
    # The last half would round up to 1.
    return np.minimum(((bits >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53, 1.0 - 2.0**-53)


# Wichura, Algorithm AS 241 (PPND16), Applied Statistics 37 (1988) 477-484: coefficients by rising power, as they also
# stand in the Python library's statistics.NormalDist, against which a test holds them. Relative error about 1e-16.
_MIDDLE = (
    (
        3.3871328727963666080e0,
        1.3314166789178437745e2,
        1.9715909503065514427e3,
        1.3731693765509461125e4,
        4.5921953931549871457e4,
        6.7265770927008700853e4,
        3.3430575583588128105e4,
        2.5090809287301226727e3,
    ),
    (
        1.0,
        4.2313330701600911252e1,
        6.8718700749205790830e2,
        5.3941960214247511077e3,
        2.1213794301586595867e4,
        3.9307895800092710610e4,
        2.8729085735721942674e4,
        5.2264952788528545610e3,
    ),
)
_FLANK = (
    (
        1.42343711074968357734e0,
        4.63033784615654529590e0,
        5.76949722146069140550e0,
        3.64784832476320460504e0,
        1.27045825245236838258e0,
        2.41780725177450611770e-1,
        2.27238449892691845833e-2,
        7.74545014278341407640e-4,
    ),
    (
        1.0,
        2.05319162663775882187e0,
        1.67638483018380384940e0,
        6.89767334985100004550e-1,
        1.48103976427480074590e-1,
        1.51986665636164571966e-2,
        5.47593808499534494600e-4,
        1.05075007164441684324e-9,
    ),
)
_TAIL = (
    (
        6.65790464350110377720e0,
        5.46378491116411436990e0,
        1.78482653991729133580e0,
        2.96560571828504891230e-1,
        2.65321895265761230930e-2,
        1.24266094738807843860e-3,
        2.71155556874348757815e-5,
        2.01033439929228813265e-7,
    ),
    (
        1.0,
        5.99832206555887937690e-1,
        1.36929880922735805310e-1,
        1.48753612908506148525e-2,
        7.86869131145613259100e-4,
        1.84631831751005468180e-5,
        1.42151175831644588870e-7,
        2.04426310338993978564e-15,
    ),
)


def _ratio(coefficients: tuple[tuple[float, ...], tuple[float, ...]], at: Floats) -> Floats:
    above, below = (np.polynomial.polynomial.polyval(at, np.array(series)) for series in coefficients)
    ratio: Floats = above / below
    return ratio


def normal_quantile(probability: Floats) -> Floats:
    """The standard normal number below which this probability lies, for probabilities inside (0, 1)."""
    offset = probability - 0.5
    quantile = offset * _ratio(_MIDDLE, 0.180625 - offset**2)
    outer = np.abs(offset) > 0.425
    if outer.any():
        root = np.sqrt(-np.log(np.minimum(probability[outer], 1.0 - probability[outer])))
        far = np.where(root <= 5.0, _ratio(_FLANK, root - 1.6), _ratio(_TAIL, root - 5.0))
        quantile[outer] = np.copysign(far, offset[outer])
    return quantile
