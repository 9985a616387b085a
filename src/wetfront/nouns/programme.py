"""Several pours that share people, pumps, forms and a plant: the programme sheet, and the programme made from it."""

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, MinLen

from wetfront.nouns.element import Name
from wetfront.nouns.plan import Moments
from wetfront.nouns.site import WEEKDAYS, Price, Weekday

PROGRAMME_SCHEMA = 1
"""Raised when a key of programme.json changes its meaning or goes away."""
STRIKING_CAUTION = (
    "The hours until a form may be struck are the sheet's assumption, for booking forms and people only. Striking "
    "needs the temporary works coordinator's permit and the strength measured in the work, never this figure."
)

Gap = Annotated[float, Ge(0), Le(1440)]
Several = Annotated[int, Ge(1), Le(50)]
Hold = Annotated[float, Gt(0), Le(1000)]
Days = Annotated[int, Ge(0), Le(120)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedCrew:
    """Placing gangs of one kind; each serves one pour at a time."""

    id: Name
    count: Several = 1
    between_pours_min: Gap
    """From the end of one pour until the gang can place the first concrete of the next."""
    held_until: Literal["end of placing", "end of finishing"] = "end of finishing"


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedPump:
    """Pumps or skips of one kind; each serves one pour at a time."""

    id: Name
    count: Several = 1
    between_pours_min: Gap
    """Washing out, moving and setting up again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikingTime:
    """Low, usual and high time from the end of placing until the form may be struck: 5 %, 50 % and 95 %.

    An assumption for booking forms. Striking itself needs a permit and measured strength.
    """

    low: Hold
    usual: Hold
    high: Hold


@dataclass(frozen=True, slots=True, kw_only=True)
class FormSet:
    """Sets of forms of one kind; each stands round one pour at a time."""

    id: Name
    count: Several = 1
    until_struck_h: StrikingTime
    """By the clock, nights and weekends counted: concrete hardens then as well."""
    strike_clean_reset_h: Annotated[float, Gt(0), Le(500)]
    """Working hours from the first tie undone to the set ready for the next pour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedPlant:
    """What a plant keeps for this site. A missing figure is not a limit."""

    id: Name
    most_in_a_day_m3: Annotated[float, Gt(0), Le(20_000)] | None = None
    most_at_once_m3_per_h: Annotated[float, Gt(0), Le(1000)] | None = None
    """Of all pours that run at the same time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammePour:
    """One pour of a pour sheet, the days on which it may be, and what it takes from the shared resources."""

    id: Name
    """Its name in the programme."""
    sheet: Name
    """File name of the pour sheet, beside the programme or reached from there."""
    pour: str = ""
    """Its id in that sheet; left out, the same as `id`."""
    earliest: dt.date
    latest: dt.date
    preferred: dt.date | None = None
    """Days after it count as late; left out, the earliest."""
    crew: str = ""
    pump: str = ""
    form_set: str = ""
    plant: str = ""
    late_cu_per_day: Price = 0.0
    """What each calendar day after the preferred one costs the project."""
    fixed: bool = False
    """Stays on its preferred day."""
    placed_from: dt.datetime | None = None
    """Of a pour that has been done: its first concrete."""
    placed_until: dt.datetime | None = None
    """Of a pour that has been done: the end of placing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PourOrder:
    """A pour comes after others, by at least so many calendar days."""

    pour: Name
    after: Annotated[tuple[Name, ...], MinLen(1)]
    least_days_between: Days = 0
    """0: on the same day at the earliest, once the others are placed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbours:
    """Pours, in whatever order, of which any two lie at least so many calendar days apart."""

    pours: Annotated[tuple[Name, ...], MinLen(2)]
    least_days_between: Annotated[int, Ge(1), Le(120)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeSheet:
    """A whole programme sheet."""

    schema: Literal[1]
    title: Name
    first_day: dt.date
    last_day: dt.date
    working_days: Annotated[tuple[Weekday, ...], MinLen(1)] = WEEKDAYS[:5]
    holidays: tuple[dt.date, ...] = ()
    """Nobody pours, strikes or sets forms on these."""
    work_start_local: dt.time
    """Hours in which forms are struck, cleaned and set; a pour keeps the hours of its own sheet."""
    work_end_local: dt.time
    allow_without_forecast: bool = False
    """Days beyond the forecast may be booked, with durations of the nearest day that has one."""
    chance: Annotated[float, Ge(0.5), Le(0.99)] = 0.9
    """Share of the simulated pours after which a resource must be free for the next one."""
    moved_pour_cu: Price = 0.0
    """What it costs to move a pour to another day than in the programme before: bookings, letters, goodwill."""
    moved_cu_per_day: Price = 0.0
    pour: Annotated[tuple[ProgrammePour, ...], MinLen(1)]
    crew: tuple[SharedCrew, ...] = ()
    pump: tuple[SharedPump, ...] = ()
    form_set: tuple[FormSet, ...] = ()
    plant: tuple[SharedPlant, ...] = ()
    order: tuple[PourOrder, ...] = ()
    neighbours: tuple[Neighbours, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One resource as one pour holds it."""

    kind: Literal["crew", "pump", "form set"]
    id: str
    start: dt.datetime
    until: dt.datetime
    """Free again with the programme's chance."""
    form: Moments | None
    """Of a form set only: when it is struck, cleaned and set again (5, 50, 95 %)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPour:
    """A pour on its day. Nothing but the programme's bookings: the pour's own plan says how it is done."""

    pour: str
    title: str
    sheet: str
    pour_in_sheet: str
    day: dt.date
    start: dt.datetime
    """First concrete."""
    start_window: tuple[dt.datetime, dt.datetime]
    """Earliest and latest of the looked-at starts of that day that leave every other pour as it is."""
    end_of_placing: Moments
    end_of_finishing: Moments
    order_m3: float
    cost_cu: float
    late_days: int
    done: bool
    resources: tuple[Held, ...]
    slack_min: float | None
    """From when all it takes is free, with the programme's chance, to its start; None: nobody before it."""
    slack_by: str
    """Which resource or pour leaves the least."""
    days_in_hand: int
    """To its latest day."""
    chance_of_start_as_planned: float
    """Share of the simulated weeks in which all it takes is free by its start."""
    forecast: str
    """Empty: planned on that day's own forecast; else where the durations come from."""
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A pour that found no day, and why not, day by day."""

    pour: str
    title: str
    reason: str
    days: tuple[tuple[dt.date, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Rules that cannot all be kept: without any one of them the others can."""

    text: str
    pours: tuple[str, ...]
    resources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPour:
    """A pour whose day or start differs from the programme before."""

    pour: str
    from_start: dt.datetime
    to_start: dt.datetime | None
    """None: it has no day any more."""
    days: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How good the programme is known to be."""

    optimal: bool
    """True: no better one exists among the looked-at days and starts."""
    gap_cu: float
    """Not proven: at most so much could be saved."""
    options_count: int
    replications_count: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """The programme of all pours of a sheet."""

    schema: int
    program: str
    title: str
    project: str
    currency: str
    time_zone: str
    invented: bool
    first_day: dt.date
    last_day: dt.date
    complete: bool
    """True when every pour has a day."""
    chance: float
    pours: tuple[PlannedPour, ...]
    """In order of time."""
    left_out: tuple[LeftOut, ...]
    conflicts: tuple[Conflict, ...]
    """Where pours wanted the same thing; in a complete programme these have been solved by moving pours."""
    proposals: tuple[str, ...]
    """Smallest changes, each of which gives every pour a day."""
    happened: tuple[str, ...]
    """What made a new programme necessary, in words."""
    moved: tuple[MovedPour, ...]
    kept_count: int
    """Pours of the programme before that keep day and start."""
    cost_cu: float
    late_cu: float
    cautions: tuple[str, ...]
    proof: Proof
    inputs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """What a programme before says about one pour: all that a new one must know of it."""

    pour: str
    day: dt.date
    start: dt.datetime
