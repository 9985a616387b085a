"""`wetfront schema`: the pour sheet's keys for editors (JSON Schema) and for people (Markdown); those of plan.json."""

import argparse
import json
import sys
from pathlib import Path

from wetfront.cli.files import CannotWrite, write_atomically
from wetfront.intake.key_tables import key_tables
from wetfront.intake.schema import pour_sheet_schema


def run(arguments: argparse.Namespace) -> int:
    """Print or write the schema."""
    text = _text(arguments)
    if arguments.out is None:
        print(text, end="")
        return 0
    try:
        write_atomically(Path(arguments.out), text.encode())
    except CannotWrite as error:
        print(f"wetfront schema: {error.message}", file=sys.stderr)
        return 2
    print(f"{arguments.out} written")
    return 0


def _text(arguments: argparse.Namespace) -> str:
    if arguments.plan:
        from wetfront.dossier.document import schema_json

        return schema_json()
    return key_tables() if arguments.keys else json.dumps(pour_sheet_schema(), indent=2, ensure_ascii=False) + "\n"
