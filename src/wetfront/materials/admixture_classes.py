"""Which class of admixture a condition on site asks for, and what it may do to water and setting.

The data stand in `admixtures.toml`, each value with how it is known. Nothing here chooses a product: the producer does,
after a trial.
"""

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.mix import Mix, MixOption
from wetfront.nouns.reason import Provenance, Source

FIRST = (
    "Trial mix and the supplier's written consent first.",
    "Never mix two products without a compatibility statement.",
    "EN 934-2 limits are tests at the declared dose, not predictions for the site's mix.",
)
LEAST_FACTOR = 0.2
"""Under this no setting-time factor is proposed: the class's range says nothing for such a mix (own rule)."""
_PROVENANCE = {
    "published": Provenance.PUBLISHED,
    "memory": Provenance.MEMORY,
    "common practice": Provenance.COMMON_PRACTICE,
    "own rule": Provenance.OWN_RULE,
}


@dataclass(frozen=True, slots=True)
class Span:
    """A range of one figure, with how it is known."""

    low: float
    high: float
    provenance: Provenance
    citation: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence, with how it is known."""

    text: str
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class AdmixtureClass:
    """One class of the standards."""

    id: str
    title: str
    standards: str
    conditions: tuple[str, ...]
    dose_percent: Span | None
    initial_set_later_min: Span | None
    water_reduction_percent: Span | None
    delays_setting: bool
    effects: tuple[Said, ...]
    cautions: tuple[Said, ...]


@cache
def admixture_classes() -> dict[str, AdmixtureClass]:
    """Every class by its id."""
    text = files("wetfront.materials").joinpath("admixtures.toml").read_text(encoding="utf-8")
    return {entry["id"]: _class(entry) for entry in tomllib.loads(text)["class"]}


def _class(entry: dict[str, Any]) -> AdmixtureClass:
    return AdmixtureClass(
        id=entry["id"],
        title=entry["title"],
        standards=", ".join(part for part in (entry["en"], entry["astm"]) if part),
        conditions=tuple(entry["conditions"]),
        dose_percent=_span(entry.get("dose_percent")),
        initial_set_later_min=_span(entry.get("initial_set_later_min")),
        water_reduction_percent=_span(entry.get("water_reduction_percent")),
        delays_setting=entry.get("delays_setting", False),
        effects=tuple(Said(each["text"], _PROVENANCE[each["provenance"]]) for each in entry["effects"]),
        cautions=tuple(Said(each["text"], _PROVENANCE[each["provenance"]]) for each in entry["cautions"]),
    )


def _span(entry: dict[str, Any] | None) -> Span | None:
    if entry is None:
        return None
    low, high = float(entry["low"]), float(entry["high"])
    if low > high:
        raise ValueError(f"admixtures.toml: {low} to {high} does not rise")
    return Span(low, high, _PROVENANCE[entry["provenance"]], entry.get("source", ""))


def conditions() -> tuple[str, ...]:
    """Every condition that a class answers."""
    return tuple(dict.fromkeys(word for each in admixture_classes().values() for word in each.conditions))


def classes_for(condition: str) -> tuple[AdmixtureClass, ...]:
    """The classes that a condition on site asks for. InvalidInput for a condition that is not known."""
    if condition not in conditions():
        raise InvalidInput("condition", f"condition {condition!r} is not known; known: {', '.join(conditions())}")
    return tuple(each for each in admixture_classes().values() if condition in each.conditions)


@dataclass(frozen=True, slots=True)
class SetProposal:
    """What a class may do to the setting of one mix; a proposal, never a promise."""

    factor: float
    """Setting time over that without it, at the end of the range that is cautious for joints."""
    factor_high: float
    """At the other end: for the finishers' hours and the form."""
    source: Source


def set_proposal(admixture: str, initial_set_h: float) -> SetProposal | None:
    """None where the class tells nothing of setting. OutOfRange where the mix sets too fast for the class's range."""
    span = admixture_classes()[admixture].initial_set_later_min
    if span is None:
        return None
    low, high = (1 + minutes / 60 / initial_set_h for minutes in (span.low, span.high))
    if low < LEAST_FACTOR:
        raise OutOfRange(
            "set_time_factor", low, f"from {LEAST_FACTOR:g}: give the producer's own figure", "the class's range"
        )
    return SetProposal(low, high, Source(f"{span.citation}, limits of initial set", span.provenance))


def is_proposed(option: MixOption) -> bool:
    """The option names a class and leaves its effect on setting to the proposal."""
    return option.admixture is not None and option.set_time_factor is None


def with_proposal(option: MixOption, mix: Mix) -> MixOption:
    """The option with the proposed factor on setting where it leaves it open; a class that retards always retards."""
    if option.admixture is None:
        return option
    factor = option.set_time_factor
    if factor is None:
        found = set_proposal(option.admixture, mix.initial_set_at_20c_h)
        factor = found.factor if found else None
    delays = option.delays_setting or admixture_classes()[option.admixture].delays_setting
    return replace(option, set_time_factor=factor, delays_setting=delays)


def proposal_words(option: MixOption, mix: Mix) -> str:
    """What is proposed for this option and on what it rests; empty where the sheet gives the producer's figures."""
    if not is_proposed(option) or option.admixture is None:
        return ""
    each = admixture_classes()[option.admixture]
    found = set_proposal(each.id, mix.initial_set_at_20c_h)
    parts = []
    if found is not None:
        parts.append(
            f"setting time × {found.factor:.2f} to {found.factor_high:.2f}, planned with {found.factor:.2f} "
            f"({found.source.provenance}: {found.source.citation})"
        )
    if each.water_reduction_percent is not None:
        span = each.water_reduction_percent
        parts.append(f"{span.low:g} to {span.high:g} % less water, not counted in the plan ({span.provenance})")
    if option.dose_percent is not None and each.dose_percent is not None:
        span = each.dose_percent
        if not span.low <= option.dose_percent <= span.high:
            parts.append(
                f"dose {option.dose_percent:g} % is outside the guide of {span.low:g} to {span.high:g} % "
                f"({span.provenance})"
            )
    told = "; ".join(parts) or "no effect on setting is known for it"
    return f"{each.title} ({each.standards}): proposed only, ask the producer and make a trial mix: {told}"
