"""What a benchmark reports, and how it takes the time."""

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Measure:
    """One line of the report."""

    name: str
    value: float
    unit: str
    note: str = ""

    def __str__(self) -> str:
        return f"{self.name:<64} {self.value:>12,.3g} {self.unit:<20} {self.note}".rstrip()


def best_seconds(work: Callable[[], object], repeats: int = 5) -> float:
    """Shortest of several runs: other work on the machine only ever adds."""
    seconds = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)
