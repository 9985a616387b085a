"""The drawing on the wall: the same cells and order as the plan's, with numbers to be read from far."""

import numpy as np

from wetfront.desk.board.basis import Basis
from wetfront.nouns.plan import Drawing
from wetfront.planning.drawn import joint_lines, one_above_the_other
from wetfront.takeoff.drawing import Line, Mark, front_view_svg
from wetfront.takeoff.lattice import Lattice

WIDTH_PT, HIGHEST_PT, NUMBER_PT = 520.0, 360.0, 34.0
"""Half the size that the paper gives it: its small words then stand twice as large."""


def wall_drawings(basis: Basis) -> tuple[Drawing, ...]:
    """One for each view: the number of each step as large as its place allows; order numbers in the cells elsewhere."""
    lattice, order, steps = basis.arranged.lattice, basis.arranged.order, basis.steps
    values = np.empty(lattice.cells_count)
    values[order.lattice_cell] = steps.of_cell + 1
    found = []
    for view, shown in enumerate(lattice.views):
        here = lattice.view[order.lattice_cell] == view
        stacked = one_above_the_other(basis.arranged, steps, view)
        marks: list[Mark] = []
        arrows: list[Line] = []
        for step in np.unique(steps.of_cell[here]).tolist():
            cells = order.lattice_cell[np.flatnonzero(steps.of_cell == step)]
            corners = np.concatenate([lattice.outline_of(int(cell)) for cell in cells])
            (low_u, low_v), (high_u, high_v) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
            marks.append(Mark((low_u, low_v, high_u, high_v), (f"{step + 1}",)))
            if not stacked and len(cells) > 2:
                arrows.append(Line(_middle(lattice, int(cells[0])), _middle(lattice, int(cells[-1])), "", arrow=True))
        lines = list(arrows)
        if shown.kind == "plan":
            lines += [part for line in joint_lines(basis.sheet, basis.arranged, view) for part in _labelled_low(line)]
        svg = front_view_svg(
            lattice,
            view=view,
            values=values,
            value_name="order",
            labels=[f"{value:.0f}" for value in values] if stacked else [""] * lattice.cells_count,
            lines=lines,
            marks=() if stacked else marks,
            title=shown.title,
            width_pt=WIDTH_PT,
            highest_pt=HIGHEST_PT,
            largest_mark_pt=NUMBER_PT,
        )
        names = ", ".join(f"{step + 1} {steps.names[step]}" for step in np.unique(steps.of_cell[here]).tolist())
        found.append(Drawing(title=shown.title, svg=svg, sentence=f"Order of placing: {names}."))
    return tuple(found)


def _labelled_low(line: Line) -> tuple[Line, Line]:
    """A joint whose name stands near its beginning, clear of the numbers in the middle."""
    (u, v), (end_u, end_v) = line.start, line.end
    near = (u + 0.16 * (end_u - u), v + 0.16 * (end_v - v))
    return Line(line.start, line.end), Line(line.start, near, line.label)


def _middle(lattice: Lattice, cell: int) -> tuple[float, float]:
    """Middle of a cell's outline in its view."""
    u, v = lattice.outline_of(cell).mean(axis=0).tolist()
    return float(u), float(v)
