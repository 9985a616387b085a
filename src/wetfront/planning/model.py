"""A sheet, the day's weather and one decision become the simulator's model."""

import math
from collections.abc import Callable
from dataclasses import asdict, replace
from functools import partial
from math import inf
from typing import Any, TypeVar

import numpy as np

from wetfront.acceptance import figures
from wetfront.nouns.element import DeckSlab, Element, GroundSlab, MassBlock, Slab
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.site import Plant, TravelTime
from wetfront.placing.matched import matched_due_min
from wetfront.placing.model import (
    Acceptance,
    Concrete,
    FinishingWork,
    Floats,
    Ints,
    Lognormal,
    PlantSupply,
    PourModel,
    SiteWork,
    Supply,
    WeatherMembers,
)
from wetfront.placing.sequence import PourParts
from wetfront.planning.arrange import Arrangement, arrangement
from wetfront.planning.candidate import Candidate
from wetfront.planning.gangs import breaks_taken, crew_hours, gang_hours
from wetfront.planning.situation import Situation
from wetfront.planning.thermal import CHANGE_PER_H, CLOCK_STEP_MIN, CLOCK_TIMES_MIN, slower_clock_share, thermal_of

Part = TypeVar("Part")
BATCHING_CV, RETURN_CV, SPEED_CV, REPAIR_CV, FINISHING_CV = 0.2, 0.25, 0.15, 0.6, 0.3
"""Coefficients of variation, chosen: replace by the site's own record where there is one."""
SPREADS_SOURCE = Source("spread of batching, return, pumping, repair and finishing times, chosen", Provenance.OWN_RULE)
CONSISTENCE_REFUSED = 0.01
"""Share of loads refused for consistence, chosen."""
DAY_SHARE = 0.3
"""Own rule until finished pours tell: share of the variance of a load's figures that all loads of a day share."""
SET_MARGIN_MIN = 30.0
"""Kept between the end of a wait and the initial set: own rule."""
FINISH_OPENS_AT = {"power-trowelled": 1.0, "hand-floated": 0.5, "tamped": 0.0, "none": 0.0}
"""Share of the initial set from which the surface may be worked: own rule (bleeding is over at about half of it)."""
_Z95 = 1.6448536269514722


class WeatherModels:
    """The parts of a model that the weather makes, for replications `first` to `first + count`.

    Candidates that place alike at the same time share one object of each: what is worked out from it is then worked
    out once. Without replications only the forecast's own weather is there.
    """

    def __init__(self, situation: Situation, first: int = 0, count: int = 0):
        self.situation, self.first, self.count = situation, first, count
        self.known: dict[tuple[Any, ...], Any] = {}
        self.air_c: Floats | None = None

    def concrete(self, candidate: Candidate) -> Concrete:
        """By the forecast."""
        return self._once("concrete", candidate, lambda: concrete(self.situation, candidate))

    def finishing(self, candidate: Candidate, parts: PourParts) -> FinishingWork:
        """By the forecast; one for each arrangement."""
        make = partial(_finishing, self.situation, candidate, parts.finished_strip_names, parts.finished_strip_area_m2)
        return self._once(parts, candidate, make)

    def members(self, candidate: Candidate) -> WeatherMembers | None:
        """The weathers that the replications meet; None without an ensemble."""
        drawn = self.situation.weather.drawn
        if drawn is None or self.count == 0:
            return None
        first, rows = drawn.rows(self.first, self.count)
        if self.air_c is None:
            self.air_c = self.situation.weather.air_rows(CLOCK_TIMES_MIN, rows)
        make = partial(_members, self.situation, candidate, first, rows, self.air_c)
        return self._once("members", candidate, make)

    def _once(self, what: object, candidate: Candidate, make: Callable[[], Part]) -> Part:
        times = (candidate.start_min, candidate.rate_m3_per_h)
        concrete = (candidate.mix_option, candidate.cooler_by_c, candidate.longer_set_factor)
        crews = (candidate.gang, candidate.more_finishing_crews)
        key = (what if isinstance(what, str) else id(what), *times, *concrete, *crews)
        if key not in self.known:
            self.known[key] = make(), what  # keeps `what` alive, so that no other object gets its number
        part: Part = self.known[key][0]
        return part


def pour_model(situation: Situation, candidate: Candidate, weather: WeatherModels | None = None) -> PourModel:
    """The simulator's model of one candidate, in the forecast's weather or in those of `weather`."""
    weather = weather or WeatherModels(situation)
    where = arranged(situation, candidate)
    parts = where.parts
    rates = situation.form_rates(candidate.mix_option, candidate.cooler_by_c)
    of_element = np.array([min(candidate.rate_m3_per_h, rates.get(name, inf)) for name in where.lattice.element_ids])
    cells = replace(parts.cells, rate_m3_per_h=of_element[where.lattice.element[parts.cells.lattice_cell]])
    limits = figures(situation.sheet.specification, situation.sheet.trucks)
    model = PourModel(
        cells=cells,
        joints=parts.joints,
        supply=_supply(situation, candidate),
        site=_site(situation, candidate),
        acceptance=Acceptance(
            **asdict(limits),
            age_counted_from="loading",
            age_judged_at="expected-end",
            consistence_refusal_probability=CONSISTENCE_REFUSED,
        ),
        concrete=weather.concrete(candidate),
        finishing=weather.finishing(candidate, parts),
        panel_names=parts.panel_names,
        members=weather.members(candidate),
        day_share=DAY_SHARE,
    )
    return model if candidate.pattern == "constant" else matched(situation, candidate, model)


def matched(situation: Situation, candidate: Candidate, model: PourModel) -> PourModel:
    """The same pour with its loads called for when the pump is expected to be free."""
    position = situation.sheet.trucks.position_and_check_min
    plants = {plant.id: plant for plant in supplying_plants(situation, candidate)}
    called = [plants[supply.name] for supply in model.supply.plants]
    way = tuple(plant.batching_min + plant.travel_loaded_min.usual + position for plant in called)
    stretch = candidate.interval_min / (candidate.load_m3 / candidate.rate_m3_per_h * 60)
    due = matched_due_min(model, candidate.start_min, stretch, way)
    return replace(model, supply=replace(model.supply, due_min=due))


def arranged(situation: Situation, candidate: Candidate) -> Arrangement:
    """Lattice and placing order of a candidate, of the elements that it places."""
    elements = situation.elements
    finishes = situation.sheet.specification.finish != "none"
    return arrangement(
        elements,
        candidate.order,
        situation.pump.move_min,
        frozenset(form.id for form, _ in situation.forms),
        frozenset(element.id for element in elements if finishes and is_finished(element)),
    )


def is_finished(element: Element) -> bool:
    """Slabs and blocks have a surface that is floated; the top of a wall or column is only levelled."""
    return isinstance(element, Slab | GroundSlab | DeckSlab | MassBlock)


def travel_law(travel: TravelTime) -> Lognormal:
    """Lognormal with the usual time as its median and the low and high times as its 5 % and 95 % points.

    Where the two sides differ the wider one is taken: the cautious one (own rule).
    """
    sides = [math.log(travel.high / travel.usual)] if travel.high > travel.usual else []
    if 0 < travel.low < travel.usual:
        sides.append(math.log(travel.usual / travel.low))
    sigma = max(sides, default=0.0) / _Z95
    return Lognormal(travel.usual * math.exp(sigma**2 / 2), math.sqrt(math.exp(sigma**2) - 1))


def supplying_plants(situation: Situation, candidate: Candidate) -> tuple[Plant, ...]:
    """The plants that the candidate calls from, as the sheet has them."""
    return tuple(plant for plant in situation.sheet.plant if plant.id in candidate.plants)


def _supply(situation: Situation, candidate: Candidate) -> Supply:
    plants = supplying_plants(situation, candidate)
    allowance = situation.sheet.allowance
    counts = [candidate.trucks_count // len(plants)] * len(plants)
    for place in range(candidate.trucks_count - sum(counts)):
        counts[place] += 1
    supplied = [(plant, count) for plant, count in zip(plants, counts, strict=True) if count > 0]
    return Supply(
        plants=tuple(
            PlantSupply(
                name=plant.id,
                trucks_count=count,
                batching_min=Lognormal(
                    max(plant.batching_min, candidate.load_m3 / plant.output_m3_per_h * 60), BATCHING_CV
                ),
                haul_min=travel_law(plant.travel_loaded_min),
                return_min=Lognormal(plant.return_min, RETURN_CV),
                opens_min=situation.day.wall(plant.opens_local),
                closes_min=situation.day.wall(plant.closes_local),
            )
            for plant, count in supplied
        ),
        plant_of_load=tuple(range(len(supplied))),
        load_m3=candidate.load_m3,
        interval_min=candidate.interval_min,
        first_batching_min=first_batching_min(situation, candidate),
        bans=situation.day.bans,
        call_off_step_m3=allowance.rounding_step_m3,
        smallest_load_m3=min(allowance.smallest_load_m3, candidate.load_m3),
    )


def first_batching_min(situation: Situation, candidate: Candidate) -> float:
    """Start of the first batching, so that the first concrete comes at the planned start as usual."""
    return candidate.start_min - situation.lead_min


def _site(situation: Situation, candidate: Candidate) -> SiteWork:
    sheet, pump = situation.sheet, situation.pump
    net = sum(float(cell) for cell in arranged(situation, candidate).lattice.volume_m3)
    extra = situation.extra_m3 * net / situation.net_m3
    stops_apart = pump.mean_pumping_min_between_stops * candidate.pumps_count
    blocks = situation.gang_blocks(candidate.gang)
    return SiteWork(
        discharge_places_count=sheet.trucks.discharge_places_count,
        position_min=sheet.trucks.position_and_check_min,
        wash_min=sheet.trucks.washout_min,
        speed=Lognormal(1.0, SPEED_CV),
        rate_is_held=bool(situation.forms),
        pumping_min_between_stops=stops_apart,
        repair_min=Lognormal(pump.stop_mean_min, REPAIR_CV),
        breaks=breaks_taken(blocks, situation.day.breaks),
        gang_hours=gang_hours(blocks, candidate.rate_m3_per_h),
        # Each pump is primed and loses what is left in its line.
        priming_m3=pump.priming_m3 * candidate.pumps_count,
        line_content_m3=situation.lost_line_m3 * candidate.pumps_count,
        wastage=sheet.allowance.wastage_percent / 100 + extra / net,
        wastage_sd=sheet.allowance.wastage_spread_percent / 100,
        waiting_free_min=sheet.prices.waiting_free_min_per_load,
    )


def set_factor(situation: Situation, candidate: Candidate) -> float:
    """By how much the mix's option and what was agreed beside it lengthen the setting."""
    option = situation.option(candidate.mix_option)
    factor = option.set_time_factor if option else None
    return (1.0 if factor is None else factor) * candidate.longer_set_factor


def concrete(situation: Situation, candidate: Candidate) -> Concrete:
    """The setting clock at the concrete's own temperature, and the limits against which it runs."""
    mix, thermal = situation.mix, thermal_of(situation, candidate)
    factor = set_factor(situation, candidate)
    return Concrete(
        clock_min=thermal.clock_min[0],
        clock_step_min=CLOCK_STEP_MIN,
        set_limit_min=max(1.0, mix.initial_set_at_20c_h * 60 * factor - SET_MARGIN_MIN - _way_min(situation)),
        set_factor_sd=float(thermal.set_factor_sd[0]),
        counts_age=True,
        activation_temperature_k=float(thermal.activation_k[0]),
        plant_temperature_c=situation.plant_temperature_c(candidate.mix_option, candidate.cooler_by_c),
        plant_temperature_sd_c=mix.temperature_spread_c,
        change_per_h=CHANGE_PER_H[situation.sheet.trucks.vehicle],
        air_temperature_c=thermal.air_c[0],
        edge_limits=tuple((limit.up_to_c, limit.longest_min) for limit in situation.sheet.specification.live_edge),
    )


def _way_min(situation: Situation) -> float:
    """On the way from a site mixer the concrete grows older; a truck's way is simulated."""
    mixer = situation.sheet.site_mixer
    return 0.0 if mixer is None else mixer.way_min


def _members(
    situation: Situation, candidate: Candidate, first_replication: int, rows: Ints, air_c: Floats
) -> WeatherMembers:
    """These members of the situation's ensemble, the first one met by `first_replication`."""
    thermal = thermal_of(situation, candidate, rows, air_c)
    ready, latest = _finishing_clock_min(situation, candidate, thermal.slower_share)
    return WeatherMembers(
        clock_min=thermal.clock_min,
        air_temperature_c=thermal.air_c,
        set_factor_sd=thermal.set_factor_sd,
        activation_temperature_k=thermal.activation_k,
        ready_clock_min=ready,
        latest_clock_min=latest,
        first_replication=first_replication,
    )


def _finishing_clock_min(situation: Situation, candidate: Candidate, share: Floats) -> tuple[Floats, Floats]:
    """On the joint clock: from when the surface may be worked, and until when."""
    mix, factor = situation.mix, set_factor(situation, candidate)
    opens_at = FINISH_OPENS_AT[situation.sheet.specification.finish]
    return mix.initial_set_at_20c_h * 60 * factor / share * opens_at, mix.final_set_at_20c_h * 60 * factor / share


def _finishing(situation: Situation, candidate: Candidate, names: tuple[str, ...], area_m2: Floats) -> FinishingWork:
    crew = situation.sheet.crew
    blocks = situation.gang_blocks(candidate.gang)
    share = np.array([slower_clock_share(situation, candidate)])
    ready, latest = _finishing_clock_min(situation, candidate, share)
    return FinishingWork(
        strip_min=area_m2 * crew.finishing_passes_count / crew.finishing_rate_m2_per_h * 60,
        strip_cv=FINISHING_CV,
        strip_names=names,
        ready_clock_min=float(ready[0]),
        latest_clock_min=float(latest[0]),
        crews_count=max(1, blocks[0].finishing_crews_count + candidate.more_finishing_crews),
        crew_hours=crew_hours(blocks, candidate.more_finishing_crews),
    )
