"""Which cells the record fills, in which order the rest follows, and the model with its cells in that order."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wetfront.forecast.record import Record, Recorded
from wetfront.placing.chance import Chance
from wetfront.placing.model import NOTHING_WATCHED, Cells, Floats, Ints, Joints, PourModel
from wetfront.placing.stream import VOLUME_GUARD_M3

NOBODY = -1


@dataclass(frozen=True, slots=True, eq=False)
class PlacedCells:
    """By position in the plan's placing order: the load whose concrete is the oldest in a full cell, and since when."""

    load: Ints
    """Number in the record's loads; NOBODY for a cell that is open."""
    placed_min: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """The record's cells first, then the plan's order."""

    order: Ints
    """Position in the plan's order by position in this one."""
    placed_min: Floats
    cell_load: Ints
    begun_min: Floats
    rest_of_cell_m3: float
    rest_m3: float
    """Net volume of all cells that are not full."""


def flow_min(load: Recorded, record: Record, shares: Floats) -> Floats:
    """When these shares of a load were out: evenly over its discharge, but for the stops."""
    spans, begin = [], load.start_min
    for stop in record.stops:
        since = max(stop.since_min, begin)
        until = load.end_min if stop.is_open else min(stop.until_min, load.end_min)
        if since < until:
            spans.append((begin, since))
            begin = until
    spans.append((begin, load.end_min))
    flowing = np.cumsum([end - start for start, end in spans])
    if flowing[-1] <= 0:
        return np.full(len(shares), load.end_min)
    # A share that ends with a stop was out before it.
    reached = shares * flowing[-1]
    span = np.minimum(np.searchsorted(flowing, reached - 1e-9), len(spans) - 1)
    ends = np.array([end for _, end in spans])
    found: Floats = ends[span] - (flowing[span] - reached)
    return found


def pumped_min(load: Recorded, record: Record) -> float:
    """Minutes of a discharge without the stops in it, up to now."""
    end = min(load.end_min if load.end_min == load.end_min else record.now_min, record.now_min)
    lost = sum(
        max(0.0, min(end if stop.is_open else stop.until_min, end) - max(stop.since_min, load.start_min))
        for stop in record.stops
    )
    return max(0.0, end - load.start_min - lost)


def filled(
    model: PourModel, record: Record, served: list[int], gross_over_net: float, known: PlacedCells | None
) -> Filled:
    """The cells of the record: those that are `known`, else those that were tapped, else by volume in the plan's order.

    `served`: loads that are out and were placed, in the order of the pump. A cell that two loads share belongs to the
    first.
    """
    found = _by_volume(model, record, served, gross_over_net) if known is None else _by_cells(known, served)
    if not np.isnan(record.ended_min):
        found = _all_full(found, record, served)
    return found.filled(model)


@dataclass(slots=True)
class _Filling:
    """By position in the plan's order."""

    load: Ints
    begun: Floats
    placed: Floats
    """Not a number for a cell that is not full."""
    left_m3: Floats
    rank: dict[int, int]
    """Of a load among those served."""

    def filled(self, model: PourModel) -> Filled:
        full = np.flatnonzero(~np.isnan(self.placed))
        rank = np.array([self.rank[number] for number in self.load[full].tolist()], dtype=np.int64)
        full = full[np.lexsort((full, self.placed[full], rank))]
        is_begun = np.isnan(self.placed) & (self.load != NOBODY)
        latest = int(rank.max(initial=0))
        begun = np.array(
            [cell for cell in np.flatnonzero(is_begun) if self.rank[int(self.load[cell])] >= latest][-1:],
            dtype=np.int64,
        )
        rest = np.flatnonzero(np.isnan(self.placed))
        rest = rest[~np.isin(rest, begun)]
        order = np.concatenate([full, begun, rest])
        volume = model.cells.volume_m3[order]
        left = np.where(is_begun, self.left_m3, model.cells.volume_m3)
        rest_of_cell = float(left[begun[0]]) if len(begun) else 0.0
        owned = order[: len(full) + len(begun)]
        return Filled(
            order=order,
            placed_min=np.maximum.accumulate(self.placed[full]) if len(full) else np.zeros(0),
            cell_load=self.load[owned],
            begun_min=self.begun[owned],
            rest_of_cell_m3=rest_of_cell,
            rest_m3=rest_of_cell + float(volume[len(owned) :].sum()),
        )


def _by_cells(known: PlacedCells, served: list[int]) -> _Filling:
    rank = {number: place for place, number in enumerate(served)}
    is_known = np.isin(known.load, served) & ~np.isnan(known.placed_min)
    placed = np.where(is_known, known.placed_min, np.nan)
    return _Filling(np.where(is_known, known.load, NOBODY), placed.copy(), placed, np.zeros(len(placed)), rank)


def _by_volume(model: PourModel, record: Record, served: list[int], gross_over_net: float) -> _Filling:
    cells, site = model.cells, model.site
    count = len(cells.volume_m3)
    where = {cell: position for position, cell in enumerate(cells.lattice_cell.tolist())}
    filling = _Filling(
        np.full(count, NOBODY, dtype=np.int64),
        np.full(count, np.nan),
        np.full(count, np.nan),
        cells.volume_m3.copy(),
        {number: place for place, number in enumerate(served)},
    )
    lead = site.priming_m3 + site.line_content_m3
    for number in served:
        load = record.loads[number]
        lost = min(lead, load.placed_m3)
        lead -= lost
        tapped = [where[cell] for cell in load.cells if cell in where]
        open_cells = np.flatnonzero(np.isnan(filling.placed))
        into = [cell for cell in tapped if np.isnan(filling.placed[cell])] or open_cells.tolist()
        _pour(filling, load, record, number, into, (load.placed_m3 - lost) / gross_over_net, bool(tapped))
    return filling


def _pour(
    filling: _Filling, load: Recorded, record: Record, number: int, into: list[int], net_m3: float, is_tapped: bool
) -> None:
    """A load into these cells, one after the other; cells that were tapped are full whatever the volume."""
    room = filling.left_m3[into]
    total = float(room.sum()) if is_tapped else net_m3
    if total <= VOLUME_GUARD_M3:
        return
    ends = np.cumsum(room)
    last = len(into) if is_tapped else int(np.searchsorted(ends, total + VOLUME_GUARD_M3, side="right"))
    begins = ends - room
    starts = flow_min(load, record, np.minimum(begins / total, 1.0))
    closes = flow_min(load, record, np.minimum(ends / total, 1.0))
    for place, cell in enumerate(into[: last + 1]):
        if begins[place] >= total - VOLUME_GUARD_M3:
            break
        if filling.load[cell] == NOBODY:
            filling.load[cell], filling.begun[cell] = number, starts[place]
        if place < last:
            filling.left_m3[cell], filling.placed[cell] = 0.0, closes[place]
        else:
            filling.left_m3[cell] -= total - begins[place]


def _all_full(filling: _Filling, record: Record, served: list[int]) -> _Filling:
    """Placing has ended: what is open was filled by the last load; at a joint only what had been begun."""
    if not served:
        return filling
    number = served[-1]
    is_open = np.isnan(filling.placed)
    if record.is_cut_off:
        is_open &= filling.load != NOBODY
    filling.begun[is_open & (filling.load == NOBODY)] = record.loads[number].end_min
    filling.load[is_open & (filling.load == NOBODY)] = number
    filling.placed[is_open] = record.loads[number].end_min
    return filling


def in_order(model: PourModel, order: NDArray[np.int64]) -> PourModel:
    """The same pour with its cells in another order; of two that touch the one that now comes first is earlier."""
    if np.array_equal(order, np.arange(len(order))):
        return model
    cells, joints = model.cells, model.joints
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    one, other = place[joints.first], place[joints.later]
    columns = {name: getattr(cells, name)[order] for name in Cells.__dataclass_fields__}
    return replace(
        model,
        cells=Cells(**columns),
        joints=Joints(
            first=np.minimum(one, other),
            later=np.maximum(one, other),
            area_m2=joints.area_m2,
            edge=joints.edge,
            edge_names=joints.edge_names,
        ),
    )


def cut_off(model: PourModel, chance: Chance, keep: NDArray[np.bool_]) -> tuple[PourModel, Chance]:
    """The pour without the cells that are not kept, on the same draws. Full cells must be kept."""
    place = np.cumsum(keep) - 1
    columns = {name: getattr(model.cells, name)[keep] for name in Cells.__dataclass_fields__}
    strips, columns["strip"] = _renumbered(columns["strip"])
    panels, columns["panel"] = _renumbered(columns["panel"])
    joined = keep[model.joints.first] & keep[model.joints.later]
    joints = Joints(
        first=place[model.joints.first[joined]],
        later=place[model.joints.later[joined]],
        area_m2=model.joints.area_m2[joined],
        edge=model.joints.edge[joined],
        edge_names=model.joints.edge_names,
    )
    work = model.finishing
    finishing = replace(
        work,
        strip_min=work.strip_min[strips],
        strip_names=tuple(work.strip_names[number] for number in strips.tolist()),
        strip_area_m2=work.strip_area_m2[strips] if len(work.strip_area_m2) else work.strip_area_m2,
    )
    cut = replace(
        model,
        cells=Cells(**columns),
        joints=joints,
        finishing=finishing,
        panel_names=tuple(model.panel_names[number] for number in panels.tolist()),
        watched=NOTHING_WATCHED,
    )
    return cut, replace(chance, finishing_min=np.ascontiguousarray(chance.finishing_min[:, strips]))


def _renumbered(column: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Numbers that are left, and the column in their places; -1 stays."""
    numbers = np.unique(column[column >= 0])
    return numbers, np.where(column >= 0, np.searchsorted(numbers, column), -1)
