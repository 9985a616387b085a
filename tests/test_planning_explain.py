"""Price of a limit, cost against risk, and which change moves most: on hand-made samples, then on a searched pour."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planned import QUICK, SEED, checked, situation, wall_panel
from plans import changes
from wetfront.planning.candidates import nominal, placing_orders
from wetfront.planning.changes import largest_first, worst_share
from wetfront.planning.frontier import any_failure, frontier, not_beaten, prices_and_frontier
from wetfront.planning.judge import RISK_KEYS, evaluate
from wetfront.planning.prices import STEP, limit_prices, tried_enough
from wetfront.planning.race import BENEFIT_OF_DOUBT, RaceResult, Sample, paired_difference, violation
from wetfront.planning.search import Bench, Found, search, second_look

COUNT = 120
LIMITS = np.full(len(RISK_KEYS), 0.1)
AGE = RISK_KEYS.index("load_over_age")


@pytest.fixture(scope="module")
def wall(tmp_path_factory):
    tree = wall_panel(load_sizes_m3=[4.8, 3.6], trucks_between=[2, 4])
    tree["risk_limits"] = {**tree.get("risk_limits", {}), "load_over_age": 0.15}
    tree["trucks"] = {**tree["trucks"], "longest_batching_to_end_of_discharge_min": 128}  # so that 4.8 m³ is in reach
    return situation(checked(tmp_path_factory.mktemp("wall"), tree))


@pytest.fixture(scope="module")
def searched(wall):
    found = search(wall, Bench(wall, SEED), QUICK)
    assert found is not None
    return found


def sample(cost: float, failed: dict[str, float], spread: float = 0.0) -> Sample:
    """Costs that swing by `spread` about `cost`; each risk fails in its share of the replications."""
    cost_cu = cost + spread * np.where(np.arange(COUNT) % 2 == 0, 1.0, -1.0)
    rows = np.zeros((COUNT, len(RISK_KEYS)))
    for key, share in failed.items():
        rows[: round(share * COUNT), RISK_KEYS.index(key)] = 1.0
    return Sample(cost_cu, rows)


def made(wall, *samples: Sample) -> Found:
    """A finished search whose candidates had these samples; the first one won. They differ in their interval."""
    base = nominal(wall, placing_orders(wall)[0])
    tried = [replace(base, interval_min=40.0 + number) for number in range(len(samples))]
    bench = Bench(wall, SEED, samples=dict(zip(tried, samples, strict=True)))
    race = RaceResult((0,), {0: samples[0]}, COUNT, 1.0, 0.0)
    return Found((tried[0],), race, bench, LIMITS)


def test_price_of_a_limit_is_the_difference_to_the_cheapest_plan_one_step_away(wall):
    found = made(
        wall,
        sample(1000.0, {"load_over_age": 0.09}),
        sample(960.0, {"load_over_age": 0.14}, spread=30.0),
        sample(980.0, {"load_over_age": 0.14}),
        sample(900.0, {"load_over_age": 0.20}),
        sample(910.0, {"load_over_age": 0.14, "cold_joint": 0.12}),
        sample(1100.0, {"load_over_age": 0.05}),
        sample(1070.0, {"load_over_age": 0.06}),
        sample(1050.0, {"load_over_age": 0.08}),
    )
    (price,) = limit_prices(wall, found)
    assert price.key == "load_over_age"
    assert price.relaxed_limit == pytest.approx(0.15) and price.tightened_limit == pytest.approx(0.1 / 1.5)
    assert price.relaxed_saves_cu == pytest.approx(40.0) and price.relaxed_plan == "interval 41 min"
    assert price.relaxed_error_cu == pytest.approx(30.0 * np.sqrt(COUNT / (COUNT - 1)) / np.sqrt(COUNT))
    assert price.tightened_costs_cu == pytest.approx(70.0) and price.tightened_plan == "interval 46 min"
    assert price.text == (
        "a load is over its age limit, at most 10 %: at 15 % 40 cu cheaper (± 3 cu) by interval 41 min; "
        "at 6.7 % 70 cu dearer (± 0 cu) by interval 46 min"
    )


def test_limit_that_nobody_is_near_has_no_price(wall):
    found = made(wall, sample(1000.0, {}), sample(900.0, {"load_over_age": 0.5}))
    assert limit_prices(wall, found) == ()


def test_tighter_limit_that_nothing_keeps_says_so(wall):
    found = made(wall, sample(1000.0, {"load_over_age": 0.09}), sample(1200.0, {"cold_joint": 0.3}))
    (price,) = limit_prices(wall, found)
    assert price.tightened_costs_cu is None and "no plan that was tried keeps every limit" in price.text
    assert "at 15 % nothing cheaper was found" in price.text


def test_broken_limit_has_no_price(wall):
    found = made(wall, sample(1000.0, {"load_over_age": 0.2}), sample(900.0, {"load_over_age": 0.22}))
    assert limit_prices(wall, found) == ()


def test_lucky_few_replications_set_no_price(wall):
    """A rival that was cheap and safe on its first replications is simulated in full before it sets a price."""
    base = nominal(wall, placing_orders(wall)[0])
    winner, rival = replace(base, interval_min=60.0), replace(base, interval_min=59.0)
    real = evaluate(wall, [winner, rival], SEED, 0, COUNT)
    lucky = Sample(np.full(30, 1.0), np.zeros((30, len(RISK_KEYS))))
    bench = Bench(wall, SEED, samples={winner: real[0], rival: lucky})
    found = Found((winner,), RaceResult((0,), {0: real[0]}, COUNT, 1.0, 0.0), bench, np.ones(len(RISK_KEYS)))
    front = frontier(wall, found)
    assert bench.samples[rival].count == COUNT
    assert front.replications_count == COUNT
    assert all(point.cost_cu > 100 for point in front.points)


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=1, max_size=30))
def test_not_beaten_is_what_its_definition_says(pairs):
    """Second method: by definition, each against all others."""
    seen = {number: (float(cost), float(share)) for number, (cost, share) in enumerate(pairs)}
    front = not_beaten(list(seen), seen)
    by_definition = {
        pair
        for pair in seen.values()
        if not any(o[0] <= pair[0] and o[1] <= pair[1] and o != pair for o in seen.values())
    }
    assert {seen[number] for number in front} == by_definition
    assert len(front) == len(by_definition), "twins once"
    assert [seen[number][1] for number in front] == sorted(seen[number][1] for number in front)


def test_tighter_limits_price_agrees_with_the_frontier(wall, searched):
    """Both stand on one page: nothing on the frontier that keeps the tighter limit is cheaper than the price says."""
    prices, front = prices_and_frontier(wall, searched)
    assert prices
    for price in prices:
        if price.tightened_costs_cu:
            tighter = searched.limits.copy()
            tighter[RISK_KEYS.index(price.key)] = price.tightened_limit
            whole = [
                seen.part(0, searched.sample.count)
                for seen in searched.bench.samples.values()
                if seen.count >= searched.sample.count
            ]
            dearer = [paired_difference(seen, searched.sample)[0] for seen in whole if violation(seen, tighter) == 0]
            assert price.tightened_costs_cu == pytest.approx(min(dearer))
            most = price.tightened_limit / price.limit
            assert all(
                point.cost_cu >= front.chosen.cost_cu + price.tightened_costs_cu - 1e-6
                for point in front.points
                if point.worst_share <= most
            )


def test_any_failure_counts_a_replication_once_and_rain_as_independent():
    failed = np.zeros((4, len(RISK_KEYS)))
    failed[0, :2] = 1.0
    failed[1, 0] = 1.0
    failed[:, RISK_KEYS.index("rain_on_fresh_surface")] = 0.2
    assert any_failure(Sample(np.zeros(4), failed)) == pytest.approx((1 + 1 + 0.2 + 0.2) / 4)


def test_frontier_of_a_searched_pour_is_beaten_by_nothing_that_was_tried(wall, searched):
    front = frontier(wall, searched)
    count = searched.sample.count
    assert front.chosen.cost_cu == pytest.approx(float(searched.sample.cost.mean()))
    assert front.chosen.worst_share == pytest.approx(worst_share(searched.sample, searched.limits))
    assert front.chosen.label == "this plan" and front.chosen.cost_error_cu == 0
    assert front.candidates_count == len(tried_enough(searched))
    for candidate in tried_enough(searched):
        seen = searched.bench.samples[candidate].part(0, count)
        cost = front.chosen.cost_cu + paired_difference(seen, searched.sample)[0]
        share = worst_share(seen, searched.limits)
        assert any(point.cost_cu <= cost + 1e-6 and point.worst_share <= share for point in front.points) or share > 3
    costs = [point.cost_cu for point in front.points]
    assert costs == sorted(costs, reverse=True), "safest first, and each safer one is dearer"


def test_price_agrees_with_planning_again_under_the_tighter_limit(wall, searched):
    """Second method: the search itself, told the tighter limit. It may find a plan that the first search never met."""
    frontier(wall, searched)
    prices = [price for price in limit_prices(wall, searched) if price.tightened_costs_cu]
    assert prices, "this pour has a limit that holds it back"
    for price in prices:
        risk_limits = replace(wall.sheet.risk_limits, **{price.key: price.limit / STEP})
        tighter = replace(wall, sheet=replace(wall.sheet, risk_limits=risk_limits))
        again = search(tighter, Bench(tighter, SEED), QUICK)
        assert again is not None and violation(again.sample, again.limits) == 0
        dearer, error = paired_difference(again.sample, searched.sample)
        assert price.tightened_costs_cu == pytest.approx(
            dearer, abs=0.01 * float(searched.sample.cost.mean()) + 2 * error
        )


def test_plan_that_an_early_round_dropped_is_found_again_before_no_go_is_said(wall, searched):
    """A race that ended with a plan over its limits, while one that keeps them was dropped on a few replications."""
    good = searched.winner
    count = searched.sample.count
    bad, worse = replace(good, interval_min=good.interval_min - 12), replace(good, interval_min=good.interval_min - 16)
    real = dict(zip((bad, worse, good), evaluate(wall, [bad, worse, good], SEED, 0, count), strict=True))
    assert violation(real[bad], searched.limits) > 0 and violation(real[worse], searched.limits) > 0
    bench = Bench(wall, SEED, samples={bad: real[bad], worse: real[worse], good: real[good].part(0, 24)})
    lost = Found((bad,), RaceResult((0,), {0: real[bad]}, count, 1.0, 0.0), bench, searched.limits)
    assert second_look(lost).winner == good
    assert second_look(lost).sample.count == count


def test_cheaper_plan_that_an_early_round_dropped_is_found_again(wall, searched):
    """A few bad days among the first spoke against it. What is dearer all the same is not simulated any further."""
    good, count = searched.winner, searched.sample.count
    dear, dearer = replace(good, interval_min=good.interval_min + 8), replace(good, interval_min=good.interval_min + 16)
    real = dict(zip((dear, dearer, good), evaluate(wall, [dear, dearer, good], SEED, 0, count), strict=True))
    assert all(violation(sample, searched.limits) == 0 for sample in real.values())
    costs = [real[candidate].part(0, 24).cost.mean() for candidate in (good, dear, dearer)]
    assert costs == sorted(costs)
    samples = {dear: real[dear], dearer: real[dearer].part(0, 24), good: real[good].part(0, 24)}
    lost = Found((dear,), RaceResult((0,), {0: real[dear]}, count, 1.0, 0.0), Bench(wall, SEED), searched.limits)
    lost.bench.samples.update(samples)
    found = second_look(lost)
    assert found.ranking == (good, dear) and found.sample.count == count
    assert lost.bench.samples[dearer].count == 24


def test_where_nothing_keeps_the_limits_the_plan_that_is_least_over_is_the_best_found(wall, searched):
    """The race went by cost among those that only seemed to keep a limit, and dropped the one that is least over."""
    near, count = searched.winner, searched.sample.count
    far = replace(near, interval_min=near.interval_min - 12)
    real = dict(zip((near, far), evaluate(wall, [near, far], SEED, 0, count), strict=True))
    limits = searched.limits.copy()
    limits[AGE] = real[near].probabilities()[AGE] - 0.005
    assert 0 < violation(real[near], limits) < violation(real[far], limits)
    few = real[near].part(0, 24)
    assert violation(few, limits, BENEFIT_OF_DOUBT) == 0
    lost = Found((far,), RaceResult((0,), {0: real[far]}, count, 1.0, 0.0), Bench(wall, SEED), limits)
    lost.bench.samples.update({far: real[far], near: few})
    assert second_look(lost).winner == near
    kept = replace(lost, ranking=(near,), race=RaceResult((0,), {0: real[near]}, count, 1.0, 0.0))
    assert second_look(kept).winner == near


def test_change_that_moves_cost_or_risk_most_comes_first():
    given = changes()
    titles = [each.title for each in largest_first(given)]
    assert titles == [
        "one truck fewer (7)",
        "one truck more (9)",
        "start half an hour later",
        "concrete 1 °C cooler",
    ]
    dearest = replace(given[3], cost_change_cu=-5000.0)
    assert largest_first([*given[:3], dearest])[0] is dearest, "a saving counts by its size"
    assert largest_first(()) == ()
