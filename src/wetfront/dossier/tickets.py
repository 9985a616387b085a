"""What is printed of delivery tickets: how the file was read, one screen of what it says, tickets.json."""

import json
import textwrap
from collections.abc import Iterator, Sequence

from wetfront.dossier.document import plain_value
from wetfront.dossier.words import counted, date_words, labelled, plain, short
from wetfront.nouns.delivery import DeliveryRow, Reading, RowState
from wetfront.nouns.delivery_day import DeliveryDay, DeliveryReport

MOST_LINES = 40
LEAST_FINDINGS = 4
MOST_READING_LINES = 6
"""Of corrections and mistakes on the report's screen; the preview shows all."""
MOST_PREVIEW_LINES = 200
DECIDES = "the program compares with limits; the site decides, and the specifier about a load outside them"


def tickets_json(report: DeliveryReport) -> str:
    """tickets.json as text: keys in the order of the nouns, moments with offset, ending in a line break."""
    return json.dumps(plain_value(report), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def account_words(reading: Reading) -> str:
    """How the rows ended, adding up to all of them."""
    ends = [f"{reading.count(state)} {state.value}" for state in RowState if state is not RowState.REPEATED]
    repeated = reading.count(RowState.REPEATED)
    if repeated:
        ends.append(f"{repeated} {RowState.REPEATED.value}")
    return f"{counted(len(reading.rows), 'row')}: {', '.join(ends)}"


def preview_text(reading: Reading, rows: Sequence[DeliveryRow], width: int = 100) -> str:
    """Everything about how a file would be taken in, line by line; `rows`: its loads."""
    width = max(60, min(width, 100))
    lines = textwrap.wrap(f"{plain(reading.file)}: {account_words(reading)}", width)
    for pour in dict.fromkeys(row.pour for row in rows):
        lines += labelled("would take", _taken_words(pour, [row for row in rows if row.pour == pour]), width)
    for label, texts in _reading_parts(reading):
        for place, text in enumerate(texts[:MOST_PREVIEW_LINES]):
            lines += labelled("" if place else label, text, width)
        if len(texts) > MOST_PREVIEW_LINES:
            lines += labelled("", f"and {len(texts) - MOST_PREVIEW_LINES} more", width)
    return "\n".join(lines)


def _taken_words(pour: str, rows: Sequence[DeliveryRow]) -> str:
    taken = [row for row in rows if row.state is RowState.TAKEN]
    text = f"{pour}: {counted(len(taken), 'load')}, {short(sum(row.volume_m3 for row in taken), 2)} m³"
    came = [row.load.arrived for row in taken if row.load.arrived is not None]
    return f"{text}, arrived {min(came):%d %b %H:%M} to {max(came):%d %b %H:%M}" if came else text


def _reading_parts(reading: Reading) -> Iterator[tuple[str, list[str]]]:
    yield "in error", list(reading.mistakes)
    yield (
        "held",
        [f"line {row.line}: {row.ticket_number}: {row.reason}" for row in reading.rows if row.state is RowState.HELD],
    )
    yield (
        "again",
        [
            f"line {row.line}: {row.ticket_number}: {row.reason}"
            for row in reading.rows
            if row.state is RowState.REPEATED
        ],
    )
    yield (
        "read as",
        [
            f"line {each.line}: {each.column}: {each.found} read as {each.read_as}: {each.why}"
            for each in reading.corrections
        ],
    )
    if reading.unknown_columns:
        yield "unknown", [f"columns not read: {', '.join(reading.unknown_columns)}"]
    if reading.missing_columns:
        yield "missing", [f"columns not there, so not recorded: {', '.join(reading.missing_columns)}"]


def tickets_screen(report: DeliveryReport, width: int = 100, files: Sequence[str] = ()) -> str:
    """What the tickets say, the worst first, at most 40 lines for one pour."""
    width = max(60, min(width, 100))
    reading = report.reading
    head = f"{report.project} · {plain(reading.file)} · times in {report.time_zone}"
    lines = textwrap.wrap(plain(head), width)
    verdict = account_words(reading)
    if report.other_rows_count:
        verdict += f"; {report.other_rows_count} of other pours"
    lines += textwrap.wrap(verdict + ("   (invented demo data)" if report.invented else ""), width)
    for label, texts in _reading_parts(reading):
        if label not in ("held", "again"):
            most = MOST_READING_LINES if label == "in error" else 1
            for place, text in enumerate(texts[:most]):
                lines += labelled("" if place else label, text, width)
            if len(texts) > most:
                lines += labelled("", f"and {len(texts) - most} more: wetfront tickets --check", width)
    tail = labelled("decides", DECIDES, width) + (labelled("files", ", ".join(files), width) if files else [])
    room = (MOST_LINES - len(lines) - len(tail)) // max(1, len(report.days))
    for day in report.days:
        lines += _day_lines(day, width, room)
    if len(report.days) > 1:
        total = f"{short(report.delivered_m3)} m³ delivered for {short(report.net_m3, 3)} m³ net, all pours"
        lines += labelled("together", total, width)
    return "\n".join([*lines, *tail])


def _day_lines(day: DeliveryDay, width: int, room: int) -> list[str]:
    lines = textwrap.wrap(plain(f"{day.pour}: {day.title} · {date_words(day.date)}"), width)
    lines += labelled("m³", volume_words(day), width)
    if day.balance_call:
        lines += labelled("balance", day.balance_call, width)
    shown = 0
    label = ""
    for finding in day.findings:
        body = labelled("" if finding.about == label else finding.about, finding.text, width)
        if shown >= LEAST_FINDINGS and len(lines) + len(body) > room - 1:
            break
        lines += body
        label = finding.about
        shown += 1
    if shown < len(day.findings):
        lines += labelled("", f"and {len(day.findings) - shown} more in tickets.pdf", width)
    return lines


def volume_words(day: DeliveryDay) -> str:
    """Delivered and what became of it, against what was planned."""
    each = day.volumes
    parts = [f"accepted {short(each.accepted_m3, 2)}"]
    if each.rejected_m3:
        parts.append(f"sent back {short(each.rejected_m3, 2)}")
    if each.held_m3:
        parts.append(f"held {short(each.held_m3, 2)}")
    text = (
        f"delivered {short(each.delivered_m3, 2)} = {' + '.join(parts)}; needed {short(each.need_m3, 2)} (net "
        f"{short(each.net_m3, 3)}), ordered {short(each.order_m3, 2)} in {counted(each.loads_planned_count, 'load')}"
    )
    if each.in_place_m3 is not None and each.residue_m3 is not None:
        text += f"; in place by survey {short(each.in_place_m3, 2)}, "
        if each.residue_m3 < -0.005:
            text += f"{short(-each.residue_m3, 2)} more than was accepted: look at survey, volumes and held loads"
        else:
            text += f"so {short(each.residue_m3, 2)} in line, spill, samples"
    return text
