"""Read a mix brief, and tell all its mistakes at once."""

from dataclasses import dataclass
from pathlib import Path

from wetfront.errors import Problem, SheetError
from wetfront.intake import files
from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, Mistakes, path_text
from wetfront.intake.mix_checks import check_brief
from wetfront.intake.sheet import parsed_toml
from wetfront.intake.toml_lines import line_of, lines_of_keys
from wetfront.nouns.mix_brief import MixBrief

WHAT = "a mix brief (TOML)"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedBrief:
    """A mix brief and what it was read from."""

    brief: MixBrief
    inputs: tuple[tuple[str, str], ...]
    """File name and SHA-256."""


def read_brief(path: Path) -> CheckedBrief:
    """The checked brief in `path`. SheetError holds every mistake with its line."""
    name = path.name
    data = files.read_bytes(path, name, files.MOST_SHEET_BYTES, WHAT)
    text = files.as_text(data, name, WHAT)
    mistakes = Mistakes()
    brief = table_of(MixBrief).check(parsed_toml(text, name), (), mistakes)
    if brief is not BAD:
        check_brief(brief, mistakes)
    if mistakes.noted:
        lines = lines_of_keys(text)
        problems = [
            Problem(name, path_text(each.path), each.found, each.allowed, line_of(each.path, lines), each.nearest)
            for each in mistakes.noted
        ]
        raise SheetError(sorted(problems, key=lambda problem: problem.line or 0))
    return CheckedBrief(brief=brief, inputs=((name, files.sha256(data)),))
