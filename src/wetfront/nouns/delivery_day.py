"""What a file of delivery tickets says about the day: loads, queue, stops, edges, volumes, money.

Moments are local with offset. The report holds all that is printed; whoever renders it only subtracts and rounds.
"""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from wetfront.nouns.delivery import Reading, RowState

TICKETS_SCHEMA = 1
"""Raised when a key of tickets.json changes its meaning or goes away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Age:
    """From first contact of cement and water to the end of discharge."""

    min: float
    at_least: bool = False
    """True where the batching time is missing: counted from the first later time on the ticket."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterRatio:
    """Water/cement ratio of one load, from the mix as designed and the water added on site."""

    as_designed: float
    after_addition: float
    limit: float | None
    """The mix's own; None where the sheet gives none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadOfDay:
    """One load with its verdict and, beside it, the site's own decision."""

    ticket_number: str
    line: int
    state: RowState
    volume_m3: float
    truck: str
    batched: dt.datetime | None
    arrived: dt.datetime | None
    discharge_start: dt.datetime | None
    discharge_end: dt.datetime | None
    left_site: dt.datetime | None
    age: Age | None
    on_the_road_min: float | None
    on_site_min: float | None
    slump_mm: float | None
    slump_retest_mm: float | None
    concrete_temperature_c: float | None
    water_added_l: float
    admixture_added_l: float
    addition_agreed_by: str
    """Role of the producer that agreed to it, by the day log; empty where nobody is known to have."""
    water_ratio: WaterRatio | None
    """Only where water was added."""
    sample_id: str
    placed_in: str
    verdict: str
    """accept, check-test or refuse, by the limits in force."""
    verdict_held: bool
    """The load waits for a fact or a named person, not for a second test."""
    rests_on_memory: bool
    """A remembered limit bears on the verdict: check the standard."""
    verdict_reasons: tuple[str, ...]
    """What decided, with limit and whose limit; empty where everything is within."""
    verdict_limits: tuple[str, ...]
    """Every limit that the load was compared with."""
    not_judged: tuple[str, ...]
    decision: str
    """accept or refuse; empty where nobody has decided."""
    decided_by: str
    """Role that signed; empty where nobody has."""
    differs: bool
    """The site decided otherwise than the limits say."""
    in_words: str
    """Decision and verdict in the one line that may be shown."""
    remarks: str


class StopKind(StrEnum):
    """Why nothing was discharged for a while, as far as the tickets tell."""

    LATE_TRUCK = "late truck"
    NO_TRUCK = "no truck on site"
    BALANCE_LOAD = "waiting for the balance load"
    TRUCKS_WAITING = "trucks were waiting"
    PUMP_BLOCKED = "pump blocked"
    WITHIN_A_LOAD = "stop in the middle of a load"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A time without discharge that stands out: between two loads or in the middle of one."""

    kind: StopKind
    start: dt.datetime
    end: dt.datetime
    gap_min: float
    tickets: tuple[str, ...]
    """The late truck, the load that stood still, or the load that was waited for."""
    known_from: str
    """Where start and end come from: the tickets, a remark, the day log; or that they are not known."""
    exact: bool
    """False where only the length is known: start and end are then those of the whole discharge."""
    cost_cu: float
    """Pump and crew standing idle, by the prices of the sheet."""
    log: tuple[str, ...]
    """Lines of the day log in this time, a few minutes before and after included."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeWait:
    """How long the edge between two strips or layers waited, loads spread evenly over equal strips."""

    name: str
    longest_min: float
    since: dt.datetime
    """When the concrete that waited longest was placed."""
    temperature_c: float | None
    """Hottest measured in the older strip; where none was measured there, the hotter of the nearest tests around it."""
    temperature_from: str
    limit_min: float | None
    """The specification's at that temperature; None where it gives none."""
    within_limit: bool | None
    age_when_covered_min: float
    """Of the oldest concrete at the edge, from batching; a lower bound where its batching time is missing."""
    initial_set_min: float | None
    """From batching, at that temperature, by the shorter of two rules."""
    within_set: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class QueuePoint:
    """Trucks from this moment on."""

    at: dt.datetime
    on_site: int
    waiting: int
    """Arrived and not yet discharging."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Queue:
    """Trucks on site over the day."""

    points: tuple[QueuePoint, ...]
    most_on_site: int
    most_from: dt.datetime | None
    most_until: dt.datetime | None
    most_waiting: int
    over_places_min: float
    """How long more trucks waited than there are places."""
    waiting_places: int
    waiting_min: float
    """Arrival to leaving the site beyond the free minutes, summed over all loads."""
    free_min: float
    """For each load."""
    waiting_cu: float
    unknown: tuple[str, ...]
    """Tickets without arrival or leaving: they are not in these figures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingCheck:
    """Samples taken against the specification."""

    rule: str
    needed_count: int
    taken: tuple[tuple[str, str], ...]
    """Sample and ticket."""
    missing: tuple[str, ...]
    """Loads or parts of the volume without the sample that the rule asks for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumesOfDay:
    """Cubic metres of the day. Delivered = accepted + rejected + held."""

    net_m3: float
    need_m3: float
    """Net with wastage, extras and what stays in the line, before rounding to the call-off step."""
    order_m3: float
    loads_planned_count: int
    delivered_m3: float
    accepted_m3: float
    rejected_m3: float
    held_m3: float
    in_place_m3: float | None
    """By survey; None where none was given."""
    residue_m3: float | None
    """Accepted less in place: line, spill, samples, waste."""
    rejected_cu: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that a person should see. Rank 1 is the worst."""

    rank: int
    about: str
    text: str
    tickets: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryDay:
    """The deliveries of one pour."""

    pour: str
    title: str
    date: dt.date
    mix: str
    findings: tuple[Finding, ...]
    """The worst first."""
    volumes: VolumesOfDay
    loads: tuple[LoadOfDay, ...]
    """In the order of the file: as they arrived."""
    late: tuple[str, ...]
    road_not_judged: tuple[tuple[str, str], ...]
    """Ticket and its plant, where the sheet has no travel time for it; "" where the ticket names no plant."""
    out_of_order: tuple[str, ...]
    in_ban: tuple[str, ...]
    """Arrived while the sheet lets no truck arrive."""
    truck_clashes: tuple[tuple[str, str, str], ...]
    """Truck and two tickets that cannot both be its own: the later begins before the earlier has left the site."""
    oldest: tuple[str, ...]
    oldest_age_min: float | None
    age_limit_min: float
    age_limit_from: str
    age_unknown: tuple[str, ...]
    queue: Queue
    stops: tuple[Stop, ...]
    edges: tuple[EdgeWait, ...]
    edges_note: str
    """What the waits assume, or why none can be told."""
    sampling: SamplingCheck
    balance_call: str
    """What to call off now, from what was measured; empty where nothing was."""
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryReport:
    """tickets.json: how the file was read and what it says, pour by pour."""

    schema: int
    program: str
    project: str
    time_zone: str
    currency: str
    invented: bool
    reading: Reading
    other_rows_count: int
    """Rows of the file that belong to pours which are not reported here."""
    days: tuple[DeliveryDay, ...]
    delivered_m3: float
    net_m3: float
    inputs: tuple[tuple[str, str], ...]
    """Files that were read and the hash of their bytes."""
