"""Single sheets of a plan: each on its paper, with what it is for, and the wall plan readable from a distance."""

import io
from dataclasses import replace

import pypdf
import pytest

from test_board import basis
from wetfront.desk.wall_plan import wall_drawings
from wetfront.dossier.document import revision
from wetfront.dossier.handouts import SHEETS, handout_pdf
from wetfront.nouns.plan import Verdict

A4_PT, A3_PT = (595, 842), (842, 1191)
FACTS = ("Pump pump-main at x 18, y -6 m", "Emergency joint: x24 at x = 24 m.")


def pages(plan, what, paper="a3"):
    drawings = wall_drawings(basis()) if what == "wall-plan" else ()
    return pypdf.PdfReader(io.BytesIO(handout_pdf(plan, what, drawings, FACTS, paper))).pages


@pytest.mark.parametrize(("paper", "size"), [("a3", A3_PT), ("a4", A4_PT)])
@pytest.mark.parametrize("verdict", [Verdict.GO, Verdict.NO_GO])
def test_the_wall_plan_is_one_page_across_with_its_revision(paper, size, verdict):
    plan = replace(basis().plan, verdict=verdict)
    found = pages(plan, "wall-plan", paper)
    assert len(found) == 1
    assert (round(found[0].mediabox.height), round(found[0].mediabox.width)) == size
    text = found[0].extract_text()
    for part in (revision(plan), "Emergency joint", "Keep to", "first aid", "North"):
        assert part in text
    assert ("NOT RELEASED" in text) == (verdict is Verdict.NO_GO)


@pytest.mark.parametrize("paper", ["a3", "a4"])
def test_order_numbers_stand_in_24_pt_and_no_instruction_in_less_than_14(paper):
    sizes = {}

    def seen(text, _cm, matrix, _font, size):
        if text.strip():
            sizes.setdefault(text.strip(), size * abs(matrix[3]))

    pages(basis().plan, "wall-plan", paper)[0].extract_text(visitor_text=seen)
    numbers = [size for text, size in sizes.items() if text in {"2", "3", "4"}]
    assert numbers and max(numbers) >= 24 - 0.1
    words = [size for text, size in sizes.items() if "Keep to" in text or "Emergency" in text or "Phones" in text]
    assert words and min(words) >= 14 - 0.1


def test_the_tester_gets_every_load_that_is_sampled_and_the_supplier_every_load():
    plan = basis().plan
    tester = "".join(page.extract_text() for page in pages(plan, "tester"))
    assert tester.count("sample") >= sum(load.sample for load in plan.loads)
    supplier = "".join(page.extract_text() for page in pages(plan, "call-off"))
    assert "Call-off for the supplier" in supplier and f"{plan.loads[-1].batch:%H:%M}" in supplier


def test_the_check_list_holds_every_hold_point():
    text = "".join(page.extract_text() for page in pages(basis().plan, "checks"))
    assert all(item.id in text for item in basis().plan.readiness if item.hold_point and not item.id.startswith("list"))


@pytest.mark.parametrize("what", SHEETS)
def test_the_same_plan_gives_the_same_bytes(what):
    drawings = wall_drawings(basis()) if what == "wall-plan" else ()
    assert handout_pdf(basis().plan, what, drawings, FACTS) == handout_pdf(basis().plan, what, drawings, FACTS)
