"""Placing orders made from human choices: what comes first, what the edges are called, nothing lost."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import workloads
from wetfront.errors import InvalidInput
from wetfront.nouns.element import PlanOpening, Slab, Wall, WallOpening
from wetfront.placing.sequence import (
    SequenceChoices,
    joints_in_order,
    model_inputs_from_lattice,
    placing_order,
    placing_order_by_keys,
)
from wetfront.takeoff.lattice import Lattice, View, lattice_of
from workloads import P1


def box(nx, ny, layers, *, side_m=1.0, thickness_m=0.25, ids=("A",), turn_deg=0.0):
    """Equal boxes side by side along x, one for each id, cut into a grid; neighbouring boxes touch."""
    element, i, j, layer = (
        grid.ravel() for grid in np.meshgrid(range(len(ids)), range(nx), range(ny), range(layers), indexing="ij")
    )
    order = np.lexsort((j, i, layer, element))
    element, i, j, layer = element[order], i[order], j[order], layer[order]
    turn = np.radians(turn_deg)
    u, v = (element * nx + i + 0.5) * side_m, (j + 0.5) * side_m
    cell_at = {place: cell for cell, place in enumerate(zip(element * nx + i, j, layer, strict=True))}
    beside = [
        (cell, cell_at[p + a, q + b, r])
        for (p, q, r), cell in cell_at.items()
        for a, b in ((1, 0), (0, 1))
        if (p + a, q + b, r) in cell_at
    ]
    above = [(cell, cell_at[p, q, r + 1]) for (p, q, r), cell in cell_at.items() if r + 1 < layers]
    count = len(i)
    return Lattice(
        element_ids=tuple(ids),
        element=element,
        volume_m3=np.full(count, side_m**2 * thickness_m),
        plan_area_m2=np.full(count, side_m**2),
        thickness_m=np.full(count, thickness_m),
        x_m=u * np.cos(turn) - v * np.sin(turn),
        y_m=u * np.sin(turn) + v * np.cos(turn),
        z_m=(layer + 0.5) * thickness_m,
        layer=layer,
        layers_count=np.full(count, layers),
        i=i,
        j=j,
        top_area_m2=np.where(layer == layers - 1, side_m**2, 0.0),
        formed_area_m2=np.zeros(count),
        lateral_pair=np.sort(np.array(beside, dtype=np.int64).reshape(-1, 2), axis=1),
        lateral_area_m2=np.full(len(beside), side_m * thickness_m),
        vertical_pair=np.array(above, dtype=np.int64).reshape(-1, 2),
        vertical_area_m2=np.full(len(above), side_m**2),
        views=(View("plan", "plan"),),
        view=np.zeros(count, dtype=np.int64),
        outline_uv_m=np.zeros((0, 2)),
        outline_start=np.zeros(count + 1, dtype=np.int64),
    )


def test_slab_goes_strip_by_strip_from_the_far_end():
    """Strips of 2 m along y from the high corner: first the high x, in it from high y to low y."""
    lattice = box(6, 4, 1)
    order = placing_order(lattice, SequenceChoices(start_corner="high-x high-y", strips_along="y", strip_width_m=2.0))
    places = [(lattice.x_m[cell], lattice.y_m[cell]) for cell in order.lattice_cell]
    assert places[:4] == [(5.5, 3.5), (4.5, 3.5), (5.5, 2.5), (4.5, 2.5)]
    assert places[8:10] == [(3.5, 3.5), (2.5, 3.5)]
    assert order.strip_names == ("A1", "A2", "A3")
    assert order.strip.tolist() == [0] * 8 + [1] * 8 + [2] * 8


def test_edges_are_named_by_the_strips_that_meet():
    lattice = box(6, 4, 1, ids=("C", "B"))
    choices = SequenceChoices(
        start_corner="high-x high-y", strips_along="y", strip_width_m=3.0, element_order=("B", "C")
    )
    joints = joints_in_order(lattice, placing_order(lattice, choices))
    assert sorted(joints.edge_names) == [
        "B1 to B2", "B2 to C1", "C1 to C2", "within B1", "within B2", "within C1", "within C2",
    ]  # fmt: skip
    between = np.bincount(joints.edge, weights=joints.area_m2)[joints.edge_names.index("B2 to C1")]
    assert between == pytest.approx(4 * 1.0 * 0.25)


def test_turning_strips_begin_where_the_last_one_ended():
    lattice = box(4, 4, 1)
    choices = SequenceChoices(start_corner="low-x low-y", strip_width_m=1.0, turns_at_the_end=True)
    cells = placing_order(lattice, choices).lattice_cell
    assert lattice.i[cells].tolist() == [0, 1, 2, 3, 3, 2, 1, 0, 0, 1, 2, 3, 3, 2, 1, 0]


def test_wall_goes_layer_by_layer_or_stepped():
    lattice = box(6, 1, 3)
    whole = placing_order(lattice, SequenceChoices(start_corner="low-x low-y"))
    assert lattice.layer[whole.lattice_cell].tolist() == [0] * 6 + [1] * 6 + [2] * 6
    stepped = placing_order(lattice, SequenceChoices(start_corner="low-x low-y", layers="stepped", step_length_m=2.0))
    place = list(zip(lattice.i[stepped.lattice_cell], lattice.layer[stepped.lattice_cell], strict=True))
    assert place[:7] == [(0, 0), (1, 0), (2, 0), (0, 1), (3, 0), (1, 1), (4, 0)]
    names = joints_in_order(lattice, whole).edge_names
    assert set(names) == {"within A", "A layer 1 to 2", "A layer 2 to 3"}


@given(
    turn=st.sampled_from([0, 20, 90, 160, 200, 270, 340]),
    corner=st.sampled_from(["low-x low-y", "low-x high-y", "high-x low-y", "high-x high-y"]),
    along=st.sampled_from(["x", "y"]),
    width=st.sampled_from([None, 1.0, 1.5, 2.0, 100.0]),
    layers=st.sampled_from(["whole", "stepped"]),
    turns=st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_every_order_is_a_permutation_that_starts_in_its_corner(turn, corner, along, width, layers, turns):
    lattice = box(5, 4, 2, ids=("A",), turn_deg=turn)
    choices = SequenceChoices(
        start_corner=corner, strips_along=along, strip_width_m=width, layers=layers, turns_at_the_end=turns
    )
    order = placing_order(lattice, choices)
    assert sorted(order.lattice_cell.tolist()) == list(range(lattice.cells_count))
    start = order.lattice_cell[0]
    signs = [1 if side.startswith("high") else -1 for side in corner.split(" ")]
    reach = signs[0] * lattice.x_m + signs[1] * lattice.y_m
    assert reach[start] >= reach.max() - 1e-9 or turn % 90 != 0
    # Nothing is placed on a layer that is not there yet.
    position = np.argsort(order.lattice_cell)
    assert (position[lattice.vertical_pair[:, 0]] < position[lattice.vertical_pair[:, 1]]).all()


def test_the_orders_of_the_benchmark_pour_can_be_chosen():
    """Whole layers and stepped front by choices, two halves by keys: the workload's own cells and joints."""
    lattice = box(P1.nx, P1.ny, P1.layers, thickness_m=P1.thickness_m)
    i, j, layer = lattice.i, lattice.j, lattice.layer
    chosen = {
        0: placing_order(lattice, SequenceChoices(start_corner="low-x low-y")),
        1: placing_order(lattice, SequenceChoices(start_corner="low-x low-y", layers="stepped", step_length_m=4.0)),
        2: placing_order_by_keys(lattice, (i // 15, layer, i, j), np.zeros_like(i)),
    }
    for number, order in chosen.items():
        x, y, expected_layer = workloads.placing_order(P1, number)
        cells = order.lattice_cell
        assert np.array_equal(np.stack([i, j, layer])[:, cells], np.stack([x, y, expected_layer]))
        joints, expected = joints_in_order(lattice, order), workloads.touching(P1, x, y, expected_layer)
        rows = [np.column_stack([pairs.first, pairs.later, pairs.area_m2]) for pairs in (joints, expected)]
        assert np.allclose(*(row[np.lexsort(row.T)] for row in rows), rtol=0, atol=1e-15)


def test_simulator_inputs_keep_volume_area_and_rise():
    lattice = box(6, 2, 4, ids=("A", "W"))
    order = placing_order(lattice, SequenceChoices(start_corner="low-x low-y", strip_width_m=1.0))
    parts = model_inputs_from_lattice(
        lattice,
        order,
        rate_m3_per_h=np.array([30.0, 8.0]),
        move_min=5.0,
        panel_elements={"W"},
        finished_elements={"A"},
    )
    assert parts.cells.volume_m3.sum() == pytest.approx(lattice.volume_m3.sum(), abs=1e-12)
    assert parts.panel_names == ("W",)
    assert parts.cells.rise_m[parts.cells.panel == 0].sum() == pytest.approx(4 * 0.25)
    assert parts.finished_strip_names == ("A1", "A2")
    assert parts.finished_strip_area_m2.tolist() == [6.0, 6.0]
    assert (parts.cells.strip >= 0).sum() == 12
    assert parts.cells.rate_m3_per_h[0] == 30.0
    assert parts.cells.rate_m3_per_h[-1] == 8.0
    # Two elements, each of four layers over two strips: 16 runs, 15 changes.
    assert parts.cells.move_min.sum() == 15 * 5.0


@pytest.mark.parametrize(
    ("key", "choice"),
    [
        ("element_order", {"element_order": ("A", "A")}),
        ("element_order", {"element_order": ("Z",)}),
        ("strip_width_m", {"strip_width_m": 0.0}),
        ("step_length_m", {"step_length_m": -1.0}),
    ],
)
def test_impossible_choices_are_refused_by_name(key, choice):
    with pytest.raises(InvalidInput) as refusal:
        placing_order(box(2, 2, 1), SequenceChoices(start_corner="low-x low-y", **choice))
    assert refusal.value.key == key


def bays():
    """Three bays of 12 × 24 m side by side, with a riser opening in the middle one."""
    opening = PlanOpening(id="riser", at_m=(4.0, 8.0), length_m=2.4, width_m=1.5)
    return tuple(
        Slab(
            shape="slab",
            id=name,
            at_m=(x, 0.0),
            length_m=12.0,
            width_m=24.0,
            thickness_mm=250,
            opening=(opening,) if name == "B" else (),
        )
        for name, x in (("A", 0.0), ("B", 12.0), ("C", 24.0))
    )


def test_three_bays_in_strips_from_the_far_end():
    """Strips of 4 × 24 m hold 24 m³ each, the opening's 0.9 m³ less in its own; each edge is 24 m × 0.25 m."""
    lattice = lattice_of(bays(), cell_size_m=2.0, layer_mm=500.0)
    choices = SequenceChoices(
        start_corner="high-x high-y", strips_along="y", strip_width_m=4.0, element_order=("C", "B", "A")
    )
    order = placing_order(lattice, choices)
    parts = model_inputs_from_lattice(lattice, order, rate_m3_per_h=np.full(3, 32.0), finished_elements={"A", "B", "C"})
    assert order.strip_names == ("C1", "C2", "C3", "B1", "B2", "B3", "A1", "A2", "A3")
    volumes = np.bincount(order.strip, weights=parts.cells.volume_m3)
    assert volumes.sum() == pytest.approx(215.1, abs=1e-9)
    assert np.allclose(volumes[[0, 1, 2, 3, 6, 7, 8]], 24.0)
    assert parts.finished_strip_area_m2.sum() == pytest.approx(860.4)
    area = np.bincount(parts.joints.edge, weights=parts.joints.area_m2)
    names = parts.joints.edge_names
    for edge in ("C1 to C2", "C2 to C3", "C3 to B1", "B3 to A1", "A1 to A2", "A2 to A3"):
        assert area[names.index(edge)] == pytest.approx(6.0), edge
    assert all(first in names for first in ("B1 to B2", "B2 to B3"))
    assert not any(name.startswith(("A", "B")) and name.endswith(("C1", "C2", "C3")) for name in names)


def test_a_wall_rises_by_its_height_whatever_its_openings():
    """Mean level: each layer lifts by its thickness, the one beside an opening just faster."""
    wall = Wall(
        shape="wall",
        id="panel 1",
        length_m=10.0,
        height_m=4.2,
        thickness_mm=350,
        opening=(WallOpening(id="door", from_start_m=3.0, width_m=1.2, height_m=2.1),),
    )
    lattice = lattice_of((wall,), cell_size_m=1.0, layer_mm=500.0)
    order = placing_order(lattice, SequenceChoices(start_corner="low-x low-y"))
    parts = model_inputs_from_lattice(lattice, order, rate_m3_per_h=np.array([7.6]), panel_elements={"panel 1"})
    assert parts.panel_names == ("panel 1",)
    assert parts.cells.rise_m.sum() == pytest.approx(4.2)
    assert parts.cells.volume_m3.sum() == pytest.approx(10 * 4.2 * 0.35 - 1.2 * 2.1 * 0.35)
    assert not len(parts.finished_strip_names)


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 90.0, 215.0])
def test_a_turned_slab_with_a_notch_has_strips_of_its_own_direction(turn_deg):
    """An L of 8 × 6 m without a corner of 4 × 3 m: strips of 2 m across its own grid, all of it in one of them."""
    notched = Slab(
        shape="slab",
        id="L",
        turn_deg=turn_deg,
        thickness_mm=200,
        outline_m=((0.0, 0.0), (8.0, 0.0), (8.0, 3.0), (4.0, 3.0), (4.0, 6.0), (0.0, 6.0)),
    )
    lattice = lattice_of((notched,), cell_size_m=1.0, layer_mm=500.0)
    along = "y" if turn_deg in (90.0,) else "x"
    order = placing_order(lattice, SequenceChoices(start_corner="low-x low-y", strips_along=along, strip_width_m=2.0))
    volumes = np.bincount(order.strip, weights=lattice.volume_m3[order.lattice_cell])
    assert volumes.sum() == pytest.approx(36 * 0.2)
    # Along the long side: 2 m × 8 m, then 1 m × 8 m and 1 m × 4 m, then 2 m × 4 m; from the other side reversed.
    assert sorted(np.round(volumes, 6).tolist()) == [1.6, 2.4, 3.2]
