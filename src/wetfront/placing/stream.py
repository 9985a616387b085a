"""The concrete as one stream through the pump: which volume belongs to which cell, and the work that it takes.

The stream begins with what primes and fills the line, then come the cells in placing order, each with its share of
wastage. A stream position is the gross volume [m³] that the pump has taken so far.
"""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wetfront.placing.model import PourModel
from wetfront.placing.seen import Seen

Floats = NDArray[np.float64]

VOLUME_GUARD_M3 = 1e-9
"""Volumes closer than this are equal: a load that ends at a cell's edge ends there in spite of rounding."""


@dataclass(frozen=True, slots=True)
class Stream:
    """The stream of one replication."""

    plan: "StreamPlan"
    scale: float
    """Gross over net volume: 1 + wastage."""

    @property
    def total_m3(self) -> float:
        """What the pump must take for the whole pour."""
        return self.plan.lead_m3 + self.scale * self.plan.net_m3

    def work_until_min(self, position_m3: float) -> float:
        """Pumping time up to this position at the cells' own rates."""
        plan = self.plan
        if position_m3 <= plan.lead_m3:
            return position_m3 * plan.lead_min_per_m3
        net = (position_m3 - plan.lead_m3) / self.scale
        cell = min(bisect_right(plan.net_until, net) - 1, len(plan.net_until) - 2)
        in_cell = (net - plan.net_until[cell]) * plan.min_per_m3[cell]
        return plan.lead_min + self.scale * (plan.work_until[cell] + in_cell)

    def cells_begun(self, position_m3: float) -> int:
        """Number of cells whose first concrete lies before this position."""
        return bisect_left(self.plan.net_from, (position_m3 - self.plan.lead_m3) / self.scale - VOLUME_GUARD_M3)

    def cell_ends_m3(self) -> Floats:
        """Position of the end of each cell."""
        return self.plan.lead_m3 + self.scale * self.plan.net_until_array[1:]

    def work_to_cell_ends_min(self) -> Floats:
        """Pumping time up to the end of each cell at the cells' own rates."""
        return self.plan.lead_min + self.scale * self.plan.work_until_array[1:]


@dataclass(frozen=True)
class StreamPlan:
    """What all replications of a model share. Arrays where whole columns are read, lists where single numbers are."""

    lead_m3: float
    lead_min_per_m3: float
    lead_min: float
    net_m3: float
    net_until_array: Floats
    """Begins with 0, so one longer than the cells; so do the work and the moves."""
    work_until_array: Floats
    moves_until_array: Floats
    """Pauses before all cells below this one."""
    min_per_m3_array: Floats

    @cached_property
    def net_from(self) -> list[float]:
        return self.net_until[:-1]

    @cached_property
    def net_until(self) -> list[float]:
        return _numbers(self.net_until_array)

    @cached_property
    def work_until(self) -> list[float]:
        return _numbers(self.work_until_array)

    @cached_property
    def moves_until(self) -> list[float]:
        return _numbers(self.moves_until_array)

    @cached_property
    def min_per_m3(self) -> list[float]:
        return _numbers(self.min_per_m3_array)


def _numbers(column: Floats) -> list[float]:
    numbers: list[float] = column.tolist()
    return numbers


def plan_stream(model: PourModel) -> StreamPlan:
    """Sum volumes, work and moves in placing order."""
    cells, site, seen = model.cells, model.site, model.seen
    volume_m3, move_min = cells.volume_m3, cells.move_min
    if seen is not None:
        volume_m3, move_min = _what_is_left(seen, volume_m3, move_min)
    min_per_m3 = 60.0 / cells.rate_m3_per_h
    net_until, work_until, moves_until = (
        np.concatenate([[0.0], np.cumsum(column)]) for column in (volume_m3, volume_m3 * min_per_m3, move_min)
    )
    lead_m3 = site.priming_m3 + site.line_content_m3
    if seen is not None:
        lead_m3 = max(lead_m3, seen.taken_m3)
    return StreamPlan(
        lead_m3=lead_m3,
        lead_min_per_m3=float(min_per_m3[0]),
        lead_min=lead_m3 * float(min_per_m3[0]),
        net_m3=float(net_until[-1]),
        net_until_array=net_until,
        work_until_array=work_until,
        moves_until_array=moves_until,
        min_per_m3_array=min_per_m3,
    )


def _what_is_left(seen: Seen, volume_m3: Floats, move_min: Floats) -> tuple[Floats, Floats]:
    """Full cells take nothing any more, a cell that has been begun takes its rest; its move has been made."""
    volume_m3, move_min = volume_m3.copy(), move_min.copy()
    volume_m3[: seen.cells_count] = 0.0
    move_min[: len(seen.cell_load)] = 0.0
    if seen.has_begun_cell:
        volume_m3[seen.cells_count] = seen.rest_of_cell_m3
    return volume_m3, move_min
