"""`wetfront tickets POUR.toml TICKETS.csv`: read delivery tickets and say what the day was, also as JSON and PDF."""

import argparse
from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path

from wetfront.cli.files import writable, write_together
from wetfront.cli.mistakes import mistakes_told
from wetfront.cli.terminal import screen_width, show
from wetfront.delivery.stops import LogLine
from wetfront.desk.deliveries import MeasuredOnSite, delivery_report
from wetfront.dossier.tickets import preview_text, tickets_json, tickets_screen
from wetfront.errors import InvalidInput, WetfrontError
from wetfront.intake import files, read_sheet
from wetfront.intake.day_log import log_lines
from wetfront.intake.tickets_csv import MOST_BYTES, WHAT, read_tickets
from wetfront.nouns.delivery import Reading, RowState
from wetfront.nouns.sheet import CheckedSheet, Pour
from wetfront.planning.day import zone_of

MOST_M3 = 1e5


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 every row read and decided; 1 a row is held or in error; 2 bad input, nothing written."""
    return mistakes_told("tickets", "files", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    checked = read_sheet(Path(arguments.sheet))
    zone = zone_of(checked.sheet.project.time_zone)
    only = _chosen(checked, arguments.pour)
    path = Path(arguments.tickets)
    data = files.read_bytes(path, path.name, MOST_BYTES, WHAT)
    rows, reading = read_tickets(data, path.name, checked.sheet.pour, zone, only)
    if arguments.check:
        show(preview_text(reading, rows, screen_width()))
        return _exit_code(reading)
    measured = MeasuredOnSite(
        in_place_m3=_cubic_metres(arguments.in_place_m3, "in-place-m3"),
        left_m3=_cubic_metres(arguments.left_m3, "left-m3"),
    )
    pours = [only] if only is not None else list(checked.sheet.pour)
    if len(pours) > 1 and (arguments.in_place_m3 is not None or arguments.left_m3 is not None):
        raise InvalidInput("pour", "--in-place-m3 and --left-m3 are about one pour; choose it with --pour")
    log, inputs = _log(arguments.log, pours, checked)
    inputs = [*((file.name, file.sha256) for file in checked.files), (reading.file, reading.sha256), *inputs]
    report = delivery_report(checked, pours, rows, reading, log, measured, inputs)
    out = Path(arguments.out) if arguments.out else path.parent / f"{path.stem}-report"
    contents = {"tickets.json": tickets_json(report).encode()}
    with writable(out):
        if report.days:
            from wetfront.dossier.ticketpdf import tickets_pdf

            contents["tickets.pdf"] = tickets_pdf(report)
        written = write_together(out, contents)
    show(tickets_screen(report, screen_width(), written))
    return _exit_code(reading)


def _exit_code(reading: Reading) -> int:
    return 1 if reading.count(RowState.HELD) or reading.count(RowState.IN_ERROR) else 0


def _chosen(checked: CheckedSheet, name: str | None) -> Pour | None:
    """The pour of that name, None where none is asked for; WetfrontError where the sheet has none of that name."""
    if name is None:
        return None
    known = {pour.id: pour for pour in checked.sheet.pour}
    if name not in known:
        near = get_close_matches(name, known, 1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise WetfrontError(f"the sheet has no pour {name!r}; it has {', '.join([*known][:20])}{hint}")
    return known[name]


def _cubic_metres(text: str | None, option: str) -> float | None:
    if text is None:
        return None
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= MOST_M3:
        raise InvalidInput(option, f"--{option}: found {text!r}; allowed: a number from 0 to {MOST_M3:g} m³")
    return value


def _log(
    name: str | None, pours: Sequence[Pour], checked: CheckedSheet
) -> tuple[tuple[LogLine, ...], list[tuple[str, str]]]:
    """The day log's lines, and its name and hash."""
    if name is None:
        return (), []
    path, what = Path(name), "a day log (CSV)"
    data = files.read_bytes(path, path.name, files.MOST_TABLE_BYTES, what)
    text = files.as_text(data, path.name, what)
    day = min(pour.date for pour in pours)
    lines = log_lines(text, path.name, day, zone_of(checked.sheet.project.time_zone))
    return lines, [(path.name, files.sha256(data))]
