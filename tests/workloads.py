"""The two benchmark pours P1 and P2: a 300 m³ and a 3,000 m³ raft, with chosen, not designed, numbers."""

from dataclasses import dataclass

import numpy as np

from wetfront.placing.clock import clock_table
from wetfront.placing.draws import Draws, draws_from_generator
from wetfront.placing.model import (
    Acceptance,
    Cells,
    Concrete,
    FinishingWork,
    Joints,
    Lognormal,
    PlantSupply,
    PourModel,
    SiteWork,
    Supply,
)


@dataclass(frozen=True)
class Workload:
    nx: int
    ny: int
    layers: int
    thickness_m: float
    trucks: int
    interval_min: float
    rate_m3_per_h: float
    position_min: float
    batching_mean_min: float
    up_mean_min: float
    set_limit_min: float
    ready_min: float
    latest_min: float
    crews: int
    strip_min: float
    loads: int

    def draws(self, replications: int, seed: int = 11) -> Draws:
        return draws_from_generator(seed, replications, self.loads, self.nx)


P1 = Workload(30, 20, 3, 1 / 6, 7, 12, 45, 2, 5, 360, 150, 150, 330, 2, 14, 38)
P2 = Workload(50, 40, 3, 0.5, 18, 6, 90, 1, 4, 600, 300, 200, 480, 4, 30, 375)

CELL_SIDE_M = 1.0
HORIZON_MIN = 6 * 1440


def clock() -> np.ndarray:
    """Equivalent age of concrete 4 K over an air that swings between 11 and 25 °C."""
    hours = np.arange(0, HORIZON_MIN + 1, 10) / 60
    return clock_table(18 + 7 * np.sin(2 * np.pi * (hours - 9) / 24) + 4, 10.0, 4000.0)


def placing_order(load: Workload, order: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """x, y, layer of the cells in placing order: 0 whole layers, 1 stepped front, 2 two halves."""
    x, y, layer = (grid.ravel() for grid in np.indices((load.nx, load.ny, load.layers)))
    keys = {0: (layer, x, y), 1: (x + 4 * layer, layer, x, y), 2: (x // (load.nx // 2), layer, x, y)}[order]
    rank = np.lexsort(keys[::-1])
    return x[rank], y[rank], layer[rank]


def touching(load: Workload, x: np.ndarray, y: np.ndarray, layer: np.ndarray) -> Joints:
    position = np.empty((load.nx, load.ny, load.layers), dtype=np.int64)
    position[x, y, layer] = np.arange(len(x))
    pairs = [
        (position[1:], position[:-1], CELL_SIDE_M * load.thickness_m),
        (position[:, 1:], position[:, :-1], CELL_SIDE_M * load.thickness_m),
        (position[:, :, 1:], position[:, :, :-1], CELL_SIDE_M**2),
    ]
    one = np.concatenate([a.ravel() for a, _, _ in pairs])
    other = np.concatenate([b.ravel() for _, b, _ in pairs])
    edge = np.repeat(np.arange(3), [a.size for a, _, _ in pairs])
    return Joints(
        first=np.minimum(one, other),
        later=np.maximum(one, other),
        area_m2=np.concatenate([np.full(a.size, area) for a, _, area in pairs]),
        edge=edge,
        edge_names=("along", "across", "layer on layer"),
    )


def pour(load: Workload, order: int, *, trucks=None, interval_min=None, first_batching_min=420.0) -> PourModel:
    x, y, layer = placing_order(load, order)
    count = len(x)
    return PourModel(
        cells=Cells(
            volume_m3=np.full(count, CELL_SIDE_M**2 * load.thickness_m),
            rate_m3_per_h=np.full(count, float(load.rate_m3_per_h)),
            strip=np.where(layer == load.layers - 1, x, -1),
            move_min=np.zeros(count),
            panel=np.full(count, -1),
            rise_m=np.zeros(count),
            lattice_cell=np.arange(count),
        ),
        joints=touching(load, x, y, layer),
        supply=Supply(
            plants=(
                PlantSupply(
                    name="plant",
                    trucks_count=trucks or load.trucks,
                    batching_min=Lognormal(load.batching_mean_min, 0.2),
                    haul_min=Lognormal(22, 0.25),
                    return_min=Lognormal(18, 0.2),
                ),
            ),
            load_m3=8.0,
            interval_min=interval_min or load.interval_min,
            first_batching_min=first_batching_min,
        ),
        site=SiteWork(
            position_min=load.position_min,
            wash_min=4,
            speed=Lognormal(1, 0.15),
            pumping_min_between_stops=load.up_mean_min,
            repair_min=Lognormal(25, 0.6),
        ),
        acceptance=Acceptance(longest_age_min=100),
        concrete=Concrete(clock_min=clock(), set_limit_min=load.set_limit_min, set_factor_sd=0.0465 * 1.5),
        finishing=FinishingWork(
            strip_min=np.full(load.nx, float(load.strip_min)),
            strip_cv=0.3,
            ready_clock_min=load.ready_min,
            latest_clock_min=load.latest_min,
            crews_count=load.crews,
        ),
    )


def search_candidates() -> list[dict]:
    """The 2,000 candidates of the search workload on P1: trucks, interval, placing order, first batching."""
    rng = np.random.default_rng(1)
    trucks = rng.integers(4, 14, 2000)
    interval = 0.5 * rng.integers(16, 35, 2000)
    order = rng.integers(0, 3, 2000)
    start = 30.0 * rng.integers(10, 33, 2000)
    return [
        {"order": int(o), "trucks": int(n), "interval_min": float(i), "first_batching_min": float(s)}
        for n, i, o, s in zip(trucks, interval, order, start, strict=True)
    ]
