"""How long an edge waited: one method, that of the ticket report, on the cells that the board draws."""

import datetime as dt
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from test_board import RELEASES, STOP, TARNWICK, ZONE, basis, board_of, checked, clock, said, tickets
from test_tickets_day import EDGES, SAMPLED_COARSELY
from wetfront.delivery.edges import Piece, longest_wait, pieces_of
from wetfront.delivery.stops import discharged, stops_of
from wetfront.desk.board import basis_of
from wetfront.desk.board.waits import Put, courses_of, waits_of
from wetfront.intake.tickets_csv import read_tickets
from wetfront.journal import fold
from wetfront.journal import kinds as k

EXPECTED = tomllib.loads((TARNWICK / "expected.toml").read_text(encoding="utf-8"))
DELIVERED_M3 = EXPECTED["slab"]["quantity"]["accepted_m3"]


def even_basis():
    """The slab as expected.toml assumes it: nine equal strips, all concrete spread over them, nothing in the line."""
    mine = checked()
    elements = tuple(replace(each, opening=()) if each.id == "B" else each for each in mine.sheet.element)
    net = sum(each.length_m * each.width_m * each.thickness_mm / 1000 for each in elements)
    allowance = replace(
        mine.sheet.allowance, wastage_percent=100 * (DELIVERED_M3 / net - 1), extra_m3=0.0, line_content_lost=False
    )
    even = replace(mine, sheet=replace(mine.sheet, element=elements, allowance=allowance))
    return basis_of(even, even.sheet.pour[0], None)


def spread_evenly():
    """The tickets' discharges, cut where each ninth of all concrete was out: each part with its strip and its times."""
    data = (TARNWICK / "delivery-tickets-slab.csv").read_bytes()
    rows, _ = read_tickets(data, "t.csv", checked().sheet.pour, ZONE)
    zero = rows[0].moments[0]
    pieces = pieces_of(rows, stops_of(rows, (), 0.0, 8.0), zero)
    ends = np.linspace(0.0, pieces[-1].to_m3, len(basis().steps.names) + 1)
    loads = [(row.number, row.volume_m3) for _, _, row in discharged(rows)]
    reached = np.cumsum([volume for _, volume in loads])
    told = []
    for piece in pieces:
        ticket = loads[int(np.searchsorted(reached, (piece.from_m3 + piece.to_m3) / 2))][0]
        for place, low, high in zip(basis().steps.names, ends[:-1], ends[1:], strict=True):
            begins, stops = max(piece.from_m3, low), min(piece.to_m3, high)
            if stops - begins > 1e-9:
                since, until = (zero + dt.timedelta(minutes=float(piece.at(each))) for each in (begins, stops))
                part = float(stops - begins)
                fact = k.LoadPlaced(
                    ticket_number=ticket, place=place, volume_m3=part, placed_from=since, placed_until=until
                )
                told.append(said(f"{ticket} {len(told)}", fact, until))
    arrived = [each for each in tickets() if each.kind == "load-arrived"]
    return fold("slab", [*RELEASES, *STOP, *arrived, *told])


def waited(board):
    between = [edge for edge in board.edges if " to " in edge.name]
    return {edge.name.replace(" to ", "-"): edge.waited_min for edge in between}


def test_spread_evenly_the_board_and_the_ticket_report_say_the_same_of_every_edge():
    found = waited(board_of(even_basis(), spread_evenly(), 1, clock(17)))
    assert set(found) == set(EDGES)
    for name, minutes in found.items():
        if name in SAMPLED_COARSELY:
            assert minutes == pytest.approx(SAMPLED_COARSELY[name], abs=0.06), "rounded to a tenth of a minute"
        else:
            assert round(minutes) == EDGES[name]["longest_min"], name


def test_on_the_drawing_what_fills_the_line_and_the_opening_move_the_rows_and_the_waits_a_little():
    """Not the assumption of the reference: 1 m³ stays in the line, and B2 has an opening of 0.9 m³."""
    found = waited(board_of(basis(), spread_evenly(), 1, clock(17)))
    assert set(found) == set(EDGES)
    for name, minutes in found.items():
        assert abs(minutes - EDGES[name]["longest_min"]) < 5.0, name


def test_a_wait_over_the_specifications_minutes_is_a_departure_by_the_same_figure():
    board = board_of(even_basis(), spread_evenly(), 1, clock(17))
    for edge in board.edges:
        assert ("over the specification" in edge.text) == (edge.chance_over_specification == 1.0)
    over = {edge.name for edge in board.edges if edge.chance_over_specification == 1.0}
    assert {"B1 to B2", "B2 to B3"} <= over and "C1 to C2" not in over


@pytest.mark.parametrize(("late_min", "departs"), [(-0.5, False), (0.5, True)])
def test_an_edge_joined_by_the_shown_deadline_is_no_departure_and_one_joined_after_it_is(late_min, departs):
    """The strip beside begins at the deadline and is filled as fast as the first: each of its points waits as long."""
    mine, took = basis(), dt.timedelta(minutes=42)
    fact = k.LoadPlaced(
        ticket_number="61", place="C1", volume_m3=26.0, placed_from=clock(8), placed_until=clock(8) + took
    )
    told = [*RELEASES, said("p1", fact, clock(8) + took)]
    waiting = next(edge for edge in board_of(mine, fold("slab", told), 1, clock(8, 50)).edges if "C2" in edge.name)
    begins = waiting.join_by_specification + dt.timedelta(minutes=late_min)
    second = replace(fact, ticket_number="62", place="C2", placed_from=begins, placed_until=begins + took)
    told.append(said("p2", second, begins + took))
    joined = next(edge for edge in board_of(mine, fold("slab", told), 1, clock(12)).edges if edge.name == waiting.name)
    assert joined.closed and ("a departure" in joined.text) == departs


def test_cells_that_a_phone_names_in_the_middle_of_a_strip_have_their_wait():
    mine = basis()
    first, later = mine.arranged.parts.joints.first, mine.arranged.parts.joints.later
    edge = np.flatnonzero(mine.arranged.parts.joints.edge == mine.arranged.parts.joints.edge_names.index("C1 to C2"))
    cells = mine.cell_of_position
    facts = []
    for number, side, start in ((1, first, clock(8)), (2, later, clock(9, 10))):
        named = tuple(sorted({int(cells[place]) for place in side[edge]}))
        until = start.replace(minute=start.minute + 14)
        fact = k.LoadPlaced(
            ticket_number=f"6{number}", place=f"C{number}", cells=named, placed_from=start, placed_until=until
        )
        facts.append(said(f"p{number}", fact, until))
    board = board_of(mine, fold("slab", [*RELEASES, *facts]), 1, clock(10))
    found = next(each for each in board.edges if each.name == "C1 to C2")
    assert found.closed and found.waited_min == pytest.approx(70.0)


ROWS = 12


@given(
    discharges=st.lists(st.tuples(st.floats(1, 20), st.floats(0, 40), st.floats(0.5, 9)), min_size=2, max_size=12),
    side=st.integers(1, 3),
)
def test_row_against_row_is_point_against_point_of_two_equal_strips(discharges, side):
    """Whatever the discharges and gaps, and however many cells a row has: the exact method finds the same wait."""
    pieces, minute, volume = [], 0.0, 0.0
    for lasts, gap, amount in discharges:
        minute += gap
        pieces.append(
            Piece(from_m3=volume, to_m3=volume + amount, start_min=minute, end_min=minute + lasts, batched_min=minute)
        )
        minute, volume = minute + lasts, volume + amount
    cells = 2 * ROWS * side
    ends = np.linspace(0.0, volume, cells + 1)
    puts = []
    for cell in range(cells):
        for piece in pieces:
            low, high = max(ends[cell], piece.from_m3), min(ends[cell + 1], piece.to_m3)
            if high > low:
                puts.append(Put(cell, high - low, piece.at(low), piece.at(high)))
    row = np.arange(cells) // side
    found = waits_of(courses_of(row, puts), np.arange(ROWS), np.arange(ROWS, 2 * ROWS))
    exact = longest_wait(pieces, 0.0, volume / 2, volume / 2)
    assert found.wait_min.max() == pytest.approx(exact.longest_min, abs=1e-5)
    assert (found.covered_min - found.since_min == pytest.approx(found.wait_min, abs=1e-9)) and (
        found.wait_min > 0
    ).all()
