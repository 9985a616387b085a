"""plan.json and its schema."""

import datetime as dt
import json
import math
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from plans import crowded_plan, no_forecast_plan, no_go_plan, quantity, slab_plan
from wetfront.dossier.document import plan_document, plan_json, plan_schema, revision, rounded


@pytest.fixture(scope="module")
def validator():
    Draft202012Validator.check_schema(plan_schema())
    return Draft202012Validator(plan_schema(), format_checker=FormatChecker())


@pytest.mark.parametrize("make", [slab_plan, no_go_plan, no_forecast_plan, crowded_plan])
def test_every_plan_keeps_the_schema(make, validator):
    validator.validate(json.loads(plan_json(make())))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda plan: plan.pop("quantity"),
        lambda plan: plan.update(schema=2),
        lambda plan: plan.update(verdict="safe"),
        lambda plan: plan.update(extra=1),
        lambda plan: plan["risks"][0].update(probability="small"),
        lambda plan: plan["charts"][0]["lines"][0].pop("name"),
        lambda plan: plan["edges"][0].update(wait_min=[1, 2]),
    ],
)
def test_a_spoilt_document_breaks_the_schema(spoil, validator):
    document = json.loads(plan_json(slab_plan()))
    spoil(document)
    assert not validator.is_valid(document)


def test_same_plan_same_bytes_and_a_revision_that_tells_plans_apart():
    assert plan_json(slab_plan()) == plan_json(slab_plan())
    assert revision(slab_plan()) == revision(slab_plan())
    assert revision(slab_plan()) != revision(slab_plan(quantity=quantity(net_m3=215.2)))


def test_nothing_of_the_plan_is_left_out():
    document = plan_document(slab_plan())
    assert set(document) == set(slab_plan().__dataclass_fields__)
    assert [load["number"] for load in document["loads"]] == list(range(1, 29))
    assert document["inputs"] == [
        {"file": "slab.toml", "sha256": "ab" * 32},
        {"file": "weather-forecast.csv", "sha256": "cd" * 32},
    ]


def test_moments_carry_their_offset_on_both_sides_of_a_clock_change():
    zone = ZoneInfo("Europe/London")
    before = dt.datetime(2027, 10, 31, 1, 30, tzinfo=zone)
    after = before.replace(fold=1)
    plan = slab_plan()
    moments = replace(plan.end_of_placing, early=before, usual=after)
    ends = plan_document(replace(plan, end_of_placing=moments))["end_of_placing"]
    assert ends["early"] == "2027-10-31T01:30:00+01:00"
    assert ends["usual"] == "2027-10-31T01:30:00+00:00"


def test_figures_have_six_significant_digits():
    assert rounded(219.97912345) == 219.979
    assert rounded(0.000123456789) == 0.000123457
    assert math.copysign(1, rounded(-0.0)) == 1


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_figure_that_is_not_finite_is_refused(value):
    with pytest.raises(ValueError, match="no figure"):
        plan_json(slab_plan(quantity=quantity(net_m3=value)))
