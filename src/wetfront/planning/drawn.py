"""The front as a drawing: order numbers, times and joint places on the lattice."""

import numpy as np

from wetfront.nouns.plan import Drawing, StripTimes
from wetfront.planning.arrange import Arrangement
from wetfront.planning.situation import Situation
from wetfront.planning.steps import Steps
from wetfront.takeoff.drawing import Line, front_view_svg


def drawings(
    situation: Situation, arranged: Arrangement, steps: Steps, times: tuple[StripTimes, ...]
) -> tuple[Drawing, ...]:
    """One drawing for each view of the lattice. Cells are shaded by the usual time of placing, light first."""
    lattice = arranged.lattice
    labels = [""] * lattice.cells_count
    for step in times:
        cells = np.flatnonzero(steps.of_cell == step.order - 1)
        # By place in the step: number where it begins, start in the middle, end where it ends.
        marks = {cells[0]: f"{step.order}", cells[-1]: step.end.usual.strftime("%H:%M")}
        marks[cells[len(cells) // 2]] = step.start.usual.strftime("%H:%M")
        if len(cells) < 3:
            marks = {cells[0]: f"{step.order}: {step.start.usual.strftime('%H:%M')}"}
        for position, text in marks.items():
            labels[int(arranged.order.lattice_cell[position])] = text
    values = np.empty(lattice.cells_count)
    values[arranged.order.lattice_cell] = steps.of_cell + 1
    found = []
    for view, shown in enumerate(lattice.views):
        in_view = {
            steps.names[step] for step in np.unique(steps.of_cell[lattice.view[arranged.order.lattice_cell] == view])
        }
        listed = [step for step in times if step.name in in_view]
        sentence = "Order of placing: " + "; ".join(
            f"{step.order} {step.name} {step.start.usual.strftime('%H:%M')} to {step.end.usual.strftime('%H:%M')}"
            for step in listed
        )
        lines = _joint_lines(situation, arranged, view) if shown.kind == "plan" else ()
        title = f"Order of placing, {shown.title}"
        svg = front_view_svg(
            lattice, view=view, values=values, value_name="order", labels=labels, lines=lines, title=title
        )
        found.append(Drawing(title=title, svg=svg, sentence=sentence + "."))
    return tuple(found)


def _joint_lines(situation: Situation, arranged: Arrangement, view: int) -> tuple[Line, ...]:
    """Joints of the sheet across the plan, the agreed emergency places named as such."""
    lattice = arranged.lattice
    corners = np.concatenate([lattice.outline_of(int(cell)) for cell in np.flatnonzero(lattice.view == view)])
    (low_x, low_y), (high_x, high_y) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    found = []
    for joint in situation.sheet.joint:
        label = f"{joint.id}{' agreed stop' if joint.agreed_emergency else ''}"
        if joint.x_m is not None and low_x <= joint.x_m <= high_x:
            found.append(Line((joint.x_m, low_y), (joint.x_m, high_y), label))
        elif joint.y_m is not None and low_y <= joint.y_m <= high_y:
            found.append(Line((low_x, joint.y_m), (high_x, joint.y_m), label))
    return tuple(found)
