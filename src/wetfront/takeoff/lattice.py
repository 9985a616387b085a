"""The lattice: a pour cut into placing cells, as flat arrays for the simulator and for pictures."""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.nouns.element import Column, DropPanel, Element, Stair, TaperedFooting, Wall
from wetfront.takeoff.bodies import cut_element, rise_m
from wetfront.takeoff.cutting import Cut, copies_of, grid_counts, layers_needed
from wetfront.takeoff.geometry import footprint, points_on_site
from wetfront.takeoff.joining import Joins, join_elements
from wetfront.takeoff.views import View, arrange

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


CELLS_LIMIT = 100_000


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """n placing cells of m elements; p lateral and q vertical pairs of touching cells.

    Cells stand sorted by element, then layer from below, then i, then j. `volume_m3 == plan_area_m2 * thickness_m`
    holds for every cell. The cells of an element add up to its take-off volume.
    Where an opening cuts a grid square in two, the parts are cells of their own with the same (i, j, layer).
    """

    element_ids: tuple[str, ...]
    """(m) in the order in which the elements were given."""
    element: Ints
    """(n) index into `element_ids`."""
    volume_m3: Floats
    """(n)"""
    plan_area_m2: Floats
    """(n) mean horizontal section; for slabs the plan area."""
    thickness_m: Floats
    """(n) height of the cell; its mean where the underside is not level."""
    x_m: Floats
    """(n) centre, site coordinates."""
    y_m: Floats
    z_m: Floats
    """(n) level of the middle of the cell."""
    layer: Ints
    """(n) layer from below, the lowest is 0."""
    layers_count: Ints
    """(n) layers of the cell's element."""
    i: Ints
    """(n) grid place along the element's own length, from 0."""
    j: Ints
    """(n) grid place across the element's own width, from 0."""
    top_area_m2: Floats
    """(n) upper face that stays open when all is placed: dries, is finished."""
    formed_area_m2: Floats
    """(n) faces against a form or falsework; faces shared with another element of the lattice are not formed."""
    lateral_pair: Ints
    """(p, 2) cells side by side, lower index first, each pair once, across element borders too."""
    lateral_area_m2: Floats
    """(p) the face that they share."""
    vertical_pair: Ints
    """(q, 2) (lower cell, upper cell)."""
    vertical_area_m2: Floats
    """(q) the horizontal face that they share."""
    views: tuple[View, ...]
    view: Ints
    """(n) index into `views`: the plane in which the cell is drawn."""
    outline_uv_m: Floats
    """(corners, 2) polygons of all cells one after the other in their view's plane, anticlockwise, not closed.

    Plan: u = site x, v = site y. Elevation: u = along the wall's line, v = level.
    """
    outline_start: Ints
    """(n + 1) cell c has the corners outline_start[c] : outline_start[c + 1]."""

    @property
    def cells_count(self) -> int:
        """n."""
        return len(self.volume_m3)

    def outline_of(self, cell: int) -> Floats:
        """The corners of one cell in its view's plane [m], shape (corners, 2)."""
        return self.outline_uv_m[self.outline_start[cell] : self.outline_start[cell + 1]]


def lattice_of(elements: Sequence[Element], *, cell_size_m: float, layer_mm: float) -> Lattice:
    """Cut elements into placing cells of about `cell_size_m` square, in equal layers of at most `layer_mm`.

    The elements must be free of `geometry_problems`. Slabs, blocks, footings and beams are cut over their plan, walls
    over their length; what is deeper than a layer is cut in layers (not a deck slab, haunch or tapered kerb, whose
    section changes with height). Thickenings belong to the lowest cells above them. A stair is one cell, and so is each
    of several identical elements. A piece under 1 % of a square is joined to its neighbour.
    A circular column's underside is a 256-sided polygon of the same area where it meets another element.

    Raises InvalidInput for a size that is not a positive number, no elements, or more than 100,000 cells.
    """
    for key, size in (("cell_size_m", cell_size_m), ("layer_mm", layer_mm)):
        if not (math.isfinite(size) and size > 0):
            raise InvalidInput(key, f"{key} is {size}; allowed is a number above 0")
    if not elements:
        raise InvalidInput("element", "no element to cut into cells")
    _refuse_too_many(sum(_cells_expected(element, cell_size_m, layer_mm) for element in elements), cell_size_m)
    cuts = [_cut(element, cell_size_m, layer_mm) for element in elements]
    first_cell = np.cumsum([0] + [len(cut.volume_m3) for cut in cuts])
    _refuse_too_many(int(first_cell[-1]), cell_size_m)
    joins = join_elements(elements, cuts, first_cell.tolist())
    return _assemble(elements, cuts, first_cell, joins)


def _refuse_too_many(cells: int, cell_size_m: float) -> None:
    if cells > CELLS_LIMIT:
        raise InvalidInput(
            "cell_size_m",
            f"squares of {cell_size_m:g} m make {cells:,} cells of these elements; allowed are {CELLS_LIMIT:,}: "
            "fewer elements in a pour, wider strips or thicker layers",
        )


def _cells_expected(element: Element, cell_size_m: float, layer_mm: float) -> int:
    """Cells before cutting, so that an absurd size is refused before it takes the memory."""
    if element.count > 1 or isinstance(element, Stair):
        return element.count
    layers = layers_needed(rise_m(element), layer_mm)
    if isinstance(element, Column | TaperedFooting | DropPanel):
        return layers
    region = footprint(element)
    if isinstance(element, Wall):
        return grid_counts(element.length_m, 1, cell_size_m)[0] * layers
    return max(1, int(0.5 * region.area / cell_size_m**2)) * layers


def _cut(element: Element, cell_size_m: float, layer_mm: float) -> Cut:
    if element.count == 1:
        return cut_element(element, cell_size_m, layer_mm)
    low_x, low_y, high_x, high_y = footprint(element).bounds
    whole = cut_element(element, 2 * max(high_x - low_x, high_y - low_y), 2000 * rise_m(element))
    return copies_of(whole, element.count)


def _joined(pairs: Iterable[tuple[int, int, float]]) -> tuple[Ints, Floats]:
    """Pairs sorted and each once, with the areas of the same pair added up."""
    areas: dict[tuple[int, int], float] = defaultdict(float)
    for first, second, area in pairs:
        areas[first, second] += area
    keys = sorted(areas)
    return np.array(keys, dtype=np.int64).reshape(-1, 2), np.array([areas[key] for key in keys], dtype=float)


def _lost(areas: list[tuple[int, float]], count: int) -> Floats:
    index = np.array([cell for cell, _ in areas], dtype=int)
    return np.bincount(index, weights=[area for _, area in areas], minlength=count)[:count].astype(float)


def _less(areas: Floats, lost: Floats) -> Floats:
    """Areas less what neighbours cover; a rounding remainder counts as nothing left."""
    left = areas - lost
    return np.where(left < 1e-9 * np.maximum(areas, 1.0), 0.0, left)


def _assemble(elements: Sequence[Element], cuts: Sequence[Cut], first_cell: Ints, joins: Joins) -> Lattice:
    sizes = [len(cut.volume_m3) for cut in cuts]
    count = int(first_cell[-1])
    lateral = [
        (first + int(start), second + int(start), area)
        for cut, start in zip(cuts, first_cell[:-1], strict=True)
        for (first, second), area in cut.lateral.items()
    ]
    lateral += [(min(first, second), max(first, second), area) for first, second, area in joins.lateral]
    vertical = [
        (first + int(start), second + int(start), area)
        for cut, start in zip(cuts, first_cell[:-1], strict=True)
        for (first, second), area in cut.vertical.items()
    ]
    lateral_pair, lateral_area = _joined(lateral)
    vertical_pair, vertical_area = _joined(vertical + joins.vertical)
    views, view_of, outlines = arrange(elements, cuts)
    corners = [outline for per_element in outlines for outline in per_element]
    plan = np.concatenate(
        [points_on_site(element, cut.middle_m[:, :2]) for element, cut in zip(elements, cuts, strict=True)]
    )
    volume, plan_area = (np.concatenate([getattr(cut, key) for cut in cuts]) for key in ("volume_m3", "plan_area_m2"))
    return Lattice(
        element_ids=tuple(element.id for element in elements),
        element=np.repeat(np.arange(len(cuts)), sizes),
        volume_m3=volume,
        plan_area_m2=plan_area,
        thickness_m=volume / plan_area,
        x_m=plan[:, 0],
        y_m=plan[:, 1],
        z_m=np.concatenate([cut.middle_m[:, 2] for cut in cuts]),
        layer=np.concatenate([cut.layer for cut in cuts]),
        layers_count=np.repeat([cut.layers_count for cut in cuts], sizes),
        i=np.concatenate([cut.i for cut in cuts]),
        j=np.concatenate([cut.j for cut in cuts]),
        top_area_m2=_less(np.concatenate([cut.top_area_m2 for cut in cuts]), _lost(joins.top_lost, count)),
        formed_area_m2=_less(np.concatenate([cut.formed_area_m2 for cut in cuts]), _lost(joins.formed_lost, count)),
        lateral_pair=lateral_pair,
        lateral_area_m2=lateral_area,
        vertical_pair=vertical_pair,
        vertical_area_m2=vertical_area,
        views=views,
        view=np.repeat(view_of, sizes),
        outline_uv_m=np.concatenate(corners),
        outline_start=np.cumsum([0] + [len(outline) for outline in corners]),
    )
