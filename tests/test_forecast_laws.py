"""Laws of the forecast: an empty record is the plan, an event replaces its own draw alone, learning is exact."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_day import at, candidate, situation
from hidden_pours import after_load, draws_of, hidden_pour, record_at
from wetfront.forecast.levels import Level, below, beyond, drawn, level_after, normal_share, resampled
from wetfront.forecast.pour import forecast_from, forecaster
from wetfront.forecast.record import Record
from wetfront.forecast.under_way import under_way
from wetfront.placing.core.prepared import simulate
from wetfront.placing.draws import DAY_LEVELS
from wetfront.placing.model import Replications
from wetfront.placing.seeded import SeededDraws
from wetfront.placing.simulate import simulate as simulate_plain
from wetfront.placing.simulate import trace

MODEL = hidden_pour()
TRUTH, DRAWS = draws_of(MODEL, 99, 8), draws_of(MODEL, 5, 64)
NOTHING = Record(now_min=0.0, loads=(), stops=(), measured=(), called=(), ended_min=math.nan)


def same(one: Replications, other: Replications, tolerance: float = 0.0) -> bool:
    return all(
        np.allclose(getattr(one, column.name), getattr(other, column.name), rtol=0, atol=tolerance)
        for column in fields(Replications)
    )


def test_with_an_empty_record_the_forecast_is_the_plan():
    """The planner's own call, its seed and its replications: the same numbers."""
    by = forecaster(situation(), candidate(), 11, members_count=60)
    empty = replace(NOTHING, now_min=situation().day.minutes(at("05:00")))
    strips = len(by.model.finishing.strip_min)
    seeded = SeededDraws(seed=11, count=60, loads_count=by.draws.loads_count, strips_count=strips)
    found = forecast_from(by, empty).outcome
    planned = simulate(replace(by.model, watched=np.zeros(0, dtype=np.int64)), seeded)
    assert same(replace(found, watched_min=planned.watched_min), planned, 1e-9)


@settings(max_examples=25, deadline=None)
@given(which=st.integers(0, 7), loads=st.integers(1, 38))
def test_an_event_replaces_its_own_draw_and_no_other(which, loads):
    """Of what is still to come only what is under way is touched, and it lasts at least as long as it has."""
    pour = trace(MODEL, TRUTH, which)
    now = after_load(pour, loads) + 1.0
    one = under_way(replace(MODEL, day_share=0.0), DRAWS, record_at(MODEL, pour, now))
    plain = under_way(replace(MODEL, day_share=0.0), DRAWS, NOTHING)
    known = one.model.seen.loads_count
    later = slice(known + 6, None)
    for name in ("batching_min", "haul_min", "return_min", "speed", "set_factor", "finishing_min"):
        columns = slice(None) if name == "finishing_min" else later
        assert np.array_equal(getattr(one.chance, name)[:, columns], getattr(plain.chance, name)[:, columns]), name
    assert (one.chance.haul_min[:, known:] >= plain.chance.haul_min[:, known:] - 1e-9).all()


@settings(max_examples=25, deadline=None)
@given(which=st.integers(0, 7), loads=st.integers(1, 38), threads=st.sampled_from([1, 2, 3]))
def test_what_was_seen_has_no_spread_and_threads_change_no_bit(which, loads, threads):
    pour = trace(MODEL, TRUTH, which)
    now = after_load(pour, loads) + 1.0
    way = under_way(MODEL, DRAWS, record_at(MODEL, pour, now))
    full = way.model.seen.cells_count
    watched = replace(way.model, watched=np.arange(full))
    found = simulate(watched, way.chance, threads=threads)
    assert (found.watched_min == found.watched_min[0]).all()
    assert (found.end_of_pour_min >= np.nanmax(way.model.seen.end_min) - 1e-9).all()
    assert same(found, simulate(watched, way.chance))


@settings(max_examples=25, deadline=None)
@given(which=st.integers(0, 7), loads=st.integers(1, 37))
def test_volume_is_conserved(which, loads):
    """What was taken and what is still placed is what each member needs; delivered is that and the waste."""
    pour = trace(MODEL, TRUTH, which)
    way = under_way(MODEL, DRAWS, record_at(MODEL, pour, after_load(pour, loads) + 0.5))
    found = simulate(way.model, way.chance)
    lead = MODEL.site.priming_m3 + MODEL.site.line_content_m3
    assert found.placed_m3 == pytest.approx(np.maximum(way.needed_m3 - max(way.taken_m3, lead), 0), abs=1e-6)
    assert found.delivered_m3 == pytest.approx(max(way.taken_m3, lead) + found.placed_m3 + found.waste_m3, abs=1e-6)


def test_the_plain_simulator_forecasts_the_same():
    pour = trace(MODEL, TRUTH, 3)
    way = under_way(MODEL, DRAWS, record_at(MODEL, pour, after_load(pour, 12) + 3.0))
    some = way.chance.part(slice(0, 6))
    assert same(simulate(way.model, some), simulate_plain(way.model, some), 1e-9)


@settings(max_examples=40, deadline=None)
@given(
    share=st.floats(0.05, 0.95),
    observed=st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=40),
)
def test_a_level_is_the_exact_posterior(share, observed):
    """Against the posterior on a fine grid: prior times the likelihood of every observation."""
    level = level_after(observed, share)
    grid = np.linspace(-8, 8, 4001)
    spread = math.sqrt(1 - share)
    log = -(grid**2) / 2
    for value in observed:
        log = log - ((value - math.sqrt(share) * grid) / spread) ** 2 / 2
    weight = np.exp(log - log.max())
    mean = float((weight * grid).sum() / weight.sum())
    assert level.mean == pytest.approx(mean, abs=2e-3)
    assert level.deviation**2 == pytest.approx(float((weight * (grid - mean) ** 2).sum() / weight.sum()), abs=2e-3)


def test_the_levels_agree_with_a_particle_filter():
    """Workload C1 in small: 20,000 particles reweighted by every lognormal duration, never resampled."""
    share, rng = 0.4, np.random.default_rng(7)
    truth = 1.3
    seen = math.sqrt(share) * truth + math.sqrt(1 - share) * rng.standard_normal(25)
    particles = rng.standard_normal(20_000)
    log = np.zeros(len(particles))
    for value in seen:
        log -= (value - math.sqrt(share) * particles) ** 2 / (2 * (1 - share))
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = float(weight @ particles)
    level = level_after(seen.tolist(), share)
    assert level.mean == pytest.approx(mean, abs=0.03)
    assert level.deviation == pytest.approx(math.sqrt(float(weight @ (particles - mean) ** 2)), abs=0.02)


def test_nothing_seen_leaves_the_level_as_it_was_drawn():
    day_z = np.random.default_rng(1).standard_normal((5, len(DAY_LEVELS)))
    assert np.array_equal(drawn({name: Level() for name in DAY_LEVELS}, day_z), day_z)


@settings(max_examples=60, deadline=None)
@given(limit=st.floats(-4.0, 5.0))
def test_draws_beyond_a_limit_have_the_conditional_law(limit):
    """Moved draws lie above the limit, keep their order, and their share above any point is the conditional one."""
    z = np.sort(np.random.default_rng(3).standard_normal(4000))
    moved = beyond(z, np.full(len(z), limit))
    assert (moved >= limit).all() and (np.diff(moved) >= -1e-9).all()
    point = limit + 0.4
    expected = float(normal_share(np.array([-point]))[0] / normal_share(np.array([-limit]))[0])
    assert float((moved > point).mean()) == pytest.approx(expected, abs=0.03)
    assert np.allclose(below(-z, np.full(len(z), -limit)), -moved)


def test_resampling_keeps_each_members_share():
    weights = np.array([0.0, 1.0, 2.0, 1.0])
    assert resampled(weights).tolist() == [1, 2, 2, 3]
    assert resampled(np.ones(5)).tolist() == list(range(5))
    assert resampled(np.zeros(3)).tolist() == [0, 1, 2]
