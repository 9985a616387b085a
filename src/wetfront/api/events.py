"""Take events from devices, each answered by itself, and give records back; nothing acknowledged is ever lost."""

import datetime as dt
from typing import Any

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, ConfigDict, Field

from wetfront.api.problems import Refusal, told
from wetfront.api.site import Site
from wetfront.intake.event_json import MOST_AT_ONCE, sorted_events
from wetfront.journal.chain import Record, first_break
from wetfront.journal.event import body_of

router = APIRouter(prefix="/api/pours/{pour}", tags=["record"])


class Sent(BaseModel):
    """What a device sends: its entries and its clock."""

    model_config = ConfigDict(extra="forbid")
    device_now: dt.datetime | None = Field(default=None, description="the device's clock, with offset")
    events: list[Any] = Field(max_length=MOST_AT_ONCE)


class Answered(BaseModel):
    """What became of one entry."""

    id: str
    outcome: str = Field(description="new, known, clash or refused")
    number: int | None = None
    errors: list[dict[str, Any]] = []


class Answer(BaseModel):
    """What became of each entry, in the order in which they were sent."""

    results: list[Answered]
    skew_s: int = Field(description="how far the device's clock is ahead of the server's")
    last_number: int


@router.post("/events")
def keep(pour: str, sent: Sent, request: Request) -> Answer:
    """Keep entries. A refused one is answered with its mistakes and holds up no other."""
    site: Site = request.app.state.site
    site.pour(pour)
    if sent.device_now is not None and sent.device_now.tzinfo is None:
        raise Refusal(422, "The request has mistakes", errors=[{"key": "device_now", "message": "has no offset"}])
    now = site.now()
    found = sorted_events(pour, sent.events, sent.device_now, now)
    kept = iter(site.journals.append(found.taken, now, found.skew_s) if found.taken else ())
    refused = {each.place: each for each in found.refused}
    results = []
    for place in range(len(sent.events)):
        if place in refused:
            bad = refused[place]
            results.append(Answered(id=bad.event_id, outcome="refused", errors=[told(one) for one in bad.problems]))
        else:
            one = next(kept)
            results.append(Answered(id=one.event_id, outcome=one.outcome, number=one.number))
    if found.taken:
        site.tell()
    return Answer(results=results, skew_s=found.skew_s, last_number=site.journals.last_number(pour))


@router.get("/records")
def records(pour: str, request: Request, after: int = Query(default=0, ge=0)) -> dict[str, Any]:
    """Records behind a number, with their seals, and whether the chain holds up to there."""
    site: Site = request.app.state.site
    site.pour(pour)
    found = site.journals.records(pour)
    broken = first_break(found)
    return {
        "records": [_as_json(record) for record in found if record.number > after],
        "chain": "holds" if broken is None else broken.what,
    }


def _as_json(record: Record) -> dict[str, Any]:
    return {
        "number": record.number,
        "received": record.received.isoformat(),
        "skew_s": record.skew_s,
        "event": body_of(record.event),
        "previous": record.previous,
        "seal": record.seal,
    }
