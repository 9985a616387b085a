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
    setting, joints, full = Setting(forecast.way), forecast.model.joints, forecast.cells_full
    live = (joints.first < full) & (joints.later >= full)
    waits = np.unique(joints.first[live])
    oldest = {}
    for edge in np.unique(joints.edge[joints.first < full]).tolist():
        of_edge = (joints.edge == edge) & (joints.first < full)
        first = joints.first[of_edge & live] if (of_edge & live).any() else joints.first[of_edge]
        oldest[edge] = setting.oldest(np.unique(first))
    # All cells that are asked for at once: each member has its own clock to be read.
    cells = np.unique(np.concatenate([waits, *oldest.values()]))
    until = setting.reached_min(cells, setting.concrete.set_limit_min)
    edges = {
        joints.edge_names[edge]: _edge(forecast, edge, until[:, np.searchsorted(cells, first)].min(axis=1))
        for edge, first in oldest.items()
    }
    in_plan = forecast.way.filled.order
    placed = CellsAhead(
        position=in_plan[:full],
        specified_min=setting.specified_min(np.arange(full)),
        waits=in_plan[waits],
        join_until_min=until[:, np.searchsorted(cells, waits)],
    )
    return Standing(edges, placed, _strips(forecast, setting))


def _edge(forecast: Forecast, edge: int, join_until_min: Floats) -> EdgeAhead:
    joints, outcome = forecast.model.joints, forecast.outcome
    of_edge = (joints.edge == edge) & (joints.first < forecast.cells_full)
    return EdgeAhead(
        waits=bool((joints.later[of_edge] >= forecast.cells_full).any()),
        join_until_min=join_until_min,
        joined_min=forecast.edge_joined_min[:, edge],
        chance_over_specification=float((outcome.edge_specified_margin_min[:, edge] < 0).mean()),
        chance_of_cold_joint=float((outcome.edge_set_margin_min[:, edge] < 0).mean()),
    )


def _strips(forecast: Forecast, setting: Setting) -> dict[str, StripAhead]:
    """By the cell of each strip that was placed last; strips that are not whole yet are left out."""
    model = forecast.model
    last = {}
    for strip, name in enumerate(model.finishing.strip_names):
        cells = np.flatnonzero(model.cells.strip == strip)
        if len(cells) and cells[-1] < forecast.cells_full:
            last[name] = int(cells[-1])
    if not last:
        return {}
    cells, count = np.array(list(last.values()), dtype=np.int64), len(last)
    latest = setting.weathers.latest_clock_min
    clocks = (latest * forecast.by.clock.bleed_share, setting.weathers.ready_clock_min, latest)
    reached = setting.reached_min(np.tile(cells, 3), np.repeat(np.array(clocks).T, count, axis=1))
    bleed, opens, closes = (reached[:, part * count : (part + 1) * count] for part in range(3))
    return {name: StripAhead(bleed[:, place], opens[:, place], closes[:, place]) for place, name in enumerate(last)}
