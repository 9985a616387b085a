"""The plan: what the search decided, what it expects, what could go wrong, and why.

Moments are local date-times with offset; a band is (5 %, 50 %, 95 %) over the replications. The plan holds all that
is printed: whoever renders it computes nothing but subtraction and rounding.
"""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from wetfront.nouns.reason import Source, Step

PLAN_SCHEMA = 1
"""Raised when a key of plan.json changes its meaning or goes away."""


class Verdict(StrEnum):
    """The first word of a plan."""

    GO = "go"
    GO_WITH_MEASURES = "go with measures"
    NO_GO = "no go"
    NO_FORECAST = "no forecast for that day yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """When something happens: 5 %, 50 % and 95 % of the replications."""

    early: dt.datetime
    usual: dt.datetime
    late: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What to order and how it comes."""

    net_m3: float
    wastage_m3: float
    wastage_spread_m3: float
    extra_m3: float
    priming_m3: float
    line_content_m3: float
    gross_m3: float
    """Before rounding to the call-off step."""
    order_m3: float
    load_m3: float
    loads_count: int
    full_loads_count: int
    balance_load_m3: float
    balance_call: str
    """When to measure and call the last load, in words with a time."""
    chance_of_running_short: float
    """Probability that the ordered volume without the measured balance load would not do."""
    formed_area_m2: float
    top_area_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What the search may choose."""

    start: dt.datetime
    """First concrete into the work."""
    first_batch: dt.datetime
    interval_min: float
    trucks_count: int
    load_m3: float
    placing_rate_m3_per_h: float
    pump: str
    plants: tuple[str, ...]
    mix: str
    mix_option: str
    element_order: tuple[str, ...]
    strips_along: str
    strip_width_m: float
    layer_mm: float
    layer_order: str
    vibrators_count: int
    joint: str
    """Agreed joint at which the pour is split; empty for the whole pour in one go."""
    interval_pattern: str = "constant"
    """constant: a load every interval; matched: each load when the pump is expected to be free (the call-off table)."""
    pumps_count: int = 1
    gang: str = ""
    """One of the sheet's gangs by hour; empty for the gang of `crew`."""
    cooler_by_c: float = 0.0
    """By how much the plant cools the concrete, beside the mix option."""
    start_corner: str = "low-x low-y"
    """Where each element is begun, by the site's x and y."""
    cutting_width_m: float = 4.0
    """Width from which the placing cells are cut: that of a strip where there are strips."""
    step_length_m: float = 3.0
    """How far each layer stays behind the one below in a stepped front."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """One failure: its probability against the accepted one."""

    key: str
    """Key of RiskLimits."""
    title: str
    probability: float
    standard_error: float
    limit: float
    detail: str
    """The figure behind it: least margin, worst edge, hours."""
    remedy: str

    @property
    def holds(self) -> bool:
        """Within the accepted probability."""
        return self.probability <= self.limit


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """Expected money, line by line."""

    title: str
    amount_cu: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A what-if: one decision changed, all else kept, on the same draws."""

    title: str
    cost_change_cu: float
    cost_error_cu: float
    """Standard error of the change, by paired differences."""
    worst_share_change: float
    """Change of the largest of all risks, each as a share of its limit: from 0.8 to 1.4 of a limit is 0.6."""
    end_change_min: float
    worst_risk: str
    risk_changes: tuple[tuple[str, float], ...]
    """Risk key and change of its probability, for those that move by a tenth of a percent or more."""
    keeps_limits: bool
    comment: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedDecision:
    """A decision that the sheet opens beyond the usual ones: what was tried, what was chosen, and why."""

    key: str
    """Key of the sheet."""
    title: str
    values: tuple[str, ...]
    chosen: str
    why: tuple[str, ...]
    """For each other value the best plan tried with it, against the chosen one on the same draws."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitPrice:
    """What one accepted risk costs: the cheapest plan tried under a limit half as high again, and under two thirds."""

    key: str
    """Key of RiskLimits."""
    title: str
    limit: float
    relaxed_limit: float | None
    """None where the limit cannot be looser."""
    relaxed_saves_cu: float
    """0: nothing cheaper was found that only this limit rules out."""
    relaxed_error_cu: float
    """Standard error of the difference, on the same draws."""
    relaxed_plan: str
    """In what that plan differs; empty where there is none."""
    tightened_limit: float
    tightened_costs_cu: float | None
    """0: the plan keeps the tighter limit as it is. None: no plan that was tried keeps it and the others."""
    tightened_error_cu: float
    tightened_plan: str
    text: str
    """All of it in one sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontierPoint:
    """A plan by its expected cost and its largest risk."""

    cost_cu: float
    cost_error_cu: float
    """Standard error of its difference from the chosen plan, on the same draws; 0 for that plan."""
    worst_share: float
    """Largest probability as a share of its limit: over 1 breaks a limit."""
    worst_share_error: float
    worst_risk: str
    """Key of the risk that is largest against its limit."""
    any_failure: float
    """Probability that at least one of the failures happens."""
    label: str
    """In what it differs from the chosen plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frontier:
    """Cost against risk: plans to which no other is both cheaper and at less risk, and the chosen one among them."""

    points: tuple[FrontierPoint, ...]
    """Safest first."""
    chosen: FrontierPoint
    candidates_count: int
    """Plans that were compared."""
    replications_count: int
    """Of each plan shown."""
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StripTimes:
    """One step of the placing order: a strip of a slab, a layer of a wall or block."""

    order: int
    name: str
    element: str
    volume_m3: float
    start: Moments
    end: Moments
    join_before_set: dt.datetime | None
    """The next concrete must touch this by then: setting at its own temperature, cautious end of the band."""
    join_before_specified: dt.datetime | None
    edge_name: str
    ready_to_finish: Moments | None
    finished: Moments | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeMargin:
    """A live edge: how long it waits and how long it may."""

    name: str
    wait_min: tuple[float, float, float]
    specified_min: float | None
    set_margin_min: tuple[float, float, float]
    specified_margin_min: tuple[float, float, float] | None
    chance_set_exceeded: float
    chance_specified_exceeded: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CalledLoad:
    """A row of the call-off table."""

    number: int
    plant: str
    batch: dt.datetime
    on_site: dt.datetime
    discharge: dt.datetime
    volume_m3: float
    goes_to: str
    sample: bool
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureCheck:
    """One method against the form's own limit."""

    method: str
    pressure_kn_per_m2: float
    permitted_kn_per_m2: float
    highest_rise_m_per_h: float | None
    """None: the form carries the full head."""
    highest_rate_m3_per_h: float | None
    governs: str
    source: Source
    note: str
    covers: bool = True
    """False where the method has no formula for this concrete or pour: it shows the full head and sets no rise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """One boom over one pour."""

    pump: str
    reach_m: float
    farthest_m: float
    farthest_point_m: tuple[float, float]
    reaches_all: bool
    text: str
    """What it reaches, in words: all, or from x to x along which edge."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadinessItem:
    """A line of the check list."""

    id: str
    group: str
    check: str
    acceptance: str
    source: str
    hold_point: bool
    released_by: str
    state: str
    """open, pass, fail, not applicable, as recorded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HourlySeries:
    """One chart: hours on the x axis, lines with names, limits as level lines."""

    title: str
    unit: str
    times: tuple[dt.datetime, ...]
    lines: tuple[tuple[str, tuple[float | None, ...]], ...]
    limits: tuple[tuple[str, float], ...]
    sentence: str
    """The same as the picture, in one sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherSpread:
    """The weathers drawn about the forecast that the plan was judged on."""

    members_count: int
    lead_h: float
    """From the issue of the forecast to the first concrete; from its first row where the issue is not known."""
    temperature_spread_c: float
    """Standard deviation at the first concrete, as the next two."""
    dew_point_spread_c: float
    wind_spread_percent: float
    """Of the forecast's own wind, gusts with it."""
    sentence: str
    """All of it in one sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawn view: the SVG and the sentence that says the same."""

    title: str
    svg: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchRecord:
    """How the decision was found."""

    candidates_count: int
    replications_count: int
    """On which the winner is shown."""
    total_replications_count: int
    chance_best: float
    """Estimated probability that the winner is the best of the candidates."""
    possible_loss_cu: float
    """Expected loss if another candidate is better."""
    core: str
    """compiled or plain Python."""
    seed: int
    cut_short: str = ""
    """Why the search ended before its end and this is only the best so far; empty where it did not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnHeap:
    """A material that must lie on site before the first batch."""

    name: str
    amount_kg: float
    """As it lies, with today's moisture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteMixing:
    """What mixing on site takes; there only where the sheet has a site mixer."""

    batches_count: int
    batch_m3: float
    mixers_count: int
    people_count: int
    mixing_h: tuple[float, float, float]
    """From the first charge to the last concrete placed: 5 %, 50 % and 95 % of the simulated pours."""
    mixing_rate_m3_per_h: float
    """Of all mixers, when nothing waits."""
    carrying_rate_m3_per_h: float
    bags_per_batch_count: int | None
    bags_count: int | None
    bag_kg: float | None
    cement_kg: float
    materials: tuple[OnHeap, ...]
    """Aggregates; empty where the mix does not tell them."""
    water_l: float
    """To add; all free water of the mix where its aggregates are not told."""
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTried:
    """A day on which the pour might start."""

    date: dt.date
    is_chosen: bool
    is_pencilled: bool
    """The date that the sheet gives the pour."""
    keeps_limits: bool
    """False also where the weather speaks against the day, or nothing can be planned on it."""
    start: dt.datetime | None
    """Of the best decision found for the day; None where nothing can be planned on it."""
    cost_cu: float | None
    replications_count: int
    is_searched: bool
    """In full; else the best decisions of another day were tried at starts of this one."""
    text: str
    """The risk nearest to its limit, what breaks one or speaks against the day, or why it cannot be planned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One pour, planned. With `NO_FORECAST` only the head, quantity and reasons are there; the rest is empty."""

    schema: int
    program: str
    project: str
    place: str
    invented: bool
    currency: str
    time_zone: str
    pour: str
    title: str
    date: dt.date
    verdict: Verdict
    reasons: tuple[str, ...]
    """Why the verdict: the answer first, each with number and limit."""
    measures: tuple[str, ...]
    """What has to be in place for it to hold."""
    specification_changed: tuple[str, ...]
    """Limits of the rule book that the specification made stricter, entered, or wants looser, with whose name."""
    days: tuple[DayTried, ...]
    """By date; empty where the sheet leaves only the pour's own day."""
    nearest_change: tuple[str, ...]
    """Where limits are not met: the nearest feasible changes, best first."""
    quantity: Quantity
    site_mixing: SiteMixing | None
    decision: Decision | None
    end_of_placing: Moments | None
    end_of_finishing: Moments | None
    risks: tuple[Risk, ...]
    cost: tuple[CostLine, ...]
    binding: tuple[str, ...]
    runner_up: str
    opened: tuple[OpenedDecision, ...]
    changes: tuple[Change, ...]
    """Largest effect first."""
    limit_prices: tuple[LimitPrice, ...]
    """Of the limits that hold the plan back, dearest first; empty where a limit is broken."""
    frontier: Frontier | None
    strips: tuple[StripTimes, ...]
    edges: tuple[EdgeMargin, ...]
    loads: tuple[CalledLoad, ...]
    pressure: tuple[PressureCheck, ...]
    reach: tuple[Reach, ...]
    readiness: tuple[ReadinessItem, ...]
    charts: tuple[HourlySeries, ...]
    weather: WeatherSpread | None
    """None: the forecast was taken as certain, or there is none."""
    drawings: tuple[Drawing, ...]
    cautions: tuple[str, ...]
    not_checked: tuple[str, ...]
    """Limits that the sheet does not give."""
    why: tuple[Step, ...]
    search: SearchRecord | None
    inputs: tuple[tuple[str, str], ...]
    """File name and SHA-256 of what was read."""
