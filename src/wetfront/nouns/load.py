"""A delivered load: what was ordered, what the ticket says, what was done to it and tested on site.

Moments are all with a time zone, or all without; what nobody knows stays None and is never guessed.
"""

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

TicketEntry = Literal[
    "plant",
    "ticket-number",
    "loading-time",
    "truck",
    "purchaser",
    "site",
    "specification-reference",
    "volume",
    "conformity-declaration",
    "certification-body",
    "arrival-time",
    "unloading-start",
    "unloading-end",
    "strength-class",
    "exposure-classes",
    "chloride-class",
    "consistence",
    "maximum-aggregate-size",
]
"""What a ticket can carry, by EN 206."""
SampleKind = Literal["spot", "composite"]
TestName = Literal["slump", "flow", "slump-flow", "air", "temperature"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """The concrete that was ordered. What is empty or None was not specified and is not judged."""

    mix: str = ""
    """Code of the mix, as the ticket should print it."""
    strength_class: str = ""
    exposure_classes: tuple[str, ...] = ()
    chloride_class: str = ""
    consistence_class: str = ""
    target_slump_mm: float | None = None
    """Used where no class was ordered, or where the rule book knows no classes."""
    slump_is_maximum: bool = False
    """The target is a largest slump (ASTM C94)."""
    target_slump_flow_mm: float | None = None
    air_percent: float | None = None
    """The least air (European practice) or the target (American practice)."""
    maximum_aggregate_size_mm: float | None = None
    cementitious_kg_per_m3: float | None = None
    free_water_kg_per_m3: float | None = None
    """Free water of the mix as designed."""
    maximum_water_cement_ratio: float | None = None
    design_water_kg_per_m3: float | None = None
    """Most free water that the mix design allows, where it states one: a further cap on water added on site."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """What the delivery ticket says. Empty or None: not printed, or not read."""

    ticket_number: str
    volume_m3: float
    plant: str = ""
    truck: str = ""
    mix: str = ""
    entries: frozenset[TicketEntry] | None = None
    """Which entries the ticket carries; None where nobody has looked, and then completeness is not judged."""
    certified: bool = False
    designed_concrete: bool = True
    strength_class: str = ""
    exposure_classes: tuple[str, ...] = ()
    chloride_class: str = ""
    consistence_class: str = ""
    maximum_aggregate_size_mm: float | None = None
    batched: dt.datetime | None = None
    """Time of loading: first contact of cement and water, the start of the age."""
    left_plant: dt.datetime | None = None
    agreed_time_limit_min: float | None = None
    """Time limit agreed and printed: it replaces the rule book's, never the project's stricter one."""
    water_allowed_l: float | None = None
    """Most water that may be added on site to this load, as written on the ticket beforehand."""
    cementitious_kg_per_m3: float | None = None
    """As batched; None: as ordered."""
    free_water_kg_per_m3: float | None = None
    """As batched, with the free water of the aggregates and admixtures; None: as ordered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """Water or admixture put into the drum on site."""

    kind: Literal["water", "admixture"]
    amount_l: float
    product: str = ""
    at: dt.datetime | None = None
    asked_by: str = ""
    agreed_by: str = ""
    """Who agreed for the producer, who answers for the mix."""
    slump_before_mm: float | None = None
    discharged_before_m3: float = 0.0
    """How much was out of the drum already."""
    remixed_min: float | None = None
    remixed_turns_count: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FreshTests:
    """Tests of the load in its present state: after the last addition. `_check` is the second test on another portion
    of the same sample."""

    sample: SampleKind = "spot"
    slump_mm: float | None = None
    slump_check_mm: float | None = None
    flow_mm: float | None = None
    flow_check_mm: float | None = None
    slump_flow_mm: float | None = None
    slump_flow_check_mm: float | None = None
    air_percent: float | None = None
    air_check_percent: float | None = None
    concrete_temperature_c: float | None = None
    tested_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveredLoad:
    """One load as it stands on site."""

    ticket: Ticket
    arrived: dt.datetime | None = None
    discharge_start: dt.datetime | None = None
    discharge_end: dt.datetime | None = None
    discharged_m3: float = 0.0
    """Out of the drum so far."""
    drum_turns_count: int | None = None
    additions: tuple[Addition, ...] = ()
    """In their order."""
    tests: FreshTests = field(default_factory=FreshTests)
