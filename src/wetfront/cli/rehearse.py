"""`wetfront rehearse [POUR.toml]`: play a day's tickets and log through a real server, to watch the board live."""

import argparse
import datetime as dt
import http.client
import json
import shutil
import ssl
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wetfront.cli.mistakes import mistakes_told
from wetfront.delivery.stops import LogLine
from wetfront.desk.rehearsal import DEVICE, Played, day_to_play
from wetfront.errors import InvalidInput
from wetfront.intake import files, read_sheet
from wetfront.intake.day_log import log_lines
from wetfront.intake.tickets_csv import MOST_BYTES, WHAT, read_tickets
from wetfront.journal.event import body_of
from wetfront.nouns.sheet import CheckedSheet, Pour
from wetfront.planning.day import zone_of

BEFORE_FIRST = dt.timedelta(minutes=5)
LOOK_S = 0.2
LONGEST_PLAN_S = 900.0


class PlayedClock:
    """A clock that runs faster than time, from a moment of the pour's morning on."""

    def __init__(self, start: dt.datetime, speed: float):
        self._start, self._speed, self._since = start, speed, time.monotonic()

    def now(self) -> dt.datetime:
        """The moment on this clock."""
        return self._start + dt.timedelta(seconds=(time.monotonic() - self._since) * self._speed)

    def set_speed(self, speed: float) -> None:
        """Go on from here at another speed."""
        self._start, self._since, self._speed = self.now(), time.monotonic(), speed


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 played; 2 bad input, or a server that does not live in the day of the pour."""
    return mistakes_told("rehearse", "files", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    from wetfront.api.examples import example_folder

    sheet = Path(arguments.sheet) if arguments.sheet else example_folder() / "slab.toml"
    checked = read_sheet(sheet)
    pour = _pour(checked, arguments.pour)
    if arguments.to:
        _play_to(_there(arguments), checked, pour, sheet, arguments)
        return 0
    played = _day(checked, pour, sheet, arguments)
    with tempfile.TemporaryDirectory(prefix="wetfront-rehearsal-") as folder, suppress(KeyboardInterrupt):
        _copied(sheet, Path(folder))
        _play_here(Path(folder), checked, pour, played, arguments)
    return 0


def _pour(checked: CheckedSheet, name: str | None) -> Pour:
    known = {pour.id: pour for pour in checked.sheet.pour}
    if name is None:
        return checked.sheet.pour[0]
    if name not in known:
        raise InvalidInput("pour", f"the sheet has no pour {name!r}; it has {', '.join(known)}")
    return known[name]


def _day(checked: CheckedSheet, pour: Pour, sheet: Path, arguments: argparse.Namespace) -> Played:
    """Tickets and log: those that were named, else those beside the sheet."""
    zone = zone_of(checked.sheet.project.time_zone)
    path = Path(arguments.tickets) if arguments.tickets else sheet.parent / f"delivery-tickets-{sheet.stem}.csv"
    data = files.read_bytes(path, path.name, MOST_BYTES, WHAT)
    rows, _ = read_tickets(data, path.name, checked.sheet.pour, zone, pour)
    log = Path(arguments.log) if arguments.log else sheet.parent / f"day-log-{sheet.stem}.csv"
    lines: tuple[LogLine, ...] = ()
    if arguments.log or log.is_file():
        what = "a day log (CSV)"
        text = files.as_text(files.read_bytes(log, log.name, files.MOST_TABLE_BYTES, what), log.name, what)
        lines = log_lines(text, log.name, pour.date, zone)
    played = day_to_play(checked, pour, rows, lines)
    if not played.events:
        raise InvalidInput("tickets", f"{path.name} holds no load of {pour.id}: there is nothing to play")
    for added in played.added:
        print(f"added for the rehearsal: {added}")
    return played


def _copied(sheet: Path, folder: Path) -> None:
    """The sheet and all small files beside it: what it names is among them."""
    for path in sheet.parent.iterdir():
        if path.is_file() and path.suffix in (".toml", ".csv") and path.stat().st_size < files.MOST_TABLE_BYTES:
            shutil.copyfile(path, folder / path.name)


def _play_here(folder: Path, checked: CheckedSheet, pour: Pour, played: Played, arguments: argparse.Namespace) -> None:
    from wetfront.api.access import Access, kept_code
    from wetfront.api.site import Site
    from wetfront.cli.serve import LOOPBACK, addresses, journals_of, link_of, listening, welcome

    clock = PlayedClock(played.events[0].recorded - BEFORE_FIRST, 0.0)
    host = arguments.host or LOOPBACK
    with listening(host, arguments.port) as door, journals_of("", folder) as journals:
        site = Site(folder, journals, clock.now, speed=arguments.speed)
        code, names, port = kept_code(folder), addresses(host), door.getsockname()[1]
        with _in_a_thread(site, Access(code), door):
            welcome(folder, names, port, code, None, pour.id)
            here = f"http://{'127.0.0.1' if host == '0.0.0.0' else names[0]}:{port}"
            if arguments.open:
                webbrowser.open(link_of(here, code, pour.id))
            ask = asking(There(here, code))
            _wait_for_plan(ask, pour)
            clock.set_speed(arguments.speed)
            _play(ask, pour, played, clock.now, arguments.speed)
            clock.set_speed(1.0)
            if not arguments.once:
                print("the day is played; the board stays. Ctrl-C ends it", flush=True)
                threading.Event().wait()


@contextmanager
def _in_a_thread(site: Any, access: Any, door: Any) -> Iterator[None]:
    from wetfront.api.running import server_of

    server = server_of(site, access)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
    thread.start()
    try:
        while not server.started and thread.is_alive():
            time.sleep(0.02)
        yield
    finally:
        server.should_exit = True
        thread.join(10)


Ask = Callable[[str, str, Any], Any]


@dataclass(frozen=True, slots=True)
class There:
    """A server that runs."""

    base: str
    code: str
    authority: str | None = None
    """File of the authority that vouches for it, where this machine does not know it."""


def _there(arguments: argparse.Namespace) -> There:
    """As `--to` names it: an address, or the link with the access code in it."""
    try:
        parts = urllib.parse.urlsplit(arguments.to)
    except ValueError:
        parts = urllib.parse.urlsplit("")
    if parts.scheme not in ("http", "https") or not parts.netloc:
        allowed = "http://… or https://…, as `wetfront serve` prints it"
        raise InvalidInput("to", f"--to: found {arguments.to[:80]!r}; allowed: {allowed}")
    told = urllib.parse.parse_qs(parts.fragment).get("code", [""])
    return There(f"{parts.scheme}://{parts.netloc}", arguments.code or told[0], arguments.trust)


def asking(there: There) -> Ask:
    """Ask a server: method, path, body. InvalidInput where it cannot be reached or refuses."""
    base, context = there.base, None
    if base.startswith("https"):
        try:
            context = ssl.create_default_context(cafile=there.authority)
        except (OSError, ssl.SSLError) as error:
            raise InvalidInput("trust", f"--trust: {there.authority} holds no certificate: {error}") from None

    def ask(method: str, path: str, body: Any = None) -> Any:
        request = urllib.request.Request(
            base + path,
            data=None if body is None else json.dumps(body).encode(),
            method=method,
            headers={"authorization": f"Bearer {there.code}", "content-type": "application/json"},
        )
        try:
            with urllib.request.urlopen(request, timeout=60, context=context) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as error:
            with error, suppress(ValueError):
                told = json.load(error)
                why = ": ".join(part for part in (told.get("title", ""), told.get("detail", "")) if part)
                raise InvalidInput("to", f"{base} refused {path}: {error.code} {why}") from None
            raise InvalidInput("to", f"{base} refused {path}: {error.code}") from None
        except (OSError, ValueError, http.client.HTTPException) as error:
            raise InvalidInput("to", f"{base} cannot be reached: {_why(error)}") from None

    return ask


def _why(error: Exception) -> str:
    cause = getattr(error, "reason", error)
    if isinstance(cause, ssl.SSLCertVerificationError):
        return (
            f"its certificate is not trusted here ({cause.verify_message}); where `wetfront serve --site` made it, "
            "give --trust FOLDER/wetfront-authority/authority.pem"
        )
    return str(cause) or type(cause).__name__


def _wait_for_plan(ask: Ask, pour: Pour) -> None:
    """The day begins when the plan is there, as it does on site."""
    until, said = time.monotonic() + LONGEST_PLAN_S, ""
    while time.monotonic() < until:
        found = ask("GET", f"/api/pours/{pour.id}/plan", None)
        if found["state"] != "planning":
            print(f"plan: {found['words'] or found['plan']['verdict']}", flush=True)
            return
        if found["words"] != said and sys.stderr.isatty():
            said = found["words"]
            print(f"\r{said}  ", end="", file=sys.stderr, flush=True)
        time.sleep(LOOK_S)


def _play(ask: Ask, pour: Pour, played: Played, now: Callable[[], dt.datetime], speed: float) -> None:
    """Send each entry when its time has come on that clock."""
    still = list(played.events)
    print(f"{len(still)} entries from {still[0].recorded:%H:%M} to {still[-1].recorded:%H:%M}", flush=True)
    while still:
        moment = now()
        due = [event for event in still if event.recorded <= moment]
        if not due:
            wait = (still[0].recorded - moment).total_seconds() / max(speed, 1e-9)
            time.sleep(min(max(wait, 0.01), 1.0))
            continue
        still = still[len(due) :]
        body = {"device_now": moment.isoformat(), "events": [body_of(event) for event in due]}
        answer = ask("POST", f"/api/pours/{pour.id}/events", body)
        for event, result in zip(due, answer["results"], strict=True):
            if event.kind == "noted":
                print(f"{event.at:%H:%M}  {event.role}: {event.payload['text']}", flush=True)
            if result["outcome"] in ("refused", "clash"):
                print(f"{event.at:%H:%M}  {event.kind}: {result['outcome']} {result['errors']}", flush=True)


def _play_to(there: There, checked: CheckedSheet, pour: Pour, sheet: Path, arguments: argparse.Namespace) -> None:
    """Into a server that is there, by its own clock and on the day that its sheet gives the pour."""
    from wetfront.cli.serve import link_of

    ask, base = asking(there), there.base
    days = {each["pour"]: dt.date.fromisoformat(each["date"]) for each in ask("GET", "/api/pours", None)["pours"]}
    if pour.id not in days:
        raise InvalidInput("to", f"{base} has no pour {pour.id}; it has {', '.join(days) or 'none yet'}")
    pour = replace(pour, date=days[pour.id])
    pours = tuple(pour if each.id == pour.id else each for each in checked.sheet.pour)
    checked = replace(checked, sheet=replace(checked.sheet, pour=pours))

    def now() -> dt.datetime:
        time.sleep(LOOK_S)
        return dt.datetime.fromisoformat(ask("GET", "/api/health", None)["now"])

    moment = now().astimezone(zone_of(checked.sheet.project.time_zone))
    if abs(moment.date() - pour.date) > dt.timedelta(days=1):
        raise InvalidInput(
            "to",
            f"{base} lives on {moment:%Y-%m-%d}, and its sheet has {pour.id} on {pour.date}: give the pour today's "
            "date in that sheet, or leave out --to, which starts a server that lives on the day",
        )
    told = {each["event"]["device"] for each in ask("GET", f"/api/pours/{pour.id}/records", None)["records"]}
    if told and DEVICE not in told:
        raise InvalidInput(
            "to", f"{base} has a real record of {pour.id}: rehearse into a folder or database of its own"
        )
    played = _day(checked, pour, sheet, arguments)
    link = link_of(base, there.code, pour.id)
    print(f"this pour: {link}")
    print(f"by that server's clock, {moment:%H:%M}: what has been is told at once, the rest in its time", flush=True)
    if arguments.open:
        webbrowser.open(link)
    _play(ask, pour, played, now, 1.0)
