"""The board of a running pour: time from an entry to the complete board with its forecast, in process and over HTTP."""

import datetime as dt
import json
import shutil
import socket
import tempfile
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from app_server import CODE, MadePlan
from benchmarks.forecast import EVENTS_COUNT, MEMBERS_COUNT, THICKER_MM
from benchmarks.measure import Measure
from demo_day import FOLDER
from planned import QUICK
from running_pours import journal_of
from wetfront.api import live, running
from wetfront.api.access import Access
from wetfront.api.site import Site, settle
from wetfront.desk.board import Basis, basis_of, board_of
from wetfront.desk.plan_pour import plan_one
from wetfront.forecast import Forecaster, forecaster
from wetfront.intake.sheet import read_sheet
from wetfront.journal import Event
from wetfront.journal.event import body_of
from wetfront.placing.draws import hashed_draws
from wetfront.placing.simulate import trace
from wetfront.store import Journals, database_url, opened

ENTRIES_COUNT = 100
"""Entries that are taken the time of; before the first of them so many events are on record as the goal names."""
WANTED_MS = 200.0


def run() -> Iterator[Measure]:
    """300 m³, 500 events on record, 500 members: half of the entries, and 99 in a hundred, within so long."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _thick_slab(folder)
        checked = read_sheet(folder / "slab.toml")
        pour = checked.sheet.pour[0]
        plan = plan_one(checked, pour, final_rounds=QUICK)
        basis = basis_of(checked, pour, plan, "made")
        assert basis.situation is not None and basis.candidate is not None and plan.search is not None
        by = forecaster(basis.situation, basis.candidate, plan.search.seed, members_count=MEMBERS_COUNT)
        events = _course(basis, by)
        with _site(folder, "in-process", plan_made := MadePlan(plan), basis, by) as (site, clock):
            whole, worked, bare = [], [], []
            for event in _kept_but_last(site, events):
                begin = time.process_time()
                whole.append(_seconds(lambda event=event: _in_process(site, clock, basis, by, event)))
                worked.append(time.process_time() - begin)
                state, number = site.state("slab")
                now = clock[0]
                bare.append(_seconds(lambda state=state, number=number, now=now: board_of(basis, state, number, now)))
        yield from _measures(f"entry to complete board in process, {EVENTS_COUNT} events", whole)
        worked_ms = 1e3 * float(np.quantile(worked, 0.99))
        yield Measure("of it processor time of all threads, 99 %", worked_ms, "ms", "steadier on a busy machine")
        yield Measure("of it the board without a forecast, median", 1e3 * float(np.median(bare)), "ms")
        with _site(folder, "http", plan_made, basis, by) as (site, clock), _served(site) as address:
            found = [
                _seconds(lambda event=event: _over_http(address, clock, event))
                for event in _kept_but_last(site, events)
            ]
        yield from _measures("entry to complete board over HTTP, two requests", found)


def _measures(name: str, seconds: list[float]) -> Iterator[Measure]:
    yield Measure(f"{name}, 99 %", 1e3 * float(np.quantile(seconds, 0.99)), "ms", f"wanted: under {WANTED_MS:g}")
    yield Measure(f"{name}, median", 1e3 * float(np.median(seconds)), "ms")


def _seconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def _thick_slab(folder: Path) -> None:
    """The example's files, its slab 350 mm thick: 300 m³."""
    for path in FOLDER.iterdir():
        if path.is_file():
            shutil.copy(path, folder)
    sheet = folder / "slab.toml"
    text = sheet.read_text(encoding="utf-8").replace("thickness_mm = 250", f"thickness_mm = {THICKER_MM}")
    sheet.write_text(text, encoding="utf-8")
    for other in folder.glob("*.toml"):
        if other.name not in ("slab.toml", "site.toml"):
            other.unlink()


def _course(basis: Basis, by: Forecaster) -> list[Event]:
    """One course of the pour, hidden from its forecast, as an ordered journal."""
    hidden = trace(by.model, hashed_draws(99, by.draws.count, by.draws.loads_count, by.draws.strips_count), 0)
    step_of_load = {}
    for position, load in enumerate(hidden.cell_load.tolist()):
        step_of_load.setdefault(load, basis.steps.names[int(basis.steps.of_cell[position])])
    last = basis.steps.names[-1]
    made = journal_of(hidden, basis.day, EVENTS_COUNT + ENTRIES_COUNT, lambda number: step_of_load.get(number, last))
    return sorted(made, key=lambda event: (event.at, event.id))


@contextmanager
def _site(
    folder: Path, name: str, plans: MadePlan, basis: Basis, by: Forecaster
) -> Iterator[tuple[Site, list[dt.datetime]]]:
    """A site on a database of its own; its clock stands where it is put."""
    clock = [basis.day.moment(0.0)]
    (folder / name).mkdir()
    engine = opened(database_url("", folder / name))
    site = Site(folder, Journals(engine), lambda: clock[0])
    site.plans = plans  # type: ignore[assignment]
    site._forecasters["slab"] = (basis.plan_revision, by)
    settle()
    try:
        yield site, clock
    finally:
        engine.dispose()


def _kept_but_last(site: Site, events: list[Event]) -> list[Event]:
    """The entries that are still to be told; all before them are on record."""
    known, coming = events[:EVENTS_COUNT], events[EVENTS_COUNT:]
    site.journals.append(known, known[-1].recorded, 0)
    return coming


def _in_process(site: Site, clock: list[dt.datetime], basis: Basis, by: Forecaster, event: Event) -> bytes:
    clock[0] = event.at + dt.timedelta(seconds=2)
    site.journals.append([event], clock[0], 0)
    state, number = site.state("slab")
    return live.as_json(board_of(basis, state, number, clock[0], by))


@contextmanager
def _served(site: Site) -> Iterator[str]:
    door = socket.create_server(("127.0.0.1", 0))
    server = running.server_of(site, Access(CODE))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{door.getsockname()[1]}/api/pours/slab"
    finally:
        server.should_exit = True
        thread.join()


def _over_http(address: str, clock: list[dt.datetime], event: Event) -> None:
    """Send the entry, then ask for the board."""
    clock[0] = event.at + dt.timedelta(seconds=2)
    kept = _asked(f"{address}/events", {"events": [body_of(event)]})
    board = _asked(f"{address}/board")
    assert kept["results"][0]["outcome"] == "new" and board["records_count"] == kept["last_number"]
    assert board["forecast"]["members_count"] == MEMBERS_COUNT


def _asked(address: str, body: dict[str, object] | None = None) -> dict[str, object]:
    data = None if body is None else json.dumps(body).encode()
    headers = {"authorization": f"Bearer {CODE}", "content-type": "application/json"}
    with urllib.request.urlopen(urllib.request.Request(address, data, headers), timeout=30) as answer:
        found: dict[str, object] = json.loads(answer.read())
    return found
