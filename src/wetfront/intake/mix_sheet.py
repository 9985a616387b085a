"""Read a mix brief, and tell all its mistakes at once."""

import datetime as dt
from pathlib import Path

from wetfront.intake.mix_checks import check_brief
from wetfront.intake.one_file import Inputs, read_one_file
from wetfront.nouns.mix_brief import MixBrief

WHAT = "a mix brief (TOML)"


def read_mix_brief(path: Path, today: dt.date | None = None) -> tuple[MixBrief, Inputs]:
    """The checked brief in `path` and the hash of the file. SheetError holds every mistake with its line.

    `today`: nothing was looked up after it; left out, the day of the computer's clock.
    """
    return read_one_file(
        path, WHAT, MixBrief, lambda brief, mistakes: check_brief(brief, mistakes, today or dt.date.today())
    )
