"""A Dask cluster on this machine against this process alone: overhead of a task, and what a second worker brings."""

import os
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from functools import cache
from pathlib import Path

import numpy as np

import workloads
from benchmarks.measure import Measure, best_seconds
from clusters import machines
from wetfront.cli.cluster import cluster
from wetfront.placing.core.prepared import simulate
from wetfront.placing.draws import SPARE_LOADS_COUNT
from wetfront.placing.model import PourModel
from wetfront.placing.seeded import SeededDraws
from workloads import P1

EMPTY, PIECES = 64, 16
"""Empty tasks at once; pieces of a round, as the search cuts it."""
SIZES = (100, 400, 1_600, 12_800)
"""Replications of P1 in a piece."""


@cache
def pour() -> PourModel:
    """Made once in each process, so that pieces differ in their simulation alone."""
    return workloads.pour(P1, 1)


def piece(task: tuple[int, int]) -> np.ndarray:
    """A piece of a round: replications of P1 from a first one on."""
    first, count = task
    draws = SeededDraws(
        seed=11, count=count, loads_count=P1.loads + SPARE_LOADS_COUNT, strips_count=P1.nx, first_replication=first
    )
    return simulate(pour(), draws).end_of_pour_min


def run() -> Iterator[Measure]:
    """One worker first, then two on the same scheduler."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as folder, machines(Path(folder), workers=1) as made:
        begun = time.perf_counter()
        with cluster(made.address) as one:
            yield Measure(
                "opening the cluster and checking its worker", time.perf_counter() - begun, "s", f"{cores} cores"
            )
            seconds = best_seconds(lambda: list(one.map(abs, range(EMPTY)))) / EMPTY
            yield Measure("overhead of a task, 64 at once", 1e3 * seconds, "ms")
            seconds = best_seconds(lambda: list(one.map(abs, [-1])))
            yield Measure("overhead of a task on its own", 1e3 * seconds, "ms")
            alone = {size: best_seconds(lambda s=size: [piece(task) for task in pieces(s)], 3) for size in SIZES}
            single = {size: _seconds(one, size) for size in SIZES}
        made.start(1)
        with cluster(made.address) as two:
            for size in SIZES:
                both = _seconds(two, size)
                work = f"16 pieces of {size} replications, {1e3 * alone[size] / PIECES:.3g} ms each"
                yield Measure(f"1 worker against this process: {work}", alone[size] / single[size], "times as fast")
                yield Measure(f"2 workers against 1: {work}", single[size] / both, "times as fast")


def pieces(size: int) -> list[tuple[int, int]]:
    """The tasks of a round."""
    return [(number * size, size) for number in range(PIECES)]


def _seconds(executor: Executor, size: int) -> float:
    """Time of a round; its results have to be those of this process."""
    expected = [piece(task) for task in pieces(size)]
    assert all(np.array_equal(*pair) for pair in zip(executor.map(piece, pieces(size)), expected, strict=True))
    return best_seconds(lambda: list(executor.map(piece, pieces(size))), 3)
