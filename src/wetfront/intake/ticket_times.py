"""Clock times of a ticket as moments: over midnight, through a change of the clocks, and never backwards."""

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

LONGEST_STEP_H = 8.0
"""Own rule: from one entry of a ticket to the next a truck takes no longer; a longer step is a slip of the pen."""
_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))?")
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}\S*")
SKIPPED = "a time that the clocks show: they go forward over this hour"
ALLOWED_TIME = "a local time such as 07:20, or with its day such as 2027-06-17T07:20"


class NotATime(ValueError):
    """Text that is no time; the message says what is allowed."""


@dataclass(frozen=True, slots=True)
class Read:
    """A time as it was read: a clock time, or a moment that names its own day."""

    text: str
    clock: dt.time | None = None
    moment: dt.datetime | None = None
    corrected: str = ""
    """Why the text was read as something else than it says; empty where it was not."""


@dataclass(slots=True)
class Placed:
    """The moments of one ticket by column, what was changed, and what is wrong."""

    moments: dict[str, dt.datetime] = field(default_factory=dict)
    corrections: list[tuple[str, str, str, str]] = field(default_factory=list)
    """Column, text, read as, why."""
    mistakes: list[tuple[str, str, str]] = field(default_factory=list)
    """Column, found, allowed."""


def read_time(text: str) -> Read:
    """A cell as a time. NotATime where it is none.

    >>> read_time("7:05").clock
    datetime.time(7, 5)
    """
    clock = _CLOCK.fullmatch(text)
    if clock is not None:
        try:
            time = dt.time(int(clock[1]), int(clock[2]), int(clock[3] or 0))
        except ValueError:
            if (int(clock[1]), int(clock[2])) == (24, 0):
                return Read(text, clock=dt.time(0, 0), corrected="24:00 is midnight")
            raise NotATime(ALLOWED_TIME) from None
        plain = text == f"{time:%H:%M}" or text == f"{time:%H:%M:%S}"
        return Read(text, clock=time, corrected="" if plain else "written as hh:mm")
    if _MOMENT.fullmatch(text):
        try:
            moment = dt.datetime.fromisoformat(text)
        except ValueError:
            raise NotATime(ALLOWED_TIME) from None
        if 2000 <= moment.year < 2100:
            return Read(text, moment=moment)
    raise NotATime(ALLOWED_TIME)


def placed(times: Mapping[str, Read], day: dt.date, earliest: dt.datetime | None, zone: dt.tzinfo) -> Placed:
    """The times of one ticket, in the order of its columns, as moments with offset.

    The first clock time lies on `day`, or where `earliest` is given in the 24 hours from there on. Each further one is
    the next such time on the clock, at most `LONGEST_STEP_H` later: what seems to go further goes backwards, and is a
    mistake. An hour that the clocks run through twice is the first of the two unless that would go backwards, so
    that an age is rather too long; an hour that they skip is a mistake.
    """
    found = Placed()
    before: tuple[str, dt.datetime] | None = None
    for column, read in times.items():
        if read.corrected and read.clock is not None:
            found.corrections.append((column, read.text, f"{read.clock:%H:%M}", read.corrected))
        moment = _one(column, read, day, earliest, before, zone, found)
        if moment is not None:
            found.moments[column] = moment
            before = (column, moment)
    return found


def _one(
    column: str,
    read: Read,
    day: dt.date,
    earliest: dt.datetime | None,
    before: tuple[str, dt.datetime] | None,
    zone: dt.tzinfo,
    found: Placed,
) -> dt.datetime | None:
    days = _days(day, earliest, before)
    options = _moments(read, days, zone)
    skipped = any(not _moments(read, [each], zone) for each in days)
    if not options:
        found.mistakes.append((column, repr(read.text), SKIPPED))
        return None
    longest = dt.timedelta(hours=LONGEST_STEP_H)
    if before is None:
        inside = [each for each in options if earliest is None or earliest <= each < earliest + dt.timedelta(days=1)]
        chosen = min(inside or options)
    else:
        onward = [each for each in options if dt.timedelta(0) <= each - before[1] <= longest]
        if not onward:
            last = f"{before[0]} {before[1]:%H:%M}"
            allowed = f"a time from {last} on, at most {LONGEST_STEP_H:g} h later"
            found.mistakes.append((column, repr(read.text), SKIPPED if skipped else allowed))
            return None
        chosen = min(onward)
        if chosen.date() > before[1].date() and read.clock is not None:
            found.corrections.append((column, read.text, f"{chosen:%Y-%m-%d %H:%M}", f"after midnight of {before[0]}"))
    twice = len({each for each in options if each.replace(tzinfo=None) == chosen.replace(tzinfo=None)}) > 1
    if twice:
        why = "the clocks show this hour twice; the first that does not go backwards"
        found.corrections.append((column, read.text, chosen.isoformat(timespec="minutes"), why))
    return chosen


def _days(day: dt.date, earliest: dt.datetime | None, before: tuple[str, dt.datetime] | None) -> list[dt.date]:
    if before is not None:
        first = before[1].date()
    elif earliest is not None:
        first = earliest.date()
    else:
        return [day]
    return [first, first + dt.timedelta(days=1)]


def _moments(read: Read, days: list[dt.date], zone: dt.tzinfo) -> list[dt.datetime]:
    """Every moment that the clocks of the zone show so, each with its offset."""
    if read.moment is not None and read.moment.tzinfo is not None:
        return [_fixed(read.moment.astimezone(zone))]
    walls = (
        [read.moment]
        if read.moment is not None
        else [dt.datetime.combine(each, read.clock) for each in days if read.clock]
    )
    found = []
    for wall in walls:
        for fold in (0, 1):
            there = wall.replace(tzinfo=zone, fold=fold)
            back = there.astimezone(dt.UTC).astimezone(zone)
            if back.replace(tzinfo=None, fold=0) == wall and _fixed(there) not in found:
                found.append(_fixed(there))
    return found


def _fixed(moment: dt.datetime) -> dt.datetime:
    """With a fixed offset: differences of moments are then real time, also in the night when clocks change."""
    offset = moment.utcoffset() or dt.timedelta(0)
    return moment.replace(tzinfo=dt.timezone(offset), fold=0)
