"""The placing order: a permutation of the lattice's cells from a few human choices, and names for its edges.

Own rules, from the trade's practice: elements one after the other; within one, strips side by side, each from the same
end (or turning at the end); layers whole over the element, or as a stepped front along each strip.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.placing.model import Cells, Joints
from wetfront.takeoff.lattice import Lattice

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

Corner = Literal["low-x low-y", "low-x high-y", "high-x low-y", "high-x high-y"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceChoices:
    """What the site decides about the order. Directions are those of the site's x and y."""

    start_corner: Corner
    strips_along: Literal["x", "y"] = "x"
    strip_width_m: float | None = None
    """None: the whole width is one strip."""
    layers: Literal["whole", "stepped"] = "whole"
    step_length_m: float = 3.0
    """How far each layer stays behind the one below, for `stepped`."""
    element_order: tuple[str, ...] = ()
    """Ids of all elements; empty: as the lattice has them."""
    turns_at_the_end: bool = False
    """Every second strip runs back, instead of all from the same end."""


@dataclass(frozen=True, slots=True)
class PlacingOrder:
    """Columns by position in placing order."""

    lattice_cell: Ints
    strip: Ints
    """Index into `strip_names`: the strip of an element, numbered in the order of placing."""
    strip_names: tuple[str, ...]
    row: Ints
    """Cells side by side across a strip have one number: concrete runs out over the strip's whole width."""


@dataclass(frozen=True, slots=True)
class PourParts:
    """What the simulator needs to know about the concrete's place."""

    cells: Cells
    joints: Joints
    finished_strip_names: tuple[str, ...]
    finished_strip_area_m2: Floats
    panel_names: tuple[str, ...]


def placing_order(lattice: Lattice, choices: SequenceChoices) -> PlacingOrder:
    """The cells in placing order. Errors: an element unknown, missing or named twice; a width or step of no length."""
    ids = choices.element_order or lattice.element_ids
    if sorted(ids) != sorted(lattice.element_ids):
        raise InvalidInput("element_order", f"element_order must name each of {', '.join(lattice.element_ids)} once")
    if choices.strip_width_m is not None and not choices.strip_width_m > 0:
        raise InvalidInput("strip_width_m", f"strip_width_m is {choices.strip_width_m:g}; must be over 0")
    if not choices.step_length_m > 0:
        raise InvalidInput("step_length_m", f"step_length_m is {choices.step_length_m:g}; must be over 0")
    cells: list[Ints] = []
    strips: list[Ints] = []
    rows: list[Ints] = []
    names: list[str] = []
    for element_id in ids:
        of_element = np.flatnonzero(lattice.element == lattice.element_ids.index(element_id))
        order, strip, along = _order_in_element(lattice, of_element, choices)
        cells.append(of_element[order])
        strips.append(strip[order] + len(names))
        place = np.column_stack([lattice.layer[of_element], strip, along])[order]
        rows.append(np.concatenate([[1], np.any(np.diff(place, axis=0) != 0, axis=1)]))
        names += _strip_names(element_id, int(strip.max()) + 1)
    row = np.cumsum(np.concatenate(rows)).astype(np.int64) - 1
    return PlacingOrder(np.concatenate(cells), np.concatenate(strips), tuple(names), row)


def placing_order_by_keys(lattice: Lattice, keys: Sequence[NDArray[np.generic]], strip: Ints) -> PlacingOrder:
    """The cells ranked by the first key, ties by the next; `strip` numbers each cell's strip. For any other order."""
    if any(len(column) != lattice.cells_count for column in (*keys, strip)):
        raise InvalidInput("keys", f"each key needs a value for each of {lattice.cells_count} cells")
    order = np.lexsort(tuple(reversed(keys)))
    names = tuple(f"strip {number + 1}" for number in range(int(strip.max()) + 1))
    return PlacingOrder(order, strip[order], names, np.arange(len(order)))


def _strip_names(element_id: str, count: int) -> list[str]:
    if count == 1:
        return [element_id]
    between = "" if len(element_id) == 1 else " "
    return [f"{element_id}{between}{number + 1}" for number in range(count)]


def _order_in_element(lattice: Lattice, cells: Ints, choices: SequenceChoices) -> tuple[Ints, Ints, Ints]:
    """Rank of the cells of one element, the strip of each, and how far along it each is."""
    axis_i, axis_j = _grid_axes(lattice, cells)
    x_is = 0 if choices.strips_along == "x" else 1
    along_is_i = abs(axis_i[x_is]) * np.hypot(*axis_j) >= abs(axis_j[x_is]) * np.hypot(*axis_i)
    steps = [
        _from_start(lattice.i[cells], axis_i, choices.start_corner),
        _from_start(lattice.j[cells], axis_j, choices.start_corner),
    ]
    pitches = [float(np.hypot(*axis_i)), float(np.hypot(*axis_j))]
    (along, across), (pitch_along, pitch_across) = (steps, pitches) if along_is_i else (steps[::-1], pitches[::-1])
    strip = np.zeros(len(cells), dtype=np.int64)
    if choices.strip_width_m is not None and pitch_across > 0:
        strip = _dense(np.floor((across + 0.5) * pitch_across / choices.strip_width_m))
    if choices.turns_at_the_end:
        along = np.where(strip % 2 == 1, along.max() - along, along)
    layer = lattice.layer[cells]
    if choices.layers == "whole":
        keys: tuple[Ints, ...] = (layer, strip, along, across)
    else:
        behind = max(1, round(choices.step_length_m / pitch_along)) if pitch_along > 0 else 1
        keys = (strip, along + behind * layer, layer, along, across)
    return np.lexsort(tuple(reversed(keys))), strip, along


def _grid_axes(lattice: Lattice, cells: Ints) -> tuple[Floats, Floats]:
    """Site vector of one grid step along and across the element, by least squares; zero where there is only one.

    Cells cut by an outline have their centres off the grid; the fit evens that out.
    """
    i, j = lattice.i[cells].astype(np.float64), lattice.j[cells].astype(np.float64)
    steps = np.column_stack([i - i.mean(), j - j.mean()])
    places = np.column_stack([lattice.x_m[cells], lattice.y_m[cells]])
    vectors = np.linalg.lstsq(steps, places - places.mean(axis=0), rcond=None)[0]
    return vectors[0], vectors[1]


def _from_start(step: Ints, axis: Floats, corner: Corner) -> Ints:
    """Grid steps counted from the side of the start corner."""
    x_side, y_side = corner.split(" ")
    side, runs = (x_side, axis[0]) if abs(axis[0]) >= abs(axis[1]) else (y_side, axis[1])
    from_low = (runs >= 0) == side.startswith("low")
    steps: Ints = step - step.min() if from_low else step.max() - step
    return steps


def _dense(values: Floats) -> Ints:
    """The same order with numbers 0, 1, 2 … without gaps."""
    rank: Ints = np.unique(values, return_inverse=True)[1].reshape(values.shape).astype(np.int64)
    return rank


def model_inputs_from_lattice(
    lattice: Lattice,
    order: PlacingOrder,
    *,
    rate_m3_per_h: Floats,
    move_min: float = 0.0,
    panel_elements: Collection[str] = (),
    finished_elements: Collection[str] = (),
) -> PourParts:
    """Cells and joints of the simulator in this order.

    `rate_m3_per_h` holds the rate of each element; `move_min` is the pause at each change of strip or element;
    `panel_elements` are those whose rise counts (walls, columns); of `finished_elements` the open top is finished.
    """
    cell = order.lattice_cell
    element = lattice.element[cell]
    changes = np.flatnonzero(np.diff(order.strip)) + 1
    move = np.zeros(len(cell))
    move[changes] = move_min
    panel_names = tuple(element_id for element_id in lattice.element_ids if element_id in panel_elements)
    panel_of_element = np.array([_place(panel_names, element_id) for element_id in lattice.element_ids])
    panel = panel_of_element[element]
    rise = _mean_rise(lattice)[cell]
    is_finished = np.array([element_id in finished_elements for element_id in lattice.element_ids])
    top = np.where(is_finished[element], lattice.top_area_m2[cell], 0.0)
    finished = np.unique(order.strip[top > 0])
    strip = np.where(top > 0, np.searchsorted(finished, order.strip), -1)
    cells = Cells(
        volume_m3=lattice.volume_m3[cell],
        rate_m3_per_h=rate_m3_per_h[element],
        strip=strip,
        move_min=move,
        panel=panel,
        rise_m=np.where(panel >= 0, rise, 0.0),
        lattice_cell=cell,
    )
    return PourParts(
        cells=cells,
        joints=joints_in_order(lattice, order),
        finished_strip_names=tuple(order.strip_names[number] for number in finished),
        finished_strip_area_m2=np.bincount(strip[top > 0], weights=top[top > 0], minlength=len(finished)).astype(
            np.float64
        ),
        panel_names=panel_names,
    )


def _mean_rise(lattice: Lattice) -> Floats:
    """How far each cell lifts the mean level in its element: its share of the layer's volume, times the layer's height.

    A layer beside an opening holds less and so rises faster at the same rate; all layers add up to the height.
    """
    layers = int(lattice.layer.max()) + 1
    of_layer = lattice.element * layers + lattice.layer
    height = np.zeros(len(lattice.element_ids) * layers)
    np.maximum.at(height, of_layer, lattice.thickness_m)
    volume = np.bincount(of_layer, weights=lattice.volume_m3, minlength=len(height))
    rise: Floats = lattice.volume_m3 / volume[of_layer] * height[of_layer]
    return rise


def _place(names: tuple[str, ...], name: str) -> int:
    return names.index(name) if name in names else -1


def joints_in_order(lattice: Lattice, order: PlacingOrder) -> Joints:
    """All touching pairs by position, the earlier first, sorted by edge; edges are named by strips, or by layers."""
    position = np.empty(lattice.cells_count, dtype=np.int64)
    position[order.lattice_cell] = np.arange(lattice.cells_count)
    pair = position[np.concatenate([lattice.lateral_pair, lattice.vertical_pair])]
    area = np.concatenate([lattice.lateral_area_m2, lattice.vertical_area_m2])
    first, later = pair.min(axis=1), pair.max(axis=1)
    layer = lattice.layer[order.lattice_cell]
    element = lattice.element[order.lattice_cell]
    is_vertical = np.arange(len(pair)) >= len(lattice.lateral_pair)
    # An edge is (kind, from, to): strips for faces side by side, element and layers for faces one on the other.
    on_layer = is_vertical & (element[first] == element[later])
    kind = np.where(on_layer, 1, 0)
    from_label = np.where(on_layer, element[first], order.strip[first])
    to_label = np.where(on_layer, np.minimum(layer[first], layer[later]), order.strip[later])
    labels = np.column_stack([kind, from_label, to_label])
    edges, edge = np.unique(labels, axis=0, return_inverse=True)
    edge = edge.reshape(-1).astype(np.int64)
    by_edge = np.argsort(edge, kind="stable")
    return Joints(
        first=first[by_edge],
        later=later[by_edge],
        area_m2=area[by_edge],
        edge=edge[by_edge],
        edge_names=tuple(_edge_name(lattice, order, *row) for row in edges.tolist()),
    )


def _edge_name(lattice: Lattice, order: PlacingOrder, kind: int, start: int, to: int) -> str:
    if kind == 1:
        return f"{lattice.element_ids[start]} layer {to + 1} to {to + 2}"
    if start == to:
        return f"within {order.strip_names[start]}"
    return f"{order.strip_names[start]} to {order.strip_names[to]}"
