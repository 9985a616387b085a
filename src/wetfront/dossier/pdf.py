"""plan.pdf: two to six A4 pages in black and white, laid out by typst from ready words. Same plan, same bytes."""

from typing import Any

from wetfront.dossier.paper import LADDERS, caps_at
from wetfront.dossier.sheetview import plan_view
from wetfront.dossier.typeset import typesetter
from wetfront.nouns.plan import Plan

TEMPLATE = "plan.typ"
MOST_PAGES = 6
SHARES: tuple[tuple[tuple[str, ...], str, int], ...] = (
    (("summary",), "", 1),
    (("order",), "summary", 1),
    (("calloff",), "order", 1),
    (("charts",), "calloff", 1),
    (("ready", "end"), "charts", 2),
)
"""Parts, the part before them, and their pages when all six are used."""


def plan_pdf(plan: Plan) -> bytes:
    """The pages of the plan. Long lists are shortened step by step until six pages hold them."""
    with typesetter(TEMPLATE) as setter:
        levels = dict.fromkeys(LADDERS, 0)
        while True:
            view = plan_view(plan, caps_at(levels))
            shorter = _shorter(setter.marks(view), levels)
            if shorter == levels:
                break
            levels = shorter
        return setter.pdf(view, plan.date, view["end"]["cautions"], "plan.json")


def _shorter(marks: list[dict[str, Any]], levels: dict[str, int]) -> dict[str, int]:
    """The steps to try next: parts that take more than their share of pages go down their ladders.

    The same steps again when six pages hold all, or nothing is left to shorten.
    """
    if marks[-1]["page"] <= MOST_PAGES:
        return levels
    ends = {mark["part"]: mark["page"] for mark in marks}
    next_levels = dict(levels)
    for parts, before, share in SHARES:
        over = ends[parts[-1]] - (ends[before] if before else 0) - share
        for part in parts:
            if over > 0:
                next_levels[part] = min(levels[part] + over, len(LADDERS[part]) - 1)
    return next_levels
