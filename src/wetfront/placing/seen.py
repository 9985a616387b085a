"""A pour that has begun: what has been seen of it, in the columns that the simulator goes on from."""

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_MOMENTS = ("batched_min", "reached_min", "start_min", "end_min", "left_min")
_BY_LOAD = (*_MOMENTS, "volume_m3", "used_m3", "refused", "temperature_c")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What has been seen of a pour that is under way: it stands in place of what would have been drawn.

    A row for each load of which at least the begin of its batching is known, the others are called off after them; not
    a number where a moment has not been seen. Cells from the first on in placing order.
    """

    now_min: float
    """What has not been seen happens from now on."""
    batching_min: Floats
    batched_min: Floats
    reached_min: Floats
    start_min: Floats
    end_min: Floats
    """Of its discharge; of a refused load when it was refused."""
    left_min: Floats
    volume_m3: Floats
    used_m3: Floats
    """Of loads whose end has been seen: what went through the pump."""
    refused: Ints
    """Of loads whose end has been seen: index into REFUSAL_REASONS."""
    temperature_c: Floats
    """Measured at the pump."""
    placed_min: Floats
    """Of the cells that are full."""
    cell_load: Ints
    """Load that brought their first concrete; one longer where the next cell has been begun."""
    begun_min: Floats
    """When that came; as long as `cell_load`."""
    rest_of_cell_m3: float = 0.0
    """Net volume that the cell which has been begun still takes."""

    @property
    def loads_count(self) -> int:
        """Loads of which anything has been seen."""
        return len(self.batching_min)

    @property
    def cells_count(self) -> int:
        """Cells that are full."""
        return len(self.placed_min)

    @property
    def has_begun_cell(self) -> bool:
        """The cell after the full ones has concrete in it."""
        return len(self.cell_load) > self.cells_count

    @property
    def served(self) -> list[int]:
        """Loads whose end has been seen, in the order in which the pump took them."""
        known = np.flatnonzero(~np.isnan(self.end_min))
        # A refusal takes no time: it comes before a discharge that began at its moment.
        order: list[int] = known[np.lexsort((self.end_min[known], self.start_min[known]))].tolist()
        return order

    @property
    def taken_m3(self) -> float:
        """What the pump took of the loads whose end has been seen."""
        return float(sum(self.used_m3[number] for number in self.served))

    @property
    def called_m3(self) -> float:
        """What was called and not refused."""
        return float(self.volume_m3[self.refused == 0].sum())

    def site_left_min(self, wash_min: float) -> Floats:
        """When the truck of each load left the site: as seen, else washed out after its discharge."""
        left: Floats = np.where(np.isnan(self.left_min), self.end_min + wash_min, self.left_min)
        return left

    def check(self, volume_m3: Floats) -> None:
        """InvalidInput for a record that contradicts itself; `volume_m3`: of the pour's cells."""
        count, cells = self.loads_count, self.cells_count
        _require(isfinite(self.now_min), "now must be a moment")
        for name in _BY_LOAD:
            _require(getattr(self, name).shape == (count,), f"{name} must have one value for each load")
        _require(bool(np.isfinite(self.batching_min).all()), "a load that was seen was batched at some moment")
        on_site = ~np.isnan(self.start_min)
        arrived = np.isfinite(self.batched_min[on_site]) & np.isfinite(self.reached_min[on_site])
        _require(bool(arrived.all()), "a load that the pump took was batched and reached the gate")
        served = np.array(self.served, dtype=np.int64)
        start, end, used = self.start_min[served], self.end_min[served], self.used_m3[served]
        _require(bool((end >= start).all()), "a discharge that has ended began before")
        _require(bool((end[:-1] <= start[1:]).all()), "the pump serves one load at a time")
        _require(bool((end <= self.now_min).all()), "a discharge that has ended ended before now")
        under_way = self.start_min[np.isnan(self.end_min) & ~np.isnan(self.start_min)]
        _require(len(under_way) <= 1, "the pump serves one load at a time")
        after_all = not len(under_way) or not len(end) or bool(end[-1] <= under_way[0])
        _require(after_all, "the load on the pump came after all others")
        _require(bool((self.volume_m3 > 0).all()), "volume_m3 must be over 0")
        _require(bool((used >= 0).all() and (used <= self.volume_m3[served]).all()), "used_m3 is part of the load")
        _require(bool((used[self.refused[served] != 0] == 0).all()), "nothing of a refused load is used")
        owned = len(self.cell_load)
        _require(cells <= owned <= cells + 1 and owned <= len(volume_m3), "one cell is begun at most")
        _require(self.begun_min.shape == (owned,), "begun_min must have one value for each cell that is begun")
        _require(bool((np.diff(self.placed_min) >= 0).all()), "cells are placed one after the other")
        places = {number: place for place, number in enumerate(served.tolist()) if self.refused[number] == 0}
        _require(all(number in places for number in self.cell_load.tolist()), "a cell's load has been discharged")
        order = [places[number] for number in self.cell_load.tolist()]
        _require(order == sorted(order), "cells are placed in the order of their loads")
        if self.has_begun_cell:
            whole = float(volume_m3[cells])
            _require(0 < self.rest_of_cell_m3 <= whole, f"rest_of_cell_m3 must be over 0 and at most {whole:g}")


def _require(holds: bool, message: str) -> None:
    if not holds:
        raise InvalidInput("seen", f"seen: {message}")
