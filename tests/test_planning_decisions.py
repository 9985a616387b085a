"""Decisions that a sheet opens: pumps, vibrators, gangs by hour, cooler concrete, the pattern of the interval."""

import datetime as dt
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from planned import QUICK, SEED, checked, situation, small_slab
from wetfront.desk.plan_pour import plan_one
from wetfront.errors import SheetError
from wetfront.planning.call_off import calm_trace
from wetfront.planning.candidates import logistics, nominal, placing_orders, start_times
from wetfront.planning.gangs import breaks_taken, crew_hours, gang_cost, gang_hours
from wetfront.planning.judge import costs, evaluate, run
from wetfront.planning.locks import contradictions
from wetfront.planning.means import opened_means, patterns, plain_means, steps_of_means, with_means
from wetfront.planning.model import pour_model
from wetfront.planning.race import paired_difference, violation
from wetfront.planning.search import FINAL_ROUNDS, Bench, race_of, search
from wetfront.planning.words import difference_words

CLOCK = dt.time
REPLICATIONS = FINAL_ROUNDS[-1][0]


def gang(name, *hours):
    return {"id": name, "hours": [dict(entry) for entry in hours]}


MORE_FINISHERS = gang("second finishers", {"from_local": CLOCK(13), "finishing_crews_count": 3, "price_cu_per_h": 700})
FEW = gang("few", {"from_local": CLOCK(7), "placing_capacity_m3_per_h": 24, "price_cu_per_h": 450})
RELIEF = gang("relief", {"from_local": CLOCK(9), "works_through_breaks": True, "price_cu_per_h": 640})

OPENED = {
    "pattern": {"interval_patterns": ["constant", "matched"], "interval_between_min": [12.0, 20.0]},
    "pumps": {"pumps_between": [1, 2]},
    "vibrators": {"vibrators_between": [2, 4]},
    "cooler concrete": {"cooler_by_c": [0.0, 2.0, 4.0]},
    "gang": {"gang": [MORE_FINISHERS, FEW, RELIEF]},
    "gang and pattern": {"gang": [RELIEF, FEW], "interval_patterns": ["matched", "constant"]},
}


def sheet_tree(**opened):
    """A small slab with two breaks, prices for what may be opened, and a margin under every limit."""
    tree = small_slab(**opened)
    del tree["choices"]["placing_rates_m3_per_h"]
    tree["crew"]["breaks"] = [
        {"start_local": CLOCK(10, 45), "duration_min": 15},
        {"start_local": CLOCK(12), "duration_min": 30},
    ]
    tree["prices"].update(vibrator_cu_per_h=25.0, one_degree_cooler_cu_per_m3=0.5)
    tree["risk_limits"] = {
        "cold_joint": 0.5,
        "specified_edge_exceeded": 0.6,
        "trucks_over_places": 0.5,
        "load_over_age": 0.2,
    }
    return tree


@pytest.fixture(scope="module")
def searched(tmp_path_factory):
    """By name of the case: situation, bench and what the search found."""

    @cache
    def of(name):
        opened = OPENED.get(name, {})
        there = situation(checked(tmp_path_factory.mktemp("slab"), sheet_tree(**opened)))
        bench = Bench(there, SEED)
        return there, bench, search(there, bench)

    return of


@pytest.mark.parametrize("name", OPENED)
def test_search_over_an_opened_decision_is_within_one_percent_of_the_full_search(searched, name):
    """Every combination of means, patterns, rates, loads, intervals, trucks and starts, on as many replications."""
    there, _, found = searched(name)
    every = [
        way
        for start in start_times(there, 32.0)
        for way in logistics(there, placing_orders(there), start, opened_means(there), patterns(there))
    ]
    assert len(every) > 300
    bench = Bench(there, SEED)
    # Nothing that could be within the limits or the cheapest is dropped on 120 of the 400.
    full = race_of(bench, every, found.limits, ((120, 40), (REPLICATIONS, 1)))
    best = full.samples[full.winner]
    assert violation(found.sample, found.limits) == violation(best, found.limits) == 0
    assert found.sample.count == best.count == REPLICATIONS
    assert found.sample.cost.mean() <= 1.01 * best.cost.mean()


@pytest.mark.parametrize("name", OPENED)
def test_opening_a_decision_gives_no_worse_plan_beyond_noise(searched, name):
    _, _, before = searched("nothing")
    _, _, after = searched(name)
    assert violation(after.sample, after.limits) <= violation(before.sample, before.limits)
    dearer, error = paired_difference(after.sample, before.sample)
    assert dearer <= 2.0 * error + 1e-9


def test_some_opened_decision_is_worth_opening(searched):
    """Else the cases above would prove nothing."""
    _, _, before = searched("nothing")
    gains = {name: before.sample.cost.mean() - searched(name)[2].sample.cost.mean() for name in OPENED}
    assert gains["gang"] > 0.005 * before.sample.cost.mean()
    assert sum(gain > 1.0 for gain in gains.values()) >= 2, gains


def test_decisions_that_the_sheet_does_not_open_stay_as_it_says(searched):
    there, bench, _ = searched("nothing")
    assert {candidate.means for candidate in bench.samples} <= set(plain_means(there))
    assert {candidate.pattern for candidate in bench.samples} == {"constant"}
    assert {means.vibrators_count for means in plain_means(there)} == {there.vibrators_count}


def test_naming_the_values_that_hold_anyway_changes_nothing(searched, tmp_path):
    _, _, found = searched("nothing")
    own = {"interval_patterns": ["constant"], "pumps_between": [1, 1], "cooler_by_c": [0.0]}
    again = situation(checked(tmp_path, sheet_tree(**own)))
    other = search(again, Bench(again, SEED))
    assert other.ranking == found.ranking
    assert np.array_equal(other.sample.cost, found.sample.cost)


def test_confidence_and_loss_are_told_with_opened_decisions(searched):
    for name in OPENED:
        found = searched(name)[2]
        assert 0.0 < found.race.chance_best <= 1.0
        assert 0.0 <= found.race.possible_loss < 0.01 * found.sample.cost.mean()


def test_a_candidate_keeps_its_luck_when_another_decision_is_opened(searched):
    """The same draws: the plan of the sheet that opens nothing costs the same to the bit under the one that does."""
    _, _, found = searched("nothing")
    there, _, _ = searched("gang")
    again = evaluate(there, [found.winner], SEED, 0, REPLICATIONS)[0]
    assert np.array_equal(again.cost, found.sample.cost)
    assert np.array_equal(again.failed, found.sample.failed)


def test_plan_says_what_was_opened_what_was_chosen_and_why(tmp_path):
    sheet = checked(
        tmp_path, sheet_tree(pumps_between=[1, 2], gang=[RELIEF], interval_patterns=["constant", "matched"])
    )
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    told = {each.key: each for each in plan.opened}
    assert set(told) == {"choices.pumps_between", "choices.gang", "choices.interval_patterns"}
    for each in plan.opened:
        why = [text for text in each.why if "costs nothing" not in text]
        assert each.chosen in each.values and len(why) == len(each.values) - 1
        assert all("dearer" in text or "cheaper" in text or "left by the race" in text for text in why)
    assert told["choices.gang"].values == ("the gang of the sheet's crew", "gang relief")
    assert (
        told["choices.pumps_between"].chosen
        == f"{plan.decision.pumps_count} pump{'s'[: plan.decision.pumps_count - 1]}"
    )
    assert any(change.title.startswith(("gang relief", "the gang of")) for change in plan.changes)


def test_a_pump_without_a_place_for_its_truck_is_not_tried_and_one_without_price_is_told(tmp_path):
    tree = sheet_tree(pumps_between=[1, 2])
    tree["trucks"]["discharge_places_count"] = 1
    del tree["prices"]["pump_cu_per_h"]
    sheet = checked(tmp_path, tree)
    there = situation(sheet)
    assert {means.pumps_count for means in opened_means(there)} == {1}
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    (told,) = plan.opened
    assert plan.decision.pumps_count == 1 and told.values == ("1 pump", "2 pumps")
    assert "trucks.discharge_places_count is 1" in told.why[0] and "prices.pump_cu_per_h is 0" in told.why[1]


def test_a_gang_that_never_gets_done_is_told_without_a_price(tmp_path):
    slow = {"id": "slow", "hours": [{"from_local": dt.time(10), "placing_capacity_m3_per_h": 0.01}]}
    sheet = checked(tmp_path, sheet_tree(gang=[slow]))
    (told,) = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK).opened
    assert told.why == ("gang slow: the pour is not carried to its end in 100 % of the replications",)


def test_second_pump_is_primed_and_paid_and_lets_the_rate_rise(searched):
    there, _, found = searched("pumps")
    one = replace(found.winner, pumps_count=1, rate_m3_per_h=30.0)
    two = replace(one, pumps_count=2)
    assert there.highest_rate(two.means)[0] > there.highest_rate(one.means)[0]
    first, second = pour_model(there, one).site, pour_model(there, two).site
    assert second.line_content_m3 == 2 * first.line_content_m3 > 0
    assert second.pumping_min_between_stops == 2 * first.pumping_min_between_stops
    outcome = run(there, two, SEED, 0, 20)
    assert costs(there, two, outcome)["pump"] == pytest.approx(2 * costs(there, one, outcome)["pump"])
    assert there.volumes.with_pumps(2).gross_m3 == pytest.approx(there.gross_m3 + there.lost_line_m3)


def test_other_means_keep_the_share_of_the_rate_and_follow_with_interval_and_trucks(searched):
    there, _, _ = searched("pumps")
    start = nominal(there, placing_orders(there)[0], plain_means(there)[0])
    (faster, same) = with_means(there, start, replace(start.means, pumps_count=2))
    assert faster.rate_m3_per_h == there.highest_rate(faster.means)[0] > start.rate_m3_per_h
    assert faster.interval_min <= start.interval_min
    assert same.rate_m3_per_h == start.rate_m3_per_h and same.interval_min == start.interval_min


def test_a_step_changes_one_decision_and_stays_inside_what_is_opened(searched):
    there, _, found = searched("gang and pattern")
    steps = steps_of_means(there, found.winner)
    assert {step.pattern for step in steps} == {"constant", "matched"}
    for step in steps:
        assert step.means in opened_means(there)
        names = ("pattern", "gang", "pumps_count", "vibrators_count", "cooler_by_c")
        assert sum(getattr(step, name) != getattr(found.winner, name) for name in names) == 1
        assert difference_words(there, found.winner, step) != "the same decision"


def test_gang_by_hour_is_read_from_the_sheet(tmp_path):
    late = gang(
        "late",
        {"from_local": CLOCK(12), "placing_capacity_m3_per_h": 20, "works_through_breaks": True},
        {"from_local": CLOCK(13), "finishing_crews_count": 4, "price_cu_per_h": 900, "people": {"finisher": 8}},
    )
    there = situation(checked(tmp_path, sheet_tree(gang=[late])))
    blocks = there.gang_blocks("late")
    assert [block.from_min for block in blocks] == [-np.inf, 720.0, 780.0]
    assert gang_hours(blocks, 34.0) == ((-np.inf, 34.0), (720.0, 20.0), (780.0, 34.0))
    assert gang_hours(blocks, 19.0) == ()
    assert crew_hours(blocks, 0) == ((720.0, 2), (780.0, 4))
    assert crew_hours(blocks, 1) == ((720.0, 3), (780.0, 5))
    assert breaks_taken(blocks, there.day.breaks) == ((645.0, 15.0),)
    # An hour at 620, an hour at 620, two at 900; the finishers of the last block are all of its people.
    assert gang_cost(blocks, 660.0, np.array([900.0]), of_finishers=False) == pytest.approx(2 * 620 + 2 * 900)
    assert gang_cost(blocks, 840.0, np.array([900.0]), of_finishers=True) == pytest.approx(900)


def test_gang_over_midnight_follows_the_hours(tmp_path):
    tree = sheet_tree(gang=[gang("night", {"from_local": CLOCK(23)}, {"from_local": CLOCK(2)})])
    tree["hours"] = [{"days": ["mon", "tue", "wed", "thu", "fri"], "start_local": CLOCK(7), "end_local": CLOCK(4)}]
    there = situation(checked(tmp_path, tree))
    assert [block.from_min for block in there.gang_blocks("night")][1:] == [1380.0, 1560.0]


def test_matched_loads_arrive_when_the_pump_is_free_in_a_calm_pour(searched):
    """Over breaks as well; whole minutes of the table and the usual times leave no more than a minute's wait."""
    there, _, found = searched("gang and pattern")
    winner = replace(found.winner, pattern="matched", gang="few", trucks_count=20, cooler_by_c=0.0, mix_option="")
    winner = replace(winner, interval_min=winner.load_m3 / winner.rate_m3_per_h * 60)
    model = pour_model(there, winner)
    plants = tuple(
        replace(
            plant, batching_min=replace(plant.batching_min, cv=0.0), haul_min=replace(plant.haul_min, mean=28.0, cv=0.0)
        )
        for plant in model.supply.plants
    )
    calm = calm_trace(replace(model, supply=replace(model.supply, plants=plants)), 12)
    loads = calm.loads
    ready = loads.arrival_min + model.site.position_min
    assert len(calm.breaks_taken) == 2 and len(loads.volume_m3) > 8
    assert (np.abs(loads.start_min - ready) <= 1.0).all()
    pauses = sum(duration for _, duration in calm.breaks_taken)
    idle = np.maximum(0.0, loads.start_min[1:] - loads.end_min[:-1]).sum() - pauses
    assert abs(idle) <= len(loads.volume_m3)


@pytest.mark.parametrize(
    ("change", "keys"),
    [
        (
            lambda tree: tree["choices"].update(pumps_between=[3, 3]),
            ("choices.pumps_between = 3 to 3", "trucks.discharge_places_count = 2"),
        ),
        (
            lambda tree: (tree["pour"][0].update(vibrators_count=2), tree["choices"].update(vibrators_between=[3, 4])),
            ("choices.vibrators_between = 3 to 4", "pour.vibrators_count = 2"),
        ),
        (
            lambda tree: tree["choices"].update(cooler_by_c=[15.0, 20.0]),
            ("choices.cooler_by_c = 15, 20", "specification.concrete_temperature_at_placing_c.min"),
        ),
        (
            lambda tree: tree["choices"].update(pumps_between=[2, 2], placing_rates_m3_per_h=[90.0]),
            ("choices.placing_rates_m3_per_h = 90", "crew.placing_capacity_m3_per_h"),
        ),
        (
            lambda tree: tree["choices"].update(gang=[FEW], placing_rates_m3_per_h=[90.0]),
            ("choices.placing_rates_m3_per_h = 90", "pump.planned_output_m3_per_h"),
        ),
    ],
)
def test_opened_decisions_that_cannot_hold_are_told_with_both_keys(tmp_path, change, keys):
    tree = sheet_tree()
    tree["specification"]["concrete_temperature_at_placing_c"] = {"min": 18, "max": 30}
    change(tree)
    found = contradictions(situation(checked(tmp_path, tree)))
    assert len(found) == 1, found
    assert found[0].startswith(keys[0]) and f"contradicts {keys[1]}" in found[0]


@pytest.mark.parametrize(
    ("opened", "key"),
    [
        ({"gang": [FEW, FEW]}, "choices.gang[2].id"),
        ({"gang": [gang("back", {"from_local": CLOCK(13)}, {"from_local": CLOCK(12)})]}, "choices.gang[1].hours[2]"),
        ({"gang": [gang("late", *({"from_local": CLOCK(hour)} for hour in (23, 2, 1)))]}, "choices.gang[1].hours[3]"),
        ({"pumps_between": [2, 1]}, "choices.pumps_between"),
        ({"vibrators_between": [5, 1]}, "choices.vibrators_between"),
        ({"splits": ["nowhere"]}, "choices.splits[1]"),
        ({"interval_patterns": ["wild"]}, "choices.interval_patterns[1]"),
    ],
)
def test_opened_decisions_that_make_no_sense_are_mistakes_of_the_sheet(tmp_path, opened, key):
    with pytest.raises(SheetError) as error:
        checked(tmp_path, sheet_tree(**opened))
    assert key in error.value.message
