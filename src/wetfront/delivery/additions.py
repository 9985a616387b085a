"""Who agreed to water or admixture on site, where the day log tells it and the ticket file has no column for it."""

import re
from collections.abc import Sequence
from dataclasses import replace

from wetfront.delivery.stops import LogLine
from wetfront.nouns.delivery import DeliveryRow
from wetfront.nouns.load import DeliveredLoad

PRODUCER_ROLES = ("supplier", "producer", "plant")
"""Beginnings of the words by which a log names people of the producer."""
_ADDED = re.compile(r"plus|add|dos|water|litre|liter|admixture|plastici[sz]er|\d\s*l\b", re.IGNORECASE)


def with_log(row: DeliveryRow, log: Sequence[LogLine]) -> DeliveredLoad:
    """The load with time and producer's role of its additions, from a log line that names this very ticket.

    The line must be by a role of the producer, between arrival and the end of discharge, and speak of adding. An
    addition whose agreement is known already stays as it is.
    """
    load = row.load
    if not load.additions or load.arrived is None:
        return load
    number = re.compile(rf"(?<!\w){re.escape(row.number)}(?!\w)")
    told = [
        line
        for line in log
        if load.arrived <= line.at
        and (load.discharge_end is None or line.at <= load.discharge_end)
        and line.role.casefold().startswith(PRODUCER_ROLES)
        and number.search(line.text)
        and _ADDED.search(number.sub("", line.text))
    ]
    if not told:
        return load
    first = told[0]
    additions = tuple(
        each if each.agreed_by else replace(each, agreed_by=first.role, at=first.at) for each in load.additions
    )
    return replace(load, additions=additions)
