"""The loads of one replication: batched, driven, queued, judged and pumped.

A recursion over loads in place of a list of events: before a load is called off, every load that is on site by then
has been served, in order of arrival; a load called off later cannot arrive before. The rules: docs/placing-model.md.
"""

from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush, heapreplace
from math import ceil, inf

from wetfront.acceptance import Cause, refused_for
from wetfront.errors import OutOfRange
from wetfront.placing.chance import Chance
from wetfront.placing.model import REFUSAL_REASONS, Interval, PourModel, SiteWork, Supply
from wetfront.placing.stream import VOLUME_GUARD_M3, Stream

ACCEPTED = 0
TOO_OLD = REFUSAL_REASONS.index(Cause.AGE)
WRONG_TEMPERATURE = REFUSAL_REASONS.index(Cause.TEMPERATURE)
WRONG_CONSISTENCE = REFUSAL_REASONS.index(Cause.CONSISTENCE)
NOT_NEEDED = REFUSAL_REASONS.index("not needed")


@dataclass(slots=True)
class Load:
    """One load from call-off to the truck's return."""

    number: int
    plant: int
    truck: int
    volume_m3: float
    batching_min: float
    batched_min: float
    reached_min: float
    arrival_min: float
    age_from_min: float = 0.0
    """Begin of the age that acceptance judges."""
    entered_min: float = 0.0
    start_min: float = inf
    end_min: float = 0.0
    left_min: float = 0.0
    truck_free_min: float = 0.0
    temperature_c: float = 0.0
    refused: int = ACCEPTED
    stream_from_m3: float = 0.0
    used_m3: float = 0.0
    work_from_min: float = 0.0
    """Pumping time at the cells' own rates before this load."""
    speed: float = 1.0
    moves_before: float = 0.0
    """Pauses before all cells that begin before this load."""

    @property
    def age_at_end_min(self) -> float:
        """Age when the last of it leaves the truck."""
        return self.end_min - self.age_from_min


@dataclass(slots=True)
class Repair:
    """A breakdown: which load was on the pump, after how much of its pumping time, how long."""

    load: Load
    work_offset_min: float
    duration_min: float


@dataclass(slots=True)
class LoadLog:
    """What happened to the loads of one replication."""

    stream: Stream
    loads: list[Load] = field(default_factory=list)
    """By call-off."""
    served: list[Load] = field(default_factory=list)
    """By arrival."""
    repairs: list[Repair] = field(default_factory=list)
    breaks_taken: list[tuple[float, float]] = field(default_factory=list)
    longest_gap_min: float = 0.0

    @property
    def accepted(self) -> list[Load]:
        """The loads that the pump took, in order."""
        return [load for load in self.served if load.refused == ACCEPTED]


class LoadRun:
    """One replication under way."""

    def __init__(self, model: PourModel, stream: Stream, chance: Chance, replication: int, air_c: "AirTable"):
        self.supply, self.site, self.acceptance, self.concrete = (
            model.supply,
            model.site,
            model.acceptance,
            model.concrete,
        )
        self.stream, self.air_c = stream, air_c
        self.needed_m3 = stream.total_m3
        measures = self.supply.balance_after_measuring
        self.most_for_balance_m3 = self.supply.load_m3 + VOLUME_GUARD_M3 if measures else VOLUME_GUARD_M3
        """Not more missing than this: the load to call is the balance load, or there is none to call."""
        rows = (chance.batching_min, chance.haul_min, chance.return_min, chance.speed)
        self.batching, self.haul, self.back, self.speed = (row[replication].tolist() for row in rows)
        self.plant_temperature = chance.plant_temperature_c[replication].tolist()
        self.consistence = chance.consistence_u[replication].tolist()
        self.up, self.repair = chance.up_min[replication].tolist(), chance.repair_min[replication].tolist()
        self.log = LoadLog(stream)
        self.on_road: list[tuple[float, int]] = []
        """Called off and not yet served: reached the gate at, number."""
        begin = self.supply.first_batching_min
        self.trucks = [[(begin, truck) for truck in range(plant.trucks_count)] for plant in self.supply.plants]
        for fleet in self.trucks:
            heapify(fleet)
        self.plant_free = [plant.opens_min for plant in self.supply.plants]
        self.last_start = -inf
        self.called_m3 = 0.0
        self.sent_back: list[tuple[float, float]] = []
        """Refused loads by time: when, volume."""
        self.place_free = [-inf] * self.site.discharge_places_count
        self.pump_free = -inf
        self.last_end: float | None = None
        self.position_m3 = self.work_done_min = 0.0
        self.cells_begun = 0
        self.breaks = list(reversed(self.site.breaks))
        self.up_left = self.up[0]

    def run(self) -> LoadLog:
        """Call off, serve and pump until nothing is missing and no truck is under way."""
        number = 0
        while (start := self._start_of(number)) < inf:
            self._call_off(number, start)
            number += 1
        return self.log

    # Call-off

    def _start_of(self, number: int) -> float:
        """When the plant begins load `number`, infinite when nothing is missing. Serves all loads on site by then."""
        if number >= len(self.batching):
            self._serve_all()
            if self._missing_m3(inf) <= VOLUME_GUARD_M3:
                return inf
            raise OutOfRange("draws", number + 1, f"at most {len(self.batching)} loads", "the table of draws")
        plant = self.supply.plant_of_load[number % len(self.supply.plant_of_load)]
        due = max(due_min(self.supply, number), self.plant_free[plant], self.last_start)
        while True:
            fleet = self.trucks[plant]
            start = self._after_bans(self._when_needed(max(due, fleet[0][0] if fleet else inf)), plant)
            if not self.on_road or after_intervals(self.on_road[0][0], self.supply.bans) > start:
                return start
            self._serve()

    def _missing_m3(self, now: float) -> float:
        """What is neither in the work nor under way, as it is known at this time."""
        missing = self.needed_m3 - self.called_m3
        if self.sent_back:
            missing += sum(volume for at, volume in self.sent_back if at <= now)
        return missing

    def _when_needed(self, earliest: float) -> float:
        """First time from `earliest` on at which one more load is called off, as far as is known yet."""
        if earliest == inf or self._missing_m3(earliest) > self.most_for_balance_m3:
            return earliest
        last = self.log.loads[-1] if self.log.loads else None
        moments = [earliest, *(at for at, _ in self.sent_back if at > earliest)]
        if last is not None and earliest < last.start_min < inf:
            moments.append(last.start_min)
        for moment in sorted(moments):
            missing = self._missing_m3(moment)
            must_measure = missing <= self.most_for_balance_m3 and last is not None and last.start_min > moment
            if missing > VOLUME_GUARD_M3 and not must_measure:
                return moment
        return inf

    def _after_bans(self, start: float, plant: int) -> float:
        """The start moved on so that the expected arrival falls in no ban."""
        if start == inf:
            return start
        source = self.supply.plants[plant]
        on_the_way = source.batching_min.mean + source.haul_min.mean
        expected = start + on_the_way
        allowed = after_intervals(expected, self.supply.bans)
        return start if allowed == expected else allowed - on_the_way

    def _call_off(self, number: int, start: float) -> None:
        plant = self.supply.plant_of_load[number % len(self.supply.plant_of_load)]
        _, truck = heappop(self.trucks[plant])
        batched = start + self.batching[number]
        reached = batched + self.haul[number]
        volume = self._size_of_load(self._missing_m3(start))
        load = Load(number, plant, truck, volume, start, batched, reached, after_intervals(reached, self.supply.bans))
        load.age_from_min = start if self.acceptance.age_counted_from == "loading" else batched
        self.log.loads.append(load)
        heappush(self.on_road, (reached, number))
        self.plant_free[plant] = batched
        self.last_start = start
        self.called_m3 += volume

    def _size_of_load(self, missing_m3: float) -> float:
        step = self.supply.call_off_step_m3
        if step is None:
            return self.supply.load_m3
        called = ceil((missing_m3 - VOLUME_GUARD_M3) / step) * step
        return min(self.supply.load_m3, max(called, self.supply.smallest_load_m3))

    # On site

    def _serve_all(self) -> None:
        while self.on_road:
            self._serve()

    def _serve(self) -> None:
        """The next truck in order of arrival: place, pump, judgement, discharge, return."""
        load = self.log.loads[heappop(self.on_road)[1]]
        load.entered_min = max(load.arrival_min, self.place_free[0])
        ready = load.entered_min + self.site.position_min
        load.start_min = self._pump_takes(ready)
        load.temperature_c = self._temperature_at(load.start_min, load)
        load.speed = self.speed[load.number]
        load.stream_from_m3 = self.position_m3
        load.end_min = load.start_min
        used = min(load.volume_m3, self.needed_m3 - self.position_m3)
        load.refused = self._judge(load, used)
        if load.refused == ACCEPTED:
            self._discharge(load, used)
        elif load.refused != NOT_NEEDED:
            self.sent_back.append((load.start_min, load.volume_m3))
        load.left_min = load.end_min + self.site.wash_min
        load.truck_free_min = load.left_min + self.back[load.number]
        heapreplace(self.place_free, load.end_min)
        self.pump_free = load.end_min
        heappush(self.trucks[load.plant], (load.truck_free_min, load.truck))
        self.log.served.append(load)

    def _pump_takes(self, ready: float) -> float:
        """When the pump takes a truck that is ready: in no weather stop, and after a break that is due by then."""
        taken = after_intervals(max(ready, self.pump_free), self.site.weather_stops)
        while self.breaks and taken >= self.breaks[-1][0]:
            planned, duration = self.breaks.pop()
            begin = max(planned, self.pump_free)
            self.log.breaks_taken.append((begin, duration))
            self.pump_free = begin + duration
            taken = after_intervals(max(ready, self.pump_free), self.site.weather_stops)
        return taken

    def _temperature_at(self, time: float, load: Load) -> float:
        """Concrete temperature so long after batching: the wanted temperature of the transport rule, solved for it."""
        per_h = self.concrete.change_per_h
        fresh: float = self.plant_temperature[load.number]
        if per_h == 0.0:
            return fresh
        share = per_h * (time - load.batched_min) / 60.0
        return (fresh + share * self.air_c.at(time)) / (1.0 + share)

    def _judge(self, load: Load, used_m3: float) -> int:
        limits = self.acceptance
        if used_m3 <= VOLUME_GUARD_M3:
            return NOT_NEEDED
        judged = load.start_min
        if limits.age_judged_at == "expected-end":
            judged += self._nominal_min(load.start_min, used_m3)
        met = self.consistence[load.number] >= limits.consistence_refusal_probability
        cause = refused_for(limits, judged - load.age_from_min, load.temperature_c, consistence_met=met)
        return ACCEPTED if cause is None else REFUSAL_REASONS.index(cause)

    def _nominal_min(self, start_min: float, used_m3: float) -> float:
        """Expected discharge of the next volume: the cells' own rates or the gang's, and the moves, no breakdown."""
        reached = self.position_m3 + used_m3
        moves = self.stream.plan.moves_until
        move = moves[self.stream.cells_begun(reached)] - moves[self.cells_begun]
        work = self.stream.work_until_min(reached) - self.work_done_min
        return pumping_min(self.site, start_min, used_m3, work, 1.0) + move

    def _discharge(self, load: Load, used_m3: float) -> None:
        moves = self.stream.plan.moves_until
        load.used_m3, load.work_from_min, load.moves_before = used_m3, self.work_done_min, moves[self.cells_begun]
        self.position_m3 += used_m3
        self.work_done_min = self.stream.work_until_min(self.position_m3)
        self.cells_begun = self.stream.cells_begun(self.position_m3)
        own = self.work_done_min - load.work_from_min
        work = pumping_min(self.site, load.start_min, used_m3, own, load.speed)
        load.speed = own / work if self.site.gang_hours else load.speed
        move = moves[self.cells_begun] - load.moves_before
        load.end_min = load.start_min + work + move + self._repairs_min(load, work)
        if self.last_end is not None:
            self.log.longest_gap_min = max(self.log.longest_gap_min, load.start_min - self.last_end)
        self.last_end = load.end_min

    def _repairs_min(self, load: Load, work: float) -> float:
        """Time lost by breakdowns during so much pumping."""
        lost = offset = 0.0
        while self.up_left < work - offset:
            stops = len(self.log.repairs)
            if stops + 1 >= len(self.up):
                raise OutOfRange("draws", stops + 1, f"less than {len(self.up)} breakdowns", "the table of draws")
            offset += self.up_left
            duration = self.repair[stops]
            self.log.repairs.append(Repair(load, offset, duration))
            self.log.longest_gap_min = max(self.log.longest_gap_min, duration)
            lost += duration
            self.up_left = self.up[stops + 1]
        self.up_left -= work - offset
        return lost


def due_min(supply: Supply, number: int) -> float:
    """Load `number` is batched not before this."""
    due = supply.due_min
    if not due:
        return supply.first_batching_min + number * supply.interval_min
    return due[number] if number < len(due) else due[-1] + (number - len(due) + 1) * supply.interval_min


def pumping_min(site: SiteWork, start_min: float, used_m3: float, work_min: float, speed: float) -> float:
    """Pumping time of a load: `work_min` at the cells' own rates, or what the gangs need that are there meanwhile."""
    capacity, following = inf, []
    for begin, rate in site.gang_hours:
        if begin <= start_min:
            capacity = rate
        else:
            following.append((begin, rate))
    at, left = start_min, 1.0
    for begin, rate in following:
        whole = max(work_min, 60.0 * used_m3 / capacity) / speed
        if at + left * whole <= begin:
            break
        left -= (begin - at) / whole
        at, capacity = begin, rate
    return at - start_min + left * (max(work_min, 60.0 * used_m3 / capacity) / speed)


def after_intervals(time_min: float, intervals: tuple[Interval, ...]) -> float:
    """This time, or the end of the interval that it falls in; intervals are rising and apart."""
    for begin, end in intervals:
        if begin <= time_min < end:
            time_min = end
    return time_min


class AirTable:
    """Air temperature on equally spaced points from midnight, linear between."""

    def __init__(self, temperature_c: list[float], step_min: float):
        self.temperature_c, self.step_min = temperature_c, step_min

    def at(self, time_min: float) -> float:
        """Air temperature at this time; an error outside the table."""
        place = time_min / self.step_min
        before = int(place)
        if not 0 <= place <= len(self.temperature_c) - 1:
            end = (len(self.temperature_c) - 1) * self.step_min
            raise OutOfRange("air_temperature_c", time_min, f"0 to {end:g} min", "the table of air temperatures")
        if before == len(self.temperature_c) - 1:
            return self.temperature_c[-1]
        share = place - before
        return self.temperature_c[before] * (1 - share) + self.temperature_c[before + 1] * share
