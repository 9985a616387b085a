"""Errors as problem details (RFC 9457): what is wrong, by which key, what was found and what is allowed."""

from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from sqlalchemy.exc import InterfaceError, OperationalError
from starlette.exceptions import HTTPException

from wetfront.errors import InvalidInput, Problem, SheetError, WetfrontError

MEDIA_TYPE = "application/problem+json"
TRY_AGAIN_S = 2
NOTHING_KEPT = "Nothing of this request was kept."
SEND_AGAIN = "Whether entries of this request were kept is not known: send them again, each counts once."


class Refusal(Exception):
    """A request that is answered by a problem."""

    def __init__(self, status: int, title: str, detail: str = "", errors: Sequence[dict[str, Any]] = ()):
        self.status, self.title, self.detail, self.errors = status, title, detail, tuple(errors)
        super().__init__(title)


def problem(status: int, title: str, detail: str = "", errors: Sequence[dict[str, Any]] = ()) -> JSONResponse:
    """The answer. `errors` names keys, as JSON of `told`."""
    body: dict[str, Any] = {"type": "about:blank", "title": title, "status": status}
    if detail:
        body["detail"] = detail
    if errors:
        body["errors"] = list(errors)
    return JSONResponse(body, status, media_type=MEDIA_TYPE)


def told(one: Problem) -> dict[str, Any]:
    """A mistake as JSON."""
    parts = {"key": one.key, "found": one.found, "allowed": one.allowed, "nearest": one.nearest, "file": one.file}
    return {key: value for key, value in parts.items() if value}


def add_problem_answers(app: FastAPI) -> None:
    """Answer every error of the application in this one shape; never with a stack or a path."""

    @app.exception_handler(Refusal)
    async def _refusal(_: Request, error: Refusal) -> JSONResponse:
        return problem(error.status, error.title, error.detail, error.errors)

    @app.exception_handler(WetfrontError)
    async def _ours(_: Request, error: WetfrontError) -> JSONResponse:
        if isinstance(error, SheetError):
            return problem(422, "The file has mistakes", errors=[told(each) for each in error.problems])
        key = error.key if isinstance(error, InvalidInput) else ""
        errors = [{"key": key, "message": error.message}] if key else []
        return problem(422, "The input has a mistake", error.message, errors)

    @app.exception_handler(RequestValidationError)
    async def _request(_: Request, error: RequestValidationError) -> JSONResponse:
        errors = [
            {"key": ".".join(str(part) for part in each["loc"][1:]) or str(each["loc"][0]), "message": each["msg"]}
            for each in error.errors()
        ]
        broken = next((each for each in error.errors() if each["type"] == "json_invalid"), None)
        if broken is not None:
            detail = f"at letter {broken['loc'][1]}: {broken['ctx']['error']}. {NOTHING_KEPT}"
            return problem(400, "The body is not JSON", detail)
        return problem(422, "The request has mistakes", errors=errors)

    @app.exception_handler(HTTPException)
    async def _http(_: Request, error: HTTPException) -> JSONResponse:
        if error.status_code == 400:
            return problem(400, "The body cannot be read", f"{error.detail}. {NOTHING_KEPT}")
        return problem(error.status_code, str(error.detail))

    @app.exception_handler(OperationalError)
    @app.exception_handler(InterfaceError)
    async def _away(_: Request, error: Exception) -> JSONResponse:
        answer = problem(503, "The record cannot be reached", f"The database is away, full or busy. {SEND_AGAIN}")
        answer.headers["retry-after"] = f"{TRY_AGAIN_S}"
        return answer

    @app.exception_handler(Exception)
    async def _fault(_: Request, error: Exception) -> JSONResponse:
        return problem(500, "A fault of the program", f"It is not your input. {SEND_AGAIN}")
