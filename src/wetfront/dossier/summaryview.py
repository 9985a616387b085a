"""The summary page of plan.pdf in words."""

from collections.abc import Sequence
from typing import Any

from wetfront.dossier.document import revision
from wetfront.dossier.paper import PLANNING_AID, Caps, capped, fitting, head_of_pages
from wetfront.dossier.words import (
    REMEMBERED,
    clock,
    counted,
    gang_words,
    loads_words,
    mixing_lines,
    number,
    percent,
    percent_against,
    plain,
    pump_words,
    qualified,
    remembered,
    short,
    verdict_words,
    worst_risks,
)
from wetfront.nouns.plan import Decision, Moments, Plan, Verdict

LONGEST_CHANGE = 420


def head_view(plan: Plan) -> dict[str, str]:
    below = (fitting(plan.project, 70), f"pour {fitting(plan.pour, 40)}", f"times in {fitting(plan.time_zone, 30)}")
    return {
        **head_of_pages(
            title=plan.title,
            day=plan.date,
            project=plan.project,
            below=" · ".join(below),
            revision=revision(plan),
            program=plan.program,
            invented=plan.invented,
            caution=PLANNING_AID,
        ),
        "full": fitting(plan.title, 200),
        "currency": fitting(plan.currency, 8),
    }


def verdict_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    stopped = plan.verdict in (Verdict.NO_GO, Verdict.NO_FORECAST)
    return {
        "word": verdict_words(plan.verdict),
        "stopped": stopped,
        "qualified": _qualified(plan),
        "reasons": capped([*plan.reasons[:1], *_mixing(plan), *plan.reasons[1:]], caps.reasons),
        "instead": capped(plan.nearest_change, caps.instead, LONGEST_CHANGE),
        "measures": capped(plan.measures, caps.measures),
        "note": (
            "The figures below belong to the best plan found. It does not keep within the limits: do not book from it."
            if plan.verdict is Verdict.NO_GO and plan.decision is not None
            else ""
        ),
    }


def _mixing(plan: Plan) -> list[str]:
    return [] if plan.site_mixing is None else mixing_lines(plan.site_mixing)


def _qualified(plan: Plan) -> str:
    """Below the verdict: that the search was cut short; that it rests on memory, and on whose."""
    said = qualified(plan)
    whose = f": {'; '.join(remembered(plan))}" if said.endswith(REMEMBERED) else ""
    return fitting(f"{said}{whose}", 230) if said else ""


def figures_view(plan: Plan) -> list[dict[str, str]]:
    decision, quantity, day = plan.decision, plan.quantity, plan.date
    order = _figure("to order", short(quantity.order_m3, 2), "m³", loads_words(quantity, plan.site_mixing))
    if decision is None:
        return [order]
    figures = [
        _figure("first concrete", clock(decision.start, day), "", f"first batch {clock(decision.first_batch, day)}"),
        *_supply_figures(plan, decision),
        order,
        _figure("placing rate", short(decision.placing_rate_m3_per_h), "m³/h", pump_words(decision)),
        _figure(
            "vibrators",
            str(decision.vibrators_count),
            "",
            f"layers {short(decision.layer_mm, 0)} mm{gang_words(decision)}",
        ),
    ]
    figures += _end_figure("placed by", plan.end_of_placing, plan)
    figures += _end_figure("finished by", plan.end_of_finishing, plan)
    return figures


def _supply_figures(plan: Plan, decision: Decision) -> list[dict[str, str]]:
    every, mixing = short(decision.interval_min), plan.site_mixing
    matched = ", matched: see the call-off" if decision.interval_pattern == "matched" else ""
    if mixing is None:
        trucks = f"of {short(decision.load_m3, 2)} m³ from {_and(decision.plants)}"
        return [
            _figure("a load every", every, "min", f"{counted(plan.quantity.loads_count, 'load')}{matched}"),
            _figure("trucks", str(decision.trucks_count), "", trucks),
        ]
    batches = counted(mixing.batches_count, "batch", "batches")
    return [
        _figure("a batch every", every, "min", batches),
        _figure("mixers", str(mixing.mixers_count), "", f"{short(mixing.batch_m3, 3)} m³ a batch"),
    ]


def _figure(name: str, value: str, unit: str, below: str) -> dict[str, str]:
    return {"name": name, "value": value, "unit": unit, "below": fitting(below, 60)}


def _end_figure(name: str, moments: Moments | None, plan: Plan) -> list[dict[str, str]]:
    if moments is None:
        return []
    early, usual, late = (clock(each, plan.date) for each in (moments.early, moments.usual, moments.late))
    return [_figure(name, usual, "", f"{early} to {late}")]


def _and(names: Sequence[str]) -> str:
    return " and ".join(names)


def quantity_view(plan: Plan) -> dict[str, Any]:
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
        "loads": loads_words(quantity, plan.site_mixing),
        "call": fitting(quantity.balance_call),
        "short": f"Chance that this runs short if the balance load is not measured: "
        f"{percent(quantity.chance_of_running_short)}.",
        "areas": f"Formed area {number(quantity.formed_area_m2)} m², top area {number(quantity.top_area_m2)} m².",
    }


def risk_row(plan: Plan, index: int) -> dict[str, str]:
    risk = worst_risks(plan)[index]
    return {
        "title": fitting(risk.title, 90),
        "probability": percent_against(risk.probability, risk.limit),
        "limit": percent(risk.limit),
        "error": f"± {percent(risk.standard_error)}",
        "mark": "" if risk.holds else "OVER",
        "detail": fitting(risk.detail, 150),
        "remedy": fitting(risk.remedy, 150),
    }


def other_risks(plan: Plan) -> str:
    top = worst_risks(plan)
    rest = [risk for risk in plan.risks if risk not in top]
    return "; ".join(
        f"{plain(risk.title).lower()} {percent_against(risk.probability, risk.limit)} of {percent(risk.limit)}"
        for risk in rest
    )


def cost_words(plan: Plan) -> str:
    if not plan.cost:
        return ""
    total = sum(line.amount_cu for line in plan.cost)
    parts = ", ".join(f"{plain(line.title)} {number(line.amount_cu, 0)}" for line in plan.cost)
    return fitting(f"Expected cost {number(total, 0)} {plain(plan.currency)}: {parts}.", 300)
