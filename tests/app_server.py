"""The real server with the field app, in a thread; the board is the invented one of `boards`, and it counts the record.

The record, the photos and the app's files are the product's own. `away` stands for a network that is gone: every answer
of the API is then a broken gateway's.
"""

import dataclasses
import datetime as dt
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import Request
from fastapi.encoders import jsonable_encoder
from fastapi.responses import JSONResponse

import boards
from wetfront.api.app import build_app
from wetfront.api.site import Site
from wetfront.store import Journals, database_url, opened

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"


class Served:
    """A running server with what a test turns: whether it is away, and keys of the board."""

    def __init__(self, folder: Path):
        shutil.copytree(TARNWICK, folder / "site")
        self.engine = opened(database_url("", folder))
        self.began = time.monotonic()
        self.away = False
        self.changes: dict[str, Any] = {}
        self.asked: list[Any] = []
        self.site = Site(folder=folder / "site", journals=Journals(self.engine), now=self.now)
        self.server = uvicorn.Server(uvicorn.Config(self._app(), port=0, log_level="error", lifespan="off"))
        self.thread = threading.Thread(target=self.server.run, daemon=True)

    def now(self) -> dt.datetime:
        """The slab day's 11:06, going on."""
        return boards.NOW + dt.timedelta(seconds=time.monotonic() - self.began)

    @property
    def address(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.server.servers[0].sockets[0].getsockname()[1]}"

    def told(self, pour: str = "slab") -> list[Any]:
        """Events of the record, in its order."""
        return [record.told for record in self.site.journals.records(pour)]

    def _app(self) -> Any:
        app = build_app(self.site)
        served = list(app.router.routes)

        @app.get("/api/pours/{pour}/board")
        def board(pour: str) -> Any:
            made = boards.board(
                pour=pour, records_count=self.site.journals.last_number(pour), made_at=self.now(), **self.changes
            )
            return jsonable_encoder(dataclasses.asdict(made))

        @app.post("/api/pours/{pour}/what-if")
        def what_if(pour: str, body: dict[str, Any]) -> Any:
            self.asked.append(body["question"])
            return jsonable_encoder(dataclasses.asdict(boards.comparison()))

        # Ahead of the app's files, which answer for everything else.
        new = [route for route in app.router.routes if route not in served]
        app.router.routes[:] = [*new, *served]

        @app.middleware("http")
        async def _away(request: Request, answer: Any) -> Any:
            if self.away and request.url.path.startswith("/api/"):
                return JSONResponse({"title": "away"}, 503)
            return await answer(request)

        return app


@contextmanager
def running(folder: Path) -> Iterator[Served]:
    """Start it, and stop it in the end."""
    served = Served(folder)
    served.thread.start()
    while not served.server.started:
        time.sleep(0.02)
    try:
        yield served
    finally:
        served.server.should_exit = True
        served.server.force_exit = True
        served.thread.join(10)
        served.engine.dispose()
