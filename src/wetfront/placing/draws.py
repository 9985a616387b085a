"""The chance in a pour as a table of numbers, so that every candidate and every implementation meets the same day.

Two makers. `hashed_draws` is a counter hash of (seed, replication, stream, index): a number depends on nothing else,
neither on the order of use nor on the number of workers nor on how many others are drawn. `draws_from_generator` is the
table of the benchmark workloads, from one numpy generator in a fixed order.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.hashed import normal_quantile, rows_of, uniforms

Floats = NDArray[np.float64]

STOPS_COUNT = 64
"""Breakdowns that a replication has draws for."""
SPARE_LOADS_COUNT = 40
"""Loads beyond the planned ones that a replication has draws for."""
DAY_LEVELS = ("batching", "haul", "return", "speed", "set", "temperature")
"""Figures of a load of which a day has a level of its own, in the order of the columns of `Draws.day_z`."""


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
    day_z: Floats
    """What all loads of a day have in common: a column for each of `DAY_LEVELS`."""
    first_replication: int = 0
    """Number of the replication in the first row: which member of an ensemble of weather a row meets goes by it."""

    @property
    def count(self) -> int:
        """Number of replications."""
        return len(self.batching_z)

    @property
    def loads_count(self) -> int:
        """Loads that there are draws for."""
        return int(self.batching_z.shape[1])

    @property
    def stops_count(self) -> int:
        """Breakdowns that there are draws for."""
        return int(self.up_e.shape[1])

    @property
    def strips_count(self) -> int:
        """Strips that there are draws for."""
        return int(self.finishing_z.shape[1])

    def part(self, replications: slice) -> "Draws":
        """The same table for some of the replications, one after the other."""
        first, until, step = replications.indices(self.count)
        if step != 1:
            raise InvalidInput("replications", "must follow one another")
        table = {name: getattr(self, name)[first:until] for name in STREAMS}
        return Draws(**table, first_replication=self.first_replication + first)


def draws_from_generator(seed: int, replications_count: int, planned_loads_count: int, strips_count: int) -> Draws:
    """The draw table of the benchmark workloads: blocks from one generator, in the order of `Draws`.

    Temperature, consistence, wastage and the day have no draws there: they are neutral.
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
        day_z=np.zeros((replications_count, len(DAY_LEVELS))),
    )


# The streams of the hash, columns of `Draws`. A number never changes its meaning: new streams go to the end.
STREAMS = (
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
    "day_z",
)


def hashed_draws(
    seed: int, replications_count: int, loads_count: int, strips_count: int, *, first_replication: int = 0
) -> Draws:
    """The draws of replications `first_replication` and on; `loads_count` is the number of load columns."""
    if not 0 <= seed < 2**64:
        raise InvalidInput("seed", f"seed is {seed}; allowed: 0 to 2^64 - 1")
    if min(replications_count, loads_count) < 1 or min(first_replication, strips_count) < 0:
        raise InvalidInput("replications_count", "replications and loads must be at least 1, nothing below 0")
    width = dict.fromkeys(STREAMS, loads_count) | {
        "up_e": STOPS_COUNT,
        "repair_z": STOPS_COUNT,
        "finishing_z": strips_count,
        "wastage_z": 1,
        "day_z": len(DAY_LEVELS),
    }
    rows = rows_of(seed, first_replication, replications_count)
    table = {}
    for number, name in enumerate(STREAMS):
        uniform = uniforms(rows, number, width[name])
        kind = name[-1]
        table[name] = uniform if kind == "u" else -np.log(uniform) if kind == "e" else normal_quantile(uniform)
    return Draws(**table, first_replication=first_replication)
