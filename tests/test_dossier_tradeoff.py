"""Cost against risk and bars as SVG: places, greys, and words that stay words."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans import frontier, frontier_point, slab_plan
from wetfront.dossier.charts import HEIGHT, WIDTH
from wetfront.dossier.screen import screen_text
from wetfront.dossier.tradeoff import BAR_WIDTH, BOTTOM, LEFT, RIGHT, TOP, bar_svg, frontier_svg

NAMESPACE = "{http://www.w3.org/2000/svg}"


def drawn(made, currency="cu"):
    return ET.fromstring(frontier_svg(made, currency))


def circles(tree):
    return [(float(each.get("cx")), float(each.get("cy"))) for each in tree.iter(f"{NAMESPACE}circle")]


def bar(value, largest):
    tree = ET.fromstring(bar_svg(value, largest, "t", "s"))
    shapes = list(tree.iter(f"{NAMESPACE}rect"))
    tips = [each for each in tree.iter(f"{NAMESPACE}path") if each.get("d").endswith("Z")]
    return shapes, tips


def test_same_frontier_same_bytes_and_only_greys():
    text = frontier_svg(frontier(), "cu")
    assert text == frontier_svg(frontier(), "cu")
    for colour in re.findall(r'(?:fill|stroke)="([^"]+)"', text + bar_svg(1, 2, "t", "s")):
        assert colour in {"none", "black", "white"} or re.fullmatch(r"#(.)\1\1|#(..)\2\2", colour), colour


def test_safer_lies_left_and_dearer_lies_high():
    places = circles(drawn(frontier()))
    assert [x for x, _ in places] == sorted(x for x, _ in places)
    assert [y for _, y in places] == sorted(y for _, y in places)


def test_chosen_plan_is_a_square_at_its_own_place():
    tree = drawn(frontier())
    square = next(tree.iter(f"{NAMESPACE}rect"))
    middle = (float(square.get("x")) + 3.5, float(square.get("y")) + 3.5)
    assert middle == pytest.approx(circles(tree)[1], abs=0.02)


def test_limit_line_stands_between_what_keeps_it_and_what_breaks_it():
    tree = drawn(frontier())
    (line,) = [each for each in tree.iter(f"{NAMESPACE}path") if each.get("stroke-dasharray")]
    at = float(line.get("d")[1:].split()[0])
    xs = [x for x, _ in circles(tree)]
    assert xs[1] < at < xs[2], "83 % and 132 % of the limit"


def test_words_of_a_sheet_stay_words():
    tree = drawn(replace(frontier(), sentence="a < b & c"), currency='<"&')
    assert tree.find(f"{NAMESPACE}desc").text == "a < b & c"
    assert any('<"&' in (each.text or "") for each in tree.iter(f"{NAMESPACE}text"))


def test_figure_that_is_not_finite_is_refused():
    with pytest.raises(ValueError, match="finite"):
        frontier_svg(frontier(frontier_point(float("nan"), 0.5, "x")), "cu")
    with pytest.raises(ValueError, match="finite"):
        bar_svg(float("inf"), 1.0, "t", "s")


@given(
    st.lists(st.tuples(st.floats(0, 1e7), st.floats(0, 100)), min_size=1, max_size=12),
)
def test_every_plan_stays_on_the_paper(pairs):
    tree = drawn(frontier(*(frontier_point(cost, share, "p") for cost, share in pairs)))
    for x, y in circles(tree):
        assert LEFT - 0.01 <= x <= WIDTH - RIGHT + 0.01
        assert TOP - 0.01 <= y <= HEIGHT - BOTTOM + 0.01


@given(st.floats(-1e6, 1e6), st.floats(0.1, 1e6))
def test_bar_is_as_long_as_its_value_and_never_leaves_the_cell(value, largest):
    shapes, tips = bar(value, largest)
    width = sum(float(each.get("width")) for each in shapes)
    assert width == pytest.approx(min(1.0, abs(value) / largest) * (BAR_WIDTH / 2 - 5), abs=0.006)
    assert bool(tips) == (abs(value) > largest * (1 + 1e-9))


def test_more_is_black_to_the_right_and_less_is_white_to_the_left():
    (more,), _ = bar(3.0, 4.0)
    (less,), _ = bar(-3.0, 4.0)
    assert more.get("fill") == "black" and float(more.get("x")) == BAR_WIDTH / 2
    assert less.get("fill") == "white" and float(less.get("x")) + float(less.get("width")) == BAR_WIDTH / 2
    assert bar(0.0, 4.0) == ([], [])


def test_screen_names_the_dearest_limit_and_the_place_between_cost_and_risk():
    text = " ".join(screen_text(slab_plan(), 100).split())
    assert "price finishing after hours, at most 10 %: at 15 % 64 cu cheaper" in text
    assert "this plan 29 563 cu" in text
