"""Charts as SVG: valid, the same each time, readable without colour."""

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from plans import at, charts
from wetfront.dossier.charts import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, chart_svg, tick_step
from wetfront.nouns.plan import HourlySeries

NAMESPACE = "{http://www.w3.org/2000/svg}"


def drawn(series):
    return ET.fromstring(chart_svg(series))


def texts(series):
    return ["".join(each.itertext()).replace("\u00a0", " ") for each in drawn(series).iter(f"{NAMESPACE}text")]


@pytest.mark.parametrize("series", charts(), ids=lambda series: series.title)
def test_a_chart_tells_its_title_its_sentence_its_unit_and_its_limits(series):
    tree = drawn(series)
    assert tree.find(f"{NAMESPACE}title").text == f"{series.title} [{series.unit}]"
    assert tree.find(f"{NAMESPACE}desc").text == series.sentence
    shown = texts(series)
    assert series.unit in shown
    for name, _ in series.limits:
        assert any(text.startswith(name) for text in shown)


@pytest.mark.parametrize("series", charts(), ids=lambda series: series.title)
def test_same_series_same_bytes(series):
    assert chart_svg(series) == chart_svg(series)


def test_no_colour_but_black_white_and_grey():
    for series in charts():
        for colour in re.findall(r'(?:fill|stroke)="([^"]+)"', chart_svg(series)):
            assert colour in {"none", "black", "white"} or re.fullmatch(r"#(.)\1\1|#(..)\2\2", colour), colour


def test_lines_of_one_chart_differ_in_stroke():
    pressure = charts()[4]
    strokes = [each.get("stroke-dasharray") for each in drawn(pressure).iter(f"{NAMESPACE}polyline")]
    assert len(strokes) == 3 and len(set(strokes)) == 3


def test_early_and_late_lines_become_one_band():
    placed = charts()[0]
    assert len(list(drawn(placed).iter(f"{NAMESPACE}polygon"))) == 1
    assert len(list(drawn(placed).iter(f"{NAMESPACE}polyline"))) == 1
    assert "5 to 95 %" in texts(placed) and "usual" in texts(placed)


def test_two_early_lines_are_not_taken_for_a_band():
    margin = charts()[1]
    lines = (("setting (5 %)", margin.lines[0][1]), ("specification (5 %)", margin.lines[1][1]))
    tree = drawn(replace(margin, lines=lines))
    assert not list(tree.iter(f"{NAMESPACE}polygon"))
    assert len(list(tree.iter(f"{NAMESPACE}polyline"))) == 2


def test_a_gap_in_a_line_stays_a_gap():
    values = (1.0, 2.0, None, None, 3.0, 4.0, None, 5.0)
    series = HourlySeries(
        title="t",
        unit="m",
        times=tuple(at(60 * hour) for hour in range(8)),
        lines=(("a", values),),
        limits=(),
        sentence="",
    )
    tree = drawn(series)
    assert [len(each.get("points").split()) for each in tree.iter(f"{NAMESPACE}polyline")] == [2, 2]
    assert len(list(tree.iter(f"{NAMESPACE}circle"))) == 1


def test_a_value_lands_where_the_axis_says():
    series = replace(charts()[3], lines=(("rise", tuple(float(index) for index in range(16))),), limits=())
    points = next(drawn(series).iter(f"{NAMESPACE}polyline")).get("points").split()
    first, last = ([float(number) for number in point.split(",")] for point in (points[0], points[-1]))
    assert first == [LEFT, HEIGHT - BOTTOM]
    assert last[0] == WIDTH - RIGHT
    assert texts(series)[1:5] == ["0", "5", "10", "15"], "the axis ends at 15"
    assert last[1] == pytest.approx(TOP, abs=0.01)


def test_a_limit_far_above_the_data_is_named_at_the_edge():
    series = replace(charts()[3], limits=(("permitted", 900.0),))
    assert any("off the chart" in text for text in texts(series))
    assert "2" in "".join(texts(series))


def test_a_limit_below_the_data_is_drawn():
    margin = replace(charts()[1], limits=(("lost", -50.0),))
    assert any(text.startswith("lost -50") for text in texts(margin))


def test_night_across_midnight_names_the_next_day():
    series = replace(charts()[0], times=tuple(at(60 * hour) for hour in range(18, 34)))
    assert "18 Jun" in texts(series)


def test_markup_in_names_stays_text():
    series = replace(charts()[3], title='<script>&"', lines=(("</svg>\x00", (1.0,) * 16),), sentence="a < b & c")
    assert "</svg>?" in "".join(texts(series))


@pytest.mark.parametrize(
    "spoilt",
    [
        replace(charts()[0], times=()),
        replace(charts()[3], lines=(("rise", (1.0,)),)),
        replace(charts()[3], lines=(("rise", (math.nan,) * 16),)),
        replace(charts()[3], limits=(("limit", math.inf),)),
    ],
)
def test_a_series_that_cannot_be_drawn_is_refused(spoilt):
    with pytest.raises(ValueError, match="chart"):
        chart_svg(spoilt)


@example(values=[5e-324], limits=[])
@given(
    st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), min_size=1, max_size=40),
    st.lists(st.floats(-1e6, 1e6), max_size=3),
)
def test_every_stroke_stays_on_the_paper(values, limits):
    series = HourlySeries(
        title="t",
        unit="m",
        times=tuple(at(60 * hour) for hour in range(len(values))),
        lines=(("a", tuple(values)),),
        limits=tuple((f"limit {index}", limit) for index, limit in enumerate(limits)),
        sentence="s",
    )
    for element in drawn(series).iter(f"{NAMESPACE}polyline"):
        for point in element.get("points").split():
            x, y = (float(number) for number in point.split(","))
            assert LEFT - 0.01 <= x <= WIDTH - RIGHT + 0.01
            assert TOP - 0.01 <= y <= HEIGHT - BOTTOM + 0.01


@given(st.floats(1e-6, 1e9))
def test_an_axis_has_three_to_seven_parts(width):
    assert 2 <= width / tick_step(width) <= 7
