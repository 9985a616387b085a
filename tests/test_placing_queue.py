"""The simulator against closed forms of queueing theory, in the corners of the model where they hold."""

from dataclasses import replace
from math import factorial

import numpy as np
import pytest

from wetfront.placing.clock import clock_table
from wetfront.placing.draws import hashed_draws
from wetfront.placing.model import (
    Acceptance,
    Cells,
    Concrete,
    FinishingWork,
    Joints,
    Lognormal,
    PlantSupply,
    PourModel,
    SiteWork,
    Supply,
)
from wetfront.placing.simulate import trace

NEVER = 1e12


def one_cell_a_load(loads, *, trucks, interval_min, discharge_min, batching_min, haul_min, return_min, wash_min=0.0):
    """A pour in which nothing breaks down, positions or joins: load k is cell k, one discharge place, no age limit."""
    days = int(np.ceil(loads * (interval_min + discharge_min + batching_min + haul_min + return_min) / 1440)) + 2
    nothing = np.zeros(0, dtype=np.int64)
    return PourModel(
        cells=Cells(
            volume_m3=np.ones(loads),
            rate_m3_per_h=np.full(loads, 60.0 / discharge_min),
            strip=np.full(loads, -1),
            move_min=np.zeros(loads),
            panel=np.full(loads, -1),
            rise_m=np.zeros(loads),
            lattice_cell=np.arange(loads),
        ),
        joints=Joints(first=nothing, later=nothing, area_m2=np.zeros(0), edge=nothing, edge_names=()),
        supply=Supply(
            plants=(
                PlantSupply(
                    name="plant",
                    trucks_count=trucks,
                    batching_min=Lognormal(batching_min),
                    haul_min=Lognormal(haul_min),
                    return_min=Lognormal(return_min),
                ),
            ),
            load_m3=1.0,
            interval_min=interval_min,
            first_batching_min=0.0,
        ),
        site=SiteWork(
            discharge_places_count=1,
            position_min=0.0,
            wash_min=wash_min,
            speed=Lognormal(1.0),
            pumping_min_between_stops=NEVER,
            repair_min=Lognormal(1.0),
        ),
        acceptance=Acceptance(),
        concrete=Concrete(clock_min=clock_table(np.full(144 * days, 20.0), 10.0, 0.0), set_limit_min=NEVER),
        finishing=FinishingWork(strip_min=np.zeros(0)),
    )


@pytest.mark.parametrize(("interval", "discharge"), [(12.0, 10.0), (10.0, 10.0), (10.0, 13.0)])
def test_regular_arrivals_and_equal_service_wait_as_they_must(interval, discharge):
    """D/D/1, exact: load k waits k × (service − interval) when that is positive, else not at all."""
    loads = 25
    pour = one_cell_a_load(
        loads, trucks=loads, interval_min=interval, discharge_min=discharge, batching_min=5, haul_min=20, return_min=20
    )
    table = trace(pour, hashed_draws(1, 1, loads, 0), 0).loads
    expected = np.arange(loads) * max(0.0, discharge - interval)
    assert np.allclose(table.start_min - table.arrival_min, expected, rtol=0, atol=1e-9)
    assert table.end_min[-1] == pytest.approx(25 + max(interval, discharge) * (loads - 1) + discharge, abs=1e-9)


@pytest.mark.parametrize("trucks", [1, 2, 3, 4, 6])
def test_regular_cycle_delivers_at_the_slower_of_trucks_and_pump(trucks):
    """Deterministic closed cycle, exact: steady headway = max(discharge, round trip / trucks)."""
    pour = one_cell_a_load(
        60, trucks=trucks, interval_min=0, discharge_min=12, batching_min=2, haul_min=20, return_min=18, wash_min=4
    )
    ends = trace(pour, hashed_draws(1, 1, 60, 0), 0).loads.end_min
    cycle = 2 + 20 + 12 + 4 + 18
    assert (ends[-1] - ends[-1 - 6 * trucks]) / (6 * trucks) == pytest.approx(max(12, cycle / trucks), abs=1e-9)


ROOT_LN2 = np.sqrt(np.log(2))


def z_of_exponential(seed, shape):
    """Draws that make a lognormal duration with cv = 1 exponential with the same mean.

    That lognormal is mean × exp(√ln2 z) / √2; it is mean × E when z = ln(√2 E) / √ln2.
    """
    return np.log(np.sqrt(2) * np.random.default_rng(seed).standard_exponential(shape)) / ROOT_LN2


def z_of_exponential_work(seed, shape):
    """Draws that make 1 / speed exponential with mean 1, for a speed with mean 1 and cv = 1."""
    return ROOT_LN2 - z_of_exponential(seed, shape)


def steady_waits(is_exponential, service_cv, utilisation, *, seed, loads=1500, replications=24, warm_up=300):
    """Mean wait in each replication of a pump with Poisson arrivals (mean 10 min); service exponential or lognormal."""
    discharge = 10.0 * utilisation
    pour = one_cell_a_load(
        loads, trucks=loads, interval_min=0, discharge_min=discharge, batching_min=10, haul_min=1, return_min=1
    )
    plant = replace(pour.supply.plants[0], batching_min=Lognormal(10.0, 1.0))
    pour = replace(pour, supply=replace(pour.supply, plants=(plant,)))
    draws = hashed_draws(seed, replications, loads, 0)
    draws = replace(draws, batching_z=z_of_exponential(seed, (replications, loads)))
    if is_exponential:
        draws = replace(draws, speed_z=z_of_exponential_work(seed + 1, (replications, loads)))
        pour = replace(pour, site=replace(pour.site, speed=Lognormal(1.0, 1.0)))
    elif service_cv > 0:
        # 1 / speed is lognormal with the same cv and mean (1 + cv²) / mean of speed.
        pour = replace(pour, site=replace(pour.site, speed=Lognormal(1.0 + service_cv**2, service_cv)))
    waits = []
    for replication in range(replications):
        table = trace(pour, draws, replication).loads
        waits.append((table.start_min - table.arrival_min)[warm_up:].mean())
    return np.array(waits)


@pytest.mark.parametrize(
    ("exponential", "service_cv", "utilisation"),
    [(True, 1.0, 0.5), (True, 1.0, 0.7), (False, 0.0, 0.7), (False, 0.3, 0.6)],
    ids=["M/M/1 at 0.5", "M/M/1 at 0.7", "M/D/1 at 0.7", "M/G/1 at 0.6"],
)
def test_mean_wait_is_that_of_pollaczek_and_khinchine(exponential, service_cv, utilisation):
    """M/G/1: Wq = λ E[S²] / (2 (1 − ρ)); Pollaczek 1930, Khinchine 1932, from memory. Within 3.5 standard errors.

    Holds here with one discharge place, no positioning, as many trucks as loads, the plant as the source of Poisson
    arrivals (equal hauls, exponential batching), no age limit and no breakdowns, after the start has died away.
    """
    waits = steady_waits(exponential, service_cv, utilisation, seed=7)
    service = 10.0 * utilisation
    expected = 0.1 * service**2 * (1 + service_cv**2) / (2 * (1 - utilisation))
    standard_error = waits.std(ddof=1) / np.sqrt(len(waits))
    assert standard_error < 0.08 * expected
    assert abs(waits.mean() - expected) < 3.5 * standard_error


@pytest.mark.parametrize("trucks", [2, 4, 7])
def test_few_trucks_deliver_as_machines_and_a_repairman(trucks):
    """Finite source M/M/1//N: a truck is away exponentially long (mean 40 min), the pump takes exponentially long (8).

    P0 = 1 / Σ N!/(N−n)! ρⁿ and deliveries per minute = (1 − P0)/8 (machine-repair model, Palm 1943, from memory). The
    way back carries the whole time away; batching and haul are made negligible. Within 3.5 standard errors.
    """
    loads, replications, away, service = 900, 24, 40.0, 8.0
    pour = one_cell_a_load(
        loads, trucks=trucks, interval_min=0, discharge_min=service, batching_min=1e-6, haul_min=1e-6, return_min=away
    )
    plant = replace(pour.supply.plants[0], return_min=Lognormal(away, 1.0))
    pour = replace(
        pour,
        supply=replace(pour.supply, plants=(plant,)),
        site=replace(pour.site, speed=Lognormal(1.0, 1.0)),
    )
    draws = replace(
        hashed_draws(3, replications, loads, 0),
        return_z=z_of_exponential(31, (replications, loads)),
        speed_z=z_of_exponential_work(32, (replications, loads)),
    )
    ratio = service / away
    idle = 1 / sum(factorial(trucks) / factorial(trucks - n) * ratio**n for n in range(trucks + 1))
    rates = []
    for replication in range(replications):
        ends = np.sort(trace(pour, draws, replication).loads.end_min)
        rates.append((len(ends) - 201) / (ends[-1] - ends[200]))
    rates = np.array(rates)
    standard_error = rates.std(ddof=1) / np.sqrt(replications)
    assert standard_error < 0.02 * rates.mean()
    assert abs(rates.mean() - (1 - idle) / service) < 3.5 * standard_error


def test_exponential_times_are_what_the_draws_make_of_them():
    """The detour through the lognormal gives batching times and work that are the exponential numbers themselves."""
    exponential = np.random.default_rng(5).standard_exponential(500)
    times = 10 * np.exp(-np.log(2) / 2 + ROOT_LN2 * z_of_exponential(5, 500))
    speed = np.exp(-np.log(2) / 2 + ROOT_LN2 * z_of_exponential_work(5, 500))
    assert np.allclose(times, 10 * exponential, rtol=1e-12)
    assert np.allclose(1 / speed, exponential, rtol=1e-12)
