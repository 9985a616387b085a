"""`wetfront mix BRIEF.toml`: a concrete proportioned by three methods, with its trial batch."""

import argparse
from pathlib import Path

from wetfront.cli.files import writable, write_together
from wetfront.cli.mistakes import mistakes_told
from wetfront.cli.terminal import screen_width, show
from wetfront.desk.design_mix import design_mix
from wetfront.dossier.mixpdf import mix_pdf
from wetfront.dossier.mixview import mix_json, mix_screen
from wetfront.intake.mix_sheet import read_mix_brief


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 done; 2 bad input."""
    return mistakes_told("mix", "brief", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    path = Path(arguments.brief)
    brief, inputs = read_mix_brief(path)
    design = design_mix(brief, inputs)
    out = Path(arguments.out) if arguments.out else path.parent / f"{path.stem}-mix"
    with writable(out):
        contents = {"mix.json": mix_json(design).encode("utf-8"), "mix.pdf": mix_pdf(design)}
        written = write_together(out, contents)
    show(mix_screen(design, screen_width(), written))
    return 0
