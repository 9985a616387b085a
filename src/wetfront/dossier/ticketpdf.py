"""tickets.pdf: what the delivery tickets of each pour say, on A4. Same report, same bytes."""

import datetime as dt
import hashlib
from collections import Counter
from typing import Any

from wetfront.dossier.paper import capped, fitting, head_of_pages
from wetfront.dossier.queuechart import queue_chart, queue_sentence
from wetfront.dossier.tickets import account_words, tickets_json, volume_words
from wetfront.dossier.typeset import typesetter
from wetfront.dossier.words import MONTHS, NB, clock, date_words, number, short
from wetfront.nouns.delivery_day import DeliveryDay, DeliveryReport, EdgeWait, LoadOfDay, Stop

TEMPLATE = "tickets.typ"
AID = "compares with limits: the site decides, and the specifier about a load outside them"
MOST_LOADS = 400
MOST_DAYS = 12


def tickets_pdf(report: DeliveryReport) -> bytes:
    """The pages: one or two a pour."""
    view = tickets_view(report)
    day = min((each.date for each in report.days), default=None)
    if day is None:
        raise ValueError("tickets of no pour have no pages")
    with typesetter(TEMPLATE) as setter:
        return setter.pdf(view, day, view["reading"]["notes"], "tickets.json")


def tickets_view(report: DeliveryReport) -> dict[str, Any]:
    """The words that the template puts on paper."""
    reading, first = report.reading, report.days[0]
    title = first.title if len(report.days) == 1 else "Delivery tickets"
    below = f"{fitting(report.project, 70)} · tickets · times in {fitting(report.time_zone, 30)}"
    notes = [f"not read: {', '.join(reading.unknown_columns)}"] if reading.unknown_columns else []
    if reading.missing_columns:
        notes.append(f"not recorded: {', '.join(reading.missing_columns)}")
    head = head_of_pages(
        title=title,
        day=first.date,
        project=report.project,
        below=below,
        revision=hashlib.sha256(tickets_json(report).encode()).hexdigest()[:8],
        program=report.program,
        invented=report.invented,
        caution=AID,
    )
    if len({day.date for day in report.days}) > 1:
        head["date"] = f"{short_date(first.date)} to {short_date(report.days[-1].date)}"
    return {
        "head": head,
        "reading": {
            "file": fitting(reading.file, 120),
            "account": account_words(reading),
            "mistakes": capped(reading.mistakes, 12),
            "corrections": capped(
                [
                    f"line {each.line}, {each.column}: {each.found} read as {each.read_as}"
                    for each in reading.corrections
                ],
                6,
            ),
            "notes": [fitting(note) for note in notes],
        },
        "days": [_day_view(day, report.currency, several=len(report.days) > 1) for day in report.days[:MOST_DAYS]],
        "more_days": max(0, len(report.days) - MOST_DAYS),
        "inputs": [[fitting(name, 60), digest[:12]] for name, digest in report.inputs],
    }


def short_date(day: dt.date) -> str:
    """18 Jun 2027."""
    return f"{day.day} {MONTHS[day.month - 1][:3]} {day.year}"


def _day_view(day: DeliveryDay, currency: str, *, several: bool) -> dict[str, Any]:
    return {
        "title": fitting(f"{day.pour}: {day.title}", 110) if several else "",
        "date": date_words(day.date),
        "figures": _figures(day, currency),
        "volumes": volume_words(day),
        "balance": day.balance_call,
        "findings": [
            {"strong": each.rank <= 3, "about": each.about.capitalize(), "text": fitting(each.text, 420)}
            for each in day.findings
            if each.rank <= 8
        ],
        "calm": [fitting(each.text, 300) for each in day.findings if each.rank > 8],
        "chart": queue_chart(day) if len(day.queue.points) > 1 else "",
        "chart_said": queue_sentence(day.queue),
        "loads": [_load_row(load, day) for load in day.loads[:MOST_LOADS]],
        "more_loads": max(0, len(day.loads) - MOST_LOADS),
        "remembered": any(load.rests_on_memory for load in day.loads),
        "reasons": [
            [load.ticket_number, fitting("; ".join(load.verdict_reasons), 420)]
            for load in day.loads
            if load.verdict_reasons and load.differs
        ],
        "limits": _common_limits(day),
        "stops": [_stop_row(stop, day) for stop in day.stops],
        "edges": [_edge_row(edge) for edge in day.edges],
        "edges_note": day.edges_note[:1].upper() + day.edges_note[1:],
        "cautions": list(day.cautions),
        "currency": fitting(currency, 8),
    }


def _common_limits(day: DeliveryDay) -> list[str]:
    """What more than one load was compared with; what concerns a single load stands in tickets.json."""
    counts = Counter(text for load in day.loads for text in load.verdict_limits)
    return [text for text, count in counts.items() if count > 1 or len(day.loads) == 1]


def _figures(day: DeliveryDay, currency: str) -> list[dict[str, str]]:
    volumes, queue = day.volumes, day.queue
    taken = sum(load.state.value == "taken" for load in day.loads)
    oldest = "–" if day.oldest_age_min is None else number(day.oldest_age_min, 0)
    money = queue.waiting_cu + volumes.rejected_cu + sum(stop.cost_cu for stop in day.stops)
    return [
        {
            "name": "accepted",
            "value": short(volumes.accepted_m3),
            "unit": "m³",
            "below": f"{taken} of {len(day.loads)} loads",
        },
        {
            "name": "oldest load",
            "value": oldest,
            "unit": "min",
            "below": f"limit {short(day.age_limit_min, 0)}, {day.age_limit_from}",
        },
        {
            "name": "most trucks waiting",
            "value": str(queue.most_waiting),
            "unit": "",
            "below": f"{queue.waiting_places} places; {queue.most_on_site} on site",
        },
        {
            "name": "waiting, stops, sent back",
            "value": number(money, 0),
            "unit": fitting(currency, 8),
            "below": f"{number(queue.waiting_min, 0)} min over free time",
        },
    ]


def _load_row(load: LoadOfDay, day: DeliveryDay) -> dict[str, Any]:
    def at(moment: Any) -> str:
        return "–" if moment is None else clock(moment, day.date)

    age = "–" if load.age is None else f"{'≥' + NB if load.age.at_least else ''}{number(load.age.min, 0)}"
    slump = "–" if load.slump_mm is None else short(load.slump_mm, 0)
    if load.slump_retest_mm is not None:
        slump += f", {short(load.slump_retest_mm, 0)}"
    added = [f"{short(load.water_added_l)} l"] if load.water_added_l else []
    added += [f"adm. {short(load.admixture_added_l)} l"] if load.admixture_added_l else []
    return {
        "cells": [
            fitting(load.ticket_number, 14),
            fitting(load.truck, 8),
            short(load.volume_m3, 2),
            "missing" if load.batched is None else at(load.batched),
            at(load.arrived),
            at(load.discharge_start),
            at(load.discharge_end),
            age,
            slump,
            "–" if load.concrete_temperature_c is None else number(load.concrete_temperature_c),
            ", ".join(added),
            fitting(load.placed_in, 12),
            fitting(load.sample_id, 8),
            fitting(load.in_words, 90),
        ],
        "strong": load.differs or load.decision != "accept",
    }


def _stop_row(stop: Stop, day: DeliveryDay) -> list[str]:
    return [
        f"{clock(stop.start, day.date)} to {clock(stop.end, day.date)}",
        number(stop.gap_min, 0),
        fitting(f"{stop.kind.value}: {', '.join(stop.tickets[:6])}", 60),
        fitting(stop.known_from, 60),
        number(stop.cost_cu, 0),
        fitting("; ".join(stop.log), 220),
    ]


def _edge_row(edge: EdgeWait) -> dict[str, Any]:
    over = edge.within_limit is False or edge.within_set is False
    state = "over initial set" if edge.within_set is False else "over the limit" if over else "within"
    return {
        "cells": [
            fitting(edge.name, 40),
            number(edge.longest_min, 0),
            "–" if edge.limit_min is None else short(edge.limit_min, 0),
            state if edge.limit_min is not None or edge.within_set is False else "no limit given",
            "–" if edge.temperature_c is None else f"{number(edge.temperature_c)} ({edge.temperature_from})",
            number(edge.age_when_covered_min, 0),
            "–" if edge.initial_set_min is None else number(edge.initial_set_min, 0),
        ],
        "strong": over,
    }
