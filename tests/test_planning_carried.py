"""Pours of which some replications do not come to an end: those count as failed, the others count as they are."""

from dataclasses import fields

import numpy as np
import pytest

from planned import QUICK, SEED, checked, situation, small_slab
from wetfront.desk.plan_pour import plan_one
from wetfront.errors import OutOfRange
from wetfront.nouns.plan import Verdict
from wetfront.placing.core.prepared import simulate
from wetfront.placing.model import Replications
from wetfront.planning.candidates import nominal, placing_orders
from wetfront.planning.changes import asked_changes, changes
from wetfront.planning.judge import RISK_KEYS, costs, draws_for, evaluate, failures, judged, run, unended_cu
from wetfront.planning.model import WeatherModels, pour_model
from wetfront.planning.search import Bench

COUNT = 120


@pytest.fixture(scope="module")
def tight(tmp_path_factory):
    """An age limit so near to the way and the discharge that in some pours too many loads are refused."""
    tree = small_slab()
    tree["trucks"]["longest_batching_to_end_of_discharge_min"] = 56
    there = situation(checked(tmp_path_factory.mktemp("tight"), tree))
    return there, nominal(there, placing_orders(there)[0])


def test_each_replication_is_what_it_is_alone_and_those_that_fail_are_told(tight):
    there, way = tight
    model = pour_model(there, way, WeatherModels(there, 0, COUNT))
    draws = draws_for(there, [way], [model], SEED, 0, COUNT)
    found = run(there, way, SEED, 0, COUNT)
    assert 1 <= found.unended_count < COUNT / 4
    for row in range(COUNT):
        try:
            alone = simulate(model, draws, slice(row, row + 1))
        except OutOfRange:
            assert not found.ended[row]
            continue
        assert found.ended[row]
        for column in fields(Replications):
            assert np.array_equal(getattr(found, column.name)[row], getattr(alone, column.name)[0]), column.name


def test_a_replication_that_does_not_end_breaks_every_limit_at_a_price_of_its_own(tight):
    there, way = tight
    outcome = run(there, way, SEED, 0, COUNT)
    sample = judged(there, way, outcome, COUNT)
    assert (sample.failed[~outcome.ended] == 1.0).all()
    assert (sample.cost[~outcome.ended] == unended_cu(there, way)).all()
    assert unended_cu(there, way) > sample.cost[outcome.ended].max()
    total = np.sum(list(costs(there, way, outcome).values()), axis=0)
    assert np.array_equal(sample.cost[outcome.ended], total[outcome.ended])
    assert np.array_equal(sample.failed[outcome.ended], failures(there, way, outcome)[outcome.ended])


def test_a_sample_does_not_depend_on_how_the_replications_are_cut(tight):
    there, way = tight
    whole = evaluate(there, [way], SEED, 0, COUNT)[0]
    cuts = [*((first, 1) for first in range(8)), *((first, 8) for first in range(8, COUNT, 8))]
    parts = [evaluate(there, [way], SEED, first, count)[0] for first, count in cuts]
    # Sums of a single column are added up in another order.
    assert np.allclose(np.concatenate([part.cost for part in parts]), whole.cost, rtol=1e-12, atol=0)
    assert np.array_equal(np.concatenate([part.failed for part in parts]), whole.failed)


def test_a_pour_does_not_end_because_smaller_loads_are_simulated_beside_it(tight):
    """Of smaller loads more may come: their table of draws must not lend any to the others."""
    there, way = tight
    small = there.candidate(way.order, way.start_min, way.interval_min, way.trucks_count, 1.0, way.rate_m3_per_h)
    alone, (beside, _) = evaluate(there, [way], SEED, 0, COUNT)[0], evaluate(there, [way, small], SEED, 0, COUNT)
    assert np.array_equal(alone.failed, beside.failed)
    assert np.allclose(alone.cost, beside.cost, rtol=1e-12, atol=0)


def test_others_beside_it_do_not_suffer(tight):
    """A candidate that all comes to its end gives the same alone and beside one that does not."""
    there, way = tight
    slower = there.candidate(way.order, way.start_min, way.interval_min, way.trucks_count, 4.0, way.rate_m3_per_h)
    alone, beside = evaluate(there, [slower], SEED, 0, 40)[0], evaluate(there, [way, slower], SEED, 0, 40)[1]
    assert np.array_equal(alone.cost, beside.cost) and np.array_equal(alone.failed, beside.failed)


def test_a_pour_that_never_ends_is_none_and_fails_throughout(tmp_path):
    tree = small_slab()
    tree["trucks"]["longest_batching_to_end_of_discharge_min"] = 45
    there = situation(checked(tmp_path, tree))
    way = nominal(there, placing_orders(there)[0])
    assert run(there, way, SEED, 0, 20) is None
    sample = evaluate(there, [way], SEED, 0, 20)[0]
    assert sample.probabilities().tolist() == [1.0] * len(RISK_KEYS)


def test_what_ifs_and_plan_say_how_many_pours_do_not_end(tight, tmp_path):
    there, way = tight
    outcome = run(there, way, SEED, 0, COUNT)
    bench = Bench(there, SEED)
    told = changes(bench, way, outcome, np.ones(len(RISK_KEYS)), asked_changes(there, way))
    assert any("pours simulated do not come to an end and count as failed" in change.comment for change in told)
    tree = small_slab(interval_between_min=[15.0, 15.0], trucks_between=[6, 6])
    tree["pump"][0].update(mean_pumping_min_between_stops=12.0, stop_mean_min=400.0)
    sheet = checked(tmp_path, tree)
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    assert plan.verdict is Verdict.NO_GO and plan.decision is not None
    (told_why,) = [text for text in plan.reasons if "do not come to an end and count as failed" in text]
    assert "more loads are refused" in told_why or "more than four days" in told_why


def test_a_pour_that_does_not_end_with_every_time_as_usual_has_no_plan(tmp_path):
    tree = small_slab(load_sizes_m3=[8.0], interval_between_min=[15.0, 15.0], trucks_between=[6, 6])
    tree["trucks"]["longest_batching_to_end_of_discharge_min"] = 54
    sheet = checked(tmp_path, tree)
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    assert plan.verdict is Verdict.NO_GO and plan.decision is None
    assert "with every time as usual the pour cannot be carried to its end: a load of 8 m³ takes" in plan.reasons[-1]
