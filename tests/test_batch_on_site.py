"""Batching on site as a person does it: brief, batch, card."""

import io
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from wetfront.cli.main import main
from wetfront.cli.schema import formats
from wetfront.desk.batch_on_site import batch_on_site
from wetfront.dossier.batchcard import batch_card, batch_json, batch_screen
from wetfront.dossier.paper import fitting
from wetfront.errors import SheetError
from wetfront.intake.batch_brief import read_batch_brief
from wetfront.intake.template import brief_template

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
modest = settings(max_examples=40, deadline=None)


def written(folder, *changes, text=None):
    text = brief_template("batch") if text is None else text
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "brief.toml"
    path.write_text(text, encoding="utf-8")
    return path


def batch_of(folder, *changes):
    return batch_on_site(*read_batch_brief(written(folder, *changes)))


def refusals(folder, *changes):
    with pytest.raises(SheetError) as error:
        read_batch_brief(written(folder, *changes))
    return {problem.key: problem for problem in error.value.problems}


VOLUME = (
    ('work = "structural"', 'work = "small non-structural"'),
    ('by = "weight"', 'by = "volume"'),
    ("# loose_bulk", "loose_bulk"),
    ("# bulking_percent", "bulking_percent"),
)
ADMIXTURE = (
    ("# [[admixture]]", "[[admixture]]"),
    ('# id = "plasticiser"', 'id = "plasticiser"'),
    ("# dose_percent", "dose_percent"),
    ("# density_kg_per_l", "density_kg_per_l"),
)


@pytest.fixture(scope="module")
def blinding():
    return batch_on_site(*read_batch_brief(TARNWICK / "blinding-batch.toml"))


@pytest.fixture
def structural(tmp_path):
    return batch_of(tmp_path)


def test_all_that_is_batched_is_the_mix_with_its_absorbed_water(structural):
    """Free water conserved, masses sum to mix × volume: ingredients without what the grains themselves hold."""
    absorbed = 720 / 1.012 * 0.012 + 1130 / 1.008 * 0.008
    dry = 720 / 1.012 + 1130 / 1.008
    per_m3 = 340 + 175 + dry + absorbed
    assert structural.batch_kg == pytest.approx(per_m3 * structural.batch_volume_m3)
    assert structural.water_to_add_l + structural.brought_water_l == pytest.approx(structural.design_water_l)


def test_bags_are_whole_and_all_batches_make_the_volume(structural):
    cement = structural.ingredients[0]
    assert cement.batch_kg == cement.bags_count * structural.bag_kg
    assert structural.bags_total_count == cement.bags_count * structural.batches_count
    assert structural.batches_count * structural.batch_volume_m3 >= 1.8 * 1.05
    assert structural.batch_volume_m3 <= 0.25


@modest
@given(moisture=st.floats(1.2, 9), wetter=st.floats(0.1, 6))
def test_wetter_sand_never_takes_more_added_water(tmp_path_factory, moisture, wetter):
    folder = tmp_path_factory.mktemp("brief")
    drier = batch_of(folder, ("moisture_percent = 4.5", f"moisture_percent = {moisture!r}"))
    wet = batch_of(folder, ("moisture_percent = 4.5", f"moisture_percent = {moisture + wetter!r}"))
    assert wet.water_to_add_l < drier.water_to_add_l
    assert wet.ingredients[1].batch_kg > drier.ingredients[1].batch_kg
    assert wet.most_water_l < drier.most_water_l


def test_the_table_for_wetter_sand_is_what_a_new_brief_would_give(tmp_path, structural):
    row = next(row for row in structural.wetter_sand if row.moisture_percent == 6.5)
    again = batch_of(tmp_path, ("moisture_percent = 4.5", "moisture_percent = 6.5"))
    assert row.sand_kg == pytest.approx(again.ingredients[1].batch_kg)
    assert row.water_l == pytest.approx(again.water_to_add_l)


def test_a_sample_tells_the_same_moisture_as_its_figure(tmp_path, structural):
    by_sample = batch_of(tmp_path, ("moisture_percent = 4.5 ", "wet_mass_g = 522.5\noven_dry_mass_g = 500 "))
    assert by_sample.water_to_add_l == pytest.approx(structural.water_to_add_l)


def test_a_heap_too_wet_is_a_result_that_stops_the_mixer(tmp_path, capsys):
    path = written(tmp_path, ("moisture_percent = 4.5", "moisture_percent = 27"), ("percent = 1.0", "percent = 4"))
    assert main(["batch", str(path), "--out", str(tmp_path / "out")]) == 1
    assert "DO NOT MIX" in capsys.readouterr().out
    text = pages_of((tmp_path / "out" / "batch-card.pdf").read_bytes())[0]
    assert "DO NOT MIX" in text and "bags of" not in text


def test_volume_is_refused_for_structural_work_until_a_named_person_decides(tmp_path):
    by_volume = VOLUME[1:]
    assert set(refusals(tmp_path, *by_volume)) == {"measure.by"}
    decided = batch_of(tmp_path, *by_volume, ('# volume_approved_by = ""', 'volume_approved_by = "role: designer"'))
    assert any("decided by role: designer" in reason for reason in decided.reasons)


def test_gauge_boxes_hold_the_dry_volume_swollen_by_the_bulking(blinding):
    sand, stone = blinding.ingredients[1:3]
    batch = blinding.batch_volume_m3
    dry_sand_l = 830 / 1.012 * batch / 1520 * 1000
    assert sand.box.count * sand.box.litres == pytest.approx(dry_sand_l * 200 / 162)
    assert stone.box.count * stone.box.litres == pytest.approx(1090 / 1.009 * batch / 1430 * 1000)
    for box in (sand.box, stone.box):
        assert box.litres <= 25
        assert box.length_mm * box.width_mm * box.depth_mm / 1e6 == pytest.approx(box.litres)
    assert blinding.wetter_sand == ()
    assert "stone 4/20" in blinding.reasons[-1] and "drinks" in blinding.reasons[-1]


def test_the_water_of_admixtures_counts_only_over_three_litres(tmp_path, structural):
    little = batch_of(tmp_path, *ADMIXTURE)
    assert little.water_to_add_l == structural.water_to_add_l
    much = (*ADMIXTURE, ("dose_percent = 0.4", "dose_percent = 1.2"))
    assert set(refusals(tmp_path, *much)) == {"admixture[1].solids_percent"}
    counted = batch_of(tmp_path, *much, ("# solids_percent", "solids_percent"))
    water = 340 * 0.012 * 0.7 * counted.batch_volume_m3
    assert counted.water_to_add_l == pytest.approx(structural.water_to_add_l - water)
    assert counted.water_to_add_l + counted.brought_water_l == pytest.approx(counted.design_water_l)


def test_all_mistakes_are_told_at_once_with_their_lines(tmp_path):
    found = refusals(
        tmp_path,
        ("max_water_cement_ratio = 0.55", "max_water_cement_ratio = 0.5"),
        ("slump_limits_mm = [60, 120]", "slump_limits_mm = [120, 60]"),
        ('id = "stone 4/20"', 'id = "sand 0/4"'),
        ("moisture_percent = 4.5 ", "moisture_percent = 4.5\nwet_mass_g = 520 "),
        ("mixing_min = 2", "mixing_min = 6.0"),
    )
    assert set(found) == {
        "mix.water_kg_per_m3",
        "mix.slump_limits_mm",
        "aggregate[2].id",
        "aggregate[1].moisture_percent",
        "mixer.cycle_min",
    }
    assert all(problem.line for problem in found.values())


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ([("cement_bag_kg = 25 ", "cement_bag_kg = 100 ")], "mixer.cement_bag_kg"),
        ([("moisture_percent = 4.5 ", "wet_mass_g = 490\noven_dry_mass_g = 500 ")], "aggregate[1].oven_dry_mass_g"),
        ([("moisture_percent = 4.5 ", "wet_mass_g = 520 ")], "aggregate[1].oven_dry_mass_g"),
        ([("moisture_percent = 1.0", "# none")], "aggregate[2].moisture_percent"),
        ([*VOLUME, ("bulking_percent = 25", "# none")], "aggregate[1].bulking_percent"),
        ([("mixing_min = 2", "mixing_min = 1")], "mixer.mixing_min"),
        ([("required_volume_m3 = 1.8", "required_volume_m3 = 0")], "required_volume_m3"),
        ([('work = "structural"', 'work = "anything"')], "work"),
    ],
)
def test_what_cannot_be_batched_is_refused_by_name(tmp_path, changes, key):
    assert key in refusals(tmp_path, *changes)


def test_tolerances_follow_the_practice_asked_for_and_memory_is_said(tmp_path, structural):
    cement = structural.ingredients[0]
    assert (cement.low_kg, cement.high_kg) == pytest.approx((75 * 0.97, 75 * 1.03))
    astm = batch_of(tmp_path, ('tolerances = "en"', 'tolerances = "astm"'))
    assert astm.ingredients[0].high_kg == pytest.approx(75 * 1.01)
    assert astm.ingredients[1].high_kg == pytest.approx(1.02 * astm.ingredients[1].batch_kg)
    assert "ASTM C94" in batch_screen(astm) and "from memory" in batch_screen(astm)


def pages_of(pdf):
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def test_the_card_holds_one_batch_its_boxes_its_cautions_and_fits_two_pages(blinding):
    pages = pages_of(batch_card(blinding))
    assert len(pages) == 2
    assert "ONE BATCH" in pages[0] and "INVENTED DEMO DATA" in pages[0]
    for said in ("bags of 25 kg", "boxes", "400 mm", "gloves", "lock off", "dust mask"):
        assert said in pages[0], said
    assert "When it rains" in pages[0] and "50 to 110 mm" in pages[0]
    assert f"{blinding.bags_total_count} bags of cement" in pages[1]
    assert batch_card(blinding) == batch_card(blinding)


def test_long_names_and_letters_of_no_font_still_make_a_card(tmp_path):
    wide = batch_of(tmp_path, ('id = "sand 0/4"', f'id = "{"sand 漢 " * 8}"'), ('title = "Name', 'title = "漢 Name'))
    assert "no font" in " ".join(pages_of(batch_card(wide)))


def test_heaps_whose_names_begin_alike_are_told_apart_on_screen_and_card(tmp_path):
    name = "crushed limestone from the quarry"
    batch = batch_of(tmp_path, ('id = "sand 0/4"', f'id = "{name}, north"'))
    first = " ".join(pages_of(batch_card(batch))[0].split())
    said = " ".join(batch_screen(batch).split())
    assert f"{name}, north; " in first and f"{name}, north: " in said


@pytest.mark.parametrize("most", range(3, 12))
def test_a_name_cut_short_keeps_to_its_length(most):
    for name in ("superplasticiser", "super plasticiser", "a b c d e f g h", "ab"):
        assert len(fitting(name, most)) <= most


@pytest.mark.parametrize("width", [60, 100])
def test_the_screen_fits(blinding, width):
    lines = batch_screen(blinding, width, ("x/batch.json",)).splitlines()
    assert max(len(line) for line in lines) <= width
    assert len(lines) <= 40


def test_the_command_writes_its_files_and_they_keep_their_schema(tmp_path, capsys):
    path = tmp_path / "brief.toml"
    assert main(["new", str(path), "--kind", "batch"]) == 0
    assert "wetfront batch" in capsys.readouterr().out
    assert main(["batch", str(path)]) == 0
    document = json.loads((tmp_path / "brief-batch" / "batch.json").read_text(encoding="utf-8"))
    Draft202012Validator(formats()["batch"].schema()).validate(document)
    assert document["inputs"][0]["file"] == "brief.toml"
    path.write_text("schema = 2", encoding="utf-8")
    assert main(["batch", str(path), "--out", str(tmp_path / "none")]) == 2
    assert not (tmp_path / "none").exists()


def test_batch_json_is_the_same_for_the_same_brief(blinding):
    assert batch_json(blinding) == batch_json(batch_on_site(*read_batch_brief(TARNWICK / "blinding-batch.toml")))
