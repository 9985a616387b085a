"""A mix design in words: one screen, mix.json, and the rows that screen and paper share."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from wetfront.dossier.document import plain_value
from wetfront.dossier.words import LABEL, date_words, labelled, number, plain, short
from wetfront.nouns.mix_design import MethodMix, MixCandidate, MixDesign, TrialBatch

VERDICT = "FIRST TRIAL, NOT A MIX TO POUR"
_COLUMN = 22
SHORT_TITLES = {"absolute-volume": "absolute volume", "british": "British", "indian": "Indian"}


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the comparison."""

    name: str
    unit: str
    text: Callable[[MethodMix], str]


def _or_dash(value: float | None, decimals: int) -> str:
    return "-" if value is None else number(value, decimals)


ROWS = (
    Row("strength aimed at", "MPa", lambda mix: f"{number(mix.target_strength_mpa, 1)} {mix.specimen}"),
    Row("water", "kg/m³", lambda mix: number(mix.water_kg_per_m3, 0)),
    Row("cement", "kg/m³", lambda mix: number(mix.cement_kg_per_m3, 0)),
    Row("sand", "kg/m³", lambda mix: number(mix.sand_kg_per_m3, 0)),
    Row("stone", "kg/m³", lambda mix: number(mix.stone_kg_per_m3, 0)),
    Row("admixture", "kg/m³", lambda mix: number(mix.admixture_kg_per_m3, 2)),
    Row("water/cement", "", lambda mix: number(mix.water_cement_ratio, 2)),
    Row("governed by", "", lambda mix: mix.governed_by),
    Row("air counted", "%", lambda mix: number(mix.air_content_percent, 1)),
    Row("sand share", "%", lambda mix: number(mix.sand_percent, 0)),
    Row("fresh density", "kg/m³", lambda mix: number(mix.fresh_density_kg_per_m3, 0)),
    Row("yield", "m³", lambda mix: number(mix.parts_volume_m3, 3)),
)


def rows_of(design: MixDesign) -> tuple[Row, ...]:
    """The rows of the comparison; cost and carbon where the brief gives every price or factor."""
    rows = list(ROWS)
    if any(mix.cost_cu_per_m3 is not None for mix in design.methods):
        unit = f"{plain(design.currency)}/m³".lstrip("/")
        rows.append(Row("materials cost", unit, lambda mix: _or_dash(mix.cost_cu_per_m3, 2)))
    if any(mix.carbon_kg_co2e_per_m3 is not None for mix in design.methods):
        rows.append(Row("carbon A1-A3", "kg/m³", lambda mix: _or_dash(mix.carbon_kg_co2e_per_m3, 0)))
    return tuple(rows)


def mix_json(design: MixDesign) -> str:
    """mix.json as text: keys in the order of the nouns, ending in a line break."""
    return json.dumps(plain_value(design), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def batched_mix(design: MixDesign) -> MethodMix:
    """The method whose trial batch is printed large."""
    return next(mix for mix in design.methods if mix.method == design.batched)


def batch_figures(batch: TrialBatch) -> tuple[tuple[str, str, str], ...]:
    """(what, kg, remark) of a trial batch as it is weighed."""
    free = number(batch.free_water_in_aggregates_kg, 2)
    figures = [
        ("cement", number(batch.cement_kg, 2), ""),
        ("water to add", number(batch.water_to_add_kg, 2), f"{free} kg in aggregates"),
        ("sand, moist", number(batch.sand_kg, 2), ""),
        ("stone, moist", number(batch.stone_kg, 2), ""),
    ]
    if batch.admixture_kg > 0:
        figures.append(("admixture", number(batch.admixture_kg, 3), f"{number(1000 * batch.admixture_l, 0)} ml"))
    return tuple(figures)


def next_words(design: MixDesign) -> tuple[str, str] | None:
    """What the trial gave, and the batch to mix next; None without a trial's result."""
    after = design.next_trial
    if after is None:
        return None
    per_m3 = (
        f"water {number(after.water_kg_per_m3, 0)}, cement {number(after.cement_kg_per_m3, 0)}, w/c "
        f"{number(after.water_cement_ratio, 2)}, sand {number(after.sand_kg_per_m3, 0)}, stone "
        f"{number(after.stone_kg_per_m3, 0)} kg"
    )
    found = (
        f"the trial made {number(after.yield_l, 1)} l of {short(after.designed_l)} and took "
        f"{number(after.water_found_kg_per_m3, 0)} kg/m³ of water; next, per m³: {per_m3}"
    )
    figures = ", ".join(f"{what} {kg} kg" for what, kg, _ in batch_figures(after.batch))
    return found, f"{short(after.batch.volume_l)} l: {figures}"


def totals_words(design: MixDesign) -> str:
    """Cost and carbon of the whole volume by the batched method; empty where not known."""
    mix, volume = batched_mix(design), design.volume_m3
    if volume is None:
        return ""
    parts = []
    if mix.cost_cu_per_m3 is not None:
        parts.append(f"{number(mix.cost_cu_per_m3 * volume, 0)} {design.currency}".strip() + " of materials")
    if mix.carbon_kg_co2e_per_m3 is not None:
        parts.append(f"{number(mix.carbon_kg_co2e_per_m3 * volume / 1000, 1)} t CO2e (A1-A3)")
    return f"{short(volume)} m³ by {mix.title}: {', '.join(parts)}" if parts else ""


def candidate_words(candidate: MixCandidate, currency: str) -> str:
    """A candidate on one line."""
    sums = [
        f"{number(value, digits)} {unit}"
        for value, digits, unit in (
            (candidate.cost_cu_per_m3, 2, f"{plain(currency)}/m³".lstrip("/")),
            (candidate.carbon_kg_co2e_per_m3, 0, "kg CO2e/m³"),
        )
        if value is not None
    ]
    admixture = f", {candidate.admixture}" if candidate.admixture else ""
    return (
        f"{', '.join(sums)}: w/c {number(candidate.water_cement_ratio, 2)}, {number(candidate.cement_kg_per_m3, 0)} "
        f"{candidate.cement}, {candidate.stone}{admixture}, sand {short(candidate.sand_percent)} %"
    )


def sweep_texts(design: MixDesign) -> list[str]:
    """What came of the candidates, line by line."""
    sweep = design.sweep
    if sweep is None:
        return []
    texts = [sweep.sentence]
    if sweep.cheapest is not None:
        texts.append(f"cheapest {candidate_words(sweep.cheapest, design.currency)}")
    if sweep.least_carbon is not None and sweep.least_carbon != sweep.cheapest:
        texts.append(f"least carbon {candidate_words(sweep.least_carbon, design.currency)}")
    if sweep.refused:
        texts.append("refused by " + "; ".join(f"{each.limit}: {each.count}" for each in sweep.refused))
    return texts


def mix_screen(design: MixDesign, width: int = 100, files: Sequence[str] = ()) -> str:
    """The design on one screen of plain text: comparison, trial batch, differences, candidates, cautions."""
    width = max(60, min(width, 100))
    head = f"{design.title} · {design.project} · {date_words(design.date)}"
    lines = labelled("", head, width + LABEL, 2)
    lines = [line.strip() for line in lines]
    lines.append(VERDICT + ("   (invented demo data)" if design.invented else ""))
    lines += labelled("target", design.target, width, 2)
    lines += _table(design, width)
    batched = batched_mix(design)
    figures = ", ".join(
        f"{what} {kg} kg{f' ({remark})' if remark else ''}" for what, kg, remark in batch_figures(batched.batch)
    )
    trial = f"{short(batched.batch.volume_l)} l by {batched.title}: {figures}. {_first_up(design.batched_because)}."
    lines += labelled("trial", trial, width, 4)
    after = next_words(design)
    if after is not None:
        lines += labelled("next trial", f"{after[0]}. {after[1]}.", width, 5)
    for label, texts, most, long in _sections(design, files):
        for place, text in enumerate(texts[:most]):
            lines += labelled("" if place else label, text, width, long)
        if len(texts) > most:
            lines += labelled("", f"and {len(texts) - most} more in mix.json", width, 1)
    return "\n".join(lines)


def _first_up(text: str) -> str:
    return text[:1].upper() + text[1:]


def _table(design: MixDesign, width: int) -> list[str]:
    column = min(_COLUMN, (width - 22) // len(design.methods))
    names = "".join(f"{SHORT_TITLES[mix.method]:>{column}}" for mix in design.methods)
    lines = [f"{'':<22}{names}"]
    for row in rows_of(design):
        name = f"{row.name} {row.unit}".strip()
        lines.append(f"{name:<22}" + "".join(f"{row.text(mix):>{column}}" for mix in design.methods))
    return lines


def limits_texts(design: MixDesign) -> list[str]:
    """The limits, those of one source together."""
    sources = dict.fromkeys(limit.source for limit in design.limits)
    return [
        "; ".join(limit.text for limit in design.limits if limit.source == source) + f" ({source})"
        for source in sources
    ]


def _sections(design: MixDesign, files: Sequence[str]) -> list[tuple[str, list[str], int, int]]:
    """Label, texts, how many of them are shown, and lines of each."""
    totals = totals_words(design)
    notices = [f"{SHORT_TITLES[mix.method]}: {text}" for mix in design.methods for text in mix.notices]
    remembered = [f"FROM MEMORY, check the standard: {'; '.join(design.from_memory)}."] if design.from_memory else []
    return [
        ("in all", [totals] if totals else [], 1, 1),
        ("differ", [f"{each.what}: {each.why}" for each in design.differences[:3]], 3, 2),
        ("left out", [f"{each.title}: {each.reason}" for each in design.left_out], 4, 3),
        ("look at", notices, 3, 2),
        ("candidates", sweep_texts(design)[:3], 3, 3),
        ("limits", limits_texts(design), 3, 2),
        ("unchecked", ["; ".join(design.not_checked)] if design.not_checked else [], 1, 2),
        ("cautions", [" ".join(design.cautions), *remembered], 2, 8),
        ("files", [", ".join(files)] if files else [], 1, 2),
    ]
