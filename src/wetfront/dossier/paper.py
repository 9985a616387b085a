"""What paper allows: how long a text, how many rows of a list, and what is said where it ends."""

from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.dossier.words import plain

LONGEST_TEXT = 260
"""A paragraph on paper; what is longer ends in an ellipsis and stands whole in plan.json."""


@dataclass(frozen=True, slots=True)
class Caps:
    """How many rows of each list go on paper."""

    strips: int
    drawing_mm: int
    """The most that the drawings take in height."""
    loads: int
    readiness: int
    cautions: int
    steps: int
    changes: int
    texts: int
    own_page: bool
    """Cautions and sources begin a page."""


LADDERS: dict[str, tuple[dict[str, int], ...]] = {
    "summary": tuple(
        {"texts": texts, "changes": changes} for texts, changes in ((6, 6), (5, 4), (4, 3), (3, 2), (1, 1))
    ),
    "order": tuple(
        {"strips": strips, "drawing_mm": high}
        for strips, high in ((40, 120), (40, 100), (40, 82), (30, 75), (24, 70), (19, 66), (14, 62), (10, 56), (5, 50))
    ),
    "calloff": tuple({"loads": loads} for loads in (72, 64, 56, 48, 32, 26)),
    "ready": tuple({"readiness": items} for items in (90, 78, 70, 63, 57, 51, 46, 41, 36, 30, 24, 18, 12)),
    "end": (
        {"own_page": 1, "cautions": 24, "steps": 24},
        *({"own_page": 0, "cautions": rows, "steps": rows} for rows in (24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4)),
    ),
}
"""Part of the document -> its caps from full to barest."""


def caps_at(levels: dict[str, int]) -> Caps:
    """The caps at these steps of the ladders."""
    values = {name: value for part, level in levels.items() for name, value in LADDERS[part][level].items()}
    return Caps(own_page=bool(values.pop("own_page")), **values)


def fitting(text: str, most: int = LONGEST_TEXT) -> str:
    """The text on one line, cut at a word where it is longer than `most`."""
    text = plain(text)
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0] + " …"


def capped(texts: Sequence[str], most: int) -> list[str]:
    """The first `most` texts; the rest is counted."""
    shown = [fitting(text) for text in texts[:most]]
    return shown if len(texts) <= most else [*shown, f"… and {len(texts) - most} more in plan.json"]


def more(total: int, shown: int) -> str:
    """The line under a capped table, or nothing."""
    return f"… and {total - shown} more in plan.json" if total > shown else ""
