"""The server: routes, limits and the headers that every answer carries."""

from collections.abc import Awaitable, Callable

from fastapi import FastAPI, Request
from fastapi.responses import Response

from wetfront import __version__
from wetfront.api import calculations, events, photos, pours
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


def build_app(site: Site) -> FastAPI:
    """The application over one site."""
    app = FastAPI(title="wetfront", version=__version__, docs_url=None, redoc_url=None, openapi_url="/api/openapi.json")
    app.state.site = site
    add_problem_answers(app)
    for each in (pours, events, photos, calculations):
        app.include_router(each.router)

    @app.middleware("http")
    async def _limits(request: Request, answer: Callable[[Request], Awaitable[Response]]) -> Response:
        length = request.headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > LARGEST_BODY_BYTES:
            response: Response = problem(413, "Too much at once", f"at most {LARGEST_BODY_BYTES // 1_000_000} MB")
        else:
            response = await answer(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response

    return app
