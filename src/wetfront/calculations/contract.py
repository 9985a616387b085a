"""What a calculation promises: its keys with units and ranges, and the one border check of its inputs."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Answer, Source

REQUIRED: Any = object()
"""Marks a key that has no default."""
_LARGEST_INTEGER = 10**300
"""JSON allows integers that no float can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A finite number between bounds. `above` and `below` exclude the bound, `low` and `high` include it."""

    key: str
    meaning: str
    unit: str
    low: float | None = None
    high: float | None = None
    above: float | None = None
    below: float | None = None
    whole: bool = False
    default: Any = REQUIRED

    @property
    def allowed(self) -> str:
        """The range in words."""
        bounds = [
            f"{sign} {bound:g}"
            for sign, bound in (("over", self.above), ("from", self.low), ("under", self.below), ("to", self.high))
            if bound is not None
        ]
        kind = "a whole number" if self.whole else "a number"
        unit = f" {self.unit}" if self.unit and self.unit != "1" else ""
        return f"{kind} {' '.join(bounds)}".strip() + unit

    def checked(self, value: object) -> Any:
        """The value as float (int for whole numbers), or InvalidInput."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InvalidInput(self.key, f"{self.key} is {value!r}; allowed is {self.allowed}")
        if isinstance(value, int) and abs(value) > _LARGEST_INTEGER:
            raise InvalidInput(self.key, f"{self.key} is far too large; allowed is {self.allowed}")
        if not math.isfinite(value) or (self.whole and value != int(value)):
            raise InvalidInput(self.key, f"{self.key} is {value}; allowed is {self.allowed}")
        outside = (
            (self.low is not None and value < self.low)
            or (self.high is not None and value > self.high)
            or (self.above is not None and value <= self.above)
            or (self.below is not None and value >= self.below)
        )
        if outside:
            raise InvalidInput(self.key, f"{self.key} is {value:g}; allowed is {self.allowed}")
        return int(value) if self.whole else float(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """A list of numbers, each checked like `each`."""

    key: str
    meaning: str
    each: Number
    least_count: int = 0
    most_count: int = 100_000
    default: Any = REQUIRED

    @property
    def allowed(self) -> str:
        """The length and the range in words."""
        return f"a list of {self.least_count} to {self.most_count} entries, each {self.each.allowed}"

    def checked(self, value: object) -> tuple[float, ...]:
        """The list as a tuple of floats, or InvalidInput."""
        if isinstance(value, str | bytes | Mapping) or not isinstance(value, Sequence):
            raise InvalidInput(self.key, f"{self.key} is {value!r}; allowed is {self.allowed}")
        if not self.least_count <= len(value) <= self.most_count:
            raise InvalidInput(self.key, f"{self.key} has {len(value)} entries; allowed is {self.allowed}")
        return tuple(self.each.checked(entry) for entry in value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One word of a closed list."""

    key: str
    meaning: str
    options: tuple[str, ...]
    default: Any = REQUIRED

    @property
    def allowed(self) -> str:
        """The list of words."""
        return "one of " + ", ".join(self.options)

    def checked(self, value: object) -> str:
        """The word, or InvalidInput with the nearest known one."""
        if not isinstance(value, str) or value not in self.options:
            near = get_close_matches(str(value), self.options, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise InvalidInput(self.key, f"{self.key} is {value!r}; allowed is {self.allowed}{hint}")
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One number of a closed list, such as a sieve size; nothing between two of them."""

    key: str
    meaning: str
    unit: str
    options: tuple[float, ...]
    default: Any = REQUIRED

    @property
    def allowed(self) -> str:
        """The list of numbers."""
        unit = f" {self.unit}" if self.unit and self.unit != "1" else ""
        return "one of " + ", ".join(f"{option:g}" for option in self.options) + unit

    def checked(self, value: object) -> float:
        """The number, or InvalidInput."""
        known = not isinstance(value, bool) and isinstance(value, int | float) and value in self.options
        if not known:
            raise InvalidInput(self.key, f"{self.key} is {value!r}; allowed is {self.allowed}")
        return next(option for option in self.options if option == value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """True or false."""

    key: str
    meaning: str
    default: Any = REQUIRED

    @property
    def allowed(self) -> str:
        """In words."""
        return "true or false"

    def checked(self, value: object) -> bool:
        """The flag, or InvalidInput."""
        if not isinstance(value, bool):
            raise InvalidInput(self.key, f"{self.key} is {value!r}; allowed is {self.allowed}")
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """A list of words of a closed list, in any order."""

    key: str
    meaning: str
    each: Choice
    least_count: int = 0
    most_count: int = 100
    default: Any = REQUIRED

    @property
    def allowed(self) -> str:
        """The length and the words."""
        return f"a list of {self.least_count} to {self.most_count} entries, each {self.each.allowed}"

    def checked(self, value: object) -> tuple[str, ...]:
        """The list as a tuple of words, or InvalidInput."""
        if isinstance(value, str | bytes | Mapping) or not isinstance(value, Sequence):
            raise InvalidInput(self.key, f"{self.key} is {value!r}; allowed is {self.allowed}")
        if not self.least_count <= len(value) <= self.most_count:
            raise InvalidInput(self.key, f"{self.key} has {len(value)} entries; allowed is {self.allowed}")
        return tuple(self.each.checked(entry) for entry in value)


Key = Number | Numbers | Choice | Choices | Size | Flag


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One key of the result."""

    key: str
    meaning: str
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculation:
    """A named calculation: contract, method and the function that answers."""

    name: str
    title: str
    method: str
    """What is done, in two or three sentences, for `--explain` and the method page."""
    source: Source
    inputs: tuple[Key, ...]
    outputs: tuple[Output, ...]
    answer: Callable[..., Answer]
    """Takes the checked inputs by key; a key with default None may be None."""

    def ask(self, inputs: object) -> Answer:
        """Check the inputs once and answer. InvalidInput names the key that is wrong."""
        if not isinstance(inputs, Mapping):
            raise InvalidInput("inputs", "the inputs are not one JSON object")
        known = {key.key: key for key in self.inputs}
        for given in inputs:
            if given not in known:
                near = get_close_matches(str(given), known, n=1)
                hint = f"; did you mean {near[0]}?" if near else ""
                raise InvalidInput(str(given), f"{given} is no input of {self.name}{hint}")
        checked: dict[str, Any] = {}
        for name, key in known.items():
            if inputs.get(name) is not None:
                checked[name] = key.checked(inputs[name])
            elif key.default is REQUIRED:
                raise InvalidInput(name, f"{name} is missing; allowed is {key.allowed}")
            else:
                checked[name] = key.default
        return self.answer(**checked)
