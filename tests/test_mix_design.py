"""A mix designed from a brief: limits, methods side by side, the trial batch, what is printed and written."""

import datetime as dt
import io
import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mix_briefs import GONE, TODAY, all_paths, brief_and_mistakes, brief_of, brief_tree, put, written
from wetfront.cli.main import main
from wetfront.desk.design_mix import design_mix
from wetfront.dossier.document import mix_schema
from wetfront.dossier.mixpdf import mix_pdf
from wetfront.dossier.mixview import mix_json, mix_screen
from wetfront.errors import InvalidInput
from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, Mistakes
from wetfront.intake.mix_checks import check_brief
from wetfront.intake.mix_sheet import read_mix_brief
from wetfront.intake.schema import sheet_schema
from wetfront.materials import is_10262
from wetfront.materials.mix_batch import oven_dry_density, ssd_density
from wetfront.materials.mix_limits import mix_limits
from wetfront.materials.mix_methods import method_mix
from wetfront.materials.trial_correction import Trial, Wanted, corrected
from wetfront.nouns.mix_brief import MixBrief
from wetfront.nouns.reason import Provenance
from wetfront.rules import rule

EXAMPLE = Path(__file__).parent.parent / "examples" / "tarnwick" / "mix-s1.toml"


def mix_by(method, brief):
    return method_mix(method, brief, mix_limits(brief.target, brief.stone.maximum_size_mm))


def test_the_standards_own_sample_problem_through_a_brief():
    """ACI 211.1-91, Appendix 2: 17 + 7 MPa, 75 mm, 37.5 mm; 292 cement, 1159 and 817 kg moist, 123 kg water to add."""
    brief = brief_of(
        methods=["absolute-volume"],
        target={"cylinder_strength_mpa": 17.0, "slump_mm": 75},
        section=GONE,
        admixture=GONE,
        sweep=GONE,
        trial={"volume_l": 1000.0},
        stone__maximum_size_mm=37.5,
        stone__relative_density=2.68,
        stone__density_basis="oven-dry",
        stone__absorption_percent=0.5,
        stone__moisture_percent=2.0,
        stone__dry_rodded_density_kg_per_m3=1600,
        sand__relative_density=2.64,
        sand__density_basis="oven-dry",
        sand__absorption_percent=0.7,
        sand__moisture_percent=6.0,
        sand__fineness_modulus=2.8,
    )
    mix = mix_by("absolute-volume", brief)
    assert mix.target_strength_mpa == 24
    assert mix.water_cement_ratio == pytest.approx(0.62)
    assert mix.batch.cement_kg == pytest.approx(292, abs=0.5)
    assert mix.batch.stone_kg == pytest.approx(1159, abs=1)
    assert mix.batch.sand_kg == pytest.approx(817, abs=2)
    assert mix.batch.water_to_add_kg == pytest.approx(123, abs=1)
    assert mix.parts_volume_m3 == pytest.approx(1)
    assert any("+29 kg/m³ against this" in notice for notice in mix.notices)  # 801 by weight, 772 by volume


def test_the_standards_own_trial_batch_corrected():
    """ACI 211.1-91, Appendix 2: 2.70 kg of water, 50 mm, 2390 kg/m³: 0.0204 m³, 190 + 8 kg of water, cement 319."""
    trial = Trial(
        designed_volume_m3=0.02,
        cement_kg=5.84,
        sand_kg=16.98,
        stone_kg=23.18,
        admixture_kg=0.0,
        water_added_kg=2.70,
        free_water_kg=0.34 + 0.84,
        stone_ssd_kg=23.18 / 1.02 * 1.005,
        slump_mm=50,
        fresh_density_kg_per_m3=2390,
        air_content_percent=None,
    )
    found = corrected(trial, WANTED)
    assert found.yield_m3 == pytest.approx(0.0204, abs=0.00005)
    assert found.water_found_kg_per_m3 == pytest.approx(190, abs=0.5)
    assert found.water_kg_per_m3 == pytest.approx(198, abs=0.5)
    assert found.cement_kg_per_m3 == pytest.approx(found.water_kg_per_m3 / 0.62)
    assert round(found.water_kg_per_m3) / 0.62 == pytest.approx(319, abs=0.5)  # the print rounds the water first
    assert sum(
        (
            found.water_kg_per_m3 / 1000,
            found.cement_kg_per_m3 / 3150,
            found.stone_kg_per_m3 / 2680,
            found.sand_kg_per_m3 / 2640,
            found.air_content_percent / 100,
        )
    ) == pytest.approx(1)
    with pytest.raises(InvalidInput) as refused:
        corrected(replace(trial, slump_mm=10), WANTED)
    assert refused.value.key == "slump_mm"


WANTED = Wanted(
    slump_mm=90,
    air_content_percent=1.0,
    air_entrained=False,
    water_cement_ratio=0.62,
    minimum_cement_kg_per_m3=0.0,
    admixture_dose_percent=0.0,
    cement_relative_density=3.15,
    sand_relative_density=2.64,
    stone_relative_density=2.68,
    admixture_relative_density=1.0,
)


def test_a_trial_that_is_as_designed_changes_nothing():
    brief = brief_of(sweep=GONE)
    first = design_mix(brief).methods[0]
    found = {
        "water_added_kg": first.batch.water_to_add_kg,
        "slump_mm": brief.target.slump_mm,
        "fresh_density_kg_per_m3": first.fresh_density_kg_per_m3,
    }
    again = design_mix(brief_of(sweep=GONE, trial__found=found)).next_trial
    assert again.yield_l == pytest.approx(30)
    for key in ("water_kg_per_m3", "cement_kg_per_m3", "sand_kg_per_m3", "stone_kg_per_m3", "admixture_kg_per_m3"):
        assert getattr(again, key) == pytest.approx(getattr(first, key))
    assert again.batch.water_to_add_kg == pytest.approx(first.batch.water_to_add_kg)


def test_a_trial_that_took_more_water_asks_for_more_cement_and_shows_it():
    found = {"water_added_kg": 5.2, "slump_mm": 80, "fresh_density_kg_per_m3": 2340, "air_content_percent": 2.2}
    design = design_mix(brief_of(sweep=GONE, trial__found=found))
    again, first = design.next_trial, design.methods[0]
    assert again.water_kg_per_m3 > again.water_found_kg_per_m3 > first.water_kg_per_m3
    assert again.cement_kg_per_m3 > first.cement_kg_per_m3
    assert again.water_cement_ratio == pytest.approx(first.water_cement_ratio)
    assert "next trial" in mix_screen(design)
    text = " ".join(pypdf.PdfReader(io.BytesIO(mix_pdf(design))).pages[0].extract_text().split())
    assert "Next trial:" in text
    assert any("each 10 mm of slump" in source for source in design.from_memory)


def test_a_trial_far_off_its_slump_is_no_ground_for_a_correction():
    found = {"water_added_kg": 5.2, "slump_mm": 10, "fresh_density_kg_per_m3": 2340}
    design = design_mix(brief_of(sweep=GONE, trial__found=found))
    assert design.next_trial is None
    assert any(left.method == "next trial" and "slump_mm" in left.reason for left in design.left_out)


@given(st.floats(0, 8), st.floats(0, 12), st.floats(0, 4), st.floats(0, 4))
def test_absorbed_water_is_not_counted(stone_moisture, sand_moisture, stone_absorption, sand_absorption):
    """Water added + what is free on the aggregates = the mixing water, at any moisture."""
    brief = brief_of(sweep=GONE, admixture=GONE)
    stone = replace(brief.stone, moisture_percent=stone_moisture, absorption_percent=stone_absorption)
    sand = replace(brief.sand, moisture_percent=sand_moisture, absorption_percent=sand_absorption)
    wet = replace(brief, stone=stone, sand=sand)
    mix = mix_by("indian", wet)
    share = wet.trial.volume_l / 1000
    batch = mix.batch
    assert batch.water_to_add_kg + batch.free_water_in_aggregates_kg == pytest.approx(mix.water_kg_per_m3 * share)
    dry = mix.sand_kg_per_m3 / (1 + sand_absorption / 100) + mix.stone_kg_per_m3 / (1 + stone_absorption / 100)
    carried = batch.sand_kg + batch.stone_kg - dry * share
    absorbed = (mix.sand_kg_per_m3 + mix.stone_kg_per_m3 - dry) * share
    assert batch.free_water_in_aggregates_kg == pytest.approx(carried - absorbed)
    if stone_moisture == stone_absorption and sand_moisture == sand_absorption:
        assert batch.water_to_add_kg == pytest.approx(mix.water_kg_per_m3 * share)


@given(st.floats(0, 6), st.sampled_from(["absolute-volume", "british", "indian"]))
def test_the_state_in_which_density_was_measured_does_not_change_the_mix(absorption, method):
    brief = brief_of(sweep=GONE)
    saturated = replace(brief.sand, absorption_percent=absorption)
    oven_dry = replace(saturated, density_basis="oven-dry", relative_density=oven_dry_density(saturated))
    assert ssd_density(oven_dry) == pytest.approx(ssd_density(saturated))
    one, other = (mix_by(method, replace(brief, sand=sand)) for sand in (saturated, oven_dry))
    assert one.sand_kg_per_m3 == pytest.approx(other.sand_kg_per_m3)
    assert one.stone_kg_per_m3 == pytest.approx(other.stone_kg_per_m3)


def test_exposure_caps_the_ratio_of_every_method_and_says_so():
    design = design_mix(
        brief_of(
            target__strength_class="C35/45",
            target__exposure_classes=["XS3", "XC4"],
            sweep=GONE,
            british__water_cement_ratio=0.55,
            indian__water_cement_ratio=0.5,
            target__maximum_cement_kg_per_m3=600.0,
            methods=["british", "indian"],
        )
    )
    for mix in design.methods:
        assert mix.water_cement_ratio == pytest.approx(0.45)
        assert mix.governed_by == "durability"
    assert any("XS3" in limit.text and limit.value == 0.45 for limit in design.limits)


def test_least_cement_lowers_the_ratio_and_says_so():
    design = design_mix(brief_of(target__minimum_cement_kg_per_m3=430.0, sweep=GONE))
    british = next(mix for mix in design.methods if mix.method == "british")
    assert british.cement_kg_per_m3 == 430
    assert british.governed_by == "least cement"
    assert british.water_cement_ratio < british.ratio_for_strength


def test_is_456_limits_come_from_the_book_with_the_size_counted():
    brief = brief_of(
        target__exposure_is_456="severe", target__exposure_classes=[], stone__maximum_size_mm=10, sweep=GONE
    )
    limits = mix_limits(brief.target, brief.stone.maximum_size_mm)
    assert limits.value("cement-content-least") == 360
    assert limits.value("water-cement-ratio") == 0.45
    assert limits.governing("cement-content-least").provenance == str(Provenance.MEMORY)


def test_the_stricter_of_books_and_project_governs():
    brief = brief_of(target__exposure_aci=["low permeability"], target__maximum_water_cement_ratio=0.52, sweep=GONE)
    limits = mix_limits(brief.target, 20)
    assert [limit.value for limit in limits.listed if limit.key == "water-cement-ratio"] == [0.55, 0.50, 0.52]
    assert limits.governing("water-cement-ratio").source.startswith("ACI 318")


def test_both_american_tables_are_asked_and_one_of_them_is_from_memory():
    brief = brief_of(target__exposure_aci=["low permeability", "severe, thin or cover under 25 mm"], sweep=GONE)
    limits = mix_limits(brief.target, 20)
    assert limits.value("water-cement-ratio") == 0.45
    assert limits.governing("water-cement-ratio").provenance == str(Provenance.MEMORY)
    assert any("ACI 211.1-91, Table A1.5.3.4(b)" in source for source in design_mix(brief).from_memory)


SEEN = {
    "book": "aci",
    "rule": "water-cement-ratio-durability",
    "edition": "91",
    "by": "role: materials engineer",
    "on": dt.date(2027, 4, 20),
}
THIN = {"target__exposure_aci": ["severe, thin or cover under 25 mm"], "target__exposure_classes": [], "sweep": GONE}


def test_a_limit_that_somebody_looked_up_is_no_longer_one_from_memory():
    edition = rule("aci", SEEN["rule"]).edition
    left, ticked = (
        design_mix(brief_of(**THIN, confirmed=confirmed)) for confirmed in ([], [SEEN | {"edition": edition}])
    )
    assert any("Table A1.5.3.4(b)" in told for told in left.from_memory)
    assert not any("Table A1.5.3.4(b)" in told for told in ticked.from_memory)
    assert [limit.value for limit in ticked.limits] == [limit.value for limit in left.limits]
    assert ticked.limits[0].provenance == str(Provenance.CONFIRMED)


def test_a_figure_found_in_the_standard_replaces_the_remembered_one():
    entered = SEEN | {"edition": "2002", "row": THIN["target__exposure_aci"][0], "most": 0.42}
    design = design_mix(brief_of(**THIN, confirmed=[entered]))
    assert design.limits[0].value == 0.42
    assert all(mix.water_cement_ratio <= 0.42 + 1e-9 for mix in design.methods)


def test_a_strength_class_that_was_looked_up_is_not_told_as_remembered():
    names = [f"strength-classes-{specimen}" for specimen in ("cylinder", "cube")]
    seen = [SEEN | {"book": "en", "rule": name, "edition": rule("en", name).edition} for name in names]
    assert any("C30/37" in told and "30 MPa" in told for told in design_mix(brief_of(sweep=GONE)).from_memory)
    assert not any("C30/37" in told for told in design_mix(brief_of(sweep=GONE, confirmed=seen)).from_memory)


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"rule": "no-such-rule"}, "confirmed[1].rule"),
        ({"rule": "slump-tolerance", "row": "sometimes"}, "confirmed[1].row"),
        ({"edition": "1066"}, "confirmed[1].edition"),
        ({"on": dt.date(2027, 5, 4)}, "confirmed[1].on"),
        ({"book": "as"}, "confirmed[1].book"),
        ({"most": 0.4}, "confirmed[1].row"),
    ],
)
def test_a_confirmation_that_fits_no_rule_is_told_by_its_key(change, key):
    brief, wrong = brief_and_mistakes(**THIN, confirmed=[SEEN | change])
    assert brief is None and key in wrong


def test_each_remembered_figure_says_what_it_is_and_where_it_stands():
    told = design_mix(brief_of(sweep=GONE)).from_memory
    assert "entrapped air: 1 % (IS 10262:2019, Table 3, entrapped air)" in told


def test_the_page_of_the_example_cuts_no_sentence_short():
    design = design_mix(brief_of())
    text = " ".join(pypdf.PdfReader(io.BytesIO(mix_pdf(design))).pages[0].extract_text().split())
    assert "…" not in text and ".;" not in text
    assert " ".join(design.cautions) in " ".join(mix_screen(design).split())


def test_the_most_cement_of_the_indian_method_is_the_books():
    assert rule("is", "cement-content-most").high == is_10262.LARGEST_CEMENT_KG_PER_M3


def test_a_method_that_cannot_answer_is_left_out_with_its_reason():
    """C40/50 without a record asks for 49 MPa: the American table ends at 45."""
    design = design_mix(
        brief_of(
            target__strength_class="C40/50",
            british__water_cement_ratio=0.42,
            sweep=GONE,
            indian__water_cement_ratio=0.42,
        )
    )
    assert [left.method for left in design.left_out] == ["absolute-volume"]
    assert "average_strength_mpa is 49" in design.left_out[0].reason
    assert "15 to 45" in design.left_out[0].reason
    assert [mix.method for mix in design.methods] == ["british", "indian"]


def test_no_method_at_all_is_bad_input_with_every_reason():
    brief = brief_of(target__strength_class="C40/50", methods=["absolute-volume"], sweep=GONE)
    with pytest.raises(InvalidInput) as refused:
        design_mix(brief)
    assert refused.value.key == "methods"
    assert "average_strength_mpa is 49" in refused.value.message


def test_entrained_air_is_counted_by_two_methods_and_refused_by_the_third():
    brief = brief_of(
        target__exposure_classes=["XF3"], target__air_entrained=True, british__water_cement_ratio=0.4, sweep=GONE
    )
    design = design_mix(brief)
    assert [mix.air_content_percent for mix in design.methods] == [5.0, 5.0]
    assert [left.method for left in design.left_out] == ["indian"]
    british = design.methods[1]
    assert british.target_strength_mpa == pytest.approx((37 + 13.12) / (1 - 0.055 * 5))
    plain = mix_by("british", brief_of(sweep=GONE, british__water_cement_ratio=0.4))
    assert british.water_kg_per_m3 < plain.water_kg_per_m3


def test_the_lowest_ratio_is_batched_unless_the_brief_asks():
    assert design_mix(brief_of()).batched == "absolute-volume"
    assert design_mix(brief_of(trial__method="indian")).batched == "indian"


def test_a_record_of_few_results_never_lowers_the_indian_margin():
    few, many, none = (
        mix_by("indian", brief_of(sweep=GONE, **record)).target_strength_mpa
        for record in (
            {"record": {"standard_deviation_mpa": 3.0, "results_count": 29}},
            {"record": {"standard_deviation_mpa": 3.0, "results_count": 30}},
            {},
        )
    )
    assert few == none
    assert many == pytest.approx(37 + 6.5)


def test_a_chart_reading_far_from_the_rough_check_is_told():
    near = mix_by("british", brief_of(sweep=GONE))
    far = mix_by("british", brief_of(sweep=GONE, british__water_cement_ratio=0.56))
    assert not any("read the chart again" in notice for notice in near.notices)
    assert any("read the chart again" in notice for notice in far.notices)


def test_grades_over_m60_are_left_out_of_the_indian_method_for_standard_grades():
    assert "indian" in {mix.method for mix in design_mix(brief_of(target__strength_class="C50/60")).methods}
    design = design_mix(brief_of(target__strength_class="C55/67"))
    assert "section 2" in next(each.reason for each in design.left_out if each.method == "indian")


def test_a_ratio_left_from_a_weaker_mix_is_told_for_a_strength_beyond_the_rule():
    """w/c 0.45 of a C30/37 shows some 49 N/mm² on the chart, not the 75 or 128 that these classes ask for."""
    for name in ("C50/60", "C100/115"):
        british = mix_by("british", brief_of(target__strength_class=name, british__water_cement_ratio=0.45, sweep=GONE))
        assert any("roughly shows" in notice and "read the chart again" in notice for notice in british.notices)
    low = mix_by("british", brief_of(target__strength_class="C50/60", british__water_cement_ratio=0.33, sweep=GONE))
    assert not any("read the chart again" in notice for notice in low.notices)


def test_admixture_water_over_three_litres_comes_off_the_water_to_add():
    without = mix_by("indian", brief_of(sweep=GONE, admixture__dose_percent=1.5, admixture__solids_percent=GONE))
    known = mix_by("indian", brief_of(sweep=GONE, admixture__dose_percent=1.5, admixture__solids_percent=30.0))
    assert known.batch.water_in_admixture_kg == pytest.approx(0.7 * known.batch.admixture_kg)
    assert known.batch.water_to_add_kg == pytest.approx(
        without.batch.water_to_add_kg - known.batch.water_in_admixture_kg
    )
    assert any("solids_percent" in notice for notice in without.notices)


def test_a_missing_price_gives_no_cost_and_an_unused_one_is_not_needed():
    assert all(mix.cost_cu_per_m3 is None for mix in design_mix(brief_of(sand__price_cu_per_t=GONE)).methods)
    unused = design_mix(brief_of(admixture=GONE, sweep=GONE))
    assert all(mix.cost_cu_per_m3 is not None for mix in unused.methods)


WRONG = {
    "negative moisture": ({"stone__moisture_percent": -0.1}, "stone.moisture_percent"),
    "a size in no table": ({"stone__maximum_size_mm": 22}, "stone.maximum_size_mm"),
    "a size the metric tables lack": ({"stone__maximum_size_mm": 25}, "stone.maximum_size_mm"),
    "a size over what the bars let through": ({"section__clear_bar_spacing_mm": 25.0}, "stone.maximum_size_mm"),
    "a ratio beyond the chart": ({"british__water_cement_ratio": 0.95}, "british.water_cement_ratio"),
    "no air against frost": ({"target__exposure_classes": ["XF3"]}, "target.air_entrained"),
    "too little air against frost": (
        {"target__exposure_classes": ["XF3"], "target__air_entrained": True, "target__frost_exposure": "mild"},
        "target.frost_exposure",
    ),
    "a class below the exposure": (
        {"target__strength_class": "C20/25", "target__exposure_classes": ["XC4"]},
        "target.strength_class",
    ),
    "an unknown class": ({"target__strength_class": "C31/37"}, "target.strength_class"),
    "a class and a number": ({"target__cube_strength_mpa": 37.0}, "target.cube_strength_mpa"),
    "an unknown exposure": ({"target__exposure_classes": ["XC9"]}, "target.exposure_classes"),
    "an unknown American exposure": ({"target__exposure_aci": ["salt"]}, "target.exposure_aci"),
    "more slump than a method knows": ({"target__slump_mm": 190}, "target.slump_mm"),
    "sand too coarse": ({"sand__fineness_modulus": 3.2}, "sand.fineness_modulus"),
    "no zone": ({"sand__zone": GONE}, "sand.zone"),
    "no chart readings": ({"british": GONE}, "british"),
    "no rodded density": ({"stone__dry_rodded_density_kg_per_m3": GONE}, "stone.dry_rodded_density_kg_per_m3"),
    "rodded denser than its grains": (
        {"stone__dry_rodded_density_kg_per_m3": 2700.0},
        "stone.dry_rodded_density_kg_per_m3",
    ),
    "a method twice": ({"methods": ["british", "british"]}, "methods[2]"),
    "a trial by another method": ({"methods": ["british"], "trial__method": "indian"}, "trial.method"),
    "least over most cement": (
        {"target__minimum_cement_kg_per_m3": 400.0, "target__maximum_cement_kg_per_m3": 380.0},
        "target.maximum_cement_kg_per_m3",
    ),
    "an empty section": ({"section": {}}, "section"),
    "too many candidates": (
        {"sweep__water_cement_ratios": [0.4] * 200, "sweep__sand_percents": [40.0] * 100},
        "sweep",
    ),
    "a dose over 5 %": ({"admixture__dose_percent": 6.0}, "admixture.dose_percent"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_mistake_is_told_by_its_key(name):
    changes, key = WRONG[name]
    brief, wrong = brief_and_mistakes(**changes)
    assert brief is None
    assert key in wrong


def test_all_mistakes_are_told_at_once_with_their_lines(tmp_path, capsys):
    text = written(tmp_path).read_text(encoding="utf-8")
    text = text.replace("slump_mm = 100\n", "slump_mm = 190\n").replace(
        'strength_class = "C30/37"', 'strength_class = "C31"'
    )
    text = text.replace("zone = 2 ", "# zone ").replace("fineness_modulus = 2.7", "fineness_modulus = 3.3")
    path = written(tmp_path, text)
    assert main(["mix", str(path)]) == 2
    told = capsys.readouterr().err
    for key in ("target.slump_mm", "target.strength_class", "sand.zone", "sand.fineness_modulus"):
        assert key in told
    line = text.split("\n").index(next(each for each in text.split("\n") if each.startswith("slump_mm"))) + 1
    assert f"brief.toml:{line}: target.slump_mm" in told
    assert not (tmp_path / "brief-mix").exists()


def test_the_command_writes_page_and_json_and_prints_one_screen(tmp_path, capsys):
    assert main(["new", str(tmp_path / "brief.toml"), "--kind", "mix"]) == 0
    assert "wetfront mix" in capsys.readouterr().out
    assert main(["mix", str(tmp_path / "brief.toml"), "--out", str(tmp_path / "out")]) == 0
    screen = capsys.readouterr().out
    assert max(map(len, screen.splitlines())) <= 100
    assert len(screen.splitlines()) <= 55
    assert "FIRST TRIAL, NOT A MIX TO POUR" in screen
    assert "trial batch, slump, density, air and strength come" in " ".join(screen.split())
    assert {file.name for file in (tmp_path / "out").iterdir()} == {"mix.json", "mix.pdf"}


def test_the_invented_example_is_sound_and_says_that_it_is_invented():
    brief, _ = read_mix_brief(EXAMPLE)
    design = design_mix(brief)
    assert design.invented
    assert len(design.methods) == 3
    assert not design.left_out


def test_mix_json_keeps_its_schema_and_the_brief_its_own():
    jsonschema.validate(json.loads(mix_json(design_mix(brief_of()))), mix_schema())
    tree = json.loads(json.dumps(brief_tree(), default=str))
    jsonschema.validate(tree, sheet_schema(MixBrief, "mix brief"))


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"sweep": GONE, "methods": ["british"]},
        {"target__exposure_is_456": "mild", "target__exposure_aci": ["low permeability"]},
        {"title": "T" * 60, "project": "P" * 60, "stone__name": "S" * 60, "cement__name": "C" * 60},
        {"record": {"standard_deviation_mpa": 4.0, "results_count": 40}},
    ],
)
def test_the_page_is_one_a4_page_with_the_trial_first(changes):
    design = design_mix(brief_of(**changes), (("brief.toml", "0" * 64),))
    data = mix_pdf(design)
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    assert len(pages) == 1
    assert [round(float(side)) for side in pages[0].mediabox[2:]] == [595, 842]
    text = " ".join(pages[0].extract_text().split())
    assert "FIRST TRIAL, NOT A MIX TO POUR" in text
    assert "the consent of the specifier and of the producer" in text
    assert "INVENTED DEMO DATA" in text
    assert data == mix_pdf(design)


def test_screen_and_page_show_what_is_left_out_and_what_is_from_memory():
    design = design_mix(
        brief_of(
            target__strength_class="C40/50",
            sweep=GONE,
            british__water_cement_ratio=0.42,
            indian__water_cement_ratio=0.42,
        )
    )
    screen = mix_screen(design, 100)
    assert "left out" in screen
    assert "FROM MEMORY" in screen
    text = " ".join(pypdf.PdfReader(io.BytesIO(mix_pdf(design))).pages[0].extract_text().split())
    assert "left out: average_strength_mpa is 49" in text
    assert "FROM MEMORY" in text


def test_letters_of_no_font_do_not_stop_the_page():
    design = design_mix(brief_of(title="混凝土", sweep=GONE))
    text = pypdf.PdfReader(io.BytesIO(mix_pdf(design))).pages[0].extract_text()
    assert "Some letters are in no font" in " ".join(text.split())


def test_a_density_that_does_not_fit_the_parts_is_told():
    fits = mix_by("british", brief_of(sweep=GONE, british__fresh_density_kg_per_m3=2400.0))
    far = mix_by("british", brief_of(sweep=GONE, british__fresh_density_kg_per_m3=2280.0))
    assert not any("not 1 m³" in notice for notice in fits.notices)
    assert any("not 1 m³" in notice for notice in far.notices)


STRANGE = [
    0,
    -1,
    1e-9,
    1e308,
    math.nan,
    math.inf,
    True,
    "",
    "10 in",
    [],
    {},
    [1],
    10**400,
    0.5,
    20,
    99.9,
    "C50/60",
    ["XF4"],
]
PATHS = [path for path in all_paths(brief_tree()) if path[0] != "schema"]


@settings(max_examples=400, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(PATHS), st.sampled_from(STRANGE) | st.floats(0.2, 4)), min_size=1, max_size=3)
)
def test_no_brief_brings_the_program_down(changes):
    """Something strange under a key is told, or a design comes of it whose parts have volume; never anything else."""
    tree = brief_tree()
    for path, value in changes:
        put(tree, path, value)
    mistakes = Mistakes()
    brief = table_of(MixBrief).check(tree, (), mistakes)
    if brief is not BAD:
        check_brief(brief, mistakes, TODAY)
    if mistakes.noted:
        return
    try:
        design = design_mix(brief)
    except InvalidInput as refused:
        assert refused.key == "methods"
        return
    assert json.loads(mix_json(design))
    assert mix_screen(design, 60)
    assert all(mix.sand_kg_per_m3 > 0 and mix.stone_kg_per_m3 > 0 for mix in design.methods)
