"""`wetfront serve --site`: HTTPS that a client trusts once it has the authority, at every address that is printed."""

import hashlib
import http.client
import os
import pty
import re
import shutil
import ssl
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from playwright.sync_api import Error, sync_playwright

from app_browser import CHROMIUM
from test_rehearse import rehearse, slab_folder, yesterday
from test_serve import started
from wetfront.api.access import CODE_FILE
from wetfront.cli import serve
from wetfront.cli.certificate import is_private

TRUSTS = Path(__file__).parent / "browser_trust.py"


class OnSite:
    """A running server on this machine's network, and what it has said."""

    def __init__(self, folder):
        self.process, self.said = started(slab_folder(folder, yesterday()), "--site")
        self.authority = folder / "wetfront-authority" / "authority.pem"
        self.bases = re.findall(r"(?:at|also at) +(https://\S+?)/\n", self.said)
        self.page = re.search(r"trust it once +(http://\S+)", self.said)[1]
        self.fingerprint = re.search(r"fingerprint +(\S+)", self.said)[1]
        self.code = (folder / CODE_FILE).read_text().strip()
        self.port = self.bases[0].rpartition(":")[2]

    def health(self, base, trusted=True):
        context = ssl.create_default_context(cafile=str(self.authority) if trusted else None)
        with urllib.request.urlopen(f"{base}/api/health", timeout=30, context=context) as answer:
            return answer.status


@pytest.fixture(scope="module")
def on_site(tmp_path_factory):
    found = OnSite(tmp_path_factory.mktemp("network") / "site")
    for _ in range(300):
        try:
            found.health(found.bases[0])
            break
        except OSError:
            pass
    yield found
    found.process.terminate()
    found.process.wait(30)
    found.process.stdout.close()
    found.process.stderr.close()


def test_every_address_of_the_machine_answers_who_has_the_authority_and_warns_who_has_not(on_site):
    mine = {f"https://{name}:{on_site.port}" for name in serve.addresses("0.0.0.0") if is_private(name)}
    assert set(on_site.bases) == mine
    for base in (*on_site.bases, f"https://127.0.0.1:{on_site.port}", f"https://localhost:{on_site.port}"):
        assert on_site.health(base) == 200, base
        with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
            on_site.health(base, trusted=False)


def test_the_trust_page_gives_the_authority_of_the_printed_fingerprint(on_site):
    with urllib.request.urlopen(on_site.page, timeout=30) as answer:
        assert on_site.fingerprint in answer.read().decode()
    with urllib.request.urlopen(f"{on_site.page}authority.crt", timeout=30) as answer:
        given = answer.read().decode()
    digest = hashlib.sha256(ssl.PEM_cert_to_DER_cert(given)).hexdigest().upper()
    assert ":".join(re.findall("..", digest)) == on_site.fingerprint and given == on_site.authority.read_text()


def test_plain_http_at_the_door_of_https_gets_no_answer(on_site):
    host, _, port = on_site.bases[0].removeprefix("https://").rpartition(":")
    connection = http.client.HTTPConnection(host, int(port), timeout=30)
    connection.request("GET", "/api/health")
    with pytest.raises((http.client.HTTPException, OSError)):
        connection.getresponse()
    connection.close()


def test_a_day_is_rehearsed_over_https_by_who_trusts_the_server(on_site):
    arguments = ("--to", on_site.bases[0], "--code", on_site.code)
    untrusted = rehearse(*arguments)
    assert untrusted.returncode == 2 and "is not trusted here" in untrusted.stderr and "--trust" in untrusted.stderr
    played = rehearse(*arguments, "--trust", on_site.authority)
    assert played.returncode == 0 and "refused" not in played.stdout, played.stderr


def test_an_address_of_the_internet_is_left_out_beside_one_of_the_site(tmp_path):
    with serve._secured(tmp_path, "127.0.0.1", ("1.2.3.4", "192.168.7.20"), 8642, 0) as secured:
        assert secured.names == ("192.168.7.20",) and "192.168.7.20" in secured.trust.address


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="no terminal can be made here")
def test_in_a_terminal_both_addresses_are_printed_to_be_scanned_by_phones(tmp_path):
    folder = slab_folder(tmp_path / "site")
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "wetfront", "serve", str(folder), "--site", "--port", "0"]
    process = subprocess.Popen(command, stdout=theirs, stderr=subprocess.DEVNULL)
    os.close(theirs)
    said = b""
    try:
        while b"Ctrl-C" not in said:
            said += os.read(ours, 65536)
    finally:
        process.terminate()
        process.wait(30)
        os.close(ours)
    lines = said.decode().replace("\r", "").splitlines()
    scanned = [line for line in lines if line.startswith("to scan: ")]
    assert [line.partition("://")[0] for line in scanned] == ["to scan: http", "to scan: https"]
    drawn = [line for line in lines if set(line) & set("▀▄█")]
    assert len(drawn) > 30, "two codes of at least 25 modules, two in a line"


def _visit(home, base, code, **more):
    """Whether the page is one that a browser with that home folder trusts, and whether it keeps the app there."""
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            home / "browser",
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-dev-shm-usage"],
            env={**os.environ, "HOME": str(home)},
            **more,
        )
        try:
            page = context.pages[0]
            page.goto(f"{base}/#code={code}&pour=slab")
            page.get_by_role("heading", name="Ground floor slab").wait_for(timeout=30_000)
            kept = (
                "navigator.serviceWorker.ready.then(() => true), new Promise(no => setTimeout(() => no(false), 8000))"
            )
            return page.evaluate("isSecureContext"), page.evaluate(f"Promise.race([{kept}])")
        finally:
            context.close()


@pytest.mark.skipif(not Path(CHROMIUM).exists(), reason="no chromium here")
def test_a_browser_that_trusts_the_authority_keeps_the_app_and_another_is_warned(on_site, tmp_path):
    trusting, strange = tmp_path / "trusting", tmp_path / "strange"
    for home in (trusting, strange):
        home.mkdir()
    subprocess.run([sys.executable, str(TRUSTS), str(trusting), str(on_site.authority)], check=True)
    for base in dict.fromkeys((on_site.bases[0], f"https://127.0.0.1:{on_site.port}")):
        shutil.rmtree(trusting / "browser", ignore_errors=True)
        assert _visit(trusting, base, on_site.code) == (True, True)
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        _visit(strange, on_site.bases[0], on_site.code)
    # Whoever goes on past the warning sees the app, which is not kept on the phone.
    secure, kept = _visit(tmp_path / "past", on_site.bases[0], on_site.code, ignore_https_errors=True)
    print(f"past the warning: secure context {secure}, kept for use without signal {kept}")
    assert not kept
