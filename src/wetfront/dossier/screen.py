"""The plan on one screen: the answer first, at most 40 lines, plain text."""

import textwrap
from collections.abc import Sequence

from wetfront.dossier.dayview import day_line, days_first
from wetfront.dossier.words import (
    clock,
    counted,
    date_words,
    gang_words,
    loads_words,
    mix_words,
    mixing_lines,
    number,
    opened_lines,
    order_words,
    percent,
    percent_against,
    plain,
    pump_words,
    qualified,
    short,
    signed,
    span,
    supply_words,
    verdict_words,
    worst_risks,
)
from wetfront.nouns.plan import Decision, Plan, Risk, Verdict

LABEL = 10
BEST_FOUND = "the best plan found, for comparison; it does not keep within the limits"
Section = tuple[str, Sequence[str], int]
"""Label, texts, and the lines that it keeps when all are long."""
MOST_LINES = 40
CHANGES_SHOWN = 6
MORE = " … more in plan.pdf"


def screen_text(plan: Plan, width: int = 100, files: Sequence[str] = ()) -> str:
    """The plan in at most 40 lines of at most `width` columns (60 to 100). No colour, no cursor movement.

    `files` names what was written, if anything was.
    """
    width = max(60, min(width, 100))
    head = _wrapped([f"{plan.title} · {date_words(plan.date)} · times in {plan.time_zone}"], width)
    lines = _shortened(head, 2, width)
    parts = (verdict_words(plan.verdict), qualified(plan), "(invented demo data)" if plan.invented else "")
    lines += textwrap.wrap("   ".join(part for part in parts if part), width)
    sections = [(label, _wrapped(texts, width - LABEL), least) for label, texts, least in _sections(plan, files)]
    for label, body, most in _shared_out(sections, MOST_LINES - len(lines)):
        for index, line in enumerate(_shortened(body, most, width - LABEL)):
            lines.append(f"{'' if index else label:<{LABEL}}{line}")
    return "\n".join(lines)


def _wrapped(texts: Sequence[str], width: int) -> list[str]:
    """Lines of the texts, each text hanging from its first line where there are several."""
    indent = "  " if len(texts) > 1 else ""
    return [line for text in texts for line in textwrap.wrap(plain(text), width, subsequent_indent=indent)]


def _shared_out(sections: Sequence[tuple[str, list[str], int]], room: int) -> list[tuple[str, list[str], int]]:
    """Each section with its lines and how many of them are shown: the longest over its least gives way first."""
    shown = [len(body) for _, body, _ in sections]
    while sum(shown) > room:
        excess = [lines - least for lines, (_, _, least) in zip(shown, sections, strict=True)]
        shown[max(range(len(shown)), key=lambda index: (excess[index], index))] -= 1
    return [(label, body, most) for (label, body, _), most in zip(sections, shown, strict=True)]


def _shortened(lines: list[str], most: int, width: int) -> list[str]:
    """At most so many lines; the last one then says that there is more, never dropped in silence."""
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    indent = last[: len(last) - len(last.lstrip())]
    kept = textwrap.shorten(last, width - len(MORE) - len(indent), placeholder="")
    return [*lines[: most - 1], f"{indent}{kept}{MORE}"]


def _sections(plan: Plan, files: Sequence[str]) -> list[Section]:
    sections: list[Section] = [("why", plan.reasons, 4)]
    if plan.verdict in (Verdict.NO_GO, Verdict.NO_FORECAST):
        sections.append(("instead", plan.nearest_change, 3))
    if plan.verdict is Verdict.NO_GO and plan.decision is not None:
        sections.append(("below", [BEST_FOUND], 1))
    sections.append(("order", _order(plan), 3))
    if plan.site_mixing is not None:
        sections.append(("mixing", mixing_lines(plan.site_mixing), 4))
    if plan.decision is not None:
        sections += _decided(plan, plan.decision)
    sections.append(("risks", [_risk(risk) for risk in worst_risks(plan)], 5))
    sections.append(("binds", plan.binding, 3))
    sections.append(("runner-up", [plan.runner_up], 2))
    sections.append(("opened", opened_lines(plan), 2))
    if plan.verdict is not Verdict.NO_GO:
        sections.append(("price", _price(plan), 1))
    sections.append(("what if", [_changes(plan)], 1))
    sections.append(("days", [day_line(plan, day) for day in days_first(plan)], 2))
    sections.append(("weather", [plan.weather.sentence if plan.weather is not None else ""], 1))
    sections.append(("measures", plan.measures, 3))
    sections.append(("changed", _changed(plan), 1))
    sections.append(("cautions", [_cautions(plan)], 3))
    sections.append(("files", [", ".join(files)], 2))
    return sections


def _order(plan: Plan) -> list[str]:
    quantity = plan.quantity
    parts = [
        ("net", quantity.net_m3),
        ("waste", quantity.wastage_m3),
        ("extra", quantity.extra_m3),
        ("priming", quantity.priming_m3),
        ("line", quantity.line_content_m3),
    ]
    made_of = " + ".join(f"{name} {number(value)}" for name, value in parts if value >= 0.05)
    return [
        f"{short(quantity.order_m3, 2)} m³ = {loads_words(quantity, plan.site_mixing)} ({made_of})",
        quantity.balance_call,
    ]


def _decided(plan: Plan, decision: Decision) -> list[Section]:
    day = plan.date
    start = (
        f"first concrete {clock(decision.start, day)}, first batch {clock(decision.first_batch, day)}; "
        f"{supply_words(plan, decision)}"
    )
    mix = mix_words(decision)
    place = (
        f"{short(decision.placing_rate_m3_per_h)} m³/h by {pump_words(decision)}, "
        f"{counted(decision.vibrators_count, 'vibrator')}, layers {short(decision.layer_mm, 0)} mm"
        f"{gang_words(decision)}; {mix} from {', '.join(decision.plants)}"
    )
    bays = order_words(decision.element_order)
    if decision.strip_width_m > 0 and decision.strips_along:
        bays += f"; strips {short(decision.strip_width_m, 2)} m wide along {decision.strips_along}"
    if decision.joint:
        bays += f"; joint: {decision.joint}"
    ends = []
    if plan.end_of_placing is not None:
        ends.append(f"placing {span(plan.end_of_placing, day)}")
    if plan.end_of_finishing is not None:
        ends.append(f"finishing {span(plan.end_of_finishing, day)}")
    return [
        ("start", [start], 2),
        ("place", [place], 2),
        ("in order", [bays], 2),
        ("ends", ["; ".join(ends)], 2),
    ]


def _risk(risk: Risk) -> str:
    verdict = "" if risk.holds else "OVER: "
    chance = percent_against(risk.probability, risk.limit)
    return f"{verdict}{risk.title}: {chance} of at most {percent(risk.limit)}; {risk.detail}"


def _price(plan: Plan) -> list[str]:
    """The dearest limit, and where the plan stands between cost and risk."""
    first = [price.text for price in plan.limit_prices[:1]]
    return first + ([plan.frontier.sentence] if plan.frontier is not None else [])


def _changes(plan: Plan) -> str:
    """The changes that move most, with what they cost."""
    return "; ".join(
        f"{change.title} {signed(change.cost_change_cu)} {plan.currency}"
        f"{'' if change.keeps_limits else ', breaks a limit'}"
        for change in plan.changes[:CHANGES_SHOWN]
    )


def _changed(plan: Plan) -> list[str]:
    if not plan.specification_changed:
        return []
    return [f"by your specification: {'; '.join(plan.specification_changed)}"]


def _cautions(plan: Plan) -> str:
    first = plan.cautions[0] if plan.cautions else ""
    rest = len(plan.cautions) - 1
    more = f" (+ {rest} more in plan.pdf)" if rest > 0 else ""
    not_checked = f" Not checked: {', '.join(plan.not_checked)}." if plan.not_checked else ""
    return f"{first}{more}{not_checked}".strip()
