"""The board of a running pour: what is recorded comes out as state, deadlines and the next decision."""

import datetime as dt
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from planned import QUICK
from test_journal import event
from wetfront.desk.board import answer, basis_of, board_of, forecaster_of
from wetfront.desk.plan_pour import plan_one
from wetfront.desk.ticket_events import entries_of
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.intake.sheet import read_sheet
from wetfront.intake.tickets_csv import read_tickets
from wetfront.journal import fold
from wetfront.journal import kinds as k
from wetfront.nouns.board import Question

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
ZONE = dt.timezone(dt.timedelta(hours=1))


def clock(hour, minute=0):
    return dt.datetime(2027, 6, 17, hour, minute, tzinfo=ZONE)


@cache
def checked():
    return read_sheet(TARNWICK / "slab.toml")


@cache
def basis():
    pour = checked().sheet.pour[0]
    return basis_of(checked(), pour, plan_one(checked(), pour, final_rounds=QUICK), "rev")


@cache
def tickets():
    data = (TARNWICK / "delivery-tickets-slab.csv").read_bytes()
    rows, _ = read_tickets(data, "tickets.csv", checked().sheet.pour, ZONE)
    return entries_of("slab", rows, 4).events


def said(number, fact, at, role="site-engineer", **changes):
    return event(number, fact, (at - clock(7)).total_seconds() / 60, role=role, **changes)


RELEASES = (
    said("h1", k.HoldReleased(hold_point="H1"), clock(6, 40)),
    said("h2", k.HoldReleased(hold_point="H2"), clock(6, 50), "temporary-works-coordinator"),
    said("h3", k.HoldReleased(hold_point="H3"), clock(6, 55), "designer-representative"),
)
STOP = (
    said("s1", k.PlacingStopped(cause="blockage"), clock(11, 6), "pump-operator"),
    said("s2", k.PlacingRestarted(), clock(11, 46), "pump-operator"),
)


def board_at(now, *more):
    events = [each for each in (*RELEASES, *STOP, *tickets(), *more) if each.at <= now]
    return board_of(basis(), fold("slab", events), len(events), now)


def test_before_the_day_the_board_asks_for_the_first_open_hold_point():
    found = board_of(basis(), fold("slab", []), 0, clock(6))
    assert found.phase == "ready" and not found.may_place and found.advice.text.startswith("Get H1 released before ")
    assert [text.split()[0] for text in found.blocked_by] == ["H1", "H2", "H3"]


def test_a_permit_to_strike_holds_up_no_concrete():
    found = board_at(clock(7, 0))
    assert found.may_place and next(hold for hold in found.holds if hold.id == "H4").state == "open"


def test_a_release_by_a_role_that_may_not_leaves_the_hold_point_open_and_is_told():
    wrong = said("x", k.HoldReleased(hold_point="H2"), clock(6), "site-engineer")
    found = board_of(basis(), fold("slab", [wrong]), 1, clock(6, 10))
    assert next(hold for hold in found.holds if hold.id == "H2").state == "open"
    assert any("only temporary-works-coordinator may" in text for text in found.look_at)


def test_a_named_person_may_go_on_past_a_hold_point_and_stands_on_the_board():
    past = [
        said(
            f"o{name}", k.HoldOverridden(hold_point=name, why="inspected by telephone"), clock(6), person="A. Invented"
        )
        for name in ("H1", "H2", "H3")
    ]
    found = board_of(basis(), fold("slab", past), 3, clock(6, 10))
    assert found.may_place and {hold.state for hold in found.holds if hold.id != "H4"} == {"overridden"}
    assert found.holds[0].by == "site-engineer (A. Invented)"


def test_the_edge_of_the_stopped_strip_is_the_next_decision_and_the_hose_comes_first():
    found = board_at(clock(11, 20))
    assert found.stopped_since == clock(11, 6) and "hose" in found.advice.caution
    assert "B1 to B2" in found.advice.text and "x24 at x = 24 m" in found.advice.else_text
    assert found.advice.by == next(edge for edge in found.edges if edge.name == "B1 to B2").join_by_specification
    assert len(found.advice.spoken.split()) <= 8


@pytest.mark.parametrize("minutes", range(0, 600, 25))
def test_spoken_advice_has_at_most_eight_words_and_never_says_safe(minutes):
    found = board_at(clock(6, 30) + dt.timedelta(minutes=minutes))
    assert len(found.advice.spoken.split()) <= 8 and found.advice.text
    assert "safe" not in (found.advice.text + found.advice.reason + found.advice.caution).casefold()


def test_a_departure_from_the_minutes_is_told_and_is_not_called_a_cold_joint():
    edge = next(edge for edge in board_at(clock(16)).edges if edge.name == "B2 to B3")
    assert edge.closed and edge.chance_over_specification == 1.0 and edge.waited_min > 75
    assert "departure" in edge.text and "not a cold joint by setting" in edge.text


def test_a_longer_wait_never_lowers_the_chance_of_a_cold_joint():
    chances = []
    for minutes in range(0, 300, 20):
        now = clock(11, 10) + dt.timedelta(minutes=minutes)
        events = [each for each in (*RELEASES, *STOP[:1], *tickets()) if each.at <= clock(11, 10)]
        found = board_of(basis(), fold("slab", events), len(events), now)
        chances.append(next(edge.chance_of_cold_joint for edge in found.edges if edge.name == "B1 to B2"))
    assert chances == sorted(chances) and chances[0] < 0.05 and chances[-1] > 0.9


def test_hotter_concrete_has_earlier_deadlines():
    def first_deadline(celsius):
        events = [
            said("a", k.LoadArrived(ticket_number="1", volume_m3=8.0, batched=clock(6, 30)), clock(7, 5)),
            said("t", k.LoadTested(ticket_number="1", test="temperature", value=celsius), clock(7, 6)),
            said("p", k.LoadPlaced(ticket_number="1", place="C1", placed_from=clock(7, 20)), clock(7, 34)),
        ]
        events[2] = said("p", k.LoadPlaced(ticket_number="1", place="C1"), clock(7, 34))
        edge = board_of(basis(), fold("slab", events), 3, clock(8)).edges[0]
        return edge.join_by_specification, edge.join_by_setting

    cool, warm = first_deadline(18.0), first_deadline(27.0)
    assert warm[0] == cool[0] - dt.timedelta(minutes=30)
    assert warm[1].early < cool[1].early and warm[1].late < cool[1].late
    assert warm[1].early < warm[1].usual < warm[1].late


def test_every_cell_is_placed_once_all_loads_are_and_each_has_its_load():
    found = board_at(clock(16, 30), said("end", k.PlacingEnded(), clock(16), "placing-foreman"))
    assert {cell.state for cell in found.cells} == {"placed"} and all(cell.ticket_number for cell in found.cells)
    by_place = {cell.place for cell in found.cells if cell.ticket_number == "4118"}
    assert "B3" in by_place and found.phase == "cure" and found.forecast is None
    assert sum(cell.volume_m3 for cell in found.cells) == pytest.approx(215.1, abs=0.05)


def test_cells_named_by_a_phone_are_those_that_are_placed():
    cells = board_of(basis(), fold("slab", []), 0, clock(6)).cells[:4]
    found = basis()
    fact = k.LoadPlaced(ticket_number="1", place="C1", cells=tuple(c.index for c in cells), lattice=found.lattice)
    events = [
        said("a", k.LoadArrived(ticket_number="1", volume_m3=8.0, batched=clock(6, 30)), clock(7, 5)),
        said("p", fact, clock(7, 34)),
    ]
    board = board_of(found, fold("slab", events), 2, clock(7, 40))
    assert {c.index for c in board.cells if c.state == "placed"} == {c.index for c in cells}
    other = said("p", k.LoadPlaced(ticket_number="1", place="C1", cells=(0,), lattice="another"), clock(7, 34))
    board = board_of(found, fold("slab", [events[0], other]), 2, clock(7, 40))
    assert any("another drawing" in text for text in board.look_at)
    assert all(c.place == "C1" for c in board.cells if c.state == "placed")


def test_a_place_that_is_not_on_the_drawing_is_told_and_never_guessed():
    events = [
        said("a", k.LoadArrived(ticket_number="1", volume_m3=8.0), clock(7, 5)),
        said("p", k.LoadPlaced(ticket_number="1", place="the kerb"), clock(7, 34)),
    ]
    board = board_of(basis(), fold("slab", events), 2, clock(8))
    assert {cell.state for cell in board.cells} == {"open"} and any("'the kerb'" in text for text in board.look_at)


def test_a_refused_load_is_replaced_in_the_call_off_and_not_in_the_work():
    board = board_at(clock(8, 50))
    refused = next(load for load in board.loads if load.ticket_number == "4107")
    assert refused.state == "refused" and refused.verdict.startswith("refuse: slump 195 mm")
    planned = sum(load.volume_m3 for load in board.loads if load.state == "planned")
    taken = sum(load.volume_m3 for load in board.loads if load.state not in ("planned", "refused"))
    assert planned + taken == pytest.approx(220.0)


def test_loads_that_wait_are_shown_where_they_are_to_go_each_behind_the_one_before():
    fact = k.LoadPlaced(ticket_number="4114", place="B2", placed_from=clock(10, 53))
    board = board_at(clock(11, 5), said("p", fact, clock(10, 53)))
    waiting = [load for load in board.loads if load.state == "waiting"]
    planned = [load for load in board.loads if load.state == "planned"]
    assert [load.ticket_number for load in waiting] == ["4115", "4116"]
    assert all(load.place and load.cells for load in waiting)
    order = {cell.index: place for place, cell in enumerate(board.cells)}
    first = [[order[cell] for cell in load.cells] for load in (*waiting, *planned)]
    assert all(mine[-1] <= behind[0] for mine, behind in pairwise(first))
    discharging = next(load for load in board.loads if load.state == "discharging")
    assert not set(discharging.cells) & set(waiting[0].cells)
    state = {cell.index: cell.state for cell in board.cells}
    assert all(state[cell] == "open" for load in waiting for cell in load.cells)


def test_two_people_who_decide_differently_are_asked_to_settle_it():
    more = [
        said("d1", k.LoadDecided(ticket_number="4101", decision="accept"), clock(7, 8), "placing-foreman"),
        said("d2", k.LoadDecided(ticket_number="4101", decision="refuse"), clock(7, 9)),
    ]
    board = board_of(basis(), fold("slab", [*RELEASES, *tickets()[:4], *more]), 9, clock(7, 15))
    load = board.loads[0]
    assert load.contested and not load.decision and board.advice.text.startswith("Settle load 4101")
    assert any("decided differently" in text for text in board.look_at)


def test_without_a_plan_the_pour_can_be_drawn_and_recorded_all_the_same():
    pour = checked().sheet.pour[0]
    bare = basis_of(checked(), pour, None, planning="planning: 40 %")
    events = [each for each in (*RELEASES, *tickets()) if each.at <= clock(10)]
    board = board_of(bare, fold("slab", events), len(events), clock(10))
    assert board.plan_verdict == "planning: 40 %" and any(cell.state == "placed" for cell in board.cells)
    assert all(edge.join_by_setting is None and edge.join_by_specification for edge in board.edges)


def test_the_same_inputs_give_the_same_board():
    assert board_at(clock(12)) == board_at(clock(12))


@cache
def by():
    return forecaster_of(basis())


def at_stop():
    events = [each for each in (*RELEASES, *STOP[:1], *tickets()) if each.at <= clock(11, 20)]
    return fold("slab", events)


def test_the_forecast_goes_on_from_the_same_cells_and_tells_the_waiting_edges():
    found = board_of(basis(), at_stop(), 1, clock(11, 20), by())
    without = board_of(basis(), at_stop(), 1, clock(11, 20))
    assert found.forecast is not None and without.forecast is None and not found.look_at
    assert found.cells == without.cells and found.loads == without.loads
    edge = next(edge for edge in found.edges if edge.name == "B1 to B2")
    assert edge.joined_at.usual > clock(11, 20) and edge.chance_over_specification > 0.5
    assert found.advice.else_text.startswith("Stop at a joint: ") and "hose" in found.advice.caution


def test_a_stopped_pump_is_compared_with_its_ways_to_go_on():
    found = answer(basis(), by(), at_stop(), Question(kind="pump down", minutes=40.0), clock(11, 20))
    assert len(found.options) >= 2 and 0 <= found.recommended < len(found.options) and found.caution
    with pytest.raises(InvalidInput, match="minutes"):
        answer(basis(), by(), at_stop(), Question(kind="pump down"), clock(11, 20))
    with pytest.raises(InvalidInput, match="no plan to go on from"):
        answer(basis(), None, at_stop(), Question(kind="stop here"), clock(11, 20))


def breaking(monkeypatch, error):
    def broken(*_):
        raise error

    monkeypatch.setattr("wetfront.desk.board.ahead.forecast_of", broken)
    return board_of(basis(), at_stop(), 1, clock(11, 20), by())


def test_a_record_that_no_forecast_can_be_made_from_leaves_the_board_standing_and_says_why(monkeypatch, caplog):
    found = breaking(monkeypatch, OutOfRange("clock_min", 9999, "0 to 5760 min", "the table of the setting clock"))
    assert found.forecast is None and found.cells and not caplog.records
    assert any("no forecast can be made from this record: clock_min is 9999" in text for text in found.look_at)


def test_a_fault_of_the_program_is_logged_and_labelled_and_leaves_the_board_standing(monkeypatch, caplog):
    found = breaking(monkeypatch, ZeroDivisionError())
    assert found.forecast is None and found.cells
    assert any(text.startswith("fault of the program, no forecast: ZeroDivisionError") for text in found.look_at)
    assert "pour slab" in caplog.text and "ZeroDivisionError" in caplog.text


def test_a_load_that_comes_after_the_end_is_shown_to_somebody():
    late = said("late", k.LoadArrived(ticket_number="4130", volume_m3=6.0), clock(17))
    found = board_at(clock(18), said("end", k.PlacingEnded(), clock(16), "placing-foreman"), late)
    assert "load 4130 arrived after placing had ended" in found.look_at and found.phase == "cure"
