"""The journal: the state depends on the set of events alone, corrections show both sides, tampering is found."""

import datetime as dt
import itertools
import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetfront.journal import (
    KINDS,
    Event,
    appended,
    body_hash,
    body_of,
    event_of,
    fact_of,
    first_break,
    fold,
    kind_of,
    payload_of,
)
from wetfront.journal import kinds as k
from wetfront.journal.chain import FIRST, sealed

ZONE = dt.timezone(dt.timedelta(hours=1))
DAY = dt.datetime(2027, 6, 17, 7, 0, tzinfo=ZONE)
TICKETS = ("4101", "4102", "4103")


def event(number, fact, minutes=0.0, **changes):
    kind, schema = kind_of(fact)
    at = DAY + dt.timedelta(minutes=minutes)
    base = Event(
        id=f"e{number}",
        pour="slab",
        kind=kind,
        schema=schema,
        at=at,
        recorded=at + dt.timedelta(seconds=20),
        device="phone-1",
        role="site-engineer",
        payload=payload_of(fact),
    )
    return replace(base, **changes)


tickets = st.sampled_from(TICKETS)
facts = st.one_of(
    st.builds(k.LoadArrived, ticket_number=tickets, volume_m3=st.sampled_from([6.0, 8.0])),
    st.builds(k.LoadTested, ticket_number=tickets, test=st.just("slump"), value=st.floats(0, 250)),
    st.builds(k.LoadDecided, ticket_number=tickets, decision=st.sampled_from(["accept", "check-test", "refuse"])),
    st.builds(k.LoadPlaced, ticket_number=tickets, place=st.sampled_from(["C1", "C2"])),
    st.builds(k.AddedOnSite, ticket_number=tickets, substance=st.just("water"), amount_l=st.floats(1, 40)),
    st.builds(k.PlacingStopped, cause=st.sampled_from(["pump", "rain"])),
    st.builds(k.PlacingRestarted),
    st.builds(k.CheckRecorded, item=st.sampled_from(["F1", "F2"]), result=st.sampled_from(["pass", "fail"])),
    st.builds(k.HoldReleased, hold_point=st.sampled_from(["H1", "H2"])),
    st.builds(k.RemainingMeasured, volume_m3=st.floats(0, 50), spread_m3=st.floats(0, 5)),
)


@st.composite
def streams(draw, most=14):
    """Events of a bad day: facts at random times, corrections of known and unknown ids, withdrawals, reused ids."""
    found = []
    for number in range(draw(st.integers(0, most))):
        corrects = draw(st.sampled_from(["", "", "", *(each.id for each in found), "not-there", f"e{number + 1}"]))
        fact = draw(st.just(k.Withdrawn()) if corrects and draw(st.booleans()) else facts)
        minutes = draw(st.integers(0, 600))
        changes = {"corrects": corrects, "role": draw(st.sampled_from(["site-engineer", "tester"]))}
        name = draw(st.sampled_from([number, number, number, max(0, number - 1)]))
        found.append(event(name, fact, minutes, **changes))
    return found


@given(streams(), st.randoms(use_true_random=False))
@settings(max_examples=300, deadline=None)
def test_order_and_repeats_change_nothing(stream, chance):
    expected = fold("slab", stream)
    shuffled = stream + [each for each in stream if chance.random() < 0.4]
    chance.shuffle(shuffled)
    assert fold("slab", shuffled) == expected


@given(streams(), st.integers(0, 14))
@settings(max_examples=200, deadline=None)
def test_a_truncated_stream_is_a_state_too_and_nothing_in_it_is_lost_later(stream, cut):
    part, whole = fold("slab", stream[:cut]), fold("slab", stream)
    told = {load.ticket_number for load in whole.loads} | {
        each.old.payload.get("ticket_number") for each in whole.corrected
    }
    told |= {each.other.payload.get("ticket_number") for each in whole.clashes}
    assert {load.ticket_number for load in part.loads} <= told


@given(streams())
@settings(max_examples=300, deadline=None)
def test_every_entry_stands_is_corrected_or_clashes_and_none_vanishes(stream):
    state = fold("slab", stream)
    shown = {body_hash(each.event) for load in state.loads for each in _entries_of(load)}
    for group in (state.remaining, *state.checks.values()):
        shown |= {body_hash(each.event) for each in group}
    shown |= {body_hash(hold.released.event) for hold in state.holds.values() if hold.released}
    shown |= {body_hash(each.old) for each in state.corrected} | {body_hash(each.by) for each in state.corrected}
    shown |= {body_hash(each.other) for each in state.clashes}
    shown |= {body_hash(each.event) for each in state.oddities}
    starts = {each.since for each in state.stops} | {each.until for each in state.stops}
    for each in stream:
        marks_a_stop = each.kind in ("placing-stopped", "placing-restarted") and each.at in starts
        repeated_release = each.kind == "hold-released"
        assert each.kind == "withdrawn" or marks_a_stop or repeated_release or body_hash(each) in shown


def _entries_of(load):
    single = [each for each in (load.arrived, load.left) if each is not None]
    return [*single, *load.tests, *load.additions, *load.decisions, *load.placings, *load.specimens]


def test_a_correction_takes_the_place_and_both_are_shown():
    wrong = event(1, k.LoadArrived(ticket_number="4101", volume_m3=6.0))
    right = event(2, k.LoadArrived(ticket_number="4101", volume_m3=8.0), 5, corrects="e1", reason="misread")
    state = fold("slab", [right, wrong])
    assert state.load("4101").volume_m3 == 8.0
    assert [(each.old.id, each.new.id, each.by.reason) for each in state.corrected] == [("e1", "e2", "misread")]


def test_a_withdrawal_leaves_nothing_in_its_place_and_can_be_taken_back():
    stop = event(1, k.PlacingStopped(cause="pump"), 30)
    gone = event(2, k.Withdrawn(), 40, corrects="e1", reason="wrong button")
    back = event(3, k.Withdrawn(), 50, corrects="e2")
    assert fold("slab", [stop]).stopped is not None
    state = fold("slab", [stop, gone])
    assert state.stopped is None and state.corrected[0].new is None and state.corrected[0].by.id == "e2"
    assert fold("slab", [back, gone, stop]).stopped is not None


def test_a_correction_that_is_withdrawn_lets_the_first_entry_stand_again():
    first = event(1, k.RemainingMeasured(volume_m3=3.2, spread_m3=0.2))
    second = event(2, k.RemainingMeasured(volume_m3=32.0, spread_m3=0.2), 3, corrects="e1")
    gone = event(3, k.Withdrawn(), 5, corrects="e2")
    assert [each.fact.volume_m3 for each in fold("slab", [first, second, gone]).remaining] == [3.2]


def test_two_corrections_of_one_entry_are_told_and_the_later_one_counts():
    first = event(1, k.LoadArrived(ticket_number="4101", volume_m3=6.0))
    one = event(2, k.LoadArrived(ticket_number="4101", volume_m3=7.0), 5, corrects="e1")
    other = event(3, k.LoadArrived(ticket_number="4101", volume_m3=8.0), 9, corrects="e1", device="phone-2")
    state = fold("slab", [other, first, one])
    assert state.load("4101").volume_m3 == 8.0
    assert [(each.counts.id, each.other.id) for each in state.clashes] == [("e3", "e2")]


def test_the_same_id_with_another_body_is_a_clash_and_both_are_kept():
    one = event(1, k.LoadArrived(ticket_number="4101", volume_m3=6.0))
    other = event(1, k.LoadArrived(ticket_number="4101", volume_m3=8.0), 2)
    for order in itertools.permutations([one, other, one]):
        state = fold("slab", order)
        assert state.load("4101").volume_m3 == 6.0
        assert [each.other for each in state.clashes] == [other]


def test_two_people_who_decide_differently_leave_the_load_undecided_until_one_takes_it_back():
    arrived = event(1, k.LoadArrived(ticket_number="4101", volume_m3=8.0))
    yes = event(2, k.LoadDecided(ticket_number="4101", decision="accept"), 4)
    no = event(3, k.LoadDecided(ticket_number="4101", decision="refuse"), 5, role="tester", device="phone-2")
    load = fold("slab", [arrived, yes, no]).load("4101")
    assert load.contested and load.decision is None and len(load.decisions) == 2
    agreed = event(4, k.LoadDecided(ticket_number="4101", decision="refuse"), 7)
    settled = fold("slab", [arrived, yes, no, agreed]).load("4101")
    assert settled.decision == "refuse" and len(settled.decisions) == 3


def test_a_stop_runs_from_its_first_word_to_the_restart_or_the_end():
    stop = event(1, k.PlacingStopped(cause="blockage"), 246)
    again = event(2, k.PlacingStopped(cause="pump"), 250)
    restart = event(3, k.PlacingRestarted(), 286)
    assert fold("slab", [stop]).stopped.cause == "blockage"
    state = fold("slab", [again, restart, stop])
    assert [(each.since, each.until) for each in state.stops] == [(stop.at, restart.at)]
    assert [each.what for each in state.oddities] == ["stopped again while it stood still"]
    ended = event(4, k.PlacingEnded(), 260)
    assert fold("slab", [stop, ended]).stops[0].until == ended.at


def test_what_should_be_looked_at_is_told():
    placed = event(1, k.LoadPlaced(ticket_number="4199", place="C1"), 1)
    late = event(2, k.LoadArrived(ticket_number="4102", volume_m3=8.0), 90)
    end = event(3, k.PlacingEnded(), 60)
    alien = replace(event(4, k.Noted(text="?")), kind="strength-report", schema=7)
    told = {each.what for each in fold("slab", [placed, late, end, alien]).oddities}
    assert told == {
        "nobody recorded the arrival of load 4199",
        "load 4102 arrived after placing had ended",
        "kind strength-report 7 is of a newer program",
    }


def test_events_of_another_pour_are_left_out():
    other = replace(event(1, k.LoadArrived(ticket_number="4101", volume_m3=8.0)), pour="raft")
    assert fold("slab", [other]).loads == ()


EXAMPLES = {
    k.CheckRecorded: k.CheckRecorded(item="F1", result="pass", measured="12 mm"),
    k.LoadPlaced: k.LoadPlaced(ticket_number="4101", place="C1", cells=(3, 4), placed_from=DAY, volume_m3=4.0),
    k.LoadArrived: k.LoadArrived(ticket_number="4101", volume_m3=8.0, batched=DAY, left_plant=DAY),
}


@pytest.mark.parametrize("fact", [*EXAMPLES.values()], ids=lambda fact: type(fact).__name__)
def test_a_fact_is_read_back_as_it_was_written(fact):
    payload = payload_of(fact)
    assert json.loads(json.dumps(payload)) == payload
    assert fact_of(*kind_of(fact), payload) == fact


@given(streams())
@settings(max_examples=100, deadline=None)
def test_an_event_is_read_back_from_its_body(stream):
    for each in stream:
        assert event_of(body_of(each)) == each


def test_every_kind_has_one_name():
    assert len(set(KINDS.values())) == len(KINDS)


# The chain.


def chain(count=5):
    return appended([], [event(n, k.Noted(text=f"note {n}"), n) for n in range(count)], DAY + dt.timedelta(hours=5))


def test_an_honest_chain_holds_also_when_more_is_appended():
    records = chain()
    assert first_break(records) is None
    more = appended(records, [event(9, k.Noted(text="later"))], DAY + dt.timedelta(hours=6))
    assert first_break(more, {5: records[-1].seal}) is None


@given(st.integers(0, 4), st.sampled_from(["text", "time", "role", "received", "gone", "swapped", "resealed"]))
@settings(max_examples=60, deadline=None)
def test_any_tampering_is_found(place, how):
    honest = chain()
    records = list(honest)
    old = records[place]
    match how:
        case "text":
            records[place] = replace(old, event=replace(old.event, payload={"text": "forged"}))
        case "time":
            records[place] = replace(old, event=replace(old.event, at=old.event.at + dt.timedelta(minutes=1)))
        case "role":
            records[place] = replace(old, event=replace(old.event, role="designer"))
        case "received":
            records[place] = replace(old, received=old.received - dt.timedelta(hours=1))
        case "gone":
            del records[place]
        case "swapped":
            other = (place + 1) % 5
            records[place], records[other] = records[other], records[place]
        case "resealed":
            # Whoever holds the whole journal can seal a forged one anew: a seal kept elsewhere shows it.
            forged = [
                replace(each.event, role="designer") if n == place else each.event for n, each in enumerate(honest)
            ]
            records = appended([], forged, honest[0].received)
    kept = {5: honest[-1].seal}
    assert first_break(records, kept) is not None
    if how != "resealed" and not (how == "gone" and place == 4):
        assert first_break(records) is not None


def test_a_chain_that_was_cut_off_is_found_by_a_seal_kept_elsewhere():
    records = chain()
    assert first_break(records[:3]) is None
    assert first_break(records[:3], {5: records[4].seal}).number == 4


def test_a_clock_an_hour_off_is_put_right_but_not_a_time_that_a_person_chose():
    stamped = event(1, k.Noted(text="now"), 61, recorded=DAY + dt.timedelta(minutes=61))
    chosen = event(2, k.Noted(text="earlier"), 30, recorded=DAY + dt.timedelta(minutes=62))
    fast = [sealed(each, DAY, 1, FIRST, skew_s=3600).told for each in (stamped, chosen)]
    assert [each.at for each in fast] == [DAY + dt.timedelta(minutes=1), chosen.at]
    assert [each.recorded for each in fast] == [DAY + dt.timedelta(minutes=1), DAY + dt.timedelta(minutes=2)]
    assert sealed(stamped, DAY, 1, FIRST, skew_s=5).told == stamped


def test_the_skew_of_a_clock_is_under_the_seal():
    record = sealed(event(1, k.Noted(text="now")), DAY, 1, FIRST, skew_s=3600)
    assert first_break([record]) is None
    assert first_break([replace(record, skew_s=0)]).number == 1
