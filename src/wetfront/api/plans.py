"""Plans of the pours that are served: made on demand in a process of their own, kept by sheet and program version."""

import hashlib
import multiprocessing
import os
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from wetfront import __version__
from wetfront.desk.plan_pour import plan_one
from wetfront.dossier.document import revision
from wetfront.errors import WetfrontError
from wetfront.nouns.plan import Plan
from wetfront.nouns.sheet import CheckedSheet, Pour

FOLDER = "wetfront-plans"
WAITING = "the plan waits for its turn"


@dataclass(frozen=True, slots=True)
class PlanState:
    """Where the plan of a pour is."""

    key: str
    plan: Plan | None = None
    revision: str = ""
    words: str = WAITING
    """How far the search is, or why there is no plan; empty when the plan is there."""
    share: float = 0.0
    """Of the search, from 0 to 1."""
    failed: bool = False

    @property
    def stamp(self) -> str:
        """Changes when what is shown of it changes."""
        return self.revision or f"{self.key[:8]}-{self.words}"


class Plans:
    """One search at a time, apart from the server: its process answers while a plan is made."""

    def __init__(self, folder: Path, tell: Callable[[], None] = lambda: None):
        self._folder, self._tell = folder / FOLDER, tell
        self._lock = threading.Lock()
        self._states: dict[str, PlanState] = {}
        self._queue: list[tuple[str, CheckedSheet, Pour]] = []
        self._process: BaseProcess | None = None
        self._stopped = False

    def of(self, checked: CheckedSheet, pour: Pour) -> PlanState:
        """The plan, or how far it is; asking begins it."""
        key = plan_key(checked, pour)
        with self._lock:
            known = self._states.get(key)
            if known is not None:
                return known
            kept = self._read(key)
            if kept is None:
                kept = PlanState(key)
                self._queue.append((key, checked, pour))
            self._states[key] = kept
            self._begin_next()
            return self._states[key]

    def stop(self) -> None:
        """End a search that runs."""
        with self._lock:
            self._stopped = True
            self._queue.clear()
            if self._process is not None:
                self._process.terminate()

    def _begin_next(self) -> None:
        if self._process is not None or not self._queue or self._stopped:
            return
        key, checked, pour = self._queue.pop(0)
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(target=_search, args=(theirs, checked, pour), daemon=True)
        try:
            process.start()
        except (OSError, RuntimeError) as error:
            self._states[key] = PlanState(
                key, words=f"no plan: its search cannot be started ({error})"[:200], failed=True
            )
            return
        finally:
            theirs.close()
        self._process = process
        threading.Thread(target=self._listen, args=(key, ours, process), daemon=True).start()

    def _listen(self, key: str, ours: Connection, process: BaseProcess) -> None:
        state = PlanState(key, words="the search for the plan ended without an answer", failed=True)
        with suppress(EOFError, OSError):
            while True:
                kind, value = ours.recv()
                if kind == "progress":
                    self._set(PlanState(key, words=f"planning: {100 * value:.0f} %", share=value))
                else:
                    state = self._answered(key, kind, value)
                    break
        process.join()
        with self._lock:
            self._states[key] = state
            self._process = None
            self._begin_next()
        self._tell()

    def _answered(self, key: str, kind: str, value: Any) -> PlanState:
        if kind == "failed":
            return PlanState(key, words=f"no plan: {value}", failed=True)
        with suppress(OSError):
            self._folder.mkdir(exist_ok=True)
            beside = self._folder / f".{key}.part"
            beside.write_bytes(value)
            beside.replace(self._path(key))
        return _ready(key, value)

    def _set(self, state: PlanState) -> None:
        with self._lock:
            changed = self._states.get(state.key, PlanState("")).words != state.words
            self._states[state.key] = state
        if changed:
            self._tell()

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.json"

    def _read(self, key: str) -> PlanState | None:
        """A kept plan; one that cannot be read is made anew."""
        with suppress(OSError, ValidationError):
            return _ready(key, self._path(key).read_bytes())
        return None


def plan_key(checked: CheckedSheet, pour: Pour) -> str:
    """Names a plan by all that it is made from: program, pour and the bytes of every file of the sheet."""
    parts = [__version__, pour.id, *(f"{file.kind}:{file.name}:{file.sha256}" for file in checked.files)]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:32]


@cache
def _plan_type() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)


def _ready(key: str, content: bytes) -> PlanState:
    plan = _plan_type().validate_json(content)
    return PlanState(key, plan=plan, revision=revision(plan), words="", share=1.0)


def _search(theirs: Connection, checked: CheckedSheet, pour: Pour) -> None:
    """In the process of the search. It gives way to the server, and ends when the server is gone."""
    with suppress(OSError, AttributeError):
        os.nice(5)
    last = -1

    def progress(done: int, total: int, _text: str) -> None:
        nonlocal last
        percent = min(99, 100 * done // max(total, 1))  # what is shown of the winner comes after the search
        if percent != last:
            last = percent
            theirs.send(("progress", percent / 100))

    try:
        plan = plan_one(checked, pour, None, progress)
        theirs.send(("plan", _plan_type().dump_json(plan)))
    except WetfrontError as error:
        theirs.send(("failed", error.message))
    except (BrokenPipeError, KeyboardInterrupt):
        return
