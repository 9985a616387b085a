"""Events from devices: each entry is checked by itself, and told what was found and what is allowed."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from test_journal import DAY, event
from wetfront.intake.event_json import sorted_events
from wetfront.journal import body_of
from wetfront.journal import kinds as k

NOW = DAY + dt.timedelta(hours=6)


def sent(fact, minutes=0.0, number=1, **changes):
    return body_of(event(number, fact, minutes, **changes))


def refusal(entry, device_now=None):
    found = sorted_events("slab", [entry], device_now, NOW)
    assert not found.taken
    return found.refused[0]


ARRIVED = k.LoadArrived(ticket_number="4101", volume_m3=8.0, batched=DAY - dt.timedelta(minutes=40))


def test_right_entries_are_taken_as_they_were_sent():
    entries = [sent(ARRIVED), sent(k.Noted(text="ok"), 5, 2)]
    found = sorted_events("slab", entries, NOW, NOW)
    assert [body_of(each) for each in found.taken] == entries and not found.refused


def test_one_bad_entry_does_not_hold_up_the_others():
    bad = {**sent(ARRIVED), "payload": {"ticket_number": "4102", "volume_m3": 80}}
    found = sorted_events("slab", [bad, sent(k.Noted(text="ok"), 5, 2)], NOW, NOW)
    assert [each.id for each in found.taken] == ["e2"]
    problem = found.refused[0].problems[0]
    assert (found.refused[0].place, problem.key, problem.found) == (0, "payload.volume_m3", "80")
    assert "to 20" in problem.allowed


@pytest.mark.parametrize(
    ("change", "key", "allowed"),
    [
        ({"kind": "load-arived"}, "kind", "load-arrived"),
        ({"schema": 9}, "kind", "of schema 1"),
        ({"pour": "raft"}, "pour", "slab"),
        ({"at": "2027-06-17T07:00:00"}, "at", "with offset"),
        ({"role": ""}, "role", "text of 1 to 60"),
        ({"xyzzy": "red"}, "xyzzy", "one of"),
        ({"corrects": "e1"}, "corrects", "another entry"),
        ({"payload": [1]}, "payload", "a table"),
        ({"payload": {"ticket_number": "4101"}}, "payload.volume_m3", "a number over 0"),
        ({"at": "2027-06-17T19:00:00+01:00"}, "at", "not in the future"),
        ({"recorded": "2027-06-17T19:00:00+01:00"}, "recorded", "not in the future"),
    ],
)
def test_a_bad_entry_is_told_by_its_key(change, key, allowed):
    found = refusal({**sent(ARRIVED), **change})
    assert key in [each.key for each in found.problems]
    assert any(allowed in each.allowed for each in found.problems)


def test_a_ticket_from_the_future_is_refused_with_the_arrival_beside_it():
    late = k.LoadArrived(ticket_number="4101", volume_m3=8.0, batched=DAY + dt.timedelta(minutes=20))
    problem = refusal(sent(late)).problems[0]
    assert problem.key == "payload.batched" and "not after its arrival at 2027-06-17T07:00+01:00" in problem.allowed


def test_an_entry_of_a_clock_that_is_fast_is_taken_and_one_really_in_the_future_says_so():
    ahead = NOW + dt.timedelta(hours=1)
    minutes = (ahead - DAY).total_seconds() / 60
    stamped = sent(k.Noted(text="now"), minutes, recorded=ahead)
    found = sorted_events("slab", [stamped], ahead, NOW)
    assert found.skew_s == 3600 and len(found.taken) == 1
    further = sent(k.Noted(text="then"), minutes + 30, recorded=ahead + dt.timedelta(minutes=30))
    assert "this device is 60 min fast" in refusal(further, ahead).problems[0].allowed


def test_an_arrival_stamped_by_a_slow_clock_is_not_before_its_batching():
    """The phone is an hour slow: it says 06:30 for an arrival at 07:30 of a load that was batched at 06:50."""
    batched = DAY - dt.timedelta(minutes=10)
    stamped = sent(k.LoadArrived(ticket_number="4101", volume_m3=8.0, batched=batched), -30)
    stamped["recorded"] = stamped["at"]
    found = sorted_events("slab", [stamped], NOW - dt.timedelta(hours=1), NOW)
    assert len(found.taken) == 1 and found.skew_s == -3600
    early = {**stamped, "at": (DAY - dt.timedelta(minutes=80)).isoformat()}
    early["recorded"] = early["at"]
    assert refusal(early, NOW - dt.timedelta(hours=1)).problems[0].key == "payload.batched"


@pytest.mark.parametrize(
    ("fact", "key"),
    [
        (k.Withdrawn(), "corrects"),
        (k.HoldOverridden(hold_point="H2", why="rain coming"), "person"),
        (
            k.LoadPlaced(ticket_number="1", place="C1", placed_from=DAY, placed_until=DAY - dt.timedelta(1)),
            "payload.placed_until",
        ),
    ],
)
def test_what_makes_no_sense_alone_is_refused(fact, key):
    assert [each.key for each in refusal(sent(fact)).problems] == [key]


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@given(st.sampled_from(sorted(sent(ARRIVED))), values)
@settings(max_examples=300, deadline=None)
def test_whatever_is_sent_is_taken_or_refused_with_a_reason(key, value):
    entry = {**sent(ARRIVED), key: value}
    found = sorted_events("slab", [entry, value], NOW, NOW)
    assert len(found.taken) + len(found.refused) == 2
    assert all(each.problems for each in found.refused)
