"""Times without discharge that stand out: between two loads, and in the middle of one."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from wetfront.delivery.loads import minutes
from wetfront.nouns.delivery import DeliveryRow
from wetfront.nouns.delivery_day import Stop, StopKind

LEAST_STOP_MIN = 10.0
"""Own rule: a shorter pause between two loads is the change of trucks."""
LEAST_LOADS_COUNT = 3
"""Own rule: the usual discharge is the middle of at least so many."""
LOG_REACH_MIN = 5.0
"""Own rule: lines of the day log so long before and after a stop are shown with it."""
_RANGE = re.compile(r"\b(\d{1,2}):(\d{2})\s*(?:to|until|–|-)\s*(\d{1,2}):(\d{2})\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One line of the day log."""

    at: dt.datetime
    role: str
    text: str


def discharged(rows: Sequence[DeliveryRow]) -> list[tuple[dt.datetime, dt.datetime, DeliveryRow]]:
    """The loads whose discharge is known, in its order."""
    found = [
        (row.load.discharge_start, row.load.discharge_end, row)
        for row in rows
        if row.load.discharge_start is not None and row.load.discharge_end is not None
    ]
    return sorted(found, key=lambda each: (each[0], each[1], each[2].line))


def stops_of(
    rows: Sequence[DeliveryRow],
    log: Sequence[LogLine],
    idle_cu_per_h: float,
    capacity_m3: float,
    late: Sequence[str] = (),
) -> tuple[Stop, ...]:
    """Every gap and every over-long discharge of at least `LEAST_STOP_MIN`, in order of time.

    `late`: tickets of loads that were long on the road.
    """
    found = [*_gaps(rows, log, idle_cu_per_h, capacity_m3, late), *_within(rows, log, idle_cu_per_h)]
    return tuple(sorted(found, key=lambda stop: (stop.start, stop.end)))


def _gaps(
    rows: Sequence[DeliveryRow], log: Sequence[LogLine], idle_cu_per_h: float, capacity_m3: float, late: Sequence[str]
) -> list[Stop]:
    found: list[Stop] = []
    done = discharged(rows)
    until: dt.datetime | None = None
    for place, (start, end, row) in enumerate(done):
        if until is not None and minutes(until, start) >= LEAST_STOP_MIN:
            last_part_load = place == len(done) - 1 and row.volume_m3 < capacity_m3
            kind, tickets = _why(rows, until, start, row, last_part_load)
            if kind is not StopKind.TRUCKS_WAITING and row.number in late:
                kind, tickets = StopKind.LATE_TRUCK, (row.number,)
            found.append(
                Stop(
                    kind=kind,
                    start=until,
                    end=start,
                    gap_min=minutes(until, start),
                    tickets=tickets,
                    known_from="the tickets",
                    exact=True,
                    cost_cu=minutes(until, start) / 60 * idle_cu_per_h,
                    log=_log_lines(log, until, start),
                )
            )
        until = end if until is None else max(until, end)
    return found


def _why(
    rows: Sequence[DeliveryRow], start: dt.datetime, end: dt.datetime, following: DeliveryRow, last_part_load: bool
) -> tuple[StopKind, tuple[str, ...]]:
    there = [
        row
        for row in rows
        if row.load.arrived is not None
        and row.load.arrived <= start
        and row.load.discharge_start is not None
        and row.load.discharge_start >= end
    ]
    if there:
        return StopKind.TRUCKS_WAITING, tuple(row.number for row in there)
    batched = following.load.ticket.batched
    missing = [
        row
        for row in rows
        if batched is not None
        and row.load.ticket.batched is not None
        and row.load.ticket.batched < batched
        and row.load.arrived is not None
        and row.load.arrived >= end
    ]
    if missing:
        return StopKind.LATE_TRUCK, tuple(row.number for row in missing)
    return StopKind.BALANCE_LOAD if last_part_load else StopKind.NO_TRUCK, (following.number,)


def _within(rows: Sequence[DeliveryRow], log: Sequence[LogLine], idle_cu_per_h: float) -> list[Stop]:
    done = discharged(rows)
    if len(done) < LEAST_LOADS_COUNT:
        return []
    usual_min_per_m3 = median(minutes(start, end) / row.volume_m3 for start, end, row in done)
    found = []
    for start, end, row in done:
        excess = minutes(start, end) - usual_min_per_m3 * row.volume_m3
        if excess < LEAST_STOP_MIN:
            continue
        span = _by_remark(row, start, end) or _by_log(log, start, end, excess)
        begins, ends, source = span or (start, end, "only its length is known, against the usual discharge")
        length = minutes(begins, ends) if span else excess
        lines = _log_lines(log, begins, ends)
        told = " ".join((row.remarks, *lines)).casefold()
        found.append(
            Stop(
                kind=StopKind.PUMP_BLOCKED if "block" in told else StopKind.WITHIN_A_LOAD,
                start=begins,
                end=ends,
                gap_min=length,
                tickets=(row.number,),
                known_from=source,
                exact=span is not None,
                cost_cu=length / 60 * idle_cu_per_h,
                log=lines,
            )
        )
    return found


_Span = tuple[dt.datetime, dt.datetime, str]


def _by_remark(row: DeliveryRow, start: dt.datetime, end: dt.datetime) -> _Span | None:
    """A range of clock times in the remark that lies within the discharge."""
    found = _RANGE.search(row.remarks)
    if found is None:
        return None
    first, last = (_on_clock(start, int(found[place]), int(found[place + 1])) for place in (1, 3))
    if first is None or last is None or not start <= first < last <= end:
        return None
    return first, last, "the remark on the ticket"


def _on_clock(after: dt.datetime, hour: int, minute: int) -> dt.datetime | None:
    """The next moment from `after` on at which the clock shows this."""
    if hour > 23 or minute > 59:
        return None
    there = after.replace(hour=hour, minute=minute, second=0)
    return there if there >= after.replace(second=0) else there + dt.timedelta(days=1)


def _by_log(log: Sequence[LogLine], start: dt.datetime, end: dt.datetime, excess_min: float) -> _Span | None:
    """First and last line of the pump's operator in the discharge, where they are as far apart as it was too long."""
    told = [line.at for line in log if "pump" in line.role.casefold() and start <= line.at <= end]
    if len(told) < 2 or abs(minutes(told[0], told[-1]) - excess_min) > LOG_REACH_MIN:
        return None
    return told[0], told[-1], "the day log"


def _log_lines(log: Sequence[LogLine], start: dt.datetime, end: dt.datetime) -> tuple[str, ...]:
    reach = dt.timedelta(minutes=LOG_REACH_MIN)
    return tuple(f"{line.at:%H:%M} {line.role}: {line.text}" for line in log if start - reach <= line.at <= end + reach)
