"""Single rules of the placing model by hand: small pours without chance, whose times can be added up on paper."""

from dataclasses import replace

import numpy as np
import pytest

from wetfront.placing.clock import clock_rate, clock_table
from wetfront.placing.draws import Draws, hashed_draws
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
from wetfront.placing.simulate import simulate, trace

POINTS = 6 * 24 * 2 + 1
"""Two days."""


def no_chance(loads=30, strips=1) -> Draws:
    """Every z is 0, every load has the right consistence, no breakdown comes."""
    draws = hashed_draws(0, 1, loads, strips)
    zero = {name: np.zeros_like(getattr(draws, name)) for name in Draws.__slots__ if name.endswith("_z")}
    return replace(draws, consistence_u=np.ones((1, loads)), up_e=np.full((1, 64), 1e9), **zero)


def line(count=8, *, volume_m3=2.0, rate_m3_per_h=24.0, **cells) -> PourModel:
    """Cells in a row, a load of 2 m³ each, pumped in 5 min; batched in 10 min from 06:00 on, 20 away, back in 15."""
    columns = {
        "volume_m3": np.full(count, volume_m3),
        "rate_m3_per_h": np.full(count, rate_m3_per_h),
        "strip": np.zeros(count, dtype=np.int64),
        "move_min": np.zeros(count),
        "panel": np.full(count, -1),
        "rise_m": np.zeros(count),
        "lattice_cell": np.arange(count),
    } | cells
    return PourModel(
        cells=Cells(**columns),
        joints=Joints(
            first=np.arange(count - 1),
            later=np.arange(1, count),
            area_m2=np.full(count - 1, 0.5),
            edge=np.zeros(count - 1, dtype=np.int64),
            edge_names=("along",),
        ),
        supply=Supply(
            plants=(
                PlantSupply(
                    name="plant",
                    trucks_count=20,
                    batching_min=Lognormal(10),
                    haul_min=Lognormal(20),
                    return_min=Lognormal(15),
                ),
            ),
            load_m3=2.0,
            interval_min=10.0,
            first_batching_min=360.0,
        ),
        site=SiteWork(
            position_min=1.0,
            wash_min=4.0,
            speed=Lognormal(1.0),
            pumping_min_between_stops=1.0,
            repair_min=Lognormal(30.0),
        ),
        acceptance=Acceptance(),
        concrete=Concrete(clock_min=clock_table(np.full(POINTS, 20.0), 10.0, 4000.0), set_limit_min=150.0),
        finishing=FinishingWork(strip_min=np.array([40.0]), ready_clock_min=120.0),
    )


def with_parts(model, **parts):
    return replace(model, **{part: replace(getattr(model, part), **values) for part, values in parts.items()})


def loads_of(model, draws=None):
    return trace(model, draws or no_chance(), 0).loads


def test_an_undisturbed_load_takes_its_times_one_after_the_other():
    loads = loads_of(line())
    assert loads.batching_min[:3].tolist() == [360, 370, 380]
    assert loads.arrival_min[:3].tolist() == [390, 400, 410]
    assert loads.start_min[:3].tolist() == [391, 401, 411]
    assert np.allclose(loads.end_min[:3], [396, 406, 416])
    assert np.allclose(loads.left_min[:3], [400, 410, 420])
    assert np.allclose(loads.truck_free_min[:3], [415, 425, 435])
    assert len(loads.plant) == 8


def test_two_trucks_are_the_bottleneck_and_go_in_turns():
    """A round is 10 + 20 + 1 + 5 + 4 + 15 = 55 min, two trucks bring a load every 27.5 min in the mean."""
    plants = (replace(line().supply.plants[0], trucks_count=2),)
    loads = loads_of(with_parts(line(), supply={"plants": plants}))
    assert loads.truck.tolist() == [0, 1] * 4
    assert np.allclose(loads.batching_min, [360, 370, 415, 425, 470, 480, 525, 535])


def test_expected_arrival_in_a_ban_moves_the_batching_to_its_end():
    loads = loads_of(with_parts(line(), supply={"bans": ((405.0, 433.0),)}))
    # The third load would come at 410: it is batched so that it comes at 433, and the later ones follow it.
    assert np.allclose(loads.arrival_min[:5], [390, 400, 433, 443, 453])
    assert np.allclose(loads.batching_min[2], 433 - 30)


def test_a_truck_that_still_comes_in_a_ban_waits_outside_and_ages():
    draws = no_chance()
    late = draws.haul_z.copy()
    late[0, 1] = 1.0
    model = with_parts(line(), supply={"bans": ((405.0, 433.0),)})
    plants = (replace(model.supply.plants[0], haul_min=Lognormal(20, 0.5)),)
    found = loads_of(with_parts(model, supply={"plants": plants}), replace(draws, haul_z=late))
    assert 405 < found.reached_min[1] < 433
    assert found.arrival_min[1] == 433
    assert found.start_min[1] - found.batched_min[1] == pytest.approx(434 - 380)


def test_two_plants_take_turns_and_keep_their_own_trucks():
    far = PlantSupply(
        name="far",
        trucks_count=1,
        batching_min=Lognormal(12),
        haul_min=Lognormal(40),
        return_min=Lognormal(35),
        opens_min=395.0,
    )
    model = line()
    supply = {"plants": (*model.supply.plants, far), "plant_of_load": (0, 1)}
    loads = loads_of(with_parts(model, supply=supply))
    assert loads.plant.tolist() == [0, 1] * 4
    # The far plant opens at 395, and the load after waits for its turn in the call-off.
    assert loads.batching_min[:3].tolist() == [360, 395, 395]
    assert loads.arrival_min[1] == 395 + 52


def test_a_break_waits_for_the_load_on_the_pump():
    found = trace(with_parts(line(), site={"breaks": ((403.0, 20.0),)}), no_chance(), 0)
    assert found.breaks_taken == (pytest.approx((406.0, 20.0)),)
    assert found.loads.start_min[2] == pytest.approx(426.0)


def test_a_break_with_an_idle_pump_begins_at_its_time():
    found = trace(with_parts(line(), site={"breaks": ((398.0, 10.0),)}), no_chance(), 0)
    assert found.breaks_taken == (pytest.approx((398.0, 10.0)),)
    assert found.loads.start_min[1] == pytest.approx(408.0)


def test_no_truck_is_taken_in_a_weather_stop_but_one_is_finished():
    loads = loads_of(with_parts(line(), site={"weather_stops": ((393.0, 450.0),)}))
    assert loads.end_min[0] == pytest.approx(396.0)
    assert loads.start_min[1] == 450.0


def test_a_breakdown_counts_pumping_time_only():
    """7 min of pumping: the first load takes 5, so it comes 2 min into the second, which then takes 35."""
    draws = no_chance()
    up = draws.up_e.copy()
    up[0, 0] = 7.0
    found = trace(line(), replace(draws, up_e=up), 0)
    assert found.repairs == (pytest.approx((403.0, 30.0)),)
    assert found.loads.end_min[1] == pytest.approx(401 + 5 + 30)
    assert found.outcome.longest_gap_min[0] == pytest.approx(30.0)


def test_a_move_stands_before_its_cell():
    move = np.zeros(8)
    move[2] = 6.0
    found = trace(line(move_min=move), no_chance(), 0)
    assert found.loads.end_min[2] == pytest.approx(411 + 6 + 5)


def test_priming_and_line_come_before_the_first_cell_and_are_not_placed():
    """16 m³ net, 5 % wastage, 0.5 priming, 0.7 in the line: 18.0 m³ are nine loads of 2; 1.2 m³ take 3 min."""
    site = {"priming_m3": 0.5, "line_content_m3": 0.7, "wastage": 0.05}
    found = trace(with_parts(line(), site=site), no_chance(), 0)
    assert len(found.loads.plant) == 9
    assert found.outcome.delivered_m3[0] == pytest.approx(18.0)
    assert found.outcome.placed_m3[0] == pytest.approx(16.8)
    assert found.outcome.waste_m3[0] == pytest.approx(0.0, abs=1e-9)
    # 3.3 m³ until the first cell is full: the first load, then 1.3 m³ of the second.
    assert found.cell_placed_min[0] == pytest.approx(401 + 1.3 / 24 * 60)


def test_balance_load_is_called_in_steps_when_the_load_before_is_at_the_pump():
    """16 m³ in loads of 3: five full loads, then 1 m³. It is batched when the fifth is taken, not at its interval."""
    supply = {"load_m3": 3.0, "call_off_step_m3": 0.25, "balance_after_measuring": True}
    loads = loads_of(with_parts(line(), supply=supply))
    assert np.allclose(loads.volume_m3, [3, 3, 3, 3, 3, 1])
    assert loads.batching_min[5] == pytest.approx(loads.start_min[4])
    at_once = loads_of(with_parts(line(), supply=supply | {"balance_after_measuring": False}))
    assert at_once.batching_min[5] == 410.0
    small = loads_of(with_parts(line(), supply=supply | {"smallest_load_m3": 1.5}))
    assert small.volume_m3[5] == 1.5


def test_a_load_that_will_be_too_old_at_its_end_is_refused_and_replaced():
    """Age when taken 21 min, expected end 26: refused under a limit of 25 by the end, accepted by the start."""
    held = {"longest_age_min": 25.0}
    assert (loads_of(with_parts(line(), acceptance=held)).refused == 0).all()
    draws = no_chance(12)
    late = draws.haul_z.copy()
    late[0, 0] = 1.0
    plants = (replace(line().supply.plants[0], haul_min=Lognormal(20, 0.05)),)
    model = with_parts(line(), supply={"plants": plants}, acceptance={"longest_age_min": 26.5})
    by_end = with_parts(model, acceptance={"age_judged_at": "expected-end"})
    assert loads_of(model, replace(draws, haul_z=late)).refused.tolist() == [0] * 8
    found = loads_of(by_end, replace(draws, haul_z=late))
    assert found.refused.tolist() == [1] + [0] * 8
    assert found.end_min[0] == found.start_min[0]
    assert found.batching_min[8] == 440.0
    outcome = simulate(by_end, replace(draws, haul_z=late))
    assert (outcome.refused_age_count[0], outcome.waste_m3[0]) == (1, 2.0)


def test_concrete_cools_on_the_way_as_in_the_example_of_the_rule():
    """Drum, 10 °C wanted, air −4 °C, one hour: 3.5 °C lost, so 13.5 °C at the plant (ACI 306R, from memory)."""
    model = with_parts(
        line(),
        supply={"plants": (replace(line().supply.plants[0], haul_min=Lognormal(59.0)),)},
        concrete={"change_per_h": 0.25, "plant_temperature_c": 13.5, "air_temperature_c": np.full(POINTS, -4.0)},
    )
    assert loads_of(model).temperature_c == pytest.approx(np.full(8, 10.0))


@pytest.mark.parametrize(("plant_c", "reason"), [(4.0, 2), (20.0, 0), (31.0, 2)])
def test_a_load_outside_the_placing_temperature_is_refused(plant_c, reason):
    acceptance = {"lowest_c": 5.0, "highest_c": 30.0}
    draws = no_chance(9)
    kelvin = np.zeros((1, 9))
    kelvin[0, 0] = plant_c - 20.0
    model = with_parts(line(), acceptance=acceptance, concrete={"plant_temperature_sd_c": 1.0})
    assert loads_of(model, replace(draws, temperature_z=kelvin)).refused[0] == reason


def test_margins_of_both_kinds_by_hand():
    """A cell every 10 min at 20 °C: the clock runs 10; the specification allows 60, 75 or 90 min by temperature."""
    steps = ((20.0, 90.0), (25.0, 75.0), (100.0, 60.0))
    for plant_c, allowed in ((19.0, 90), (20.0, 90), (20.1, 75), (25.0, 75), (25.1, 60), (120.0, 60)):
        model = with_parts(line(), concrete={"edge_limits": steps, "plant_temperature_c": plant_c})
        outcome = simulate(model, no_chance())
        assert outcome.least_set_margin_min[0] == pytest.approx(140.0)
        assert outcome.least_specified_margin_min[0] == pytest.approx(allowed - 10)


def test_a_clock_that_counts_age_starts_at_the_batching():
    """The first cell is placed 36 min after its batching began: 36 min more on its clock at 20 °C."""
    model = with_parts(line(), concrete={"counts_age": True, "activation_temperature_k": 4000.0})
    assert simulate(model, no_chance()).least_set_margin_min[0] == pytest.approx(150 - 36 - 10)


def test_a_warm_load_runs_ahead_of_the_expected_clock():
    """At 30 °C the clock runs exp(4000 (1/293.15 − 1/303.15)) = 1.5685 times as fast: 1/k of Arrhenius by hand."""
    concrete = {"counts_load_temperature": True, "activation_temperature_k": 4000.0, "plant_temperature_c": 30.0}
    assert float(clock_rate(30.0, 4000.0)) == pytest.approx(1.5685, abs=5e-5)
    margin = simulate(with_parts(line(), concrete=concrete), no_chance()).least_set_margin_min[0]
    assert margin == pytest.approx(150 - 10 * 1.5685, abs=1e-3)


def test_rise_of_a_wall_is_rate_over_plan_area():
    """7.6 m³/h on 3.5 m²: 2.17 m/h while the pump never waits."""
    count, area = 16, 3.5
    model = line(
        count,
        volume_m3=0.5,
        rate_m3_per_h=7.6,
        panel=np.zeros(count, dtype=np.int64),
        rise_m=np.full(count, 0.5 / area),
    )
    model = replace(with_parts(model, supply={"load_m3": 8.0}), panel_names=("panel 1",))
    assert simulate(model, no_chance()).highest_rise_m_per_h[0, 0] == pytest.approx(7.6 / area)


def test_a_held_rate_is_never_passed_and_a_free_one_can_be():
    draws = replace(no_chance(), speed_z=np.ones((1, 30)))
    model = with_parts(line(), site={"speed": Lognormal(1.0, 0.3)})
    free, held = loads_of(model, draws), loads_of(with_parts(model, site={"rate_is_held": True}), draws)
    assert free.end_min[0] - free.start_min[0] < 4.5
    assert held.end_min[0] - held.start_min[0] == pytest.approx(5.0)


def test_finishing_waits_for_the_clock_and_for_a_crew():
    """Two strips, last cells placed at 426 and 466; ready at 120 min; one crew needs 60 min a strip."""
    strip = np.repeat([0, 1], 4)
    finishing = {"strip_min": np.array([60.0, 60.0]), "latest_clock_min": 190.0}
    found = trace(with_parts(line(strip=strip), finishing=finishing), no_chance(strips=2), 0)
    assert np.allclose(found.strip_ready_min, [426 + 120, 466 + 120])
    assert np.allclose(found.strip_end_min, [606, 666])
    assert found.strip_late.tolist() == [False, True]


def test_evaporation_is_the_highest_while_the_strip_lies_open():
    """Open from 396 to 626 min; the peak at 500 lies inside, that at 640 after it."""
    rates = np.full(POINTS, 0.2)
    rates[50], rates[64] = 0.8, 1.5
    finishing = {"strip_area_m2": np.array([16.0]), "evaporation_kg_per_m2_h": rates}
    for action, area in ((0.8, 16.0), (0.81, 0.0)):
        model = with_parts(line(), finishing=finishing | {"evaporation_action_kg_per_m2_h": action})
        outcome = simulate(model, no_chance())
        assert outcome.finishing_end_min[0] == pytest.approx(626.0)
        assert outcome.highest_evaporation_kg_per_m2_h[0] == pytest.approx(0.8)
        assert outcome.area_over_evaporation_m2[0] == area


def test_paid_waiting_and_trucks_on_site_by_hand():
    """A pump of 12 m³/h needs 10 min a load that comes every 5 min: load k waits 5 k min for it."""
    model = with_parts(line(4, rate_m3_per_h=12.0), supply={"interval_min": 5.0}, site={"waiting_free_min": 20.0})
    plants = (replace(model.supply.plants[0], batching_min=Lognormal(5.0)),)
    outcome = simulate(with_parts(model, supply={"plants": plants}), no_chance())
    # Stays: 1 + 10 + 4 and 5 more for each load before.
    assert outcome.paid_waiting_min[0] == pytest.approx(0 + 0 + 5 + 10)
    # 385, 390, 395, 400 arrive; ends 396, 406, 416, 426: at 395 the third waits for a place, at 400 only the fourth.
    assert outcome.most_trucks_waiting[0] == 1
    assert outcome.most_trucks_on_site[0] == 3
