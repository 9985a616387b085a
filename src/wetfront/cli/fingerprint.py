"""What has to be the same on every machine that shares a search: program, simulator, and how it calculates."""

import hashlib
from dataclasses import asdict, dataclass, fields
from functools import cache
from pathlib import Path

import numpy as np

import wetfront
from wetfront.placing.clock import clock_table
from wetfront.placing.core.library import core_name
from wetfront.placing.core.prepared import simulate
from wetfront.placing.model import (
    Acceptance,
    Cells,
    Concrete,
    FinishingWork,
    Joints,
    Lognormal,
    PlantSupply,
    PourModel,
    Replications,
    SiteWork,
    Supply,
)
from wetfront.placing.seeded import SeededDraws

CELLS, STRIPS, REPLICATIONS, LOADS = 12, 3, 64, 24


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """Two processes with the same one give the same plan to the last bit."""

    version: str
    program: str
    """Hash of the program's own source."""
    core: str
    results: str
    """Hash of a small simulation and of elementary functions: processors and libraries may round differently."""

    def differences(self, other: "Fingerprint") -> str:
        """In words what differs, this one first; empty where nothing does."""
        if self.version != other.version:
            return f"wetfront {self.version} here, {other.version} there"
        if self.core != other.core:
            return f"simulator {self.core} here, {other.core} there"
        if self.program != other.program:
            return f"both are wetfront {self.version}, but from different source"
        if self.results != other.results:
            return "the same simulation gives other digits there: another processor, or another version of numpy"
        return ""


@cache
def fingerprint() -> Fingerprint:
    """Of this process."""
    return Fingerprint(wetfront.__version__, _program(), core_name(), _results())


def told() -> dict[str, str]:
    """The fingerprint as plain text, which another version can read as well."""
    return asdict(fingerprint())


def _program() -> str:
    """Order and content of all modules; line ends do not count."""
    folder = Path(wetfront.__file__).parent
    found = hashlib.sha256()
    for path in sorted(folder.rglob("*.py"), key=lambda path: path.relative_to(folder).as_posix()):
        found.update(path.relative_to(folder).as_posix().encode() + b"\0")
        found.update(path.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return found.hexdigest()


def _results() -> str:
    found = hashlib.sha256()
    points = np.linspace(0.01, 50.0, 4001)
    for values in (np.exp(-points), np.log(points), np.sqrt(points), points**1.7, 2.0 ** (points / 11), np.sin(points)):
        found.update(values.tobytes())
    draws = SeededDraws(seed=1, count=REPLICATIONS, loads_count=LOADS, strips_count=STRIPS)
    outcome = simulate(_small_pour(), draws)
    for column in fields(Replications):
        found.update(np.asarray(getattr(outcome, column.name)).tobytes())
    return found.hexdigest()


def _small_pour() -> PourModel:
    """Chosen numbers: a strip of cells with joints, stops, refusals and finishing."""
    number = np.arange(CELLS)
    return PourModel(
        cells=Cells(
            volume_m3=np.full(CELLS, 4.1),
            rate_m3_per_h=np.full(CELLS, 24.0),
            strip=number * STRIPS // CELLS,
            move_min=np.zeros(CELLS),
            panel=np.full(CELLS, -1),
            rise_m=np.zeros(CELLS),
            lattice_cell=number,
        ),
        joints=Joints(
            first=number[:-1],
            later=number[1:],
            area_m2=np.full(CELLS - 1, 0.7),
            edge=np.zeros(CELLS - 1, dtype=np.int64),
            edge_names=("edge",),
        ),
        supply=Supply(
            plants=(
                PlantSupply(
                    name="plant",
                    trucks_count=4,
                    batching_min=Lognormal(5.0, 0.2),
                    haul_min=Lognormal(22.0, 0.3),
                    return_min=Lognormal(18.0, 0.2),
                ),
            ),
            load_m3=6.0,
            interval_min=14.0,
            first_batching_min=420.0,
        ),
        site=SiteWork(
            position_min=3.0,
            wash_min=4.0,
            speed=Lognormal(1.0, 0.15),
            pumping_min_between_stops=60.0,
            repair_min=Lognormal(20.0, 0.6),
        ),
        acceptance=Acceptance(longest_age_min=90.0),
        concrete=Concrete(
            clock_min=clock_table(22.0 + 7.0 * np.sin(np.arange(865) / 23.0), 10.0, 4000.0),
            set_limit_min=120.0,
            set_factor_sd=0.1,
        ),
        finishing=FinishingWork(
            strip_min=np.full(STRIPS, 20.0),
            strip_cv=0.3,
            ready_clock_min=150.0,
            latest_clock_min=330.0,
        ),
    )
