"""A sheet that is one TOML file: read, checked by its noun, then by what its keys say of each other."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from wetfront.errors import Problem, SheetError
from wetfront.intake import files
from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, Mistakes, path_text
from wetfront.intake.sheet import parsed_toml
from wetfront.intake.toml_lines import line_of, lines_of_keys

Noun = TypeVar("Noun")
Inputs = tuple[tuple[str, str], ...]
"""File name and SHA-256."""


def read_one_file(
    path: Path, what: str, noun: type[Noun], cross_check: Callable[[Noun, Mistakes], None]
) -> tuple[Noun, Inputs]:
    """The checked noun in `path` and the file's hash. SheetError holds every mistake with its line.

    `what` is said where the file cannot be read. The cross-check is asked once every key is sound by itself.
    """
    name = path.name
    data = files.read_bytes(path, name, files.MOST_SHEET_BYTES, what)
    text = files.as_text(data, name, what)
    mistakes = Mistakes()
    table: type = noun
    found = table_of(table).check(parsed_toml(text, name), (), mistakes)
    if found is not BAD:
        cross_check(found, mistakes)
    if mistakes.noted:
        lines = lines_of_keys(text)
        problems = [
            Problem(name, path_text(each.path), each.found, each.allowed, line_of(each.path, lines), each.nearest)
            for each in mistakes.noted
        ]
        raise SheetError(sorted(problems, key=lambda problem: problem.line or 0))
    return found, ((name, files.sha256(data)),)
