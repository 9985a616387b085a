"""What is printed of a programme: one screen, programme.json, programme.ics."""

import datetime as dt
import json
import textwrap
import uuid
from collections.abc import Sequence
from typing import NamedTuple

from icalendar import Calendar, Event

from wetfront.dossier.document import plain_value
from wetfront.dossier.words import clock, date_words, labelled, number, percent, plain, short
from wetfront.nouns.programme import PlannedPour, Programme

MOST_CONFLICTS = 4
_NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:wetfront:programme")


def programme_json(programme: Programme) -> str:
    """programme.json as text: keys in the order of the nouns, moments with offset, ending in a line break."""
    return json.dumps(plain_value(programme), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def week_screen(programme: Programme, width: int = 100, files: Sequence[str] = ()) -> str:
    """Days, resources, conflicts, what changed and why, on one screen of plain text."""
    width = max(60, min(width, 100))
    head = f"{programme.title} · {programme.project} · times in {programme.time_zone}"
    lines = textwrap.wrap(plain(head), width)
    lines.append(verdict_of(programme) + ("   (invented demo data)" if programme.invented else ""))
    for pour in programme.pours:
        lines += _pour_lines(pour, programme, width)
    for left in programme.left_out:
        days = "; ".join(f"{day:%a} {day.day} {day:%b}: {reason}" for day, reason in left.days)
        lines += labelled("no day", f"{left.pour}: {left.reason}{f' ({days})' if days else ''}", width, 4)
    for label, texts, most in _sections(programme, files):
        for place, text in enumerate(texts[:most]):
            lines += labelled("" if place else label, text, width, 3)
        if len(texts) > most:
            lines += labelled("", f"and {len(texts) - most} more in programme.json", width, 1)
    return "\n".join(lines)


def _pour_lines(pour: PlannedPour, programme: Programme, width: int) -> list[str]:
    day = f"{pour.day:%a} {pour.day.day} {pour.day:%b}"
    window = "" if pour.start_window[0] == pour.start_window[1] else f" (or {_window(pour)})"
    ends = f"placed {clock(pour.end_of_placing.usual, pour.day)} to {clock(pour.end_of_placing.late, pour.day)}"
    text = f"{pour.pour}: start {clock(pour.start, pour.day)}{window}, {ends}, {short(pour.order_m3)} m³"
    if pour.done:
        text = f"{pour.pour}: done, {clock(pour.start, pour.day)} to {clock(pour.end_of_placing.usual, pour.day)}"
    lines = labelled(day, text, width, 2)
    held = [f"{each.kind} {each.id} to {_moment(each.until, pour.day)}" for each in pour.resources]
    sure = f"{percent(pour.chance_of_start_as_planned)} sure to start then"
    slack = "" if pour.slack_min is None else f", {short(pour.slack_min / 60)} h after {pour.slack_by}"
    lines += labelled("", f"{'; '.join(held)}; {sure}{slack}; {pour.days_in_hand} d in hand", width, 3)
    why = "; ".join(pour.why) + (f"; {pour.forecast}" if pour.forecast else "")
    return lines + labelled("", f"why: {why}", width, 3)


def _window(pour: PlannedPour) -> str:
    first, last = pour.start_window
    return f"{clock(first, pour.day)} to {clock(last, pour.day)}"


def _moment(moment: dt.datetime, day: dt.date) -> str:
    return clock(moment, day)


def verdict_of(programme: Programme) -> str:
    """The programme as a headline."""
    missing = len(programme.left_out)
    return "EVERY POUR HAS A DAY" if programme.complete else f"{missing} POUR{'S' * (missing > 1)} WITHOUT A DAY"


class Happenings(NamedTuple):
    """What moved, and what it costs, in words."""

    moved: list[str]
    cost: str


def happenings(programme: Programme) -> Happenings:
    """The words that screen and paper share."""
    cost = f"{number(programme.cost_cu, 0)} {programme.currency} for the pours"
    if programme.late_cu:
        cost += f" + {number(programme.late_cu, 0)} {programme.currency} for lateness"
    proof = programme.proof
    sure = (
        "no better programme exists" if proof.optimal else f"not proven best: at most {short(proof.gap_cu, 0)} to gain"
    )
    moved = [
        f"{each.pour}: {_day_time(each.from_start)} → {_day_time(each.to_start)}; {each.why}"
        for each in programme.moved
    ]
    kept = [f"{programme.kept_count} keep day and start"] if programme.happened or programme.moved else []
    return Happenings(moved + kept, f"{cost}; of {proof.options_count} days and starts looked at, {sure}")


def _sections(programme: Programme, files: Sequence[str]) -> list[tuple[str, list[str], int]]:
    said = happenings(programme)
    return [
        ("happened", list(programme.happened), 3),
        ("moved", said.moved, 6),
        ("conflicts", [each.text for each in programme.conflicts], MOST_CONFLICTS),
        ("would help", list(programme.proposals), 3),
        ("cost", [said.cost], 1),
        ("cautions", list(programme.cautions), 4),
        ("files", [", ".join(files)] if files else [], 1),
    ]


def _day_time(moment: dt.datetime | None) -> str:
    if moment is None:
        return "no day"
    return f"{moment:%a} {moment.day} {moment:%b %H:%M}"


def programme_calendar(programme: Programme) -> bytes:
    """programme.ics: each pour, and each form with the hours in which it comes free. Same programme, same bytes.

    Identifiers come from project, programme, pour and event, so a later programme replaces the entries of this one.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//wetfront//programme//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", plain(programme.title))
    zone = programme.pours[0].start.tzinfo if programme.pours else dt.UTC
    stamp = dt.datetime.combine(programme.first_day, dt.time(0), zone).astimezone(dt.UTC)
    for pour in programme.pours:
        text = [f"Order {short(pour.order_m3)} m³.", *pour.why, pour.forecast, "A booking, not a permit."]
        placing = (pour.start, pour.end_of_placing.late)
        _add(calendar, programme, stamp, (pour.pour, "pour"), f"Pour: {pour.title}", placing, text)
        for held in pour.resources:
            form = held.form
            if form is not None:
                title = f"Form set {held.id} free after {pour.pour}: check permit and strength"
                text = [f"Struck, cleaned and set about {form.usual:%H:%M} on {date_words(form.usual.date())}."]
                _add(calendar, programme, stamp, (pour.pour, held.id), title, (form.early, form.late), text)
    return bytes(calendar.to_ical())


def _add(
    calendar: Calendar,
    programme: Programme,
    stamp: dt.datetime,
    key: tuple[str, str],
    title: str,
    span: tuple[dt.datetime, dt.datetime],
    text: Sequence[str],
) -> None:
    event = Event()
    event.add("uid", str(uuid.uuid5(_NAMESPACE, "\n".join((programme.project, programme.title, *key)))))
    event.add("dtstamp", stamp)
    event.add("dtstart", span[0].astimezone(dt.UTC))
    if span[1] > span[0]:
        event.add("dtend", span[1].astimezone(dt.UTC))
    event.add("summary", plain(title))
    note = "Invented demo data." if programme.invented else ""
    lines = [*text, f"Times in {programme.time_zone}.", note]
    event.add("description", "\n".join(plain(line) for line in lines if line))
    calendar.add_component(event)
