"""What a key of a sheet may hold, in words, and the check of one value against it.

Mistakes are gathered, never raised, so that a sheet is told all of them at once.
"""

import datetime as dt
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from wetfront.errors import WetfrontError
from wetfront.quantities import from_text, suffix_of

Path = tuple[str | int, ...]
BAD: Any = object()
"""Stands for a value that a mistake has been noted for."""
REQUIRED: Any = object()
"""Marks a key that has no default."""
LARGEST_NUMBER = 1e9
"""No key of a sheet needs a larger number; it keeps sums and squares finite."""
MOST_ENTRIES = 2_000
LONGEST_LINE = 400
"""Longer texts may go over several lines."""

_UNIT_WORDS = {
    "_kg_per_m2_h": "kg/m²h",
    "_m3_per_h": "m³/h",
    "_m2_per_h": "m²/h",
    "_mm_per_h": "mm/h",
    "_m_per_h": "m/h",
    "_m_per_s": "m/s",
    "_kn_per_m2": "kN/m²",
    "_kn_per_m3": "kN/m³",
    "_kg_per_m3": "kg/m³",
    "_cu_per_m3": "cu/m³",
    "_cu_per_t": "cu/t",
    "_kg_co2e_per_kg": "kg CO2e/kg",
    "_mpa": "MPa",
    "_cu_per_m2": "cu/m²",
    "_cu_per_h": "cu/h",
    "_cu_per_min": "cu/min",
    "_j_per_mol": "J/mol",
    "_percent": "%",
    "_percent_per_day": "% a day",
    "_deg": "°",
    "_db": "dB",
    "_kv": "kV",
    "_kn": "kN",
    "_km": "km",
    "_mm": "mm",
    "_l": "l",
    "_m3": "m³",
    "_m2": "m²",
    "_min": "min",
    "_m": "m",
    "_h": "h",
    "_d": "d",
    "_c": "°C",
    "_cu": "cu",
}


def unit_of(key: str) -> str:
    """The unit that a key ends in, as it is printed; empty where it has none."""
    endings = [ending for ending in _UNIT_WORDS if key.endswith(ending)]
    return _UNIT_WORDS[max(endings, key=len)] if endings else ""


def path_text(path: Path) -> str:
    """A key path as a person would write it: element[2].thickness_mm, counted from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += ("." if text else "") + (part if part.isprintable() and len(part) <= 60 else shown(part))
    return text


def shown(value: object) -> str:
    """A found value in few words."""
    match value:
        case bool():
            return "true" if value else "false"
        case Mapping():
            return "a table"
        case list():
            return f"a list of {len(value)}"
        case str():
            return repr(value if len(value) <= 60 else value[:57] + "...")
        case float():
            return f"{value:g}" if math.isfinite(value) else "not a number" if math.isnan(value) else "infinity"
        case int():
            return str(value) if abs(value) < 10**30 else "a whole number of more than 30 digits"
        case dt.date() | dt.time():
            return value.isoformat()
    return type(value).__name__


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake by its key path; the reader adds file and line."""

    path: Path
    found: str
    allowed: str
    nearest: str | None = None


@dataclass(slots=True)
class Mistakes:
    """The mistakes found so far."""

    noted: list[Mistake] = field(default_factory=list)

    def add(self, path: Path, found: str, allowed: str, nearest: str | None = None) -> Any:
        """Note a mistake; returns BAD, so that a check can end with it."""
        self.noted.append(Mistake(path, found, allowed, nearest))
        return BAD


def _near(word: object, known: Any) -> str | None:
    found = get_close_matches(str(word), [str(option) for option in known], n=1)
    return found[0] if found else None


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberKind:
    """A finite number between bounds; a string with a unit is converted to the unit of `unit_key`."""

    unit_key: str
    low: float | None = None
    high: float | None = None
    above: float | None = None
    below: float | None = None
    whole: bool = False

    @property
    def allowed(self) -> str:
        bounds = [
            f"{sign} {_plain(bound)}"
            for sign, bound in (("over", self.above), ("from", self.low), ("under", self.below), ("to", self.high))
            if bound is not None
        ]
        words = ["a whole number" if self.whole else "a number", *bounds, unit_of(self.unit_key)]
        return " ".join(word for word in words if word)

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        given = value
        if isinstance(value, str):
            if len(value) > 40 or not suffix_of(self.unit_key):
                return mistakes.add(path, shown(given), self.allowed)
            try:
                value = from_text(self.unit_key, value)
            except WetfrontError as error:
                return mistakes.add(path, shown(given), f"{self.allowed}{self._unit_hint} ({error.message})")
        if isinstance(value, bool) or not isinstance(value, int | float):
            return mistakes.add(path, shown(given), self.allowed)
        if not abs(value) <= LARGEST_NUMBER or (self.whole and value != int(value)) or self._outside(value):
            return mistakes.add(path, shown(given), self.allowed)
        return int(value) if self.whole else float(value)

    @property
    def _unit_hint(self) -> str:
        return ", or text with a unit" if suffix_of(self.unit_key) else ""

    def _outside(self, value: float) -> bool:
        return (
            (self.low is not None and value < self.low)
            or (self.high is not None and value > self.high)
            or (self.above is not None and value <= self.above)
            or (self.below is not None and value >= self.below)
        )


def _plain(number: float) -> str:
    return str(int(number)) if number == int(number) else repr(number)


_CONTROLS = re.compile("[\\x00-\\x1f\\x7f-\\x9f\\u2028\\u2029\\u202a-\\u202e\\u2066-\\u2069]")
"""Control characters, and those that turn the direction of writing, so that a name reads as another one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TextKind:
    """A text of limited length, without control characters."""

    shortest: int = 0
    longest: int = 2000

    @property
    def allowed(self) -> str:
        return f"text of {self.shortest} to {self.longest} characters"

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        if not isinstance(value, str):
            return mistakes.add(path, shown(value), self.allowed)
        if self.shortest and value and not value.strip():
            return mistakes.add(path, "nothing but spaces", self.allowed)
        if not self.shortest <= len(value.strip() if self.shortest else value) or len(value) > self.longest:
            return mistakes.add(path, shown(value), self.allowed)
        written = value.replace("\n", "") if self.longest > LONGEST_LINE else value
        if _CONTROLS.search(written):
            return mistakes.add(path, "control characters", self.allowed)
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceKind:
    """One of a closed list of words (or one number)."""

    options: tuple[str | int, ...]

    @property
    def allowed(self) -> str:
        head = "" if len(self.options) == 1 else "one of "
        return head + ", ".join(str(option) for option in self.options)

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        for option in self.options:
            if type(value) is type(option) and value == option:
                return option
        return mistakes.add(path, shown(value), self.allowed, _near(value, self.options))


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagKind:
    """True or false."""

    allowed: str = "true or false"

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        return value if isinstance(value, bool) else mistakes.add(path, shown(value), self.allowed)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateKind:
    """A calendar day of this century."""

    allowed: str = "a date from 2000 to 2099, such as 2027-06-17"

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        given = value
        if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value):
            try:
                value = dt.date.fromisoformat(value)
            except ValueError:
                value = None
        if isinstance(value, dt.datetime) or not isinstance(value, dt.date) or not 2000 <= value.year < 2100:
            return mistakes.add(path, shown(given), self.allowed)
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeKind:
    """A time of day, local."""

    allowed: str = 'a time of day such as "07:20"'

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        given = value
        if isinstance(value, str) and re.fullmatch(r"\d\d:\d\d(:\d\d)?", value):
            try:
                value = dt.time.fromisoformat(value)
            except ValueError:
                value = None
        if not isinstance(value, dt.time):
            return mistakes.add(path, shown(given), self.allowed)
        return value.replace(microsecond=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class MomentKind:
    """A day and time with its offset from UTC."""

    allowed: str = "a date and time with offset such as 2027-06-14T12:00:00+01:00"

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        given = value
        if isinstance(value, str) and len(value) <= 40:
            try:
                value = dt.datetime.fromisoformat(value)
            except ValueError:
                value = None
        if not isinstance(value, dt.datetime) or value.tzinfo is None or not 2000 <= value.year < 2100:
            return mistakes.add(path, shown(given), self.allowed)
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class ListKind:
    """A list, each entry of the same kind."""

    each: "Kind"
    least: int = 0
    most: int = MOST_ENTRIES

    @property
    def allowed(self) -> str:
        if isinstance(self.each, TableKind | OneOfKind):
            count = "at least one entry" if self.least else "any number of entries"
        else:
            count = f"{self.least} to {self.most} entries" if self.least else f"at most {self.most} entries"
        return f"a list of {count}, each {self.each.allowed}"

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            return mistakes.add(path, shown(value), self.allowed)
        entries = tuple(self.each.check(entry, (*path, place), mistakes) for place, entry in enumerate(value))
        return BAD if any(entry is BAD for entry in entries) else entries


@dataclass(frozen=True, slots=True, kw_only=True)
class RowKind:
    """A list of a fixed length, such as a point or a pair of limits."""

    each: tuple["Kind", ...]

    @property
    def allowed(self) -> str:
        return f"a list of {len(self.each)}: " + "; ".join(kind.allowed for kind in self.each)

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        if not isinstance(value, list) or len(value) != len(self.each):
            return mistakes.add(path, shown(value), self.allowed)
        pairs = enumerate(zip(self.each, value, strict=True))
        entries = tuple(kind.check(entry, (*path, place), mistakes) for place, (kind, entry) in pairs)
        return BAD if any(entry is BAD for entry in entries) else entries


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One key of a table."""

    kind: "Kind"
    default: Any
    """REQUIRED where the key must be given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """A table with known keys: one of the nouns."""

    noun: Any
    fields: Mapping[str, Field]

    @property
    def allowed(self) -> str:
        needed = [key for key, entry in self.fields.items() if entry.default is REQUIRED]
        return "a table with at least the keys " + ", ".join(needed) if needed else "a table"

    def check_fields(self, value: object, path: Path, mistakes: Mistakes) -> dict[str, Any]:
        """Each field's value or BAD; a table that is none gives an empty dict."""
        if not isinstance(value, Mapping):
            mistakes.add(path, shown(value), self.allowed)
            return {}
        for key in value:
            if key not in self.fields:
                near = _near(key, self.fields)
                known = "a key of this table" if near else f"one of {', '.join(self.fields)}"
                mistakes.add((*path, key), "an unknown key", known, near)
        checked: dict[str, Any] = {}
        for key, entry in self.fields.items():
            if key in value:
                checked[key] = entry.kind.check(value[key], (*path, key), mistakes)
            elif entry.default is REQUIRED:
                checked[key] = mistakes.add((*path, key), "nothing", entry.kind.allowed)
        return checked

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        before = len(mistakes.noted)
        checked = self.check_fields(value, path, mistakes)
        return BAD if len(mistakes.noted) > before else self.noun(**checked)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedKind:
    """A table of entries under names of the user's own."""

    each: "Kind"

    @property
    def allowed(self) -> str:
        return f"a table of names, each naming {self.each.allowed}"

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        if not isinstance(value, Mapping) or not 1 <= len(value) <= MOST_ENTRIES:
            return mistakes.add(path, shown(value) if value else "an empty table", self.allowed)
        name = TextKind(shortest=1, longest=60)
        entries = {
            key: BAD
            if name.check(key, (*path, key), mistakes) is BAD
            else self.each.check(entry, (*path, key), mistakes)
            for key, entry in value.items()
        }
        return BAD if any(entry is BAD for entry in entries.values()) else entries


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeKind:
    """A table of plain values that somebody else knows the meaning of: finite numbers, text, lists and tables."""

    allowed: str = "a table of finite numbers, texts, lists and tables, at most 20 deep"

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        if not isinstance(value, Mapping) or not _is_plain(value, 20):
            return mistakes.add(path, shown(value), self.allowed)
        return value


def _is_plain(value: object, depth: int) -> bool:
    match value:
        case None | bool() | int() | str():
            return True
        case float():
            return math.isfinite(value)
        case list():
            return depth > 0 and all(_is_plain(each, depth - 1) for each in value)
        case Mapping():
            inside = (isinstance(key, str) and _is_plain(each, depth - 1) for key, each in value.items())
            return depth > 0 and all(inside)
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class OneOfKind:
    """One of several tables, told apart by a key."""

    tag: str
    options: Mapping[str, TableKind]

    @property
    def allowed(self) -> str:
        return f"a table whose {self.tag} is one of " + ", ".join(self.options)

    def check(self, value: object, path: Path, mistakes: Mistakes) -> Any:
        if not isinstance(value, Mapping):
            return mistakes.add(path, shown(value), self.allowed)
        word = value.get(self.tag)
        if not isinstance(word, str) or word not in self.options:
            found = shown(word) if self.tag in value else "nothing"
            near = _near(word, self.options) if self.tag in value else None
            return mistakes.add((*path, self.tag), found, "one of " + ", ".join(self.options), near)
        return self.options[word].check(value, path, mistakes)


Kind = (
    NumberKind
    | TextKind
    | ChoiceKind
    | FlagKind
    | DateKind
    | TimeKind
    | MomentKind
    | ListKind
    | RowKind
    | TableKind
    | NamedKind
    | FreeKind
    | OneOfKind
)
