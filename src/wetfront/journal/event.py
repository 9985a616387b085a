"""One event: what was seen or decided, by whom, where and when, in a shape that never changes once written.

An event holds facts and decisions, and of computed figures only what a person saw when deciding. It has a kind's name
and a schema number, never the path of a class, so that any later program can read it.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from annotated_types import Ge, Le, Len

Identifier = Annotated[str, Len(1, 64)]
Role = Annotated[str, Len(1, 60)]
Person = Annotated[str, Len(0, 80)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A fact or a decision. `payload` holds plain JSON values; `kinds.fact_of` gives it its type."""

    id: Identifier
    """Made on the device: the same event sent twice is the same event."""
    pour: Identifier
    kind: Identifier
    schema: Annotated[int, Ge(1), Le(1000)] = 1
    at: dt.datetime
    """When it happened, with offset."""
    recorded: dt.datetime
    """The device's clock when it was written down, with offset."""
    device: Identifier
    role: Role
    person: Person = ""
    payload: Mapping[str, Any] = field(default_factory=dict)
    corrects: Annotated[str, Len(0, 64)] = ""
    """Id of the event that this one takes the place of; the old one stays and is shown beside it."""
    reason: Annotated[str, Len(0, 400)] = ""
    """Why it was corrected or withdrawn."""
    program: Annotated[str, Len(0, 60)] = ""
    rule_book: Annotated[str, Len(0, 120)] = ""
    """Rule book and edition in force when a decision was made."""
    seen: Mapping[str, Any] = field(default_factory=dict)
    """Figures that the person had before them when deciding, by name."""


def body_of(event: Event) -> dict[str, Any]:
    """The event as plain JSON values: what is hashed, stored and sent. Moments keep their offset."""
    body: dict[str, Any] = {
        "id": event.id,
        "pour": event.pour,
        "kind": event.kind,
        "schema": event.schema,
        "at": event.at.isoformat(),
        "recorded": event.recorded.isoformat(),
        "device": event.device,
        "role": event.role,
        "payload": dict(event.payload),
    }
    rest = {
        "person": event.person,
        "corrects": event.corrects,
        "reason": event.reason,
        "program": event.program,
        "rule_book": event.rule_book,
        "seen": dict(event.seen),
    }
    return body | {key: value for key, value in rest.items() if value}


def event_of(body: Mapping[str, Any]) -> Event:
    """The event of a stored body. Foreign bodies are checked at the border before they come here."""
    moments = {key: dt.datetime.fromisoformat(body[key]) for key in ("at", "recorded")}
    return Event(**{**body, **moments})


def canonical(body: Mapping[str, Any]) -> str:
    """The one text of a body: sorted keys, no spaces, no figure that is not finite (ValueError)."""
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def body_hash(event: Event) -> str:
    """SHA-256 of the canonical body, in hex."""
    return hashlib.sha256(canonical(body_of(event)).encode()).hexdigest()
