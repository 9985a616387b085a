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
SHARED_TEMPLATE = "paper.typ"
"""Page, head, foot and table style of every printed page; templates import it."""


class LettersMissing(Exception):
    """A letter of the words is in no font of the package, which an archive file may not have."""


class Typesetter:
    """One template in a folder of its own; data may be set again and again, as lists are shortened to fit."""

    def __init__(self, folder: Path, template: str):
        self._folder, self._template = folder, template
        fonts = folder / "fonts"
        fonts.mkdir()
        for font in FONTS:
            shutil.copyfile(Path(font_source_sans_pro.font_directory) / font, fonts / font)
        for name in (SHARED_TEMPLATE, template):
            (folder / name).write_bytes(files("wetfront.dossier").joinpath("templates", name).read_bytes())

    def marks(self, view: dict[str, Any]) -> list[dict[str, Any]]:
        """What the template marked with its `mark`: part and page."""
        marks: list[dict[str, Any]] = json.loads(self._compiler(view).query("<mark>", field="value"))
        return marks

    def pdf(self, view: dict[str, Any], day: dt.date, *, archive: bool = True) -> bytes:
        """The pages, dated local midnight of `day`. LettersMissing where an archive file cannot hold all letters."""
        stamp = dt.datetime.combine(day, dt.time(0), dt.UTC)
        compiler = self._compiler(view)
        if not archive:
            return _bytes(compiler.compile(format="pdf", timestamp=stamp))
        try:
            return _bytes(compiler.compile(format="pdf", pdf_standards=[*STANDARDS], timestamp=stamp))
        except typst.TypstError as error:
            raise LettersMissing(str(error)) from error

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
