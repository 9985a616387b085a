"""The plan as the words and tables of plan.pdf: every string ready to print, so the template only lays out.

Long lists are capped for paper; a cap always says how many more stand in plan.json.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from wetfront.dossier.charts import chart_svg
from wetfront.dossier.document import revision
from wetfront.dossier.sourceview import sources_view
from wetfront.dossier.words import (
    clock,
    date_words,
    loads_words,
    number,
    order_words,
    percent,
    plain,
    risk_title,
    short,
    signed,
    verdict_words,
    worst_risks,
)
from wetfront.nouns.plan import (
    Change,
    Decision,
    EdgeMargin,
    Moments,
    Plan,
    PressureCheck,
    ReadinessItem,
    StripTimes,
    Verdict,
)

MOST_EDGES = 4
LONGEST_TEXT = 260
"""A paragraph on paper; what is longer ends in an ellipsis and stands whole in plan.json."""


@dataclass(frozen=True, slots=True)
class Caps:
    """How many rows of each list go on paper."""

    strips: int
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
    "order": tuple({"strips": strips} for strips in (40, 30, 25, 21, 18, 15, 12, 9, 6)),
    "calloff": tuple({"loads": loads} for loads in (72, 64, 56, 48, 32, 26)),
    "ready": tuple({"readiness": items} for items in (80, 64, 52, 42, 34, 27, 20, 12)),
    "end": (
        {"own_page": 1, "cautions": 24, "steps": 24},
        *({"own_page": 0, "cautions": rows, "steps": rows} for rows in (24, 18, 13, 9, 6, 4)),
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


def plan_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    """All that the template prints."""
    return {
        "head": _head(plan),
        "own_page": caps.own_page,
        "verdict": _verdict(plan, caps),
        "figures": _figures(plan),
        "quantity": _quantity(plan),
        "risks": [_risk_row(plan, index) for index in range(len(worst_risks(plan)))],
        "other_risks": _other_risks(plan),
        "binding": capped(plan.binding, caps.texts),
        "runner_up": fitting(plan.runner_up),
        "changes": [_change_row(plan, change) for change in plan.changes[: caps.changes]],
        "changes_more": more(len(plan.changes), caps.changes),
        "cost": _cost(plan),
        "order": _order(plan, caps),
        "calloff": _calloff(plan, caps),
        "charts": [
            {
                "title": fitting(f"{chart.title} [{chart.unit}]", 60),
                "svg": chart_svg(chart),
                "sentence": fitting(chart.sentence, 180),
            }
            for chart in plan.charts[:6]
        ],
        "charts_more": more(len(plan.charts), 6),
        "pressure": [_pressure_row(check) for check in plan.pressure[:6]],
        "reach": [[fitting(each.pump, 40), fitting(each.text, 200)] for each in plan.reach[:6]],
        "readiness": _readiness(plan, caps),
        "end": sources_view(plan, caps.cautions, caps.steps, fitting),
    }


def _head(plan: Plan) -> dict[str, str]:
    return {
        "title": fitting(plan.title, 44),
        "full": fitting(plan.title, 140),
        "currency": fitting(plan.currency, 8),
        "pour": fitting(plan.pour, 40),
        "project": fitting(plan.project, 70),
        "place": fitting(plan.place, 60),
        "date": date_words(plan.date),
        "zone": fitting(plan.time_zone, 30),
        "revision": revision(plan),
        "program": plan.program,
        "invented": "INVENTED DEMO DATA" if plan.invented else "",
    }


def _verdict(plan: Plan, caps: Caps) -> dict[str, Any]:
    stopped = plan.verdict in (Verdict.NO_GO, Verdict.NO_FORECAST)
    return {
        "word": verdict_words(plan.verdict),
        "stopped": stopped,
        "reasons": capped(plan.reasons, caps.texts),
        "instead": capped(plan.nearest_change, caps.texts),
        "measures": capped(plan.measures, caps.texts),
        "note": (
            "The figures below belong to the best plan found. It does not keep within the limits: do not book from it."
            if plan.verdict is Verdict.NO_GO and plan.decision is not None
            else ""
        ),
    }


def _figures(plan: Plan) -> list[dict[str, str]]:
    decision, quantity, day = plan.decision, plan.quantity, plan.date
    order = _figure("to order", short(quantity.order_m3, 2), "m³", loads_words(quantity))
    if decision is None:
        return [order]
    figures = [
        _figure("first concrete", clock(decision.start, day), "", f"first batch {clock(decision.first_batch, day)}"),
        _figure("a load every", short(decision.interval_min), "min", f"{quantity.loads_count} loads"),
        _figure(
            "trucks", str(decision.trucks_count), "", f"of {short(decision.load_m3, 2)} m³ from {_and(decision.plants)}"
        ),
        order,
        _figure("placing rate", short(decision.placing_rate_m3_per_h), "m³/h", decision.pump),
        _figure("vibrators", str(decision.vibrators_count), "", f"layers {short(decision.layer_mm, 0)} mm"),
    ]
    figures += _end_figure("placed by", plan.end_of_placing, plan)
    figures += _end_figure("finished by", plan.end_of_finishing, plan)
    return figures


def _figure(name: str, value: str, unit: str, below: str) -> dict[str, str]:
    return {"name": name, "value": value, "unit": unit, "below": fitting(below, 60)}


def _end_figure(name: str, moments: Moments | None, plan: Plan) -> list[dict[str, str]]:
    if moments is None:
        return []
    early, usual, late = (clock(each, plan.date) for each in (moments.early, moments.usual, moments.late))
    return [_figure(name, usual, "", f"{early} to {late}")]


def _and(names: Sequence[str]) -> str:
    return " and ".join(names)


def _quantity(plan: Plan) -> dict[str, Any]:
    quantity = plan.quantity
    lines = [
        ["net volume by take-off", number(quantity.net_m3, 2)],
        [f"wastage (± {number(quantity.wastage_spread_m3, 2)})", number(quantity.wastage_m3, 2)],
        ["measured extras", number(quantity.extra_m3, 2)],
        ["priming", number(quantity.priming_m3, 2)],
        ["left in line and hopper", number(quantity.line_content_m3, 2)],
        ["before rounding", number(quantity.gross_m3, 2)],
        ["to order", number(quantity.order_m3, 2)],
    ]
    return {
        "lines": lines,
        "loads": loads_words(quantity),
        "call": fitting(quantity.balance_call),
        "short": f"Chance that this runs short if the balance load is not measured: "
        f"{percent(quantity.chance_of_running_short)}.",
        "areas": f"Formed area {number(quantity.formed_area_m2)} m², top area {number(quantity.top_area_m2)} m².",
    }


def _risk_row(plan: Plan, index: int) -> dict[str, str]:
    risk = worst_risks(plan)[index]
    return {
        "title": fitting(risk.title, 90),
        "probability": percent(risk.probability),
        "limit": percent(risk.limit),
        "error": f"± {percent(risk.standard_error)}",
        "mark": "" if risk.holds else "OVER THE LIMIT",
        "detail": fitting(risk.detail, 150),
        "remedy": fitting(risk.remedy, 150),
    }


def _other_risks(plan: Plan) -> str:
    top = worst_risks(plan)
    rest = [risk for risk in plan.risks if risk not in top]
    return "; ".join(
        f"{plain(risk.title).lower()} {percent(risk.probability)} of {percent(risk.limit)}" for risk in rest
    )


def _change_row(plan: Plan, change: Change) -> list[str]:
    moved = ", ".join(
        f"{plain(risk_title(plan, key)).lower()} {signed(100 * by, 1)}" for key, by in change.risk_changes[:2]
    )
    return [
        fitting(change.title, 60),
        signed(change.cost_change_cu),
        signed(change.end_change_min),
        fitting(moved, 90) or "none",
        "keeps" if change.keeps_limits else "BREAKS",
        fitting(change.comment, 90),
    ]


def _cost(plan: Plan) -> str:
    if not plan.cost:
        return ""
    total = sum(line.amount_cu for line in plan.cost)
    parts = ", ".join(f"{plain(line.title)} {number(line.amount_cu, 0)}" for line in plan.cost)
    return fitting(f"Expected cost {number(total, 0)} {plain(plan.currency)}: {parts}.", 300)


def _order(plan: Plan, caps: Caps) -> dict[str, Any]:
    decision = plan.decision
    return {
        "drawings": [
            {
                "title": fitting(drawing.title, 80),
                "svg": drawing.svg,
                "sentence": fitting(drawing.sentence, 300),
                "aspect": _aspect(drawing.svg),
            }
            for drawing in plan.drawings[:2]
        ],
        "drawings_more": more(len(plan.drawings), 2),
        "words": _order_line(decision) if decision is not None else "",
        "strips": [_strip_row(plan, strip) for strip in plan.strips[: caps.strips]],
        "strips_more": more(len(plan.strips), caps.strips),
        "edges": [_edge_row(edge) for edge in sorted(plan.edges, key=_tightness)[:MOST_EDGES]],
        "edges_more": more(len(plan.edges), MOST_EDGES),
    }


def _tightness(edge: EdgeMargin) -> float:
    """The cautious end of whatever margin is smaller."""
    specified = edge.specified_margin_min
    return edge.set_margin_min[0] if specified is None else min(edge.set_margin_min[0], specified[0])


def _edge_row(edge: EdgeMargin) -> list[str]:
    specified, margin = edge.specified_min, edge.specified_margin_min
    return [
        fitting(edge.name, 40),
        _band(edge.wait_min),
        "–" if specified is None else short(specified, 0),
        "–" if margin is None else _band(margin),
        _band(edge.set_margin_min),
        "–" if specified is None else percent(edge.chance_specified_exceeded),
        percent(edge.chance_set_exceeded),
    ]


def _band(band: tuple[float, float, float]) -> str:
    low, usual, high = (signed(value).removeprefix("+") for value in band)
    return f"{usual} ({low} to {high})"


_VIEW_BOX = re.compile(r"viewBox=[\"']\s*[-\d.e]+[\s,]+[-\d.e]+[\s,]+([\d.e]+)[\s,]+([\d.e]+)\s*[\"']")


def _aspect(svg: str) -> float:
    """Width over height of a drawing, 1.5 where it does not say."""
    found = _VIEW_BOX.search(svg[:2000])
    return float(found[1]) / float(found[2]) if found and float(found[2]) > 0 else 1.5


def _order_line(decision: Decision) -> str:
    text = f"Order: {order_words(decision.element_order, 16)}."
    if decision.strip_width_m > 0 and decision.strips_along:
        text += f" Strips {short(decision.strip_width_m, 2)} m wide along {decision.strips_along}."
    text += f" Layers {short(decision.layer_mm, 0)} mm, {decision.layer_order}."
    if decision.joint:
        text += f" Split at the agreed joint: {decision.joint}."
    return fitting(text, 300)


def _strip_row(plan: Plan, strip: StripTimes) -> list[str]:
    day = plan.date
    return [
        str(strip.order),
        fitting(strip.name, 30),
        short(strip.volume_m3),
        clock(strip.start.usual, day),
        clock(strip.end.usual, day),
        clock(strip.end.late, day),
        clock(strip.join_before_specified, day) if strip.join_before_specified is not None else "–",
        clock(strip.join_before_set, day) if strip.join_before_set is not None else "–",
        clock(strip.ready_to_finish.usual, day) if strip.ready_to_finish is not None else "–",
        clock(strip.finished.usual, day) if strip.finished is not None else "–",
    ]


def _calloff(plan: Plan, caps: Caps) -> dict[str, Any]:
    decision, day = plan.decision, plan.date
    if decision is None or not plan.loads:
        return {}
    facts = [
        ["mix", decision.mix + (f", {decision.mix_option}" if decision.mix_option else "")],
        ["plant", _and(decision.plants)],
        ["order", f"{short(plan.quantity.order_m3, 2)} m³: {loads_words(plan.quantity)}"],
        ["first batch", clock(decision.first_batch, day)],
        ["first discharge", clock(plan.loads[0].discharge, day)],
        ["spacing", f"one load every {short(decision.interval_min)} min"],
        ["rate needed", f"{short(decision.placing_rate_m3_per_h)} m³/h, {decision.trucks_count} trucks"],
        ["balance load", plan.quantity.balance_call],
    ]
    rows = [
        [
            str(load.number),
            clock(load.batch, day),
            clock(load.on_site, day),
            clock(load.discharge, day),
            short(load.volume_m3, 2),
            fitting(load.goes_to, 34),
            "sample" if load.sample else "",
            fitting(load.note, 60),
            fitting(load.plant, 20),
        ]
        for load in plan.loads[: caps.loads]
    ]
    return {
        "facts": [[name, fitting(text, 160)] for name, text in facts],
        "rows": rows,
        "plants": len({load.plant for load in plan.loads}),
        "more": more(len(plan.loads), caps.loads),
        "samples": f"{sum(load.sample for load in plan.loads)} loads are sampled.",
        "stopped": plan.verdict is Verdict.NO_GO,
    }


def _pressure_row(check: PressureCheck) -> list[str]:
    over = check.pressure_kn_per_m2 > check.permitted_kn_per_m2
    rise = "any" if check.highest_rise_m_per_h is None else short(check.highest_rise_m_per_h, 2)
    rate = "any" if check.highest_rate_m3_per_h is None else short(check.highest_rate_m3_per_h, 1)
    unbound = check.highest_rise_m_per_h is None and over
    return [
        fitting(check.method, 50),
        number(check.pressure_kn_per_m2),
        number(check.permitted_kn_per_m2),
        "OVER" if over else "within",
        "–" if unbound else rise,
        "–" if unbound else rate,
        fitting(check.governs, 60),
        fitting(f"{check.source.citation} ({check.source.provenance})", 90),
        fitting(check.note, 120),
    ]


def _readiness(plan: Plan, caps: Caps) -> dict[str, Any]:
    # Open hold points first in what is kept: a cap may never hide one behind passed items.
    ranked = sorted(plan.readiness, key=lambda item: (not item.hold_point, item.state == "pass"))
    kept = {id(item) for item in ranked[: caps.readiness]}
    groups: list[dict[str, Any]] = []
    for item in plan.readiness:
        if id(item) not in kept:
            continue
        if not groups or groups[-1]["name"] != item.group:
            groups.append({"name": item.group, "rows": []})
        groups[-1]["rows"].append(_item(item))
    still_open = sum(item.state not in ("pass", "not applicable") for item in plan.readiness)
    holds = sum(item.hold_point for item in plan.readiness)
    return {
        "groups": groups,
        "more": more(len(plan.readiness), caps.readiness),
        "sentence": f"{len(plan.readiness)} items, {still_open} not yet passed; {holds} hold points (H) need release.",
    }


def _item(item: ReadinessItem) -> dict[str, Any]:
    return {
        "id": fitting(item.id, 12),
        "check": fitting(item.check, 140),
        "acceptance": fitting(item.acceptance, 140),
        "source": fitting(item.source, 90),
        "memory": "from memory" in item.source,
        "hold": item.hold_point,
        "by": fitting(item.released_by, 50),
        "state": fitting(item.state, 20),
    }
