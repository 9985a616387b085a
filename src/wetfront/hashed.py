"""Chance by a counter: a number depends on (seed, row, stream, index) alone, whoever asks for it and in whatever order.

A row is a replication of a pour or a member of an ensemble of weather. Streams are told apart by number: those below
100 belong to `placing.draws`, those from 100 on to `weather.ensemble`; none ever changes its meaning.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
States = NDArray[np.uint64]


def rows_of(seed: int, first: int, count: int) -> States:
    """Generators of the rows `first` to `first + count` of a seed from 0 to 2^64 - 1."""
    root = split(np.array([seed], dtype=np.uint64), np.zeros(1, dtype=np.uint64))
    return split(root, np.arange(first, first + count, dtype=np.uint64))


def uniforms(rows: States, stream: int, count: int) -> Floats:
    """Numbers 0 to `count` - 1 of a stream of each row, uniform between 0 and 1."""
    of_stream = split(rows, np.array([stream], dtype=np.uint64))
    return uniform_of(split(of_stream[:, np.newaxis], np.arange(count, dtype=np.uint64)[np.newaxis]))


def split(parent: NDArray[np.uint64], index: NDArray[np.uint64]) -> NDArray[np.uint64]:
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


def uniform_of(bits: NDArray[np.uint64]) -> Floats:
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
