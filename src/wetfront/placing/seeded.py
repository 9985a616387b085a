"""Hashed draws that are not made yet: a seed and a range of replications."""

from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.placing.draws import Draws, hashed_draws


@dataclass(frozen=True, slots=True, kw_only=True)
class SeededDraws:
    """What `hashed_draws` would give for the same arguments; the compiled core makes numbers where it needs them."""

    seed: int
    count: int
    """Number of replications."""
    loads_count: int
    strips_count: int
    first_replication: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.seed < 2**64:
            raise InvalidInput("seed", f"seed is {self.seed}; allowed: 0 to 2^64 - 1")
        if self.loads_count < 1 or min(self.count, self.first_replication, self.strips_count) < 0:
            raise InvalidInput("replications_count", "loads must be at least 1, nothing below 0")

    def part(self, replications: slice) -> "SeededDraws":
        """The same draws for a range of the replications."""
        first, until, step = replications.indices(self.count)
        if step != 1:
            raise InvalidInput("replications", "must follow one another")
        return SeededDraws(
            seed=self.seed,
            count=max(0, until - first),
            loads_count=self.loads_count,
            strips_count=self.strips_count,
            first_replication=self.first_replication + first,
        )

    def table(self) -> Draws:
        """The numbers themselves."""
        rows = slice(0, self.count)
        made = hashed_draws(
            self.seed,
            max(1, self.count),
            self.loads_count,
            self.strips_count,
            first_replication=self.first_replication,
        )
        return made.part(rows)
