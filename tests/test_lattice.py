"""The lattice: nothing lost, neighbours right, elements joined, slivers and absurd sizes handled."""

import math
from collections import Counter

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import test_takeoff as shapes
from wetfront.errors import InvalidInput
from wetfront.nouns.element import (
    Beam,
    Column,
    DropPanel,
    GroundSlab,
    Kerb,
    MassBlock,
    PlanOpening,
    Slab,
    StripFooting,
    Thickening,
    Wall,
    WallOpening,
)
from wetfront.takeoff.lattice import lattice_of
from wetfront.takeoff.problems import geometry_problems
from wetfront.takeoff.shapes import quantities_of

EVERY_SHAPE = [
    shapes.SLAB,
    shapes.GROUND,
    shapes.DECK,
    shapes.WALL,
    shapes.RECTANGLE,
    shapes.OCTAGON,
    shapes.CIRCLE,
    shapes.PEDESTAL,
    shapes.FOOTING,
    shapes.WEDGE,
    shapes.STRIP,
    shapes.BEAM,
    shapes.STAIR,
    shapes.DROP,
    shapes.HAUNCH,
    shapes.KERB,
    shapes.BLOCK,
]


def polygons_of(lattice):
    return np.array([shapely.Polygon(lattice.outline_of(cell)) for cell in range(lattice.cells_count)])


def areas_by_pair(pairs, areas):
    return {tuple(pair): area for pair, area in zip(pairs.tolist(), areas.tolist(), strict=True)}


def assert_sound(lattice):
    """What holds for every lattice."""
    assert (lattice.volume_m3 > 0).all() and (lattice.plan_area_m2 > 0).all()
    np.testing.assert_allclose(lattice.plan_area_m2 * lattice.thickness_m, lattice.volume_m3, rtol=1e-12)
    for pairs, areas in (
        (lattice.lateral_pair, lattice.lateral_area_m2),
        (lattice.vertical_pair, lattice.vertical_area_m2),
    ):
        assert (areas > 0).all()
        assert (pairs[:, 0] != pairs[:, 1]).all()
        unordered = Counter(tuple(sorted(pair)) for pair in pairs.tolist())
        assert not unordered or max(unordered.values()) == 1
    assert (lattice.lateral_pair[:, 0] < lattice.lateral_pair[:, 1]).all()
    assert (lattice.top_area_m2 >= 0).all() and (lattice.formed_area_m2 >= 0).all()
    assert (lattice.layer < lattice.layers_count).all()
    assert shapely.is_valid(polygons_of(lattice)).all()
    rings = [shapely.LinearRing(lattice.outline_of(cell)) for cell in range(lattice.cells_count)]
    assert shapely.is_ccw(rings).all()


def assert_adds_up(lattice, element):
    found = quantities_of(element)
    assert lattice.volume_m3.sum() == pytest.approx(found.volume_m3, rel=1e-9)
    assert lattice.top_area_m2.sum() == pytest.approx(found.top_area_m2, rel=1e-9, abs=1e-12)
    assert lattice.formed_area_m2.sum() == pytest.approx(found.formed_area_m2, rel=1e-9)


@pytest.mark.parametrize("element", EVERY_SHAPE, ids=lambda element: f"{element.shape}-{element.id}")
@pytest.mark.parametrize(("cell", "layer"), [(1.0, 500), (0.37, 140), (50.0, 3000)])
def test_cells_add_up_to_the_take_off_of_every_shape(element, cell, layer):
    lattice = lattice_of([element], cell_size_m=cell, layer_mm=layer)
    assert_sound(lattice)
    assert_adds_up(lattice, element)


def test_neighbours_of_a_block_of_3_by_2_by_2():
    """Written down by hand: cell = 6 × layer + 2 × i + j."""
    block = MassBlock(shape="mass-block", id="b", at_m=(5.0, 7.0), base_level_m=2.0, length_m=3, width_m=2, depth_m=1)
    lattice = lattice_of([block], cell_size_m=1.0, layer_mm=500)
    assert lattice.cells_count == 12
    assert lattice.layer.tolist() == [0] * 6 + [1] * 6
    assert lattice.i.tolist() == [0, 0, 1, 1, 2, 2] * 2
    assert lattice.j.tolist() == [0, 1] * 6
    below = {(0, 1), (2, 3), (4, 5), (0, 2), (2, 4), (1, 3), (3, 5)}
    above = {(a + 6, b + 6) for a, b in below}
    assert areas_by_pair(lattice.lateral_pair, lattice.lateral_area_m2) == pytest.approx(
        dict.fromkeys(below | above, 0.5)
    )
    assert areas_by_pair(lattice.vertical_pair, lattice.vertical_area_m2) == pytest.approx(
        {(cell, cell + 6): 1.0 for cell in range(6)}
    )
    assert (lattice.x_m[3], lattice.y_m[3], lattice.z_m[3]) == pytest.approx((6.5, 8.5, 2.25))
    assert lattice.top_area_m2.tolist() == pytest.approx([0.0] * 6 + [1.0] * 6)
    corner_and_edge = {0: 1.0, 2: 0.5}
    assert {cell: lattice.formed_area_m2[cell] for cell in corner_and_edge} == pytest.approx(corner_and_edge)


LENGTH = st.floats(1.0, 12.0)
SHARE = st.one_of(st.sampled_from([0.0, 1.0]), st.floats(0.001, 0.999))
"""Exactly on an edge or a visible way from it; what lies within a hair has its own test."""


@st.composite
def slabs(draw):
    length, width = draw(LENGTH), draw(LENGTH)
    openings, thickenings = [], []
    if draw(st.booleans()):
        long, wide = draw(st.floats(0.02, 0.6)) * length, draw(st.floats(0.02, 0.6)) * width
        at = (draw(SHARE) * (length - long), draw(SHARE) * (width - wide))
        openings.append(PlanOpening(id="o", at_m=at, length_m=long, width_m=wide))
    if draw(st.booleans()):
        x, y = draw(st.floats(0, 0.6)) * length, draw(st.floats(0, 0.6)) * width
        corners = ((x, y), (x + 0.3 * length, y), (x + 0.4 * length, y + 0.4 * width), (x, y + 0.2 * width))
        thickenings.append(Thickening(id="t", outline_m=corners, extra_depth_mm=draw(st.floats(10, 800))))
    sizes = {"length_m": length, "width_m": width}
    if draw(st.booleans()):
        # A corner cut off at a slant, where no opening lies by construction of the cut.
        cut = draw(st.floats(0.01, 0.99))
        if not openings and not thickenings:
            sizes = {
                "outline_m": ((0.0, 0.0), (length, 0.0), (length, cut * width), (cut * length, width), (0.0, width))
            }
    return Slab(
        shape="slab",
        id="s",
        at_m=(draw(st.floats(-500, 500)), draw(st.floats(-500, 500))),
        turn_deg=draw(st.sampled_from([0.0, 90.0, 37.0, -121.3])),
        thickness_mm=draw(st.floats(80, 1500)),
        support=draw(st.sampled_from(["ground", "falsework"])),
        opening=tuple(openings),
        thickening=tuple(thickenings),
        **sizes,
    )


@settings(max_examples=40, deadline=None)
@given(slab=slabs(), cell=st.floats(1.0, 6.0), layer=st.floats(300, 900))
def test_a_slab_keeps_volume_and_faces_whatever_its_cells(slab, cell, layer):
    assert geometry_problems([slab]) == ()
    lattice = lattice_of([slab], cell_size_m=cell, layer_mm=layer)
    assert_sound(lattice)
    assert_adds_up(lattice, slab)
    assert_every_cut_is_shared(lattice, slab)
    columns = {cell: (lattice.i[cell], lattice.j[cell]) for cell in range(lattice.cells_count)}
    assert all(columns[low] == columns[high] for low, high in lattice.vertical_pair.tolist())
    areas = lattice.plan_area_m2[lattice.vertical_pair[:, 0]]
    np.testing.assert_allclose(lattice.vertical_area_m2, areas, rtol=1e-12)


def assert_every_cut_is_shared(lattice, slab):
    """Conservation: what the cells' edges have more than the slab's own edge is shared by two, in the upper layers."""
    highest = lattice.layer == lattice.layers_count - 1
    polygons = polygons_of(lattice)[highest]
    whole = quantities_of(slab)
    edge = next(part.value for part in whole.parts if part.step == "edges and reveals") / (slab.thickness_mm / 1000)
    cuts = (shapely.length(polygons).sum() - edge) / 2
    deep = slab.thickness_mm / 1000 / int(lattice.layers_count[0])
    inside = highest[lattice.lateral_pair].all(axis=1)
    shared = lattice.lateral_area_m2[inside].sum()
    thickened = slab.thickening and int(lattice.layers_count[0]) == 1
    if thickened:
        assert shared >= cuts * deep * (1 - 1e-6) - 1e-6
    else:
        assert shared == pytest.approx(cuts * deep, rel=1e-6, abs=1e-5)


@settings(max_examples=30, deadline=None)
@given(slab=slabs().filter(lambda slab: slab.turn_deg == 0 and not slab.thickening), cell=st.floats(1.0, 4.0))
def test_each_lateral_face_is_the_common_edge_by_the_thickness(slab, cell):
    """Second way: two polygons lose twice their common edge when they are joined."""
    lattice = lattice_of([slab], cell_size_m=cell, layer_mm=2000)
    polygons = polygons_of(lattice)
    for (a, b), area in zip(lattice.lateral_pair.tolist()[:40], lattice.lateral_area_m2[:40], strict=True):
        joined = shapely.union(polygons[a], polygons[b], grid_size=1e-9)
        common = (polygons[a].length + polygons[b].length - joined.length) / 2
        assert area == pytest.approx(common * slab.thickness_mm / 1000, rel=1e-6, abs=1e-6)


@st.composite
def walls(draw):
    length, height = draw(st.floats(1, 8)), draw(st.floats(0.5, 5))
    openings = []
    for left, right in ((0.0, 0.45), (0.5, 1.0)):
        if draw(st.booleans()):
            long, tall = draw(st.floats(0.02, 0.44)) * length, draw(st.floats(0.02, 0.95)) * height
            start = left * length + draw(SHARE) * ((right - left) * length - long)
            sill = draw(st.sampled_from([0.0, 0.5, 1.0])) * (height - tall)
            openings.append(
                WallOpening(id=str(left), from_start_m=start, width_m=long, height_m=tall, sill_above_base_m=sill)
            )
    return Wall(
        shape="wall",
        id="w",
        at_m=(3.0, 4.0),
        turn_deg=draw(st.sampled_from([0.0, 55.5])),
        length_m=length,
        height_m=height,
        thickness_mm=draw(st.floats(100, 900)),
        opening=tuple(openings),
    )


@settings(max_examples=40, deadline=None)
@given(wall=walls(), cell=st.floats(0.7, 4.0), layer=st.floats(300, 1000))
def test_a_wall_keeps_volume_and_faces_round_its_openings(wall, cell, layer):
    assert geometry_problems([wall]) == ()
    lattice = lattice_of([wall], cell_size_m=cell, layer_mm=layer)
    assert_sound(lattice)
    assert_adds_up(lattice, wall)
    thick = wall.thickness_mm / 1000
    polygons = polygons_of(lattice)
    # Rounded, so that a sum of two floats leaves no skin in this second way of measuring either.
    holes = [
        shapely.box(
            *np.round(
                [o.from_start_m, o.sill_above_base_m, o.from_start_m + o.width_m, o.sill_above_base_m + o.height_m], 9
            )
        )
        for o in wall.opening
    ]
    for hole in holes:
        assert shapely.area(shapely.intersection(polygons, hole)).max() < 1e-7
    whole = shapely.box(0, 0, round(wall.length_m, 9), round(wall.height_m, 9))
    face = shapely.difference(whole, shapely.union_all(holes))
    cuts = (shapely.length(polygons).sum() - face.length) / 2
    shared = lattice.lateral_area_m2.sum() + lattice.vertical_area_m2.sum()
    assert shared == pytest.approx(cuts * thick, rel=1e-6, abs=1e-5)
    assert (lattice.z_m[lattice.vertical_pair[:, 0]] < lattice.z_m[lattice.vertical_pair[:, 1]]).all()


def test_a_cell_inside_an_opening_does_not_exist_and_nothing_touches_across_it():
    hole = WallOpening(id="o", from_start_m=1.0, width_m=1.0, height_m=1.0, sill_above_base_m=1.0)
    wall = Wall(shape="wall", id="w", length_m=3.0, height_m=3.0, thickness_mm=200, opening=(hole,))
    lattice = lattice_of([wall], cell_size_m=1.0, layer_mm=1000)
    at = {(int(i), int(layer)): cell for cell, (i, layer) in enumerate(zip(lattice.i, lattice.layer, strict=True))}
    assert set(at) == {(i, layer) for i in range(3) for layer in range(3)} - {(1, 1)}
    pairs = {tuple(pair) for pair in lattice.vertical_pair.tolist()}
    assert pairs == {(at[i, layer], at[i, layer + 1]) for i in (0, 2) for layer in (0, 1)}
    assert lattice.vertical_area_m2.tolist() == pytest.approx([0.2] * 4)
    assert len(lattice.lateral_pair) == 4


def test_a_narrow_opening_cuts_a_square_into_two_cells_that_do_not_touch():
    slit = WallOpening(id="o", from_start_m=0.4, width_m=0.2, height_m=1.0)
    wall = Wall(shape="wall", id="w", length_m=1.0, height_m=2.0, thickness_mm=200, opening=(slit,))
    lattice = lattice_of([wall], cell_size_m=1.0, layer_mm=1000)
    assert lattice.volume_m3.tolist() == pytest.approx([0.08, 0.08, 0.2])
    assert len(lattice.lateral_pair) == 0
    assert areas_by_pair(lattice.vertical_pair, lattice.vertical_area_m2) == pytest.approx({(0, 2): 0.08, (1, 2): 0.08})


def test_a_sliver_joins_its_neighbour():
    """An opening 2 mm from the grid line would leave a strip of 0.2 % of a square."""
    hole = PlanOpening(id="o", at_m=(1.002, 0.0), length_m=1.998, width_m=1.0)
    slab = Slab(shape="slab", id="s", length_m=4.0, width_m=2.0, thickness_mm=200, opening=(hole,))
    lattice = lattice_of([slab], cell_size_m=1.0, layer_mm=500)
    assert lattice.cells_count == 6
    assert lattice.volume_m3.min() > 0.01 * 0.2
    assert_adds_up(lattice, slab)


@pytest.mark.parametrize("hair", [1e-213, 1e-12, 9e-7])
def test_an_opening_a_hair_from_the_edge_leaves_no_skin_of_concrete(hair):
    hole = PlanOpening(id="o", at_m=(hair, 1.0), length_m=1.0, width_m=1.0 - hair)
    slab = Slab(shape="slab", id="s", length_m=4.0, width_m=2.0, thickness_mm=200, opening=(hole,))
    lattice = lattice_of([slab], cell_size_m=1.0, layer_mm=500)
    assert lattice.cells_count == 7
    assert_adds_up(lattice, slab)
    door = WallOpening(id="o", from_start_m=hair, width_m=1.0, height_m=2.0, sill_above_base_m=hair)
    wall = Wall(shape="wall", id="w", length_m=4.0, height_m=3.0, thickness_mm=200, opening=(door,))
    lattice = lattice_of([wall], cell_size_m=1.0, layer_mm=1000)
    assert lattice.cells_count == 10
    assert_adds_up(lattice, wall)


def test_an_opening_within_one_square_leaves_cells_without_holes():
    slab = Slab(
        shape="slab",
        id="s",
        length_m=2.0,
        width_m=2.0,
        thickness_mm=200,
        opening=(PlanOpening(id="o", at_m=(0.5, 0.5), length_m=0.6, width_m=0.8),),
    )
    lattice = lattice_of([slab], cell_size_m=2.0, layer_mm=500)
    assert lattice.cells_count == 2
    assert lattice.lateral_area_m2.tolist() == pytest.approx([1.2 * 0.2])
    assert_adds_up(lattice, slab)


def test_a_thickening_deepens_the_cells_above_it_and_the_face_between_them():
    beam = Thickening(id="t", outline_m=((0.0, 0.25), (4.0, 0.25), (4.0, 0.75), (0.0, 0.75)), extra_depth_mm=400)
    slab = Slab(shape="slab", id="s", length_m=4.0, width_m=1.0, thickness_mm=200, thickening=(beam,))
    lattice = lattice_of([slab], cell_size_m=1.0, layer_mm=500)
    assert lattice.volume_m3.tolist() == pytest.approx([0.2 + 0.5 * 0.4] * 4)
    assert lattice.lateral_area_m2.tolist() == pytest.approx([0.2 + 0.5 * 0.4] * 3)


def test_a_thickening_beginning_at_the_cut_is_no_shared_face():
    pad = Thickening(id="t", outline_m=((1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0)), extra_depth_mm=400)
    slab = Slab(shape="slab", id="s", length_m=2.0, width_m=1.0, thickness_mm=200, thickening=(pad,))
    lattice = lattice_of([slab], cell_size_m=1.0, layer_mm=500)
    assert lattice.volume_m3.tolist() == pytest.approx([0.2, 0.6])
    assert lattice.lateral_area_m2.tolist() == pytest.approx([0.2])


def test_measured_sub_base_thickens_the_cells_downward():
    ground = GroundSlab(
        shape="ground-slab",
        id="g",
        length_m=2.0,
        width_m=1.0,
        thickness_mm=150,
        base_level_m=10.0,
        measured_thicknesses_mm=(160, 170),
    )
    lattice = lattice_of([ground], cell_size_m=1.0, layer_mm=500)
    assert lattice.thickness_m.tolist() == pytest.approx([0.165] * 2)
    assert lattice.z_m.tolist() == pytest.approx([10.15 - 0.165 / 2] * 2)


@pytest.mark.parametrize("element", [shapes.SLAB, shapes.WALL, shapes.BLOCK, shapes.FOOTING], ids=lambda e: e.shape)
def test_finer_cells_hold_the_same_concrete(element):
    sizes = [(2.0, 600), (1.0, 300), (0.5, 150)]
    volumes = [lattice_of([element], cell_size_m=c, layer_mm=t).volume_m3.sum() for c, t in sizes]
    counts = [lattice_of([element], cell_size_m=c, layer_mm=t).cells_count for c, t in sizes]
    assert volumes == pytest.approx([volumes[0]] * 3, rel=1e-12)
    assert counts == sorted(set(counts))


# --- elements that touch ---


def bay(name, x, y=0.0, turn=0.0, **more):
    sizes = {"length_m": 12.0, "width_m": 24.0, "thickness_mm": 250.0} | more
    return Slab(shape="slab", id=name, at_m=(x, y), turn_deg=turn, **sizes)


def across(lattice, pairs, areas):
    """Pairs of cells of two elements."""
    chosen = lattice.element[pairs[:, 0]] != lattice.element[pairs[:, 1]]
    return pairs[chosen], areas[chosen]


@pytest.mark.parametrize("turn", [0.0, 31.0, 180.0])
def test_bays_side_by_side_share_their_whole_side(turn):
    step = 12 * np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
    bays = [bay(str(k), *(k * step), turn) for k in range(3)]
    lattice = lattice_of(bays, cell_size_m=2.0, layer_mm=500)
    assert_sound(lattice)
    pairs, areas = across(lattice, lattice.lateral_pair, lattice.lateral_area_m2)
    assert len(pairs) == 2 * 12
    assert areas.sum() == pytest.approx(2 * 24 * 0.25)
    rows = lattice.j[pairs]
    assert (rows[:, 0] == rows[:, 1]).all()
    stop_ends = 2 * 2 * 24 * 0.25
    alone = sum(quantities_of(one).formed_area_m2 for one in bays)
    assert lattice.formed_area_m2.sum() == pytest.approx(alone - stop_ends)
    assert lattice.volume_m3.sum() == pytest.approx(216.0, rel=1e-12)


def test_bays_with_other_squares_share_what_overlaps():
    lattice = lattice_of([bay("a", 0.0), bay("b", 12.0, width_m=20.0)], cell_size_m=7.0, layer_mm=500)
    _, areas = across(lattice, lattice.lateral_pair, lattice.lateral_area_m2)
    # Squares of 8 m against squares of 6.667 m: cuts at 6.667, 8, 13.333, 16 of 20 m.
    assert sorted(areas) == pytest.approx(sorted(0.25 * w for w in (20 / 3, 4 / 3, 16 / 3, 8 / 3, 4.0)))


def test_bays_at_other_levels_share_only_the_common_height():
    lattice = lattice_of([bay("a", 0.0), bay("b", 12.0, base_level_m=0.15)], cell_size_m=24.0, layer_mm=500)
    _, areas = across(lattice, lattice.lateral_pair, lattice.lateral_area_m2)
    assert areas.tolist() == pytest.approx([24 * 0.10])


def test_bays_that_meet_at_a_corner_or_stand_apart_share_nothing():
    for other in (bay("b", 12.0, 24.0), bay("b", 12.002)):
        lattice = lattice_of([bay("a", 0.0), other], cell_size_m=6.0, layer_mm=500)
        assert len(across(lattice, lattice.lateral_pair, lattice.lateral_area_m2)[0]) == 0


def panel(name, x, y=0.0, turn=0.0, **more):
    sizes = {"length_m": 10.0, "height_m": 4.2, "thickness_mm": 350.0} | more
    return Wall(shape="wall", id=name, at_m=(x, y), turn_deg=turn, **sizes)


def test_wall_panels_end_to_end_share_their_ends():
    lattice = lattice_of([panel("1", 0.0), panel("2", 10.0), panel("3", 20.0)], cell_size_m=1.0, layer_mm=500)
    assert_sound(lattice)
    pairs, areas = across(lattice, lattice.lateral_pair, lattice.lateral_area_m2)
    assert len(pairs) == 2 * 9
    assert areas.sum() == pytest.approx(2 * 4.2 * 0.35)
    assert (lattice.layer[pairs[:, 0]] == lattice.layer[pairs[:, 1]]).all()
    assert [view.title for view in lattice.views] == ["Front elevation of 1, 2, 3"]


def test_a_wall_that_runs_into_the_side_of_another_shares_its_end_face():
    across_wall = panel("2", 5.0, -3.0, 90.0, length_m=3.0)
    lattice = lattice_of([panel("1", 0.0), across_wall], cell_size_m=1.0, layer_mm=500)
    _, areas = across(lattice, lattice.lateral_pair, lattice.lateral_area_m2)
    assert areas.sum() == pytest.approx(4.2 * 0.35)


def test_a_wall_stands_on_its_strip_footing():
    strip = StripFooting(shape="strip-footing", id="f", at_m=(0.0, -0.125), length_m=10.0, width_m=0.6, depth_mm=350)
    lattice = lattice_of([panel("w", 0.0, base_level_m=0.35), strip], cell_size_m=1.0, layer_mm=500)
    assert_sound(lattice)
    pairs, areas = across(lattice, lattice.vertical_pair, lattice.vertical_area_m2)
    assert areas.sum() == pytest.approx(3.5)
    assert set(lattice.element[pairs[:, 0]]) == {1} and set(lattice.element[pairs[:, 1]]) == {0}
    assert lattice.top_area_m2[lattice.element == 1].sum() == pytest.approx(6.0 - 3.5)


def test_a_slab_lies_on_beam_drop_panel_and_column_and_carries_a_kerb():
    low = {"base_level_m": 3.0 - 0.45}
    elements = [
        bay("slab", 0.0, base_level_m=3.0),
        Beam(shape="beam", id="beam", at_m=(0.0, 4.0), length_m=12.0, width_m=0.4, depth_mm=450, **low),
        DropPanel(
            shape="drop-panel",
            id="drop",
            at_m=(6.0, 12.0),
            base_level_m=2.85,
            drop_length_m=2.0,
            drop_breadth_m=2.0,
            drop_depth_m=0.15,
        ),
        Column(shape="column", id="col", at_m=(6.0, 12.0), height_m=2.85, section="circular", diameter_m=0.5),
        Kerb(shape="kerb", id="kerb", at_m=(0.0, 0.0), base_level_m=3.25, length_m=12.0, width_m=0.2, height_m=0.3),
    ]
    assert geometry_problems(elements) == ()
    lattice = lattice_of(elements, cell_size_m=1.5, layer_mm=600)
    assert_sound(lattice)
    pairs, areas = across(lattice, lattice.vertical_pair, lattice.vertical_area_m2)
    by_elements = Counter()
    for (a, b), area in zip(lattice.element[pairs].tolist(), areas, strict=True):
        by_elements[lattice.element_ids[a], lattice.element_ids[b]] += area
    assert dict(by_elements) == pytest.approx(
        {
            ("beam", "slab"): 4.8,
            ("drop", "slab"): 4.0,
            ("col", "drop"): math.pi * 0.25**2,
            ("slab", "kerb"): 2.4,
        }
    )
    slab = lattice.element == 0
    assert lattice.top_area_m2[slab].sum() == pytest.approx(288 - 2.4)
    assert lattice.formed_area_m2[slab].sum() == pytest.approx(288 + 72 * 0.25 - 4.8 - 4.0)


def test_several_identical_elements_are_one_cell_each_and_touch_nothing():
    several = Column(
        shape="column", id="c", at_m=(0.0, 0.0), height_m=3.0, section="circular", diameter_m=0.4, count=12
    )
    lattice = lattice_of([several, bay("a", 0.0)], cell_size_m=3.0, layer_mm=500)
    own = lattice.element == 0
    assert own.sum() == 12
    assert lattice.volume_m3[own].tolist() == pytest.approx([math.pi * 0.04 * 3.0] * 12)
    assert not own[lattice.lateral_pair].any() and not own[lattice.vertical_pair].any()


def test_an_element_without_a_place_has_no_neighbour_in_another():
    loose = Slab(shape="slab", id="l", length_m=12.0, width_m=24.0, thickness_mm=250)
    lattice = lattice_of([loose, bay("a", 12.0)], cell_size_m=3.0, layer_mm=500)
    assert len(across(lattice, lattice.lateral_pair, lattice.lateral_area_m2)[0]) == 0


def test_a_slab_over_another_is_drawn_in_a_plan_of_its_own():
    lattice = lattice_of(
        [bay("low", 0.0), bay("high", 6.0, base_level_m=3.0), bay("beside", 12.0)], cell_size_m=3.0, layer_mm=500
    )
    assert [view.title for view in lattice.views] == ["Plan of low, beside", "Plan of high"]


# --- refusals ---


def test_more_than_100000_cells_are_refused_by_the_key_to_change():
    with pytest.raises(InvalidInput, match="100,000") as refused:
        lattice_of([bay("a", 0.0)], cell_size_m=0.01, layer_mm=500)
    assert refused.value.key == "cell_size_m"


@pytest.mark.parametrize(
    ("cell", "layer", "key"), [(0.0, 500, "cell_size_m"), (math.nan, 500, "cell_size_m"), (1.0, -1, "layer_mm")]
)
def test_sizes_that_are_no_sizes_are_refused(cell, layer, key):
    with pytest.raises(InvalidInput) as refused:
        lattice_of([bay("a", 0.0)], cell_size_m=cell, layer_mm=layer)
    assert refused.value.key == key


def test_no_element_is_refused():
    with pytest.raises(InvalidInput):
        lattice_of([], cell_size_m=1.0, layer_mm=500)
