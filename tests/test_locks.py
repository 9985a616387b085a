"""Lock files name packages and hashes, and no host: whoever builds takes them from where they get packages."""

from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock", "ui/package-lock.json"])
def test_a_lock_holds_hashes_and_no_address(name):
    """After `npm install` take out what npm adds about funding: it is addresses of other people's sites."""
    text = (ROOT / name).read_text(encoding="utf-8")
    assert "://" not in text and '"resolved"' not in text
    assert "sha512-" in text or "--hash=sha256:" in text
