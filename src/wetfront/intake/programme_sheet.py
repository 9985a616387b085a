"""Read a programme sheet with the pour sheets that it names, and tell all its mistakes at once."""

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from wetfront.errors import Problem, SheetError
from wetfront.intake import files
from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, Mistakes, path_text, shown
from wetfront.intake.sheet import parsed_toml, read_sheet
from wetfront.intake.toml_lines import line_of, lines_of_keys
from wetfront.nouns.programme import PROGRAMME_SCHEMA, Booked, ProgrammeSheet
from wetfront.nouns.sheet import CheckedSheet

LONGEST_D = 120
MOST_POURS = 60
WHAT = "a programme sheet (TOML)"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedProgramme:
    """A programme sheet with its pour sheets, each read once."""

    sheet: ProgrammeSheet
    pour_sheets: Mapping[str, CheckedSheet]
    """By the file name that the programme gives."""
    inputs: tuple[tuple[str, str], ...]
    """File name and SHA-256 of all that was read."""


def read_programme(path: Path) -> CheckedProgramme:
    """The checked programme in `path`. SheetError holds every mistake of it and of the pour sheets that it names."""
    name = path.name
    data = files.read_bytes(path, name, files.MOST_SHEET_BYTES, WHAT)
    text = files.as_text(data, name, WHAT)
    tree = parsed_toml(text, name)
    mistakes = Mistakes()
    sheet = table_of(ProgrammeSheet).check(tree, (), mistakes)
    if sheet is not BAD:
        cross_check_programme(sheet, mistakes)
    problems: list[Problem] = []
    pour_sheets: dict[str, CheckedSheet] = {}
    for wanted in _named_sheets(tree):
        try:
            pour_sheets[wanted] = read_sheet(path.parent / wanted)
        except SheetError as error:
            problems += error.problems
    if sheet is not BAD:
        _check_pours(sheet, pour_sheets, mistakes)
    lines = lines_of_keys(text) if mistakes.noted else {}
    own = [
        Problem(
            name, path_text(mistake.path), mistake.found, mistake.allowed, line_of(mistake.path, lines), mistake.nearest
        )
        for mistake in mistakes.noted
    ]
    if own or problems:
        raise SheetError([*sorted(own, key=lambda problem: problem.line or 0), *problems])
    read = [(name, files.sha256(data))]
    for checked in pour_sheets.values():
        read += [(file.name, file.sha256) for file in checked.files]
    return CheckedProgramme(sheet=sheet, pour_sheets=pour_sheets, inputs=tuple(dict.fromkeys(read)))


def _named_sheets(tree: Mapping[str, Any]) -> list[str]:
    """The pour sheets that are named at all, also where other keys are wrong."""
    pours = tree.get("pour")
    entries = pours[:MOST_POURS] if isinstance(pours, list) else []
    names = [entry.get("sheet") for entry in entries if isinstance(entry, Mapping)]
    usable = [name for name in names if isinstance(name, str) and 0 < len(name) <= 200 and name.isprintable()]
    return list(dict.fromkeys(usable))


def cross_check_programme(sheet: ProgrammeSheet, mistakes: Mistakes) -> None:
    """What one table of the programme says of another."""
    length = (sheet.last_day - sheet.first_day).days
    if not 0 <= length <= LONGEST_D:
        mistakes.add(("last_day",), shown(sheet.last_day), f"from {sheet.first_day} on, at most {LONGEST_D} days later")
    if sheet.work_end_local <= sheet.work_start_local:
        mistakes.add(
            ("work_end_local",), shown(sheet.work_end_local), f"after work_start_local, {sheet.work_start_local}"
        )
    if len(sheet.pour) > MOST_POURS:
        mistakes.add(("pour",), f"{len(sheet.pour)} pours", f"at most {MOST_POURS} pours in a programme")
    for key in ("pour", "crew", "pump", "form_set", "plant"):
        _unique(key, [entry.id for entry in getattr(sheet, key)], mistakes)
    for place, form in enumerate(sheet.form_set):
        time = form.until_struck_h
        if not time.low <= time.usual <= time.high:
            path = ("form_set", place, "until_struck_h")
            mistakes.add(path, f"low {time.low:g}, usual {time.usual:g}, high {time.high:g}", "low ≤ usual ≤ high")
    _check_days(sheet, mistakes)
    _check_names(sheet, mistakes)
    _check_circles(sheet, mistakes)


def _unique(key: str, names: Iterable[str], mistakes: Mistakes) -> None:
    seen: set[str] = set()
    for place, name in enumerate(names):
        if name in seen:
            mistakes.add((key, place, "id"), shown(name), "an id that no other entry has")
        seen.add(name)


def _check_days(sheet: ProgrammeSheet, mistakes: Mistakes) -> None:
    for place, pour in enumerate(sheet.pour):
        path = ("pour", place)
        done = pour.placed_until is not None
        if not sheet.first_day <= pour.earliest <= sheet.last_day and not done:
            mistakes.add((*path, "earliest"), shown(pour.earliest), f"from {sheet.first_day} to {sheet.last_day}")
        if not pour.earliest <= pour.latest <= sheet.last_day:
            mistakes.add((*path, "latest"), shown(pour.latest), f"from {pour.earliest} (earliest) to {sheet.last_day}")
        if pour.preferred is not None and not pour.earliest <= pour.preferred <= pour.latest:
            allowed = f"from {pour.earliest} (earliest) to {pour.latest} (latest)"
            mistakes.add((*path, "preferred"), shown(pour.preferred), allowed)
        if pour.fixed and pour.preferred is None:
            mistakes.add((*path, "preferred"), "nothing", "the day on which the pour is fixed")
        if (pour.placed_from is None) != (pour.placed_until is None):
            key = "placed_from" if pour.placed_from is None else "placed_until"
            mistakes.add((*path, key), "nothing", "both placed_from and placed_until, or neither")
        elif pour.placed_from is not None and pour.placed_until is not None and pour.placed_until <= pour.placed_from:
            mistakes.add((*path, "placed_until"), shown(pour.placed_until), f"after placed_from, {pour.placed_from}")


def _check_names(sheet: ProgrammeSheet, mistakes: Mistakes) -> None:
    pours = [pour.id for pour in sheet.pour]
    for key in ("crew", "pump", "form_set", "plant"):
        known = [entry.id for entry in getattr(sheet, key)]
        for place, pour in enumerate(sheet.pour):
            _known(getattr(pour, key), known, ("pour", place, key), f"a {key} of the programme", mistakes)
    for place, order in enumerate(sheet.order):
        _known(order.pour, pours, ("order", place, "pour"), "a pour of the programme", mistakes)
        for number, first in enumerate(order.after):
            _known(first, pours, ("order", place, "after", number), "a pour of the programme", mistakes)
    for place, group in enumerate(sheet.neighbours):
        for number, name in enumerate(group.pours):
            _known(name, pours, ("neighbours", place, "pours", number), "a pour of the programme", mistakes)


def _known(name: str, known: list[str], path: tuple[str | int, ...], what: str, mistakes: Mistakes) -> None:
    if name and name not in known:
        near = get_close_matches(name, known, 1)
        allowed = f"{what}: {', '.join(known[:20]) or 'there is none'}"
        mistakes.add(path, shown(name), allowed, near[0] if near else None)


def _check_circles(sheet: ProgrammeSheet, mistakes: Mistakes) -> None:
    """Orders that lead back to where they began."""
    before: dict[str, set[str]] = {}
    for place, order in enumerate(sheet.order):
        before.setdefault(order.pour, set()).update(order.after)
        if order.pour in _all_before(order.pour, before):
            mistakes.add(("order", place), f"{order.pour} before itself", "orders without a circle")
            return


def _all_before(pour: str, before: Mapping[str, set[str]]) -> set[str]:
    found: set[str] = set()
    waiting = list(before.get(pour, ()))
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += before.get(name, ())
    return found


def _check_pours(sheet: ProgrammeSheet, pour_sheets: Mapping[str, CheckedSheet], mistakes: Mistakes) -> None:
    """What the programme says against what the pour sheets say."""
    taken: dict[tuple[str, str], str] = {}
    for place, pour in enumerate(sheet.pour):
        checked = pour_sheets.get(pour.sheet)
        if checked is None:
            continue
        wanted = pour.pour or pour.id
        known = [entry.id for entry in checked.sheet.pour]
        _known(wanted, known, ("pour", place, "pour"), f"a pour of {pour.sheet}", mistakes)
        if (pour.sheet, wanted) in taken:
            mistakes.add(
                ("pour", place, "pour"), shown(wanted), f"a pour that {taken[pour.sheet, wanted]} is not already"
            )
        taken[pour.sheet, wanted] = pour.id
    for key in ("time_zone", "currency"):
        values = dict.fromkeys(getattr(checked.sheet.project, key) for checked in pour_sheets.values())
        if len(values) > 1:
            mistakes.add(("pour",), f"pour sheets with {key} {', '.join(values)}", f"pour sheets with the same {key}")


def read_booked(path: Path) -> tuple[Booked, ...]:
    """Day and start of every pour in a programme.json. SheetError where it is none."""
    name = path.name
    data = files.read_bytes(path, name, files.MOST_TABLE_BYTES, "a programme (programme.json)")
    text = files.as_text(data, name, "a programme (programme.json)")
    try:
        tree = json.loads(text)
        return tuple(_booked(tree))
    except (ValueError, RecursionError, KeyError, TypeError) as error:
        found = f"no programme of this format: {type(error).__name__} {error}"[:200]
        raise SheetError([Problem(name, "", found, "programme.json as `wetfront week` writes it")]) from None


def _booked(tree: Any) -> Iterator[Booked]:
    if tree["schema"] != PROGRAMME_SCHEMA:
        raise ValueError(f"schema {tree['schema']}, known: {PROGRAMME_SCHEMA}")
    for entry in tree["pours"]:
        start = dt.datetime.fromisoformat(entry["start"])
        if start.tzinfo is None or not isinstance(entry["pour"], str):
            raise ValueError("a pour without name, or a start without offset")
        yield Booked(pour=entry["pour"], day=dt.date.fromisoformat(entry["day"]), start=start)
