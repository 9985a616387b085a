"""Where the pour may stop: the joints of the sheet as the front stands, and the pour cut off at one of them."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.forecast.pour import Forecast
from wetfront.nouns.sheet import Joint

Flags = NDArray[np.bool_]
SAME_M3 = 0.05
"""Own rule: a joint with less than this [m³] before it has been reached."""


@dataclass(frozen=True, slots=True, eq=False)
class JointAhead:
    """A joint of the sheet as the front stands."""

    joint: Joint
    where: str
    """Its line on the plan: "x = 24 m"."""
    is_behind: bool
    """Concrete lies on both sides of it."""
    until_m3: float
    """What the pump still takes until the front stands at it; 0 for one that is behind."""
    until_net_m3: float
    """The same by drawing."""
    before: Flags
    """Cells on the side where the pour began, by position in its order."""

    @property
    def is_here(self) -> bool:
        """The front stands at it."""
        return not self.is_behind and self.until_m3 < SAME_M3

    @property
    def words(self) -> str:
        """In words, with what was agreed."""
        agreed = (
            "agreed for a stop" if self.joint.agreed_emergency else "not agreed for an emergency stop: ask the designer"
        )
        at = f"is {self.until_m3:.0f} m³ ahead"
        if self.is_behind:
            at = "is behind the front"
        elif self.is_here:
            at = "is where the front stands"
        return f"{self.where} ({self.joint.kind}; {agreed}) {at}"


def joints_ahead(forecast: Forecast) -> tuple[JointAhead, ...]:
    """Joints of the sheet with concrete on one side at least; those ahead first, the nearest on top."""
    model, lattice = forecast.model, forecast.by.where.lattice
    cell = model.cells.lattice_cell
    full = np.arange(len(cell)) < forecast.cells_full
    net = _left_net(forecast)
    gross = 1.0 + float(np.mean(forecast.way.chance.wastage)) if forecast.record.loads else 1.0 + model.site.wastage
    found = []
    for joint in forecast.by.situation.sheet.joint:
        if joint.x_m is None and joint.y_m is None:
            continue
        along, line = (lattice.x_m, joint.x_m) if joint.x_m is not None else (lattice.y_m, joint.y_m)
        assert line is not None
        above = along[cell] > line
        if above.all() or not above.any():
            continue
        before = above if above[0] else ~above
        is_behind = bool((full & ~before).any())
        left = 0.0 if is_behind else float(net[before].sum())
        found.append(
            JointAhead(
                joint=joint,
                where=f"{'x' if joint.x_m is not None else 'y'} = {line:g} m",
                is_behind=is_behind or (left * gross < SAME_M3 and bool((full & ~before).any())),
                until_m3=left * gross,
                until_net_m3=left,
                before=before,
            )
        )
    return tuple(sorted(found, key=lambda each: (each.is_behind, each.until_m3, each.where)))


def _left_net(forecast: Forecast) -> NDArray[np.float64]:
    """Net volume that each cell still takes, less what has come out of the load on the pump by now."""
    model, seen = forecast.model, forecast.model.seen
    left = model.cells.volume_m3.copy()
    if seen is None:
        return left
    left[: seen.cells_count] = 0.0
    if seen.has_begun_cell:
        left[seen.cells_count] = seen.rest_of_cell_m3
    out = on_pump_m3(forecast)
    for cell in range(seen.cells_count, len(left)):
        if out <= 0:
            break
        used = min(out, left[cell])
        left[cell] -= used
        out -= used
    return left


def on_pump_m3(forecast: Forecast) -> float:
    """What has come out of the load on the pump by now, net, at the rate of the day."""
    seen, record = forecast.model.seen, forecast.record
    assert seen is not None
    begun = np.flatnonzero(~np.isnan(seen.start_min) & np.isnan(seen.end_min))
    if not len(begun):
        return 0.0
    start = float(seen.start_min[begun[0]])
    stopped = sum(
        max(0.0, (record.now_min if stop.is_open else stop.until_min) - max(stop.since_min, start))
        for stop in record.stops
        if stop.is_open or stop.until_min > start
    )
    rate = float(np.average(forecast.model.cells.rate_m3_per_h, weights=forecast.model.cells.volume_m3))
    law, level = forecast.model.site.speed, forecast.way.levels["speed"].mean
    variance = math.log1p(law.cv**2)
    usual = math.log(law.mean) - variance / 2 + math.sqrt(variance * forecast.model.day_share) * level
    speed = min(math.exp(usual), 1.0) if forecast.model.site.rate_is_held else math.exp(usual)
    out = max(0.0, record.now_min - start - stopped) * rate * speed / 60
    return min(out, float(seen.volume_m3[begun[0]])) / (1.0 + forecast.way.wastage[0])
