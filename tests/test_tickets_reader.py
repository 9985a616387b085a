"""Ticket files as they come: every row ends in exactly one way, slips are told with their place, nothing is lost."""

import csv
import datetime as dt
import io
from collections import Counter
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sheets import TARNWICK
from wetfront.delivery.loads import volumes
from wetfront.errors import SheetError
from wetfront.intake import read_sheet
from wetfront.intake.tickets_csv import COLUMNS, read_tickets
from wetfront.nouns.delivery import DeliveryRow, Reading, RowState
from wetfront.nouns.verdict import Outcome
from wetfront.planning.day import zone_of

SLAB = (TARNWICK / "delivery-tickets-slab.csv").read_text(encoding="utf-8")
POURS = {name: read_sheet(TARNWICK / f"{name}.toml").sheet.pour for name in ("slab", "wall", "raft")}
ZONE = zone_of("UTC+01:00")
TIMES = "batched_local,arrived_local,discharge_start_local,discharge_end_local"
HEAD = f"ticket_number,load_m3,{TIMES},accepted,signed_by_role"


def read(
    text: str | bytes, pours="slab", zone=ZONE, only=None, name="t.csv"
) -> tuple[tuple[DeliveryRow, ...], Reading]:
    data = text.encode() if isinstance(text, str) else text
    return read_tickets(data, name, POURS[pours], zone, only)


def one(row: str, head: str = HEAD, **how) -> tuple[tuple[DeliveryRow, ...], Reading]:
    return read(f"{head}\n{row}\n", **how)


def states(reading: Reading) -> Counter:
    return Counter(row.state for row in reading.rows)


def table(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def as_csv(rows: list[list[str]], divider: str = ",") -> str:
    stream = io.StringIO()
    csv.writer(stream, delimiter=divider, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(rows)
    return stream.getvalue()


@pytest.mark.parametrize(("name", "count"), [("slab", 29), ("raft", 25), ("wall", 6)])
def test_the_demo_files_are_read_whole_and_nothing_is_changed(name, count):
    loads, reading = read((TARNWICK / f"delivery-tickets-{name}.csv").read_bytes(), name)
    assert len(loads) == len(reading.rows) == count
    assert reading.mistakes == reading.corrections == reading.unknown_columns == reading.missing_columns == ()
    assert states(reading)[RowState.REFUSED] == (name == "slab")


def test_a_row_comes_out_as_it_stands():
    loads, _ = read(SLAB)
    load = next(row for row in loads if row.number == "4118")
    assert (load.load.ticket.truck, load.load.ticket.mix, load.volume_m3) == ("T03", "S1", 8.0)
    assert load.load.ticket.batched == dt.datetime.fromisoformat("2027-06-17T10:57+01:00")
    assert load.left_site == dt.datetime.fromisoformat("2027-06-17T12:58+01:00")
    assert load.load.additions[0].amount_l == 20
    assert load.load.additions[0].slump_before_mm == 70
    assert load.load.tests.slump_mm == 110  # of the load as it is after the addition
    assert load.decision is not None and load.decision.by == "site-engineer"
    sent_back = next(row for row in loads if row.number == "4107")
    assert (sent_back.load.tests.slump_mm, sent_back.load.tests.slump_check_mm) == (195, 190)
    assert sent_back.decision is not None and sent_back.decision.outcome is Outcome.REFUSE


def test_the_wall_s_rows_go_to_the_pour_of_their_day():
    loads, _ = read((TARNWICK / "delivery-tickets-wall.csv").read_bytes(), "wall")
    assert [row.pour for row in loads] == ["panel-1", "panel-1", "panel-3", "panel-3", "panel-2", "panel-2"]


def test_several_pours_need_a_column_of_days_or_a_chosen_pour():
    with pytest.raises(SheetError, match="date_local"):
        one("1,7.2,07:23,08:02,08:10,09:07,yes,x", pours="wall")
    loads, _ = one("1,7.2,07:23,08:02,08:10,09:07,yes,x", pours="wall", only=POURS["wall"][1])
    assert loads[0].pour == "panel-3" and loads[0].load.arrived.date() == dt.date(2027, 6, 21)


@pytest.mark.parametrize("changed", ["bom", "semicolons", "crlf", "other order", "capitals", "xlsx"])
def test_the_same_tickets_in_another_form_are_the_same_tickets(changed):
    rows = table(SLAB)
    data: str | bytes = SLAB
    match changed:
        case "bom":
            data = "\ufeff" + SLAB
        case "semicolons":
            data = as_csv(
                [
                    [
                        cell.replace("8.0", "8,0").replace("3.5", "3,5") if place == 4 else cell
                        for place, cell in enumerate(row)
                    ]
                    for row in rows
                ],
                ";",
            )
        case "crlf":
            data = SLAB.replace("\n", "\r\n")
        case "other order":
            data = as_csv([row[::-1] for row in rows])
        case "capitals":
            data = as_csv([[cell.replace("_", " ").title() for cell in rows[0]], *rows[1:]])
        case "xlsx":
            data = spreadsheet(rows)
    plain, _ = read(SLAB)
    loads, reading = read(data)
    assert loads == plain
    assert reading.mistakes == ()
    assert len(reading.corrections) == {"semicolons": 29, "capitals": 21}.get(changed, 0)


def spreadsheet(rows: list[list[str]]) -> bytes:
    """As a person would have it: numbers as numbers, times as times."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append([cell_of(cell) for cell in row])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_days_and_times_of_a_spreadsheet_are_read_as_such():
    rows = table((TARNWICK / "delivery-tickets-wall.csv").read_text(encoding="utf-8"))
    loads, reading = read(spreadsheet(rows), "wall")
    assert loads == read(as_csv(rows), "wall")[0]
    assert reading.corrections == reading.mistakes == ()


def cell_of(text: str):
    for kind in (int, float, lambda each: dt.datetime.strptime(each, "%H:%M").time(), dt.datetime.fromisoformat):
        try:
            return kind(text)
        except ValueError:
            continue
    return text or None


def test_times_past_midnight_go_on_and_are_told():
    loads, reading = one("1,8,23:20,23:50,23:58,00:12,yes,x")
    assert loads[0].load.discharge_end == dt.datetime.fromisoformat("2027-06-18T00:12+01:00")
    assert [(each.column, each.why) for each in reading.corrections] == [
        ("discharge_end_local", "after midnight of discharge_start_local")
    ]


def test_a_night_pour_s_first_load_may_be_batched_the_evening_before():
    pour = replace(POURS["slab"][0], planned_start_local=dt.time(0, 30))
    loads, _ = read_tickets(f"{HEAD}\n1,8,23:40,00:10,00:30,00:44,yes,x\n".encode(), "t.csv", [pour], ZONE)
    assert loads[0].load.ticket.batched == dt.datetime.fromisoformat("2027-06-16T23:40+01:00")
    assert loads[0].load.discharge_start == dt.datetime.fromisoformat("2027-06-17T00:30+01:00")


BERLIN = ZoneInfo("Europe/Berlin")


def on(day: str, row: str) -> tuple[tuple[DeliveryRow, ...], Reading]:
    pour = replace(POURS["slab"][0], date=dt.date.fromisoformat(day), planned_start_local=dt.time(1, 30))
    return read_tickets(f"{HEAD}\n{row}\n".encode(), "t.csv", [pour], BERLIN)


def test_an_hour_that_the_clocks_skip_is_a_mistake():
    loads, reading = on("2027-03-28", "1,8,01:40,02:20,03:20,03:34,yes,x")
    assert loads == () and "arrived_local" in reading.mistakes[0] and "go forward" in reading.mistakes[0]


def test_an_hour_that_the_clocks_show_twice_is_read_so_that_time_goes_on():
    loads, reading = on("2027-10-31", "1,8,02:30,02:10,02:50,03:05,yes,x")
    load = loads[0].load
    assert load.discharge_end - load.ticket.batched == dt.timedelta(minutes=95)
    assert any("twice" in each.why for each in reading.corrections)


def test_the_first_of_two_equal_hours_is_read_where_time_goes_on_in_both():
    loads, _ = on("2027-10-31", "1,8,01:50,02:10,02:50,03:05,yes,x")
    load = loads[0].load
    assert load.arrived - load.ticket.batched == dt.timedelta(minutes=20)
    assert load.discharge_end - load.ticket.batched == dt.timedelta(minutes=135)  # rather too old


@pytest.mark.parametrize("text", ["9999-12-31T23:59", "0001-01-01 00:00", "2100-01-01T07:20"])
def test_a_day_of_another_century_is_a_mistake_of_its_row(text):
    head, *rows = table(SLAB)
    rows[3][head.index("batched_local")] = text
    _, reading = read(as_csv([head, *rows]))
    assert [row.state for row in reading.rows if row.line == 5] == [RowState.IN_ERROR]


def test_a_time_with_its_own_offset_is_taken_into_the_site_s_zone():
    loads, _ = one("1,8,2027-06-17T05:28+00:00,07:05,07:20,07:34,yes,x")
    assert loads[0].load.ticket.batched == dt.datetime.fromisoformat("2027-06-17T06:28+01:00")
    assert loads[0].load.ticket.batched.isoformat().endswith("06:28:00+01:00")


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("1,8,06:28,07:25,07:20,07:34,yes,x", "discharge_start_local"),  # discharge before arrival
        ("1,8,06:28,06:20,07:20,07:34,yes,x", "arrived_local"),
        ("1,8,06:28,07:05,07:20,07:10,yes,x", "discharge_end_local"),
        ("1,8,25:00,07:05,07:20,07:34,yes,x", "batched_local"),
        ("1,8,soon,07:05,07:20,07:34,yes,x", "batched_local"),
        ("1,0,06:28,07:05,07:20,07:34,yes,x", "load_m3"),
        ("1,800,06:28,07:05,07:20,07:34,yes,x", "load_m3"),
        ("1,nan,06:28,07:05,07:20,07:34,yes,x", "load_m3"),
        ("1,inf,06:28,07:05,07:20,07:34,yes,x", "load_m3"),
        ('1,"8,0",06:28,07:05,07:20,07:34,yes,x', "load_m3"),  # a decimal comma between commas
        ("1,=4+4,06:28,07:05,07:20,07:34,yes,x", "load_m3"),
        (",8,06:28,07:05,07:20,07:34,yes,x", "ticket_number"),
        ("1,8,06:28,07:05,07:20,07:34,perhaps,x", "accepted"),
        ("1,8,06:28,07:05,07:20,07:34,no,x", "accepted"),  # refused, and discharged
        ("1,8,06:28,07:05,,07:34,yes,x", "discharge_start_local"),
        ("1,8,06:28,,07:20,07:34,yes,x", "arrived_local"),
        ("1,8,2027-06-12T06:28,2027-06-12T07:05,,,yes,x", "batched_local"),  # of another day
    ],
)
def test_what_cannot_be_is_an_error_of_its_row_and_column(row, column):
    loads, reading = one(row)
    assert loads == ()
    assert states(reading) == {RowState.IN_ERROR: 1}
    assert reading.mistakes[0].startswith(f"t.csv:2: {column}: found ")
    assert "allowed: " in reading.mistakes[0]


def test_every_mistake_of_a_file_is_told_at_once_and_good_rows_are_kept():
    text = f"{HEAD}\n1,x,06:28,07:05,07:20,07:34,yes,x\n2,8,06:28,07:05,07:20,07:34,yes,x\n3,8,late,bad,,,maybe,x\n"
    loads, reading = read(text)
    assert [row.number for row in loads] == ["2"]
    assert [mistake.split(": ")[:2] for mistake in reading.mistakes] == [
        ["t.csv:2", "load_m3"],
        ["t.csv:4", "accepted"],
        ["t.csv:4", "batched_local"],
        ["t.csv:4", "arrived_local"],
    ]


def test_the_same_ticket_twice_counts_once():
    lines = SLAB.splitlines()
    loads, reading = read("\n".join([*lines, lines[5], lines[5]]))
    assert len(loads) == 29
    assert states(reading)[RowState.REPEATED] == 2
    assert volumes(loads) == volumes(read(SLAB)[0])


def test_one_number_with_two_contents_holds_both_and_takes_neither():
    lines = SLAB.splitlines()
    loads, reading = read("\n".join([*lines, lines[1].replace(",8.0,", ",7.5,")]))
    held = [row for row in loads if row.state is RowState.HELD]
    assert [(row.number, row.line) for row in held] == [("4101", 2), ("4101", 31)]
    assert held[0].why_held == "line 31 has the same number and another content (load_m3)"
    accepted, rejected, on_hold = volumes(loads)
    assert (accepted, rejected, on_hold) == (211.5, 8.0, 8.0)  # one truck, counted with its larger volume
    assert states(reading)[RowState.HELD] == 2


def test_a_load_that_nobody_decided_is_held():
    loads, _ = one("1,8,06:28,07:05,,,,")
    assert (loads[0].state, loads[0].why_held) == (RowState.HELD, "nobody has decided")


def test_one_mistake_of_a_time_draws_no_second_one():
    _, reading = one("1,8,06:28,07:05,06:50,07:34,yes,x")
    assert len(reading.mistakes) == 1


@pytest.mark.parametrize(("signed", "state"), [("site-engineer", RowState.TAKEN), ("", RowState.HELD)])
def test_without_a_batching_time_a_load_is_held_unless_a_person_signed(signed, state):
    loads, _ = one(f"1,8,,07:05,07:20,07:34,yes,{signed}")
    assert loads[0].state is state


def test_unknown_columns_are_told_with_the_nearest_name_and_missing_ones_listed():
    _, reading = one("1,8,06:28,07:05,07:20,07:34,yes,x,5,y", head=HEAD + ",slumpmm,crane")
    assert reading.unknown_columns == ("slumpmm (did you mean slump_mm?)", "crane")
    assert "left_site_local" in reading.missing_columns and "slump_mm" in reading.missing_columns


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "an empty file"),
        (b"\n\n\n", "an empty file"),
        (HEAD.encode(), "no rows"),
        (b"\x00\x01\x02", "binary data"),
        (b"ticket_number\n\xff\n", "not UTF-8"),
        (b"PK\x03\x04 and nothing", "damaged or foreign spreadsheet"),
        (b"\xd0\xcf\x11\xe0old", "old binary kind"),
        (b"a,b\n1,2\n", "no such column"),
        (f"{HEAD},load_m3\n".encode(), "a column named twice"),
        (b'ticket_number,load_m3\n"1,2\n', "no such column"),
        (b"x" * 11_000_000, "11.0 MB"),
        ((HEAD + "\n" + "1,8,,,,,,\n" * 5_001).encode(), "more than 5000 rows"),
        (f'{HEAD}\n"open,8\n'.encode(), "no CSV"),
        (("c," * 300 + "c\n").encode(), "301 columns"),
    ],
)
def test_a_file_that_is_no_list_of_tickets_is_refused_whole(data, found):
    with pytest.raises(SheetError) as caught:
        read(data)
    assert found in caught.value.message
    assert all(problem.file == "t.csv" for problem in caught.value.problems)


ODD = st.sampled_from(
    (
        *("", " ", "0", "-1", "8", "8,0", "1e400", "nan", "inf", "4 in", "70 F", "24:00", "23:59", "00:01", "7:5"),
        *("2027-06-17T07:05+01:00", "2027-06-18", "9999-12-31T23:59", "yes", "no", "maybe", "4101", "=1+1", "'; --"),
        *("a" * 5_000, "\u202e", "½", "１", "\x07", "💧", '"', "0x10", "1_0", "١"),
    )
)
EDIT = st.tuples(st.integers(0, 28), st.integers(0, 20), st.one_of(ODD, st.text(max_size=12)))


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    edits=st.lists(EDIT, max_size=12),
    again=st.lists(st.integers(0, 28), max_size=3),
    short=st.lists(st.integers(0, 28), max_size=2),
    order=st.permutations(range(21)),
    divider=st.sampled_from((",", ";")),
)
def test_every_row_of_a_spoiled_file_ends_in_exactly_one_way_and_the_counts_add_up(edits, again, short, order, divider):
    head, *rows = table(SLAB)
    for row, column, text in edits:
        rows[row][column] = text
    rows += [list(rows[row]) for row in again]
    rows = [[row[place] for place in order] for row in rows]
    for row in short:
        rows[row].append("one more")
    try:
        loads, reading = read(as_csv([[head[place] for place in order], *rows], divider))
    except SheetError as error:
        assert error.problems
        return
    filled = [row for row in rows if any(cell.strip() for cell in row)]
    assert len(reading.rows) == len(filled) == sum(states(reading).values())
    assert len({row.line for row in reading.rows}) == len(filled)
    kept = {row.line: row.state for row in loads}
    assert kept == {
        row.line: row.state for row in reading.rows if row.state not in (RowState.IN_ERROR, RowState.REPEATED)
    }
    for row in reading.rows:
        told = any(mistake.startswith(f"t.csv:{row.line}: ") for mistake in reading.mistakes)
        assert told == (row.state is RowState.IN_ERROR)
    for row in loads:
        assert list(row.moments) == sorted(row.moments)
        assert (row.state is RowState.REFUSED) == (row.decided is False and not row.why_held)
    numbers = [row.number for row in loads if row.state is not RowState.HELD]
    assert len(numbers) == len(set(numbers))
    assert all(len(mistake) < 2_000 for mistake in reading.mistakes)


@settings(max_examples=60, deadline=None)
@given(data=st.one_of(st.binary(max_size=400), st.text(max_size=300).map(lambda text: f"{HEAD}\n{text}".encode())))
def test_whatever_the_bytes_are_the_reader_ends_with_an_account_or_a_reason(data):
    try:
        _, reading = read(data)
    except SheetError as error:
        assert error.problems
    else:
        assert all(row.state in RowState for row in reading.rows)


def test_the_page_about_tickets_names_every_column():
    page = (Path(__file__).parent.parent / "docs" / "tickets.md").read_text(encoding="utf-8")
    assert [column for column in COLUMNS if f"`{column}`" not in page] == []
