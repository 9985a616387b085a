"""What no single key can tell: names that must meet, times that must fit, limits that must rise."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from wetfront.intake.kinds import BAD, Mistakes


@dataclass(slots=True)
class Parts:
    """The top-level keys after their own check (BAD where one failed), beside the raw tree for the names in it."""

    values: dict[str, Any]
    raw: Mapping[str, Any]

    def whole(self, key: str) -> Any:
        """The checked value, or None where it is missing or wrong."""
        value = self.values.get(key)
        return None if value is BAD else value


def cross_check(parts: Parts, mistakes: Mistakes) -> None:
    """Note every mistake between the parts that are sound in themselves."""
