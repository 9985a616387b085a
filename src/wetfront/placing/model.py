"""The pour as the simulator sees it: what goes in, what comes out of each replication.

All times are minutes from local midnight of the pour day. The rules by which these inputs become a pour stand in
docs/placing-model.md (numbered); the workloads P1 and P2 are this model with every extension at its neutral default.
"""

from dataclasses import dataclass, field, replace
from math import inf
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wetfront.acceptance import LoadLimits
from wetfront.placing.seen import Seen

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NOTHING_WATCHED: Ints = np.zeros(0, dtype=np.int64)
Interval = tuple[float, float]
"""From (included) and to (not included) [min]."""


@dataclass(frozen=True, slots=True)
class Lognormal:
    """A duration or a factor by its mean and coefficient of variation (0: always the mean)."""

    mean: float
    cv: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """The cells in placing order, as equally long columns."""

    volume_m3: Floats
    """Net volume."""
    rate_m3_per_h: Floats
    """Rate at which this cell can be placed: least of pump, gang, vibrators and permitted rise."""
    strip: Ints
    """Finishing strip whose surface this cell is part of; -1: nothing to finish."""
    move_min: Floats
    """Pause of pump before this cell (moving boom or hose)."""
    panel: Ints
    """Form whose rise this cell counts in (a wall panel, a column); -1: none."""
    rise_m: Floats
    """How far it lifts the mean level in its panel: its share of the layer's volume, times the layer's height."""
    lattice_cell: Ints
    """Which cell of the lattice this is, for pictures and traces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joints:
    """Pairs of touching cells as positions in placing order; `first` is placed before `later`."""

    first: Ints
    later: Ints
    area_m2: Floats
    edge: Ints
    """Index into `edge_names`."""
    edge_names: tuple[str, ...]
    """What a person calls the edge: strip to strip, layer to layer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantSupply:
    """One plant and the trucks that run from it."""

    name: str
    trucks_count: int
    batching_min: Lognormal
    haul_min: Lognormal
    return_min: Lognormal
    opens_min: float = -inf
    closes_min: float = inf
    """A load batched later than this still comes, and is counted in `loads_after_closing`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Call-off of the loads."""

    plants: tuple[PlantSupply, ...]
    plant_of_load: tuple[int, ...] = (0,)
    """Of the first loads in turn; then it begins anew."""
    load_m3: float
    interval_min: float
    first_batching_min: float
    bans: tuple[Interval, ...] = ()
    """No truck may arrive in these times, rising and apart; hours before the site opens are a ban as well."""
    call_off_step_m3: float | None = None
    """The last load is called in these steps; None: always a full load."""
    smallest_load_m3: float = 0.0
    balance_after_measuring: bool = False
    """The last load is batched only once the load before it has begun to discharge."""
    due_min: tuple[float, ...] = ()
    """Load k is batched not before this, rising; loads beyond the last go on by the interval. Empty: every interval."""

    def plant_of(self, number: int) -> int:
        """The plant that a load is called from."""
        return self.plant_of_load[number % len(self.plant_of_load)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteWork:
    """Discharge places, pump and gang."""

    discharge_places_count: int = 2
    position_min: float
    wash_min: float
    speed: Lognormal
    """Placing speed of a load as a factor on the cells' own rate."""
    rate_is_held: bool = False
    """The rate is a limit that the crew keeps (permitted rise): no load goes faster than it."""
    pumping_min_between_stops: float
    """Mean of the pumping time between two breakdowns."""
    repair_min: Lognormal
    breaks: tuple[tuple[float, float], ...] = ()
    """Planned start [min] and duration [min], rising; each is taken when the load on the pump is finished."""
    weather_stops: tuple[Interval, ...] = ()
    """Times in which the pump takes no truck (boom stowed in wind, rain); a discharge under way is finished."""
    gang_hours: tuple[tuple[float, float], ...] = ()
    """From when on [min], rising, and the highest rate [m³/h] that the gang follows from then on. Before the first one
    the cells' own rates alone hold."""
    priming_m3: float = 0.0
    line_content_m3: float = 0.0
    """Content of line and hopper that is lost; 0 where it is pumped out into the work."""
    wastage: float = 0.0
    """Mean of the wastage as a fraction of the net volume; drawn for each replication, not below 0."""
    wastage_sd: float = 0.0
    waiting_free_min: float = 0.0
    """Time on site for which a truck is not paid."""
    rise_window_min: float = 30.0
    """The rise rate is the highest over any time this long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance(LoadLimits):
    """When a load is refused at the pump: the limits of acceptance, and how the simulator asks them."""

    age_counted_from: Literal["loading", "end-of-batching"] = "end-of-batching"
    """First contact of cement and water, at the earliest when the plant begins with the load, or the truck is full."""
    age_judged_at: Literal["start", "expected-end"] = "start"
    """Age when the pump takes the truck, or when its discharge is expected to end."""
    consistence_refusal_probability: float = 0.0
    """That its consistence fails on the test and on the check test."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Concrete:
    """The setting clock, in minutes of equivalent age at 20 °C."""

    clock_min: Floats
    """Equivalent age since midnight, on points `clock_step_min` apart, of concrete at the expected temperature."""
    clock_step_min: float = 10.0
    set_limit_min: float
    """Clock time at which a placed edge no longer knits."""
    set_factor_sd: float = 0.0
    """Standard deviation of the logarithm of a load's own clock speed."""
    counts_age: bool = False
    """The clock starts with the batching of the load instead of with placing."""
    counts_load_temperature: bool = False
    """A load warmer or colder than expected runs its clock faster or slower all the time."""
    activation_temperature_k: float = 0.0
    """E/R, for `counts_age` and `counts_load_temperature`."""
    plant_temperature_c: float = 20.0
    plant_temperature_sd_c: float = 0.0
    change_per_h: float = 0.0
    """Change of temperature on the way per hour and degree between air and concrete."""
    air_temperature_c: Floats = field(default_factory=lambda: np.zeros(0))
    """Air on the same points as the clock; empty only where `change_per_h` is 0."""
    edge_limits: tuple[tuple[float, float], ...] = ()
    """The specification's longest exposure: up to °C, minutes; rising, the last holds above as well. Empty: none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishingWork:
    """Strips to be finished, by index; clock limits as in `Concrete`."""

    strip_min: Floats
    """Mean minutes that one crew needs for each strip."""
    strip_cv: float = 0.0
    strip_names: tuple[str, ...] = ()
    ready_clock_min: float = 0.0
    latest_clock_min: float = inf
    crews_count: int = 1
    crew_hours: tuple[tuple[float, int], ...] = ()
    """From when on [min], rising, and how many crews are there from then on; `crews_count` before the first one."""
    strip_area_m2: Floats = field(default_factory=lambda: np.zeros(0))
    """Open surface of each strip; empty only where no evaporation is given."""
    evaporation_kg_per_m2_h: Floats = field(default_factory=lambda: np.zeros(0))
    """Water leaving an open surface, on the points of the clock's table, linear between; empty: not looked at."""
    evaporation_action_kg_per_m2_h: float = inf
    """From this rate on a surface needs protection."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherMembers:
    """What the weather changes, a row for each member of an ensemble; it stands in place of the model's own figures.

    Replication r meets row (r - `first_replication`) mod `count`.
    """

    clock_min: Floats
    """As in `Concrete`, on the same points."""
    air_temperature_c: Floats
    set_factor_sd: Floats
    """One number a member, as the next three."""
    activation_temperature_k: Floats
    ready_clock_min: Floats
    latest_clock_min: Floats
    evaporation_kg_per_m2_h: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    """As in `FinishingWork`; empty where that is."""
    first_replication: int = 0

    @property
    def count(self) -> int:
        """Number of rows."""
        return len(self.clock_min)

    def row_of(self, replication: int) -> int:
        """The row that a replication meets."""
        return (replication - self.first_replication) % self.count


@dataclass(frozen=True, slots=True, kw_only=True)
class PourModel:
    """Everything that one candidate plan fixes; only the draws are missing."""

    cells: Cells
    joints: Joints
    supply: Supply
    site: SiteWork
    acceptance: Acceptance
    concrete: Concrete
    finishing: FinishingWork
    panel_names: tuple[str, ...] = ()
    members: WeatherMembers | None = None
    """None: all replications meet the weather of `concrete` and `finishing`."""
    day_share: float = 0.0
    """Share of the variance of each load's figures that all loads of a day have in common."""
    seen: Seen | None = None
    """None: nothing has happened yet."""
    watched: Ints = field(default_factory=lambda: NOTHING_WATCHED)
    """Cells, by position in placing order, whose moments are wanted of every replication."""

    def met_by(self, replication: int) -> "PourModel":
        """The model in the weather that this replication meets."""
        members = self.members
        if members is None:
            return self
        row = members.row_of(replication)
        concrete = replace(
            self.concrete,
            clock_min=members.clock_min[row],
            air_temperature_c=members.air_temperature_c[row],
            set_factor_sd=float(members.set_factor_sd[row]),
            activation_temperature_k=float(members.activation_temperature_k[row]),
        )
        rates = members.evaporation_kg_per_m2_h
        finishing = replace(
            self.finishing,
            ready_clock_min=float(members.ready_clock_min[row]),
            latest_clock_min=float(members.latest_clock_min[row]),
            evaporation_kg_per_m2_h=rates[row] if len(rates) else self.finishing.evaporation_kg_per_m2_h,
        )
        return replace(self, concrete=concrete, finishing=finishing, members=None)


REFUSAL_REASONS = ("", "age", "temperature", "consistence", "not needed")
"""By the code in `Replications` and `LoadTable`; 0 is an accepted load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Replications:
    """One row a replication. Margins and limits that do not exist are +inf."""

    end_of_pour_min: Floats
    first_discharge_min: Floats
    longest_wait_min: Floats
    """From arrival at the gate until the pump takes the truck, refused loads too."""
    longest_gap_min: Floats
    """Between two discharges, or a repair."""
    least_set_margin_min: Floats
    cold_joint_area_m2: Floats
    least_specified_margin_min: Floats
    area_over_specification_m2: Floats
    waste_m3: Floats
    """Refused loads and what is left in the last one."""
    delivered_m3: Floats
    placed_m3: Floats
    """In the work, wastage included; delivered = placed + priming + line content + waste."""
    loads_count: Ints
    refused_count: Ints
    refused_age_count: Ints
    refused_temperature_count: Ints
    refused_consistence_count: Ints
    over_age_count: Ints
    """Accepted loads older than the limit at the end of their discharge."""
    oldest_age_min: Floats
    """Of an accepted load at the end of its discharge."""
    most_trucks_waiting: Ints
    """On site at once without a discharge place."""
    most_trucks_on_site: Ints
    paid_waiting_min: Floats
    highest_rise_m_per_h: Floats
    """A column for each panel."""
    lowest_placing_c: Floats
    highest_placing_c: Floats
    finishing_end_min: Floats
    """The end of the pour where nothing is finished."""
    late_strips: Ints
    highest_evaporation_kg_per_m2_h: Floats
    """While any strip lies open, from its first concrete to the end of its finishing; 0 where it is not looked at."""
    area_over_evaporation_m2: Floats
    """Strips that meet the rate from which they need protection while they lie open."""
    stops_count: Ints
    loads_after_closing: Ints
    edge_set_margin_min: Floats
    """A column for each edge."""
    edge_specified_margin_min: Floats
    """A column for each edge."""
    watched_min: Floats
    """When the watched cells were placed, a column for each."""

    @property
    def count(self) -> int:
        """Number of replications."""
        return len(self.end_of_pour_min)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTable:
    """The loads of one replication in the order of their call-off."""

    plant: Ints
    truck: Ints
    """Number of the truck within its plant."""
    volume_m3: Floats
    batching_min: Floats
    batched_min: Floats
    reached_min: Floats
    """At the gate, where a ban may still hold the truck outside."""
    arrival_min: Floats
    """On site."""
    entered_min: Floats
    """Got a discharge place."""
    start_min: Floats
    """The pump takes the truck."""
    end_min: Floats
    left_min: Floats
    truck_free_min: Floats
    """Back at the plant."""
    temperature_c: Floats
    """When the pump takes it."""
    age_at_end_min: Floats
    used_m3: Floats
    refused: Ints
    """0 accepted, else index into REFUSAL_REASONS."""
    stream_from_m3: Floats
    """Volume taken by the pump before this load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One replication in full."""

    loads: LoadTable
    repairs: tuple[tuple[float, float], ...]
    """Start and duration of each breakdown."""
    breaks_taken: tuple[tuple[float, float], ...]
    cell_placed_min: Floats
    """By position in placing order."""
    cell_load: Ints
    """The load that brings the first concrete of the cell."""
    joint_set_margin_min: Floats
    joint_specified_margin_min: Floats
    joint_due_min: Floats
    """Time at which the earlier cell of each pair reaches its set limit."""
    strip_ready_min: Floats
    strip_start_min: Floats
    strip_end_min: Floats
    strip_late: NDArray[np.bool_]
    outcome: Replications
    """The same replication as one row."""
