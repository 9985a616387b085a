"""What a plan says to the form's designer, and what a plan without a decision still says."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from wetfront.desk import plan_pours
from wetfront.intake import read_sheet
from wetfront.nouns.plan import Verdict
from wetfront.nouns.sheet import CheckedSheet

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
FEW = ((16, 4), (32, 1))


@pytest.fixture(scope="module")
def wall() -> CheckedSheet:
    """Panel 1 alone, with a form designed for warmer concrete than will come."""
    checked = read_sheet(TARNWICK / "wall.toml")
    formwork = replace(checked.sheet.formwork, designer_assumed_concrete_temperature_c=25.0)
    sheet = replace(checked.sheet, pour=checked.sheet.pour[:1], formwork=formwork)
    return replace(checked, sheet=sheet)


@pytest.fixture(scope="module")
def planned(wall):
    return plan_pours(wall, final_rounds=FEW)[0]


def test_a_method_that_does_not_cover_the_concrete_goes_to_the_designer(planned):
    """ACI 347R ends at 175 mm of slump; full head is over what the form carries."""
    assert any("ACI 347R-14 does not cover" in measure and "confirm" in measure for measure in planned.measures)


def test_concrete_colder_than_the_design_goes_into_the_measures(planned):
    assert any("colder than the 25 °C for which the form was designed" in measure for measure in planned.measures)


def test_a_form_designed_for_cold_concrete_asks_nothing_of_the_thermometer(wall):
    formwork = replace(wall.sheet.formwork, designer_assumed_concrete_temperature_c=5.0)
    plan = plan_pours(replace(wall, sheet=replace(wall.sheet, formwork=formwork)), final_rounds=FEW)[0]
    assert not any("colder than" in measure for measure in plan.measures)


def test_the_rule_book_stands_among_the_reasons_of_the_plan(planned):
    assert any("EN 206" in step.source.citation for step in planned.why)


def test_without_a_forecast_the_check_list_and_the_cautions_are_there(wall):
    plan = plan_pours(replace(wall, weather=None))[0]
    assert plan.verdict is Verdict.NO_FORECAST
    assert any(item.id == "F1" for item in plan.readiness)
    assert any(caution.startswith("Form:") for caution in plan.cautions)
    assert plan.decision is None


def test_a_plant_that_shuts_too_early_is_named_as_the_cause(wall):
    """The panel needs three hours of loads at the permitted rise: the hours of the site are not what binds."""
    plants = tuple(replace(plant, closes_local=dt.time(7, 15)) for plant in wall.sheet.plant)
    plan = plan_pours(replace(wall, sheet=replace(wall.sheet, plant=plants)), final_rounds=FEW)[0]
    late = next(risk for risk in plan.risks if risk.key == "placing_out_of_hours")
    assert plan.verdict is Verdict.NO_GO
    assert "plant-a closes 07:15" in late.detail and "second plant" in late.remedy


def test_only_bans_that_the_pour_meets_are_told(wall, planned):
    """School is shut off from 15:15; panel 1 is placed long before."""
    assert planned.end_of_placing.late.hour < 15
    assert not any("15:15" in measure for measure in planned.measures)
