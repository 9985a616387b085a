"""Read a mix brief, and tell all its mistakes at once."""

from pathlib import Path

from wetfront.intake.mix_checks import check_brief
from wetfront.intake.one_file import Inputs, read_one_file
from wetfront.nouns.mix_brief import MixBrief

WHAT = "a mix brief (TOML)"


def read_mix_brief(path: Path) -> tuple[MixBrief, Inputs]:
    """The checked brief in `path` and the hash of the file. SheetError holds every mistake with its line."""
    return read_one_file(path, WHAT, MixBrief, check_brief)
