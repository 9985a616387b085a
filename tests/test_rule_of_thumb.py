"""The usual site rule, and a search that is never worse than it; pours of the benchmark's generator."""

import dataclasses
import math
import sys
from pathlib import Path

import numpy as np
import pytest

from wetfront.planning.candidates import truck_counts, trucks_needed
from wetfront.planning.judge import evaluate, risk_limits
from wetfront.planning.race import BENEFIT_OF_DOUBT, Sample, race, violation
from wetfront.planning.rule_of_thumb import rule_of_thumb
from wetfront.planning.search import Bench, search

sys.path.insert(0, str(Path(__file__).parent.parent))
from benchmarks.generated_pours import COUNT, generated_pour

SMALL = (22, 45, 86)
"""Slab, wall, raft: small enough for a whole search each."""
ROUNDS = ((8, 20), (32, 6), (120, 2))
FRESH_SEED, FRESH = 5, 300


@pytest.mark.parametrize("number", SMALL)
def test_search_is_never_worse_than_the_rule_beyond_its_standard_error(number):
    situation = generated_pour(number).situation
    limits = risk_limits(situation.sheet.risk_limits)
    rule, found = rule_of_thumb(situation), search(situation, Bench(situation, 1), ROUNDS)
    of_rule, of_search = evaluate(situation, [rule, found.winner], FRESH_SEED, 0, FRESH)
    # What the search's own replications cannot tell from a limit is not held against it.
    doubt = BENEFIT_OF_DOUBT * math.sqrt(1 + FRESH / ROUNDS[-1][0])
    assert violation(of_search, limits, doubt) <= violation(of_rule, limits)
    if violation(of_rule, limits) == 0:
        dearer = of_search.cost - of_rule.cost
        assert dearer.mean() <= 2 * dearer.std(ddof=1) / math.sqrt(FRESH)


def test_the_rule_is_among_what_the_search_tries():
    situation = generated_pour(22).situation
    bench = Bench(situation, 1)
    search(situation, bench, ((4, 2), (8, 1)))
    assert rule_of_thumb(situation) in bench.samples


@pytest.mark.parametrize("number", range(0, COUNT, 9))
def test_rule_is_load_over_rate_and_round_trip_over_interval_plus_one(number):
    situation = generated_pour(number).situation
    plan = rule_of_thumb(situation)
    load, rate = situation.sheet.trucks.capacity_m3, plan.rate_m3_per_h
    if situation.pour.planned_rate_m3_per_h:
        assert rate <= situation.pour.planned_rate_m3_per_h
    assert plan.load_m3 == load
    assert plan.interval_min == pytest.approx(load / rate * 60, abs=0.25 if load / rate < 1 else 0.5)
    round_trip = situation.round_trip_min + load / rate * 60
    wanted = math.ceil(round_trip / plan.interval_min - 1e-9) + 1
    assert wanted == trucks_needed(situation, load, plan.interval_min, rate) + 1
    most = min(situation.sheet.trucks.count_in_fleet, situation.loads_count(load))
    assert plan.trucks_count == min(wanted, most)
    assert plan.trucks_count in truck_counts(situation, load, plan.interval_min, rate)
    assert plan.mix_option == ""
    low, _ = situation.start_between_min
    assert low <= plan.start_min < low + 5.0


def test_rule_keeps_what_the_sheet_fixes():
    situation = generated_pour(22).situation
    fixed = dataclasses.replace(
        situation.sheet.choices, trucks_between=(2, 2), interval_between_min=(44.0, 50.0), strip_widths_m=(3.0,)
    )
    sheet = dataclasses.replace(situation.sheet, choices=fixed)
    plan = rule_of_thumb(dataclasses.replace(situation, sheet=sheet))
    assert (plan.trucks_count, plan.interval_min, plan.order.strip_width_m) == (2, 44.0, 3.0)


def test_generated_pours_are_read_by_intake_and_cover_the_sizes():
    pours = [generated_pour(number) for number in range(COUNT)]
    sizes = np.array([pour.net_m3 for pour in pours])
    assert {pour.kind for pour in pours} == {"slab", "raft", "wall"}
    assert 19 < sizes.min() < 25 and 2800 < sizes.max() < 3050
    # Spread evenly over the logarithm: each tenth of it holds a tenth of the pours, rounding of dimensions aside.
    tenths = np.floor(10 * np.log(sizes / 20) / np.log(150)).astype(int)
    assert all(6 <= count <= 14 for count in np.bincount(np.clip(tenths, 0, 9), minlength=10))


def test_a_generated_pour_depends_on_seed_and_number_alone():
    one, other = generated_pour(31), generated_pour(31)
    assert one.tree == other.tree and one.forecast_csv == other.forecast_csv
    assert one.tree != generated_pour(31, seed=5).tree


def test_race_does_not_lose_the_one_plan_that_keeps_the_limits():
    """Forty cheap plans break a limit so narrowly that few replications cannot tell; one dear plan keeps it."""
    draws = np.random.default_rng(3).uniform(size=(41, 400))
    chance = np.append(np.full(40, 0.13), 0.02)

    def run(running, first, count):
        return [
            Sample(
                np.full(count, 100.0 + number),
                (draws[number, first : first + count] < chance[number]).astype(float)[:, None],
            )
            for number in running
        ]

    found = race(41, run, np.array([0.10]), ((32, 24), (120, 6), (400, 2)))
    assert found.winner == 40
