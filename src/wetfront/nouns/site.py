"""The site: hours, roads, plants, trucks, pumps, people, prices."""

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, MinLen

from wetfront.nouns.element import Name, Point

Minutes = Annotated[float, Ge(0), Le(1440)]
Price = Annotated[float, Ge(0), Le(1e7)]
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """Whose pour it is, and where. `time_zone` is an IANA name or a fixed offset such as UTC+01:00."""

    name: Name
    place: str = ""
    time_zone: Name
    latitude_deg: Annotated[float, Ge(-90), Le(90)]
    longitude_deg: Annotated[float, Ge(-180), Le(180)] | None = None
    altitude_m: Annotated[float, Ge(-500), Le(6000)] | None = None
    currency: Name = "cu"
    invented: bool = False
    """True for demonstration data: every page then says so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Permitted working time on some weekdays; `trowelling_until` is an agreed extension for finishing only."""

    days: Annotated[tuple[Weekday, ...], MinLen(1)]
    start_local: dt.time
    end_local: dt.time
    trowelling_until_local: dt.time | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryBan:
    """No truck may arrive in this time."""

    reason: str
    days: Annotated[tuple[Weekday, ...], MinLen(1)]
    start_local: dt.time
    end_local: dt.time


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseLimit:
    """Highest level at the neighbour's face in this time (LAeq over one hour)."""

    start_local: dt.time
    end_local: dt.time
    limit_db: Annotated[float, Ge(20), Le(120)]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseSource:
    """A level that an activity makes at the neighbour's face, measured or from the maker."""

    activity: Literal["placing", "trowelling", "hand-finishing"]
    level_db: Annotated[float, Ge(20), Le(120)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Planned pause of the placing gang."""

    start_local: dt.time
    duration_min: Annotated[float, Gt(0), Le(180)]


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelTime:
    """Low, usual and high travel time: 5 %, 50 % and 95 % of the trips."""

    low: Minutes
    usual: Annotated[float, Gt(0), Le(600)]
    high: Minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """A plant that batches the mix. Share: part of the loads that it supplies when two plants work together."""

    id: Name
    role: str = ""
    distance_km: Annotated[float, Ge(0), Le(500)] | None = None
    batching_min: Annotated[float, Gt(0), Le(120)]
    travel_loaded_min: TravelTime
    return_min: Annotated[float, Gt(0), Le(600)]
    output_m3_per_h: Annotated[float, Gt(0), Le(1000)]
    opens_local: dt.time
    closes_local: dt.time
    mixes: tuple[str, ...] = ()
    """Mixes approved at this plant; empty means all."""
    standby: bool = False
    """A reserve plant: planned only when the main plants cannot do it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trucks:
    """The fleet. `count_promised` come without asking, up to `count_in_fleet` can be asked for."""

    capacity_m3: Annotated[float, Gt(0), Le(20)]
    count_promised: Annotated[int, Ge(1), Le(200)]
    count_in_fleet: Annotated[int, Ge(1), Le(200)]
    washout_min: Minutes = 6.0
    position_and_check_min: Minutes = 5.0
    waiting_places_on_site_count: Annotated[int, Ge(0), Le(100)] = 3
    discharge_places_count: Annotated[int, Ge(1), Le(4)] = 2
    longest_batching_to_end_of_discharge_min: Annotated[float, Gt(0), Le(600)]
    vehicle: Literal["revolving-drum", "covered-body", "open-body"] = "revolving-drum"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """A pump or a crane with skip, at a place, with the rate that the site gets out of it."""

    id: Name
    kind: Literal["boom", "line", "skip", "barrow", "dumper"]
    title: str = ""
    position_m: Point = (0.0, 0.0)
    horizontal_reach_m: Annotated[float, Gt(0), Le(200)] | None = None
    planned_output_m3_per_h: Annotated[float, Gt(0), Le(300)]
    theoretical_output_m3_per_h: Annotated[float, Gt(0), Le(400)] | None = None
    line_and_hopper_content_m3: Annotated[float, Ge(0), Le(10)] = 1.0
    priming_m3: Annotated[float, Ge(0), Le(3)] = 0.0
    """Concrete of the first load used as priming; slurry that comes otherwise counts 0."""
    move_min: Minutes = 0.0
    """Pause for moving hose or boom between elements or strips."""
    mean_pumping_min_between_stops: Annotated[float, Gt(0), Le(100_000)] = 600.0
    stop_mean_min: Annotated[float, Gt(0), Le(600)] = 25.0
    standby: bool = False
    callout_min: Minutes | None = None
    outrigger_largest_load_kn: Annotated[float, Gt(0), Le(2000)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteMixer:
    """Mixers on site in place of plant, trucks and pump, and how the concrete is carried to the work."""

    id: Name = "site mixer"
    output_m3: Annotated[float, Ge(0.01), Le(1)]
    """Fresh concrete of one batch, not the volume of the drum."""
    cycle_min: Annotated[float, Ge(3), Le(60)]
    """From charging to the drum empty again, when nothing waits."""
    emptying_min: Annotated[float, Gt(0), Le(10)] = 1.0
    """The part of the cycle in which the drum is emptied."""
    mixers_count: Annotated[int, Ge(1), Le(4)] = 1
    people_count: Annotated[int, Ge(1), Le(50)]
    """At the mixers; the placing gang is not among them."""
    cement_bag_kg: Annotated[float, Ge(5), Le(1500)] | None = None
    """Batch in whole bags of this size; left out: cement is weighed."""
    carrier: Literal["barrow", "dumper", "skip"]
    carriers_count: Annotated[int, Ge(1), Le(50)]
    carrier_m3: Annotated[float, Ge(0.01), Le(3)]
    """Concrete in one of them."""
    round_min: Annotated[float, Ge(0.5), Le(60)]
    """Of one carrier: fill, go, tip, come back."""
    way_min: Annotated[float, Gt(0), Le(60)]
    """From the drum to the work; part of the round."""
    longest_mixing_to_placed_min: Annotated[float, Gt(0), Le(240)] | None = None
    """Age limit from charging the drum until placed; left out: `delivery-time-not-agitated` of the European rules."""
    mean_running_min_between_stops: Annotated[float, Gt(0), Le(100_000)] = 600.0
    stop_mean_min: Annotated[float, Gt(0), Le(600)] = 25.0
    mixer_cu_per_h: Price = 0.0
    """Each mixer with its people."""
    materials_cu_per_m3: Price | None = None
    """Cement, aggregates and water of one cubic metre; left out: prices.concrete_cu_per_m3."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverheadLine:
    """An electric line parallel to x at `y_m`, or to y at `x_m`, and the least distance agreed with its owner."""

    voltage_kv: Annotated[float, Gt(0), Le(1200)]
    least_clearance_agreed_m: Annotated[float, Gt(0), Le(100)]
    y_m: float | None = None
    x_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """People by role (count), and what the gang and the finishers get done."""

    people: dict[str, Annotated[int, Ge(0), Le(200)]]
    placing_capacity_m3_per_h: Annotated[float, Gt(0), Le(300)] | None = None
    """Rate that the placing gang can follow; without it the pump and the vibrators decide."""
    finishing_crews_count: Annotated[int, Ge(1), Le(50)] = 1
    finishing_rate_m2_per_h: Annotated[float, Gt(0), Le(2000)] = 150.0
    """Area one finishing crew takes once over in an hour."""
    finishing_passes_count: Annotated[int, Ge(1), Le(10)] = 2
    breaks: tuple[Break, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GangHours:
    """The gang from one time of day until the next entry. What is left out is as `crew` says."""

    from_local: dt.time
    placing_capacity_m3_per_h: Annotated[float, Gt(0), Le(300)] | None = None
    finishing_crews_count: Annotated[int, Ge(1), Le(50)] | None = None
    works_through_breaks: bool = False
    """True where a relief lets the gang place on: breaks that would begin in this time are not taken."""
    people: dict[str, Annotated[int, Ge(0), Le(200)]] | None = None
    """All who are there in this time, by role."""
    price_cu_per_h: Price | None = None
    """Of the whole gang in this time; as `prices.crew_cu_per_h` where it is left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gang:
    """Another way to man the pour by the hour: a second finishing crew from 16:00, a relief, a late shift."""

    id: Name
    hours: Annotated[tuple[GangHours, ...], MinLen(1)]
    """Rising by time; before the first entry the gang is as `crew` says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vibrator:
    """Immersion vibrators of one size."""

    diameter_mm: Annotated[float, Gt(10), Le(200)]
    count_working: Annotated[int, Ge(0), Le(100)]
    count_spare: Annotated[int, Ge(0), Le(100)] = 0
    radius_of_action_mm: Annotated[float, Gt(50), Le(700)] | None = None
    rate_m3_per_h: Annotated[float, Gt(0), Le(40)]
    """What one of them compacts in an hour in this work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Prices in the project's currency (cu)."""

    concrete_cu_per_m3: Price
    part_load_cu_per_m3_short: Price = 0.0
    waiting_free_min_per_load: Minutes = 30.0
    waiting_cu_per_min: Price = 0.0
    pump_cu_per_h: Price = 0.0
    pump_least_h: Annotated[float, Ge(0), Le(24)] = 0.0
    standby_pump_callout_cu: Price = 0.0
    crew_cu_per_h: Price = 0.0
    vibrator_cu_per_h: Price = 0.0
    """Each vibrator at work while concrete is placed."""
    one_degree_cooler_cu_per_m3: Price = 0.0
    """For each degree by which `choices.cooler_by_c` has the plant cool the concrete."""
    split_cu: Price = 0.0
    """A second day where the pour is split at a joint: stop end and its joint, setting up again."""
    returned_concrete_cu_per_m3: Price = 0.0
    truck_cu_per_truck: Price = 0.0
    """Cost of asking for one truck more than promised."""
    cold_joint_cu_per_m2: Price = 0.0
    """What one square metre of cold joint costs to put right; weighs what risk is left under the limit."""
