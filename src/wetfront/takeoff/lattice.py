"""The lattice: a pour cut into placing cells, as flat arrays for the simulator and for pictures."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class View:
    """One drawing plane: a plan in site coordinates, or the front elevation of walls in one line or columns in a row.

    `direction_deg` is the direction in which the drawing's own horizontal axis runs on site, anticlockwise from site x.
    """

    kind: Literal["plan", "elevation"]
    title: str
    direction_deg: float = 0.0


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
