"""Read a pour sheet with the files that it names, and tell all its mistakes at once."""

import datetime as dt
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wetfront.errors import Problem, SheetError
from wetfront.intake import files
from wetfront.intake.cross_checks import cross_check
from wetfront.intake.elements_table import MOST_BYTES as MOST_LIST_BYTES
from wetfront.intake.elements_table import read_elements
from wetfront.intake.kinds import Mistake, Mistakes, path_text, shown
from wetfront.intake.kinds import Path as KeyPath
from wetfront.intake.parts import Parts, checked_parts
from wetfront.intake.readiness_csv import readiness_items
from wetfront.intake.rule_checks import check_rule_terms
from wetfront.intake.site_mixer_tree import with_site_mixer
from wetfront.intake.toml_lines import line_of, lines_of_keys
from wetfront.intake.weather_csv import weather_series
from wetfront.nouns.readiness import ReadinessItem
from wetfront.nouns.sheet import CheckedSheet, InputFile, PourSheet
from wetfront.nouns.weather import WeatherSeries

MOST_ELEMENTS = 2_000
LONGEST_KEY = 500
MOST_KEY_PARTS = 50
_QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'")
_BETWEEN_KEYS = re.compile(r"[^\w.\- \t]+")


@dataclass(slots=True)
class _Sources:
    """The texts that the sheet was read from, and which of them each key came from."""

    texts: dict[str, str] = field(default_factory=dict)
    origin: dict[KeyPath, str] = field(default_factory=dict)
    rows: dict[KeyPath, tuple[str, int]] = field(default_factory=dict)
    """Elements that came from a list: its file and line."""
    used: list[InputFile] = field(default_factory=list)

    def problems(self, mistakes: list[Mistake], main: str) -> list[Problem]:
        """The mistakes with file and line, in the order of the files."""
        lines = {name: lines_of_keys(text) for name, text in self.texts.items()} if mistakes else {}
        return sorted((self._placed(mistake, main, lines) for mistake in mistakes), key=self._order)

    def _placed(self, mistake: Mistake, main: str, lines: dict[str, dict[KeyPath, int]]) -> Problem:
        path = mistake.path
        if path[:2] in self.rows:
            name, line = self.rows[path[:2]]
            return Problem(name, path_text(path[2:]), mistake.found, mistake.allowed, line, mistake.nearest)
        name = self.origin.get(path[:2]) or self.origin.get(path[:1]) or main
        place = line_of(path, lines[name])
        return Problem(name, path_text(path), mistake.found, mistake.allowed, place, mistake.nearest)

    def _order(self, problem: Problem) -> tuple[int, int]:
        names = list(self.texts)
        return names.index(problem.file) if problem.file in names else len(names), problem.line or 0


def read_sheet(path: Path, today: dt.date | None = None) -> CheckedSheet:
    """The checked sheet in `path`. SheetError holds every mistake of the sheet and of the files that it names.

    `today`: the last day on which somebody can have looked a limit up or approved one; the machine's where not given.
    """
    sources = _Sources()
    main, folder = path.name, path.parent
    tree = _with_site(_toml(path, main, "sheet", sources), folder, main, sources)
    mistakes = Mistakes()
    listed = _with_list(tree, folder, sources, mistakes)
    tree = with_site_mixer(tree, {key for key in tree if (key,) not in sources.origin}, mistakes)
    looked_at = _few_enough(tree, mistakes)
    parts = checked_parts(looked_at, mistakes)
    if looked_at is tree and not listed:
        cross_check(parts, mistakes)
        check_rule_terms(parts, mistakes, today or dt.datetime.now(dt.UTC).astimezone().date())
    if listed:  # that elements are missing follows from the list's own mistakes
        mistakes.noted = [mistake for mistake in mistakes.noted if mistake.path != ("element",)]
    problems = sources.problems(mistakes.noted, main) + listed
    weather = _weather(parts, folder, main, sources, problems)
    readiness = _readiness(parts, folder, sources, problems)
    if problems:
        raise SheetError(problems)
    return CheckedSheet(
        sheet=PourSheet(**parts.values), weather=weather, readiness=readiness, files=tuple(sources.used)
    )


def _toml(path: Path, name: str, kind: Any, sources: _Sources) -> dict[str, Any]:
    what = "a pour sheet (TOML)" if kind == "sheet" else "a TOML file"
    data = files.read_bytes(path, name, files.MOST_SHEET_BYTES, what)
    text = files.as_text(data, name, what)
    tree = parsed_toml(text, name)
    sources.texts[name] = text
    sources.used.append(InputFile(name=name, kind=kind, sha256=files.sha256(data)))
    return tree


def parsed_toml(text: str, name: str) -> dict[str, Any]:
    """The tree of a TOML text; SheetError with the line where it is none."""
    _refuse_endless_keys(text, name)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SheetError([_syntax_problem(name, error)]) from None


def _refuse_endless_keys(text: str, name: str) -> None:
    """A dotted key of thousands of parts takes the parser minutes; no honest key has more than a handful."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_KEY:
            bare = _QUOTED.sub("q", line)
            if any(piece.count(".") > MOST_KEY_PARTS for piece in _BETWEEN_KEYS.split(bare)):
                raise SheetError([Problem(name, "", "a key of endless parts", "keys of a few parts", number)])


def _syntax_problem(name: str, error: Exception) -> Problem:
    text = str(error)
    line = None
    if "(at line " in text:
        text, _, place = text.partition(" (at line ")
        line = int(place.split(",", 1)[0])
    found = (
        "too many tables inside each other" if isinstance(error, RecursionError) else f"no valid TOML: {_plain(text)}"
    )
    return Problem(name, "", found[:300], 'keys as name = value, text in "quotes", tables in [brackets]', line)


def _plain(text: str) -> str:
    """What the parser says of keys and tables given twice and of endless numbers, in words of the sheet."""
    if text.startswith("Cannot overwrite a value") or "twice" in text or "Cannot mutate" in text:
        return "a key or table that was given before"
    return "a whole number of thousands of digits" if text.startswith("Exceeds the limit") else text


def _with_site(tree: dict[str, Any], folder: Path, main: str, sources: _Sources) -> dict[str, Any]:
    """The sheet's tree on top of the site's: a key of the sheet replaces the site's, mixes one by one.

    What the site has looked up in the standard holds for a sheet with a specification of its own as well.
    """
    site = tree.pop("site", None)
    if site is None:
        return tree
    mistake = _not_a_file_name(site, "site")
    if mistake:
        raise SheetError(sources.problems([mistake], main))
    shared = _toml(folder / site, site, "site", sources)
    merged = dict(tree)
    for key, value in shared.items():
        if key not in tree:
            merged[key] = value
            sources.origin[(key,)] = site
        elif key == "mix" and isinstance(value, Mapping) and isinstance(tree[key], Mapping):
            merged[key] = {**value, **tree[key]}
            sources.origin |= {(key, name): site for name in value if name not in tree[key]}
        elif key == "specification" and _shares_confirmed(value, tree[key]):
            merged[key] = {**tree[key], "confirmed": value["confirmed"]}
            sources.origin[(key, "confirmed")] = site
    return merged


def _shares_confirmed(site: object, sheet: object) -> bool:
    """True where the site looked limits up, the sheet lists none of its own, and both go by the same book."""
    if not isinstance(site, Mapping) or not isinstance(sheet, Mapping):
        return False
    same_book = site.get("rule_book") in (None, sheet.get("rule_book"))
    return "confirmed" in site and "confirmed" not in sheet and same_book


def _not_a_file_name(value: object, key: str) -> Mistake | None:
    if isinstance(value, str) and 0 < len(value) <= 200 and value.isprintable():
        return None
    return Mistake((key,), shown(value), "the name of a file, in the sheet's folder or reached from there")


def _with_list(tree: dict[str, Any], folder: Path, sources: _Sources, mistakes: Mistakes) -> list[Problem]:
    """Put the elements of `elements_file` behind the sheet's own; returns what is wrong with the list itself."""
    name = tree.pop("elements_file", None)
    if name is None:
        return []
    mistake = _not_a_file_name(name, "elements_file")
    own = tree.get("element", [])
    if mistake or not isinstance(own, list):
        mistakes.noted += [mistake] if mistake else []
        return []
    try:
        data = files.read_bytes(folder / name, name, MOST_LIST_BYTES, "a list of elements (CSV or XLSX)")
    except SheetError as error:
        tree["element"] = own
        return list(error.problems)
    sources.used.append(InputFile(name=name, kind="elements", sha256=files.sha256(data)))
    rows, problems = read_elements(data, name)
    for place, row in enumerate(rows, len(own)):
        sources.rows[("element", place)] = (name, row.line)
    tree["element"] = [*own, *(row.values for row in rows)]
    return problems


def _few_enough(tree: dict[str, Any], mistakes: Mistakes) -> dict[str, Any]:
    """The tree, without its elements where they are too many to look at one by one."""
    elements = tree.get("element")
    if not isinstance(elements, list) or len(elements) <= MOST_ELEMENTS:
        return tree
    mistakes.add(("element",), f"{len(elements)} elements", f"at most {MOST_ELEMENTS} elements in a sheet")
    return {**tree, "element": elements[:1]}


def _weather(parts: Parts, folder: Path, main: str, sources: _Sources, problems: list[Problem]) -> WeatherSeries | None:
    named = parts.whole("weather")
    if named is None:
        return None
    try:
        data = _named_file(named.forecast, folder, "a weather file (CSV)")
        sources.used.append(InputFile(name=named.forecast, kind="forecast", sha256=files.sha256(data)))
        text = files.as_text(data, named.forecast, "a weather file (CSV)")
        series = weather_series(text, named.forecast, named.wind_height_m, named.issued_local)
    except SheetError as error:
        problems += error.problems
        return None
    last = series.start + dt.timedelta(hours=len(series.air_temperature_c) - 1)
    if named.issued_local is not None and named.issued_local > last:
        # What lies before the issue is taken as seen, without any error: the whole series would be certain.
        allowed = f"before the last hour of {named.forecast}, {last.isoformat()}"
        found = named.issued_local.isoformat()
        problems += sources.problems([Mistake(("weather", "issued_local"), found, allowed)], main)
    return series


def _readiness(parts: Parts, folder: Path, sources: _Sources, problems: list[Problem]) -> tuple[ReadinessItem, ...]:
    named = parts.whole("readiness")
    if named is None:
        return ()
    try:
        data = _named_file(named.file, folder, "a check list (CSV)")
        sources.used.append(InputFile(name=named.file, kind="readiness", sha256=files.sha256(data)))
        return readiness_items(files.as_text(data, named.file, "a check list (CSV)"), named.file)
    except SheetError as error:
        problems += error.problems
        return ()


def _named_file(name: str, folder: Path, what: str) -> bytes:
    return files.read_bytes(folder / name, name, files.MOST_TABLE_BYTES, what)
