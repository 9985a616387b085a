"""The board of a running pour: what the person at the edge needs next, made from plan, record and forecast.

Every deadline is an absolute local moment with offset, every duration stands on its own: a phone without signal only
adds and subtracts, and says how old its figures are. A band is (5 %, 50 %, 95 %) over the members of the forecast.
Nothing here says "safe": it says what was compared with what.
"""

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from wetfront.nouns.plan import Moments

BOARD_SCHEMA = 2
"""Raised when a key of the board changes its meaning or goes away."""
Phase = Literal["plan", "ready", "pour", "cure", "prove"]
LoadPhase = Literal["planned", "on the road", "waiting", "discharging", "placed", "refused", "held", "left"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A figure with its spread over the members: 5 %, 50 %, 95 %."""

    low: float
    usual: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The next decision. A caution about people comes before any number."""

    caution: str
    """What to say to everybody first, such as about the hose after a stop; empty where there is none."""
    text: str
    """What to do, in a few words: "Place strip 4 before 11:42"."""
    spoken: str
    """The same in at most eight words for the radio."""
    by: dt.datetime | None
    """Its deadline, where there is one."""
    reason: str
    """Why, in one sentence that says what was compared with what."""
    else_text: str
    """What else can be done, and what it costs or needs; empty where there is no choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckView:
    """One item of the check list as it stands."""

    item: str
    group: str
    title: str
    acceptance: str
    result: Literal["pass", "fail", "open", "action", "not-applicable"]
    measured: str
    unit: str
    by: str
    at: dt.datetime | None
    note: str
    photos: tuple[str, ...]
    """Hashes of photos about it."""
    hold_point: str
    """The hold point that it belongs to; empty for none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldView:
    """A hold point: who may release it, and whether they have."""

    id: str
    title: str
    released_by_role: str
    """The role that may release it."""
    state: Literal["open", "released", "overridden"]
    by: str
    at: dt.datetime | None
    why: str
    """Of an override."""
    before_placing: bool
    """While it is open nothing may be placed; False for one that comes later, such as a permit to strike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadView:
    """A load that has come, is on the road or is still to be called."""

    number: int
    """In the order of the pour, from 1."""
    ticket_number: str
    """Empty while it is only planned."""
    state: LoadPhase
    """"on the road": expected to have been batched by now, by the forecast; nobody has told it."""
    volume_m3: float
    arrives: Moments | None
    """Of a load that is not there yet: expected, nobody has seen it."""
    expected_by: Literal["", "forecast", "plan"]
    """Whose `arrives` it is: of the forecast's members, or of the plan's call-off, moved by how late the pour runs."""
    arrived: dt.datetime | None
    batched: dt.datetime | None
    too_old_at: dt.datetime | None
    """End of the time limit in force, by the limit that holds; None where the batching time is missing."""
    verdict: str
    """The acceptance function's line; empty where nothing has been judged."""
    rules_say: Literal["", "accept", "check-test", "refuse"]
    """Its outcome in one word, for what the app offers; empty where nothing has been judged."""
    lacks: tuple[str, ...] = ()
    """What stands on its ticket, was not written down and alone keeps it from being accepted: "batching time"."""
    decision: str
    """What a person decided, and who; empty where nobody has."""
    contested: bool
    place: str
    """Where it went, or is to go."""
    sample: str
    """Sample taken or due: "SL-3", "sample due"; empty for none."""
    cells: tuple[int, ...]
    """Where it went, or is to go, by `CellView.index`; empty where nobody knows."""
    water_left_l: float | None
    """Water that may still be added to this load on site; 0 for none, None where it cannot be told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitView:
    """A limit of a load in force, so that a device without signal can hold a reading against it."""

    quantity: Literal["slump", "flow", "slump-flow", "air", "temperature", "age"]
    """The tests of a load, and its age in minutes from batching to the end of discharge."""
    low: float | None
    high: float | None
    unit: str
    whose: str
    """Whose limit it is, with how it is known: "project specification", "EN 206, from memory: check the standard"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure of the plan, the curing or the proof that a person asks for by its question."""

    phase: Phase
    title: str
    """What it answers, in trade words: "Order", "Start", "Trucks"."""
    text: str
    """The answer with its unit; a moment stands in `at` instead."""
    at: dt.datetime | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CellView:
    """One cell of the lattice as it is drawn and tapped."""

    index: int
    element: str
    place: str
    """Strip, layer or form as the site calls it."""
    outline_m: tuple[tuple[float, float], ...]
    """In the plane of the drawing: plan for slabs, elevation for walls."""
    layer: int
    volume_m3: float
    state: Literal["open", "placed"]
    ticket_number: str
    placed_at: dt.datetime | None
    edge_open: bool
    """Placed, and a neighbour that it must be joined with is not."""
    join_by_specification: dt.datetime | None
    """The specification's minutes, for its load's temperature, have run out then."""
    join_by_setting: Moments | None
    """Its own concrete can no longer be joined then: by setting at its own temperature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeView:
    """A live edge: between what is placed and what comes beside it."""

    name: str
    """Such as "B1 to B2"."""
    cells: tuple[int, ...]
    """The placed cells along it, by `CellView.index`."""
    waits_since: dt.datetime
    join_by_specification: dt.datetime | None
    join_by_setting: Moments | None
    """None where no forecast reaches the day: nothing then says how fast it sets."""
    joined_at: Moments | None
    """When the forecast joins it; of an edge that has been joined: when it was."""
    closed: bool
    """It has been joined."""
    waited_min: float | None
    """Of a joined edge."""
    chance_over_specification: float
    chance_of_cold_joint: float
    by_forecast: bool
    """Setting, chances and joining are the forecast's. Else setting is by the board's own bounds, and the chances are
    the plan's, or what the clock has already settled."""
    text: str
    """In words; a departure from the specification is never called a cold joint, nor the other way round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FormView:
    """Pressure on a form now, against its own limit, and the rise that it still permits."""

    element: str
    rise_m_per_h: float
    """Highest over the last half hour."""
    permitted_rise_m_per_h: float | None
    pressure_kn_per_m2: float | None
    permitted_kn_per_m2: float
    method: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCutView:
    """When a joint can be sawn along a strip with one kind of saw. A trial cut decides."""

    joint: str
    """Its id in the sheet; empty where the sheet asks for saw cuts and names no joint for them."""
    method: Literal["conventional", "early-entry"]
    opens: Moments | None
    """None while a side of it is not placed, or where a rule does not hold: `text` says which."""
    closes: dt.datetime | None
    """To be cut by then, sooner where the slab begins to cool before."""
    cut_at: dt.datetime | None
    """It has been told as cut."""
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishView:
    """Finishing of one strip that is placed: from when it can be worked, until when, and when its joints are sawn."""

    place: str
    bleed_ends: Moments | None
    opens: Moments
    """First pass: the foot test decides."""
    closes: Moments
    """Last pass before then."""
    saw_cuts: tuple[SawCutView, ...]
    """Empty where the specification asks for none, or none of them lies at this strip."""
    by_forecast: bool
    """Its members' setting; else the board's own bounds."""
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceNow:
    """Drying of the fresh surface against the project's values."""

    evaporation_kg_per_m2_h: float | None
    """None where no weather is known for this hour."""
    action_kg_per_m2_h: float
    stop_kg_per_m2_h: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What the day has taught about one quantity: planned, and as it looks now."""

    name: str
    unit: str
    planned: Band
    now: Band
    seen_count: int
    """How many observations stand behind it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastView:
    """What comes next, by the plan's own model conditioned on the record."""

    members_count: int
    end_of_placing: Moments
    end_of_finishing: Moments | None
    remaining_m3: Band
    balance_load_m3: Band
    """Size of the last load to call."""
    call_next_by: dt.datetime | None
    """When the plant should be called for the next load to keep the pump going; None when all are called."""
    next_arrival: Moments | None
    on_road_count: int
    """Expected to have been batched by now, and not seen; 0 where not every ticket names its plant."""
    waiting_count: int
    chance_of_cold_joint: float
    chance_over_specification: float
    chance_out_of_hours: float
    learned: tuple[Learned, ...]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to go on, with what it leads to, beside the others on the same draws."""

    title: str
    needs: str
    """What must be there for it: dowels, a stop end, a standby pump, somebody's agreement."""
    end_of_placing: Moments
    chance_of_cold_joint: float
    chance_over_specification: float
    chance_out_of_hours: float
    oldest_load_min: Band
    trucks_waiting: Band
    cost_cu: Band
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A question and the ways to answer it; the recommendation is a comparison, with its reason."""

    question: str
    caution: str
    options: tuple[Option, ...]
    recommended: int
    """Place in `options`."""
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A what-if: what somebody asks about the rest of the pour."""

    kind: Literal["next truck late", "pump down", "rain", "stop here"]
    minutes: float | None = None
    """How late the truck is, or how long the pump is down."""
    at: dt.datetime | None = None
    """When the rain comes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """All that the app shows of one pour, in one document."""

    schema: int
    pour: str
    title: str
    project: str
    time_zone: str
    language: str
    """Of the record."""
    invented: bool
    phase: Phase
    made_at: dt.datetime
    records_count: int
    """Number of the last record that it rests on."""
    last_told: dt.datetime | None
    """When the last entry was written down: the freshness of the record."""
    weather_issued: dt.datetime | None
    plan_verdict: str
    plan_revision: str
    may_place: bool
    """No hold point is open, or each open one has been overridden by a named person."""
    blocked_by: tuple[str, ...]
    """Why placing may not begin or go on."""
    advice: Advice
    stopped_since: dt.datetime | None
    checks: tuple[CheckView, ...]
    holds: tuple[HoldView, ...]
    loads: tuple[LoadView, ...]
    cells: tuple[CellView, ...]
    edges: tuple[EdgeView, ...]
    forms: tuple[FormView, ...]
    finishing: tuple[FinishView, ...]
    finishing_rests_on: tuple[str, ...]
    """The rules behind its windows, each with its source and how that is known."""
    surface: SurfaceNow | None
    forecast: ForecastView | None
    """None before there is a plan, or when the pour is over."""
    look_at: tuple[str, ...]
    """Clashes, oddities and contested loads of the record, in words."""
    cautions: tuple[str, ...]
    lattice: str
    """Name of the lattice that the cells' numbers belong to: an entry about cells repeats it."""
    limits: tuple[LimitView, ...]
    """Of the pour's mix. What is not listed has no limit in force."""
    may_wait_min: float | None
    """How long concrete that is placed now may wait at an edge by the specification, at the last known temperature."""
    figures: tuple[Figure, ...]
    """By phase, the most asked first."""
