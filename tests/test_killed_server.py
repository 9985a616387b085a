"""`wetfront serve` killed at a hundred random moments while four devices write a thousand entries: none is lost.

What this proves, on SQLite and on PostgreSQL: an entry that was acknowledged had been committed, whatever moment of
reading, checking, writing or answering the kill meets; the server goes on from what the dead one left; an entry that
was kept but whose answer was lost counts once when it is sent again. What a kill cannot prove: that a disk keeps what
it was told to write through when its power goes; the database's own settings for that are looked at in test_store.
"""

import datetime as dt
import http.client
import json
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager, suppress
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import URL, make_url

from databases import new_postgresql, postgresql_server
from test_journal import event
from wetfront.api.access import CODE_FILE
from wetfront.journal import body_of, first_break
from wetfront.journal import kinds as k
from wetfront.store import Journals, opened

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
SHEET = ("slab.toml", "site.toml", "weather-forecast.csv", "readiness-slab.csv")
CODE = "ABCD-EFGH-JKMN"
KILLS, WRITES, DEVICES, CRASHES = 100, 1000, 4, 3
MOST_IN_A_LIFE = 15
LONGEST_WRITE_S = 0.03
"""A kill comes at any moment of the writes that follow a counted one: they take about so long here."""
LONGEST_LIFE_S = 60.0


class Lives:
    """The server's lives, one after the other, at one address."""

    def __init__(self, folder, url):
        with socket.create_server(("127.0.0.1", 0)) as door:
            self.port = door.getsockname()[1]
        more = [] if url.get_backend_name() == "sqlite" else ["--database", url.render_as_string(hide_password=False)]
        script = Path(__file__).parent / "server_to_kill.py"
        command = [sys.executable, str(script), str(folder), "--port", str(self.port), *more]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def tell(self, word):
        self.process.stdin.write(f"{word}\n")
        self.process.stdin.flush()
        assert self.process.stdout.readline().strip().isdecimal()

    def __enter__(self):
        self.tell("start")
        return self

    def __exit__(self, *_):
        self.tell("kill")
        self.process.stdin.close()
        self.process.wait(20)
        self.process.stdout.close()


class Device(threading.Thread):
    """Sends an entry again and again until it is acknowledged, as a phone does, then the next one."""

    def __init__(self, port, number, stop):
        super().__init__(daemon=True)
        self.port, self.number, self.stop = port, number, stop
        self.told, self.tries, self.known, self.away, self.wrong = [], 0, 0, 0, []
        self.connection = None

    def run(self):
        try:
            self.write()
        finally:
            self.hang_up()

    def hang_up(self):
        if self.connection is not None:
            self.connection.close()
        self.connection = None

    def write(self):
        count = 0
        while not self.stop.is_set():
            now = dt.datetime.now(dt.UTC)
            name = f"{self.number}-{count}"
            body = body_of(event(name, k.Noted(text=name), at=now, recorded=now))
            while not self.stop.is_set():
                self.tries += 1
                try:
                    status, answer = self.send({"events": [body]})
                except (OSError, http.client.HTTPException):
                    self.hang_up()
                    time.sleep(0.02)
                    continue
                if status == 503:
                    self.away += 1
                    time.sleep(0.05)
                    continue
                if status != 200 or answer["results"][0]["outcome"] not in ("new", "known"):
                    self.wrong.append(answer)
                    return
                self.known += answer["results"][0]["outcome"] == "known"
                self.told.append(body["id"])
                count += 1
                break

    def send(self, body):
        if self.connection is None:
            self.connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        headers = {"content-type": "application/json", "authorization": f"Bearer {CODE}"}
        self.connection.request("POST", "/api/pours/slab/events", json.dumps(body), headers)
        answer = self.connection.getresponse()
        return answer.status, json.loads(answer.read())


@contextmanager
def writing_devices(port):
    """Devices at work; all have stopped, with no entry under way, at its end."""
    stop = threading.Event()
    devices = [Device(port, number, stop) for number in range(DEVICES)]
    for device in devices:
        device.start()
    try:
        yield devices
    finally:
        stop.set()
        for device in devices:
            device.join(30)


def _until(devices, count):
    """Return once so many entries were acknowledged in all."""
    until = time.monotonic() + LONGEST_LIFE_S
    while sum(len(device.told) for device in devices) < count:
        assert all(device.is_alive() for device in devices), [device.wrong for device in devices]
        assert time.monotonic() < until, "the server did not come up again"
        time.sleep(0.003)


def _nothing_is_lost(url, devices):
    """The record holds all that the devices were told, once; how much that is."""
    engine = opened(url)
    records = Journals(engine).records("slab")
    engine.dispose()
    kept = [record.event.id for record in records]
    told = [name for device in devices for name in device.told]
    assert not [device.wrong for device in devices if device.wrong]
    assert set(told) <= set(kept), "an acknowledged entry is gone"
    assert len(kept) == len(set(kept)), "an entry that was sent twice counts twice"
    assert len(kept) - len(told) <= DEVICES, "at most the last entry of each device is there without its answer"
    assert first_break(records) is None
    return len(told)


def site_folder(tmp_path):
    folder = tmp_path / "site"
    folder.mkdir()
    for name in SHEET:
        shutil.copyfile(TARNWICK / name, folder / name)
    (folder / CODE_FILE).write_text(CODE)
    return folder


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_what_was_acknowledged_survives_every_kill(tmp_path, kind):
    folder = site_folder(tmp_path)
    file = URL.create("sqlite", database=str(folder / "wetfront.sqlite"))
    url = make_url(file) if kind == "sqlite" else new_postgresql()
    chance = random.Random(7)
    moments = [(chance.randint(1, MOST_IN_A_LIFE), chance.uniform(0.0, LONGEST_WRITE_S)) for _ in range(KILLS)]
    with Lives(folder, url) as lives, writing_devices(lives.port) as devices:
        for writes, moment in moments:
            _until(devices, sum(len(device.told) for device in devices) + writes)
            time.sleep(moment)
            lives.tell("kill")
            lives.tell("start")
        _until(devices, WRITES)
    told, lost_answers = _nothing_is_lost(url, devices), sum(device.known for device in devices)
    print(f"{kind}: {len(moments)} kills, {told} acknowledged, {lost_answers} kept whose first answer was lost")
    assert told >= WRITES
    assert lost_answers > 0, "no kill came between an entry's commit and its answer"


def test_what_was_acknowledged_survives_crashes_of_postgresql_itself(tmp_path):
    """One of its processes is killed, and it ends all others and recovers from its log; `wetfront serve` lives on."""
    url = new_postgresql()
    crashes = 0
    with Lives(site_folder(tmp_path), url) as lives, writing_devices(lives.port) as devices:
        while crashes < CRASHES:
            _until(devices, sum(len(device.told) for device in devices) + 5)
            with (
                suppress(psycopg.OperationalError),
                psycopg.connect(postgresql_server(), autocommit=True) as connection,
            ):
                query = "SELECT pid FROM pg_stat_activity WHERE datname = %s AND backend_type = 'client backend'"
                of_the_server = connection.execute(query, (url.database,)).fetchall()
                if of_the_server:
                    os.kill(of_the_server[0][0], signal.SIGKILL)
                    crashes += 1
        _until(devices, sum(len(device.told) for device in devices) + 5)
    told, refused = _nothing_is_lost(url, devices), sum(device.away for device in devices)
    print(f"{crashes} crashes, {told} acknowledged, {refused} answered that the record cannot be reached")
    assert refused > 0, "no crash came between a device and its answer"
