"""`wetfront new FILE`: a commented sheet to start from."""

import argparse
import sys
from pathlib import Path

from wetfront.cli.files import CannotWrite, write_atomically
from wetfront.intake.template import BRIEFS, brief_template, template


def run(arguments: argparse.Namespace) -> int:
    """Write the sheet; a file that is there already stays."""
    path = Path(arguments.file)
    brief = arguments.kind in BRIEFS
    text = brief_template(arguments.kind) if brief else template(arguments.kind)
    try:
        write_atomically(path, text.encode(), replace=False)
    except CannotWrite as error:
        print(f"wetfront new: {error.message}", file=sys.stderr)
        return 2
    print(f"{path} written: put your own numbers in, then run: wetfront {arguments.kind if brief else 'check'} {path}")
    return 0
