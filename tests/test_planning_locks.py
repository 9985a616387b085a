"""Decisions locked so that they cannot hold together: the two keys are named, and nothing is simulated."""

import datetime as dt

import pytest

from planned import QUICK, SEED, checked, situation, small_slab, wall_panel
from sheets import tree_of
from wetfront.desk.day_plans import plan_day
from wetfront.desk.plan_pour import plan_one
from wetfront.errors import SheetError
from wetfront.nouns.plan import Verdict
from wetfront.planning.locks import contradictions


def slab(**choices):
    """Bay C of the example slab: 75 m³ or so, hours 07:00 to 19:00, a ban at school time, a fleet of 10."""
    return small_slab(**{"start_between_local": None, "trucks_between": None, "interval_between_min": None, **choices})


def with_none_left_out(tree):
    tree["choices"] = {key: value for key, value in tree["choices"].items() if value is not None}
    return tree


def told(tmp_path, tree):
    return contradictions(situation(checked(tmp_path, with_none_left_out(tree))))


@pytest.mark.parametrize(
    ("choices", "keys"),
    [
        ({"placing_rates_m3_per_h": [60.0, 50.0]}, ("choices.placing_rates_m3_per_h", "pump.planned_output_m3_per_h")),
        (
            {"interval_between_min": [8.0, 10.0], "trucks_between": [2, 2]},
            ("choices.interval_between_min", "choices.trucks_between"),
        ),
        ({"interval_between_min": [240.0, 300.0]}, ("choices.interval_between_min", "hours.end_local")),
        ({"trucks_between": [1, 1]}, ("choices.trucks_between", "hours.end_local")),
        ({"start_between_local": [dt.time(7, 0), dt.time(7, 2)]}, ("choices.start_between_local", "hours.start_local")),
        ({"start_between_local": [dt.time(8, 40), dt.time(8, 50)]}, ("choices.start_between_local", "delivery_ban")),
    ],
)
def test_both_keys_are_named_with_their_values(tmp_path, choices, keys):
    found = told(tmp_path, slab(**choices))
    assert len(found) == 1, found
    assert found[0].startswith(f"{keys[0]} = ") and f"contradicts {keys[1]}" in found[0]


def test_fleet_is_named_where_the_sheet_leaves_the_trucks_open(tmp_path):
    tree = slab(interval_between_min=[8.0, 10.0])
    tree["trucks"].update(count_promised=2, count_in_fleet=3)
    (text,) = told(tmp_path, tree)
    assert "choices.interval_between_min = 8 to 10 contradicts trucks.count_in_fleet = 3" in text


def test_plant_that_opens_after_the_window_is_named(tmp_path):
    tree = slab(start_between_local=[dt.time(9, 30), dt.time(10, 0)])
    tree["plant"][0]["opens_local"] = dt.time(10, 30)
    (text,) = told(tmp_path, tree)
    assert "choices.start_between_local" in text and "contradicts plant.opens_local" in text


def test_rise_in_the_form_is_named_where_it_forbids_the_locked_rate(tmp_path):
    (text,) = told(tmp_path, wall_panel(placing_rates_m3_per_h=[30.0]))
    assert "choices.placing_rates_m3_per_h = 30 contradicts formwork.permitted_pressure_kn_per_m2: rise in" in text


@pytest.mark.parametrize("make", [small_slab, wall_panel, lambda: tree_of("slab"), lambda: tree_of("wall")])
def test_sheets_that_can_be_planned_hold_no_contradiction(tmp_path, make):
    assert told(tmp_path, make()) == ()


@pytest.mark.parametrize(
    "choices",
    [
        {"interval_between_min": [40.0, 60.0], "trucks_between": [2, 2]},
        {"start_between_local": [dt.time(8, 40), dt.time(9, 30)]},
        {"placing_rates_m3_per_h": [60.0, 20.0]},
    ],
)
def test_lock_that_leaves_one_way_open_is_no_contradiction(tmp_path, choices):
    assert told(tmp_path, slab(**choices)) == ()


def test_accepted_end_after_the_hours_is_no_contradiction(tmp_path):
    tree = slab(interval_between_min=[240.0, 300.0])
    tree["risk_limits"] = {**tree.get("risk_limits", {}), "placing_out_of_hours": 1.0}
    assert told(tmp_path, tree) == ()


def test_plan_says_no_go_with_the_keys_and_what_to_do(tmp_path):
    sheet = checked(tmp_path, with_none_left_out(slab(placing_rates_m3_per_h=[60.0])))
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    assert plan.verdict is Verdict.NO_GO and plan.decision is None
    assert plan.reasons[0].startswith("choices.placing_rates_m3_per_h = 60 contradicts pump.planned_output_m3_per_h")
    assert "loosen one of the two keys" in plan.nearest_change[0]
    assert plan_day(sheet, sheet.sheet.pour[0]).refused == plan.reasons[0]


def test_more_trucks_than_the_fleet_are_refused_with_the_fleets_key(tmp_path):
    with pytest.raises(SheetError) as error:
        checked(tmp_path, with_none_left_out(slab(trucks_between=[9, 99])))
    assert "choices.trucks_between" in error.value.message and "trucks.count_in_fleet" in error.value.message


def test_order_of_some_of_a_pours_elements_is_refused(tmp_path):
    tree = tree_of("slab")
    tree["choices"]["element_order"] = ["C", "B"]
    with pytest.raises(SheetError) as error:
        checked(tmp_path, tree)
    assert "choices.element_order" in error.value.message and "pour[1].elements" in error.value.message


def test_no_layer_orders_leave_the_choice_to_the_program(tmp_path):
    assert told(tmp_path, wall_panel(layer_orders=[])) == ()
    sheet = checked(tmp_path, wall_panel(layer_orders=[]))
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    assert plan.decision is not None and plan.decision.layer_order in ("whole", "stepped")
