"""What paper allows: the head of each page, how long a text, how many rows of a list, what is said where it ends."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.dossier.words import date_words, plain

LONGEST_TEXT = 260
"""A paragraph on paper; what is longer ends in an ellipsis and stands whole in plan.json."""

LONGEST_TITLE = 58
"""In the head of each page; a longer one should stand whole on the first page."""
PLANNING_AID = "a planning aid: the designer, the local codes and the licensed operator decide"


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
    prices: int
    days: int
    picture_percent: int
    """Width of a chart in its column."""
    reasons: int
    instead: int
    measures: int
    binding: int
    own_page: bool
    """Cautions and sources begin a page."""


LADDERS: dict[str, tuple[dict[str, int], ...]] = {
    "summary": tuple(
        {"reasons": reasons, "instead": instead, "measures": measures, "binding": binding}
        for reasons, instead, measures, binding in (
            # What decides stays longest: why, and what else would do.
            *((12, 3, 10, 8), (9, 3, 8, 6), (8, 3, 6, 4), (8, 3, 4, 3), (7, 3, 3, 2), (6, 3, 2, 2), (6, 3, 2, 1)),
            *((5, 3, 1, 1), (4, 2, 1, 1), (3, 2, 1, 1), (2, 1, 1, 1), (1, 1, 1, 1)),
        )
    ),
    "charts": tuple(
        {"changes": changes, "prices": prices, "days": days, "picture_percent": percent}
        for changes, prices, days, percent in (
            *((18, 6, 31, 100), (14, 4, 20, 100), (12, 3, 14, 100), (10, 3, 10, 96), (9, 3, 8, 92), (8, 2, 7, 88)),
            *((7, 2, 7, 85), (6, 2, 6, 82), (5, 2, 6, 80), (5, 1, 5, 78), (4, 1, 5, 76), (3, 1, 4, 76)),
            *((3, 1, 4, 74), (2, 1, 3, 72), (2, 1, 2, 68), (2, 1, 2, 64)),
        )
    ),
    "order": tuple(
        {"strips": strips, "drawing_mm": high}
        for strips, high in ((40, 120), (40, 100), (40, 82), (30, 75), (24, 70), (19, 66), (14, 62), (10, 56), (5, 50))
    ),
    "calloff": tuple({"loads": loads} for loads in (72, 64, 56, 48, 32, 26)),
    "ready": tuple(
        {"readiness": rows} for rows in (90, 90, 90, 78, 72, 66, 60, 56, 52, 48, 44, 40, 35, 30, 25, 20, 16, 12)
    ),
    "end": (
        {"own_page": 1, "cautions": 24, "steps": 24},
        *(
            {"own_page": 0, "cautions": cautions, "steps": steps}
            for cautions, steps in (
                *((24, 16), (24, 11), (24, 8), (22, 6), (20, 5), (18, 4)),
                *((17, 4), (16, 3), (15, 3), (14, 2), (12, 2)),
            )
        ),
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
    kept = text[: most - 1]
    return f"{kept.rsplit(' ', 1)[0]} …" if " " in kept else f"{kept}…"


def capped(texts: Sequence[str], most: int, longest: int = LONGEST_TEXT) -> list[str]:
    """The first `most` texts; the rest is counted, unless counting takes the line that the only one left would."""
    if len(texts) <= most + 1:
        return [fitting(text, longest) for text in texts]
    shown = [fitting(text, longest) for text in texts[:most]]
    return [*shown, f"… and {len(texts) - most} more in plan.json"]


def more(total: int, shown: int) -> str:
    """The line under a capped table, or nothing."""
    return f"… and {total - shown} more in plan.json" if total > shown else ""


def head_of_pages(
    *, title: str, day: dt.date, project: str, below: str, revision: str, program: str, invented: bool, caution: str
) -> dict[str, str]:
    """The words of `paper.typ`: head and foot of every page. `below` is the second line, `caution` ends the foot."""
    return {
        "title": fitting(title, LONGEST_TITLE),
        "date": date_words(day),
        "project": fitting(project, 70),
        "below": fitting(below, 160),
        "revision": revision,
        "program": program,
        "invented": "INVENTED DEMO DATA" if invented else "",
        "caution": caution,
    }
