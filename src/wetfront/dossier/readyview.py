"""Pressure and the readiness list of plan.pdf in words."""

from typing import Any

from wetfront.dossier.paper import Caps, fitting, more
from wetfront.dossier.words import number, settled, short
from wetfront.nouns.plan import Plan, PressureCheck, ReadinessItem


def pressure_row(check: PressureCheck) -> list[str]:
    over = check.pressure_kn_per_m2 > check.permitted_kn_per_m2
    rise = "any" if check.highest_rise_m_per_h is None else short(check.highest_rise_m_per_h, 2)
    rate = "any" if check.highest_rate_m3_per_h is None else short(check.highest_rate_m3_per_h, 1)
    unbound = (check.highest_rise_m_per_h is None and over) or not check.covers
    return [
        fitting(check.method, 50),
        number(check.pressure_kn_per_m2),
        number(check.permitted_kn_per_m2),
        "no formula" if not check.covers else "OVER" if over else "within",
        "–" if unbound else rise,
        "–" if unbound else rate,
        fitting(check.governs, 60),
        fitting(f"{check.source.citation} ({check.source.provenance})", 90),
        fitting(check.note, 240),
    ]


def readiness_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    # Open hold points first in what is kept: a cap may never hide one behind passed items.
    ranked = sorted(plan.readiness, key=lambda item: (settled(item), not item.hold_point))
    kept = {id(item) for item in ranked[: caps.readiness]}
    rows: list[dict[str, Any]] = []
    group = ""
    for item in plan.readiness:
        if id(item) in kept:
            rows.append(_item(item, item.group if item.group != group else ""))
            group = item.group
    still_open = sum(not settled(item) for item in plan.readiness)
    holds = sum(item.hold_point for item in plan.readiness)
    return {
        "rows": rows,
        "more": more(len(plan.readiness), caps.readiness),
        "sentence": f"{len(plan.readiness)} items, {still_open} not yet passed; {holds} hold points (H) need release.",
    }


def _item(item: ReadinessItem, group: str) -> dict[str, Any]:
    return {
        "group": fitting(group, 30),
        "id": fitting(item.id, 12),
        "check": fitting(item.check, 140),
        # A hold point of the sheet says who releases it twice; the line for the signature says it better.
        "acceptance": ""
        if item.hold_point and item.acceptance.startswith("released by")
        else fitting(item.acceptance, 140),
        "source": fitting(item.source, 90),
        "memory": "from memory" in item.source,
        "hold": item.hold_point,
        "by": fitting(item.released_by, 50),
        "state": fitting(item.state, 90),
    }
