"""Read tickets and readings from a file into the record; with `preview`, only say what it would give."""

from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool

from wetfront.api.problems import Refusal
from wetfront.api.site import Served, Site
from wetfront.desk.reading_events import reading_entry
from wetfront.desk.ticket_events import DEVICE, entries_of
from wetfront.errors import Problem
from wetfront.intake.event_json import MOST_AT_ONCE, sorted_events
from wetfront.intake.readings_csv import read_readings
from wetfront.intake.tickets_csv import MOST_BYTES, read_tickets
from wetfront.journal.event import Event, body_of
from wetfront.planning.day import zone_of

router = APIRouter(prefix="/api/pours/{pour}/import", tags=["import"])
Name = Annotated[str, Query(max_length=120, description="name of the file, for messages")]
Preview = Annotated[bool, Query(description="true: keep nothing")]


class FileRow(BaseModel):
    """One row of a ticket file and what became of it."""

    line: int
    ticket_number: str
    state: str
    reason: str


class LeftOut(BaseModel):
    """What is not taken into the record, and why."""

    what: str
    reason: str


class Imported(BaseModel):
    """What a file gives, or has given."""

    preview: bool
    entries: int = Field(description="entries of the record that the file holds")
    new: int = Field(description="of these, new ones; with preview those that would be")
    known: int = Field(description="in the record already")
    clashes: int = Field(description="in the record with another content: both are kept and shown")
    rows: list[FileRow] = []
    left_out: list[LeftOut] = []
    mistakes: list[str] = []
    corrections: list[str] = []
    unknown_columns: list[str] = []
    last_number: int


@router.post("/tickets", openapi_extra={"requestBody": {"content": {"text/csv": {}, "application/octet-stream": {}}}})
async def tickets(pour: str, request: Request, name: Name = "tickets", preview: Preview = True) -> Imported:
    """Delivery tickets, CSV or XLSX, as `wetfront tickets` reads them. The same file again adds nothing."""
    data = await _content(request)
    return await run_in_threadpool(_tickets, request.app.state.site, pour, data, name, preview)


@router.post("/readings", openapi_extra={"requestBody": {"content": {"text/csv": {}, "application/octet-stream": {}}}})
async def readings(pour: str, request: Request, name: Name = "readings", preview: Preview = True) -> Imported:
    """Readings of temperature sensors, CSV or XLSX: time_local, then one column a sensor, ending in _c."""
    data = await _content(request)
    return await run_in_threadpool(_readings, request.app.state.site, pour, data, name, preview)


async def _content(request: Request) -> bytes:
    content = bytearray()
    async for part in request.stream():
        content += part
        if len(content) > MOST_BYTES:
            raise Refusal(413, "The file is too large", f"at most {MOST_BYTES // 1_000_000} MB")
    if not content:
        raise Refusal(422, "The file is empty", "send its bytes as the body of the request")
    return bytes(content)


def _tickets(site: Site, pour: str, data: bytes, name: str, preview: bool) -> Imported:
    served = site.pour(pour)
    sheet = served.checked.sheet
    rows, reading = read_tickets(data, name, sheet.pour, zone_of(sheet.project.time_zone), served.pour)
    state, _ = site.state(pour)
    by_people = {
        load.ticket_number for load in state.loads if load.arrived is not None and load.arrived.event.device != DEVICE
    }
    mine = [row for row in rows if row.pour == pour]
    found = entries_of(pour, mine, sheet.sampling.specimens_per_sample_count, by_people)
    answer = _kept(site, served, found.events, preview)
    answer.rows = [
        FileRow(line=each.line, ticket_number=each.ticket_number, state=each.state.value, reason=each.reason)
        for each in reading.rows
    ]
    answer.left_out += [LeftOut(what=ticket, reason=why) for ticket, why in found.left_out]
    answer.left_out += [LeftOut(what=row.number, reason=f"is of {row.pour}") for row in rows if row.pour != pour]
    answer.mistakes = list(reading.mistakes)
    answer.corrections = [
        f"line {each.line}, {each.column}: {each.found} read as {each.read_as} ({each.why})"
        for each in reading.corrections
    ]
    answer.unknown_columns = list(reading.unknown_columns)
    return answer


def _readings(site: Site, pour: str, data: bytes, name: str, preview: bool) -> Imported:
    served = site.pour(pour)
    found, wrong = read_readings(data, name, zone_of(served.checked.sheet.project.time_zone))
    entries = [reading_entry(pour, each.sensor, each.at, each.value_c) for each in found]
    answer = _kept(site, served, entries, preview)
    answer.mistakes = list(wrong)
    return answer


def _kept(site: Site, served: Served, events: Sequence[Event], preview: bool) -> Imported:
    """Through the same border as what devices send; nothing of a preview is kept."""
    pour, now = served.pour.id, site.now()
    sorted_out = sorted_events(pour, [body_of(event) for event in events], None, now)
    left_out = [LeftOut(what=_name(events[bad.place]), reason=_why(bad.problems)) for bad in sorted_out.refused]
    outcomes: list[str] = []
    for start in range(0, len(sorted_out.taken), MOST_AT_ONCE):
        some = sorted_out.taken[start : start + MOST_AT_ONCE]
        if preview:
            outcomes += site.journals.outcomes(some)
        else:
            outcomes += [each.outcome for each in site.journals.append(some, now)]
    if not preview and sorted_out.taken:
        site.tell()
    return Imported(
        preview=preview,
        entries=len(events),
        new=outcomes.count("new"),
        known=outcomes.count("known"),
        clashes=outcomes.count("clash"),
        left_out=left_out,
        last_number=site.journals.last_number(pour),
    )


def _name(event: Event) -> str:
    payload: dict[str, Any] = dict(event.payload)
    return str(payload.get("ticket_number") or payload.get("sensor") or event.id)


def _why(problems: Sequence[Problem]) -> str:
    return "; ".join(f"{each.key}: {each.found}; allowed: {each.allowed}" for each in problems)
