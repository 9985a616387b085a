"""An entry that is taken back is gone from the board at once: the stream says so, and the next look shows it."""

import datetime as dt
import http.client
import json
import socket
import threading
import time
from contextlib import contextmanager

import pytest

from app_server import CODE, day_so_far, running_server
from test_journal import event
from test_serve import asked
from wetfront.journal import body_of
from wetfront.journal import kinds as k

AT_ONCE_S = 3.0
"""Far less than the minute after which a stream would speak in any case; the machine of the tests may be busy."""


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    with running_server(tmp_path_factory.mktemp("site")) as found:
        yield found


class Stream(threading.Thread):
    """The moments at which the pour's stream said to look at the board again."""

    def __init__(self, port):
        super().__init__(daemon=True)
        self.door = socket.create_connection(("127.0.0.1", port), timeout=60)
        self.door.sendall(
            f"GET /api/pours/slab/stream HTTP/1.1\r\nhost: here\r\nauthorization: Bearer {CODE}\r\n\r\n".encode()
        )
        self.came = []
        self.start()

    def run(self):
        with self.door.makefile("rb") as lines:
            for line in lines:
                if line.startswith(b"event: board"):
                    self.came.append(time.monotonic())

    def next_after(self, count):
        """When it came, which is awaited."""
        until = time.monotonic() + 30
        while len(self.came) <= count and time.monotonic() < until:
            time.sleep(0.005)
        return self.came[count]


@contextmanager
def streaming(port):
    stream = Stream(port)
    try:
        stream.next_after(0)
        yield stream
    finally:
        stream.door.shutdown(socket.SHUT_RDWR)
        stream.join(10)
        stream.door.close()


def told(served, name, fact, when, **changes):
    body = body_of(event(name, fact, at=when, recorded=when, **changes))
    status, answer = asked(served.door.getsockname()[1], "/api/pours/slab/events", CODE, "POST", {"events": [body]})
    assert status == 200 and answer["results"][0]["outcome"] == "new", answer
    return body["id"]


def board_with(served, tag=""):
    connection = http.client.HTTPConnection("127.0.0.1", served.door.getsockname()[1], timeout=60)
    headers = {"authorization": f"Bearer {CODE}"} | ({"if-none-match": tag} if tag else {})
    connection.request("GET", "/api/pours/slab/board", headers=headers)
    answer = connection.getresponse()
    content, tag = answer.read(), answer.getheader("etag")
    connection.close()
    return answer.status, (json.loads(content) if content else None), tag


def shown(board):
    """What a withdrawal could leave behind: all that the board says beside how old it is and how many it counts."""
    return {key: value for key, value in board.items() if key not in ("made_at", "records_count", "last_told")}


FACTS = {
    "a stop": k.PlacingStopped(cause="pump"),
    "the end of placing": k.PlacingEnded(),
    "a decision": k.LoadDecided(ticket_number="4114", decision="refuse"),
    "an arrival": k.LoadArrived(ticket_number="4199", volume_m3=8.0),
    "a place": k.LoadPlaced(ticket_number="4115", place="B2"),
    "a failed check": k.CheckRecorded(item="F1", result="fail"),
    "a measured rest": k.RemainingMeasured(volume_m3=50.0, spread_m3=2.0),
}


@pytest.mark.parametrize("what", FACTS)
def test_what_is_taken_back_is_gone_from_the_next_board_and_the_stream_says_so_at_once(served, what):
    port = served.door.getsockname()[1]
    moment = served.now() - dt.timedelta(seconds=1)
    with streaming(port) as stream:
        _, before, first = board_with(served)
        mine = told(served, what.replace(" ", "-"), FACTS[what], moment)
        status, between, second = board_with(served, first)
        assert status == 200 and second != first and shown(between) != shown(before)
        count, sent = len(stream.came), time.monotonic()
        told(served, f"back-{what.replace(' ', '-')}", k.Withdrawn(), moment, corrects=mine, reason="a slip")
        assert stream.next_after(count) - sent < AT_ONCE_S
        status, after, third = board_with(served, second)
    assert status == 200 and third not in (first, second)
    assert shown(after) == shown(before)
    assert after["records_count"] == before["records_count"] + 2, "both the entry and its withdrawal stay"


def test_a_withdrawal_that_is_taken_back_lets_the_entry_stand_again(served):
    moment = served.now() - dt.timedelta(seconds=1)
    stop = told(served, "stop", k.PlacingStopped(cause="rain"), moment)
    back = told(served, "back", k.Withdrawn(), moment, corrects=stop, reason="a slip")
    assert board_with(served)[1]["stopped_since"] is None
    told(served, "back-again", k.Withdrawn(), moment, corrects=back, reason="it was no slip")
    assert board_with(served)[1]["stopped_since"] is not None
    assert len(day_so_far()) < board_with(served)[1]["records_count"]
