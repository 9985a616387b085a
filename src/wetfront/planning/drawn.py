"""The front as a drawing: order numbers, times and joint places on the lattice."""

import numpy as np

from wetfront.nouns.plan import Drawing, StripTimes
from wetfront.nouns.sheet import PourSheet
from wetfront.planning.arrange import Arrangement
from wetfront.planning.situation import Situation
from wetfront.planning.steps import Steps
from wetfront.takeoff.drawing import Line, Mark, front_view_svg

PAGE_WIDTH_PT = 516.0
HIGHEST_PT = 240.0
"""The drawing stands at its own size on an A4 page, above the table of its times."""


def drawings(
    situation: Situation, arranged: Arrangement, steps: Steps, times: tuple[StripTimes, ...]
) -> tuple[Drawing, ...]:
    """One drawing for each view of the lattice, at the size of a page. Shaded by order, light first."""
    lattice = arranged.lattice
    values = np.empty(lattice.cells_count)
    values[arranged.order.lattice_cell] = steps.of_cell + 1
    numbers_in_cells = [f"{value:.0f}" for value in values]
    found = []
    for view, shown in enumerate(lattice.views):
        here = lattice.view[arranged.order.lattice_cell] == view
        numbers = set(np.unique(steps.of_cell[here]).tolist())
        listed = [step for step in times if step.order - 1 in numbers]
        sentence = "Order of placing: " + "; ".join(
            f"{step.order} {step.name} {step.start.usual.strftime('%H:%M')} to {step.end.usual.strftime('%H:%M')}"
            for step in listed
        )
        lines = joint_lines(situation.sheet, arranged, view) if shown.kind == "plan" else ()
        stacked = one_above_the_other(arranged, steps, view)
        title = f"{shown.title}: order{'' if stacked else ', start, end'}"
        svg = front_view_svg(
            lattice,
            view=view,
            values=values,
            value_name="order",
            labels=numbers_in_cells if stacked else [""] * lattice.cells_count,
            lines=lines,
            marks=() if stacked else [_mark(arranged, steps, step, len(situation.elements) == 1) for step in listed],
            title=title,
            width_pt=PAGE_WIDTH_PT,
            highest_pt=HIGHEST_PT,
        )
        found.append(Drawing(title=title, svg=svg, sentence=sentence + "."))
    return tuple(found)


def one_above_the_other(arranged: Arrangement, steps: Steps, view: int) -> bool:
    """True where two steps share a place of the drawing, as layers do in a plan: words would cover each other."""
    step_at: dict[bytes, int] = {}
    for cell, step in zip(arranged.order.lattice_cell.tolist(), steps.of_cell.tolist(), strict=True):
        if arranged.lattice.view[cell] == view:
            place = arranged.lattice.outline_of(cell).round(6).tobytes()
            if step_at.setdefault(place, step) != step:
                return True
    return False


def _mark(arranged: Arrangement, steps: Steps, step: StripTimes, alone: bool) -> Mark:
    """Number and times over the half of the step that is placed first; an element alone needs no name there."""
    cells = arranged.order.lattice_cell[np.flatnonzero(steps.of_cell == step.order - 1)]
    first = cells[: max(1, (len(cells) + 1) // 2)]
    corners = np.concatenate([arranged.lattice.outline_of(int(cell)) for cell in first])
    (low_u, low_v), (high_u, high_v) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    start, end = (moment.strftime("%H:%M") for moment in (step.start.usual, step.end.usual))
    name = f"{step.order}" if alone else f"{step.order} {step.name}"
    return Mark((low_u, low_v, high_u, high_v), (name, start, end))


def joint_lines(sheet: PourSheet, arranged: Arrangement, view: int) -> tuple[Line, ...]:
    """Joints of the sheet across the plan, the agreed emergency places named as such."""
    lattice = arranged.lattice
    corners = np.concatenate([lattice.outline_of(int(cell)) for cell in np.flatnonzero(lattice.view == view)])
    (low_x, low_y), (high_x, high_y) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    found = []
    for joint in sheet.joint:
        label = f"{joint.id}{' agreed stop' if joint.agreed_emergency else ''}"
        if joint.x_m is not None and low_x <= joint.x_m <= high_x:
            found.append(Line((joint.x_m, low_y), (joint.x_m, high_y), label))
        elif joint.y_m is not None and low_y <= joint.y_m <= high_y:
            found.append(Line((low_x, joint.y_m), (high_x, joint.y_m), label))
    return tuple(found)
