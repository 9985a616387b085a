"""The real server with the field app, in a thread, at 11:06 of the example's slab day.

Its record is the day's tickets so far; with `slab_plan` it forecasts.

Where a test asks for `invented`, the board is that of `boards`, which has what
no record gives at once: a plan, a forecast and answers to what-ifs. `away` stands for a server that is gone.
"""

import dataclasses
import datetime as dt
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request
from fastapi.encoders import jsonable_encoder
from fastapi.responses import JSONResponse

import boards
from planned import QUICK
from wetfront.api import running
from wetfront.api.access import Access
from wetfront.api.plans import PlanState
from wetfront.api.site import Site
from wetfront.desk.plan_pour import plan_one
from wetfront.desk.ticket_events import entries_of
from wetfront.intake.sheet import read_sheet
from wetfront.intake.tickets_csv import read_tickets
from wetfront.journal import kinds as k
from wetfront.journal.event import Event
from wetfront.nouns.plan import Plan
from wetfront.store import Journals, database_url, opened

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
CODE = "ABCD-EFGH-JKMN"
SOON_S = 8.0


@cache
def day_so_far() -> tuple[Event, ...]:
    """The releases and what the tickets tell until 11:06."""
    checked = read_sheet(TARNWICK / "slab.toml")
    data = (TARNWICK / "delivery-tickets-slab.csv").read_bytes()
    rows, _ = read_tickets(data, "tickets.csv", checked.sheet.pour, boards.ZONE)
    releases = (
        _event("h1", k.HoldReleased(hold_point="H1"), "06:40", "site-engineer"),
        _event("h2", k.HoldReleased(hold_point="H2"), "06:50", "temporary-works-coordinator"),
        _event("h3", k.HoldReleased(hold_point="H3"), "06:55", "designer-representative"),
    )
    told = (*releases, *entries_of("slab", rows, 4).events)
    return tuple(dataclasses.replace(each, recorded=each.at) for each in told if each.at <= boards.NOW)


def _event(name: str, fact: Any, when: str, role: str) -> Event:
    kind, schema = k.kind_of(fact)
    at = boards.at(when)
    return Event(
        id=name,
        pour="slab",
        kind=kind,
        schema=schema,
        at=at,
        recorded=at,
        device="t",
        role=role,
        payload=k.payload_of(fact),
    )


class NoSearch:
    """Plans that are never made: a search would take the test's time and change no entry."""

    def of(self, *_: Any) -> PlanState:
        return PlanState(key="none")

    def stop(self) -> None:
        pass


class MadePlan:
    """One plan for the pour, made before the test began."""

    def __init__(self, plan: Plan):
        self._state = PlanState(key="made", plan=plan, revision="made", words="", share=1.0)

    def of(self, *_: Any) -> PlanState:
        return self._state

    def stop(self) -> None:
        pass


@cache
def slab_plan() -> Plan:
    """The planner's own plan of the slab, by a short search."""
    checked = read_sheet(TARNWICK / "slab.toml")
    return plan_one(checked, checked.sheet.pour[0], final_rounds=QUICK)


class Served:
    """A running server with what a test turns."""

    def __init__(self, folder: Path, invented: bool, plan: Plan | None):
        shutil.copytree(TARNWICK, folder / "site")
        self.engine = opened(database_url("", folder))
        self.began = time.monotonic()
        self.away = False
        self.fails_at = ""
        """The program fails at events with this in them."""
        self.changes: dict[str, Any] = {}
        self.asked: list[Any] = []
        self.site = Site(folder / "site", Journals(self.engine), self.now)
        self.site.plans = NoSearch() if plan is None else MadePlan(plan)
        self.first = 0
        if not invented:
            self.site.journals.append(day_so_far(), self.now(), 0)
            self.first = len(day_so_far())
        self.door = socket.create_server(("127.0.0.1", 0))
        self.server = running.server_of(self.site, Access(CODE))
        app = self.server.config.app
        if invented:
            self._invent(app)
        self._leave(app)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.door]}, daemon=True)

    def now(self) -> dt.datetime:
        """The slab day's 11:06, going on."""
        return boards.NOW + dt.timedelta(seconds=time.monotonic() - self.began)

    @property
    def address(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.door.getsockname()[1]}/"

    def told(self) -> list[Event]:
        """What the record of the slab got since the test began."""
        return [record.told for record in self.site.journals.records("slab", self.first)]

    def sent(self) -> list[Event]:
        """The same, as the devices wrote it."""
        return [record.event for record in self.site.journals.records("slab", self.first)]

    def told_soon(self, count: int) -> list[Event]:
        """The same, as soon as there are so many."""
        ends = time.monotonic() + SOON_S
        while len(self.told()) < count and time.monotonic() < ends:
            time.sleep(0.05)
        return self.told()

    def _invent(self, app: FastAPI) -> None:
        before = list(app.router.routes)

        @app.get("/api/pours/{pour}/board")
        def board(pour: str) -> Any:
            number = self.site.journals.last_number(pour)
            made = boards.board(pour=pour, records_count=number, made_at=self.now(), **self.changes)
            return jsonable_encoder(dataclasses.asdict(made))

        @app.post("/api/pours/{pour}/what-if")
        def what_if(pour: str, body: dict[str, Any]) -> Any:
            self.asked.append(body["question"])
            return jsonable_encoder(dataclasses.asdict(boards.comparison()))

        app.router.routes[:] = [each for each in app.router.routes if each not in before] + before

    def _leave(self, app: FastAPI) -> None:
        @app.middleware("http")
        async def _away(request: Request, answer: Any) -> Any:
            if self.away:
                return JSONResponse({"title": "away"}, 503)
            if self.fails_at and request.method == "POST" and self.fails_at in (await request.body()).decode():
                return JSONResponse({"title": "A fault of the program"}, 500)
            return await answer(request)


@contextmanager
def running_server(folder: Path, invented: bool = False, plan: Plan | None = None) -> Iterator[Served]:
    """Start it, and stop it in the end. `plan`: the pour's; None: there is none, and none is searched."""
    served = Served(folder, invented, plan)
    served.thread.start()
    while not served.server.started:
        time.sleep(0.02)
    try:
        yield served
    finally:
        served.server.should_exit = True
        served.thread.join(10)
        served.engine.dispose()
