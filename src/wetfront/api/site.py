"""What one running server serves: a folder with pour sheets, the journals, and the clock."""

import datetime as dt
import threading
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from wetfront.api.problems import Refusal
from wetfront.errors import SheetError
from wetfront.intake.sheet import read_sheet
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


@dataclass(slots=True)
class Site:
    """The state of the server that is not in the database: what the folder holds, read again when a file changes."""

    folder: Path
    journals: Journals
    now: Callable[[], dt.datetime]
    changed: threading.Condition = field(default_factory=threading.Condition)
    """Notified after each kept event; streams wait on it."""
    _sheets: dict[Path, tuple[float, CheckedSheet | SheetError | None]] = field(default_factory=dict)
    """By file: when it was changed, and what it holds; None for what is no pour sheet."""

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

    def state(self, pour: str) -> PourState:
        """The pour's state by its journal, by the server's clock."""
        return fold(pour, [record.told for record in self.journals.records(pour)])

    def wait(self, seconds: float) -> None:
        """Return when something was kept, at the latest after so long."""
        with self.changed:
            self.changed.wait(seconds)

    def tell(self) -> None:
        """Wake the streams: something was kept."""
        with self.changed:
            self.changed.notify_all()

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
