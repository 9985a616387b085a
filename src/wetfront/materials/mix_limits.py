"""The limits that hold for a mix: by exposure from the rule books, and the project's own. The strictest governs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from wetfront.errors import InvalidInput
from wetfront.materials.stone_sizes import metric_step_below
from wetfront.nouns.mix_brief import MixBrief, MixTarget
from wetfront.nouns.mix_design import MixLimit
from wetfront.nouns.reason import Provenance
from wetfront.rules import Rule, composition, rule, with_confirmations
from wetfront.rules.exposure import Lookup, strictest
from wetfront.rules.model import limit_in_words

RATIO, LEAST_CEMENT, MOST_CEMENT = "water-cement-ratio", "cement-content-least", "cement-content-most"
_NAMES = {
    "water-cement-ratio": "w/c",
    "cement-content-least": "cement",
    "cement-content-most": "cement",
    "cylinder-strength": "cylinder strength",
    "cube-strength": "cube strength",
    "air-content": "air",
}
_AMERICAN = ("water-cement-ratio", "water-cement-ratio-durability")
CYLINDER, CUBE, AIR = "cylinder-strength", "cube-strength", "air-content"


@dataclass(frozen=True, slots=True, kw_only=True)
class MixLimits:
    """Every limit, and which of them governs."""

    listed: tuple[MixLimit, ...]

    def governing(self, key: str) -> MixLimit | None:
        """The strictest limit of this kind, None where nobody sets one."""
        found = [limit for limit in self.listed if limit.key == key]
        upper = key in (RATIO, MOST_CEMENT)
        return min(found, key=lambda limit: limit.value if upper else -limit.value, default=None)

    def value(self, key: str) -> float | None:
        """The strictest value of this kind."""
        limit = self.governing(key)
        return None if limit is None else limit.value


def rules_of(brief: MixBrief) -> Lookup:
    """Book, name -> the rule with what the brief's people looked up in its standard."""

    def found(book: str, name: str) -> Rule:
        return with_confirmations(rule(book, name), [seen for seen in brief.confirmed if seen.book == book])

    return found


def mix_limits(target: MixTarget, stone_size_mm: float, lookup: Lookup = rule) -> MixLimits:
    """The limits by EN 206, IS 456, ACI 318 and 211.1 for the exposures that the target names, and the project's own.

    InvalidInput names exposure_classes or exposure_aci where a class is not in the books.
    """
    listed: list[MixLimit] = []
    if target.exposure_classes:
        found = composition(target.exposure_classes, lookup)
        listed += _of(RATIO, found.water_cement_ratio)
        listed += _of(LEAST_CEMENT, found.cement)
        listed += _of(CYLINDER, found.strength)
        listed += _of(AIR, found.air)
    if target.exposure_is_456 is not None:
        listed += _indian(target, stone_size_mm, lookup)
    if target.exposure_aci:
        listed += _american(target.exposure_aci, lookup)
    for key, value, unit in (
        (RATIO, target.maximum_water_cement_ratio, "ratio"),
        (LEAST_CEMENT, target.minimum_cement_kg_per_m3, "kg/m³"),
        (MOST_CEMENT, target.maximum_cement_kg_per_m3, "kg/m³"),
    ):
        if value is not None:
            upper = key in (RATIO, MOST_CEMENT)
            words = f"{_NAMES[key]} {limit_in_words(None if upper else value, value if upper else None, unit)}"
            listed.append(
                MixLimit(
                    key=key,
                    value=value,
                    unit="1" if unit == "ratio" else unit,
                    text=words,
                    source="the project's own limit",
                    provenance=str(Provenance.INPUT),
                )
            )
    return MixLimits(listed=tuple(listed))


def _of(key: str, found: Rule | None) -> list[MixLimit]:
    if found is None:
        return []
    value = found.low if found.high is None else found.high
    if value is None:
        return []
    whole = rule(found.book, found.name).title
    return [
        MixLimit(
            key=key,
            value=value,
            unit="1" if found.unit == "ratio" else found.unit,
            text=f"{_NAMES[key]} {found.limit} for {found.title.removeprefix(f'{whole}, ')}",
            source=found.citation,
            provenance=str(found.provenance),
        )
    ]


def _american(rows: Sequence[str], lookup: Lookup) -> list[MixLimit]:
    """The limits of ACI 318 and of ACI 211.1, each by its own rows."""
    tables = [lookup("aci", name) for name in _AMERICAN]
    known = [cell.word for table in tables for cell in table.cells]
    for row in rows:
        if row not in known:
            raise InvalidInput("exposure_aci", f"exposure {row!r} is not known; known: {'; '.join(known)}")
    return [limit for table in tables for limit in _of(RATIO, strictest(table, rows))]


def _indian(target: MixTarget, stone_size_mm: float, lookup: Lookup) -> list[MixLimit]:
    exposure = target.exposure_is_456
    plain = "-plain" if target.concrete_kind == "plain" else ""
    ratio, cement, grade = (
        strictest(lookup("is", f"{name}{plain}"), [str(exposure)])
        for name in ("water-cement-ratio", "cement-content-least", "grade-least")
    )
    change = lookup("is", "cement-content-for-size").at(f"{metric_step_below(stone_size_mm):g} mm")
    limits = [*_of(RATIO, ratio), *_of(CUBE, grade)]
    for limit in _of(LEAST_CEMENT, cement):
        if not change.low:
            limits.append(limit)
            continue
        value = limit.value + change.low
        text = f"{limit.text}, {change.low:+g} for the aggregate's size: {value:g} kg/m³"
        source, provenance = f"{limit.source}; {change.citation}", str(change.provenance)
        limits.append(replace(limit, value=value, text=text, source=source, provenance=provenance))
    return limits
