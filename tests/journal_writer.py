"""Writes events one by one and notes each id once the store has acknowledged it; to be killed at any moment."""

import datetime as dt
import sys

from sqlalchemy import make_url

from wetfront.journal import Event
from wetfront.store import Journals, opened

address, turn, told = sys.argv[1:]
journals = Journals(opened(make_url(address)))
moment = dt.datetime(2027, 6, 17, 9, 0, tzinfo=dt.UTC)
with open(told, "a", encoding="utf-8", buffering=1) as list_of_told:
    for number in range(100_000):
        name = f"{turn}-{number}"
        noted = Event(
            id=name,
            pour="slab",
            kind="noted",
            at=moment,
            recorded=moment,
            device="phone",
            role="tester",
            payload={"text": name},
        )
        journals.append([noted], moment)
        list_of_told.write(f"{name}\n")
