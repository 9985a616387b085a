"""plan.ics: what happens when, for the calendars of everyone who is called to the pour.

Moments are written in UTC, so they are right in every calendar, also on the night when clocks change; local times
with the zone stand in the text. Identifiers come from project, pour, day and event, so a later plan of the same pour
replaces the earlier entries. DTSTAMP is local midnight at the beginning of the pour's day: the plan reads no clock.
"""

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wetfront.dossier.words import (
    clock,
    loads_words,
    plain,
    qualified,
    settled,
    short,
    span,
    supply_words,
    verdict_words,
)
from wetfront.nouns.plan import Plan, ReadinessItem, Verdict

if TYPE_CHECKING:
    from icalendar import Event

HOLD_POINTS_BEFORE_FIRST_BATCH = dt.timedelta(hours=1)
"""Own rule: the reminder stands one hour before the first batch, while a truck can still be stopped."""

_NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:wetfront:plan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of the calendar. `key` names it within the pour."""

    key: str
    title: str
    start: dt.datetime
    end: dt.datetime
    text: str
    whole_day: bool = False


def entries(plan: Plan) -> list[Entry]:
    """All entries in order of time; a whole-day reminder alone where there is no decision yet."""
    if plan.decision is None:
        return [_not_planned(plan)]
    made = [*_beginning(plan), *_strips(plan), *_ending(plan)]
    return sorted(made, key=lambda entry: (entry.start, entry.key))


def calendar_text(plan: Plan) -> bytes:
    """plan.ics. Same plan, same bytes."""
    from icalendar import Calendar, Event  # only who writes a calendar waits for it

    calendar = Calendar()
    calendar.add("prodid", "-//wetfront//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", plain(f"Pour: {plan.title}"))
    stamp = _midnight(plan)
    behind = f" {qualified(plan)}" if qualified(plan) else ""
    head = f"{verdict_words(plan.verdict)}{behind}. Times in {plan.time_zone}."
    if plan.invented:
        head += " Invented demo data."
    for entry in entries(plan):
        event = Event()
        event.add("uid", str(uuid.uuid5(_NAMESPACE, "\n".join((plan.project, plan.pour, str(plan.date), entry.key)))))
        event.add("dtstamp", stamp)
        _add_time(event, entry)
        event.add("summary", plain(_title(plan, entry)))
        event.add("description", f"{plain(entry.text)}\n{plain(head)}")
        if plan.place:
            event.add("location", plain(plan.place))
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _add_time(event: "Event", entry: Entry) -> None:
    """A day, a moment, or a stretch; a moment has no DTEND, which must be later than DTSTART."""
    if entry.whole_day:
        event.add("dtstart", entry.start.date())
        return
    start, end = _utc(entry.start), _utc(entry.end)
    event.add("dtstart", start)
    if end > start:
        event.add("dtend", end)


def _title(plan: Plan, entry: Entry) -> str:
    mark = "NOT RELEASED (no go): " if plan.verdict is Verdict.NO_GO else ""
    return f"{mark}{entry.title} · {plan.title}"


def _utc(moment: dt.datetime) -> dt.datetime:
    return (moment.astimezone(dt.UTC) + dt.timedelta(microseconds=500_000)).replace(microsecond=0)


def _midnight(plan: Plan) -> dt.datetime:
    zone = plan.decision.start.tzinfo if plan.decision is not None else dt.UTC
    return dt.datetime.combine(plan.date, dt.time(0), zone).astimezone(dt.UTC)


def _at(key: str, title: str, moment: dt.datetime, text: str) -> Entry:
    return Entry(key=key, title=title, start=moment, end=moment, text=text)


def _not_planned(plan: Plan) -> Entry:
    day = dt.datetime.combine(plan.date, dt.time(0), dt.UTC)
    title = f"{str(plan.verdict).capitalize()}: plan again"
    return Entry(key="not-planned", title=title, start=day, end=day, text=" ".join(plan.reasons), whole_day=True)


def _beginning(plan: Plan) -> list[Entry]:
    decision = plan.decision
    if decision is None:
        return []
    batch = decision.first_batch
    made = [
        _at(
            "first-batch",
            f"First batch {clock(batch, plan.date)}",
            batch,
            f"{loads_words(plan.quantity, plan.site_mixing)} of {decision.mix} from {', '.join(decision.plants)}, "
            f"{supply_words(plan, decision)}.",
        ),
        _at(
            "first-concrete",
            f"First concrete {clock(decision.start, plan.date)}",
            decision.start,
            f"{decision.pump}, {short(decision.placing_rate_m3_per_h)} m³/h.",
        ),
    ]
    holds = [item for item in plan.readiness if item.hold_point and not settled(item)]
    if holds:
        listed = "; ".join(_hold_words(item) for item in holds)
        made.append(
            Entry(
                key="hold-points",
                title=f"Release {len(holds)} hold point{'' if len(holds) == 1 else 's'} before the first batch",
                start=batch - HOLD_POINTS_BEFORE_FIRST_BATCH,
                end=batch,
                text=listed,
            )
        )
    return made


def _hold_words(item: ReadinessItem) -> str:
    by = f" (by {item.released_by})" if item.released_by else ""
    return f"{item.id} {item.check}{by}"


def _strips(plan: Plan) -> list[Entry]:
    made = []
    for strip in plan.strips:
        text = f"{short(strip.volume_m3)} m³; start {span(strip.start, plan.date)}, end {span(strip.end, plan.date)}."
        if strip.join_before_specified is not None:
            text += f" Next concrete by {clock(strip.join_before_specified, plan.date)} (specification)."
        if strip.join_before_set is not None:
            text += f" Setting: by {clock(strip.join_before_set, plan.date)}."
        made.append(
            Entry(
                key=f"strip-{strip.order}",
                title=f"{strip.order}: {strip.name}",
                start=strip.start.usual,
                end=strip.end.usual,
                text=text,
            )
        )
    return made


def _ending(plan: Plan) -> list[Entry]:
    made = []
    quantity = plan.quantity
    if quantity.balance_load_m3 > 0 and plan.loads:
        last = plan.loads[-1]
        made.append(
            _at(
                "balance-load",
                f"Balance load is batched {clock(last.batch, plan.date)}: measure and call before",
                last.batch,
                quantity.balance_call,
            )
        )
    for key, title, ends in (
        ("end-of-placing", "End of placing", plan.end_of_placing),
        ("end-of-finishing", "End of finishing", plan.end_of_finishing),
    ):
        if ends is not None:
            made.append(
                Entry(key=key, title=title, start=ends.early, end=ends.late, text=f"{title} {span(ends, plan.date)}.")
            )
    ready = [strip.ready_to_finish.early for strip in plan.strips if strip.ready_to_finish is not None]
    done = [strip.finished.late for strip in plan.strips if strip.finished is not None]
    if ready and done:
        made.append(
            Entry(
                key="finishing",
                title="Finishing",
                start=min(ready),
                end=max(done),
                text="From the first surface that may be ready to the last that may be done.",
            )
        )
    return made
