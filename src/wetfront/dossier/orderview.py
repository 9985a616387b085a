"""Order, times, edges, and the call-off of plan.pdf in words."""

import re
from typing import Any

from wetfront.dossier.paper import Caps, fitting, more
from wetfront.dossier.words import (
    clock,
    counted,
    loads_words,
    mix_words,
    order_words,
    percent,
    plain,
    short,
    signed,
)
from wetfront.nouns.plan import Decision, EdgeMargin, Plan, StripTimes, Verdict

LONGEST_CAPTION = 110
"""A longer sentence says what the table below says; it stays as the words for those who cannot see the drawing."""
MOST_EDGES = 4
"""The tightest ones; all stand in plan.json."""


def order_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    decision = plan.decision
    return {
        "tallest_mm": caps.drawing_mm / max(1, len(plan.drawings[:2])),
        "drawings": [
            {
                "title": fitting(drawing.title, 80),
                "svg": drawing.svg,
                "sentence": fitting(drawing.sentence, 300),
                "said": drawing.sentence if len(drawing.sentence) <= LONGEST_CAPTION else "",
                "aspect": drawing_aspect(drawing.svg),
            }
            for drawing in plan.drawings[:2]
        ],
        "drawings_more": more(len(plan.drawings), 2),
        "words": _order_line(decision) if decision is not None else "",
        "strips": [_strip_row(plan, strip) for strip in plan.strips[: caps.strips]],
        "strips_more": more(len(plan.strips), caps.strips),
        "edges": [_edge_row(edge) for edge in sorted(plan.edges, key=_tightness)[:MOST_EDGES]],
        "edges_more": more(len(plan.edges), MOST_EDGES),
        "watch": watch_view(plan),
    }


def watch_view(plan: Plan) -> list[str]:
    """The limits that the hose crew works to, as they stand on the wall."""
    if plan.decision is None:
        return []
    limits = [f"layers {short(plan.decision.layer_mm, 0)} mm at most"]
    minutes = sorted({edge.specified_min for edge in plan.edges if edge.specified_min is not None})
    if minutes:
        limits.append(f"an edge waits {' or '.join(short(each, 0) for each in minutes)} min at most (specification)")
    bound = [check for check in plan.pressure if check.covers and check.highest_rise_m_per_h is not None]
    if bound:
        rate = short(plan.decision.placing_rate_m3_per_h, 1)
        least = min(bound, key=lambda check: check.highest_rise_m_per_h or 0.0)
        rise = short(least.highest_rise_m_per_h or 0.0, 2)
        limits.append(fitting(f"place {rate} m³/h, rise at most {rise} m/h (lowest, by {plain(least.method)})", 160))
    return limits


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


def drawing_aspect(svg: str) -> float:
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


CALL_OFF = {
    "title": "Call-off for the supplier",
    "blanks": [
        *("Site, person who calls", "phone", "May reject a load", "Plant, dispatcher", "phone"),
        *("Reserve plant, phone", "Confirmed by, time"),
    ],
    "heads": ["load", "batch", "on site", "discharge"],
    "beware": "Times are those of the plan: the site calls faster, slower or hold during the pour.",
}
BATCHES = {
    "title": "Batches for the mixer",
    "blanks": ["Runs the mixer", "May stop it and reject a batch", "Batch card made by, time", "Spare mixer, phone"],
    "heads": ["batch", "charge", "mixed", "placed"],
    "beware": "Times are those of the plan: the gang calls faster, slower or hold during the pour.",
}
"""The same page where no plant and no truck come."""


def calloff_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    decision, day = plan.decision, plan.date
    if decision is None or not plan.loads:
        return {}
    mixing = plan.site_mixing
    load_word, several = ("load", "loads") if mixing is None else ("batch", "batches")
    matched = " at the full rate, else as in the table" if decision.interval_pattern == "matched" else ""
    carried = counted(decision.trucks_count, "truck") if mixing is None else counted(mixing.mixers_count, "mixer")
    words = CALL_OFF if mixing is None else BATCHES
    facts = [
        ["mix", mix_words(decision)],
        ["plant" if mixing is None else "mixed by", " and ".join(decision.plants)],
        ["order", f"{short(plan.quantity.order_m3, 2)} m³: {loads_words(plan.quantity, plan.site_mixing)}"],
        ["first batch", clock(decision.first_batch, day)],
        ["first discharge" if mixing is None else "first placed", clock(plan.loads[0].discharge, day)],
        ["spacing", f"one {load_word} every {short(decision.interval_min)} min{matched}"],
        ["rate needed" if mixing is None else "rate", f"{short(decision.placing_rate_m3_per_h)} m³/h, {carried}"],
        ["balance load" if mixing is None else "at the end", plan.quantity.balance_call],
    ]
    sampled = sum(load.sample for load in plan.loads)
    many = len(plan.loads) > 16
    rows = [
        [
            str(load.number),
            clock(load.batch, day),
            clock(load.on_site, day),
            clock(load.discharge, day),
            short(load.volume_m3, 2),
            fitting(load.goes_to, 34 if many else 90),
            "sample" if load.sample else "",
            fitting(load.note, 60 if many else 120),
            fitting(load.plant, 20),
        ]
        for load in plan.loads[: caps.loads]
    ]
    return {
        **words,
        "facts": [[name, fitting(text, 160)] for name, text in facts],
        "rows": rows,
        "plants": len({load.plant for load in plan.loads}),
        "more": more(len(plan.loads), caps.loads),
        "samples": f"{counted(sampled, load_word, several)} {'is' if sampled == 1 else 'are'} sampled.",
        "stopped": plan.verdict is Verdict.NO_GO,
    }
