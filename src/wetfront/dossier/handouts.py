"""Single sheets of a plan: for the wall, the tester, the check list, the supplier. Same plan, same bytes."""

from collections.abc import Sequence
from typing import Any, Literal

from wetfront.dossier.orderview import calloff_view, drawing_aspect, watch_view
from wetfront.dossier.paper import LADDERS, Caps, caps_at, fitting
from wetfront.dossier.readyview import readiness_view
from wetfront.dossier.summaryview import head_view
from wetfront.dossier.typeset import typesetter
from wetfront.dossier.words import clock, short
from wetfront.nouns.plan import Drawing, Plan, StripTimes, Verdict

Sheet = Literal["wall-plan", "tester", "checks", "call-off"]
SHEETS: tuple[Sheet, ...] = ("wall-plan", "tester", "checks", "call-off")
MOST_ON_THE_WALL = 18
"""Steps in type that is read from 1.5 m; more stand in plan.pdf."""
TEMPLATE = "handout.typ"


def handout_pdf(
    plan: Plan, what: Sheet, drawings: Sequence[Drawing] = (), facts: Sequence[str] = (), paper: str = "a4"
) -> bytes:
    """One sheet. `drawings` and `facts` (hose, pump, agreed joints): for the wall. `paper`: a3 or a4, for the wall."""
    caps = caps_at(dict.fromkeys(LADDERS, 0))
    notes: list[str] = []
    view: dict[str, Any] = {
        "head": head_view(plan),
        "what": what,
        "stopped": plan.verdict is Verdict.NO_GO,
        "notes": notes,
        "paper": paper if what == "wall-plan" else "a4",
        **_part(plan, what, caps, drawings, facts),
    }
    with typesetter(TEMPLATE) as setter:
        return setter.pdf(view, plan.date, notes, "plan.json")


def _part(plan: Plan, what: Sheet, caps: Caps, drawings: Sequence[Drawing], facts: Sequence[str]) -> dict[str, Any]:
    if what == "call-off":
        return {"calloff": calloff_view(plan, caps)}
    if what == "checks":
        return {"readiness": readiness_view(plan, caps)}
    if what == "tester":
        return {"loads": _tester_rows(plan)}
    return {
        "drawings": [
            {"title": each.title, "svg": each.svg, "sentence": each.sentence, "aspect": drawing_aspect(each.svg)}
            for each in drawings[:2]
        ],
        "steps": [_wall_row(plan, strip) for strip in plan.strips[:MOST_ON_THE_WALL]],
        "more": f"… and {len(plan.strips) - MOST_ON_THE_WALL} more in plan.pdf"
        if len(plan.strips) > MOST_ON_THE_WALL
        else "",
        "watch": watch_view(plan),
        "facts": [fitting(text, 200) for text in facts],
    }


def _wall_row(plan: Plan, strip: StripTimes) -> list[str]:
    joined = [moment for moment in (strip.join_before_specified, strip.join_before_set) if moment is not None]
    return [
        str(strip.order),
        fitting(strip.name, 14),
        clock(strip.start.usual, plan.date),
        clock(min(joined), plan.date) if joined else "–",
    ]


def _tester_rows(plan: Plan) -> list[list[str]]:
    """The first loads and those to be sampled: what the tester writes on."""
    return [
        [
            str(load.number),
            clock(load.on_site, plan.date),
            short(load.volume_m3, 2),
            fitting(load.goes_to, 20),
            "sample" if load.sample else "",
            fitting(load.note, 60),
        ]
        for load in plan.loads
        if load.sample or load.note.startswith("slump")
    ]
