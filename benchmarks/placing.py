"""The pour simulator against the same model as processes on a general-purpose discrete-event library, same draws."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

import workloads
from benchmarks.measure import Measure, best_seconds
from process_pour import Pour
from wetfront.placing.draws import hashed_draws
from wetfront.placing.simulate import simulate, trace
from workloads import P1, P2


def run() -> Iterator[Measure]:
    """Replications a second on P1 and P2, their ratios to the baseline, and the deviation found in the same run."""
    for name, load, ours, theirs in (("P1", P1, 40, 4), ("P2", P2, 8, 1)):
        model, draws = workloads.pour(load, 1), load.draws(max(ours, theirs))
        twin = ours / best_seconds(lambda m=model, d=draws, n=ours: simulate(m, d, slice(0, n)))
        yield Measure(f"{name}: plain Python twin", twin, "replications/s")
        for whole, what in ((False, "loads and cells only"), (True, "joints and finishing too, in plain Python")):
            seconds = best_seconds(lambda m=model, d=draws, n=theirs, w=whole: _by_processes(m, d, n, w), repeats=3)
            yield Measure(f"{name}: processes", theirs / seconds, "replications/s", what)
            yield Measure(f"{name}: twin over processes", twin * seconds / theirs, "times", what)
        yield Measure(f"{name}: largest deviation", _deviation(model, draws), "min", "must be under 1e-9")
    yield Measure("hashed draws of P1, 1,000 replications", best_seconds(_thousand_hashed), "s")
    yield from _small_slab()


def _by_processes(model, draws, replications: int, whole: bool) -> None:
    for replication in range(replications):
        pour = Pour(model, draws, replication).run()
        if whole:
            pour.joints()
            pour.finishing()


def _deviation(model, draws) -> float:
    pour, found = Pour(model, draws, 0).run(), trace(model, draws, 0)
    margins, _ = pour.joints()
    ends = [strip[3] for strip in pour.finishing()]
    return float(
        max(
            np.abs(found.cell_placed_min - np.array(pour.cell_time)).max(),
            np.abs(found.joint_set_margin_min - np.array(margins)).max(),
            np.abs(found.strip_end_min - np.array(ends)).max(),
        )
    )


def _thousand_hashed() -> None:
    hashed_draws(1, 1000, P1.loads + 40, P1.nx)


def _small_slab() -> Iterator[Measure]:
    """The size that a plan search simulates most: one layer, 864 cells of 0.25 m³, 27 loads."""
    slab = replace(P1, nx=36, ny=24, layers=1, thickness_m=0.25, loads=27)
    model, draws = workloads.pour(slab, 0), slab.draws(40)
    seconds = best_seconds(lambda: simulate(model, draws)) / 40
    yield Measure("slab of 216 m³, 864 cells, 27 loads", 1e3 * seconds, "ms/replication")
