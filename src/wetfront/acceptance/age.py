"""Age of a delivered load at the moments that the limits count to, and the turns of its drum."""

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

from wetfront.acceptance.compare import within
from wetfront.acceptance.limits import ARRIVAL, AcceptanceLimits, ages_with_ticket
from wetfront.errors import InvalidInput
from wetfront.nouns.load import DeliveredLoad
from wetfront.nouns.verdict import Finding, LimitInForce, Outcome

DECIDE = "get the batching time from the plant, or a named person decides"


@dataclass(frozen=True, slots=True)
class _Since:
    """A moment from which the age is counted; not exact: the load is older than that."""

    begin: dt.datetime | None
    exact: bool
    words: str


@dataclass(frozen=True, slots=True)
class _End:
    """The moment that a limit counts to, with minutes that are expected on top; not exact: it was earlier."""

    moment: dt.datetime | None
    words: str
    expected_min: float = 0.0
    exact: bool = True


def age_findings(
    load: DeliveredLoad, limits: AcceptanceLimits, now: dt.datetime | None, expected_discharge_min: float
) -> tuple[list[Finding], list[str]]:
    """Judge the age by each limit, at the moment that it counts to, and the turns of the drum.

    Without a batching time the age is at least the time since the truck left the plant, or arrived: over a limit
    already it is refused, else held.
    """
    findings, not_judged = [], []
    wrong = _backwards(load, now)
    if wrong:
        findings.append(_held(f"the times contradict each other: {wrong}", None, "correct the times, or " + DECIDE))
    for limit in ages_with_ticket(limits, load.ticket.agreed_time_limit_min):
        finding = None if wrong else _judged(load, limit, now, expected_discharge_min)
        if finding is not None:
            findings.append(finding)
        elif not wrong:
            not_judged.append(f"{limit.title.lower()} ({limit.text}): the time of arrival is not known")
    if not findings and not limits.ages:
        not_judged.append("age: no limit was given for it")
    turns, count = limits.turns, load.drum_turns_count
    if turns is not None and count is None:
        not_judged.append(f"turns of the drum ({turns.text}): not counted")
    elif turns is not None and count is not None:
        met = within(count, high=turns.high)
        outcome = Outcome.ACCEPT if met else Outcome.REFUSE
        text = f"{count} turns of the drum: {turns.text}"
        findings.append(Finding(about="drum turns", outcome=outcome, text=text, value=count, limit=turns))
    return findings, not_judged


def _judged(
    load: DeliveredLoad, limit: LimitInForce, now: dt.datetime | None, expected_discharge_min: float
) -> Finding | None:
    """One limit; None where it counts from an arrival that nobody noted."""
    to_arrival = limit.counts_to.startswith(ARRIVAL)
    end = _arrival(load, now) if to_arrival else _end(load, now, expected_discharge_min)
    if limit.counts_from.startswith(ARRIVAL):
        if load.arrived is None:
            return None
        since = _Since(load.arrived, True, "on site")
    else:
        since = _batching(load)
    if since.begin is None or end.moment is None:
        missing = "batching time missing" if since.begin is None else "the time now is missing"
        return _held(f"age unknown, {missing}: {limit.text}", limit, DECIDE)
    minutes = minutes_between(since.begin, end.moment) + end.expected_min
    over = not within(minutes, high=limit.high)
    known = f"{minutes:g} min {end.words}: {limit.text}"
    if over and not end.exact:
        return _held(f"{since.words} at most {known}", limit, "find out when it arrived", minutes)
    if over or since.exact:
        outcome = Outcome.REFUSE if over else Outcome.ACCEPT
        text = f"{since.words} {'' if since.exact else 'at least '}{known}"
        return Finding(about="age", outcome=outcome, text=text, value=minutes, limit=limit)
    return _held(f"batching time missing, {since.words} at least {known}", limit, DECIDE, minutes)


def _held(text: str, limit: LimitInForce | None, next_step: str, value: float | None = None) -> Finding:
    return Finding(
        about="age", outcome=Outcome.CHECK_TEST, text=text, limit=limit, holds=True, next_step=next_step, value=value
    )


def _end(load: DeliveredLoad, now: dt.datetime | None, expected_min: float) -> _End:
    """End of discharge: as it was, else as expected from its start or from now, whichever is later."""
    if load.discharge_end is not None:
        return _End(load.discharge_end, "at the end of discharge")
    start = load.discharge_start
    if start is not None and (now is None or minutes_between(start, now) < expected_min):
        return _End(start, "at the expected end of discharge", expected_min)
    if start is not None:
        return _End(now, "now, still discharging")
    return _End(now, "at the expected end of discharge" if expected_min else "now", expected_min)


def _arrival(load: DeliveredLoad, now: dt.datetime | None) -> _End:
    """Arrival: as it was, else not later than what came after it."""
    if load.arrived is not None:
        return _End(load.arrived, "on arrival")
    return _End(load.discharge_start or load.discharge_end or now, "on arrival", exact=False)


def _batching(load: DeliveredLoad) -> _Since:
    """Begin of the age; without a batching time the first moment after it that is known, from which it is older."""
    if load.ticket.batched is not None:
        return _Since(load.ticket.batched, True, "age")
    if load.ticket.left_plant is not None:
        return _Since(load.ticket.left_plant, False, "from leaving the plant")
    return _Since(load.arrived, False, "from arrival")


def minutes_between(begin: dt.datetime, end: dt.datetime) -> float:
    """Minutes from one moment to another. InvalidInput `now` where only one of them has a time zone."""
    try:
        return (end - begin).total_seconds() / 60
    except TypeError:
        raise InvalidInput("now", "moments with and without a time zone are mixed") from None


def _backwards(load: DeliveredLoad, now: dt.datetime | None) -> str:
    """The first two moments that stand in the wrong order, in words; empty where all are in order."""
    ticket = load.ticket
    moments = [
        ("batching", ticket.batched),
        ("leaving the plant", ticket.left_plant),
        ("arrival", load.arrived),
        ("begin of discharge", load.discharge_start),
        ("end of discharge", load.discharge_end),
        ("now", now),
    ]
    known = [(name, moment) for name, moment in moments if moment is not None]
    for (before, first), (after, second) in pairwise(known):
        if minutes_between(first, second) < 0:
            return f"{after} {second:%H:%M} is before {before} {first:%H:%M}"
    return ""
