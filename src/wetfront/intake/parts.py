"""A sheet's tables after their own check, sound entries kept even where their neighbours are not."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, ListKind, Mistakes, NamedKind
from wetfront.nouns.sheet import PourSheet


@dataclass(slots=True)
class Parts:
    """The top-level keys by name, BAD where one failed, and beside them the sound entries of each list."""

    values: dict[str, Any]
    raw: Mapping[str, Any]
    sound: dict[str, list[tuple[int | str, Any]]] = field(default_factory=dict)

    def whole(self, key: str) -> Any:
        """The checked value, or None where it is missing or wrong."""
        value = self.values.get(key)
        return None if value is BAD else value

    def entries(self, key: str) -> Iterator[tuple[Any, Any]]:
        """(place, entry) of the sound entries of a list or of a table of names."""
        yield from self.sound.get(key, [])

    def ids(self, key: str) -> set[str]:
        """Every id written in the sheet, those of unsound entries as well: who names one of them is not wrong."""
        raw = self.raw.get(key)
        if isinstance(raw, Mapping):
            return {str(name) for name in raw}
        if not isinstance(raw, list):
            return set()
        return {entry["id"] for entry in raw if isinstance(entry, Mapping) and isinstance(entry.get("id"), str)}


def checked_parts(tree: Mapping[str, Any], mistakes: Mistakes) -> Parts:
    """Check each top-level key by itself."""
    known = table_of(PourSheet)
    parts = Parts(values=known.check_fields(tree, (), mistakes), raw=tree)
    for key, entry in known.fields.items():
        value = parts.values.get(key)
        if isinstance(entry.kind, ListKind | NamedKind) and value is not None:
            parts.sound[key] = _sound(entry.kind, value, tree.get(key), key)
    return parts


def _sound(kind: ListKind | NamedKind, value: Any, raw: Any, key: str) -> list[tuple[int | str, Any]]:
    """The entries that hold; entries of a failed list are looked at once more, their mistakes have been noted."""
    if value is not BAD:
        return list(value.items()) if isinstance(value, Mapping) else list(enumerate(value))
    found: list[tuple[int | str, Any]] = []
    if isinstance(kind, ListKind):
        pairs = list(enumerate(raw)) if isinstance(raw, list) and len(raw) <= kind.most else []
    else:
        pairs = list(raw.items()) if isinstance(raw, Mapping) else []
    for place, entry in pairs:
        checked = kind.each.check(entry, (key, place), Mistakes())
        if checked is not BAD:
            found.append((place, checked))
    return found
