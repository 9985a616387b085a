"""A server killed at random moments, fifty on each store, while four devices write: what it acknowledged is there."""

import http.client
import json
import random
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from sqlalchemy import URL, make_url

from databases import new_postgresql
from test_journal import DAY, event
from wetfront.journal import body_of, first_break
from wetfront.journal import kinds as k
from wetfront.store import Journals, opened

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
KILLS, WRITES, DEVICES = 50, 500, 4


class Life:
    """The process that is killed, and its address."""

    def __init__(self, url, folder):
        script = Path(__file__).parent / "server_to_kill.py"
        address = url.render_as_string(hide_password=False)
        command = [sys.executable, str(script), address, str(folder), DAY.isoformat()]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.port = int(self.process.stdout.readline())

    def tell(self, word):
        self.process.stdin.write(f"{word}\n")
        self.process.stdin.flush()
        return self.process.stdout.readline()

    def end(self):
        self.process.stdin.close()
        self.process.wait(20)
        self.process.stdout.close()


class Device(threading.Thread):
    """Sends an entry again and again until it is acknowledged, as a phone does, then the next one."""

    def __init__(self, life, number, stop):
        super().__init__(daemon=True)
        self.life, self.number, self.stop = life, number, stop
        self.told, self.tries, self.wrong = [], 0, []

    def run(self):
        count = 0
        while not self.stop.is_set():
            body = body_of(event(f"{self.number}-{count}", k.Noted(text=f"{self.number} {count}"), 0.0))
            self.tries += 1
            try:
                answer = self.send({"events": [body]})
            except (OSError, http.client.HTTPException):
                time.sleep(0.01)
                continue
            if "results" not in answer or answer["results"][0]["outcome"] not in ("new", "known"):
                self.wrong.append(answer)
                return
            self.told.append(body["id"])
            count += 1

    def send(self, body):
        connection = http.client.HTTPConnection("127.0.0.1", self.life.port, timeout=5)
        try:
            headers = {"content-type": "application/json"}
            connection.request("POST", "/api/pours/slab/events", json.dumps(body), headers)
            return json.loads(connection.getresponse().read())
        finally:
            connection.close()


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_what_was_acknowledged_survives_every_kill(tmp_path, kind):
    url = make_url(URL.create("sqlite", database=str(tmp_path / "j.sqlite"))) if kind == "sqlite" else new_postgresql()
    folder = tmp_path / "site"
    shutil.copytree(TARNWICK, folder)
    life, stop, chance = Life(url, folder), threading.Event(), random.Random(7)
    devices = [Device(life, number, stop) for number in range(DEVICES)]
    life.tell("start")
    for device in devices:
        device.start()
    kills = 0
    while kills < KILLS:
        assert all(device.is_alive() for device in devices), [device.wrong for device in devices]
        before = sum(len(device.told) for device in devices)
        until = time.monotonic() + 5.0
        while sum(len(device.told) for device in devices) == before and time.monotonic() < until:
            time.sleep(0.005)  # a life in which nothing was written proves nothing
        time.sleep(chance.uniform(0.0, 0.06))
        life.tell("kill")
        kills += 1
        life.tell("start")
    while sum(len(device.told) for device in devices) < WRITES:
        assert all(device.is_alive() for device in devices), [device.wrong for device in devices]
        time.sleep(0.02)
    stop.set()
    for device in devices:
        device.join(20)
    life.tell("kill")
    life.end()
    engine = opened(url)
    records = Journals(engine).records("slab")
    engine.dispose()
    kept = [record.event.id for record in records]
    told = [name for device in devices for name in device.told]
    assert len(told) >= WRITES and not [device.wrong for device in devices if device.wrong]
    assert set(told) <= set(kept), "an acknowledged entry is gone"
    assert len(kept) == len(set(kept)), "an entry that was sent twice counts twice"
    assert len(kept) - len(told) <= DEVICES, "at most the last entry of each device is there without its answer"
    assert first_break(records) is None
    print(f"{kind}: {kills} kills, {len(told)} acknowledged, {sum(device.tries for device in devices)} sent")
