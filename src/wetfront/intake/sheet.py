"""Read a pour sheet with the files that it names, and tell all its mistakes at once."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wetfront.errors import Problem, SheetError
from wetfront.intake import files
from wetfront.intake.cross_checks import cross_check
from wetfront.intake.kinds import Mistake, Mistakes, path_text, shown
from wetfront.intake.kinds import Path as KeyPath
from wetfront.intake.parts import Parts, checked_parts
from wetfront.intake.readiness_csv import readiness_items
from wetfront.intake.toml_lines import line_of, lines_of_keys
from wetfront.intake.weather_csv import weather_series
from wetfront.nouns.readiness import ReadinessItem
from wetfront.nouns.sheet import CheckedSheet, InputFile, PourSheet
from wetfront.nouns.weather import WeatherSeries

MOST_ELEMENTS = 2_000
LONGEST_KEY = 500
READER_KEYS = ("site", "elements_file")
"""Keys that the reader itself follows: they name other files."""


@dataclass(slots=True)
class _Sources:
    """The TOML texts and which of them each key came from."""

    texts: dict[str, str] = field(default_factory=dict)
    origin: dict[KeyPath, str] = field(default_factory=dict)
    used: list[InputFile] = field(default_factory=list)

    def problems(self, mistakes: list[Mistake], main: str) -> list[Problem]:
        lines = {name: lines_of_keys(text) for name, text in self.texts.items()}
        found = []
        for mistake in mistakes:
            name = self.origin.get(mistake.path[:2]) or self.origin.get(mistake.path[:1]) or main
            line = line_of(mistake.path, lines[name])
            found.append(Problem(name, path_text(mistake.path), mistake.found, mistake.allowed, line, mistake.nearest))
        names = list(self.texts)
        return sorted(found, key=lambda problem: (names.index(problem.file), problem.line or 0))


def read_sheet(path: Path) -> CheckedSheet:
    """The checked sheet in `path`. SheetError holds every mistake of the sheet and of the files that it names."""
    sources = _Sources()
    main = path.name
    tree = _toml(path, main, "sheet", sources)
    tree = _with_site(tree, path.parent, main, sources)
    mistakes = Mistakes()
    looked_at = _few_enough(tree, mistakes)
    parts = checked_parts(looked_at, mistakes)
    if looked_at is tree:
        cross_check(parts, mistakes)
    problems = sources.problems(mistakes.noted, main)
    weather = _weather(parts, path.parent, sources, problems)
    readiness = _readiness(parts, path.parent, sources, problems)
    if problems:
        raise SheetError(problems)
    return CheckedSheet(
        sheet=PourSheet(**parts.values), weather=weather, readiness=readiness, files=tuple(sources.used)
    )


def _toml(path: Path, name: str, kind: Any, sources: _Sources) -> dict[str, Any]:
    what = "a pour sheet (TOML)" if kind == "sheet" else "a TOML file"
    data = files.read_bytes(path, name, files.MOST_SHEET_BYTES, what)
    text = files.as_text(data, name, what)
    _refuse_endless_keys(text, name)
    try:
        tree = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SheetError([_syntax_problem(name, error)]) from None
    sources.texts[name] = text
    sources.used.append(InputFile(name=name, kind=kind, sha256=files.sha256(data)))
    return tree


def _refuse_endless_keys(text: str, name: str) -> None:
    """A dotted key of thousands of parts takes the parser minutes; no honest key is that long."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_KEY:
            key = line.lstrip(" \t[").split("=", 1)[0].split("]", 1)[0]
            if len(key) > LONGEST_KEY and key.count(".") > 20 and not key.lstrip()[:1].isdigit():
                raise SheetError([Problem(name, "", "a key of over 500 characters", "short keys", number)])


def _syntax_problem(name: str, error: Exception) -> Problem:
    text = str(error)
    line = None
    if "(at line " in text:
        text, _, place = text.partition(" (at line ")
        line = int(place.split(",", 1)[0])
    found = "too many tables inside each other" if isinstance(error, RecursionError) else f"no valid TOML: {text}"
    return Problem(name, "", found[:300], 'keys as name = value, text in "quotes", tables in [brackets]', line)


def _with_site(tree: dict[str, Any], folder: Path, main: str, sources: _Sources) -> dict[str, Any]:
    """The sheet's tree on top of the site's: a key of the sheet replaces the site's, mixes one by one."""
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
    return merged


def _not_a_file_name(value: object, key: str) -> Mistake | None:
    if isinstance(value, str) and 0 < len(value) <= 200 and value.isprintable():
        return None
    return Mistake((key,), shown(value), "the name of a file, in the sheet's folder or reached from there")


def _few_enough(tree: dict[str, Any], mistakes: Mistakes) -> dict[str, Any]:
    """The tree, without its elements where they are too many to look at one by one."""
    elements = tree.get("element")
    if not isinstance(elements, list) or len(elements) <= MOST_ELEMENTS:
        return tree
    mistakes.add(("element",), f"{len(elements)} elements", f"at most {MOST_ELEMENTS} elements in a sheet")
    return {**tree, "element": elements[:1]}


def _weather(parts: Parts, folder: Path, sources: _Sources, problems: list[Problem]) -> WeatherSeries | None:
    named = parts.whole("weather")
    if named is None:
        return None
    try:
        data = _named_file(named.forecast, folder, "a weather file (CSV)")
        sources.used.append(InputFile(name=named.forecast, kind="forecast", sha256=files.sha256(data)))
        text = files.as_text(data, named.forecast, "a weather file (CSV)")
        return weather_series(text, named.forecast, named.wind_height_m, named.issued_local)
    except SheetError as error:
        problems += error.problems
        return None


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
