"""What one running server serves: a folder with pour sheets, the journals, and the clock."""

import datetime as dt
import gc
import threading
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from wetfront.api.plans import Plans, PlanState
from wetfront.api.problems import Refusal
from wetfront.api.pulse import Pulse
from wetfront.desk.board import Basis, basis_of, forecaster_of
from wetfront.errors import SheetError
from wetfront.forecast import Forecaster
from wetfront.intake.sheet import read_sheet
from wetfront.journal.event import Event
from wetfront.journal.fold import fold
from wetfront.journal.state import PourState
from wetfront.nouns.sheet import CheckedSheet, Pour
from wetfront.store.journals import Journals

SHEET = "*.toml"


@dataclass(frozen=True, slots=True)
class Served:
    """One pour with the sheet that it stands in."""

    file: str
    checked: CheckedSheet
    pour: Pour


class Site:
    """The state of the server that is not in the database: what the folder holds, read again when a file changes."""

    def __init__(self, folder: Path, journals: Journals, now: Callable[[], dt.datetime], speed: float = 1.0):
        self.folder, self.journals, self.now = folder, journals, now
        self.speed = speed
        """Of the clock `now` against time: a rehearsed day runs faster."""
        self.pulse = Pulse(lambda: self.journals.pours())
        self.plans = Plans(folder, self.pulse.tell)
        self._sheets: dict[Path, tuple[float, CheckedSheet | SheetError | None]] = {}
        """By file: when it was changed, and what it holds; None for what is no pour sheet."""
        self._known: dict[str, _Known] = {}
        self._bases: dict[str, tuple[str, Basis]] = {}
        self._forecasters: dict[str, tuple[str, Forecaster | None]] = {}
        self.boards: dict[str, tuple[str, bytes]] = {}
        """By pour: the last board and its tag, so that many phones that ask at once cost one."""
        self._lock = threading.Lock()

    def pours(self) -> Mapping[str, Served]:
        """All pours of the folder's sheets by id; of two pours with one id the first file's stands."""
        found: dict[str, Served] = {}
        for path, checked in self._read():
            if isinstance(checked, CheckedSheet):
                for pour in checked.sheet.pour:
                    found.setdefault(pour.id, Served(path.name, checked, pour))
        return found

    def faulty(self) -> Mapping[str, SheetError]:
        """Sheets with mistakes, by file name."""
        return {path.name: checked for path, checked in self._read() if isinstance(checked, SheetError)}

    def pour(self, name: str) -> Served:
        """One pour; a 404 names those that there are."""
        known = self.pours()
        if name not in known:
            raise Refusal(404, f"There is no pour {name[:60]!r}", f"known: {', '.join(known) or 'none yet'}")
        return known[name]

    def state(self, pour: str) -> tuple[PourState, int]:
        """The pour's state by its journal and the number of its last record. Only new records are read."""
        with self._lock:
            known = self._known.setdefault(pour, _Known())
        with known.lock:
            fresh = self.journals.records(pour, known.number)
            if fresh or known.state is None:
                known.events += [record.told for record in fresh]
                known.number = fresh[-1].number if fresh else known.number
                known.state = fold(pour, known.events)
            return known.state, known.number

    def plan(self, served: Served) -> PlanState:
        """The plan of a pour, or how far it is."""
        return self.plans.of(served.checked, served.pour)

    def basis(self, served: Served, planned: PlanState) -> Basis:
        """What the pour's boards rest on, made anew when sheet or plan change."""
        stamp = f"{planned.key} {planned.revision}"
        kept = self._bases.get(served.pour.id)
        if kept is None or kept[0] != stamp:
            kept = (stamp, basis_of(served.checked, served.pour, planned.plan, planned.revision, planned.words))
            self._bases[served.pour.id] = kept
        basis = kept[1]
        return basis if basis.planning == planned.words else replace(basis, planning=planned.words)

    def forecaster(self, basis: Basis) -> Forecaster | None:
        """What makes the forecasts of a pour, made once for each plan."""
        name = basis.pour.id
        kept = self._forecasters.get(name)
        if kept is None or kept[0] != basis.plan_revision:
            kept = (basis.plan_revision, forecaster_of(basis))
            self._forecasters[name] = kept
            settle()
        return kept[1]

    def tell(self) -> None:
        """Wake the streams: something was kept."""
        self.pulse.tell()

    def stop(self) -> None:
        """Let streams and searches end."""
        self.pulse.stop()
        self.plans.stop()

    def _read(self) -> list[tuple[Path, CheckedSheet | SheetError]]:
        found = []
        for path in sorted(self.folder.glob(SHEET)):
            stamp = path.stat().st_mtime
            if path not in self._sheets or self._sheets[path][0] != stamp:
                self._sheets[path] = (stamp, _sheet_of(path) if _looks_like_a_pour_sheet(path) else None)
            checked = self._sheets[path][1]
            if checked is not None:
                found.append((path, checked))
        return found


@dataclass(slots=True)
class _Known:
    """Events of one pour that have been read already."""

    number: int = 0
    events: list[Event] = field(default_factory=list)
    state: PourState | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)


def settle() -> None:
    """Take what stands for the day (program, sheet, plan, draws) out of what Python looks through for garbage: on two
    cores that took 80 ms off one board in fifty."""
    gc.collect()
    gc.freeze()


def _looks_like_a_pour_sheet(path: Path) -> bool:
    """It lists pours and is no programme; a file that is no TOML at all is told as a faulty sheet."""
    try:
        keys = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        return True
    return "pour" in keys and "first_day" not in keys


def _sheet_of(path: Path) -> CheckedSheet | SheetError:
    try:
        return read_sheet(path)
    except SheetError as error:
        return error
