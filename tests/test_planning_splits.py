"""A pour split at an agreed joint: its parts are pours of their own, and the split is chosen by cost and risks."""

import datetime as dt

import pytest

from planned import QUICK, SEED, checked, situation, small_slab
from sheets import tree_of
from wetfront.desk.board.basis import basis_of
from wetfront.desk.plan_pour import plan_one
from wetfront.errors import SheetError
from wetfront.nouns.plan import Verdict
from wetfront.planning.candidates import logistics, placing_orders, start_times
from wetfront.planning.race import violation
from wetfront.planning.search import Bench, full_search, search
from wetfront.planning.splits import (
    dearer_than_whole,
    part_of,
    parts_at,
    search_splits,
    split_opened,
    split_reason,
)

COUNT = 120
ROUNDS = ((8, 12), (24, 6), (COUNT, 2))


def two_bays(split_cu=900.0, **choices):
    """Bays C and B of the example slab, with the agreed joint between them and few choices left open."""
    tree = small_slab()
    whole = tree_of("slab")
    tree["element"] = [element for element in whole["element"] if element["id"] in ("C", "B")]
    tree["pour"][0]["elements"] = ["C", "B"]
    tree["allowance"]["extra_m3"] = 1.5
    tree["choices"] |= {"element_order": ["C", "B"], "splits": ["x24"], **choices}
    tree["prices"]["split_cu"] = split_cu
    tree["risk_limits"] = {"specified_edge_exceeded": 0.6, "load_over_age": 0.6, "trucks_over_places": 0.6}
    return tree


def searched(there):
    whole = search(there, Bench(there, SEED), ROUNDS)
    return search_splits(whole, lambda part: Bench(part, SEED), ROUNDS)


def late(tree):
    """So little time that the two bays cannot be finished on one day."""
    for hours in tree["hours"]:
        hours["end_local"] = dt.time(16)
        hours["trowelling_until_local"] = dt.time(19)
    return tree


def test_parts_are_the_whole_and_share_its_extras(tmp_path):
    there = situation(checked(tmp_path, two_bays()))
    joint = next(joint for joint in there.sheet.joint if joint.id == "x24")
    assert parts_at(there, joint, ("C", "B")) == (("C",), ("B",))
    assert parts_at(there, joint, ("B", "C")) == (("B",), ("C",))
    parts = [part_of(there, "x24", names) for names in (("C",), ("B",))]
    assert [part.split_at for part in parts] == ["x24", "x24"]
    assert sum(part.net_m3 for part in parts) == pytest.approx(there.net_m3)
    assert sum(part.extra_m3 for part in parts) == pytest.approx(there.extra_m3)
    assert all(part.lost_line_m3 == there.lost_line_m3 for part in parts)


def test_a_joint_that_cuts_an_element_or_divides_nothing_splits_no_pour(tmp_path):
    tree = small_slab(splits=["x24"])
    there = situation(checked(tmp_path, tree))
    whole = search(there, Bench(there, SEED), ROUNDS)
    splits = search_splits(whole, lambda part: Bench(part, SEED), ROUNDS)
    assert splits.tried == () and splits.chosen is None
    (told,) = split_opened(splits)
    assert told.chosen == "in one go"
    assert told.why == ("split at joint x24: not possible, it does not lie between elements",)


@pytest.mark.parametrize("split_cu", [0.0, 5000.0])
def test_the_choice_is_within_one_percent_of_the_full_search_over_whole_and_parts(tmp_path, split_cu):
    there = situation(checked(tmp_path, two_bays(split_cu)))
    splits = searched(there)
    found = splits.whole.sample.cost.mean() if splits.chosen is None else splits.chosen.cost_cu

    def best(part):
        ways = [
            way
            for start in start_times(part, 32.0)
            for way in logistics(part, placing_orders(part)[:1], start, [part.own_means])
        ]
        bench = Bench(part, SEED)
        sample = bench.samples[ways[full_search(bench, ways, splits.whole.limits, COUNT)]]
        assert violation(sample, splits.whole.limits) == 0
        return sample.cost.mean()

    parts = sum(best(part_of(there, "x24", names)) for names in (("C",), ("B",)))
    assert found <= 1.01 * min(best(there), parts + split_cu)


def test_a_dear_second_day_keeps_the_pour_in_one_go_and_the_price_is_told(tmp_path):
    splits = searched(situation(checked(tmp_path, two_bays(5000.0))))
    assert splits.chosen is None and split_reason(splits) == ""
    (split,) = splits.tried
    dearer, error = dearer_than_whole(splits.whole, split)
    assert dearer > 3 * error > 0
    (told,) = split_opened(splits)
    assert told.chosen == "in one go" and told.values == ("in one go", "split at joint x24")
    assert told.why[0].startswith("split at joint x24: ") and "dearer" in told.why[0]


def test_more_risk_than_is_accepted_splits_the_pour_whatever_it_costs(tmp_path):
    splits = searched(situation(checked(tmp_path, late(two_bays(5000.0)))))
    assert violation(splits.whole.sample, splits.whole.limits) > 0
    assert splits.chosen is not None and splits.chosen.over < violation(splits.whole.sample, splits.whole.limits)
    assert "in one go, which breaks a limit: finishing ends out of hours" in split_reason(splits)


def test_plan_of_a_split_is_that_of_its_first_part_and_says_so(tmp_path):
    sheet = checked(tmp_path, late(two_bays()))
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    assert plan.decision.joint == "x24" and plan.decision.element_order == ("C",)
    assert plan.title == f"{sheet.sheet.pour[0].title}: only C"
    assert plan.quantity.net_m3 == pytest.approx(72.0, abs=0.1)
    assert plan.verdict is not Verdict.GO
    assert plan.reasons[1].startswith("split at the agreed joint x24: C today, B another day; with the second day ")
    assert plan.measures[0].startswith("stop end at joint x24") and "B: a pour of its own" in plan.measures[0]
    assert [each.key for each in plan.opened] == ["choices.splits"]
    assert {strip.element for strip in plan.strips} == {"C"}


def test_sheet_that_opens_no_split_is_planned_in_one_go(tmp_path):
    tree = late(two_bays())
    del tree["choices"]["splits"]
    sheet = checked(tmp_path, tree)
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, QUICK)
    assert plan.decision.joint == "" and plan.opened == ()
    # What nothing opens is still proposed where nothing keeps the limits.
    assert any(text.startswith("stop at the agreed joint x24: C today, B another day") for text in plan.nearest_change)


def test_a_joint_that_the_designer_has_not_agreed_to_cannot_be_opened(tmp_path):
    with pytest.raises(SheetError) as error:
        checked(tmp_path, two_bays(splits=["x12"]))
    assert "choices.splits[1]" in error.value.message and "agreed_emergency" in error.value.message


def test_board_of_a_split_pour_is_that_of_its_first_part(tmp_path):
    sheet = checked(tmp_path, late(two_bays()))
    pour = sheet.sheet.pour[0]
    plan = plan_one(sheet, pour, None, None, SEED, QUICK)
    basis = basis_of(sheet, pour, plan)
    assert basis.pour.elements == ("C",) and basis.candidate.order.element_order == ("C",)
    assert basis.volumes.net_m3 == pytest.approx(plan.quantity.net_m3)
    assert basis.volumes.order_m3 == plan.quantity.order_m3
