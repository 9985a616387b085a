"""The board of a running pour: what is recorded comes out as state, deadlines and the next decision."""

import datetime as dt
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from planned import QUICK
from test_journal import event
from wetfront.desk.board import answer, basis_of, board_of, forecaster_of
from wetfront.desk.board.filling import filled
from wetfront.desk.plan_pour import plan_one
from wetfront.desk.ticket_events import entries_of
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.forecast import PlacedCells, forecast_of, standing
from wetfront.intake.sheet import read_sheet
from wetfront.intake.tickets_csv import read_tickets
from wetfront.journal import fold
from wetfront.journal import kinds as k
from wetfront.nouns.board import Question
from wetfront.planning.decided import undecided_order
from wetfront.planning.steps import moments

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


def places(board):
    """What the drawing shows, without what only a plan gives."""
    cells = [(cell.index, cell.place, cell.state, cell.ticket_number, cell.placed_at) for cell in board.cells]
    edges = {(edge.name, edge.closed, edge.waited_min, edge.waits_since, edge.cells) for edge in board.edges}
    return cells, edges, board.lattice


@pytest.mark.parametrize("hour", [8, 11, 13, 17])
def test_without_a_plan_cells_edges_and_waits_are_those_of_the_plan_for_the_same_order(hour):
    pour = checked().sheet.pour[0]
    bare = basis_of(checked(), pour, None)
    state = fold("slab", [each for each in (*RELEASES, *STOP, *tickets()) if each.at <= clock(hour)])
    found = places(board_of(bare, state, 1, clock(hour)))
    assert found == places(board_of(basis(), state, 1, clock(hour)))
    assert not any("C1 to B" in name or "B1 to A" in name for name, *_ in found[1])


def with_order(*names):
    mine = checked()
    choices = replace(mine.sheet.choices, element_order=names)
    return replace(mine, sheet=replace(mine.sheet, choices=choices))


@pytest.mark.parametrize(("names", "x_side"), [(("C", "B", "A"), "high-x"), (("A", "B", "C"), "low-x")])
def test_a_pour_without_a_plan_begins_where_its_first_element_is_farthest_from_the_next(names, x_side):
    mine = with_order(*names)
    order = undecided_order(mine.sheet, mine.sheet.pour[0])
    assert order.start_corner == f"{x_side} high-y", "and away from the pump, which stands on the low side of y"


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
    assert [(c.index, c.state, c.placed_at) for c in found.cells] == [
        (c.index, c.state, c.placed_at) for c in without.cells
    ]
    edge = next(edge for edge in found.edges if edge.name == "B1 to B2")
    assert edge.by_forecast and edge.joined_at.usual > clock(11, 20) and edge.chance_over_specification > 0.5
    assert not any(edge.by_forecast or (edge.joined_at and not edge.closed) for edge in without.edges)
    assert found.advice.else_text.startswith("Stop at a joint: ") and "hose" in found.advice.caution


def forecast_at(now, state):
    """What the board makes its views from."""
    filling = filled(basis(), state, now)
    return forecast_of(by(), state, now, PlacedCells(load=filling.load, placed_min=filling.placed_min))


def recorded(now, *more):
    return fold("slab", [each for each in (*RELEASES, *STOP, *tickets(), *more) if each.at <= now])


@pytest.mark.parametrize("now", [clock(9), clock(10, 40), clock(11, 20), clock(13), clock(14, 30)])
def test_every_figure_of_the_board_that_the_forecast_knows_is_the_forecasts(now):
    """Same edge, same strip, same load, same times."""
    state = recorded(now)
    forecast = forecast_at(now, state)
    known, board, day = standing(forecast), board_of(basis(), state, 1, now, by()), basis().day
    edges = {edge.name: edge for edge in board.edges}
    assert edges and set(edges) <= set(known.edges)
    for name, edge in edges.items():
        assert edge.by_forecast and known.edges[name].waits != edge.closed
        assert edge.join_by_setting == moments(day, known.edges[name].join_until_min)
        assert edge.chance_over_specification == known.edges[name].chance_over_specification
        assert edge.chance_of_cold_joint == known.edges[name].chance_of_cold_joint
        if not edge.closed:
            assert edge.joined_at == moments(day, known.edges[name].joined_min)
    cells = {cell.index: cell for cell in board.cells}
    specified = dict(zip(known.cells.position.tolist(), known.cells.specified_min.tolist(), strict=True))
    filling, row = filled(basis(), state, now), basis().arranged.order.row
    for place, position in enumerate(known.cells.waits.tolist()):
        cell = cells[int(basis().cell_of_position[position])]
        # The board's minutes run from the first concrete of the row: the wait of each of its points is held to them.
        earlier = filling.placed_min[position] - filling.courses[int(row[position])][0].from_min
        assert cell.edge_open and cell.join_by_specification == day.moment(specified[position] - earlier)
        assert cell.join_by_setting == moments(day, known.cells.join_until_min[:, place])
    assert {view.place for view in board.finishing} == set(known.strips)
    for view in board.finishing:
        strip = known.strips[view.place]
        assert view.by_forecast and view.bleed_ends == moments(day, strip.bleed_ends_min)
        assert view.opens == moments(day, strip.opens_min) and view.closes == moments(day, strip.closes_min)
    to_come = [load for load in board.loads if load.expected_by]
    assert [load.volume_m3 for load in to_come] == forecast.coming.volume_m3.tolist()
    assert to_come[0].arrives == board.forecast.next_arrival
    for place, load in enumerate(to_come):
        assert load.arrives == moments(day, forecast.coming.arrives_min[:, place])
    assert sum(load.state == "on the road" for load in to_come) == board.forecast.on_road_count


def test_the_boards_own_bounds_are_near_the_forecasts():
    """Of loads that were measured: one rule, once by members and once by its band. Of the others the forecast knows the
    day's temperature from those that were measured: on this warm day it is the earlier one."""
    now = clock(13)
    state = recorded(now)
    ours, own = (board_of(basis(), state, 1, now, each) for each in (by(), None))
    bounds = {cell.index: cell.join_by_setting for cell in own.cells if cell.edge_open}
    measured = {load.ticket_number for load in state.loads if any(t.fact.test == "temperature" for t in load.tests)}
    seen = set()
    for cell in ours.cells:
        if cell.edge_open:
            for name in ("early", "usual", "late"):
                later = getattr(cell.join_by_setting, name) - getattr(bounds[cell.index], name)
                near = -dt.timedelta(minutes=8) if cell.ticket_number in measured else -dt.timedelta(minutes=30)
                assert near <= later <= dt.timedelta(minutes=8), (cell.ticket_number, name, later)
            seen.add(cell.ticket_number in measured)
    assert seen == {True, False}
    # The first of several loads sets before each of them: no edge may wait longer than by the bounds of its cells.
    edges = {edge.name: edge for edge in own.edges}
    for edge in ours.edges:
        assert edge.join_by_setting.late <= edges[edge.name].join_by_setting.late + dt.timedelta(minutes=8)
        assert edge.join_by_specification == edges[edge.name].join_by_specification
    windows = {view.place: view for view in own.finishing}
    for view in ours.finishing:
        assert abs((view.opens.usual - windows[view.place].opens.usual).total_seconds()) <= 15 * 60


def test_hotter_concrete_sets_sooner_by_the_forecast_too():
    def first_deadline(celsius):
        state = fold(
            "slab",
            [
                said("a", k.LoadArrived(ticket_number="1", volume_m3=8.0, batched=clock(6, 30)), clock(7, 5)),
                said("t", k.LoadTested(ticket_number="1", test="temperature", value=celsius), clock(7, 6)),
                said("p", k.LoadPlaced(ticket_number="1", place="C1"), clock(7, 34)),
            ],
        )
        edge = board_of(basis(), state, 3, clock(8), by()).edges[0]
        assert edge.by_forecast
        return edge.join_by_setting

    cool, warm = first_deadline(18.0), first_deadline(27.0)
    assert warm.early < cool.early and warm.usual < cool.usual - dt.timedelta(minutes=20)


def test_loads_on_the_road_are_expected_and_never_told_as_seen():
    now = clock(11, 20)
    ours, own = (board_of(basis(), recorded(now), 1, now, each) for each in (by(), None))
    road = [load for load in ours.loads if load.state == "on the road"]
    assert road and all(load.expected_by == "forecast" and not load.ticket_number for load in road)
    assert all(load.batched is None and load.arrived is None and load.arrives.early >= now for load in road)
    later = [load for load in ours.loads if load.state == "planned"]
    assert later and later[0].number == road[-1].number + 1
    assert {load.expected_by for load in own.loads if load.arrived is None} == {"plan"}
    assert not any(load.state == "on the road" for load in own.loads)
    usual = [load.arrives.usual for load in (*road, *later)]
    assert usual == sorted(usual)


ENDED = said("end", k.PlacingEnded(), clock(16), "placing-foreman")


def test_windows_stay_as_they_are_once_placing_has_ended():
    evening, later = clock(18), clock(18) + dt.timedelta(days=9)
    assert (
        board_of(basis(), recorded(evening, ENDED), 1, evening, by()).finishing
        == board_of(basis(), recorded(later, ENDED), 1, later, by()).finishing
    )


def test_the_first_and_the_last_strip_are_trowelled_as_the_day_log_tells():
    """The log's trowels go off at 21:00: within the band of the last pass on A3; C1 was ready hours before."""
    board = board_of(basis(), recorded(clock(17), ENDED), 1, clock(17), by())
    strips = {view.place: view for view in board.finishing}
    assert list(strips) == ["C1", "C2", "C3", "B1", "B2", "B3", "A1", "A2", "A3"]
    assert strips["A3"].closes.early < clock(21) < strips["A3"].closes.late
    assert clock(11) < strips["C1"].opens.usual < clock(12, 30)
    for view in strips.values():
        assert view.bleed_ends.usual <= view.opens.usual < view.closes.usual


def test_a_window_that_may_be_over_is_no_time_to_count_down_to():
    """At 16:30 C3 may be over since half past two, and surely is by five; C1 and C2 are."""
    board = board_of(basis(), recorded(clock(16, 30), ENDED), 1, clock(16, 30), by())
    assert (board.advice.text, board.advice.by) == ("Finish C3 now", None)
    over = [view.place for view in board.finishing if view.closes.late < clock(16, 30)]
    assert over[:2] == ["C1", "C2"] and "C3" not in over
    assert f"nothing is told of {', '.join(over)}, whose window is over" in board.advice.reason


def test_saw_cuts_are_shown_where_the_sheet_has_them_once_both_sides_are_in():
    """x12 is sawn, between B3 and A1; x24 is a support line with its steel through."""
    board = board_of(basis(), recorded(clock(17), ENDED), 1, clock(17), by())
    cuts = {view.place: view.saw_cuts for view in board.finishing if view.saw_cuts}
    assert set(cuts) == {"B3", "A1"} and cuts["B3"] == cuts["A1"]
    usual, early = cuts["A1"]
    assert (usual.method, early.method, usual.joint) == ("conventional", "early-entry", "x12")
    strips = {view.place: view for view in board.finishing}
    wait = usual.opens.usual - strips["A1"].closes.usual
    assert dt.timedelta(hours=4) < wait < dt.timedelta(hours=8)
    assert abs(usual.closes - strips["B3"].closes.early - dt.timedelta(hours=18)) <= dt.timedelta(minutes=1)
    assert early.opens.usual < usual.opens.usual and early.closes < usual.closes
    assert "65 mm" in usual.text and "trial cut" in usual.text
    before = board_of(basis(), recorded(clock(13, 30)), 1, clock(13, 30), by())
    waiting = next(view.saw_cuts for view in before.finishing if view.place == "B3")
    assert (
        waiting[0].opens is None
        and waiting[0].text == "x12 at x = 12 m: waits for A1, not in yet or without a finishing window"
    )


def test_a_saw_cut_counts_from_the_end_of_finishing_that_was_told_and_goes_when_it_is_cut():
    told = [
        said("f1", k.SurfaceWorked(place="B3", step="trowelled"), clock(17)),
        said("f2", k.SurfaceWorked(place="A1", step="hand finished", until=clock(18, 10)), clock(17, 40)),
        said("c", k.Curing(place="A1", step="started"), clock(18, 20)),
    ]
    board = board_of(basis(), recorded(clock(19), ENDED, *told), 1, clock(19), by())
    cut = next(view.saw_cuts[0] for view in board.finishing if view.place == "A1")
    assert cut.opens.early == cut.opens.usual == cut.opens.late and cut.closes == clock(17) + dt.timedelta(hours=18)
    assert "counted from the end of finishing;" in cut.text
    done = said("s", k.SawCut(place="x12", depth_mm=65.0), clock(23))
    board = board_of(basis(), recorded(clock(23, 30), ENDED, *told, done), 1, clock(23, 30), by())
    assert all(cut.cut_at == clock(23) for view in board.finishing for cut in view.saw_cuts)


def changed_sheet(**of_specification):
    sheet = basis().sheet
    specification = replace(sheet.specification, **of_specification)
    return replace(basis(), checked=replace(basis().checked, sheet=replace(sheet, specification=specification)))


def test_no_saw_cut_is_shown_where_the_specification_asks_for_none():
    board = board_of(changed_sheet(saw_cut_depth_mm=None), recorded(clock(17), ENDED), 1, clock(17), by())
    assert board.finishing and not any(view.saw_cuts for view in board.finishing)
    assert not any("saw" in rule for rule in board.finishing_rests_on)


def test_outside_the_rules_range_no_saw_cut_is_shown_and_the_reason_is():
    frost = replace(basis(), weather=replace(basis().weather, air_c=basis().weather.air_c - 40))
    board = board_of(frost, recorded(clock(17), ENDED), 1, clock(17), by())
    cut = next(view.saw_cuts[0] for view in board.finishing if view.place == "A1")
    assert cut.opens is None and cut.closes is None and "holds for concrete_temperature_c from 5 to 40 °C" in cut.text


@pytest.mark.parametrize("celsius", [-1.0, 41.0])
def test_a_strip_whose_last_concrete_lies_outside_the_setting_rules_has_no_window_and_says_why(celsius):
    last = [load for load in recorded(clock(17), ENDED).loads if load.placings and "C1" in load.placings[-1].fact.place]
    hot = said("hot", k.LoadTested(ticket_number=last[-1].ticket_number, test="temperature", value=celsius), clock(10))
    for by_what in (by(), None):
        board = board_of(basis(), recorded(clock(17), ENDED, hot), 1, clock(17), by_what)
        assert "C1" not in {view.place for view in board.finishing} and len(board.finishing) == 8
        assert any(
            text.startswith(f"C1: no finishing window, its last concrete came at {celsius:g} °C")
            for text in board.look_at
        )


def test_where_no_joint_is_said_to_be_sawn_all_strips_on_the_ground_may_carry_one():
    sheet = basis().sheet
    joints = tuple(replace(joint, kind="construction joint") for joint in sheet.joint)
    plain = replace(basis(), checked=replace(basis().checked, sheet=replace(sheet, joint=joints)))
    board = board_of(plain, recorded(clock(17), ENDED), 1, clock(17), by())
    places = {view.place for view in board.finishing if view.saw_cuts}
    assert places == {"B1", "B2", "B3", "A1", "A2", "A3"}
    cut = next(view.saw_cuts[0] for view in board.finishing if view.place == "A2")
    assert cut.joint == "" and cut.opens is not None and "the sheet does not say where" in cut.text


def test_the_saw_is_the_next_decision_once_curing_is_on():
    finished = [
        said(f"f{name}", k.SurfaceWorked(place=name, step="trowelled"), clock(18))
        for name in basis().arranged.parts.finished_strip_names
    ]
    cured = [said(f"c{each.id}", k.Curing(place=each.payload["place"], step="started"), clock(18)) for each in finished]
    now = clock(19)
    board = board_of(basis(), recorded(now, ENDED, *finished, *cured), 1, now, by())
    assert board.phase == "cure" and board.advice.text.startswith("Saw x12 from about")
    assert len(board.advice.spoken.split()) <= 8


def test_where_each_rule_of_finishing_comes_from_is_said():
    rules = board_of(basis(), recorded(clock(13)), 1, clock(13), by()).finishing_rests_on
    assert any("own rule" in rule and "bleeding" in rule for rule in rules)
    assert any("common practice, no source" in rule for rule in rules)


def test_drying_is_held_against_the_projects_values():
    board = board_of(basis(), recorded(clock(13, 20)), 1, clock(13, 20), by())
    assert board.surface.action_kg_per_m2_h == 0.5 and "action value" in board.surface.text


def test_a_stopped_pump_is_compared_with_its_ways_to_go_on():
    found = answer(basis(), by(), at_stop(), Question(kind="pump down", minutes=40.0), clock(11, 20))
    assert len(found.options) >= 2 and 0 <= found.recommended < len(found.options) and found.caution
    with pytest.raises(InvalidInput, match="minutes"):
        answer(basis(), by(), at_stop(), Question(kind="pump down"), clock(11, 20))
    with pytest.raises(InvalidInput, match="no plan to go on from"):
        answer(basis(), None, at_stop(), Question(kind="stop here"), clock(11, 20))


@pytest.mark.parametrize(("hour", "minute"), [(8, 30), (9, 0), (11, 50), (12, 30)])
def test_a_late_truck_is_compared_also_when_the_plant_is_behind_its_plan(hour, minute):
    now = clock(hour, minute)
    state = fold("slab", [each for each in (*RELEASES, *STOP, *tickets()) if each.at <= now])
    found = answer(basis(), by(), state, Question(kind="next truck late", minutes=30.0), now)
    ends = {option.title: option.end_of_placing.usual for option in found.options}
    assert ends["wait for it"] >= ends["as it stands, on time"] > now


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
