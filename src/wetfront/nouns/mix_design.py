"""A mix design as handed over: proportions by each method, their differences, the trial batch, the candidates."""

import datetime as dt
from dataclasses import dataclass

from wetfront.nouns.reason import Step

MIX_SCHEMA = 1
"""Raised when a key of mix.json changes its meaning or goes away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixLimit:
    """One limit that holds for the mix, and whose it is."""

    key: str
    value: float
    unit: str
    text: str
    """The limit in words."""
    source: str
    provenance: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialBatch:
    """What goes into the mixer, with the aggregates as they lie on the heap."""

    volume_l: float
    cement_kg: float
    water_to_add_kg: float
    """Below 0: the aggregates are too wet for this mix."""
    sand_kg: float
    stone_kg: float
    admixture_kg: float
    admixture_l: float
    free_water_in_aggregates_kg: float
    """Below 0 they drink water."""
    water_in_admixture_kg: float | None
    """Taken off the water to add; None where it does not count or the solids are not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodMix:
    """First trial proportions of 1 m³ by one method; aggregates saturated and surface-dry."""

    method: str
    title: str
    specimen: str
    specified_strength_mpa: float
    target_strength_mpa: float
    margin_from: str
    """What set the margin."""
    water_kg_per_m3: float
    cement_kg_per_m3: float
    water_cement_ratio: float
    ratio_for_strength: float
    """Before durability and least cement."""
    governed_by: str
    """strength, durability, least cement."""
    sand_kg_per_m3: float
    stone_kg_per_m3: float
    admixture_kg_per_m3: float
    air_content_percent: float
    """Counted in the volume."""
    sand_percent: float
    """Of the aggregate by mass."""
    fresh_density_kg_per_m3: float
    parts_volume_m3: float
    """Absolute volume of the parts with the air: the yield of these masses."""
    cost_cu_per_m3: float | None
    """None where a price is missing."""
    carbon_kg_co2e_per_m3: float | None
    """None where a factor is missing."""
    batch: TrialBatch
    notices: tuple[str, ...]
    why: tuple[Step, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTrial:
    """Proportions of 1 m³ worked out from what the trial batch gave; aggregates saturated and surface-dry."""

    yield_l: float
    """Of the trial batch."""
    designed_l: float
    water_found_kg_per_m3: float
    """Mixing water that the trial took."""
    water_kg_per_m3: float
    cement_kg_per_m3: float
    water_cement_ratio: float
    sand_kg_per_m3: float
    stone_kg_per_m3: float
    admixture_kg_per_m3: float
    air_content_percent: float
    fresh_density_kg_per_m3: float
    batch: TrialBatch
    notices: tuple[str, ...]
    why: tuple[Step, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodLeftOut:
    """A method that was asked for and cannot answer."""

    method: str
    title: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """What the methods differ in, and why."""

    what: str
    spread: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MixCandidate:
    """One candidate of the sweep; aggregates saturated and surface-dry."""

    stone: str
    cement: str
    admixture: str
    water_cement_ratio: float
    sand_percent: float
    """Of all aggregate by absolute volume."""
    water_kg_per_m3: float
    cement_kg_per_m3: float
    sand_kg_per_m3: float
    stone_kg_per_m3: float
    admixture_kg_per_m3: float
    cost_cu_per_m3: float | None
    carbon_kg_co2e_per_m3: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedCandidates:
    """How many candidates one limit refuses; a candidate may break several."""

    limit: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepFound:
    """What came of the candidates."""

    candidates_count: int
    feasible_count: int
    refused: tuple[RefusedCandidates, ...]
    cheapest: MixCandidate | None
    """None where no candidate holds all limits, or a price is missing."""
    least_carbon: MixCandidate | None
    frontier: tuple[MixCandidate, ...]
    """From the cheapest on: each at less carbon than all that cost less or the same."""
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MixDesign:
    """All that `wetfront mix` found."""

    schema: int
    program: str
    title: str
    project: str
    date: dt.date
    invented: bool
    currency: str
    target: str
    """In words."""
    volume_m3: float | None
    limits: tuple[MixLimit, ...]
    not_checked: tuple[str, ...]
    methods: tuple[MethodMix, ...]
    left_out: tuple[MethodLeftOut, ...]
    batched: str
    """Method whose trial batch is printed large."""
    batched_because: str
    next_trial: NextTrial | None
    """None without the result of a trial, or where none can be worked out from it."""
    differences: tuple[Difference, ...]
    sweep: SweepFound | None
    cautions: tuple[str, ...]
    from_memory: tuple[str, ...]
    """Sources of figures that nobody has read in the standard yet."""
    inputs: tuple[tuple[str, str], ...]
    """File and SHA-256."""
