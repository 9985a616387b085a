"""What the record tells of the day's levels: durations seen whole, and what is only known to lie between two values."""

import math
from dataclasses import dataclass, field

import numpy as np

from wetfront.forecast.cells import Filled, pumped_min
from wetfront.forecast.levels import Z95, Between, standard
from wetfront.forecast.record import Record, Recorded, Worked
from wetfront.placing.clock import clock_rate
from wetfront.placing.draws import DAY_LEVELS
from wetfront.placing.front import Clock
from wetfront.placing.model import Concrete, PourModel
from wetfront.placing.seen import Seen
from wetfront.placing.times import AirTable, pumping_min
from wetfront.planning.joint_clock import JointClock

MOVED_OVER_MIN = 5.0
"""Own rule: finishers who begin a strip within so long of ending another came as soon as they were free."""
LATEST_Z = Z95
"""Own rule: a start later than 95 % counts as this late. People come late more often than concrete sets so slowly, and
an edge must not be let wait for it."""


def min_per_m3(plan: PourModel) -> float:
    """Pumping time of a cubic metre at the usual rate of the cells."""
    return 60 * float(np.average(1 / plan.cells.rate_m3_per_h, weights=plan.cells.volume_m3))


def nominal_min(plan: PourModel, load: Recorded, usual_min_per_m3: float) -> float:
    """Pumping time of a load at the usual rate, or by the gang that is there."""
    work = load.placed_m3 * usual_min_per_m3
    return pumping_min(plan.site, load.start_min, load.placed_m3, work, 1.0)


@dataclass(frozen=True, slots=True)
class Observed:
    """In deviations from the median of the plan's law of a load."""

    values: dict[str, list[float]] = field(default_factory=lambda: {name: [] for name in DAY_LEVELS})
    """Seen whole, by level."""
    between: dict[str, list[Between]] = field(default_factory=lambda: {name: [] for name in DAY_LEVELS})
    """Not known whole, by level."""
    returns: dict[int, float] = field(default_factory=dict)
    """By load, numbered as in the record: the way back of its truck,"""
    latest_returns: dict[int, float] = field(default_factory=dict)
    """or how long it was at most."""


def observed(
    model: PourModel,
    record: Record,
    seen: Seen,
    waited_for_truck: frozenset[int],
    cells: Filled,
    clock: JointClock | None,
) -> Observed:
    """All that the record tells; `model`: with its loads and cells in the order of the record.

    `waited_for_truck`: loads that the plant could have begun earlier but for their truck. `clock`: for the setting of
    loads whose temperature was measured; without it they count as expected.
    """
    found = Observed()
    _of_loads(found, model, record, seen)
    _of_returns(found, model, record, seen, waited_for_truck)
    _of_setting(found, model, record, seen, cells, clock)
    return found


def _of_loads(found: Observed, model: PourModel, record: Record, seen: Seen) -> None:
    supply, site, concrete = model.supply, model.site, model.concrete
    air = AirTable(concrete.air_temperature_c.tolist(), concrete.clock_step_min)
    usual = min_per_m3(model)
    for number, load in enumerate(record.loads):
        plant = supply.plants[supply.plant_of(number)]
        has_left = not math.isnan(load.left_plant_min)
        if has_left and not math.isnan(load.batching_min) and load.left_plant_min > load.batching_min:
            found.values["batching"].append(standard(plant.batching_min, load.left_plant_min - load.batching_min))
        if has_left and load.arrived_min > load.left_plant_min:
            found.values["haul"].append(standard(plant.haul_min, load.arrived_min - load.left_plant_min))
        if not math.isnan(load.temperature_c) and concrete.plant_temperature_sd_c > 0:
            at = seen.start_min[number] if seen.start_min[number] == seen.start_min[number] else load.arrived_min
            part = concrete.change_per_h * (at - seen.batched_min[number]) / 60
            fresh = load.temperature_c * (1 + part) - (part * air.at(at) if part else 0.0)
            found.values["temperature"].append((fresh - concrete.plant_temperature_c) / concrete.plant_temperature_sd_c)
        if load.is_out and not load.is_refused and load.placed_m3 > 0.5 * supply.load_m3:
            pumping = pumped_min(load, record)
            nominal = nominal_min(model, load, usual)
            if pumping > 0 and not site.rate_is_held:
                found.values["speed"].append(standard(site.speed, nominal / pumping))


def _of_returns(
    found: Observed, model: PourModel, record: Record, seen: Seen, waited_for_truck: frozenset[int]
) -> None:
    """A truck that is seen again was back when its next load was begun: just then where the plant waited for it."""
    supply, site_left = model.supply, seen.site_left_min(model.site.wash_min)
    last_of: dict[str, int] = {}
    for number in np.argsort(seen.batching_min, kind="stable").tolist():
        load = record.loads[number]
        truck = load.truck.strip().casefold()
        if not truck:
            continue
        before = last_of.get(truck)
        last_of[truck] = number
        if before is None:
            continue
        left = site_left[before]
        begun = load.left_plant_min if math.isnan(load.batching_min) else load.batching_min
        law = supply.plants[supply.plant_of(before)].return_min
        if not begun > left or law.cv == 0:
            continue
        took = standard(law, begun - left)
        if number in waited_for_truck and not math.isnan(load.batching_min):
            found.returns[before] = took
            found.values["return"].append(took)
        else:
            found.latest_returns[before] = took
            found.between["return"].append(Between(-math.inf, took))


def _of_setting(
    found: Observed, model: PourModel, record: Record, seen: Seen, cells: Filled, clock: JointClock | None
) -> None:
    """A strip that is worked has reached the ready point by its own clock.

    That tells how fast the day's concrete sets where finishers were waiting for the strip, and that it sets no slower
    where they came as soon as they had ended another. Where the record tells neither, it tells nothing: a start that
    follows readiness, taken for one that comes some time after it, would make every day seem to set fast. Nothing is
    told of the load alone: cells by volume may give a strip's last concrete to its neighbour.
    """
    finishing, ready = model.finishing, model.finishing.ready_clock_min
    if ready <= 0 or model.concrete.set_factor_sd <= 0:
        return
    first_of: dict[str, Worked] = {}
    for work in record.worked:
        first_of.setdefault(work.place.casefold(), work)
    until = model.concrete.clock_step_min * (len(model.concrete.clock_min) - 1)
    earliest: dict[int, tuple[float, Worked]] = {}
    for strip, name in enumerate(finishing.strip_names):
        of_strip = np.flatnonzero(model.cells.strip == strip)
        if name.casefold() not in first_of or not len(of_strip) or of_strip[-1] >= len(cells.placed_min):
            continue
        work, last = first_of[name.casefold()], int(of_strip[-1])
        number, placed = int(cells.cell_load[last]), float(cells.placed_min[last])
        if not placed < work.begun_min < until:
            continue
        batching, measured_c = float(seen.batching_min[number]), record.loads[number].temperature_c
        shown, spread = _shown(model.concrete, clock, work.begun_min, placed, batching, measured_c)
        speed = math.log(ready / shown) / spread if spread > 0 else 0.0
        # Of two strips that end with the same load the one that was begun sooner after its placing tells more.
        if number not in earliest or speed > earliest[number][0]:
            earliest[number] = speed, work
    for speed, work in earliest.values():
        finishers = _finishers(work, record, finishing.crews_count)
        if finishers == "waiting":
            found.values["set"].append(max(speed, -LATEST_Z))
        elif finishers == "busy":
            found.between["set"].append(Between(speed, math.inf))


def _shown(
    concrete: Concrete, clock: JointClock | None, at: float, placed: float, batching: float, measured_c: float
) -> tuple[float, float]:
    """What the setting clock of a cell usually shows, and the spread of the logarithm of its speed."""
    if clock is not None and not math.isnan(measured_c):
        return clock.shown_min(at, placed, batching, measured_c), clock.own_spread
    age = 0.0
    if concrete.counts_age:
        known = concrete.plant_temperature_c if math.isnan(measured_c) else measured_c
        age = float(clock_rate(known, concrete.activation_temperature_k)) * (placed - batching)
    return age + float(np.diff(Clock(concrete).at(np.array([placed, at])))[0]), concrete.set_factor_sd


def _finishers(work: Worked, record: Record, crews_count: int) -> str:
    """What the finishers did just before they began a strip: "waiting", "busy", or "" where the record does not say."""
    since = work.begun_min - MOVED_OVER_MIN
    before = [each for each in record.worked if each is not work and each.begun_min <= work.begun_min]
    ends = [each.until_min for each in before]
    if any(map(math.isnan, ends)) or not ends:
        return ""
    return "waiting" if sum(end > since for end in ends) < crews_count else "busy"
