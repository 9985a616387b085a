"""Lattice and placing order of a candidate as the simulator's columns, kept for all candidates that share them."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from wetfront.nouns.element import Element
from wetfront.placing.sequence import (
    PlacingOrder,
    PourParts,
    SequenceChoices,
    model_inputs_from_lattice,
    placing_order,
)
from wetfront.planning.candidate import OrderChoice
from wetfront.takeoff.lattice import Lattice, lattice_of
from wetfront.takeoff.shapes import take_off

LEAST_CELL_M = 0.5
CELLS_IN_A_STRIP = 2
"""Cells side by side in a strip: enough to see its two edges apart, few enough to be quick."""

MANY_CELLS = 3000


@dataclass(frozen=True, slots=True, eq=False)
class Arrangement:
    """Where the concrete goes, in which order. Rates and moves are those of a unit rate; the model scales them."""

    lattice: Lattice
    order: PlacingOrder
    parts: PourParts


@lru_cache(maxsize=256)
def arrangement(
    elements: tuple[Element, ...],
    choice: OrderChoice,
    move_min: float,
    panel_elements: frozenset[str],
    finished_elements: frozenset[str],
) -> Arrangement:
    """Cut and order the elements. The rate of every cell is 1 m³/h: a candidate multiplies it."""
    size = cell_size_m(elements, choice.strip_width_m)
    lattice = _lattice(elements, size, choice.layer_mm)
    order = placing_order(
        lattice,
        SequenceChoices(
            start_corner=choice.start_corner,
            strips_along=choice.strips_along,
            strip_width_m=choice.strip_width_m,
            layers=choice.layers,
            step_length_m=choice.step_length_m,
            element_order=tuple(name for name in choice.element_order if name in lattice.element_ids),
        ),
    )
    parts = model_inputs_from_lattice(
        lattice,
        order,
        rate_m3_per_h=np.ones(len(lattice.element_ids)),
        move_min=move_min,
        panel_elements=panel_elements,
        finished_elements=finished_elements,
    )
    return Arrangement(lattice, order, parts)


def cell_size_m(elements: tuple[Element, ...], strip_width_m: float) -> float:
    """Two cells across a strip, or one where a large pour would have too many."""
    size = max(LEAST_CELL_M, strip_width_m / CELLS_IN_A_STRIP)
    area = sum(row.count * row.each.plan_area_m2 for row in take_off(elements).rows)
    return size if area / size**2 <= MANY_CELLS else max(LEAST_CELL_M, strip_width_m)


@lru_cache(maxsize=64)
def _lattice(elements: tuple[Element, ...], cell_size_m: float, layer_mm: float) -> Lattice:
    return lattice_of(elements, cell_size_m=cell_size_m, layer_mm=layer_mm)
