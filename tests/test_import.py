"""Reading tickets and readings into the record: shown before, kept once, nothing of the people's own doubled."""

import datetime as dt
import shutil

import pytest
from fastapi.testclient import TestClient

from test_api import TARNWICK
from test_board import basis, clock, said
from wetfront.api.app import build_app
from wetfront.api.site import Site
from wetfront.desk.board import board_of
from wetfront.journal import body_of, fold
from wetfront.journal import kinds as k
from wetfront.store import Journals, database_url, opened

EVENING = clock(22)
TICKETS = (TARNWICK / "delivery-tickets-slab.csv").read_bytes()


@pytest.fixture
def site(tmp_path):
    folder = tmp_path / "site"
    shutil.copytree(TARNWICK, folder)
    engine = opened(database_url("", tmp_path))
    site = Site(folder=folder, journals=Journals(engine), now=lambda: EVENING)
    yield site
    engine.dispose()


@pytest.fixture
def client(site):
    with TestClient(build_app(site), raise_server_exceptions=False) as found:
        yield found


def sent(client, data, what="tickets", preview="false"):
    answer = client.post(f"/api/pours/slab/import/{what}", params={"preview": preview, "name": "t.csv"}, content=data)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_a_preview_keeps_nothing_and_tells_every_row(client):
    found = sent(client, TICKETS, preview="true")
    assert found["preview"] and len(found["rows"]) == 29 and found["new"] == found["entries"] > 100
    assert next(row for row in found["rows"] if row["ticket_number"] == "4107")["state"] == "refused by the site"
    assert client.get("/api/pours/slab/records").json()["records"] == []


def test_the_same_file_twice_adds_nothing_and_a_changed_ticket_is_a_clash(client):
    first = sent(client, TICKETS)
    again = sent(client, TICKETS)
    assert (again["new"], again["known"], again["last_number"]) == (0, first["new"], first["last_number"])
    changed = sent(client, TICKETS.replace(b"4101,plant-a,T01,S1,8.0", b"4101,plant-a,T01,S1,7.5"))
    assert (changed["new"], changed["clashes"]) == (0, 1)
    assert client.get("/api/pours/slab/records").json()["chain"] == "holds"


def test_the_record_of_the_file_gives_the_board_of_the_day(client, site):
    sent(client, TICKETS)
    state, number = site.state("slab")
    board = board_of(basis(), state, number, EVENING)
    assert {cell.state for cell in board.cells if cell.place != "A3"} == {"placed"}
    assert sum(load.state == "refused" for load in board.loads) == 1
    assert len([load for load in board.loads if load.ticket_number]) == 29


def test_a_load_that_people_recorded_is_left_out_and_said(client):
    own = said("own", k.LoadArrived(ticket_number="4101", volume_m3=8.0), clock(7, 5))
    client.post("/api/pours/slab/events", json={"events": [body_of(own)]})
    found = sent(client, TICKETS)
    assert {"what": "4101", "reason": "people recorded this load already"} in found["left_out"]
    tickets = [each["event"]["payload"].get("ticket_number") for each in _records(client)]
    assert tickets.count("4101") == 1


def _records(client):
    return client.get("/api/pours/slab/records").json()["records"]


def test_tickets_of_a_time_that_has_not_come_are_refused_and_named(client, site):
    site.now = lambda: clock(9)
    found = sent(client, TICKETS)
    assert found["new"] > 0 and any("not in the future" in each["reason"] for each in found["left_out"])
    assert all(dt.datetime.fromisoformat(each["event"]["at"]) <= clock(9, 5) for each in _records(client))


def test_what_is_no_table_is_told_and_nothing_kept(client):
    for data, status in ((b"", 422), (b"\x00\x01", 422), (b"a,b\n1,2\n", 422), (b"x" * 10_000_001, 413)):
        answer = client.post("/api/pours/slab/import/tickets", params={"preview": "false"}, content=data)
        assert answer.status_code == status and answer.headers["content-type"] == "application/problem+json"
    assert _records(client) == []


READINGS = b"time_local,core_c,surface_c\n2027-06-17T12:00+01:00,21.5,127.9\n2027-06-17T12:30,22.0,\nlater,1,2\n"


def test_readings_are_kept_once_and_a_faulty_sensor_stays_as_it_came(client, site):
    found = sent(client, READINGS, "readings")
    assert (found["new"], found["entries"]) == (3, 3) and "line 4" in found["mistakes"][0]
    assert sent(client, READINGS, "readings")["known"] == 3
    state, _ = site.state("slab")
    values = [(entry.fact.sensor, entry.fact.value_c) for entry in state.temperatures]
    assert sorted(values) == [("core", 21.5), ("core", 22.0), ("surface", 127.9)]
    assert {entry.at.utcoffset() for entry in state.temperatures} == {dt.timedelta(hours=1)}


@pytest.mark.parametrize(
    "data", [b"time,core_c\n", b"time_local\n", b"time_local,core\n", b"time_local,a_c,a_c\n", b"time_local,_c\n"]
)
def test_a_table_without_time_or_sensors_is_refused_with_its_column(client, data):
    answer = client.post("/api/pours/slab/import/readings", content=data + b"2027-06-17T12:00,1,1\n")
    assert answer.status_code == 422 and answer.json()["errors"]


def test_the_rehearsed_day_plays_every_entry_and_each_discharge_ends():
    from wetfront.desk.rehearsal import day_to_play
    from wetfront.intake.day_log import log_lines
    from wetfront.intake.sheet import read_sheet
    from wetfront.intake.tickets_csv import read_tickets

    checked = read_sheet(TARNWICK / "slab.toml")
    pour = checked.sheet.pour[0]
    rows, _ = read_tickets(TICKETS, "t.csv", checked.sheet.pour, EVENING.tzinfo)
    log = log_lines((TARNWICK / "day-log-slab.csv").read_text(), "log.csv", pour.date, EVENING.tzinfo)
    played = day_to_play(checked, pour, rows, log)
    assert played.added == ("H1 released by site-engineer",)
    assert [event.recorded for event in played.events] == sorted(event.recorded for event in played.events)
    state = fold("slab", played.events)
    assert state.ended is not None and len(state.stops) == 1 and not state.clashes and not state.oddities
    during = fold("slab", [event for event in played.events if event.recorded <= clock(7, 25)])
    board = board_of(basis(), during, 1, clock(7, 25))
    assert board.loads[0].state == "discharging" and 0 < sum(cell.state == "placed" for cell in board.cells) < 4
