"""A pour mixed on site: drums and carriers in the one placing model, the sheet, the plan."""

import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from planned import QUICK, checked, situation
from sheets import tree_of
from wetfront.cli.schema import formats
from wetfront.desk.plan_pour import plan_pours
from wetfront.dossier import plan_json, plan_pdf, screen_text
from wetfront.dossier.document import plan_document
from wetfront.errors import SheetError
from wetfront.nouns.reason import Provenance
from wetfront.nouns.site import SiteMixer
from wetfront.placing.core.prepared import simulate
from wetfront.placing.seeded import SeededDraws
from wetfront.placing.simulate import simulate as simulate_plain
from wetfront.placing.site_mixer import mixer_supply
from wetfront.planning.call_off import calm_trace
from wetfront.planning.candidates import nominal, placing_orders
from wetfront.planning.model import BATCHING_CV, pour_model
from wetfront.rules import rule


def shelter(**mixer):
    tree = tree_of("shelter")
    for key in ("plant", "trucks", "delivery_ban"):
        tree.pop(key)
    tree["site_mixer"] = {**tree["site_mixer"], **mixer}
    return tree


def loads_of(folder, **mixer):
    """The calm day: every time as usual."""
    here = situation(checked(folder, shelter(**mixer)))
    best = nominal(here, placing_orders(here)[0])
    model = pour_model(here, best)
    return here, best, calm_trace(model, here.loads_count(best.load_m3)).loads


def period(loads):
    """Minutes between the ends of late batches, when the start has no say any more."""
    ends = loads.end_min[10:-2]
    return float(np.diff(ends).mean())


BATCH = 50 / 340
"""Two bags of 25 kg at 340 kg/m³."""
MEDIAN = 1 / (1 + BATCHING_CV**2) ** 0.5
"""Of a drum's time over its mean: the calm day has every time at its median."""


@pytest.mark.parametrize(
    ("carriers", "round_min", "expected"),
    [
        # Four barrows hold a whole batch: the slower of drum and barrows sets the pace.
        (4, 4, 6.0 * MEDIAN),
        (4, 20, BATCH / (0.24 / 20)),
        # Two barrows do not: the drum waits for its last concrete, then is charged again.
        (2, 4, 5.0 * MEDIAN + BATCH / (0.12 / 4)),
    ],
)
def test_the_pace_is_that_of_drum_and_carriers_worked_out_by_hand(tmp_path, carriers, round_min, expected):
    here, best, loads = loads_of(tmp_path, carriers_count=carriers, round_min=round_min)
    slowest = max(expected, BATCH / best.rate_m3_per_h * 60)
    assert best.load_m3 == pytest.approx(BATCH)
    assert here.loads_count(best.load_m3) == 39
    assert period(loads) == pytest.approx(slowest, abs=0.03)


def test_a_second_drum_halves_the_time_where_the_carriers_keep_up(tmp_path):
    _, _, one = loads_of(tmp_path, carriers_count=12)
    _, _, two = loads_of(tmp_path, carriers_count=12, mixers_count=2)
    assert period(two) == pytest.approx(period(one) / 2, abs=0.1)
    assert set(two.plant.tolist()) == {0, 1}


@given(
    st.floats(0.05, 1), st.floats(4, 30), st.integers(1, 4), st.integers(1, 12), st.floats(0.03, 1), st.floats(1, 30)
)
@settings(max_examples=60, deadline=None)
def test_more_carriers_and_drums_never_give_less(output, cycle, drums, carriers, each, round_min):
    few = SiteMixer(
        output_m3=output,
        cycle_min=cycle,
        mixers_count=drums,
        people_count=1,
        carrier="dumper",
        carriers_count=carriers,
        carrier_m3=each,
        round_min=round_min,
        way_min=round_min / 3,
    )
    base, more = mixer_supply(few, output), mixer_supply(replace(few, carriers_count=carriers + 1), output)
    assert more.carrying_rate_m3_per_h >= base.carrying_rate_m3_per_h
    assert more.batches_under_way >= base.batches_under_way >= drums
    assert base.batches_under_way <= 2 * drums
    assert base.mixing_rate_m3_per_h == pytest.approx(drums * output * 60 / cycle)


def test_plain_and_compiled_core_mix_the_same_pour(tmp_path):
    here = situation(checked(tmp_path, shelter(mixers_count=2)))
    model = pour_model(here, nominal(here, placing_orders(here)[0]))
    draws = SeededDraws(seed=3, count=6, loads_count=60, strips_count=len(model.finishing.strip_min))
    fast, plain = simulate(model, draws), simulate_plain(model, draws.table())
    for column in ("end_of_pour_min", "least_set_margin_min", "delivered_m3", "finishing_end_min"):
        assert np.allclose(getattr(fast, column), getattr(plain, column), rtol=0, atol=1e-9)


def test_a_longer_way_leaves_less_time_to_the_joints_and_to_the_age_limit(tmp_path):
    models = []
    for number, way in enumerate((1.0, 3.0)):
        folder = tmp_path / str(number)
        folder.mkdir()
        here = situation(checked(folder, shelter(way_min=way)))
        models.append(pour_model(here, nominal(here, placing_orders(here)[0])))
    near, far = models
    assert near.concrete.set_limit_min - far.concrete.set_limit_min == pytest.approx(2)
    assert near.acceptance.longest_age_min - far.acceptance.longest_age_min == pytest.approx(2)
    assert near.acceptance.longest_age_min == 59


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    sheet = checked(tmp_path_factory.mktemp("shelter"), shelter())
    return plan_pours(sheet, final_rounds=QUICK)[0]


def test_the_plan_tells_batches_hours_bags_and_heaps(plan):
    mixing = plan.site_mixing
    assert mixing.batches_count == plan.quantity.loads_count == 39
    assert mixing.bags_count == 78 and mixing.bags_per_batch_count == 2
    volume = 39 * BATCH
    assert plan.quantity.order_m3 == pytest.approx(volume)
    assert mixing.cement_kg == pytest.approx(78 * 25) == pytest.approx(volume * 340)
    sand, stone = mixing.materials
    assert sand.amount_kg == pytest.approx(volume * 765 / 1.012 * 1.042)
    assert stone.amount_kg == pytest.approx(volume * 1070 / 1.009 * 1.006)
    brought = volume * (765 / 1.012 * 0.030 + 1070 / 1.009 * -0.003)
    assert mixing.water_l == pytest.approx(volume * 178 - brought)
    assert 39 * 6 / 60 - 0.2 < mixing.mixing_h[1] < 39 * 6 / 60 * 1.25
    assert plan.decision.interval_min == pytest.approx(6)


def test_the_rate_told_is_the_one_that_mixing_keeps_up(plan):
    """Barrows could carry 3.6 m³/h; one drum gives a batch in 6 min, and the whole pour goes at that."""
    rate = plan.decision.placing_rate_m3_per_h
    assert rate == pytest.approx(BATCH * 10)
    assert plan.quantity.order_m3 / rate == pytest.approx(plan.site_mixing.mixing_h[1], rel=0.1)
    assert "1 mixer with a cycle of 6 min cannot give more" in " ".join(plan.binding)
    assert "3.6 m³/h, base" not in screen_text(plan)


def test_a_plan_mixed_on_site_lists_what_is_ready_at_the_mixer_and_asks_for_no_truck_or_plant(plan):
    said = {item.id: f"{item.check}: {item.acceptance}" for item in plan.readiness}
    assert said["B6"].endswith("at most 60 min from charging the drum until it is placed")
    assert said["B9"].endswith("60 to 140 mm")
    assert next(item for item in plan.readiness if item.id == "B1").hold_point
    ours = [f"{item.check} {item.acceptance}" for item in plan.readiness]
    for text in [*ours, *plan.cautions]:
        assert not {"truck", "trucks", "pump", "supplier", "producer", "ticket"} & set(
            re.findall(r"[a-z]+", text.lower())
        ), text


def test_the_age_limit_left_out_is_the_rule_of_the_european_book(plan, tmp_path):
    step = next(step for step in plan.why if step.step.startswith("longest age"))
    limit = rule("en", "delivery-time-not-agitated")
    assert (step.value, step.source) == (limit.high, limit.cited) and step.source.provenance is Provenance.PUBLISHED
    own = checked(tmp_path, shelter(longest_mixing_to_placed_min=45))
    assert own.sheet.trucks.longest_batching_to_end_of_discharge_min == 44


def test_joints_finishing_and_cost_follow_and_no_truck_is_spoken_of(plan):
    assert plan.edges and plan.strips[-1].finished is not None
    titles = [line.title for line in plan.cost]
    assert "site mixers with their people" in titles and "cement, aggregates and water" in titles
    concrete = next(line for line in plan.cost if line.title == "cement, aggregates and water")
    assert concrete.amount_cu == pytest.approx(92 * 39 * BATCH, rel=0.05)
    assert "trucks_over_places" not in {risk.key for risk in plan.risks}
    said = screen_text(plan)
    assert "78 bags of cement of 25 kg (2 a batch)" in said and "39 batches" in said
    printed = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(plan_pdf(plan))).pages)
    first = " ".join(PdfReader(io.BytesIO(plan_pdf(plan))).pages[0].extract_text().split())
    assert "truck" not in said.lower() and "truck" not in first.lower()
    assert "lock off" in printed and "No water by eye" in printed
    assert "Batches for the mixer" in printed and "1 batch is sampled" in printed
    assert "supplier" not in printed and "dispatcher" not in printed
    assert not any("truck" in change.title or "call-off" in change.title for change in plan.changes)


def test_the_plan_keeps_its_schema_with_a_site_mixer_and_without(plan):
    validator = Draft202012Validator(formats()["plan"].schema())
    validator.validate(plan_document(plan))
    validator.validate(plan_document(replace(plan, site_mixing=None)))
    assert '"site_mixing": {' in plan_json(plan)


def test_a_mix_without_aggregates_says_what_is_not_known(tmp_path):
    tree = shelter()
    tree["mix"]["B2"].pop("aggregate")
    tree["mix"]["B2"].pop("cooling")
    found = plan_pours(checked(tmp_path, tree), final_rounds=((4, 2),))[0].site_mixing
    assert found.materials == () and "not known" in found.note
    assert found.water_l == pytest.approx(39 * BATCH * 178)


def mistakes(folder, tree):
    with pytest.raises(SheetError) as error:
        checked(folder, tree)
    return {problem.key for problem in error.value.problems}


@pytest.mark.parametrize(
    ("mixer", "key"),
    [
        ({"cement_bag_kg": 80}, "site_mixer.cement_bag_kg"),
        ({"emptying_min": 4.5}, "site_mixer.emptying_min"),
        ({"way_min": 4}, "site_mixer.way_min"),
        ({"mixers_count": 5}, "site_mixer.mixers_count"),
        ({"carrier": "bucket"}, "site_mixer.carrier"),
        ({"output_m3": 0}, "site_mixer.output_m3"),
        ({"outptu_m3": 1}, "site_mixer.outptu_m3"),
    ],
)
def test_mistakes_of_a_site_mixer_are_told_by_its_own_keys_alone(tmp_path, mixer, key):
    assert mistakes(tmp_path, shelter(**mixer)) == {key}


def test_a_sheet_names_a_plant_or_a_site_mixer_and_not_both(tmp_path):
    slab = tree_of("slab")
    found = mistakes(tmp_path, {**shelter(), "pump": slab["pump"], "plant": slab["plant"]})
    assert {"pump", "plant"} <= found


def test_an_aggregate_of_the_mix_needs_its_moisture_where_it_is_mixed_on_site(tmp_path):
    tree = shelter()
    tree["mix"]["B2"]["aggregate"][0].pop("moisture_percent")
    assert mistakes(tmp_path, tree) == {"mix.B2.aggregate[1].moisture_percent"}


def test_a_day_too_short_for_the_mixer_is_told_before_any_search(tmp_path):
    tree = shelter(cycle_min=40)
    plan = plan_pours(checked(tmp_path, tree), final_rounds=((4, 2),))[0]
    assert plan.decision is None and "site_mixer.cycle_min contradicts hours.end_local" in " ".join(plan.reasons)


def test_editors_accept_the_example_and_ask_for_a_supply(tmp_path):
    validator = Draft202012Validator(formats()["pour-sheet"].schema())
    tree = json.loads(json.dumps(shelter(), default=str))
    validator.validate(tree)
    tree.pop("site_mixer")
    tree.pop("site", None)
    assert not validator.is_valid(tree)
