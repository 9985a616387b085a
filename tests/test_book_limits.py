"""A rule book laid over a sheet: the stricter holds, a looser figure needs a name, other moments stay apart."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from wetfront.intake import read_sheet
from wetfront.nouns.limits import Confirmation
from wetfront.nouns.reason import Provenance
from wetfront.nouns.sheet import PourSheet, TemperatureLimits
from wetfront.planning.book_limits import BookLimits, laid_over

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"


@pytest.fixture(scope="module")
def slab() -> PourSheet:
    return read_sheet(TARNWICK / "slab.toml").sheet


def over(sheet: PourSheet, **own: object) -> BookLimits:
    changed = replace(sheet, specification=replace(sheet.specification, **own))
    return laid_over(changed, changed.pour[0])


def test_without_a_book_the_sheet_stays_as_it_is(slab):
    laid = over(slab, rule_book=None)
    assert laid.sheet == replace(slab, specification=replace(slab.specification, rule_book=None))
    assert laid.steps == () and laid.measures == ()


def test_the_stricter_of_book_and_project_holds_on_each_side(slab):
    """EN: 5 to 30 °C; the project asks for 8 to 35."""
    laid = over(slab, rule_book="en", concrete_temperature_at_placing_c=TemperatureLimits(min=8, max=35))
    assert laid.sheet.specification.concrete_temperature_at_placing_c == TemperatureLimits(min=8, max=30)
    assert any("needs a named approval" in measure and "35" in measure for measure in laid.measures)


def test_a_looser_figure_holds_once_somebody_stands_for_it(slab):
    laid = over(
        slab,
        rule_book="en",
        looser_approved_by="role: designer",
        concrete_temperature_at_placing_c=TemperatureLimits(min=5, max=35),
    )
    assert laid.sheet.specification.concrete_temperature_at_placing_c == TemperatureLimits(min=5, max=35)
    assert not any("approval" in measure for measure in laid.measures)
    assert any("approved by role: designer" in step.step for step in laid.steps)


def test_a_time_limit_to_another_moment_is_told_and_not_merged(slab):
    """The British limit counts to arrival, the sheet's to the end of discharge."""
    laid = over(slab, rule_book="en")
    assert laid.sheet.trucks.longest_batching_to_end_of_discharge_min == 120
    assert any("another moment" in measure for measure in laid.measures)


def test_a_time_limit_to_the_same_moment_is_merged(slab):
    """ASTM C94: 90 min to the end of discharge, stricter than the project's 120."""
    assert over(slab, rule_book="aci").sheet.trucks.longest_batching_to_end_of_discharge_min == 90


def test_a_remembered_limit_that_holds_says_so(slab):
    """AS 1379's times are remembered in the book, and stricter than the project's."""
    laid = over(slab, rule_book="as")
    assert laid.sheet.trucks.longest_batching_to_end_of_discharge_min == 90
    assert any(measure.startswith("by remembered limit, check the standard") for measure in laid.measures)


def test_every_step_names_its_source(slab):
    for book in ("en", "aci", "is", "as"):
        steps = over(slab, rule_book=book).steps
        assert steps
        assert all(step.source.citation and step.value is not None for step in steps)


def test_what_the_specification_changed_is_listed_and_nothing_else(slab):
    """EN with the slab's 5 to 30 °C: the same; 28 °C is a change; 35 °C asks for a name."""
    same, stricter, looser = (
        over(
            slab,
            rule_book="en",
            concrete_temperature_at_placing_c=TemperatureLimits(min=5, max=most),
            largest_layer_mm=500.0,
        )
        for most in (30, 28, 35)
    )
    assert not any("temperature" in text for text in same.changed)
    assert not any("layer" in text for text in same.changed)
    assert [text for text in stricter.changed if "temperature" in text] == [
        "Highest concrete temperature at delivery or placing: at most 28 °C by the project, stricter than at most "
        "30 °C of DIN 1045"
    ]
    assert [text for text in looser.changed if "needs a named approval" in text]


def test_an_entered_figure_is_among_what_the_specification_changed(slab):
    seen = Confirmation(
        rule="delivery-time-agitated", edition="2024", most=75, by="role: site engineer", on=dt.date(2027, 5, 3)
    )
    laid = over(slab, rule_book="as", confirmed=(seen,))
    assert laid.sheet.trucks.longest_batching_to_end_of_discharge_min == 75
    assert any("at most 75 min" in text and "entered by role: site engineer" in text for text in laid.changed)
    ticked = over(slab, rule_book="as", confirmed=(replace(seen, most=None),))
    assert not any("entered" in text for text in ticked.changed)


def test_remembered_limits_are_found_by_the_name_of_the_rule(slab):
    laid = over(slab, rule_book="as")
    assert len(laid.remembered("delivery-time-agitated")) == 1
    assert laid.remembered("free-fall") == ()
    assert set(laid.remembered("delivery-time-agitated")) < set(laid.remembered())


def test_a_projects_stricter_figure_does_not_rest_on_what_the_book_remembers(slab):
    laid = over(slab, rule_book="as", concrete_temperature_at_placing_c=TemperatureLimits(min=5, max=30))
    known = {step.step: step.source.provenance for step in laid.steps}
    assert known["Highest concrete temperature at delivery or placing, by project"] is Provenance.INPUT
    assert known["Longest time for concrete in an agitating truck, by rule book"] is Provenance.MEMORY
