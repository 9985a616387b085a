"""Size of the field app: what a phone loads before the first screen, and in all."""

import gzip
import re
from collections.abc import Iterator
from pathlib import Path

from benchmarks.measure import Measure
from wetfront.api.app_page import FILES


def run() -> Iterator[Measure]:
    """Compressed kB; needs the built app (`make app`)."""
    page = FILES / "index.html"
    first = [page, *(FILES / name for name in re.findall(r'(?:src|href)="\./(assets/[^"]+)"', page.read_text("utf-8")))]
    yield Measure("first screen, compressed", _kilobytes(first), "kB", "wanted: at most 150")
    everything = [each for each in FILES.rglob("*") if each.is_file()]
    yield Measure("all that is kept for a day without signal, compressed", _kilobytes(everything), "kB")


def _kilobytes(files: list[Path]) -> float:
    return sum(len(gzip.compress(each.read_bytes())) for each in files) / 1000
