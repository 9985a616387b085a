"""The simulator against an independent process-style implementation of the whole model, event for event."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import workloads
from process_pour import Pour
from small_pours import EXTENSIONS, extensions, small_pour
from wetfront.placing.draws import hashed_draws
from wetfront.placing.simulate import simulate, trace
from workloads import P1

MINUTES = 1e-9


def same(got, expected, what):
    assert np.allclose(got, expected, rtol=0, atol=MINUTES), what


def compare(model, draws, replication):
    """Every time, volume and margin of one replication."""
    met = model.met_by(draws.first_replication + replication)
    got, by_process = trace(model, draws, replication), Pour(met, draws, replication).run()
    _compare_loads(got, by_process)
    same(got.cell_placed_min, by_process.cell_time, "cells")
    assert got.cell_load.tolist() == by_process.cell_load
    by_clock, by_minutes = by_process.joints()
    same(got.joint_set_margin_min, by_clock, "margins by setting")
    same(got.joint_specified_margin_min, by_minutes, "margins by the specification")
    strips = by_process.finishing()
    if strips:
        _, ready, start, end, late, _ = map(np.array, zip(*strips, strict=True))
        same(got.strip_ready_min, ready, "strips ready")
        same(got.strip_start_min, start, "strips begun")
        same(got.strip_end_min, end, "strips finished")
        assert got.strip_late.tolist() == late.tolist()
    _compare_outcome(model, got.outcome, by_process, strips)
    alone = simulate(model, draws, slice(replication, replication + 1))
    assert alone.end_of_pour_min.tolist() == got.outcome.end_of_pour_min.tolist()


def _compare_loads(got, by_process):
    loads, expected = got.loads, by_process.loads
    assert loads.plant.tolist() == [load.plant for load in expected]
    assert loads.truck.tolist() == [load.truck for load in expected]
    assert loads.refused.tolist() == [load.refused for load in expected]
    same(loads.volume_m3, [load.volume for load in expected], "volumes")
    same(loads.used_m3, [load.used for load in expected], "used")
    same(loads.temperature_c, [load.temperature for load in expected], "temperatures")
    names = {"truck_free_min": "free"} | {
        f"{name}_min": name for name in ("batching", "batched", "reached", "arrival", "entered", "start", "end", "left")
    }
    for column, name in names.items():
        same(getattr(loads, column), [load.times[name] for load in expected], column)
    assert len(got.repairs) == len(by_process.repairs)
    same(np.array(got.repairs).ravel(), np.array(by_process.repairs).ravel(), "repairs")
    # A break after the last truck hinders nobody; the simulator does not look at it.
    breaks = by_process.breaks_taken
    assert len(got.breaks_taken) <= len(breaks)
    same(np.array(got.breaks_taken).ravel(), np.array(breaks[: len(got.breaks_taken)]).ravel(), "breaks")
    last_start = max(load.times["start"] for load in expected)
    assert all(begin >= last_start for begin, _ in breaks[len(got.breaks_taken) :])


def _compare_outcome(model, outcome, by_process, strips):
    taken = [load for load in by_process.loads if not load.refused]
    ends = [load.times["end"] for load in taken]
    begin = "batching" if model.acceptance.age_counted_from == "loading" else "batched"
    ages = [load.times["end"] - load.times[begin] for load in taken]
    stays = [load.times["left"] - load.times["arrival"] for load in by_process.loads]
    by_clock, by_minutes = map(np.array, by_process.joints())
    area = model.joints.area_m2
    expected = {
        "end_of_pour_min": max(ends),
        "first_discharge_min": min(load.times["start"] for load in taken),
        "longest_wait_min": max(load.times["start"] - load.times["arrival"] for load in by_process.loads),
        "longest_gap_min": by_process.gap,
        "waste_m3": sum(load.volume - load.used for load in by_process.loads),
        "delivered_m3": sum(load.volume for load in by_process.loads),
        "loads_count": len(by_process.loads),
        "refused_age_count": sum(load.refused == 1 for load in by_process.loads),
        "refused_temperature_count": sum(load.refused == 2 for load in by_process.loads),
        "refused_consistence_count": sum(load.refused == 3 for load in by_process.loads),
        "refused_count": sum(load.refused > 0 for load in by_process.loads),
        "oldest_age_min": max(ages),
        "over_age_count": sum(age > model.acceptance.longest_age_min for age in ages),
        "most_trucks_waiting": by_process.most_waiting,
        "most_trucks_on_site": by_process.most_on_site,
        "paid_waiting_min": sum(max(0.0, stay - model.site.waiting_free_min) for stay in stays),
        "lowest_placing_c": min(load.temperature for load in taken),
        "highest_placing_c": max(load.temperature for load in taken),
        "stops_count": len(by_process.repairs),
        "loads_after_closing": sum(
            load.times["batching"] > model.supply.plants[load.plant].closes_min for load in by_process.loads
        ),
        "least_set_margin_min": by_clock.min(initial=np.inf),
        "cold_joint_area_m2": area[by_clock < 0].sum(),
        "least_specified_margin_min": by_minutes.min(initial=np.inf),
        "area_over_specification_m2": area[by_minutes < 0].sum(),
        "finishing_end_min": max((strip[3] for strip in strips), default=max(ends)),
        "late_strips": sum(strip[4] for strip in strips),
    }
    for name, value in expected.items():
        same(getattr(outcome, name)[0], value, name)
    same(outcome.highest_rise_m_per_h[0], by_process.rises(), "rise")
    if len(model.finishing.evaporation_kg_per_m2_h):
        met = np.array([by_process.evaporation(opened, end) for _, _, _, end, _, opened in strips])
        over = met >= model.finishing.evaporation_action_kg_per_m2_h
        same(outcome.highest_evaporation_kg_per_m2_h[0], met.max(), "evaporation")
        same(outcome.area_over_evaporation_m2[0], model.finishing.strip_area_m2[over].sum(), "area")


@pytest.mark.parametrize("order", [0, 1, 2])
def test_benchmark_pour_agrees_event_for_event(order):
    model, draws = workloads.pour(P1, order), P1.draws(12)
    for replication in range(4 * order, 4 * order + 4):
        compare(model, draws, replication)


@pytest.mark.parametrize("extension", EXTENSIONS)
def test_each_extension_alone_agrees(extension):
    draws = hashed_draws(5, 3, 400, 8)
    for seed in range(3):
        compare(small_pour(seed, {extension}), draws, seed)


@pytest.mark.parametrize(
    "together",
    [
        {"call-off steps", "consistence", "two plants"},
        {"call-off steps", "measured balance", "consistence", "wastage", "bans"},
        {"age at expected end", "moves", "several rates", "lead"},
        {"breaks", "weather stops", "bans", "one place"},
        {"loads end at cells", "moves"},
        {"loads end at cells", "moves", "consistence", "call-off steps"},
        {"age counts", "load temperature counts", "cooling on the way", "edge limits", "temperature limits"},
    ],
    ids=lambda together: ", ".join(sorted(together)),
)
def test_extensions_that_meddle_with_each_other_agree(together):
    for seed in range(12):
        compare(small_pour(seed, together), hashed_draws(seed, 1, 400, 8), 0)


@given(seed=st.integers(0, 10**6), on=extensions)
@example(seed=1, on=set(EXTENSIONS))
@settings(max_examples=120, deadline=None)
def test_any_mixture_of_extensions_agrees(seed, on):
    compare(small_pour(seed, on), hashed_draws(seed, 1, 400, 8), 0)
