"""plan.pdf: two to six A4 pages in black and white, laid out by typst from ready words.

The data goes in as a JSON file beside the template, never into its text. The fonts are the package's own; the
document's date is local midnight of the pour's day. Same plan, same bytes.
"""

import datetime as dt
import json
import shutil
import tempfile
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import font_source_sans_pro
import typst

from wetfront.dossier.paper import LADDERS, caps_at
from wetfront.dossier.sheetview import plan_view
from wetfront.nouns.plan import Plan

MOST_PAGES = 6
SHARES: tuple[tuple[tuple[str, ...], str, int], ...] = (
    (("summary",), "", 1),
    (("order",), "summary", 1),
    (("calloff",), "order", 1),
    (("charts",), "calloff", 1),
    (("ready", "end"), "charts", 2),
)
"""Parts, the part before them, and their pages when all six are used."""
FONTS = ("SourceSansPro-Regular.otf", "SourceSansPro-Semibold.otf", "SourceSansPro-Bold.otf", "SourceSansPro-It.otf")
"""One file for each weight: the package holds two formats of all, and a folder's order must not choose."""
STANDARDS: list[Literal["a-2a", "ua-1"]] = ["a-2a", "ua-1"]
LETTERS_MISSING = "Some letters of this sheet are in no font of the program and are missing here: see plan.json."


def plan_pdf(plan: Plan) -> bytes:
    """The pages of the plan. Long lists are shortened step by step until six pages hold them."""
    with tempfile.TemporaryDirectory(prefix="wetfront-") as name:
        folder = Path(name)
        _lay_out(folder)
        levels = dict.fromkeys(LADDERS, 0)
        while True:
            view = plan_view(plan, caps_at(levels))
            compiler = _compiler(folder, view)
            shorter = _shorter(json.loads(compiler.query("<mark>", field="value")), levels)
            if shorter == levels:
                break
            levels = shorter
        stamp = dt.datetime.combine(plan.date, dt.time(0), dt.UTC)
        try:
            return _bytes(compiler.compile(format="pdf", pdf_standards=[*STANDARDS], timestamp=stamp))
        except typst.TypstError:
            # An archive file may not hold a letter that no font has; the pages are still worth printing, and say so.
            view["end"]["cautions"] = [LETTERS_MISSING, *view["end"]["cautions"]]
            return _bytes(_compiler(folder, view).compile(format="pdf", timestamp=stamp))


def _bytes(made: object) -> bytes:
    if not isinstance(made, bytes):
        raise TypeError("typst gave no PDF")
    return made


def _shorter(marks: list[dict[str, Any]], levels: dict[str, int]) -> dict[str, int]:
    """The steps to try next: parts that take more than their share of pages go down their ladders.

    The same steps again when six pages hold all, or nothing is left to shorten.
    """
    if marks[-1]["page"] <= MOST_PAGES:
        return levels
    ends = {mark["part"]: mark["page"] for mark in marks}
    next_levels = dict(levels)
    for parts, before, share in SHARES:
        over = ends[parts[-1]] - (ends[before] if before else 0) - share
        for part in parts:
            if over > 0:
                next_levels[part] = min(levels[part] + over, len(LADDERS[part]) - 1)
    return next_levels


def _lay_out(folder: Path) -> None:
    fonts = folder / "fonts"
    fonts.mkdir()
    for font in FONTS:
        shutil.copyfile(Path(font_source_sans_pro.font_directory) / font, fonts / font)
    template = files("wetfront.dossier").joinpath("templates", "plan.typ").read_bytes()
    (folder / "plan.typ").write_bytes(template)


def _compiler(folder: Path, view: dict[str, Any]) -> typst.Compiler:
    (folder / "data.json").write_text(json.dumps(view, ensure_ascii=False, sort_keys=True), encoding="utf-8")
    return typst.Compiler(
        str(folder / "plan.typ"), root=str(folder), font_paths=[str(folder / "fonts")], ignore_system_fonts=True
    )
