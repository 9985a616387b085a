"""The field app's built files at `/`, or a page that says how to build them."""

from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

FILES = Path(__file__).parent / "app_files"
NOT_BUILT = "The field app is not built here: `make app` builds it. Record and calculations answer under /api.\n"


class _Files(StaticFiles):
    """Files whose names change with their content are kept by the device; the others are asked for each time."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        named_by_content = path.startswith("assets/") and response.status_code in (200, 304)
        response.headers["cache-control"] = "public, max-age=31536000, immutable" if named_by_content else "no-cache"
        return response


def files(folder: Path = FILES) -> ASGIApp:
    """The application that serves the built files of a folder."""
    if (folder / "index.html").is_file():
        return _Files(directory=folder, html=True)

    def not_built(_: Any) -> Response:
        return PlainTextResponse(NOT_BUILT, 503)

    return Starlette(routes=[Route("/", not_built)])
