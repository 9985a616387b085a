"""The running pour: its plan, its board, what-if questions, and a stream that tells when to look again."""

import json
from collections.abc import AsyncIterator
from functools import cache
from typing import Annotated, Any

from fastapi import APIRouter, Body, Header, Request
from fastapi.responses import Response, StreamingResponse
from pydantic import BaseModel, Field, TypeAdapter

from wetfront.api.site import Site
from wetfront.desk.board import answer, board_of
from wetfront.dossier.document import plan_document
from wetfront.nouns.board import Board, Comparison, Question

router = APIRouter(prefix="/api/pours/{pour}", tags=["live"])
PING_S = 15.0
"""A stream says that it is alive at least so often, so that a phone notices a dead network."""


class PlanAnswer(BaseModel):
    """The plan, or how far it is."""

    state: str = Field(description="ready, planning or failed")
    share: float = Field(description="of the search, from 0 to 1")
    words: str = Field(description="how far the search is, or why there is no plan")
    revision: str
    plan: dict[str, Any] | None = Field(description="as plan.json; see docs/plan.schema.json")


@router.get("/plan")
def plan(pour: str, request: Request) -> PlanAnswer:
    """The plan of a pour. Asking for it begins the search where there is none yet."""
    site: Site = request.app.state.site
    found = site.plan(site.pour(pour))
    word = "ready" if found.plan is not None else "failed" if found.failed else "planning"
    document = None if found.plan is None else plan_document(found.plan)
    return PlanAnswer(state=word, share=found.share, words=found.words, revision=found.revision, plan=document)


@router.get("/board", response_model=Board, responses={304: {"description": "It is the board that you have"}})
def board(pour: str, request: Request, if_none_match: Annotated[str | None, Header()] = None) -> Response:
    """All that the app shows of a pour, as it stands now."""
    site: Site = request.app.state.site
    served, now = site.pour(pour), site.now()
    state, number = site.state(pour)
    planned = site.plan(served)
    tag = f'"{number}-{planned.key[:8]}-{planned.stamp[:40].replace(" ", "")}-{int(now.timestamp() // 60)}"'
    headers = {"etag": tag.encode("ascii", "replace").decode(), "cache-control": "no-cache"}
    if if_none_match is not None and headers["etag"] in if_none_match:
        return Response(status_code=304, headers=headers)
    kept = site.boards.get(pour)
    if kept is None or kept[0] != headers["etag"]:
        basis = site.basis(served, planned)
        made = board_of(basis, state, number, now, site.forecaster(basis))
        kept = (headers["etag"], as_json(made))
        site.boards[pour] = kept
    return Response(kept[1], media_type="application/json", headers=headers)


def as_json(made: Board) -> bytes:
    """A board as it is given out."""
    return _board_type().dump_json(made)


@cache
def _board_type() -> TypeAdapter[Board]:
    return TypeAdapter(Board)


@router.post("/what-if")
def what_if(pour: str, question: Annotated[Question, Body(embed=True)], request: Request) -> Comparison:
    """Compare the ways to go on, on the same draws. 422 without a plan, or where the question lacks its figure."""
    site: Site = request.app.state.site
    served, now = site.pour(pour), site.now()
    state, _ = site.state(pour)
    basis = site.basis(served, site.plan(served))
    return answer(basis, site.forecaster(basis), state, question, now)


@router.get("/stream", response_class=StreamingResponse)
async def stream(pour: str, request: Request) -> StreamingResponse:
    """Server-sent events: `record` with the number of the last record when it grows, `board` when to fetch it anew."""
    site: Site = request.app.state.site
    site.pour(pour)

    async def told() -> AsyncIterator[str]:
        number, seen = -1, -1
        while not site.pulse.stopping and not await request.is_disconnected():
            latest = site.pulse.numbers.get(pour, 0)
            if latest != number:
                number = latest
                yield f"event: record\ndata: {json.dumps({'last_number': number})}\n\n"
            if (stamp := hash((site.pulse.changes, number, int(site.now().timestamp() // 60)))) != seen:
                seen = stamp
                yield f"event: board\ndata: {json.dumps({'last_number': number})}\n\n"
            else:
                yield ": still here\n\n"
            await site.pulse.wait(max(1.0, min(PING_S, 60.0 / site.speed)))

    return StreamingResponse(told(), media_type="text/event-stream", headers={"cache-control": "no-store"})
