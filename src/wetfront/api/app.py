"""The server: routes, limits and the headers that every answer carries."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress

from fastapi import FastAPI, Request
from fastapi.responses import Response
from starlette.routing import Match

from wetfront import __version__
from wetfront.api import app_page, calculations, events, imports, live, photos, pours, setup
from wetfront.api.access import Access
from wetfront.api.problems import add_problem_answers, problem
from wetfront.api.site import Site
from wetfront.api.wire import BodiesInTime

LARGEST_BODY_BYTES = 12_000_000
"""10,000 queued entries, or one photo."""
METHODS = ["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE"]
HEADERS = {
    "content-security-policy": (
        "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; "
        "img-src 'self' blob: data:; style-src 'self' 'unsafe-inline'; "
        "object-src 'none'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
}


def _reads_in_parts(path: str) -> bool:
    """Photos and files are counted while they are read; every other body is held whole, so its length must be known."""
    return path.startswith("/api/photos/") or "/import/" in path


def _should_be_json(request: Request) -> bool:
    """It has a body, and says that it is something else than JSON."""
    if request.headers.get("content-length", "0") == "0" or _reads_in_parts(request.url.path):
        return False
    kind = request.headers.get("content-type", "").partition(";")[0].strip().casefold()
    return kind != "application/json" and not (kind.startswith("application/") and kind.endswith("+json"))


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
    for each in (setup, pours, events, imports, live, photos, calculations):
        app.include_router(each.router)

    @app.api_route("/api/{rest:path}", methods=METHODS, include_in_schema=False)
    def _nothing(rest: str, request: Request) -> Response:
        if any(route.matches(request.scope)[0] is Match.PARTIAL for route in request.app.routes):
            return problem(405, "Method Not Allowed", f"/api/{rest[:80]} is not asked by {request.method}")
        return problem(404, "Not Found", f"there is nothing at /api/{rest[:80]}")

    # Last: it answers for every address that is not of the API.
    app.mount("/", app_page.files())

    @app.middleware("http")
    async def _limits(request: Request, answer: Callable[[Request], Awaitable[Response]]) -> Response:
        refused = access.refusal(request) if access is not None else None
        length = request.headers.get("content-length", "0")
        if refused is not None:
            response: Response = refused
        elif not length.isdecimal() or int(length) > LARGEST_BODY_BYTES:
            response = problem(413, "Too much at once", f"at most {LARGEST_BODY_BYTES // 1_000_000} MB")
        elif "transfer-encoding" in request.headers and not _reads_in_parts(request.url.path):
            response = problem(411, "The length is missing", "send content-length with the body")
        elif _should_be_json(request):
            response = problem(415, "The body is of another kind", "send content-type: application/json")
        else:
            response = await answer(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response

    app.add_middleware(BodiesInTime)
    return app
