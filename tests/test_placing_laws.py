"""What must hold in every simulated pour, whatever its inputs: conservation, one place at a time, order, monotony."""

from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import workloads
from small_pours import extensions, small_pour
from wetfront.placing.draws import hashed_draws
from wetfront.placing.model import Lognormal, Replications
from wetfront.placing.simulate import joined, simulate, trace
from workloads import P1

seeds = st.integers(0, 10**6)
any_pour = settings(max_examples=60, deadline=None)


def draws_of(seed, replications=1):
    return hashed_draws(seed, replications, 400, 8)


@given(seed=seeds, on=extensions)
@any_pour
def test_concrete_is_neither_made_nor_lost(seed, on):
    model, draws = small_pour(seed, on), draws_of(seed)
    found = trace(model, draws, 0)
    loads, outcome, site = found.loads, found.outcome, model.site
    lead = site.priming_m3 + site.line_content_m3
    wastage = max(0.0, site.wastage + site.wastage_sd * draws.wastage_z[0, 0])
    assert outcome.placed_m3[0] == pytest.approx(model.cells.volume_m3.sum() * (1 + wastage), abs=1e-9)
    assert outcome.delivered_m3[0] == pytest.approx(outcome.placed_m3[0] + lead + outcome.waste_m3[0], abs=1e-9)
    assert loads.volume_m3.sum() == pytest.approx(outcome.delivered_m3[0], abs=1e-9)
    assert (loads.used_m3 <= loads.volume_m3 + 1e-9).all()
    assert (loads.used_m3[loads.refused > 0] == 0).all()
    # Loads follow each other in the stream without gap or overlap.
    used = loads.refused == 0
    order = np.argsort(loads.start_min[used], kind="stable")
    begin, volume = loads.stream_from_m3[used][order], loads.used_m3[used][order]
    assert np.allclose(begin, np.concatenate([[0.0], np.cumsum(volume)[:-1]]), rtol=0, atol=1e-9)


@given(seed=seeds, on=extensions)
@any_pour
def test_nothing_is_in_two_places_at_once(seed, on):
    model = small_pour(seed, on)
    loads = trace(model, draws_of(seed), 0).loads
    for plant in range(len(model.supply.plants)):
        of_plant = loads.plant == plant
        assert_apart(loads.batching_min[of_plant], loads.batched_min[of_plant])
        assert loads.truck[of_plant].max(initial=0) < model.supply.plants[plant].trucks_count
        for truck in set(loads.truck[of_plant]):
            mine = of_plant & (loads.truck == truck)
            assert_apart(loads.batching_min[mine], loads.truck_free_min[mine])
    assert_apart(loads.start_min, loads.end_min)
    for moment in loads.entered_min:
        on_places = (loads.entered_min <= moment) & (loads.end_min > moment)
        assert on_places.sum() <= model.site.discharge_places_count


def assert_apart(begin, end):
    order = np.lexsort((end, begin))
    assert (end[order][:-1] <= begin[order][1:] + 1e-9).all()


@given(seed=seeds, on=extensions)
@any_pour
def test_every_load_keeps_the_rules_of_road_gate_and_pump(seed, on):
    model = small_pour(seed, on)
    found = trace(model, draws_of(seed), 0)
    loads, supply = found.loads, model.supply
    stages = ("batching", "batched", "reached", "arrival", "entered", "start", "end", "left", "truck_free")
    times = np.column_stack([getattr(loads, f"{stage}_min") for stage in stages])
    assert (np.diff(times, axis=1) >= 0).all()
    assert (np.diff(loads.batching_min) >= 0).all()
    opens = np.array([plant.opens_min for plant in supply.plants])
    assert (loads.batching_min >= opens[loads.plant]).all()
    due = np.array(supply.due_min or (supply.first_batching_min,))
    beyond = np.maximum(0, np.arange(len(loads.plant)) - len(due) + 1)
    called = due[np.minimum(np.arange(len(loads.plant)), len(due) - 1)] + beyond * supply.interval_min
    assert (loads.batching_min >= called - 1e-9).all()
    for begin, end in supply.bans:
        assert not ((loads.arrival_min >= begin) & (loads.arrival_min < end)).any()
    for begin, end in model.site.weather_stops:
        assert not ((loads.start_min >= begin) & (loads.start_min < end)).any()
    for begin, duration in found.breaks_taken:
        assert not ((loads.start_min > begin) & (loads.start_min < begin + duration)).any()
    by_arrival = np.argsort(loads.reached_min, kind="stable")
    assert (np.diff(loads.start_min[by_arrival]) >= 0).all()
    taken = loads.refused == 0
    assert (loads.start_min - loads.batched_min <= model.acceptance.longest_age_min)[taken].all()
    warm_enough = loads.temperature_c >= model.acceptance.lowest_c
    assert (warm_enough & (loads.temperature_c <= model.acceptance.highest_c))[taken].all()


@given(seed=seeds, on=extensions)
@any_pour
def test_cells_are_placed_in_order_while_their_load_is_pumped(seed, on):
    model = small_pour(seed, on)
    found = trace(model, draws_of(seed), 0)
    placed, loads = found.cell_placed_min, found.loads
    assert (np.diff(placed) > 0).all()
    assert (placed > loads.start_min[found.cell_load]).all()
    assert placed[-1] == pytest.approx(found.outcome.end_of_pour_min[0], abs=1e-9)
    pumping = [
        (begin, end)
        for begin, end, refused in zip(loads.start_min, loads.end_min, loads.refused, strict=True)
        if not refused
    ]
    assert all(any(begin < time <= end + 1e-9 for begin, end in pumping) for time in placed)
    rises = found.outcome.highest_rise_m_per_h[0] * model.site.rise_window_min / 60
    for panel, rise in enumerate(rises):
        lifts = model.cells.rise_m[model.cells.panel == panel]
        assert 0 < rise <= lifts.sum() + 1e-9


@given(seed=seeds, on=extensions, first=st.integers(1, 9), second=st.integers(1, 9))
@settings(max_examples=15, deadline=None)
def test_any_split_of_the_replications_gives_the_same_bits(seed, on, first, second):
    model, draws = small_pour(seed, on), draws_of(seed, 10)
    cuts = sorted({0, first, second, 10})
    whole = simulate(model, draws)
    parts = joined([simulate(model, draws, slice(a, b)) for a, b in pairwise(cuts)])
    elsewhere = simulate(model, hashed_draws(seed, 10 - first, 400, 8, first_replication=first))
    for column in fields(Replications):
        assert getattr(whole, column.name).tobytes() == getattr(parts, column.name).tobytes(), column.name
        assert getattr(whole, column.name)[first:].tobytes() == getattr(elsewhere, column.name).tobytes()
    assert simulate(model, draws, slice(0, 0)).edge_set_margin_min.shape == (0, 3)


@given(seed=seeds, on=extensions, later=st.floats(0.1, 200))
@any_pour
def test_concrete_that_sets_later_gains_just_that_margin(seed, on, later):
    model, draws = small_pour(seed, on), draws_of(seed)
    slower = replace(model, concrete=replace(model.concrete, set_limit_min=model.concrete.set_limit_min + later))
    one, other = simulate(model, draws), simulate(slower, draws)
    assert np.allclose(other.edge_set_margin_min, one.edge_set_margin_min + later, rtol=0, atol=1e-9)
    assert other.cold_joint_area_m2[0] <= one.cold_joint_area_m2[0]
    assert other.edge_specified_margin_min.tolist() == one.edge_specified_margin_min.tolist()


CALM = extensions.map(lambda on: on - {"temperature limits", "consistence", "age at expected end", "two plants"})
"""No load is refused and none overtakes another: then, and only then, sooner stays sooner (see the tests below)."""


def calm(seed, on):
    """Equal hauls, no age limit: the queue is a chain of maxima and sums, rising in each of its terms."""
    model = small_pour(seed, on)
    plants = tuple(replace(plant, haul_min=Lognormal(plant.haul_min.mean)) for plant in model.supply.plants)
    return replace(
        model,
        supply=replace(model.supply, plants=plants),
        acceptance=replace(model.acceptance, longest_age_min=np.inf),
    )


@given(seed=seeds, on=CALM, more=st.integers(1, 4))
@any_pour
def test_more_trucks_never_end_later(seed, on, more):
    """On the same draws. With refusals or overtaking it need not hold: a queue of early trucks can grow too old."""
    model, draws = calm(seed, on), draws_of(seed)
    plants = tuple(replace(plant, trucks_count=plant.trucks_count + more) for plant in model.supply.plants)
    helped = replace(model, supply=replace(model.supply, plants=plants))
    assert simulate(helped, draws).end_of_pour_min[0] <= simulate(model, draws).end_of_pour_min[0] + 1e-9


@given(seed=seeds, on=CALM, factor=st.floats(0.3, 0.99))
@any_pour
def test_a_slower_pump_never_ends_earlier(seed, on, factor):
    """Without breakdowns: they count pumping time, so a slower pump has its own, maybe while no truck is there."""
    model, draws = calm(seed, on), draws_of(seed)
    model = replace(model, site=replace(model.site, pumping_min_between_stops=1e9))
    slow = replace(model, cells=replace(model.cells, rate_m3_per_h=model.cells.rate_m3_per_h * factor))
    assert simulate(slow, draws).end_of_pour_min[0] >= simulate(model, draws).end_of_pour_min[0] - 1e-9


@given(seed=seeds, on=CALM, more=st.lists(st.floats(1.0, 3.0), min_size=3, max_size=3))
@settings(max_examples=200, deadline=None)
def test_a_stronger_gang_at_any_hour_never_ends_later(seed, on, more):
    """Without breakdowns, as above; loads keep their own speeds."""
    model, draws = calm(seed, on | {"gang by hour"}), draws_of(seed)
    model = replace(model, site=replace(model.site, pumping_min_between_stops=1e9))
    weak = model.site.gang_hours
    strong = tuple((begin, rate * factor) for (begin, rate), factor in zip(weak, more, strict=False))
    ends = [
        simulate(replace(model, site=replace(model.site, gang_hours=gang)), draws).end_of_pour_min[0]
        for gang in (weak, strong, ())
    ]
    assert ends[2] <= ends[1] + 1e-9 and ends[1] <= ends[0] + 1e-9


@given(seed=seeds, on=extensions, more=st.lists(st.integers(0, 3), min_size=3, max_size=3))
@settings(max_examples=300, deadline=None)
def test_more_finishing_crews_at_any_hour_never_finish_later(seed, on, more):
    model, draws = small_pour(seed, on | {"crews by hour"}), draws_of(seed)
    hours = tuple(
        (begin, count + extra) for (begin, count), extra in zip(model.finishing.crew_hours, more, strict=True)
    )
    helped = replace(model, finishing=replace(model.finishing, crew_hours=hours))
    one, other = simulate(model, draws), simulate(helped, draws)
    assert other.end_of_pour_min[0] == one.end_of_pour_min[0]
    assert other.finishing_end_min[0] <= one.finishing_end_min[0] + 1e-9
    assert other.late_strips[0] <= one.late_strips[0]


@given(seed=seeds, on=CALM, longer=st.floats(0.1, 30))
@any_pour
def test_a_longer_interval_never_ends_earlier(seed, on, longer):
    model, draws = calm(seed, on), draws_of(seed)
    rare = replace(model, supply=replace(model.supply, interval_min=model.supply.interval_min + longer))
    assert simulate(rare, draws).end_of_pour_min[0] >= simulate(model, draws).end_of_pour_min[0] - 1e-9


@given(seed=seeds, on=extensions)
@any_pour
def test_the_margins_are_those_of_the_worst_pair(seed, on):
    model = small_pour(seed, on)
    found = trace(model, draws_of(seed), 0)
    outcome, joints = found.outcome, model.joints
    for least, edges, margins, area in (
        ("least_set_margin_min", "edge_set_margin_min", found.joint_set_margin_min, "cold_joint_area_m2"),
        (
            "least_specified_margin_min",
            "edge_specified_margin_min",
            found.joint_specified_margin_min,
            "area_over_specification_m2",
        ),
    ):
        assert getattr(outcome, least)[0] == margins.min() == getattr(outcome, edges)[0].min()
        assert getattr(outcome, area)[0] == pytest.approx(joints.area_m2[margins < 0].sum())
    # A joint that is due before the later cell comes is a cold joint, and the other way round.
    too_late = found.joint_due_min < found.cell_placed_min[joints.later]
    clear = np.abs(found.joint_set_margin_min) > 1e-6
    assert (too_late == (found.joint_set_margin_min < 0))[clear].all()


def test_a_retarded_pour_has_no_cold_joint_and_a_stiff_one_has_all():
    """Limit cases of the benchmark pour."""
    draws = P1.draws(5)
    model = workloads.pour(P1, 1)
    patient = replace(model, concrete=replace(model.concrete, set_limit_min=1e6))
    assert (simulate(patient, draws).cold_joint_area_m2 == 0).all()
    stiff = replace(model, concrete=replace(model.concrete, set_limit_min=1e-9))
    assert simulate(stiff, draws).cold_joint_area_m2 == pytest.approx(np.full(5, model.joints.area_m2.sum()))
