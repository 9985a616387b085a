"""A batch on site as it is printed: one screen, batch.json, and the card at the mixer (batch-card.pdf)."""

import hashlib
import json
import textwrap
from collections.abc import Sequence
from typing import Any

from wetfront.dossier.document import plain_value
from wetfront.dossier.paper import capped, fitting, head_of_pages
from wetfront.dossier.svg import lettered, pt, svg_document
from wetfront.dossier.typeset import typesetter
from wetfront.dossier.words import LABEL, NB, counted, date_words, labelled, number, plain, short
from wetfront.nouns.batch import GaugeBox, Ingredient, SiteBatch
from wetfront.nouns.reason import Provenance

TEMPLATE = "batch.typ"
CARD_CAUTION = "a card for today's heaps: the specifier and the local codes decide about the mix"
CHARGING = (
    "about three quarters of the water, then the stone",
    "cement, then the sand",
    "the rest of the water, with the admixture in part of it, until all of the water above is in",
)
"""Common practice, no source."""
IN_THE_RAIN = (
    "cover the heaps and the bags; empty the boxes and buckets",
    "rain on the heap: stop, measure the sand's moisture again, make a new card",
    "never balance rain by eye: less water than the card only after a new measurement",
)
SLUMP_OUT = "Slump outside: stop. Check moisture, masses and water; tell the engineer. No water."


def batch_json(batch: SiteBatch) -> str:
    """batch.json as text: keys in the order of the nouns, ending in a line break."""
    return json.dumps(plain_value(batch), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def headline(batch: SiteBatch) -> str:
    """The first words of screen and card."""
    if not batch.may_be_mixed:
        return "DO NOT MIX"
    return f"ONE BATCH: {number(1000 * batch.batch_volume_m3, 0)}{NB}l of concrete"


def batch_screen(batch: SiteBatch, width: int = 100, files: Sequence[str] = ()) -> str:
    """One screen of plain text: the batch, what the whole takes, what to beware of."""
    width = max(60, min(width, 100))
    head = f"{batch.title} · {date_words(batch.date)} · {batch.work}"
    lines = textwrap.wrap(plain(head), width)
    lines.append(headline(batch) + ("   (invented demo data)" if batch.invented else ""))
    for reason in batch.reasons:
        lines += labelled("", reason, width)
    lines += labelled("mix", _mix_words(batch), width)
    for ingredient in batch.ingredients:
        name = _short_name(ingredient)
        whole = f"{ingredient.name}: " if name.endswith("…") else ""
        lines += labelled(name, f"{whole}{amount_words(ingredient)}; {range_words(ingredient)}", width)
    if batch.may_be_mixed:
        lines += labelled("", _water_words(batch), width)
    lines += labelled("in all", _whole_words(batch), width)
    lines += labelled("on site", "; ".join(to_have(batch)), width)
    if batch.wetter_sand:
        told = ", ".join(
            f"{short(row.moisture_percent)} %: {number(row.sand_kg, 0)} kg and {number(row.water_l)} l"
            for row in batch.wetter_sand
        )
        lines += labelled("sand at", told, width)
    lines += labelled("cautions", " ".join(batch.cautions[:3]), width)
    lines += labelled("", _memory_words(batch), width)
    lines += labelled("files", ", ".join(files), width)
    return "\n".join(lines)


def _short_name(ingredient: Ingredient) -> str:
    return {"cement": "cement", "water": "water"}.get(ingredient.kind, fitting(ingredient.name, LABEL - 1))


def _mix_words(batch: SiteBatch) -> str:
    cement = f", {batch.cement}" if batch.cement else ""
    slump = ""
    if batch.slump_limits_mm is not None:
        slump = f", slump {number(batch.slump_limits_mm[0], 0)} to {number(batch.slump_limits_mm[1], 0)} mm"
    return f"{batch.designation}{cement}, free water/cement {number(batch.water_cement_ratio, 2)}{slump}"


def amount_words(ingredient: Ingredient) -> str:
    """How much goes into one batch, as it is measured."""
    if ingredient.kind == "water":
        return f"{number(ingredient.batch_kg)}{NB}l"
    if ingredient.kind == "admixture":
        return f"{number(1000 * (ingredient.batch_l or 0.0), 0)}{NB}ml"
    mass = f"{number(ingredient.batch_kg, 0)}{NB}kg"
    if ingredient.bags_count is not None:
        each = ingredient.batch_kg / ingredient.bags_count
        return f"{counted(ingredient.bags_count, 'bag')} of {short(each)}{NB}kg"
    if ingredient.box is not None:
        return counted(ingredient.box.count, "box").replace("boxs", "boxes")
    return mass


def range_words(ingredient: Ingredient) -> str:
    """What is still within the batching tolerance; how a box is made."""
    if ingredient.box is not None:
        box = ingredient.box
        return (
            f"box inside {number(box.length_mm, 0)} × {number(box.width_mm, 0)} mm, {number(box.depth_mm, 0)} mm deep, "
            "loose, struck off level"
        )
    if ingredient.bags_count is not None:
        return "whole bags only"
    if ingredient.kind == "water":
        return f"{number(ingredient.low_kg)} to {number(ingredient.high_kg)} l"
    if ingredient.kind == "admixture":
        litres = 1000 * (ingredient.batch_l or 0.0) / ingredient.batch_kg
        return f"{number(ingredient.low_kg * litres, 0)} to {number(ingredient.high_kg * litres, 0)} ml"
    return f"{number(ingredient.low_kg, 0)} to {number(ingredient.high_kg, 0)} kg"


def _water_words(batch: SiteBatch) -> str:
    """Where the water ends: no licence to go there, a batch beyond it is lost."""
    if batch.most_water_l > batch.water_to_add_l + 0.05:
        return (
            f"Over {number(batch.most_water_l)} l of added water the batch breaks its water/cement limit: it is lost."
        )
    return "No water over this, whatever the slump: the water/cement ratio would be broken."


def _whole_words(batch: SiteBatch) -> str:
    mixers = counted(batch.mixers_count, "mixer")
    return (
        (
            f"{counted(batch.batches_count, 'batch')}, {number(batch.mixing_h)} h with {mixers} and "
            f"{counted(batch.people_count, 'person')}, {number(batch.output_m3_per_h, 2)} m³/h without a stop"
        )
        .replace("batchs", "batches")
        .replace("persons", "people")
    )


def to_have(batch: SiteBatch) -> list[str]:
    """What must lie on site before the first batch."""
    found = []
    for ingredient in batch.ingredients:
        if ingredient.kind == "cement" and batch.bags_total_count is not None and batch.bag_kg is not None:
            found.append(f"{counted(batch.bags_total_count, 'bag')} of cement of {short(batch.bag_kg)} kg")
        elif ingredient.kind == "water":
            found.append(f"{number(max(0.0, ingredient.total_kg), 0)} l of water, and what washing takes")
        elif ingredient.kind == "admixture":
            litres = (ingredient.batch_l or 0.0) * batch.batches_count
            found.append(f"{number(litres)} l of {ingredient.name}")
        else:
            found.append(f"{number(ingredient.total_kg / 1000, 2)} t of {ingredient.name}, as it lies")
    return found


def _memory_words(batch: SiteBatch) -> str:
    cited = dict.fromkeys(step.source.citation for step in batch.why if step.source.provenance is Provenance.MEMORY)
    return f"Rests on figures from memory, check before relying on it: {'; '.join(cited)}." if cited else ""


def box_svg(box: GaugeBox) -> str:
    """The open box seen from above one corner, with its inside dimensions."""
    scale = 58.0 / max(box.length_mm, box.width_mm, box.depth_mm)
    length, width, depth = (scale * each for each in (box.length_mm, 0.5 * box.width_mm, box.depth_mm))
    left, top = 46.0, 12.0 + width
    right, back, bottom = left + length, top - width, top + depth
    shift = width

    def line(*points: tuple[float, float], fill: str = "none") -> str:
        path = " ".join(f"{pt(x)},{pt(y)}" for x, y in points)
        return f'<polygon points="{path}" fill="{fill}" stroke="black" stroke-width="1.6" stroke-linejoin="round"/>'

    parts = [
        line((left, top), (right, top), (right + shift, back), (left + shift, back), fill="#dddddd"),
        line((left, top), (right, top), (right, bottom), (left, bottom), fill="white"),
        line((right, top), (right + shift, back), (right + shift, bottom - width), (right, bottom), fill="white"),
        lettered((left + right) / 2, bottom + 11, f"{box.length_mm:.0f} mm", "middle"),
        lettered(left - 4, (top + bottom) / 2 + 3, f"{box.depth_mm:.0f} mm", "end", ' font-weight="700"'),
        lettered(right + shift / 2 + 6, bottom - width / 2 + 9, f"{box.width_mm:.0f} mm"),
    ]
    sentence = f"Gauge box, inside {box.length_mm:.0f} by {box.width_mm:.0f} by {box.depth_mm:.0f} mm deep"
    return svg_document(right + shift + 40, bottom + 16, "Gauge box", sentence, parts)


def batch_card(batch: SiteBatch) -> bytes:
    """The card as PDF: the first page for the mixer, the second for the one who made it."""
    view = card_view(batch)
    with typesetter(TEMPLATE) as setter:
        return setter.pdf(view, batch.date, view["cautions"], "batch.json")


def card_view(batch: SiteBatch) -> dict[str, Any]:
    """The words that the template puts on paper."""
    below = " · ".join(
        part for part in (fitting(batch.project, 50), f"{batch.work}, batched by {batch.measured_by}") if part
    )
    slump = "as the specifier says"
    if batch.slump_limits_mm is not None:
        slump = f"{number(batch.slump_limits_mm[0], 0)} to {number(batch.slump_limits_mm[1], 0)} mm"
    return {
        "head": head_of_pages(
            title=batch.title,
            day=batch.date,
            project=batch.project or batch.title,
            below=below,
            revision=hashlib.sha256(batch_json(batch).encode()).hexdigest()[:8],
            program=batch.program,
            invented=batch.invented,
            caution=CARD_CAUTION,
        ),
        "headline": headline(batch),
        "stopped": not batch.may_be_mixed,
        "reasons": capped(batch.reasons, 4),
        "mix": fitting(_mix_words(batch), 160),
        "ingredients": [_card_row(each) for each in batch.ingredients] if batch.may_be_mixed else [],
        "most_water": _water_words(batch),
        "boxes": any(each.box is not None for each in batch.ingredients),
        "charging": [*CHARGING, f"mix {short(batch.mixing_min)} min at least once all is in"],
        "slump": slump,
        "slump_out": SLUMP_OUT,
        "rain": list(IN_THE_RAIN),
        "wetter": [
            [f"{short(row.moisture_percent)} %", f"{number(row.sand_kg, 0)} kg", _water_cell(row.water_l)]
            for row in batch.wetter_sand
        ],
        "today": next((place for place, row in enumerate(batch.wetter_sand) if _is_today(batch, row.water_l)), -1),
        "whole": _whole_words(batch),
        "have": to_have(batch),
        "batches": batch.batches_count,
        "cautions": capped(batch.cautions, 8),
        "memory": fitting(_memory_words(batch), 300),
        "why": [
            [fitting(step.step, 70), _figure(step.value), step.unit, fitting(str(step.source.citation), 90)]
            for step in batch.why
        ],
    }


def _is_today(batch: SiteBatch, water_l: float) -> bool:
    return abs(water_l - batch.water_to_add_l) < 1e-6


def _water_cell(litres: float) -> str:
    return f"{number(litres)} l" if litres >= 0 else "too wet"


def _figure(value: object) -> str:
    return (
        short(value, 2) if isinstance(value, float | int) and not isinstance(value, bool) else fitting(str(value), 60)
    )


def _card_row(ingredient: Ingredient) -> dict[str, str]:
    name = {"cement": "CEMENT", "water": "WATER"}.get(ingredient.kind, fitting(ingredient.name, 26).upper())
    below = fitting(ingredient.name, 40) if ingredient.kind == "cement" and ingredient.name != "cement" else ""
    whole = f"{fitting(ingredient.name, 60)}; " if name.endswith("…") else ""
    return {
        "name": name,
        "below": below,
        "amount": amount_words(ingredient),
        "range": f"{whole}{range_words(ingredient)}",
        "box": box_svg(ingredient.box) if ingredient.box is not None else "",
    }
