"""What a phone loads before it shows the first screen stays small, and nothing in it names a foreign host."""

import gzip
import re
from pathlib import Path

from wetfront.api import app_page

LARGEST_FIRST_SCREEN_BYTES = 150_000
FILES = app_page.FILES


def test_the_first_screen_is_at_most_150_kb_compressed():
    page = (FILES / "index.html").read_text(encoding="utf-8")
    parts = [FILES / name for name in re.findall(r'(?:src|href)="\./(assets/[^"]+)"', page)]
    assert {path.suffix for path in parts} >= {".js", ".css"}
    size = sum(len(gzip.compress(path.read_bytes())) for path in [FILES / "index.html", *parts])
    assert size <= LARGEST_FIRST_SCREEN_BYTES


def test_the_code_reader_and_every_other_file_come_from_the_server_itself():
    assert list(FILES.glob("assets/*.wasm")), "the reader's own file is bundled"
    worker = (FILES / "sw.js").read_text(encoding="utf-8")
    for path in FILES.rglob("*"):
        if path.is_file() and path.suffix not in {".map", ".webmanifest"}:
            assert path.name in worker or path.name.startswith(("sw.js", "workbox")), f"{path.name} is not kept offline"


def test_nothing_moves_by_itself_so_that_who_wants_less_motion_has_none():
    styles = "".join(path.read_text(encoding="utf-8") for path in FILES.glob("assets/*.css"))
    assert styles and not re.findall(r"@keyframes|animation|transition|scroll-behavior", styles)


def test_without_a_built_app_the_address_says_how_to_build_it(tmp_path):
    from starlette.testclient import TestClient

    answer = TestClient(app_page.files(tmp_path)).get("/")
    assert answer.status_code == 503 and "make app" in answer.text


def test_files_named_by_their_content_are_kept_and_the_others_asked_for_anew():
    from starlette.testclient import TestClient

    client = TestClient(app_page.files())
    name = next(Path(FILES).glob("assets/*.js")).name
    assert "immutable" in client.get(f"/assets/{name}").headers["cache-control"]
    for path in ("/", "/sw.js"):
        assert client.get(path).headers["cache-control"] == "no-cache"
