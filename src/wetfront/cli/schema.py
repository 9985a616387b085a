"""`wetfront schema`: the keys of each sheet and written document, for editors (JSON Schema) and people (Markdown)."""

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wetfront.cli.files import CannotWrite, write_atomically


@dataclass(frozen=True, slots=True)
class Format:
    """One kind of file. Sheets, which people write, have key tables as well."""

    schema: Callable[[], dict[str, Any]]
    keys: Callable[[], str] | None = None


def formats() -> dict[str, Format]:
    """Every format by its name."""
    from wetfront.dossier.document import batch_schema, mix_schema, plan_schema, programme_schema, tickets_schema
    from wetfront.intake.key_tables import key_tables
    from wetfront.intake.schema import pour_sheet_schema, sheet_schema
    from wetfront.nouns.batch import BatchBrief
    from wetfront.nouns.mix_brief import MixBrief
    from wetfront.nouns.programme import ProgrammeSheet
    from wetfront.nouns.sheet import PourSheet

    return {
        "pour-sheet": Format(pour_sheet_schema, lambda: key_tables(PourSheet, "pour sheet")),
        "programme-sheet": Format(
            lambda: sheet_schema(ProgrammeSheet, "wetfront programme sheet, schema 1"),
            lambda: key_tables(ProgrammeSheet, "programme sheet"),
        ),
        "batch-brief": Format(
            lambda: sheet_schema(BatchBrief, "wetfront batch brief, schema 1"),
            lambda: key_tables(BatchBrief, "batch brief"),
        ),
        "batch": Format(batch_schema),
        "mix-brief": Format(
            lambda: sheet_schema(MixBrief, "wetfront mix brief, schema 1"), lambda: key_tables(MixBrief, "mix brief")
        ),
        "mix": Format(mix_schema),
        "plan": Format(plan_schema),
        "programme": Format(programme_schema),
        "tickets": Format(tickets_schema),
    }


def pages() -> dict[str, str]:
    """File name -> text of every schema and key table, as docs/ holds them."""
    found = {}
    for name, kind in formats().items():
        found[f"{name}.schema.json"] = schema_text(kind)
        if kind.keys is not None:
            found[f"{name}-keys.md"] = kind.keys()
    return found


def schema_text(kind: Format) -> str:
    """A schema as it is printed and written."""
    return json.dumps(kind.schema(), indent=1, ensure_ascii=False) + "\n"


def run(arguments: argparse.Namespace) -> int:
    """Print or write one schema or key table, or write them all. Exit code 2 where nothing can be written."""
    if arguments.all is not None:
        return _written({Path(arguments.all) / name: text for name, text in pages().items()})
    known = formats()
    name = arguments.format
    if name not in known:
        return _refused(f"there is no format {name!r}; known: {', '.join(known)}")
    kind = known[name]
    if arguments.keys and kind.keys is None:
        with_keys = ", ".join(each for each, other in known.items() if other.keys is not None)
        return _refused(f"{name} is written by wetfront and has no key tables; those that have: {with_keys}")
    text = kind.keys() if arguments.keys and kind.keys is not None else schema_text(kind)
    if arguments.out is None:
        print(text, end="")
        return 0
    return _written({Path(arguments.out): text})


def _written(texts: dict[Path, str]) -> int:
    for path, text in texts.items():
        try:
            write_atomically(path, text.encode())
        except CannotWrite as error:
            return _refused(error.message)
        print(f"{path} written")
    return 0


def _refused(message: str) -> int:
    print(f"wetfront schema: {message}", file=sys.stderr)
    return 2
