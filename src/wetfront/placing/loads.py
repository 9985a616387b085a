"""The loads of one replication: batched, driven, queued, judged and pumped.

A recursion over loads in place of a list of events: before a load is called off, every load that is on site by then
has been served, in order of arrival; a load called off later cannot arrive before. The rules: docs/placing-model.md.
"""

from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush, heapreplace
from math import ceil, inf, isnan

from wetfront.acceptance import Cause, refused_for
from wetfront.errors import OutOfRange
from wetfront.placing.chance import Chance
from wetfront.placing.model import REFUSAL_REASONS, PourModel
from wetfront.placing.seen import Seen
from wetfront.placing.stream import VOLUME_GUARD_M3, Stream
from wetfront.placing.times import AirTable, after_intervals, due_min, pumping_min

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
    is_seen: bool = False
    """Its end has been seen."""

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

    def __init__(self, model: PourModel, stream: Stream, chance: Chance, replication: int, air_c: AirTable):
        self.supply, self.site, self.acceptance, self.concrete = (
            model.supply,
            model.site,
            model.acceptance,
            model.concrete,
        )
        self.stream, self.air_c, self.seen = stream, air_c, model.seen
        self.now = -inf if self.seen is None else self.seen.now_min
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
        self.pump_free = self.last_entered = -inf
        self.last_end: float | None = None
        self.position_m3 = self.work_done_min = 0.0
        self.cells_begun = 0
        self.breaks = list(reversed(self.site.breaks))
        self.up_left = self.up[0]

    def run(self) -> LoadLog:
        """Call off, serve and pump until nothing is missing and no truck is under way."""
        number = 0
        if self.seen is not None:
            number = self.seen.loads_count
            self._take_over(self.seen)
        while (start := self._start_of(number)) < inf:
            self._call_off(number, start)
            number += 1
        return self.log

    # What has been seen

    def _take_over(self, seen: Seen) -> None:
        """Loads that have been seen, as far as they have: those at their end are served, the others wait or pump."""
        for number in range(seen.loads_count):
            plant = self.supply.plant_of(number)
            begun, batched, reached = (
                float(column[number]) for column in (seen.batching_min, seen.batched_min, seen.reached_min)
            )
            batched = begun + self.batching[number] if isnan(batched) else batched
            arrival = reached
            if isnan(reached):
                reached = max(batched + self.haul[number], self.now)
                arrival = after_intervals(reached, self.supply.bans)
            load = Load(number, plant, -1, float(seen.volume_m3[number]), begun, batched, reached, arrival)
            load.age_from_min = begun if self.acceptance.age_counted_from == "loading" else batched
            self.log.loads.append(load)
            self.plant_free[plant] = max(self.plant_free[plant], batched)
            self.last_start = max(self.last_start, begun)
            self.called_m3 += load.volume_m3
            if isnan(seen.end_min[number]):
                start = float(seen.start_min[number])
                heappush(self.on_road, (reached if isnan(start) else -inf, number))
        for number in seen.served:
            self._serve_seen(seen, self.log.loads[number])
        self.work_done_min = self.stream.work_until_min(self.position_m3)
        self._trucks_after(seen)

    def _serve_seen(self, seen: Seen, load: Load) -> None:
        number, load.is_seen = load.number, True
        load.entered_min = max(load.arrival_min, self.place_free[0])
        load.start_min, load.end_min = float(seen.start_min[number]), float(seen.end_min[number])
        load.temperature_c = self._temperature_at(load.start_min, load)
        load.stream_from_m3, load.refused = self.position_m3, int(seen.refused[number])
        if load.refused == ACCEPTED:
            load.used_m3 = float(seen.used_m3[number])
            self.position_m3 += load.used_m3
            self.last_end = load.end_min
        if load.volume_m3 - load.used_m3 > VOLUME_GUARD_M3:
            self.sent_back.append((load.start_min, load.volume_m3 - load.used_m3))
        left = float(seen.left_min[number])
        load.left_min = load.end_min + self.site.wash_min if isnan(left) else left
        load.truck_free_min = load.left_min + self.back[number]
        heapreplace(self.place_free, load.end_min)
        self.pump_free = load.end_min
        self.log.served.append(load)

    def _trucks_after(self, seen: Seen) -> None:
        """Each load took the truck that had been free for longest: those that came back last are left."""
        for plant, fleet in enumerate(self.trucks):
            called = sum(load.plant == plant for load in self.log.loads)
            free = [time for time, _ in fleet]
            free += [load.truck_free_min for load in self.log.served if load.plant == plant]
            self.trucks[plant] = [(time, truck) for truck, time in enumerate(sorted(free)[called:])]

    def _seen_start(self, number: int) -> float | None:
        """When the pump took a load whose end has not been seen; None where it has not."""
        if self.seen is None or number >= self.seen.loads_count or isnan(self.seen.start_min[number]):
            return None
        return float(self.seen.start_min[number])

    # Call-off

    def _start_of(self, number: int) -> float:
        """When the plant begins load `number`, infinite when nothing is missing. Serves all loads on site by then."""
        if number >= len(self.batching):
            self._serve_all()
            if self._missing_m3(inf) <= VOLUME_GUARD_M3:
                return inf
            raise OutOfRange("draws", number + 1, f"at most {len(self.batching)} loads", "the table of draws")
        plant = self.supply.plant_of(number)
        due = max(due_min(self.supply, number), self.plant_free[plant], self.last_start)
        while True:
            fleet = self.trucks[plant]
            start = self._after_bans(self._when_needed(max(due, fleet[0][0] if fleet else inf)), plant)
            if not self.on_road or self.log.loads[self.on_road[0][1]].arrival_min > start:
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
        plant = self.supply.plant_of(number)
        _, truck = heappop(self.trucks[plant])
        batched = start + self.batching[number]
        reached = max(batched + self.haul[number], self.now)
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
        load.entered_min = max(load.arrival_min, self.place_free[0], self.last_entered)
        self.last_entered = load.entered_min
        ready = max(load.entered_min + self.site.position_min, self.now)
        under_way = self._seen_start(load.number)
        load.start_min = self._pump_takes(ready) if under_way is None else under_way
        load.temperature_c = self._temperature_at(load.start_min, load)
        load.speed = self.speed[load.number]
        load.stream_from_m3 = self.position_m3
        load.end_min = load.start_min
        used = min(load.volume_m3, self.needed_m3 - self.position_m3)
        load.refused = self._judge(load, used) if under_way is None or used <= VOLUME_GUARD_M3 else ACCEPTED
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
        if self.seen is not None and load.number < self.seen.loads_count:
            measured = float(self.seen.temperature_c[load.number])
            if not isnan(measured):
                return measured
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
