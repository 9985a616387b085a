"""Loads, orders and limits for the tests of acceptance: a good load that single facts are changed of."""

import datetime as dt
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from wetfront.acceptance import AcceptanceLimits, acceptance_limits, ordered
from wetfront.intake import read_sheet
from wetfront.nouns.load import DeliveredLoad, FreshTests, Order, Ticket
from wetfront.nouns.sheet import PourSheet

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
DAY = dt.date(2027, 6, 17)


def at(clock: str) -> dt.datetime:
    """A moment of the invented day."""
    return dt.datetime.combine(DAY, dt.time.fromisoformat(clock), dt.timezone(dt.timedelta(hours=1)))


@cache
def slab() -> PourSheet:
    return read_sheet(TARNWICK / "slab.toml").sheet


def order(**changed: Any) -> Order:
    return replace(ordered("S1", slab().mix["S1"]), **changed)


def limits(asked: Order | None = None, **own: Any) -> AcceptanceLimits:
    """Limits of the slab, with other figures in its specification."""
    specification = replace(slab().specification, **own)
    return acceptance_limits(specification, slab().trucks, asked or order(), slab().element)


def ticket(**changed: Any) -> Ticket:
    base = Ticket(ticket_number="1", volume_m3=8.0, mix="S1", batched=at("09:00"), left_plant=at("09:10"))
    return replace(base, **changed)


def load(**changed: Any) -> DeliveredLoad:
    """A good load, 62 min old at the end of its discharge; tests of it by `tests=`."""
    base = DeliveredLoad(
        ticket=ticket(),
        arrived=at("09:38"),
        discharge_start=at("09:48"),
        discharge_end=at("10:02"),
        tests=FreshTests(slump_mm=130.0, concrete_temperature_c=22.0),
    )
    return replace(base, **changed)
