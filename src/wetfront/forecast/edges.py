"""What the forecast knows of edges, waiting cells and strips that are placed: figures by member, without words."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wetfront.forecast.pour import Forecast
from wetfront.forecast.setting import Setting
from wetfront.placing.model import Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class EdgeAhead:
    """An edge with concrete on at least one side."""

    waits: bool
    """A full cell of it has a neighbour still to come."""
    join_until_min: Floats
    """By member: when the first of its cells that wait can no longer be joined, 30 min before its initial set; of an
    edge that nothing waits at, of all its older cells."""
    joined_min: Floats
    """By member: when the last cell of its later side is placed."""
    chance_over_specification: float
    chance_of_cold_joint: float


@dataclass(frozen=True, slots=True, eq=False)
class CellsAhead:
    """Full cells that count in the forecast, by position in the plan's order."""

    position: Ints
    specified_min: Floats
    """Until when each may wait by the specification; infinite where it names no minutes."""
    waits: Ints
    """Those of them that have a neighbour still to come."""
    join_until_min: Floats
    """Of those that wait: a row a member."""


@dataclass(frozen=True, slots=True, eq=False)
class StripAhead:
    """Finishing of a strip that is placed, by member."""

    bleed_ends_min: Floats
    opens_min: Floats
    closes_min: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """What stands placed, as the forecast sees it: by name of the edge and of the strip."""

    edges: Mapping[str, EdgeAhead]
    cells: CellsAhead
    strips: Mapping[str, StripAhead]


_NO_CELLS = np.zeros(0, dtype=np.int64)
NOTHING = Standing({}, CellsAhead(_NO_CELLS, np.zeros(0), _NO_CELLS, np.zeros((0, 0))), {})


def standing(forecast: Forecast) -> Standing:
    """Edges, cells and strips with concrete in them; nothing before the first cell is full."""
    if not forecast.cells_full:
        return NOTHING
    setting = Setting(forecast.way)
    joints = forecast.model.joints
    live = (joints.first < forecast.cells_full) & (joints.later >= forecast.cells_full)
    return Standing(
        _edges(forecast, setting), _cells(forecast, setting, joints.first[live]), _strips(forecast, setting)
    )


def _edges(forecast: Forecast, setting: Setting) -> dict[str, EdgeAhead]:
    joints, full, outcome = forecast.model.joints, forecast.cells_full, forecast.outcome
    found = {}
    for edge, name in enumerate(joints.edge_names):
        pairs = np.flatnonzero((joints.edge == edge) & (joints.first < full))
        if not len(pairs):
            continue
        live = pairs[joints.later[pairs] >= full]
        cells = np.unique(joints.first[live if len(live) else pairs])
        found[name] = EdgeAhead(
            waits=len(live) > 0,
            join_until_min=setting.join_until_min(cells),
            joined_min=forecast.edge_joined_min[:, edge],
            chance_over_specification=float((outcome.edge_specified_margin_min[:, edge] < 0).mean()),
            chance_of_cold_joint=float((outcome.edge_set_margin_min[:, edge] < 0).mean()),
        )
    return found


def _cells(forecast: Forecast, setting: Setting, first_of_live: Ints) -> CellsAhead:
    in_plan, full = forecast.way.filled.order, np.arange(forecast.cells_full)
    waits = np.unique(first_of_live)
    return CellsAhead(
        position=in_plan[full],
        specified_min=setting.specified_min(full),
        waits=in_plan[waits],
        join_until_min=setting.reached_min(waits, setting.concrete.set_limit_min),
    )


def _strips(forecast: Forecast, setting: Setting) -> dict[str, StripAhead]:
    """By the cell of each strip that was placed last; strips that are not whole yet are left out."""
    model, work = forecast.model, forecast.model.finishing
    last = {}
    for strip, name in enumerate(work.strip_names):
        cells = np.flatnonzero(model.cells.strip == strip)
        if len(cells) and cells[-1] < forecast.cells_full:
            last[name] = int(cells[-1])
    cells = np.array(list(last.values()), dtype=np.int64)
    clocks = (forecast.by.clock.bleed_clock_min, work.ready_clock_min, work.latest_clock_min)
    bleed, opens, closes = (setting.reached_min(cells, clock_min) for clock_min in clocks)
    return {name: StripAhead(bleed[:, place], opens[:, place], closes[:, place]) for place, name in enumerate(last)}
