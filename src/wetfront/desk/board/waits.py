"""How long concrete waited for the concrete beside it: each point of a row against the same point of the other row.

Concrete runs out over the whole width of a strip, so the cells that lie side by side across it are filled together. Two
rows that touch are filled in the same direction, the share s of one after the share s of the other, and the wait is

    w = max over s of t_newer(s) - t_older(s)

Both times grow in straight pieces with jumps where nothing flowed, so the largest difference stands just beside an end
of a piece: it is found exactly. `wetfront tickets` follows concrete by the same rule over strips of equal volume.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NOISE = 1e-9


@dataclass(frozen=True, slots=True)
class Flow:
    """Concrete that came without a pause: from one share of a row to another between two minutes."""

    from_share: float
    to_share: float
    from_min: float
    to_min: float

    def at(self, share: float) -> float:
        """Minute in which this share was reached."""
        part = (share - self.from_share) / (self.to_share - self.from_share)
        return self.from_min + part * (self.to_min - self.from_min)


Course = tuple[Flow, ...]
"""How one row was filled, in time."""


@dataclass(frozen=True, slots=True)
class Put:
    """Concrete that went into one cell without a pause."""

    position: int
    volume_m3: float
    from_min: float
    to_min: float


@dataclass(frozen=True, slots=True, eq=False)
class Waits:
    """By pair: the longest wait, and between which minutes it was."""

    wait_min: Floats
    since_min: Floats
    covered_min: Floats


def courses_of(row: Ints, puts: Iterable[Put]) -> dict[int, Course]:
    """By row: what went into its cells, one after the other, as shares of all that went into it."""
    by_row: dict[int, list[Put]] = {}
    for put in puts:
        if put.volume_m3 > NOISE:
            by_row.setdefault(int(row[put.position]), []).append(put)
    found: dict[int, Course] = {}
    for number, mine in by_row.items():
        mine.sort(key=lambda put: (put.from_min, put.to_min))
        total, reached, flows = sum(put.volume_m3 for put in mine), 0.0, []
        for put in mine:
            share = put.volume_m3 / total
            flows.append(Flow(reached, reached + share, put.from_min, put.to_min))
            reached += share
        found[number] = tuple(flows)
    return found


def waits_of(courses: dict[int, Course], older_row: Ints, newer_row: Ints) -> Waits:
    """Of pairs of rows. Within one row nothing waits."""
    pairs, which = np.unique(np.column_stack([older_row, newer_row]), axis=0, return_inverse=True)
    found = np.array([_longest(courses[older], courses[newer]) for older, newer in pairs.tolist()]).reshape(-1, 3)
    wait, since, covered = found[which.reshape(-1)].T
    return Waits(wait, since, covered)


def _longest(older: Course, newer: Course) -> tuple[float, float, float]:
    """Wait, since when, until when."""
    if len(older) == 1 and len(newer) == 1:
        one, other = older[0], newer[0]
        begins, stops = other.from_min - one.from_min, other.to_min - one.to_min
        return (begins, one.from_min, other.from_min) if begins > stops else (stops, one.to_min, other.to_min)
    ends = sorted({0.0, 1.0, *(flow.to_share for flow in (*older[:-1], *newer[:-1]))})
    best = (-np.inf, 0.0, 0.0)
    first = second = 0
    for low, high in pairwise(ends):
        if high - low <= NOISE:
            continue
        middle = (low + high) / 2
        while older[first].to_share < middle and first < len(older) - 1:
            first += 1
        while newer[second].to_share < middle and second < len(newer) - 1:
            second += 1
        for share in (low, high):
            since, covered = older[first].at(share), newer[second].at(share)
            best = max(best, (covered - since, since, covered))
    return best
