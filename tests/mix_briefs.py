"""Mix briefs for tests: the template's tree, with changes by key path."""

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, Mistakes, path_text
from wetfront.intake.mix_checks import check_brief
from wetfront.intake.template import brief_template
from wetfront.nouns.mix_brief import MixBrief

GONE: Any = object()
"""Takes a key away."""
TODAY = dt.date(2027, 5, 3)


def brief_tree(**changes: Any) -> dict[str, Any]:
    """The template's tree; `stone__moisture_percent=2` changes one key, GONE takes one away."""
    tree = tomllib.loads(brief_template("mix"))
    for path, value in changes.items():
        *tables, key = path.split("__")
        place = tree
        for table in tables:
            place = place.setdefault(table, {})
        if value is GONE:
            place.pop(key, None)
        else:
            place[key] = value
    return tree


def all_paths(tree: Any, above: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The path of every key and entry in a tree."""
    entries = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    return [path for key, value in entries for path in ((*above, key), *all_paths(value, (*above, key)))]


def put(tree: Any, path: tuple[str | int, ...], value: Any) -> None:
    """Set what stands at a path, where it still is."""
    try:
        for key in path[:-1]:
            tree = tree[key]
        if path[-1] in tree or isinstance(path[-1], int):
            tree[path[-1]] = value
    except (KeyError, IndexError, TypeError):
        return


def brief_and_mistakes(**changes: Any) -> tuple[MixBrief | None, list[str]]:
    """The brief, None where it is wrong, and the key paths of its mistakes."""
    mistakes = Mistakes()
    brief = table_of(MixBrief).check(brief_tree(**changes), (), mistakes)
    if brief is not BAD:
        check_brief(brief, mistakes, TODAY)
    return (None if mistakes.noted else brief), [path_text(mistake.path) for mistake in mistakes.noted]


def brief_of(**changes: Any) -> MixBrief:
    """A sound brief."""
    brief, wrong = brief_and_mistakes(**changes)
    assert brief is not None, wrong
    return brief


def written(folder: Path, text: str | None = None, name: str = "brief.toml") -> Path:
    """The template, or another text, as a file."""
    path = folder / name
    path.write_text(brief_template("mix") if text is None else text, encoding="utf-8")
    return path
