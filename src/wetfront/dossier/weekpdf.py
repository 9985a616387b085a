"""programme.pdf: the programme on A4, with a drawing of who is held when. Same programme, same bytes."""

import hashlib
from typing import Any

from wetfront.dossier.paper import PLANNING_AID, capped, fitting, head_of_pages
from wetfront.dossier.typeset import typesetter
from wetfront.dossier.week import happenings, programme_json, verdict_of
from wetfront.dossier.weekchart import week_chart
from wetfront.dossier.words import NB, clock, number, percent, short
from wetfront.nouns.programme import PlannedPour, Programme

TEMPLATE = "programme.typ"


def programme_pdf(programme: Programme) -> bytes:
    """The pages of the programme."""
    view = programme_view(programme)
    with typesetter(TEMPLATE) as setter:
        return setter.pdf(view, programme.first_day, view["cautions"], "programme.json")


def programme_view(programme: Programme) -> dict[str, Any]:
    """The words that the template puts on paper."""
    below = f"{fitting(programme.project, 70)} · times in {fitting(programme.time_zone, 30)}"
    said = happenings(programme)
    return {
        "head": head_of_pages(
            title=programme.title,
            day=programme.first_day,
            project=programme.project,
            below=below,
            revision=hashlib.sha256(programme_json(programme).encode()).hexdigest()[:8],
            program=programme.program,
            invented=programme.invented,
            caution=PLANNING_AID,
        ),
        "verdict": verdict_of(programme),
        "complete": programme.complete,
        "currency": fitting(programme.currency, 8),
        "chart": week_chart(programme) if programme.pours else "",
        "pours": [_row(pour) for pour in programme.pours],
        "why": [[pour.pour, fitting("; ".join([*pour.why, pour.forecast]).strip("; "))] for pour in programme.pours],
        "left_out": [
            {
                "pour": fitting(f"{left.pour}: {left.title}", 110),
                "reason": fitting(left.reason),
                "days": [[f"{day:%a} {day.day} {day:%b}", fitting(reason)] for day, reason in left.days],
            }
            for left in programme.left_out
        ],
        "happened": capped(programme.happened, 8),
        "moved": capped(said.moved, 20),
        "conflicts": capped([each.text for each in programme.conflicts], 8),
        "proposals": capped(programme.proposals, 6),
        "cost": said.cost,
        "cautions": capped(programme.cautions, 20),
    }


def _row(pour: PlannedPour) -> list[list[str]]:
    """The cells of a pour's row: what is large, and what stands small below it."""
    first, last = pour.start_window
    day = pour.day
    forms = [held.form for held in pour.resources if held.form is not None]
    return [
        [f"{day:%a} {day.day} {day:%b}", ""],
        [pour.pour, fitting(pour.title, 90)],
        [clock(pour.start, day), "" if first == last else f"{clock(first, day)} to {clock(last, day)}"],
        [clock(pour.end_of_placing.usual, day), f"to {clock(pour.end_of_placing.late, day)}"],
        [short(pour.order_m3), ""],
        [f"{form.late:%a} {form.late.day} {form.late:%b}" if (form := forms[0] if forms else None) else "", ""],
        ["done" if pour.done else percent(pour.chance_of_start_as_planned), ""],
        [f"{pour.days_in_hand}{NB}d", f"{pour.late_days}{NB}d late" if pour.late_days else ""],
        [number(pour.cost_cu, 0), ""],
    ]
