"""What several exposure classes ask of the concrete together: the strictest of each limit."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from wetfront.errors import InvalidInput
from wetfront.rules.book import rule
from wetfront.rules.model import Rule

Lookup = Callable[[str, str], Rule]
"""Book, name -> the rule; a project's lookup carries what its people confirmed."""

WATER_CEMENT, STRENGTH, CEMENT, AIR = (
    "water-cement-ratio",
    "strength-least",
    "cement-content-least",
    "air-content-least-for-exposure",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """The limits that exposure classes set together, each as the row that governs; None where no class sets one."""

    water_cement_ratio: Rule | None
    strength: Rule
    """Least characteristic cylinder strength [MPa]."""
    cement: Rule | None
    air: Rule | None


def composition(exposure_classes: Sequence[str], lookup: Lookup = rule) -> Composition:
    """Limits of EN 206 Table F.1 for concrete in all these exposure classes at once.

    InvalidInput `exposure_classes`: none given, or one that the table does not have.
    Source: EN 206:2013+A2:2021, Table F.1; the National Annex replaces it.
    """
    known = [cell.word for cell in lookup("en", STRENGTH).cells]
    if not exposure_classes:
        raise InvalidInput("exposure_classes", f"no exposure class is given; known: {', '.join(known)}")
    for each in exposure_classes:
        if each not in known:
            raise InvalidInput("exposure_classes", f"exposure class {each!r} is not known; known: {', '.join(known)}")
    strength = strictest(lookup("en", STRENGTH), exposure_classes)
    assert strength is not None  # every class has its row there
    return Composition(
        water_cement_ratio=strictest(lookup("en", WATER_CEMENT), exposure_classes),
        strength=strength,
        cement=strictest(lookup("en", CEMENT), exposure_classes),
        air=strictest(lookup("en", AIR), exposure_classes),
    )


def strictest(table: Rule, rows: Sequence[str]) -> Rule | None:
    """The row of a one-sided table that asks most; its title names every row that asks as much. None: no such row.

    Rows that the table lacks set no limit of this kind. Where rows ask the same, one from memory stands for all: what
    rests on memory is not hidden behind a row that was read.
    """
    found = [cell for cell in table.cells if cell.word in rows]
    if not found:
        return None
    least = all(cell.high is None for cell in found)
    limits = [cell.low if least else cell.high for cell in found]
    known = [limit for limit in limits if limit is not None]
    bound = max(known) if least else min(known)
    governing = [cell for cell, limit in zip(found, limits, strict=True) if limit == bound]
    words = [cell.word for cell in governing]
    picked = [table.at(word) for word in words]
    one = next((each for each in picked if each.rests_on_memory), picked[0])
    return replace(one, title=f"{table.title}, {table.by} {', '.join(words)}")


def strength_class_name(cylinder_mpa: float, lookup: Lookup = rule) -> str:
    """The name of the lowest strength class with at least this cylinder strength [MPa]; InvalidInput above the last."""
    for cell in lookup("en", "strength-classes-cylinder").cells:
        if cell.low is not None and cell.low >= cylinder_mpa - 1e-9:
            return cell.word
    raise InvalidInput("minimum_strength_class", f"no strength class has a cylinder strength of {cylinder_mpa:g} MPa")
