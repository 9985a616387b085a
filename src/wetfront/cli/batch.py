"""`wetfront batch BRIEF.toml`: one batch of a site mixer, its card, and what the whole volume takes."""

import argparse
from pathlib import Path

from wetfront.cli.files import writable, write_together
from wetfront.cli.mistakes import mistakes_told
from wetfront.cli.terminal import screen_width, show
from wetfront.desk.batch_on_site import batch_on_site
from wetfront.dossier.batchcard import batch_card, batch_json, batch_screen
from wetfront.intake.batch_brief import read_batch_brief


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 the batch may be mixed; 1 worked out, but the heaps are too wet; 2 bad input."""
    return mistakes_told("batch", "brief", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    path = Path(arguments.brief)
    brief, inputs = read_batch_brief(path)
    batch = batch_on_site(brief, inputs)
    out = Path(arguments.out) if arguments.out else path.parent / f"{path.stem}-batch"
    with writable(out):
        contents = {"batch.json": batch_json(batch).encode("utf-8"), "batch-card.pdf": batch_card(batch)}
        written = write_together(out, contents)
    show(batch_screen(batch, screen_width(), written))
    return 0 if batch.may_be_mixed else 1
