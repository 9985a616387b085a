"""The server: routes, limits and the headers that every answer carries."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import Response
from fastapi.staticfiles import StaticFiles

from wetfront import __version__
from wetfront.api import calculations, events, live, photos, pours, setup
from wetfront.api.access import Access
from wetfront.api.problems import add_problem_answers, problem
from wetfront.api.site import Site

LARGEST_BODY_BYTES = 12_000_000
"""10,000 queued entries, or one photo."""
HEADERS = {
    "content-security-policy": (
        "default-src 'self'; img-src 'self' blob: data:; style-src 'self' 'unsafe-inline'; "
        "object-src 'none'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
}


def build_app(site: Site, access: Access | None = None) -> FastAPI:
    """The application over one site. `access`: None lets everybody in, for tests and programs of one's own."""

    @asynccontextmanager
    async def _running(_: FastAPI) -> AsyncIterator[None]:
        looking = asyncio.create_task(site.pulse.run())
        try:
            yield
        finally:
            site.stop()
            looking.cancel()
            with suppress(asyncio.CancelledError):
                await looking

    app = FastAPI(
        title="wetfront",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=_running,
    )
    app.state.site = site
    add_problem_answers(app)
    for each in (setup, pours, events, live, photos, calculations):
        app.include_router(each.router)

    @app.middleware("http")
    async def _limits(request: Request, answer: Callable[[Request], Awaitable[Response]]) -> Response:
        refused = access.refusal(request) if access is not None else None
        length = request.headers.get("content-length", "0")
        if refused is not None:
            response: Response = refused
        elif not length.isdecimal() or int(length) > LARGEST_BODY_BYTES:
            response = problem(413, "Too much at once", f"at most {LARGEST_BODY_BYTES // 1_000_000} MB")
        else:
            response = await answer(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response

    app_files = app_folder()
    if app_files is not None:
        app.mount("/", StaticFiles(directory=app_files, html=True))
    return app


def app_folder() -> Path | None:
    """The built field app; None where it has not been built."""
    place = Path(__file__).resolve().parent / "app_files"
    return place if (place / "index.html").is_file() else None
