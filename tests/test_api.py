"""The server: entries are kept or answered with their mistakes, errors are problem details, nothing foreign gets in."""

import datetime as dt
import gc
import hashlib
import shutil
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from test_journal import DAY, event
from wetfront.api.app import build_app
from wetfront.api.site import Site
from wetfront.journal import body_of
from wetfront.journal import kinds as k
from wetfront.store import Journals, database_url, opened

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
JSON = {"content-type": "application/json"}
NOW = DAY + dt.timedelta(hours=6)


@pytest.fixture
def site(tmp_path):
    folder = tmp_path / "site"
    shutil.copytree(TARNWICK, folder)
    engine = opened(database_url("", tmp_path))
    yield Site(folder=folder, journals=Journals(engine), now=lambda: NOW)
    engine.dispose()


@pytest.fixture
def client(site):
    with TestClient(build_app(site), raise_server_exceptions=False) as found:
        yield found


def noted(number, minutes=1.0):
    return body_of(event(number, k.Noted(text=f"note {number}"), minutes))


def test_the_pours_of_the_folder_are_listed_and_faulty_sheets_told(client, site):
    (site.folder / "broken.toml").write_text("schema = 1\n[[pour]]\nid = 3\n", encoding="utf-8")
    found = client.get("/api/pours").json()
    assert {"raft", "slab", "panel-1", "panel-2", "panel-3"} <= {each["pour"] for each in found["pours"]}
    assert [each["sheet"] for each in found["faulty"]] == ["broken.toml"] and found["faulty"][0]["errors"]


def test_entries_are_kept_each_answered_and_read_back_in_a_chain_that_holds(client):
    bad = {**noted(2), "role": ""}
    body = {"device_now": NOW.isoformat(), "events": [noted(1), bad, noted(3), noted(1)]}
    answer = client.post("/api/pours/slab/events", json=body).json()
    assert [each["outcome"] for each in answer["results"]] == ["new", "refused", "new", "known"]
    assert answer["results"][1]["errors"][0]["key"] == "role" and answer["last_number"] == 2
    found = client.get("/api/pours/slab/records", params={"after": 1}).json()
    assert found["chain"] == "holds" and [each["event"]["id"] for each in found["records"]] == ["e3"]


def test_ten_thousand_queued_entries_are_kept_at_once(client):
    events = [noted(number) for number in range(10_000)]
    answer = client.post("/api/pours/slab/events", json={"events": events}).json()
    assert {each["outcome"] for each in answer["results"]} == {"new"} and answer["last_number"] == 10_000


def test_more_at_once_is_refused_and_nothing_of_it_kept(client):
    answer = client.post("/api/pours/slab/events", json={"events": [noted(0)] * 10_001})
    assert answer.status_code == 422 and answer.headers["content-type"] == "application/problem+json"
    assert client.get("/api/pours/slab/records").json()["records"] == []


@pytest.mark.parametrize(
    ("send", "status", "title"),
    [
        (lambda c: c.post("/api/pours/slab/events", content=b"{", headers=JSON), 400, "The body is not JSON"),
        (lambda c: c.post("/api/pours/slab/events", json={"events": 3}), 422, "The request has mistakes"),
        (lambda c: c.post("/api/pours/nowhere/events", json={"events": []}), 404, "There is no pour 'nowhere'"),
        (lambda c: c.get("/api/nothing"), 404, "Not Found"),
        (lambda c: c.put("/api/photos/abc", content=bytes(50_000_000)), 413, "Too much at once"),
        (lambda c: c.put("/api/photos/abc", content=b"text"), 415, "That is no photo"),
        (lambda c: c.post("/api/calc/nothing", json={}), 404, "No calculation is called nothing"),
        (lambda c: c.post("/api/calc/rise-rate", json={}), 422, "The input has a mistake"),
        (
            lambda c: c.post("/api/pours/slab/events", json={"events": [], "device_now": "2027-06-17T07:00:00"}),
            422,
            "The request has mistakes",
        ),
    ],
)
def test_errors_are_problem_details(client, send, status, title):
    answer = send(client)
    assert answer.headers["content-type"] == "application/problem+json"
    assert (answer.status_code, answer.json()["status"], answer.json()["title"]) == (status, status, title)


def test_a_photo_is_kept_once_and_a_damaged_one_is_refused(client):
    picture = b"\xff\xd8\xff" + bytes(1000)
    name = hashlib.sha256(picture).hexdigest()
    assert client.put(f"/api/photos/{name}", content=picture).status_code == 204
    assert client.put(f"/api/photos/{name}", content=picture).status_code == 204
    assert client.get(f"/api/photos/{name}").content == picture
    assert client.put(f"/api/photos/{name}", content=picture + b"x").status_code == 422
    assert client.get("/api/photos/" + "0" * 64).status_code == 404


def test_a_calculation_is_answered_as_on_the_command_line(client):
    from wetfront.calculations import calculation

    inputs = {"air_temperature_c": 30, "relative_humidity_percent": 40, "concrete_temperature_c": 28}
    inputs |= {"wind_speed_m_per_s": 5}
    known = {key.key for key in calculation("evaporation-rate").inputs}
    asked = {key: value for key, value in inputs.items() if key in known}
    answer = client.post("/api/calc/evaporation-rate", json=asked)
    assert answer.status_code == 200, answer.json()
    assert answer.json() == calculation("evaporation-rate").ask(asked).as_json()


def test_every_answer_forbids_foreign_content(client):
    for path in ("/api/pours", "/api/nothing"):
        policy = client.get(path).headers["content-security-policy"]
        assert "default-src 'self'" in policy and "http" not in policy


def test_a_fault_of_the_program_shows_no_stack(client, site):
    site.journals = None
    answer = client.get("/api/pours/slab/records")
    assert answer.status_code == 500 and "fault of the program" in answer.json()["title"]
    assert "Traceback" not in answer.text and "NoneType" not in answer.text


def test_what_stands_for_the_day_is_not_looked_through_for_garbage_at_every_board(client):
    gc.unfreeze()
    assert client.get("/api/pours/slab/board").status_code == 200
    assert gc.get_freeze_count() > 10_000
    gc.unfreeze()


def test_while_the_plan_is_made_the_board_stands_and_what_if_says_what_is_missing(client):
    board = client.get("/api/pours/slab/board")
    assert board.status_code == 200 and board.json()["lattice"] and board.json()["forecast"] is None
    tag = board.headers["etag"]
    kept = client.get("/api/pours/slab/board", headers={"if-none-match": tag})
    assert kept.status_code in (200, 304) and (kept.status_code == 200) == (kept.headers["etag"] != tag)
    question = {"question": {"kind": "pump down", "minutes": 40}}
    asked = client.post("/api/pours/panel-2/what-if", json=question)
    assert asked.status_code == 422 and "no plan to go on from" in asked.json()["detail"]
    wrong = client.post("/api/pours/slab/what-if", json={"question": {"kind": "earthquake"}})
    assert wrong.status_code == 422 and wrong.json()["errors"][0]["key"] == "question.kind"


def test_the_interface_describes_its_answers(client):
    found = client.get("/api/openapi.json").json()
    board = found["paths"]["/api/pours/{pour}/board"]["get"]["responses"]["200"]["content"]["application/json"]
    assert board["schema"]["$ref"].endswith("/Board") and "CellView" in found["components"]["schemas"]
    answer = found["paths"]["/api/pours/{pour}/what-if"]["post"]["responses"]["200"]["content"]["application/json"]
    assert answer["schema"]["$ref"].endswith("/Comparison")
    assert {"/api/pours/{pour}/import/tickets", "/api/pours/{pour}/stream", "/api/health"} <= set(found["paths"])


def test_a_body_of_unknown_length_is_not_held_in_memory(client):
    def endless(parts):
        for _ in range(parts):
            yield bytes(1_000_000)

    refused = client.post("/api/pours/slab/events", content=endless(1), headers=JSON)
    assert refused.status_code == 411 and refused.headers["content-type"] == "application/problem+json"
    for path in ("/api/photos/" + "0" * 64, "/api/pours/slab/import/tickets"):
        send = client.put if "photos" in path else client.post
        assert send(path, content=endless(50)).status_code == 413


def test_a_body_nested_beyond_reason_is_refused(client):
    answer = client.post("/api/pours/slab/events", content=b"[" * 200_000, headers=JSON)
    assert answer.status_code in (400, 422) and answer.headers["content-type"] == "application/problem+json"
