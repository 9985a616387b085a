"""The compiled core: goals G1 to G6 and G14, with the accuracy checks in the same run."""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path

import numpy as np

import workloads
from benchmarks import by_processes
from benchmarks.measure import Measure, best_seconds
from wetfront.placing.core.library import core_name
from wetfront.placing.core.prepared import PreparedPours, simulate
from wetfront.placing.draws import draws_from_generator
from wetfront.placing.model import PourModel, Replications, Supply
from wetfront.placing.seeded import SeededDraws
from wetfront.placing.simulate import simulate as simulate_plain
from workloads import P1, P2

THREADS = 2
REPEATS = 7
OUTPUTS = (
    *("end_of_pour_min", "longest_wait_min", "longest_gap_min", "least_set_margin_min"),
    *("cold_joint_area_m2", "waste_m3", "finishing_end_min", "late_strips"),
)
"""Those of the workloads' definition, in the order of the baseline."""
ROUNDS = ((12, 500), (40, 120), (150, 30), (500, 1))
"""Replications, and candidates kept."""
BEST_CANDIDATE, BEST_SCORE = 861, 63.290594


def run() -> Iterator[Measure]:
    """Deviations first: a ratio counts only where both sides agree."""
    if core_name() != "compiled":
        raise SystemExit("the compiled core is not built: run `make core`")
    for name, load, ours, theirs in (("P1", P1, 20_000, 20), ("P2", P2, 2_000, 3)):
        yield from _accuracy(name, load)
        yield from _ratios(name, load, ours, theirs)
    yield from _million()
    yield from _search()
    yield from _start()


def _accuracy(name: str, load: workloads.Workload) -> Iterator[Measure]:
    draws = load.draws(500).part(slice(0, 40 if load is P1 else 8))
    twin = processes = 0.0
    for order in (0, 1, 2):
        model = workloads.pour(load, order)
        got, expected = simulate(model, draws), simulate_plain(model, draws)
        for column in fields(Replications):
            one, other = getattr(got, column.name), getattr(expected, column.name)
            both = np.isfinite(other)
            assert np.array_equal(one[~both], other[~both])
            twin = max(twin, float(np.abs(one[both] - other[both]).max(initial=0.0)))
        inputs = by_processes.Inputs(model, draws)
        for row in range(4):
            by_process = by_processes.Pour(inputs, row).run()
            figures = [float(getattr(got, output)[row]) for output in OUTPUTS]
            processes = max(processes, float(np.abs(np.array(figures) - by_process).max()))
    yield Measure(f"G1 {name}: deviation from the plain twin, all outputs", twin, "largest", "must be under 1e-9")
    yield Measure(f"G1 {name}: deviation from the process-style baseline", processes, "largest", "must be under 1e-9")
    assert max(twin, processes) < 1e-9


def _ratios(name: str, load: workloads.Workload, ours: int, theirs: int) -> Iterator[Measure]:
    model = workloads.pour(load, 1)
    inputs = by_processes.Inputs(model, load.draws(theirs))
    baseline = best_seconds(lambda: [by_processes.Pour(inputs, row).run() for row in range(theirs)], 5) / theirs
    yield Measure(f"{name}: process-style baseline", 1e3 * baseline, "ms/replication")
    worked = _processor_seconds(lambda: [by_processes.Pour(inputs, row).run() for row in range(theirs)]) / theirs
    yield Measure(f"{name}: the baseline by processor time", 1e3 * worked, "ms/replication")
    fed, made = load.draws(ours), _seeded(load, ours)
    for goal, draws, what in (("G2" if load is P1 else "G4", fed, "draws fed in"), ("G3", made, "draws made inside")):
        seconds = best_seconds(lambda d=draws: simulate(model, d, threads=THREADS), REPEATS) / ours
        yield Measure(f"{goal} {name}: core", 1e6 * seconds, "µs/replication", what)
        yield Measure(f"{goal} {name}: core over the baseline", baseline / seconds, "times", what)
        alone = _processor_seconds(lambda d=draws: simulate(model, d)) / ours
        yield Measure(f"{goal} {name}: the same by processor time, one thread", worked / alone, "times", what)


def _processor_seconds(work: Callable[[], object]) -> float:
    """Least processor time of several runs: what a busy machine takes away does not count."""
    seconds = []
    for _ in range(REPEATS):
        begin = time.process_time()
        work()
        seconds.append(time.process_time() - begin)
    return min(seconds)


def _seeded(load: workloads.Workload, count: int) -> SeededDraws:
    return SeededDraws(seed=1, count=count, loads_count=load.loads + 40, strips_count=load.nx)


def _million() -> Iterator[Measure]:
    model, draws = workloads.pour(P1, 1), _seeded(P1, 1_000_000)
    outcome = simulate(model, draws, threads=THREADS)
    end, cold = outcome.end_of_pour_min.mean(), (outcome.cold_joint_area_m2 > 0).mean()
    assert 918.9 < end < 919.5 and 0.157 < cold < 0.162, (end, cold)
    seconds = best_seconds(lambda: simulate(model, draws, threads=THREADS), 5)
    yield Measure("G5 a million replications of P1", seconds, "s", f"mean end {end:.2f} min, P(cold joint) {cold:.4f}")


def candidates() -> list:
    """The 2,000 candidates of the search workload S1 as models; parts that they share are the same objects."""
    generator = np.random.default_rng(1)
    trucks = generator.integers(4, 14, 2000)
    interval = 0.5 * generator.integers(16, 35, 2000)
    order = generator.integers(0, 3, 2000)
    begin = 30.0 * generator.integers(10, 33, 2000)
    bases = [workloads.pour(P1, number) for number in range(3)]
    parts = [{column.name: getattr(base, column.name) for column in fields(base)} for base in bases]
    plants = {n: (replace(bases[0].supply.plants[0], trucks_count=n),) for n in range(4, 14)}
    load_m3 = bases[0].supply.load_m3
    return [
        PourModel(
            **parts[of_order]
            | {"supply": Supply(plants=plants[n], load_m3=load_m3, interval_min=minutes, first_batching_min=start)}
        )
        for n, minutes, of_order, start in zip(
            trucks.tolist(), interval.tolist(), order.tolist(), begin.tolist(), strict=True
        )
    ]


def race(draws) -> tuple[int, float]:
    """The winner of S1 by racing, and its score on all replications."""
    models = candidates()
    prepared = PreparedPours(models)
    start = np.array([model.supply.first_batching_min for model in models])
    trucks = np.array([model.supply.plants[0].trucks_count for model in models])
    running, scores, before = np.arange(len(models)), np.zeros(len(models)), 0
    for replications, kept in ROUNDS:
        more = prepared.simulate(draws, slice(before, replications), which=running.tolist(), threads=THREADS)
        new = _scores(more, start[running], trucks[running])
        scores[running] = (scores[running] * before + new * (replications - before)) / replications
        running = running[np.argsort(scores[running], kind="stable")[:kept]]
        before = replications
    return int(running[0]), float(scores[running[0]])


def search_all(draws) -> tuple[int, float]:
    """The winner of S1 on all replications of all candidates."""
    models = candidates()
    start = np.array([model.supply.first_batching_min for model in models])
    trucks = np.array([model.supply.plants[0].trucks_count for model in models])
    scores = _scores(PreparedPours(models).simulate(draws, threads=THREADS), start, trucks)
    return int(scores.argmin()), float(scores.min())


def _scores(outcomes, start, trucks) -> np.ndarray:
    mean = {name: outcomes.column(name).mean(axis=1) for name in ("end_of_pour_min", "cold_joint_area_m2", "waste_m3")}
    hours = (mean["end_of_pour_min"] - start) / 60
    return 4 * hours + 2 * mean["cold_joint_area_m2"] + 1.5 * mean["waste_m3"] + 2 * trucks


def _search() -> Iterator[Measure]:
    draws = draws_from_generator(21, 500, P1.loads, P1.nx)
    for by in (race, search_all):
        winner, score = by(draws)
        assert winner == BEST_CANDIDATE and abs(score - BEST_SCORE) < 1e-6, (by.__name__, winner, score)
    found = f"candidate {BEST_CANDIDATE}, score {BEST_SCORE}, by both"
    yield Measure("G6 S1 by racing", best_seconds(lambda: race(draws), REPEATS), "s", found)
    yield Measure("G6 S1 in full, 1,000,000 replications", best_seconds(lambda: search_all(draws), 2), "s")


_FIRST_RESULT = """
import sys
sys.path.insert(0, {tests!r})
import workloads
from wetfront.placing.core.library import core_name
from wetfront.placing.core.prepared import simulate
from wetfront.placing.seeded import SeededDraws
assert core_name() == "compiled"
simulate(workloads.pour(workloads.P1, 1), SeededDraws(seed=1, count=100, loads_count=78, strips_count=30))
"""


def _start() -> Iterator[Measure]:
    program = _FIRST_RESULT.format(tests=str(Path(workloads.__file__).parent))
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"PYTHONPYCACHEPREFIX": folder}
        first = best_seconds(lambda: _new_process(program, environment), 1)
    again = best_seconds(lambda: _new_process(program, dict(os.environ)), REPEATS)
    bare = best_seconds(lambda: _new_process("import numpy", dict(os.environ)), REPEATS)
    yield Measure("G14 start of a process to the first result", again, "s", f"of it Python and numpy {bare:.3f} s")
    yield Measure("G14 the very first, nothing cached", first, "s", "byte code of all modules written as well")


def _new_process(program: str, environment: dict[str, str]) -> None:
    subprocess.run([sys.executable, "-c", program], check=True, env=environment)
