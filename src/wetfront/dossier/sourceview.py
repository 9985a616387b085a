"""The last page of plan.pdf: cautions, what rests on memory, assumptions, sources, what was not checked, the search."""

from typing import Any

from wetfront.dossier.paper import capped, fitting
from wetfront.dossier.words import number, percent, plain, short
from wetfront.nouns.plan import Plan
from wetfront.nouns.reason import Provenance, Step

LEAST_ROWS = 8
"""Of what rests on memory, was not checked, was read: shortened last."""
ASSUMED = (Provenance.OWN_RULE, Provenance.COMMON_PRACTICE)


def sources_view(plan: Plan, most_cautions: int, most_steps: int) -> dict[str, Any]:
    """Strings for the last page; lists capped at `most_cautions` and `most_steps`, the rest counted."""
    most_inputs = max(most_steps, LEAST_ROWS)
    memory = _steps(plan, (Provenance.MEMORY,), max(most_steps, LEAST_ROWS))
    return {
        "cautions": capped(plan.cautions, most_cautions),
        "memory": memory + _pressure_from_memory(plan),
        "assumptions": _steps(plan, ASSUMED, most_steps),
        "sources": _sources(plan, 2 * most_steps),
        "changed": capped([fitting(text, 200) for text in plan.specification_changed], most_inputs),
        "not_checked": capped([fitting(text, 120) for text in plan.not_checked], max(most_steps, LEAST_ROWS)),
        "search": _search(plan),
        "inputs": [[fitting(name, 60), digest[:16]] for name, digest in plan.inputs[:most_inputs]],
        "inputs_more": f"… and {len(plan.inputs) - most_steps} more in plan.json"
        if len(plan.inputs) > most_steps
        else "",
    }


def _said(step: Step) -> str:
    if isinstance(step.value, bool):
        value = "yes" if step.value else "no"
    elif isinstance(step.value, int | float):
        value = short(step.value, 3 if abs(step.value) < 10 else 1)
    else:
        value = "" if step.value is None else plain(step.value)
    unit = f" {step.unit}" if step.unit and step.unit != "1" else ""
    return f"{step.step}: {value}{unit}" if value else step.step


def _steps(plan: Plan, kinds: tuple[Provenance, ...], most: int) -> list[str]:
    texts = dict.fromkeys(
        fitting(f"{_said(step)} ({step.source.citation})", 120) for step in plan.why if step.source.provenance in kinds
    )
    return capped(list(texts), most)


def _pressure_from_memory(plan: Plan) -> list[str]:
    return [
        fitting(f"{check.method}: {number(check.pressure_kn_per_m2)} kN/m² ({check.source.citation})", 150)
        for check in plan.pressure[:6]
        if check.source.provenance is Provenance.MEMORY
    ]


def _sources(plan: Plan, most: int) -> list[str]:
    silent = (*ASSUMED, Provenance.INPUT, Provenance.DEFINITION, Provenance.MEMORY)
    named = dict.fromkeys(
        fitting(f"{source.citation} ({source.provenance})", 130)
        for source in (*(step.source for step in plan.why), *(check.source for check in plan.pressure))
        if source.provenance not in silent
    )
    return capped(list(named), most)


def _search(plan: Plan) -> str:
    record = plan.search
    if record is None:
        return ""
    return (
        f"{record.candidates_count} candidates, {number(record.total_replications_count, 0)} simulated pours; the plan "
        f"shown on {number(record.replications_count, 0)}. Chance that it is the best of them: "
        f"{percent(record.chance_best)}; expected loss if not: {number(record.possible_loss_cu, 0)} "
        f"{plain(plan.currency)}. Core: {record.core}. Seed {record.seed}."
    )
