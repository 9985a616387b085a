"""Example sheets for the tests, as parsed trees that can be changed and written again."""

import copy
import datetime as dt
import json
import tomllib
from pathlib import Path
from typing import Any

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
NAMES = ("slab", "wall", "raft")


def tree_of(name: str) -> dict[str, Any]:
    """One sheet with its site merged in and no files beside it."""
    tree = tomllib.loads((TARNWICK / f"{name}.toml").read_text(encoding="utf-8"))
    site = tomllib.loads((TARNWICK / "site.toml").read_text(encoding="utf-8"))
    whole = {**site, **tree}
    for key in ("site", "weather", "readiness"):
        whole.pop(key, None)
    return copy.deepcopy(whole)


def as_toml(value: Any, *, top: bool = True) -> str:
    """A tree as TOML, tables inline. None and other foreign things are written as text that TOML refuses."""
    if top:
        return "".join(f"{_key(key)} = {as_toml(entry, top=False)}\n" for key, entry in value.items())
    match value:
        case bool():
            return "true" if value else "false"
        case dict():
            return "{" + ", ".join(f"{_key(key)} = {as_toml(entry, top=False)}" for key, entry in value.items()) + "}"
        case list() | tuple():
            return "[" + ", ".join(as_toml(entry, top=False) for entry in value) + "]"
        case str():
            return _text(value)
        case dt.date() | dt.time():
            return value.isoformat()
    return repr(value)


def _key(key: str) -> str:
    return _text(key)


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=True).replace("\x7f", "\\u007f")


def as_json(value: Any) -> Any:
    """A tree as a JSON validator sees it: dates and times as text."""
    if isinstance(value, dict):
        return {key: as_json(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [as_json(entry) for entry in value]
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


def written(folder: Path, tree: dict[str, Any], name: str = "pour.toml") -> Path:
    """The tree as a sheet in `folder`."""
    path = folder / name
    path.write_text(as_toml(tree), encoding="utf-8")
    return path
