"""The drawn lattice: every cell there, its number in it, readable without colour, the same bytes every time."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

from wetfront.errors import InvalidInput
from wetfront.nouns.element import Column, MassBlock, PlanOpening, Slab, Wall, WallOpening
from wetfront.takeoff.drawing import Line, front_view_svg
from wetfront.takeoff.lattice import lattice_of

SVG = "{http://www.w3.org/2000/svg}"


def slab(name, x):
    hole = (PlanOpening(id="o", at_m=(2.5, 2.5), length_m=2.0, width_m=1.5),) if name == "B" else ()
    return Slab(shape="slab", id=name, at_m=(x, 0.0), length_m=6.0, width_m=8.0, thickness_mm=250, opening=hole)


PLAN = lattice_of([slab("A", 0.0), slab("B", 6.0)], cell_size_m=2.0, layer_mm=500)
RAFT = lattice_of(
    [MassBlock(shape="mass-block", id="raft", at_m=(0.0, 0.0), length_m=4.0, width_m=3.0, depth_m=1.8)],
    cell_size_m=1.0,
    layer_mm=450,
)
DOOR = WallOpening(id="o", from_start_m=1.3, width_m=1.2, height_m=2.1)
WALL = lattice_of(
    [Wall(shape="wall", id="W1", at_m=(0.0, 0.0), length_m=5.0, height_m=4.2, thickness_mm=350, opening=(DOOR,))],
    cell_size_m=1.0,
    layer_mm=500,
)


def drawn(lattice, **options):
    return ElementTree.fromstring(front_view_svg(lattice, **options))


def cells_of(tree):
    return [
        np.array([[float(n) for n in point.split(",")] for point in polygon.get("points").split()])
        for polygon in tree.iter(f"{SVG}polygon")
    ]


def test_every_cell_of_a_plan_is_drawn_to_one_scale():
    cells = [shapely.Polygon(points) for points in cells_of(drawn(PLAN))]
    assert len(cells) == PLAN.cells_count
    points_per_m2 = np.array([cell.area for cell in cells]) / PLAN.plan_area_m2
    assert points_per_m2 == pytest.approx([points_per_m2[0]] * len(cells), rel=2e-3)


def test_up_on_site_is_up_on_paper():
    heights = [points[:, 1].mean() for points in cells_of(drawn(WALL))]
    low, high = int(np.argmin(WALL.z_m)), int(np.argmax(WALL.z_m))
    assert heights[low] > heights[high]


def test_title_and_description_are_there_for_those_who_cannot_see_it():
    tree = drawn(PLAN, values=np.arange(PLAN.cells_count), value_name="minutes left")
    assert tree.get("role") == "img"
    assert tree.get("aria-labelledby") == "title desc"
    assert tree.find(f"{SVG}title").text == "Plan of A, B"
    assert tree.find(f"{SVG}desc").text == "24 cells of 2 elements; minutes left from 0 to 23"


def test_the_same_lattice_gives_the_same_bytes():
    values = np.sin(np.arange(PLAN.cells_count))
    again = lattice_of([slab("A", 0.0), slab("B", 6.0)], cell_size_m=2.0, layer_mm=500)
    assert front_view_svg(PLAN, values=values) == front_view_svg(again, values=values)


def shade_of(polygon):
    return int(polygon.get("fill")[1:3], 16)


def test_a_larger_value_is_never_lighter_and_black_text_stays_readable_on_it():
    values = np.random.default_rng(3).uniform(0, 100, PLAN.cells_count)
    shades = np.array([shade_of(polygon) for polygon in drawn(PLAN, values=values).iter(f"{SVG}polygon")])
    assert (np.diff(shades[np.argsort(values)]) <= 0).all()
    darkest = shades.min() / 255
    luminance = ((darkest + 0.055) / 1.055) ** 2.4
    assert (luminance + 0.05) / 0.05 > 3.9
    fills = {polygon.get("fill") for polygon in drawn(PLAN, values=values).iter(f"{SVG}polygon")}
    assert all(len({fill[1:3], fill[3:5], fill[5:7]}) == 1 for fill in fills)


def test_a_value_that_is_not_known_is_left_white_and_empty():
    values = np.full(PLAN.cells_count, 5.0)
    values[0] = np.nan
    tree = drawn(PLAN, values=values)
    assert next(tree.iter(f"{SVG}polygon")).get("fill") == "#ffffff"
    assert "nan" not in ElementTree.tostring(tree, encoding="unicode")


@pytest.mark.parametrize("lattice", [PLAN, WALL], ids=["plan", "wall"])
def test_each_label_stands_in_its_own_cell(lattice):
    labels = [f"c{k}" for k in range(lattice.cells_count)]
    tree = drawn(lattice, labels=labels)
    places = {text.text: (float(text.get("x")), float(text.get("y")) - 2) for text in tree.iter(f"{SVG}text")}
    for label, points in zip(labels, cells_of(tree), strict=True):
        assert shapely.Polygon(points).contains(shapely.Point(places[label])), label


def test_element_names_are_written_and_cannot_break_the_drawing():
    odd = lattice_of([slab('<b> & "C"', 0.0)], cell_size_m=2.0, layer_mm=500)
    texts = [text.text for text in drawn(odd).iter(f"{SVG}text")]
    assert '<b> & "C"' in texts


def test_the_border_of_an_element_runs_round_its_outer_edge_and_its_openings():
    tree = drawn(PLAN)
    heavy = [path.get("d") for path in tree.iter(f"{SVG}path") if path.get("stroke-width") == "1.4"]
    numbers = np.array([[float(n) for n in re.findall(r"-?[\d.]+", path)] for path in heavy])
    length_pt = np.hypot(numbers[:, 2] - numbers[:, 0], numbers[:, 3] - numbers[:, 1]).sum()
    scale = (760 - 72) / 12
    assert length_pt / scale == pytest.approx(2 * 28 + 7, rel=1e-3)


def test_a_layered_block_shows_one_layer_in_plan_and_all_from_the_front():
    labels = [f"n{k}" for k in range(RAFT.cells_count)]
    tree = drawn(RAFT, labels=labels)
    plan = cells_of(tree)
    assert len(plan) == 12
    texts = {text.text: float(text.get("y")) for text in tree.iter(f"{SVG}text")}
    front = [k for k in range(RAFT.cells_count) if RAFT.j[k] == 0]
    assert {labels[k] for k in front} <= set(texts)
    lowest, next_up = labels[front[0]], labels[front[4]]
    assert texts[lowest] > texts[next_up] > max(points[:, 1].max() for points in plan)
    second = drawn(RAFT, labels=labels, layer=1)
    in_plan = [text.text for text in second.iter(f"{SVG}text") if text.text in labels[12:24]]
    assert len(in_plan) >= 12


def test_joint_lines_arrows_scale_and_north_are_drawn():
    lines = [Line((6, 0), (6, 8), "agreed joint"), Line((1, 1), (1, 7), arrow=True)]
    tree = drawn(PLAN, lines=lines, north_deg=70.0)
    paths = list(tree.iter(f"{SVG}path"))
    assert sum(path.get("stroke-dasharray") is not None for path in paths) == 1
    assert sum(path.get("marker-end") is not None for path in paths) == 1 + 2 + 1
    texts = [text.text for text in tree.iter(f"{SVG}text")]
    assert {"agreed joint", "2 m", "x", "y", "N"} <= set(texts)


def test_the_scale_bar_is_as_long_as_it_says():
    tree = drawn(PLAN)
    bar = next(path.get("d") for path in tree.iter(f"{SVG}path") if path.get("d").count("V") == 2)
    start, end = float(re.match(r"M([\d.]+)", bar)[1]), float(re.search(r"H([\d.]+)", bar)[1])
    said = next(float(t.text.split()[0]) for t in tree.iter(f"{SVG}text") if re.fullmatch(r"[\d.]+ m", t.text or ""))
    assert (end - start) / ((760 - 72) / 12) == pytest.approx(said, rel=1e-3)


def test_columns_are_drawn_side_by_side():
    columns = [
        Column(shape="column", id=f"C{k}", at_m=(0.0, 5.0 * k), height_m=3.0, section="circular", diameter_m=0.4)
        for k in range(3)
    ]
    lattice = lattice_of(columns, cell_size_m=1.0, layer_mm=1000)
    assert [(view.kind, view.to_place) for view in lattice.views] == [("elevation", False)]
    shapes = [shapely.Polygon(points) for points in cells_of(drawn(lattice))]
    assert len(shapes) == 9
    assert all(a.intersection(b).area < 1e-6 for k, a in enumerate(shapes) for b in shapes[:k])


@pytest.mark.parametrize(
    ("options", "key"),
    [({"values": [1.0]}, "values"), ({"labels": ["a"]}, "labels"), ({"view": 3}, "view"), ({"layer": 9}, "layer")],
)
def test_what_does_not_fit_the_lattice_is_refused_by_its_name(options, key):
    with pytest.raises(InvalidInput) as refused:
        front_view_svg(PLAN, **options)
    assert refused.value.key == key
