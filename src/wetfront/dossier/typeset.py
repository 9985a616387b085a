"""Set a template of this package with ready words into PDF. Same words, same bytes.

The data goes in as a JSON file beside the template, never into its text. The fonts are the package's own, and the
document's date is given, never the clock's.
"""

import datetime as dt
import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import font_source_sans_pro
import typst

FONTS = ("SourceSansPro-Regular.otf", "SourceSansPro-Semibold.otf", "SourceSansPro-Bold.otf", "SourceSansPro-It.otf")
"""One file for each weight: the package holds two formats of all, and a folder's order must not choose."""
STANDARDS: list[Literal["a-2a", "ua-1"]] = ["a-2a", "ua-1"]
SHARED_TEMPLATES = ("paper.typ", "parts.typ")
"""Page, head, foot and table style of every printed page, and parts that stand on several; templates import them."""
NOT_IN_A_FONT = "could not be displayed with"
"""Words of the typesetter's own error for a letter that no font has."""


def letters_missing(whole_in: str) -> str:
    """What the pages say where letters are missing."""
    return f"Some letters are in no font of the program and are missing here: see {whole_in}."


class Typesetter:
    """One template in a folder of its own; data may be set again and again, as lists are shortened to fit."""

    def __init__(self, folder: Path, template: str):
        self._folder, self._template = folder, template
        fonts = folder / "fonts"
        fonts.mkdir()
        for font in FONTS:
            shutil.copyfile(Path(font_source_sans_pro.font_directory) / font, fonts / font)
        for name in (*SHARED_TEMPLATES, template):
            (folder / name).write_bytes(files("wetfront.dossier").joinpath("templates", name).read_bytes())

    def marks(self, view: dict[str, Any]) -> list[dict[str, Any]]:
        """What the template marked with its `mark`: part and page."""
        marks: list[dict[str, Any]] = json.loads(self._compiler(view).query("<mark>", field="value"))
        return marks

    def pdf(self, view: dict[str, Any], day: dt.date, notes: list[str], whole_in: str) -> bytes:
        """The pages, dated local midnight of `day`: an archive file that a screen reader can follow.

        Where a letter is in no font of the package, which an archive file may not have, the pages are still worth
        printing: `notes`, a list of the view, then says first that the file `whole_in` holds the words whole.
        """
        stamp = dt.datetime.combine(day, dt.time(0), dt.UTC)
        try:
            return _bytes(self._compiler(view).compile(format="pdf", pdf_standards=[*STANDARDS], timestamp=stamp))
        except typst.TypstError as error:
            if NOT_IN_A_FONT not in str(error):
                raise
        notes.insert(0, letters_missing(whole_in))
        return _bytes(self._compiler(view).compile(format="pdf", timestamp=stamp))

    def _compiler(self, view: dict[str, Any]) -> typst.Compiler:
        folder = self._folder
        (folder / "data.json").write_text(json.dumps(view, ensure_ascii=False, sort_keys=True), encoding="utf-8")
        return typst.Compiler(
            str(folder / self._template), root=str(folder), font_paths=[str(folder / "fonts")], ignore_system_fonts=True
        )


@contextmanager
def typesetter(template: str) -> Iterator[Typesetter]:
    """A typesetter for one of `templates/`, in a temporary folder."""
    with tempfile.TemporaryDirectory(prefix="wetfront-") as name:
        yield Typesetter(Path(name), template)


def _bytes(made: object) -> bytes:
    if not isinstance(made, bytes):
        raise TypeError("typst gave no PDF")
    return made
