"""`wetfront rehearse`: a day played through a server of its own, or into one that runs, by that server's clock."""

import datetime as dt
import re
import shutil
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from test_journal import event
from test_serve import _wait_until_up, asked, started
from wetfront.api.access import CODE_FILE, Access
from wetfront.api.running import server_of
from wetfront.api.site import Site
from wetfront.cli.rehearse import PlayedClock
from wetfront.cli.serve import listening
from wetfront.journal import body_of
from wetfront.journal import kinds as k
from wetfront.store import Journals, database_url, opened

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
CODE = "ABCD-EFGH-JKMN"
ZONE = ZoneInfo("Europe/London")
ENTRIES = 200
"""The invented day has more than so many."""


def slab_folder(folder, day=None):
    """The invented slab, without a forecast, so that no plan is searched; `day` in place of its own."""
    folder.mkdir()
    for name in ("site.toml", "readiness-slab.csv", "delivery-tickets-slab.csv", "day-log-slab.csv"):
        shutil.copyfile(TARNWICK / name, folder / name)
    sheet = re.sub(r"\[weather\]\n(?:[^\n]+\n)+", "", (TARNWICK / "slab.toml").read_text(encoding="utf-8"))
    if day is not None:
        sheet = sheet.replace("date = 2027-06-17", f"date = {day}")
    (folder / "slab.toml").write_text(sheet, encoding="utf-8")
    (folder / CODE_FILE).write_text(CODE)
    return folder


def rehearse(*arguments):
    command = [sys.executable, "-m", "wetfront", "rehearse", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False, timeout=120)


@contextmanager
def serving(folder):
    process, said = started(folder)
    try:
        port = int(said.split("127.0.0.1:")[1].split("/")[0])
        _wait_until_up(port)
        yield port
    finally:
        process.terminate()
        process.wait(30)
        process.stdout.close()
        process.stderr.close()


def yesterday():
    return (dt.datetime.now(ZONE) - dt.timedelta(days=1)).date()


def records(port):
    found = asked(port, "/api/pours/slab/records", CODE)[1]
    assert found["chain"] == "holds"
    return found["records"]


def test_a_day_is_played_into_a_server_that_runs_on_the_day_of_its_sheet_once(tmp_path):
    with serving(slab_folder(tmp_path / "site", yesterday())) as port:
        link = f"http://127.0.0.1:{port}/#code={CODE}"
        played = rehearse("--to", link)
        assert played.returncode == 0, played.stderr
        assert f"this pour: {link}&pour=slab\n" in played.stdout and "refused" not in played.stdout
        found = records(port)
        assert len(found) > ENTRIES
        times = [dt.datetime.fromisoformat(each["event"]["recorded"]).astimezone(ZONE) for each in found]
        assert {moment.date() for moment in times} == {yesterday()} and times == sorted(times)
        board = asked(port, "/api/pours/slab/board", CODE)[1]
        assert board["phase"] == "cure" and all(cell["state"] == "placed" for cell in board["cells"])
        assert rehearse("--to", link).returncode == 0 and len(records(port)) == len(found)


def test_a_server_that_cannot_be_played_into_is_told_in_one_line(tmp_path):
    with serving(slab_folder(tmp_path / "site")) as port:
        base = f"http://127.0.0.1:{port}"
        for arguments, says in (
            (("--to", base, "--code", CODE), "its sheet has slab on 2027-06-17: give the pour today's"),
            (("--to", base, "--code", "WRONG-CODE"), "401 The access code is missing or wrong"),
            (("--to", base.replace("http:", "https:"), "--code", CODE), "cannot be reached"),
            (("--to", f"127.0.0.1:{port}"), "allowed: http://"),
            (("--to", "http://[127.0.0.1"), "allowed: http://"),
            (("--to", "http://127.0.0.1:9"), "cannot be reached"),
            (("--to", base, "--code", CODE, TARNWICK / "raft.toml"), f"{base} has no pour raft; it has slab"),
        ):
            told = rehearse(*arguments)
            assert told.returncode == 2 and says in told.stderr and "Traceback" not in told.stderr, told.stderr
        assert records(port) == []


def test_nothing_is_played_into_a_record_that_people_have_begun(tmp_path):
    with serving(slab_folder(tmp_path / "site", yesterday())) as port:
        now = dt.datetime.now(dt.UTC)
        mine = {"events": [body_of(event("mine", k.Noted(text="a real pour"), at=now, recorded=now))]}
        assert asked(port, "/api/pours/slab/events", CODE, "POST", mine)[0] == 200
        told = rehearse("--to", f"http://127.0.0.1:{port}", "--code", CODE)
        assert told.returncode == 2 and "has a real record of slab" in told.stderr
        assert len(records(port)) == 1


def test_what_has_not_been_by_the_servers_clock_waits_for_its_time(tmp_path):
    """A server whose morning runs at a minute in 15 ms: no entry comes before its time, and all come in order."""
    clock = PlayedClock(dt.datetime(2027, 6, 17, 6, 0, tzinfo=ZONE), 4000.0)
    folder = slab_folder(tmp_path / "site")
    engine = opened(database_url("", folder))
    site = Site(folder, Journals(engine), clock.now)
    with listening("127.0.0.1", 0) as door:
        server = server_of(site, Access(CODE))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        try:
            played = rehearse("--to", f"http://127.0.0.1:{door.getsockname()[1]}", "--code", CODE)
        finally:
            server.should_exit = True
            thread.join(20)
    assert played.returncode == 0, played.stderr
    found = site.journals.records("slab")
    assert len(found) > ENTRIES and len({each.received for each in found}) > 5
    assert all(each.event.recorded <= each.received for each in found)
    assert [each.event.recorded for each in found] == sorted(each.event.recorded for each in found)
    engine.dispose()


@pytest.mark.skipif(sys.platform == "win32", reason="no signal ends it there")
def test_a_day_is_played_through_a_server_of_its_own_and_the_pours_address_is_printed(tmp_path):
    sheet = slab_folder(tmp_path / "site") / "slab.toml"
    played = rehearse(sheet, "--once", "--speed", "20000", "--port", "0")
    assert played.returncode == 0, played.stderr
    assert re.search(r"this pour      http://127\.0\.0\.1:\d+/#code=[A-Z0-9-]{14}&pour=slab\n", played.stdout)
    assert "11:06  " in played.stdout and "refused" not in played.stdout and "clash" not in played.stdout
    assert not (sheet.parent / "wetfront.sqlite").exists()
