"""plan.ics read back by a general calendar library."""

import datetime as dt

import pytest
from icalendar import Calendar

from plans import ZONE, at, crowded_plan, no_forecast_plan, no_go_plan, readiness, slab_plan
from wetfront.dossier.calendar import calendar_text, entries


def events(plan):
    return {str(event["SUMMARY"]): event for event in Calendar.from_ical(calendar_text(plan)).walk("VEVENT")}


def named(plan, words):
    found = [event for title, event in events(plan).items() if title.startswith(words)]
    assert len(found) == 1, words
    return found[0]


@pytest.mark.parametrize(
    ("title", "start", "end"),
    [
        ("First batch", at(399), None),
        ("First concrete", at(440), None),
        ("1: C1", at(440), at(485)),
        ("9: A3", at(800), at(845)),
        ("Balance load", at(804), None),
        ("End of placing", at(935), at(965)),
        ("End of finishing", at(1200), at(1248)),
        ("Release 2 hold points", at(339), at(399)),
    ],
)
def test_what_happens_when_survives_the_round_trip(title, start, end):
    event = named(slab_plan(), title)
    assert event["DTSTART"].dt == start
    assert ("DTEND" in event) == (end is not None)
    if end is not None:
        assert event["DTEND"].dt == end


def test_moments_are_written_in_utc():
    assert b"DTSTART:20270617T062000Z" in calendar_text(slab_plan())


def test_same_plan_same_bytes_and_no_clock():
    assert calendar_text(slab_plan()) == calendar_text(slab_plan())
    stamps = {event["DTSTAMP"].dt for event in events(slab_plan()).values()}
    assert stamps == {dt.datetime(2027, 6, 17, tzinfo=ZONE)}


def test_identifiers_are_unique_within_a_plan_and_stay_when_times_move():
    one, other = events(slab_plan()), events(slab_plan(end_of_placing=slab_plan().end_of_finishing))
    identifiers = [str(event["UID"]) for event in one.values()]
    assert len(set(identifiers)) == len(identifiers)
    assert identifiers == [str(event["UID"]) for event in other.values()] or set(identifiers) == {
        str(event["UID"]) for event in other.values()
    }


def test_another_pour_has_other_identifiers():
    other = {str(event["UID"]) for event in events(slab_plan(pour="slab 2")).values()}
    assert other.isdisjoint({str(event["UID"]) for event in events(slab_plan()).values()})


def test_released_hold_points_are_not_asked_for_again():
    items = readiness()
    assert sum(item.hold_point for item in items) == 3
    assert sum(item.hold_point and item.state.startswith("pass") for item in items) == 1
    assert "F5" not in str(named(slab_plan(), "Release")["DESCRIPTION"])


def test_a_plan_that_is_no_go_says_so_in_every_entry():
    assert all(title.startswith("NOT RELEASED (no go): ") for title in events(no_go_plan()))


def test_without_a_forecast_one_whole_day_reminds_to_plan_again():
    (event,) = events(no_forecast_plan()).values()
    assert event["DTSTART"].dt == dt.date(2027, 6, 25)
    assert "forecast ends on 22 June" in str(event["DESCRIPTION"])


def test_entries_come_in_order_of_time():
    starts = [entry.start for entry in entries(crowded_plan())]
    assert starts == sorted(starts) and len(starts) > 150


def test_words_of_a_sheet_cannot_add_entries():
    plan = slab_plan(title="x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:forged", place="a;b,c")
    assert len(events(plan)) == len(events(slab_plan()))
    assert all(not line.startswith(b"SUMMARY:forged") for line in calendar_text(plan).splitlines())
