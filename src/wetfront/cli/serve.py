"""`wetfront serve [FOLDER]`: the server for the pours of a folder, on this machine or on the site's network."""

import argparse
import datetime as dt
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from wetfront.cli.mistakes import mistakes_told
from wetfront.cli.workers import tell_plain_core
from wetfront.errors import InvalidInput

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"
PORT = 8642
INTERFACE_ADDRESS = 0x8915
"""Linux: SIOCGIFADDR of netdevice(7)."""


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 stopped by Ctrl-C or a stop of the service; 2 bad input: folder, port or database."""
    return mistakes_told("serve", "folder", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    folder = Path(arguments.folder)
    host = arguments.host or (EVERYWHERE if arguments.site else LOOPBACK)
    _made(folder)
    tell_plain_core()
    from wetfront.api.access import kept_code

    if arguments.demo:
        from wetfront.api.examples import copy_example

        copied = copy_example(folder)
        print(f"{len(copied)} files of the invented example copied into {folder}")
    code = kept_code(folder)
    with ExitStack() as held:
        door = held.enter_context(listening(host, arguments.port))
        journals = held.enter_context(journals_of(arguments.database, folder))
        names, port = addresses(host), door.getsockname()[1]
        page_port = port + 1 if arguments.port else 0
        secured = Secured(names)
        if arguments.site:
            secured = held.enter_context(_secured(folder, host, names, port, page_port))
        welcome(folder, secured.names, port, code, secured.trust)
        from wetfront.api.access import Access
        from wetfront.api.running import serve
        from wetfront.api.site import Site

        site = Site(folder, journals, lambda: dt.datetime.now(dt.UTC))
        with suppress(KeyboardInterrupt), _stopped_as_by_ctrl_c():
            serve(site, Access(code), door, secured.chain, secured.key)
    print("\nstopped; everything that was acknowledged is kept", file=sys.stderr)
    return 0


def _made(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InvalidInput("folder", f"{folder} cannot be used: {error.strerror or error}") from None


@contextmanager
def journals_of(database: str, folder: Path) -> Iterator[Any]:
    """The journals in the database, brought up to date; StoreUnreachable says why it cannot be had."""
    from wetfront.store import Journals, database_url, opened

    engine = opened(database_url(database, folder))
    try:
        yield Journals(engine)
    finally:
        engine.dispose()


@contextmanager
def listening(host: str, port: int) -> Iterator[socket.socket]:
    """A door that nobody else has. InvalidInput where it is taken or not this machine's."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    door = socket.socket(family, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind((host, port))
        door.listen(128)
    except (OSError, OverflowError) as error:
        door.close()
        why = getattr(error, "strerror", None) or str(error)
        raise InvalidInput(
            "port", f"{host} port {port} cannot be used: {why}; stop what uses it, or choose another with --port"
        ) from None
    try:
        yield door
    finally:
        door.close()


def addresses(host: str) -> tuple[str, ...]:
    """The addresses by which phones reach this machine; the one of its way out first."""
    if host not in (EVERYWHERE, "::"):
        return (host,)
    found: dict[str, None] = {}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        with suppress(OSError):
            probe.connect(("192.0.2.1", 9))  # nothing is sent: it only tells which address the way out has
            found[probe.getsockname()[0]] = None
        found |= dict.fromkeys(_of_interfaces(probe))
    with suppress(OSError):
        known = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        found |= dict.fromkeys(str(each[4][0]) for each in known)
    return tuple(each for each in found if not each.startswith("127.")) or (LOOPBACK,)


@dataclass(frozen=True, slots=True)
class Trust:
    """Where phones get the authority, and how they know it."""

    address: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Secured:
    """Where phones reach the server, and the files by which it speaks HTTPS; None: it does not."""

    names: tuple[str, ...]
    trust: Trust | None = None
    chain: str | None = None
    key: str | None = None


@contextmanager
def _secured(folder: Path, host: str, names: tuple[str, ...], port: int, page_port: int) -> Iterator[Secured]:
    """The certificate for this machine's addresses on the site's network, and the page to trust it while this runs."""
    from wetfront.cli.certificate import certificate_of, is_private
    from wetfront.cli.trust import trust_page

    # Of several addresses those of the internet are left out; where there is no other, the certificate is refused.
    names = tuple(name for name in names if is_private(name)) or names
    found = certificate_of(folder, names)
    with trust_page(host, page_port, found.authority, found.fingerprint, f"https://{names[0]}:{port}/") as page:
        trust = Trust(f"http://{names[0]}:{page}/", found.fingerprint)
        yield Secured(names, trust, str(found.chain), str(found.key))


def _of_interfaces(probe: socket.socket) -> Iterator[str]:
    """The first address of each network card: phones may be on another network than the way out. Linux alone."""
    if sys.platform != "linux":
        return
    import fcntl

    for _, name in socket.if_nameindex():
        with suppress(OSError):
            asked = name.encode()[:15].ljust(256, b"\0")
            yield socket.inet_ntoa(fcntl.ioctl(probe.fileno(), INTERFACE_ADDRESS, asked)[20:24])


@contextmanager
def _stopped_as_by_ctrl_c() -> Iterator[None]:
    """A service manager's stop ends the server as Ctrl-C does: the server hands the signal on when it has ended."""
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def link_of(base: str, code: str, pour: str = "") -> str:
    """What opens the app with its access code, at a pour where one is named."""
    return f"{base}/#code={quote(code)}" + (f"&pour={quote(pour)}" if pour else "")


def welcome(folder: Path, names: tuple[str, ...], port: int, code: str, trust: Trust | None, pour: str = "") -> None:
    """Say where the server is, how to get in, and the way to one pour where it is there for that."""
    scheme = "http" if trust is None else "https"
    address = f"{scheme}://{names[0]}:{port}"
    print(f"wetfront serves {folder.resolve().name or folder} at {address}/")
    for other in names[1:]:
        print(f"  also at        {scheme}://{other}:{port}/")
    print(f"  access code    {code}")
    if pour:
        print(f"  this pour      {link_of(address, code, pour)}")
    if trust is not None:
        print(f"  trust it once  {trust.address}")
        print(f"  fingerprint    {trust.fingerprint}")
        _show_code(trust.address)
    elif names[0] == LOOPBACK:
        print("  only this machine can reach it; for phones on the site's network: --site")
    else:
        print("  not encrypted: the access code can be read on this network, and phones will not work offline")
    if not any(folder.glob("*.toml")):
        print("  no pour sheet in the folder yet: put one in, or start with --demo for invented pours")
    _show_code(link_of(address, code, pour))
    print("Ctrl-C stops it", flush=True)


def _show_code(text: str) -> None:
    """An address to scan; only where it can be seen as that."""
    if not sys.stdout.isatty():
        return
    import segno

    print(f"\nto scan: {text.partition('#')[0]}")
    segno.make(text, error="l").terminal(out=sys.stdout, compact=True)
