"""Words over strips and layers on the drawn lattice: as large as their place takes, never outside it."""

from xml.etree import ElementTree

import pytest

from wetfront.nouns.element import Slab, Wall
from wetfront.takeoff.drawing import Mark, front_view_svg
from wetfront.takeoff.lattice import lattice_of

SVG = "{http://www.w3.org/2000/svg}"
DECK = lattice_of(
    [Slab(shape="slab", id="A", at_m=(0.0, 0.0), length_m=12.0, width_m=24.0, thickness_mm=250)],
    cell_size_m=2.0,
    layer_mm=500,
)
WALL = lattice_of(
    [Wall(shape="wall", id="W", at_m=(0.0, 0.0), length_m=10.0, height_m=4.0, thickness_mm=300)],
    cell_size_m=1.0,
    layer_mm=500,
)


def marks_of(lattice, *marks, **options):
    tree = ElementTree.fromstring(front_view_svg(lattice, marks=marks, width_pt=516.0, highest_pt=240.0, **options))
    return [text for text in tree.iter(f"{SVG}text") if text.get("paint-order") and text.get("font-weight") == "bold"]


def test_a_narrow_strip_stacks_its_words():
    found = marks_of(DECK, Mark((4.0, 0.0, 8.0, 12.0), ("2 A2", "08:02", "08:50")))
    assert [text.text for text in found] == ["2 A2", "08:02", "08:50"]
    tops = [float(text.get("y")) for text in found]
    assert tops == sorted(tops) and len({text.get("x") for text in found}) == 1


def test_a_low_layer_has_its_words_in_one_line():
    found = marks_of(WALL, Mark((0.0, 0.0, 10.0, 0.5), ("1 W layer 1", "08:09", "08:26")))
    assert [text.text for text in found] == ["1 W layer 1 08:09 08:26"]


@pytest.mark.parametrize("side_m", [1.0, 2.0, 4.0, 8.0])
def test_words_stay_within_their_place(side_m):
    found = marks_of(DECK, Mark((0.0, 0.0, side_m, side_m), ("12 A12", "08:02", "08:50")))
    point_per_m = 240.0 / 24.0
    for text in found:
        size = float(text.get("font-size"))
        assert 5.0 <= size <= 13.0
        assert 0.55 * len(text.text) * size <= side_m * point_per_m
    if found:
        ys = [float(text.get("y")) for text in found]
        assert max(ys) - min(ys) + float(found[0].get("font-size")) <= side_m * point_per_m


def test_a_place_too_small_for_readable_words_stays_empty():
    assert marks_of(DECK, Mark((0.0, 0.0, 0.5, 0.5), ("12 A12", "08:02", "08:50"))) == []


def test_markup_in_a_mark_stays_text():
    (text,) = marks_of(WALL, Mark((0.0, 0.0, 10.0, 0.5), ("<b>&",)))
    assert text.text == "<b>&"
