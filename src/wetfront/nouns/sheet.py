"""The pour sheet after checking: everything that a plan is made from."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, Len, MaxLen, MinLen

from wetfront.nouns.element import Count, Element, Name
from wetfront.nouns.limits import Confirmation, LooserLimit, OwnLimit
from wetfront.nouns.mix import Mix
from wetfront.nouns.readiness import ReadinessItem
from wetfront.nouns.site import (
    Crew,
    DeliveryBan,
    Gang,
    Hours,
    NoiseLimit,
    NoiseSource,
    OverheadLine,
    Plant,
    Prices,
    Project,
    Pump,
    SiteMixer,
    Trucks,
    Vibrator,
)
from wetfront.nouns.weather import ForecastSpread, WeatherSeries

Probability = Annotated[float, Ge(0), Le(1)]
Slump = Annotated[float, Ge(0), Le(300)]
Coordinate = Annotated[float, Ge(-10_000), Le(10_000)]
Interval = Annotated[float, Gt(0), Le(600)]
PumpCount = Annotated[int, Ge(1), Le(4)]


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeLimit:
    """The specification's minutes for a live edge while the concrete is at most `up_to_c`."""

    up_to_c: Annotated[float, Ge(-20), Le(100)]
    longest_min: Annotated[float, Gt(0), Le(1440)]


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureLimits:
    """Permitted concrete temperature at placing."""

    min: Annotated[float, Ge(-10), Le(60)]
    max: Annotated[float, Ge(-10), Le(60)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Specification:
    """What the contract asks for. A missing limit is not checked, and the plan says that it was not."""

    rule_book: Literal["en", "aci", "is", "as"] | None = None
    """Whose rules are laid over the limits here; the stricter holds. None: only the limits of this sheet."""
    looser_approved_by: Annotated[str, Len(0, 60)] = ""
    """Name or role that approved every limit looser than the rule book's; empty: see `looser`. One by one is better."""
    confirmed: tuple[Confirmation, ...] = ()
    """Remembered limits that somebody has looked up in the standard."""
    own_limit: tuple[OwnLimit, ...] = ()
    """Further figures of the specification, by the name of the rule that they are laid over."""
    looser: tuple[LooserLimit, ...] = ()
    """Limits looser than the rule book's, each with the name of who approved it."""
    tolerance_class: str = ""
    live_edge: tuple[EdgeLimit, ...] = ()
    """Rising by temperature; the last one holds above as well."""
    slump_limits_mm: tuple[Slump, Slump] | None = None
    concrete_temperature_at_placing_c: TemperatureLimits | None = None
    largest_layer_mm: Annotated[float, Ge(50), Le(3000)] = 500.0
    free_fall_max_m: Annotated[float, Gt(0), Le(20)] = 1.5
    evaporation_action_kg_per_m2_h: Annotated[float, Gt(0), Le(5)] = 0.5
    evaporation_stop_kg_per_m2_h: Annotated[float, Gt(0), Le(5)] = 1.0
    finish: Literal["power-trowelled", "hand-floated", "tamped", "none"] = "none"
    saw_cut_depth_mm: Annotated[float, Gt(0), Le(500)] | None = None
    curing_class: str = ""
    rain_stop_mm_per_h: Annotated[float, Gt(0), Le(50)] = 2.5
    wind_stop_m_per_s: Annotated[float, Gt(0), Le(60)] | None = None
    """Gust at which the boom is stowed, from the operator's manual or local rule."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Formwork:
    """The form designer's figures. `basis`: is the permitted pressure characteristic or with a load factor?"""

    permitted_pressure_kn_per_m2: Annotated[float, Gt(0), Le(1000)]
    basis: Literal["permissible", "design"]
    design_load_factor: Annotated[float, Ge(1), Le(3)] = 1.5
    designer_assumed_rise_m_per_h: Annotated[float, Gt(0), Le(30)] | None = None
    designer_assumed_concrete_temperature_c: Annotated[float, Ge(0), Le(40)] | None = None
    form_height_m: Annotated[float, Gt(0), Le(100)]
    vibration_depth_m: Annotated[float, Gt(0), Le(10)] = 1.0
    weight_density_kn_per_m3: Annotated[float, Ge(8), Le(40)] = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Falsework:
    """What the falsework under some elements was designed for."""

    elements: Annotated[tuple[Name, ...], MinLen(1)]
    designed_for_thickness_mm: Annotated[float, Gt(0), Le(30_000)]
    permitted_heap_mm: Annotated[float, Gt(0), Le(3000)]
    """Highest heap of fresh concrete, measured from the soffit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A joint on the plan. `agreed_emergency`: the designer has agreed that the pour may stop here."""

    id: Name
    kind: str
    x_m: Coordinate | None = None
    y_m: Coordinate | None = None
    agreed_emergency: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPoint:
    """Work may not go on without the release by this role."""

    id: Name
    title: str
    released_by: Name
    before: Literal["placing", "striking"] = "placing"
    """What may not begin without the release."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling:
    """Sampling asked for by the specification."""

    one_sample_per_m3: Annotated[float, Gt(0), Le(1000)] | None = None
    one_sample_per_load: bool = False
    specimens_per_sample_count: Annotated[int, Ge(1), Le(20)] = 3
    test_ages_d: tuple[Annotated[int, Ge(1), Le(365)], ...] = (7, 28)
    spare_specimens_count: Annotated[int, Ge(0), Le(100)] = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """Concrete that is ordered but not in the net volume. Wastage is a distribution: mean and standard deviation."""

    wastage_percent: Annotated[float, Ge(0), Le(30)] = 5.0
    wastage_spread_percent: Annotated[float, Ge(0), Le(15)] = 1.0
    extra_m3: Annotated[float, Ge(0), Le(1000)] = 0.0
    """Measured extras: sub-base low, blinding, form bulge."""
    line_content_lost: bool = True
    """True when what is left in line and hopper is lost; false when it is pumped out into the work."""
    rounding_step_m3: Annotated[float, Gt(0), Le(1)] = 0.5
    """Call-off step of the plant: 0.1, 0.25, 0.5 or 1."""
    smallest_load_m3: Annotated[float, Ge(0), Le(12)] = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What the search may decide. An empty choice is left to the program; one value fixes the decision.

    From `interval_patterns` on a decision is searched only where it is opened here, by its price; else it stays as the
    sheet has it.
    """

    days_between: tuple[dt.date, dt.date] | None = None
    """First and last day on which a pour may start; working days only. Left out: the pour's own date."""
    start_between_local: tuple[dt.time, dt.time] | None = None
    interval_between_min: tuple[Interval, Interval] | None = None
    trucks_between: tuple[Count, Count] | None = None
    placing_rates_m3_per_h: tuple[Annotated[float, Gt(0), Le(300)], ...] = ()
    load_sizes_m3: tuple[Annotated[float, Gt(0), Le(20)], ...] = ()
    element_order: tuple[Name, ...] = ()
    strip_widths_m: tuple[Annotated[float, Ge(0.3), Le(200)], ...] = ()
    strips_along: Literal["x", "y", "either"] = "either"
    layers_mm: tuple[Annotated[float, Ge(50), Le(3000)], ...] = ()
    layer_orders: tuple[Literal["whole", "stepped"], ...] = ("whole", "stepped")
    step_length_m: Annotated[float, Ge(0.3), Le(50)] = 3.0
    interval_patterns: tuple[Literal["constant", "matched"], ...] = ("constant",)
    """Constant: a load every interval. Matched: each load called for when the pump is expected to be free, with breaks,
    moves, the gang of the hour and delivery bans counted."""
    pumps_between: tuple[PumpCount, PumpCount] | None = None
    """Pumps like the pour's own that may work at once; left out: that one."""
    vibrators_between: tuple[Count, Count] | None = None
    """At work; left out: the pour's own number."""
    cooler_by_c: Annotated[tuple[Annotated[float, Ge(0), Le(20)], ...], MaxLen(6)] = ()
    """Degrees by which the plant may cool the concrete, beside what the mix options do; left out: 0."""
    gang: Annotated[tuple[Gang, ...], MaxLen(6)] = ()
    """Other ways to man the pour, compared with the gang of `crew`."""
    splits: Annotated[tuple[Name, ...], MaxLen(6)] = ()
    """Agreed joints at which the pour may be split into two days; compared with the whole pour in one go."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskLimits:
    """Highest accepted probability of each failure. Chosen by the project; the defaults are ours."""

    cold_joint: Probability = 0.05
    specified_edge_exceeded: Probability = 0.20
    pressure_over_permitted: Probability = 0.01
    placing_out_of_hours: Probability = 0.05
    finishing_out_of_hours: Probability = 0.10
    rain_on_fresh_surface: Probability = 0.30
    load_over_age: Probability = 0.10
    trucks_over_places: Probability = 0.20


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """One continuous placing operation: a day, elements, a mix, a pump."""

    id: Name
    title: str
    date: dt.date
    mix: Name
    pump: Name
    elements: Annotated[tuple[Name, ...], MinLen(1)]
    planned_start_local: dt.time | None = None
    """What the site has pencilled in; the plan is compared with it."""
    planned_rate_m3_per_h: Annotated[float, Gt(0), Le(300)] | None = None
    vibrators_count: Count | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherFiles:
    """Hourly CSV series, with the height of the wind reading, and how far the weather may turn out from it."""

    forecast: str
    wind_height_m: Annotated[float, Gt(0), Le(100)] = 10.0
    issued_local: dt.datetime | None = None
    """When the forecast was made: its spread grows from then on. Left out: the first row of the file."""
    members_count: Annotated[int, Ge(1), Le(1000)] = 400
    """Weathers drawn about the forecast. 1: the forecast alone, as if it were certain. Fewer than 400 (a plan's
    replications) share their weather, and a risk from the weather is then known less well than its ± says."""
    temperature_spread_c: Annotated[float, Ge(0), Le(5)] = 1.5
    """Standard deviation of the air temperature about its forecast, one day ahead. Common practice, no source."""
    dew_point_spread_c: Annotated[float, Ge(0), Le(5)] = 1.5
    """The same of the dew point, which carries the humidity. Common practice, no source."""
    wind_spread_percent: Annotated[float, Ge(0), Le(100)] = 25.0
    """The same of wind and gusts, of the forecast's own value. Common practice, no source."""
    cloud_spread_percent: Annotated[float, Ge(0), Le(50)] = 20.0
    """The same of the cloud cover, in percent of the sky. Common practice, no source."""
    spread_growth_percent_per_day: Annotated[float, Ge(0), Le(30)] = 20.0
    """By how much all spreads grow for each day more, up to ten days ahead. Common practice, no source."""
    error_correlation_h: Annotated[float, Gt(0), Le(240)] = 12.0
    """After so many hours an error has forgotten all but 1/e of itself. Common practice, no source."""

    @property
    def spread(self) -> ForecastSpread:
        """How far the weather may turn out from this forecast."""
        return ForecastSpread(
            temperature_c=self.temperature_spread_c,
            dew_point_c=self.dew_point_spread_c,
            wind_percent=self.wind_spread_percent,
            cloud_percent=self.cloud_spread_percent,
            growth_percent_per_day=self.spread_growth_percent_per_day,
            correlation_h=self.error_correlation_h,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """The state of the check list, if one has been begun: a CSV file."""

    file: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PourSheet:
    """A whole checked sheet. Times of day are local in `project.time_zone`."""

    schema: Literal[1]
    project: Project
    hours: Annotated[tuple[Hours, ...], MinLen(1)]
    plant: Annotated[tuple[Plant, ...], MinLen(1)]
    trucks: Trucks
    pump: Annotated[tuple[Pump, ...], MinLen(1)]
    site_mixer: SiteMixer | None = None
    """In place of `plant`, `trucks` and `pump`, which are then not given."""
    crew: Crew
    vibrator: tuple[Vibrator, ...] = ()
    prices: Prices
    mix: dict[str, Mix]
    weather: WeatherFiles | None = None
    element: Annotated[tuple[Element, ...], MinLen(1)]
    pour: Annotated[tuple[Pour, ...], MinLen(1)]
    delivery_ban: tuple[DeliveryBan, ...] = ()
    noise_limit: tuple[NoiseLimit, ...] = ()
    noise_source: tuple[NoiseSource, ...] = ()
    overhead_line: tuple[OverheadLine, ...] = ()
    specification: Specification = field(default_factory=Specification)
    formwork: Formwork | None = None
    falsework: tuple[Falsework, ...] = ()
    joint: tuple[Joint, ...] = ()
    hold_point: tuple[HoldPoint, ...] = ()
    sampling: Sampling = field(default_factory=Sampling)
    allowance: Allowance = field(default_factory=Allowance)
    choices: Choices = field(default_factory=Choices)
    risk_limits: RiskLimits = field(default_factory=RiskLimits)
    readiness: Readiness | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """A file that the sheet was read from: its name beside the sheet, what it is, and the hash of its bytes."""

    name: str
    kind: Literal["sheet", "site", "elements", "forecast", "readiness"]
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedSheet:
    """A sheet with everything that it names: what intake hands on once all checks have passed."""

    sheet: PourSheet
    weather: WeatherSeries | None
    readiness: tuple[ReadinessItem, ...]
    files: tuple[InputFile, ...]
    """The sheet itself first."""
