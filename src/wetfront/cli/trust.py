"""The page on which a phone gets the site's authority: plain HTTP, since the phone trusts nothing here yet.

It holds nothing secret: an authority's certificate is for everybody. Its fingerprint is compared with the terminal's.
"""

import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from wetfront.errors import InvalidInput

PAGE = """<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Trust this site's wetfront server</title>
<body style="font: 18px/1.5 sans-serif; max-width: 36em; margin: 1em auto; padding: 0 1em">
<h1>Trust this site's server</h1>
<p>Once on each phone. Compare the fingerprint with the one in the server's terminal first:</p>
<p style="font-family: monospace; word-break: break-all">{fingerprint}</p>
<p><a href="/authority.crt">Download the authority</a>, then:</p>
<ul>
<li>Android: Settings, search for "CA certificate", install it from the download.</li>
<li>iPhone, iPad: Settings, Profile downloaded, install; then General, About, Certificate Trust Settings: on.</li>
<li>Computer: open the file and put it among the trusted root authorities.</li>
</ul>
<p>It can vouch for private addresses of a site's network and names in .local only, not for pages of the internet.
Remove it when the site is over.</p>
<p>Then open <a href="{address}">{address}</a></p>
</body></html>
"""


@contextmanager
def trust_page(host: str, port: int, authority: Path, fingerprint: str, address: str) -> Iterator[int]:
    """Serve the page while the body runs; the port that it has. InvalidInput where the port is taken."""
    pages = {
        "/": ("text/html; charset=utf-8", PAGE.format(fingerprint=fingerprint, address=address).encode()),
        "/authority.crt": ("application/x-x509-ca-cert", authority.read_bytes()),
    }

    class Page(BaseHTTPRequestHandler):
        timeout = 10

        def do_GET(self) -> None:
            kind, content = pages.get(self.path, ("", b""))
            if not kind:
                self.send_error(404)
                return
            self.send_response(200)
            self.send_header("content-type", kind)
            self.send_header("content-length", str(len(content)))
            self.end_headers()
            with suppress(OSError):
                self.wfile.write(content)

        def log_message(self, format: str, *args: object) -> None:
            """Nothing: who looks at this page is nobody's business."""

    try:
        server = ThreadingHTTPServer((host, port), Page)
    except OSError as error:
        why = error.strerror or error
        raise InvalidInput("port", f"the page to trust the server needs port {port}: {why}") from None
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield int(server.server_address[1])
    finally:
        server.shutdown()
        server.server_close()
