"""What can happen to a pour: the kinds of event with their payloads.

A kind's name and schema number stay for ever. A new meaning is a new schema number; old events keep theirs.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from annotated_types import Ge, Gt, Le, Len

Name = Annotated[str, Len(1, 60)]
Words = Annotated[str, Len(0, 400)]
Volume = Annotated[float, Gt(0), Le(20)]
Celsius = Annotated[float, Ge(-60), Le(120)]
"""Wide enough for a faulty sensor: such a reading is kept, and told apart later."""
Decision = Literal["accept", "check-test", "refuse"]
CheckResult = Literal["pass", "fail", "open", "action", "not-applicable"]
StopReason = Literal[
    "no concrete", "pump", "blockage", "form", "rain", "wind", "accident", "break", "order of the site", "other"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRecorded:
    """One item of the check list as somebody found it."""

    item: Name
    result: CheckResult
    measured: Annotated[str, Len(0, 80)] = ""
    note: Words = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldReleased:
    """A hold point released by the role of the event."""

    hold_point: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldOverridden:
    """Work goes on although a hold point is open: a named person answers for it."""

    hold_point: Name
    why: Annotated[str, Len(1, 400)]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadArrived:
    """A load at the gate with what its ticket says. Empty or None: not printed, or not read."""

    ticket_number: Name
    volume_m3: Volume
    plant: Annotated[str, Len(0, 60)] = ""
    truck: Annotated[str, Len(0, 60)] = ""
    mix: Annotated[str, Len(0, 60)] = ""
    batched: dt.datetime | None = None
    left_plant: dt.datetime | None = None
    strength_class: Annotated[str, Len(0, 20)] = ""
    consistence_class: Annotated[str, Len(0, 20)] = ""
    remark: Words = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTested:
    """One test of a load. `portion`: the second test of the same sample is a check test."""

    ticket_number: Name
    test: Literal["slump", "flow", "slump-flow", "air", "temperature"]
    value: Annotated[float, Ge(-20), Le(1000)]
    """In mm, % or °C by the test."""
    portion: Literal["first", "check"] = "first"


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadDecided:
    """What a person decided about a load, and what the rules said at that moment."""

    ticket_number: Name
    decision: Decision
    rules_said: Annotated[str, Len(0, 400)] = ""
    why: Words = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlaced:
    """Where a load, or a part of it, went. `cells` are numbers of the lattice named by `lattice`."""

    ticket_number: Name
    place: Name
    """Strip, layer or form as the site calls it."""
    cells: tuple[Annotated[int, Ge(0), Le(1_000_000)], ...] = ()
    lattice: Annotated[str, Len(0, 64)] = ""
    placed_from: dt.datetime | None = None
    placed_until: dt.datetime | None = None
    volume_m3: Volume | None = None
    """None: the rest of the load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLeft:
    """A truck has left the site."""

    ticket_number: Name
    returned_m3: Annotated[float, Ge(0), Le(20)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedOnSite:
    """Water or admixture put into a drum."""

    ticket_number: Name
    substance: Literal["water", "admixture"]
    amount_l: Annotated[float, Gt(0), Le(1000)]
    product: Annotated[str, Len(0, 60)] = ""
    asked_by: Annotated[str, Len(0, 60)] = ""
    agreed_by: Annotated[str, Len(0, 60)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacingStopped:
    """Nothing is placed from now on."""

    cause: StopReason
    note: Words = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacingRestarted:
    """Concrete flows again."""

    note: Words = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacingEnded:
    """The last concrete of the pour, or of what is placed of it at an agreed joint."""

    at_joint: Annotated[str, Len(0, 60)] = ""
    surveyed_m3: Annotated[float, Gt(0), Le(20_000)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CalledOff:
    """What the plant was told."""

    order: Literal["send", "faster", "slower", "hold", "balance", "stop"]
    volume_m3: Annotated[float, Gt(0), Le(1000)] | None = None
    interval_min: Annotated[float, Gt(0), Le(600)] | None = None
    note: Words = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RemainingMeasured:
    """What is still to be placed, as measured on the spot."""

    volume_m3: Annotated[float, Ge(0), Le(20_000)]
    spread_m3: Annotated[float, Ge(0), Le(1000)]
    """Standard deviation of the measurement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherObserved:
    """Weather on the spot; what was not looked at stays None."""

    air_c: Celsius | None = None
    humidity_percent: Annotated[float, Ge(0), Le(100)] | None = None
    wind_m_per_s: Annotated[float, Ge(0), Le(60)] | None = None
    rain_mm_per_h: Annotated[float, Ge(0), Le(300)] | None = None
    concrete_surface_c: Celsius | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimensMade:
    """Specimens of one sample of one load."""

    sample_id: Name
    ticket_number: Name
    count: Annotated[int, Ge(1), Le(50)]
    note: Words = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceWorked:
    """A step of finishing on a part of the surface."""

    place: Name
    step: Literal["levelled", "floated", "trowelled", "hand finished", "covered", "misted"]
    until: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """A joint cut into the hardening surface."""

    place: Name
    depth_mm: Annotated[float, Gt(0), Le(1000)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Curing:
    """Curing of a part begun, changed or ended."""

    place: Name
    step: Literal["started", "changed", "ended"]
    method: Annotated[str, Len(0, 120)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureRead:
    """A reading of a sensor in or at the concrete, as it came."""

    sensor: Name
    value_c: Annotated[float, Ge(-300), Le(2000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormStruck:
    """A form or its props removed."""

    place: Name
    permit: Annotated[str, Len(0, 120)] = ""
    """The permit under which it was done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """Words about the pour, a load or a place."""

    text: Annotated[str, Len(1, 2000)]
    about: Annotated[str, Len(0, 60)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoTaken:
    """A photo, kept beside the journal under the hash of its bytes."""

    sha256: Annotated[str, Len(64, 64)]
    size_bytes: Annotated[int, Ge(1), Le(10_000_000)]
    media_type: Literal["image/jpeg", "image/png", "image/webp"]
    caption: Words = ""
    about: Annotated[str, Len(0, 60)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """The event named in `corrects` was a mistake and has nothing in its place."""


KINDS: Mapping[tuple[str, int], type] = {
    ("check-recorded", 1): CheckRecorded,
    ("hold-released", 1): HoldReleased,
    ("hold-overridden", 1): HoldOverridden,
    ("load-arrived", 1): LoadArrived,
    ("load-tested", 1): LoadTested,
    ("load-decided", 1): LoadDecided,
    ("load-placed", 1): LoadPlaced,
    ("load-left", 1): LoadLeft,
    ("added-on-site", 1): AddedOnSite,
    ("placing-stopped", 1): PlacingStopped,
    ("placing-restarted", 1): PlacingRestarted,
    ("placing-ended", 1): PlacingEnded,
    ("called-off", 1): CalledOff,
    ("remaining-measured", 1): RemainingMeasured,
    ("weather-observed", 1): WeatherObserved,
    ("specimens-made", 1): SpecimensMade,
    ("surface-worked", 1): SurfaceWorked,
    ("saw-cut", 1): SawCut,
    ("curing", 1): Curing,
    ("temperature-read", 1): TemperatureRead,
    ("form-struck", 1): FormStruck,
    ("noted", 1): Noted,
    ("photo-taken", 1): PhotoTaken,
    ("withdrawn", 1): Withdrawn,
}
Fact = Any
"""One of the classes of KINDS."""
_NAMES = {noun: key for key, noun in KINDS.items()}


def kind_of(fact: Fact) -> tuple[str, int]:
    """Name and schema number of a fact's kind."""
    return _NAMES[type(fact)]


def payload_of(fact: Fact) -> dict[str, Any]:
    """A fact as plain JSON values; what stands at its default is left out."""
    found = {}
    for entry in fields(fact):
        value = getattr(fact, entry.name)
        if value != entry.default:
            found[entry.name] = _plain(value)
    return found


def fact_of(kind: str, schema: int, payload: Mapping[str, Any]) -> Fact | None:
    """The typed fact of a checked payload; None for a kind of a newer program, which is kept but not understood.

    KeyError, TypeError or ValueError where the payload is not of its kind: the border checks that first.
    """
    noun = KINDS.get((kind, schema))
    if noun is None:
        return None
    hints = _hints(noun)
    return noun(**{key: _typed(value, hints[key]) for key, value in payload.items()})


@cache
def _hints(noun: type) -> dict[str, Any]:
    return get_type_hints(noun)


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value


def _typed(value: Any, hint: Any) -> Any:
    options = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    if dt.datetime in options and isinstance(value, str):
        return dt.datetime.fromisoformat(value)
    if any(get_origin(option) is tuple for option in options):
        return tuple(value)
    return float(value) if float in options and isinstance(value, int) and not isinstance(value, bool) else value
