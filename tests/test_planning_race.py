"""The race: same winner as a full search, same for any workers, and laws that any search must obey."""

from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planned import QUICK, SEED, checked, situation, small_slab, wall_panel
from wetfront.planning.candidates import logistics, neighbours, placing_orders, start_times
from wetfront.planning.judge import risk_limits
from wetfront.planning.means import plain_means
from wetfront.planning.race import Sample, race, ranked, violation
from wetfront.planning.search import Bench, full_search, race_of, search
from wetfront.planning.situation import Situation


@pytest.fixture(scope="module")
def slab(tmp_path_factory: pytest.TempPathFactory) -> Situation:
    return situation(checked(tmp_path_factory.mktemp("slab"), small_slab()))


@pytest.fixture(scope="module")
def wall(tmp_path_factory: pytest.TempPathFactory) -> Situation:
    return situation(checked(tmp_path_factory.mktemp("wall"), wall_panel()))


def made_up(seed: int, candidates: int, replications: int) -> tuple[np.ndarray, np.ndarray]:
    """Costs and failures of invented candidates on common draws: alike inside a replication, apart in the mean."""
    draws = np.random.default_rng(seed)
    common = draws.normal(0, 100, (1, replications))
    cost = 1000 + 30 * draws.permutation(candidates)[:, None] + common + draws.normal(0, 10, (candidates, replications))
    failed = draws.random((candidates, replications, 2)) < draws.random((candidates, 1, 2)) * 0.2
    return cost, failed.astype(float)


def evaluator(cost: np.ndarray, failed: np.ndarray):
    def evaluate(candidates, first, count):
        return [Sample(cost[c, first : first + count], failed[c, first : first + count]) for c in candidates]

    return evaluate


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_race_on_common_draws_finds_the_best_of_all(seed):
    """Second method: every candidate on every replication. Costs differ by more than their own noise."""
    cost, failed = made_up(seed, 40, 200)
    limits = np.array([1.0, 1.0])
    found = race(40, evaluator(cost, failed), limits, ((8, 20), (40, 6), (200, 2)))
    assert found.winner == int(cost.mean(axis=1).argmin())
    assert found.total_replications_count == 40 * 8 + 20 * 32 + 6 * 160


def test_race_counts_a_limit_before_money():
    cost = np.array([[100.0] * 50, [200.0] * 50])
    failed = np.zeros((2, 50, 1))
    failed[0, :10] = 1.0
    found = race(2, evaluator(cost, failed), np.array([0.1]), ((50, 2),))
    assert found.winner == 1
    assert violation(found.samples[0], np.array([0.1])) == pytest.approx(0.1)


@given(st.integers(0, 10_000), st.floats(0.0, 0.3), st.floats(0.0, 0.3))
@settings(max_examples=40, deadline=None)
def test_tighter_limit_is_never_cheaper(seed, one, other):
    """Law: what a tighter limit still permits, the looser one permits as well."""
    cost, failed = made_up(seed, 20, 60)
    samples = {c: Sample(cost[c], failed[c]) for c in range(20)}
    tight, loose = np.full(2, min(one, other)), np.full(2, max(one, other))
    best_tight, best_loose = ranked(samples, tight)[0], ranked(samples, loose)[0]
    if violation(samples[best_tight], tight) == 0:
        assert violation(samples[best_loose], loose) == 0
        assert samples[best_loose].cost.mean() <= samples[best_tight].cost.mean() + 1e-9


@given(st.integers(0, 10_000), st.integers(1, 19))
@settings(max_examples=40, deadline=None)
def test_more_choices_are_never_worse(seed, fewer):
    cost, failed = made_up(seed, 20, 60)
    limits = np.array([0.1, 0.1])
    samples = {c: Sample(cost[c], failed[c]) for c in range(20)}
    some = {c: samples[c] for c in range(fewer)}
    one, other = ranked(some, limits)[0], ranked(samples, limits)[0]
    before = (round(violation(samples[one], limits), 9), samples[one].cost.mean())
    after = (round(violation(samples[other], limits), 9), samples[other].cost.mean())
    assert after <= before


def test_standard_error_of_none_seen_is_not_none():
    sample = Sample(np.ones(100), np.zeros((100, 1)))
    assert 0.01 < sample.standard_errors()[0] < 0.03


def test_standard_error_of_a_probability_that_only_varies_is_that_of_its_mean():
    chance = np.linspace(0.1, 0.3, 50)[:, None]
    sample = Sample(np.ones(50), chance)
    assert sample.standard_errors()[0] == pytest.approx(chance.std() / np.sqrt(50))


def test_racing_winner_equals_full_search_on_a_small_pour(slab):
    limits = risk_limits(slab.sheet.risk_limits)
    candidates = [
        candidate
        for order in placing_orders(slab)[:1]
        for start in start_times(slab, 32.0)[:2]
        for candidate in logistics(slab, [order], start, [slab.own_means])
    ]
    assert len(candidates) >= 12
    bench = Bench(slab, SEED)
    raced = race_of(bench, candidates, limits, ((10, 8), (40, 4), (120, 2)))
    best = full_search(Bench(slab, SEED), candidates, limits, 120)
    one, other = bench.samples[candidates[raced.winner]], bench.sample([candidates[best]], 0, 120)[0]
    assert violation(one, limits) == violation(other, limits) == 0
    # Two candidates may do the very same: then either may win.
    assert one.cost.mean() == pytest.approx(other.cost.mean(), abs=1e-9)


def test_search_gives_the_same_on_no_pool_and_on_two_workers(wall):
    alone = search(wall, Bench(wall, SEED), QUICK)
    with ProcessPoolExecutor(2) as pool:
        together = search(wall, Bench(wall, SEED, pool), QUICK)
    assert alone is not None and together is not None
    assert alone.ranking == together.ranking
    assert np.array_equal(alone.sample.cost, together.sample.cost)
    assert alone.race.chance_best == together.race.chance_best


def test_search_tells_how_far_it_is(wall):
    told: list[tuple[int, int, str]] = []
    search(wall, Bench(wall, SEED, progress=lambda done, total, text: told.append((done, total, text))), QUICK)
    assert told and all(0 < done <= total for done, total, _ in told)
    assert [done for done, _, _ in told] == sorted(done for done, _, _ in told)


def test_no_candidate_is_faster_than_the_form_permits(wall):
    for candidate in logistics(wall, placing_orders(wall)[:1], 555.0, plain_means(wall)):
        for limit in wall.form_limits(candidate.mix_option):
            assert candidate.rate_m3_per_h <= limit.highest_rate_m3_per_h * (1 + 1e-9)


def test_neighbours_stay_inside_the_sheets_choices(wall):
    start = logistics(wall, placing_orders(wall)[:1], 555.0, plain_means(wall))[0]
    low, high = wall.start_between_min
    for step in neighbours(wall, start):
        assert low <= step.start_min <= high
        assert step.trucks_count == 3


def test_starts_lie_on_the_quarter_hour_but_for_the_earliest_and_the_pencilled_one(tmp_path: Path):
    tree = small_slab()
    del tree["choices"]["start_between_local"]
    there = situation(checked(tmp_path, tree))
    starts = start_times(there, 32.0)
    assert starts[0] == 425.0  # hours open at 07:00, five minutes to get into place
    assert 440.0 in starts  # pencilled 07:20
    assert all(start % 15 == 0 for start in starts if start not in (425.0, 440.0))
