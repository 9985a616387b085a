"""mix.pdf: one A4 page for the trial batch, black and white. Same design, same bytes."""

import hashlib
from dataclasses import dataclass
from typing import Any

from wetfront.dossier.mixview import (
    SHORT_TITLES,
    VERDICT,
    batch_figures,
    batched_mix,
    limits_texts,
    mix_json,
    next_words,
    rows_of,
    sweep_texts,
    totals_words,
)
from wetfront.dossier.paper import fitting, head_of_pages
from wetfront.dossier.plots import axis, staircase_svg
from wetfront.dossier.typeset import typesetter
from wetfront.dossier.words import number, plain, short
from wetfront.nouns.mix_design import MixDesign, SweepFound

TEMPLATE = "mix.typ"
TRIAL_AID = "a first trial: specifier and producer decide, after a trial batch"


@dataclass(frozen=True, slots=True)
class _Caps:
    """What the page holds; from full to barest until one page is enough."""

    differences: int
    longest: int
    chart_percent: int
    notices: int
    limits: int
    cautions: int
    memory: int


_LADDER = (
    _Caps(7, 420, 100, 8, 8, 8, 14),
    _Caps(6, 420, 90, 6, 6, 8, 14),
    _Caps(5, 420, 80, 6, 6, 8, 14),
    _Caps(4, 420, 70, 5, 5, 8, 12),
    _Caps(3, 420, 60, 5, 5, 8, 12),
    _Caps(4, 180, 70, 4, 4, 7, 12),
    _Caps(4, 160, 60, 4, 4, 7, 10),
    _Caps(3, 160, 54, 4, 4, 6, 10),
    _Caps(3, 140, 48, 3, 3, 6, 8),
    _Caps(2, 140, 0, 3, 3, 5, 8),
    _Caps(1, 120, 0, 2, 3, 4, 6),
    _Caps(0, 100, 0, 2, 2, 3, 3),
)


def mix_pdf(design: MixDesign) -> bytes:
    """The page. What it has no room for stands in mix.json."""
    with typesetter(TEMPLATE) as setter:
        for caps in _LADDER:
            view = mix_page(design, caps)
            if setter.marks(view)[-1]["page"] == 1:
                break
        return setter.pdf(view, design.date, view["cautions"], "mix.json")


def _few(texts: list[str], most: int, longest: int) -> list[str]:
    """The first of the texts, each shortened; the rest is counted."""
    shown = [fitting(text, longest) for text in texts[:most]]
    return [*shown, f"… and {len(texts) - most} more in mix.json"] if len(texts) > most else shown


def mix_page(design: MixDesign, caps: _Caps = _LADDER[0]) -> dict[str, Any]:
    """The words that the template puts on paper."""
    mix = batched_mix(design)
    notices = [f"{SHORT_TITLES[each.method]}: {text}".rstrip(".") for each in design.methods for text in each.notices]
    left_out = [f"{each.title} left out: {each.reason}".rstrip(".") for each in design.left_out]
    return {
        "head": head_of_pages(
            title=design.title,
            day=design.date,
            project=design.project,
            below=f"{fitting(design.project, 70)} · mix design and trial batch",
            revision=hashlib.sha256(mix_json(design).encode()).hexdigest()[:8],
            program=design.program,
            invented=design.invented,
            caution=TRIAL_AID,
        ),
        "verdict": VERDICT,
        "target": fitting(design.target, 200),
        "batch": {
            "title": f"Trial batch of {short(mix.batch.volume_l)} l by {mix.title}",
            "because": fitting(design.batched_because, 120),
            "figures": [list(figure) for figure in batch_figures(mix.batch)],
        },
        "next": list(next_words(design) or ()),
        "methods": [SHORT_TITLES[each.method] for each in design.methods],
        "rows": [[row.name, row.unit, *(plain(row.text(each)) for each in design.methods)] for row in rows_of(design)],
        "batches": [
            [SHORT_TITLES[each.method], *(f"{what} {kg}" for what, kg, _ in batch_figures(each.batch))]
            for each in design.methods
            if each is not mix
        ],
        "totals": totals_words(design),
        "differences": [
            [each.what, each.spread, fitting(each.why, caps.longest)] for each in design.differences[: caps.differences]
        ],
        "notices": _few([*left_out, *notices], caps.notices, caps.longest + 60),
        "sweep": {
            "texts": [fitting(text, max(caps.longest, 320)) for text in sweep_texts(design)],
            "chart": _chart(design.sweep, design.currency) if caps.chart_percent else "",
            "percent": caps.chart_percent,
        },
        "limits": _few(limits_texts(design), caps.limits, 240),
        "not_checked": fitting("; ".join(design.not_checked), 200),
        "cautions": _few(list(design.cautions), caps.cautions, 240),
        "memory": _few(list(design.from_memory), caps.memory, 160),
    }


def _chart(sweep: SweepFound | None, currency: str) -> str:
    """Carbon against cost of the frontier; empty where it is not a choice."""
    if sweep is None or len(sweep.frontier) < 2:
        return ""
    points = [
        (each.cost_cu_per_m3, each.carbon_kg_co2e_per_m3)
        for each in sweep.frontier
        if each.cost_cu_per_m3 is not None and each.carbon_kg_co2e_per_m3 is not None
    ]
    first, last = points[0], points[-1]
    return staircase_svg(
        "Carbon against cost of the candidates",
        f"From {number(first[0], 2)} at {number(first[1], 0)} kg to {number(last[0], 2)} at {number(last[1], 0)} kg.",
        axis(f"materials, {plain(currency)[:8] or 'cost'}/m³", [x for x, _ in points]),
        axis("kg CO2e/m³", [y for _, y in points]),
        points,
        ("cheapest", "least carbon"),
    )
