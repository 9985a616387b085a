"""plan.pdf read back: pages, words, fonts, and the same bytes each time."""

import io
from functools import cache

import pytest
from pypdf import PdfReader

from plans import crowded_plan, days, no_forecast_plan, no_go_plan, readiness, slab_plan
from wetfront.dossier.paper import capped, fitting
from wetfront.dossier.pdf import plan_pdf
from wetfront.dossier.typeset import letters_missing, typesetter

MAKERS = {"slab": slab_plan, "no go": no_go_plan, "no forecast": no_forecast_plan, "crowded": crowded_plan}


@cache
def pdf(name):
    return plan_pdf(MAKERS[name]())


def reader(name):
    return PdfReader(io.BytesIO(pdf(name)))


@cache
def pages_of(name):
    return [" ".join(page.extract_text().replace("\u00a0", " ").split()) for page in reader(name).pages]


def words(name, page=None):
    return " ".join(pages_of(name)) if page is None else pages_of(name)[page - 1]


@pytest.mark.parametrize("name", MAKERS)
def test_a_plan_has_two_to_six_a4_pages(name):
    pages = reader(name).pages
    assert 2 <= len(pages) <= 6
    for page in pages:
        assert [float(side) for side in page.mediabox[2:]] == pytest.approx([595.276, 841.89], abs=0.01)


@pytest.mark.parametrize("name", MAKERS)
def test_every_page_says_which_pour_which_day_which_revision_and_that_it_is_invented(name):
    pages = pages_of(name)
    for number, text in enumerate(pages, 1):
        assert "June 2027" in text and "revision" in text and "INVENTED DEMO DATA" in text
        assert f"page {number} of {len(pages)}" in text


def test_a_real_pour_is_not_called_invented():
    text = PdfReader(io.BytesIO(plan_pdf(slab_plan(invented=False)))).pages[0].extract_text()
    assert "INVENTED" not in text and "revision" in text


def test_same_plan_same_bytes():
    assert plan_pdf(slab_plan()) == pdf("slab")


def test_the_file_is_an_archive_file_and_accessible():
    data = reader("slab").trailer["/Root"]["/Metadata"].get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in data and "<pdfaid:conformance>A</pdfaid:conformance>" in data
    assert "<pdfuaid:part>1</pdfuaid:part>" in data


def test_the_date_of_the_document_is_that_of_the_plan():
    assert reader("slab").metadata.creation_date.date() == slab_plan().date


def test_only_the_packaged_font_is_used():
    fonts = {
        font.get_object()["/BaseFont"].split("+")[-1]
        for page in reader("slab").pages
        for font in page["/Resources"].get("/Font", {}).values()
    }
    assert fonts and all(font.startswith("SourceSansPro") for font in fonts)


def test_the_summary_answers_first():
    text = words("slab", 1)
    for expected in (
        "GO WITH MEASURES",
        "by remembered limits, check the standard: ACI 347R-14",
        "All eight risks stay under their limits.",
        "07:20",
        "15 min",
        "220 m³",
        "27 full loads of 8 m³ + balance load 4 m³",
        "32 m³/h",
        "15:35 to 16:05",
        "215.10",
        "Finishing after hours: 8.3 %",
        "of at most 10 %",
        "Mist and film on hand",
        "Promised trucks: 8.",
        "64 cu dearer",
    ):
        assert expected in text, expected
    assert text.index("GO WITH MEASURES") < text.index("All eight risks") < text.index("215.10")


def test_the_order_page_has_the_drawing_the_strips_and_the_edges():
    text = words("slab", 2)
    assert "1 C1 07:20" in text, "words of the drawing"
    for expected in ("B2 24 10:20 11:05 11:31 12:20 13:30", "Tightest edges", "C, then B, then A, far end first"):
        assert expected in text, expected


def test_the_call_off_is_whole_on_one_page():
    text = words("slab", 3)
    for expected in ("Call-off for the supplier", "06:39", "one load every 15 min", "balance, by measured call"):
        assert expected in text, expected
    assert text.count("sample") >= 7
    assert all(f" {number} " in text for number in range(1, 29))
    assert "May reject a load:" in text and "Plant, dispatcher:" in text


def test_charts_carry_their_sentences_and_changes_stand_below():
    text = words("slab", 4)
    for series in slab_plan().charts:
        assert series.sentence in text
    assert "one truck fewer (7) +312 ± 22 +105 +24 BREAKS" in text
    assert "concrete 1 °C cooler −12 −5 +12 keeps" in text


def test_cost_against_risk_and_the_price_of_a_limit_stand_beside_the_charts():
    text = words("slab", 4)
    assert "Cost against risk" in text and slab_plan().frontier.sentence in text
    assert "largest risk, % of its limit" in text, "words of the chart"
    assert slab_plan().limit_prices[0].text in text


def test_readiness_pressure_and_reach_stand_together():
    text = words("slab", 5)
    for expected in ("Readiness list", "released by temporary-works-coordinator", "reaches the far edge (y = 24 m)"):
        assert expected in text, expected
    assert "63.5 60.0 OVER" in text and "46.2 60.0 within" in text


def test_what_rests_on_memory_stands_out_and_what_was_read_is_named():
    text = words("slab", 6)
    assert "FROM MEMORY: nobody has read these in their source yet" in text
    memory = text[text.index("FROM MEMORY") : text.index("Not checked")]
    assert "ACI 347R-14, 2.2.2" in memory
    assert "Uno, ACI Materials Journal 95-M34 (published)" in text
    assert "gust at which the boom is stowed" in text
    assert "slab.toml" in text and "abababababababab" in text and "Seed 1." in text


def test_no_go_is_said_on_the_summary_and_on_the_page_for_the_supplier():
    assert "NO GO" in words("no go", 1) and "do not book from it" in words("no go", 1)
    assert "NOT RELEASED" in words("no go", 3)


def test_without_a_forecast_there_is_no_page_for_the_supplier():
    text = words("no forecast")
    assert "NO FORECAST FOR THAT DAY YET" in text and "The forecast ends on 22 June" in text
    assert "Call-off for the supplier" not in text


def test_what_does_not_fit_is_counted_never_dropped_in_silence():
    text = words("crowded")
    assert text.count("more in plan.json") >= 6


def test_open_hold_points_are_the_last_to_give_way():
    text = words("crowded")
    holds = [item for item in readiness(120) if item.hold_point and not item.state.startswith("pass")]
    assert sum(f"{item.id} H" in text for item in holds) >= 10


def test_words_of_a_sheet_are_never_taken_for_markup():
    plan = slab_plan(reasons=('#panic("no") $x$ *bold* `raw` @label <tag> \\ "quote"',))
    text = " ".join(PdfReader(io.BytesIO(plan_pdf(plan))).pages[0].extract_text().split())
    assert '#panic("no") $x$ *bold* `raw` @label <tag> \\ "quote"' in text


def test_letters_that_no_font_has_are_owned_up_to():
    made = PdfReader(io.BytesIO(plan_pdf(slab_plan(title="Deck \U0001f3d7"))))
    assert letters_missing("plan.json") in " ".join(made.pages[-1].extract_text().split())


def test_a_long_text_is_cut_at_a_word_and_says_so():
    assert fitting("one two three", 9) == "one two …"
    assert fitting("one two", 9) == "one two"
    assert capped(["a", "b", "c", "d"], 2) == ["a", "b", "… and 2 more in plan.json"]
    assert capped(["a", "b", "c"], 2) == ["a", "b", "c"], "counting would take the same line"


def test_days_that_were_tried_stand_in_a_table_with_the_chosen_one_kept_where_room_is_short():
    pages = PdfReader(io.BytesIO(plan_pdf(slab_plan(days=days())))).pages
    text = " ".join(" ".join(page.extract_text().replace("\u00a0", " ").split()) for page in pages)
    assert "Days that were tried" in text and "Weather: 400 weathers drawn" in text
    for row in ("Wed 16 Jun BREAKS 07:20", "Thu 17 Jun (chosen, pencilled) keeps 07:20", "Fri 18 Jun NOT PLANNED"):
        assert row in text
    assert "Thu 17 Jun (chosen, pencilled)" in words("crowded") and "more in plan.json" in words("crowded")
    assert "Days that were tried" not in words("slab")


def test_a_faulty_template_is_a_fault_and_not_missing_letters():
    with typesetter("plan.typ") as setter:
        (setter._folder / "plan.typ").write_text("= Head\n#no-such-word", encoding="utf-8")
        with pytest.raises(Exception, match="unknown variable"):
            setter.pdf({}, slab_plan().date, [], "plan.json")
