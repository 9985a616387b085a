"""The placing order as people see it: steps with times and deadlines, and live edges with what they have left.

A step is a strip of a slab, or a layer of a wall, column or block that is placed in whole layers.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.nouns.plan import EdgeMargin, Moments, StripTimes
from wetfront.placing.model import Floats, PourModel, Replications, Trace
from wetfront.planning.arrange import Arrangement
from wetfront.planning.day import Day

BAND = (0.05, 0.50, 0.95)
MOST_EDGES = 60


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """The step of every cell, by position in placing order; steps are numbered in the order of their first cell."""

    of_cell: NDArray[np.int64]
    names: tuple[str, ...]
    elements: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of steps."""
        return len(self.names)


def steps_of(arranged: Arrangement, whole_layers: bool) -> Steps:
    """Cut the placing order into steps."""
    lattice, order = arranged.lattice, arranged.order
    element, layer = lattice.element[order.lattice_cell], lattice.layer[order.lattice_cell]
    layered = lattice.layers_count[order.lattice_cell] > 1
    by_layer = layered & whole_layers
    labels = [
        (int(e), int(k), -1) if on_layers else (int(e), -1, int(s))
        for e, k, s, on_layers in zip(element, layer, order.strip, by_layer, strict=True)
    ]
    numbers: dict[tuple[int, int, int], int] = {}
    of_cell = np.array([numbers.setdefault(label, len(numbers)) for label in labels], dtype=np.int64)
    names = tuple(
        order.strip_names[strip] if strip >= 0 else f"{lattice.element_ids[e]} layer {k + 1}" for e, k, strip in numbers
    )
    return Steps(of_cell, names, tuple(lattice.element_ids[e] for e, _, _ in numbers))


def band(values: Floats) -> tuple[float, float, float]:
    """5 %, 50 % and 95 % of some replications."""
    low, middle, high = np.quantile(values, BAND)
    return float(low), float(middle), float(high)


def moments(day: Day, values: Floats) -> Moments:
    """The band as moments."""
    early, usual, late = band(values)
    return Moments(early=day.moment(early), usual=day.moment(usual), late=day.moment(late))


def strip_times(
    day: Day, model: PourModel, arranged: Arrangement, steps: Steps, traces: Sequence[Trace]
) -> tuple[StripTimes, ...]:
    """Times and deadlines of every step over some replications."""
    volume = np.bincount(steps.of_cell, weights=model.cells.volume_m3, minlength=steps.count)
    placed = np.array([trace.cell_placed_min for trace in traces])
    set_due, specified_due, edge_of = _deadlines(model, steps, traces)
    found = []
    for step in range(steps.count):
        cells = np.flatnonzero(steps.of_cell == step)
        begins = placed[:, cells[0]] - 60 * model.cells.volume_m3[cells[0]] / model.cells.rate_m3_per_h[cells[0]]
        strips = np.unique(model.cells.strip[cells])
        strips = strips[strips >= 0]
        ready = np.array([trace.strip_ready_min[strips].min() for trace in traces]) if len(strips) else None
        ended = np.array([trace.strip_end_min[strips].max() for trace in traces]) if len(strips) else None
        found.append(
            StripTimes(
                order=step + 1,
                name=steps.names[step],
                element=steps.elements[step],
                volume_m3=float(volume[step]),
                start=moments(day, begins),
                end=moments(day, placed[:, cells].max(axis=1)),
                join_before_set=None if set_due[step] is None else day.moment(set_due[step] or 0.0),
                join_before_specified=None if specified_due[step] is None else day.moment(specified_due[step] or 0.0),
                edge_name=edge_of[step],
                ready_to_finish=None if ready is None else moments(day, ready),
                finished=None if ended is None else moments(day, ended),
            )
        )
    return tuple(found)


def _deadlines(
    model: PourModel, steps: Steps, traces: Sequence[Trace]
) -> tuple[list[float | None], list[float | None], list[str]]:
    """For each step: set and specified deadline of its open edges (early end of the band), and the tightest edge."""
    joints = model.joints
    leaves = steps.of_cell[joints.first] != steps.of_cell[joints.later]
    by_set = np.array([trace.joint_due_min for trace in traces])
    by_minutes = np.array([trace.cell_placed_min[joints.later] + trace.joint_specified_margin_min for trace in traces])
    set_due: list[float | None] = []
    specified: list[float | None] = []
    names: list[str] = []
    for step in range(steps.count):
        pairs = np.flatnonzero(leaves & (steps.of_cell[joints.first] == step))
        if not len(pairs):
            set_due.append(None)
            specified.append(None)
            names.append("")
            continue
        earliest = by_set[:, pairs].min(axis=1)
        set_due.append(float(np.quantile(earliest, BAND[0])) if np.isfinite(earliest).all() else None)
        minutes = by_minutes[:, pairs].min(axis=1)
        specified.append(float(np.quantile(minutes, BAND[0])) if np.isfinite(minutes).all() else None)
        first_due = pairs[int(np.argmin(by_set[:, pairs].mean(axis=0)))]
        names.append(joints.edge_names[int(joints.edge[first_due])])
    return set_due, specified, names


def edge_margins(model: PourModel, outcome: Replications, traces: Sequence[Trace]) -> tuple[EdgeMargin, ...]:
    """Every named edge: waits from some replications in full, chances from all of them. Tightest edges first."""
    joints = model.joints
    found = []
    for edge, name in enumerate(joints.edge_names):
        pairs = np.flatnonzero(joints.edge == edge)
        first, later = joints.first[pairs], joints.later[pairs]
        waits = np.array([(trace.cell_placed_min[later] - trace.cell_placed_min[first]).max() for trace in traces])
        has_limit = bool(model.concrete.edge_limits)
        allowed = (
            np.array(
                [
                    (
                        trace.cell_placed_min[later]
                        - trace.cell_placed_min[first]
                        + trace.joint_specified_margin_min[pairs]
                    ).min()
                    for trace in traces
                ]
            )
            if has_limit
            else None
        )
        set_margin = outcome.edge_set_margin_min[:, edge]
        specified = outcome.edge_specified_margin_min[:, edge]
        found.append(
            EdgeMargin(
                name=name,
                wait_min=band(waits),
                specified_min=None if allowed is None else float(np.median(allowed)),
                set_margin_min=band(set_margin),
                specified_margin_min=band(specified) if has_limit else None,
                chance_set_exceeded=float((set_margin < 0).mean()),
                chance_specified_exceeded=float((specified < 0).mean()) if has_limit else 0.0,
            )
        )
    found.sort(key=lambda edge: (-edge.chance_specified_exceeded, edge.set_margin_min[0], edge.name))
    return tuple(found[:MOST_EDGES])
