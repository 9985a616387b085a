"""The compiled core under sanitisers, as a program of its own: random, degenerate and spoilt pours.

Without a system compiler that has the address sanitiser, the packaged one watches for undefined behaviour alone.
"""

import random
import subprocess
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import workloads
from core_files import FAILURE, driver, driver_input, run_driver, sanitised_build
from seen_pours import seen_at
from small_pours import extensions, small_pour
from wetfront.placing.chance import chance_of
from wetfront.placing.core.library import load as core
from wetfront.placing.core.prepared import simulate
from wetfront.placing.draws import hashed_draws
from wetfront.placing.seeded import SeededDraws
from wetfront.placing.simulate import trace
from workloads import P1, P2

COMPILER, FLAGS, WATCHED = sanitised_build()
FUZZ_SECONDS = 6.0


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    return driver(COMPILER, FLAGS, tmp_path_factory.mktemp("driver"))


def clean(done) -> bytes:
    assert done.returncode == 0, done.stderr.decode(errors="replace")[-2000:]
    assert not done.stderr, done.stderr.decode(errors="replace")[-2000:]
    return done.stdout


def ends(output: bytes, count: int) -> np.ndarray:
    code, *_ = FAILURE.unpack_from(output)
    assert code == 0
    return np.frombuffer(output, dtype=np.float64, count=count, offset=FAILURE.size)


BEYOND_THE_END = "#include <stdlib.h>\nint main(int n, char **v) { int *a = malloc(4); return a[n]; }"
TOO_LARGE = "int main(int n, char **v) { return (2147483647 + n) < 0; }"


def test_the_sanitisers_do_see_a_defect(tmp_path):
    """Else the other tests here could not fail."""
    source, program = tmp_path / "defect.c", tmp_path / "defect"
    source.write_text(TOO_LARGE if WATCHED == "undefined behaviour" else BEYOND_THE_END)
    subprocess.run([*COMPILER, "-O1", *FLAGS, str(source), "-o", str(program)], check=True, capture_output=True)
    done = subprocess.run([str(program)], capture_output=True)
    assert done.returncode != 0
    assert any(word in done.stderr for word in (b"runtime error", b"AddressSanitizer", b"panic"))


@pytest.mark.parametrize("load", [P1, P2], ids=["P1", "P2"])
@pytest.mark.parametrize("order", [0, 1, 2])
def test_workloads_run_clean_and_give_what_the_library_gives(program, tmp_path, load, order):
    model, count = workloads.pour(load, order), 20 if load is P1 else 4
    seeded = SeededDraws(seed=9, count=count, loads_count=load.loads + 40, strips_count=load.nx)
    for draws in (load.draws(count), seeded):
        for level in range(core().level + 1):
            output = clean(run_driver(program, driver_input(model, draws, 0, count, level=level), tmp_path))
            assert np.allclose(ends(output, count), simulate(model, draws).end_of_pour_min, rtol=0, atol=1e-9)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32), on=extensions, loads=st.integers(1, 60))
def test_random_pours_run_clean(program, tmp_path, seed, on, loads):
    """Also those that run out of loads."""
    model = small_pour(seed, on)
    draws = hashed_draws(seed, 3, loads, len(model.finishing.strip_min))
    clean(run_driver(program, driver_input(model, draws, 0, 3), tmp_path))


def _degenerate():
    """One cell, one load, no strips, tiny and huge numbers: what is allowed at its edges."""
    model = small_pour(4, {"panels", "bans", "breaks"})
    one = replace(
        model,
        cells=replace(
            model.cells,
            **{
                name: getattr(model.cells, name)[:1]
                for name in ("volume_m3", "rate_m3_per_h", "strip", "move_min", "panel", "rise_m", "lattice_cell")
            },
        ),
        joints=replace(
            model.joints,
            **{name: getattr(model.joints, name)[:0] for name in ("first", "later", "area_m2", "edge")},
            edge_names=(),
        ),
        finishing=replace(model.finishing, strip_min=model.finishing.strip_min[:0]),
        panel_names=(),
    )
    one = replace(one, cells=replace(one.cells, strip=np.array([-1]), panel=np.array([-1])))
    yield "one cell", one
    yield "one big load", replace(model, supply=replace(model.supply, load_m3=1e6))
    yield "tiny loads", replace(model, supply=replace(model.supply, load_m3=1e-3))
    yield (
        "many trucks and places",
        replace(
            model,
            supply=replace(model.supply, plants=(replace(model.supply.plants[0], trucks_count=10**9),)),
            site=replace(model.site, discharge_places_count=10**9),
            finishing=replace(model.finishing, crews_count=10**9),
        ),
    )
    yield "no time between loads", replace(model, supply=replace(model.supply, interval_min=0.0, bans=()))
    yield "always banned", replace(model, supply=replace(model.supply, bans=((0.0, np.inf),)))
    yield "before midnight", replace(model, supply=replace(model.supply, first_batching_min=-5000.0, bans=()))
    yield "two points of clock", replace(model, concrete=replace(model.concrete, clock_min=np.array([0.0, 1.0])))
    yield "all refused", replace(model, acceptance=replace(model.acceptance, longest_age_min=1e-9))


@pytest.mark.parametrize(
    ("name", "model"), list(_degenerate()), ids=lambda value: value if isinstance(value, str) else ""
)
def test_degenerate_pours_run_clean(program, tmp_path, name, model):
    draws = hashed_draws(1, 2, 50, len(model.finishing.strip_min))
    clean(run_driver(program, driver_input(model, draws, 0, 2), tmp_path))


def test_spoilt_draws_run_clean(program, tmp_path):
    """No number in a table of draws leads out of bounds: infinite, not a number, huge."""
    rng = random.Random(1)
    until = time.monotonic() + FUZZ_SECONDS
    tried = 0
    while time.monotonic() < until:
        seed = rng.randrange(2**32)
        on = set(
            rng.sample(sorted(("lead", "wastage", "panels", "evaporation", "age counts", "cooling on the way")), 2)
        )
        model = small_pour(seed, on)
        draws = hashed_draws(seed, 2, 60, len(model.finishing.strip_min))
        for name in ("batching_z", "haul_z", "speed_z", "set_z", "up_e", "repair_z", "finishing_z", "wastage_z"):
            column = getattr(draws, name)
            for _ in range(rng.randrange(3)):
                column.flat[rng.randrange(column.size)] = rng.choice(
                    [np.nan, np.inf, -np.inf, 1e300, -1e300, 0.0, 40.0]
                )
        clean(run_driver(program, driver_input(model, draws, 0, 2), tmp_path))
        tried += 1
    assert tried >= 20


def test_pours_that_have_begun_run_clean(program, tmp_path):
    rng = random.Random(4)
    until = time.monotonic() + FUZZ_SECONDS
    tried = 0
    while time.monotonic() < until:
        seed = rng.randrange(2**32)
        on = set(
            rng.sample(("lead", "wastage", "panels", "evaporation", "age counts", "two plants", "call-off steps"), 3)
        )
        model = replace(small_pour(seed, on), day_share=0.3)
        draws = hashed_draws(seed, 2, 80, len(model.finishing.strip_min))
        whole = trace(model, draws, 0)
        now = rng.uniform(whole.loads.batching_min.min(), whole.outcome.end_of_pour_min[0] + 10)
        seen = replace(model, seen=seen_at(model, whole, now))
        clean(run_driver(program, driver_input(seen, draws, 0, 2), tmp_path))
        clean(run_driver(program, driver_input(seen, chance_of(model, draws), 0, 2), tmp_path))
        tried += 1
    assert tried >= 20


def test_a_file_that_ends_early_is_refused_not_read_on(program, tmp_path):
    content = driver_input(small_pour(1, set()), hashed_draws(1, 1, 60, 6), 0, 1)
    rng = random.Random(2)
    for _ in range(30):
        done = run_driver(program, content[: rng.randrange(len(content))], tmp_path)
        assert done.returncode == 4
