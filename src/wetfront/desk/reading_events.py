"""Readings of sensors as entries of the record. The same reading again adds nothing; another value is a clash."""

import datetime as dt
import hashlib

from wetfront.journal.event import Event
from wetfront.journal.kinds import TemperatureRead, kind_of, payload_of

DEVICE, ROLE = "readings-file", "read from a logger"


def reading_entry(pour: str, sensor: str, at: dt.datetime, value_c: float) -> Event:
    """One reading as an entry."""
    name = hashlib.sha256("\n".join((pour, sensor, at.astimezone(dt.UTC).isoformat())).encode()).hexdigest()[:40]
    fact = TemperatureRead(sensor=sensor, value_c=value_c)
    kind, schema = kind_of(fact)
    return Event(
        id=f"reading-{name}",
        pour=pour,
        kind=kind,
        schema=schema,
        at=at,
        recorded=at,
        device=DEVICE,
        role=ROLE,
        payload=payload_of(fact),
    )
