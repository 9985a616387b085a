"""Journals in a database: append events, read them back with their chain, keep photos."""

import datetime as dt
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection, Engine, insert, select, update

from wetfront.errors import InvalidInput
from wetfront.journal.chain import FIRST, Record, sealed
from wetfront.journal.event import Event, body_hash, body_of, canonical, event_of
from wetfront.store.database import writing
from wetfront.store.tables import ATTACHMENTS, JOURNALS, RECORDS

Outcome = Literal["new", "known", "clash"]
LARGEST_ATTACHMENT_BYTES = 10_000_000
IDS_AT_ONCE = 500
"""Ids in one question to the database."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What became of an event that was sent in."""

    event_id: str
    outcome: Outcome
    """`known`: it was there already. `clash`: its id was there with another body; both are kept."""
    number: int


class Journals:
    """The journals of all pours in one database. An event that was told to be kept is on disk."""

    def __init__(self, engine: Engine):
        self._engine = engine

    def append(self, events: Sequence[Event], received: dt.datetime, skew_s: int = 0) -> list[Kept]:
        """Keep events, in their order, all or none; one answer for each. Repeats are recognised.

        `skew_s`: how far the sending device's clock is ahead of ours.
        """
        with writing(self._engine) as connection:
            # Always in one order, so that two writers never wait for each other.
            ends = {pour: _locked_end(connection, pour) for pour in sorted({event.pour for event in events})}
            known = _known(connection, [event.id for event in events])
            kept: list[Kept] = []
            rows: list[dict[str, object]] = []
            for event in events:
                digest, there = body_hash(event), known.setdefault(event.id, {})
                if digest in there:
                    kept.append(Kept(event.id, "known", there[digest]))
                    continue
                number, seal = ends[event.pour]
                record = sealed(event, received, number + 1, seal, skew_s)
                kept.append(Kept(event.id, "clash" if there else "new", record.number))
                there[digest] = record.number
                ends[event.pour] = (record.number, record.seal)
                rows.append(_row(record, digest))
            if rows:
                connection.execute(insert(RECORDS), rows)
            for pour, (number, seal) in ends.items():
                values = {"last_number": number, "last_seal": seal}
                connection.execute(update(JOURNALS).where(JOURNALS.c.pour == pour).values(values))
        return kept

    def outcomes(self, events: Sequence[Event]) -> list[Outcome]:
        """What `append` would answer for each; nothing is kept."""
        found: list[Outcome] = []
        with self._engine.connect() as connection:
            for event in events:
                query = select(RECORDS.c.body_hash).where(RECORDS.c.event_id == event.id)
                there = connection.execute(query).scalars().all()
                found.append("known" if body_hash(event) in there else "clash" if there else "new")
        return found

    def records(self, pour: str, after: int = 0) -> list[Record]:
        """The records of a pour behind a number, in order."""
        query = select(RECORDS).where(RECORDS.c.pour == pour, RECORDS.c.number > after).order_by(RECORDS.c.number)
        with self._engine.connect() as connection:
            rows = connection.execute(query).all()
        return [
            Record(
                number=row.number,
                received=dt.datetime.fromisoformat(row.received),
                skew_s=row.skew_s,
                event=event_of(json.loads(row.body)),
                previous=row.previous,
                seal=row.seal,
            )
            for row in rows
        ]

    def last_number(self, pour: str) -> int:
        """Number of a pour's last record; 0 where it has none."""
        with self._engine.connect() as connection:
            found = connection.execute(select(JOURNALS.c.last_number).where(JOURNALS.c.pour == pour)).scalar()
        return int(found or 0)

    def pours(self) -> dict[str, int]:
        """Every pour that has a journal, with the number of its last record."""
        with self._engine.connect() as connection:
            rows = connection.execute(select(JOURNALS.c.pour, JOURNALS.c.last_number).order_by(JOURNALS.c.pour)).all()
        return {row.pour: row.last_number for row in rows}

    def keep_attachment(self, content: bytes, media_type: str) -> str:
        """Keep a photo; its SHA-256. InvalidInput where it is empty or too large."""
        if not 0 < len(content) <= LARGEST_ATTACHMENT_BYTES:
            most = LARGEST_ATTACHMENT_BYTES // 1_000_000
            raise InvalidInput("photo", f"the photo has {len(content)} bytes; allowed: 1 byte to {most} MB")
        digest = hashlib.sha256(content).hexdigest()
        with writing(self._engine) as connection:
            there = connection.execute(select(ATTACHMENTS.c.sha256).where(ATTACHMENTS.c.sha256 == digest)).first()
            if there is None:
                values = {"sha256": digest, "media_type": media_type, "size_bytes": len(content), "content": content}
                connection.execute(insert(ATTACHMENTS).values(values))
        return digest

    def attachment(self, sha256: str) -> tuple[bytes, str] | None:
        """A photo and its media type; None where it is not there (yet)."""
        query = select(ATTACHMENTS.c.content, ATTACHMENTS.c.media_type).where(ATTACHMENTS.c.sha256 == sha256)
        with self._engine.connect() as connection:
            row = connection.execute(query).first()
        return None if row is None else (bytes(row.content), row.media_type)


def _known(connection: Connection, ids: Sequence[str]) -> dict[str, dict[str, int]]:
    """The bodies that are there under these ids: hash of the body -> number of its record."""
    found: dict[str, dict[str, int]] = {}
    for first in range(0, len(ids), IDS_AT_ONCE):
        query = select(RECORDS.c.event_id, RECORDS.c.body_hash, RECORDS.c.number).where(
            RECORDS.c.event_id.in_(ids[first : first + IDS_AT_ONCE])
        )
        for row in connection.execute(query):
            found.setdefault(row.event_id, {})[row.body_hash] = row.number
    return found


def _row(record: Record, digest: str) -> dict[str, object]:
    event = record.event
    return {
        "pour": event.pour,
        "number": record.number,
        "event_id": event.id,
        "body_hash": digest,
        "body": canonical(body_of(event)),
        "received": record.received.isoformat(),
        "skew_s": record.skew_s,
        "previous": record.previous,
        "seal": record.seal,
    }


def _locked_end(connection: Connection, pour: str) -> tuple[int, str]:
    """Number and seal of a pour's last record, held until the transaction ends. A new pour gets its journal."""
    query = select(JOURNALS.c.last_number, JOURNALS.c.last_seal).where(JOURNALS.c.pour == pour).with_for_update()
    row = connection.execute(query).first()
    if row is None:
        if connection.dialect.name == "postgresql":
            from sqlalchemy.dialects.postgresql import insert as insert_once

            # Two writers may begin a journal at the same moment: the second waits, then finds the first one's row.
            values = {"pour": pour, "last_number": 0, "last_seal": FIRST}
            connection.execute(insert_once(JOURNALS).values(values).on_conflict_do_nothing())
            row = connection.execute(query).first()
        else:
            connection.execute(insert(JOURNALS).values(pour=pour, last_number=0, last_seal=FIRST))
            return 0, FIRST
    if row is None:
        raise RuntimeError(f"the journal of {pour} could not be begun")
    return row.last_number, row.last_seal
