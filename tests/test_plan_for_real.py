"""One pour of the demo, planned for real from the command line with its choices fixed, so that it is quick."""

import io
import json
from pathlib import Path

import pytest
from icalendar import Calendar
from jsonschema import Draft202012Validator, FormatChecker
from pypdf import PdfReader

from wetfront.cli.main import main
from wetfront.dossier import plan_schema

EXAMPLES = Path(__file__).parent.parent / "examples" / "tarnwick"
FREE = 'element_order = ["panel 1", "panel 3", "panel 2"]'
FIXED = """start_between_local = ["10:00", "10:00"]
interval_between_min = [40, 40]
trucks_between = [3, 3]
placing_rates_m3_per_h = [5.6]
load_sizes_m3 = [3.6]
strip_widths_m = [5.0]
strips_along = "x"
layers_mm = [500]
layer_orders = ["whole"]"""


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """Folder of the pour's files, made once on one process and once on two."""
    folder = tmp_path_factory.mktemp("wall")
    for name in ("site.toml", "weather-forecast.csv"):
        (folder / name).write_bytes((EXAMPLES / name).read_bytes())
    sheet = (EXAMPLES / "wall.toml").read_text(encoding="utf-8")
    assert FREE in sheet
    (folder / "wall.toml").write_text(sheet.replace(FREE, FIXED), encoding="utf-8")
    for count in ("1", "2"):
        arguments = ["plan", str(folder / "wall.toml"), "--pour", "panel-1", "--out", str(folder / count)]
        assert main([*arguments, "--workers", count]) in (0, 1)
    return folder


@pytest.fixture(scope="module")
def document(planned):
    return json.loads((planned / "1" / "panel-1" / "plan.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def pages(planned):
    reader = PdfReader(io.BytesIO((planned / "1" / "panel-1" / "plan.pdf").read_bytes()))
    return [" ".join(page.extract_text().replace("\u00a0", " ").split()) for page in reader.pages]


@pytest.mark.parametrize("name", ["plan.json", "plan.ics", "plan.pdf"])
def test_the_number_of_workers_changes_no_byte(planned, name):
    assert (planned / "1" / "panel-1" / name).read_bytes() == (planned / "2" / "panel-1" / name).read_bytes()


def test_the_document_keeps_its_schema(document):
    Draft202012Validator(plan_schema(), format_checker=FormatChecker()).validate(document)


def test_the_fixed_choices_are_kept(document):
    decision = document["decision"]
    assert decision["start"].startswith("2027-06-18T10:00:00+01:00")
    assert (decision["interval_min"], decision["trucks_count"], decision["load_m3"]) == (40.0, 3, 3.6)


def test_volumes_add_up_on_every_list(document):
    quantity = document["quantity"]
    assert quantity["net_m3"] == pytest.approx(13.818, abs=5e-4), "the demo's own take-off"
    assert sum(load["volume_m3"] for load in document["loads"]) == pytest.approx(quantity["order_m3"], abs=1e-4)
    assert sum(strip["volume_m3"] for strip in document["strips"]) == pytest.approx(quantity["net_m3"], rel=1e-4)
    assert len(document["loads"]) == quantity["loads_count"]


def test_bands_and_deadlines_are_in_order(document):
    for strip in document["strips"]:
        for band in (strip["start"], strip["end"]):
            assert band["early"] <= band["usual"] <= band["late"]
        assert strip["start"]["usual"] < strip["end"]["usual"]
    starts = [strip["start"]["usual"] for strip in document["strips"]]
    assert starts == sorted(starts)


def test_pdf_says_what_the_document_says(document, pages):
    assert 2 <= len(pages) <= 6
    text = " ".join(pages)
    assert document["verdict"].upper() in pages[0]
    for reason in document["reasons"]:
        assert " ".join(reason.split())[:60] in pages[0]
    for strip in document["strips"]:
        assert f"{strip['name']} {strip['volume_m3']:.1f} {strip['start']['usual'][11:16]}" in pages[1]
    for load in document["loads"]:
        assert f"{load['number']} {load['batch'][11:16]} {load['on_site'][11:16]}" in pages[2]
    for caution in document["cautions"]:
        assert " ".join(caution.split())[:60] in text
    for item in document["readiness"]:
        if item["hold_point"]:
            assert f"{item['id']} H" in text


def test_the_calendar_has_every_layer(planned, document):
    calendar = Calendar.from_ical((planned / "1" / "panel-1" / "plan.ics").read_bytes())
    titles = [str(event["SUMMARY"]) for event in calendar.walk("VEVENT")]
    for strip in document["strips"]:
        assert any(strip["name"] in title for title in titles)


def test_pages_do_not_name_the_folder_that_they_were_made_in(planned):
    for name in ("plan.json", "plan.ics", "plan.pdf"):
        assert str(planned).encode() not in (planned / "1" / "panel-1" / name).read_bytes()
