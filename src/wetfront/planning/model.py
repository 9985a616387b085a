"""A sheet, the day's weather and one decision become the simulator's model."""

import math
from dataclasses import asdict, replace
from functools import lru_cache
from math import inf

import numpy as np
from numpy.typing import NDArray

from wetfront.acceptance import figures
from wetfront.hydration.setting import HALVING_K, maturity_rate
from wetfront.nouns.element import DeckSlab, Element, GroundSlab, MassBlock, Slab
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.site import Plant, TravelTime
from wetfront.placing.model import (
    Acceptance,
    Concrete,
    FinishingWork,
    Floats,
    Lognormal,
    PlantSupply,
    PourModel,
    SiteWork,
    Supply,
)
from wetfront.planning.arrange import Arrangement, arrangement
from wetfront.planning.candidate import Candidate
from wetfront.planning.situation import Situation
from wetfront.quantities import GAS_CONSTANT_J_PER_MOL_K, KELVIN_AT_0_C

BATCHING_CV, RETURN_CV, SPEED_CV, REPAIR_CV, FINISHING_CV = 0.2, 0.25, 0.15, 0.6, 0.3
"""Coefficients of variation, chosen: replace by the site's own record where there is one."""
SPREADS_SOURCE = Source("spread of batching, return, pumping, repair and finishing times, chosen", Provenance.OWN_RULE)
CONSISTENCE_REFUSED = 0.01
"""Share of loads refused for consistence, chosen."""
SET_MARGIN_MIN = 30.0
"""Kept between the end of a wait and the initial set: own rule."""
CLOCK_STEP_MIN, CLOCK_UNTIL_MIN = 10.0, 4 * 1440.0
# ACI 306R (from memory): change of temperature in one hour, as a share of the difference between concrete and air.
CHANGE_PER_H = {"revolving-drum": 0.25, "covered-body": 0.10, "open-body": 0.20}
TRANSPORT_SOURCE = Source("ACI 306R: 0.25, 0.10 or 0.20 of the difference to the air in an hour", Provenance.MEMORY)
CLOCK_SOURCE = Source(
    "joints: the warmer of fresh concrete and its mean with the air; the faster of Arrhenius and halving per 11 °C",
    Provenance.OWN_RULE,
)
FINISH_OPENS_AT = {"power-trowelled": 1.0, "hand-floated": 0.5, "tamped": 0.0, "none": 0.0}
"""Share of the initial set from which the surface may be worked: own rule (bleeding is over at about half of it)."""
_Z95 = 1.6448536269514722


def pour_model(situation: Situation, candidate: Candidate) -> PourModel:
    """The simulator's model of one candidate."""
    where = arranged(situation, candidate)
    parts = where.parts
    rates = situation.form_rates(candidate.mix_option, candidate.cooler_by_c)
    of_element = np.array([min(candidate.rate_m3_per_h, rates.get(name, inf)) for name in where.lattice.element_ids])
    cells = replace(parts.cells, rate_m3_per_h=of_element[where.lattice.element[parts.cells.lattice_cell]])
    limits = figures(situation.sheet.specification, situation.sheet.trucks)
    return PourModel(
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
        concrete=concrete(situation, candidate),
        finishing=_finishing(situation, candidate, parts.finished_strip_names, parts.finished_strip_area_m2),
        panel_names=parts.panel_names,
    )


def arranged(situation: Situation, candidate: Candidate) -> Arrangement:
    """Lattice and placing order of a candidate, of the elements that it places."""
    elements = placed_elements(situation, candidate)
    finishes = situation.sheet.specification.finish != "none"
    return arrangement(
        elements,
        candidate.order,
        situation.pump.move_min,
        frozenset(form.id for form, _ in situation.forms),
        frozenset(element.id for element in elements if finishes and is_finished(element)),
    )


def placed_elements(situation: Situation, candidate: Candidate) -> tuple[Element, ...]:
    """All elements, or those that the candidate's own order names where the pour is split at a joint."""
    if not candidate.joint:
        return situation.elements
    return tuple(element for element in situation.elements if element.id in candidate.order.element_order)


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
    return SiteWork(
        discharge_places_count=sheet.trucks.discharge_places_count,
        position_min=sheet.trucks.position_and_check_min,
        wash_min=sheet.trucks.washout_min,
        speed=Lognormal(1.0, SPEED_CV),
        rate_is_held=bool(situation.forms),
        pumping_min_between_stops=stops_apart,
        repair_min=Lognormal(pump.stop_mean_min, REPAIR_CV),
        breaks=situation.day.breaks,
        priming_m3=pump.priming_m3,
        line_content_m3=situation.lost_line_m3,
        wastage=sheet.allowance.wastage_percent / 100 + extra / net,
        wastage_sd=sheet.allowance.wastage_spread_percent / 100,
        waiting_free_min=sheet.prices.waiting_free_min_per_load,
    )


def concrete(situation: Situation, candidate: Candidate) -> Concrete:
    """The setting clock at the concrete's own temperature, and the limits against which it runs."""
    mix, option = situation.mix, situation.option(candidate.mix_option)
    factor = (option.set_time_factor if option else 1.0) * candidate.longer_set_factor
    air = _air(situation)
    fresh = fresh_temperature_c(situation, candidate)
    plant_c = situation.plant_temperature_c(candidate.mix_option, candidate.cooler_by_c)
    activation_k = _faster_activation_k(mix.activation_energy_j_per_mol, fresh)
    return Concrete(
        clock_min=_clock(air.tobytes(), fresh, mix.activation_energy_j_per_mol),
        clock_step_min=CLOCK_STEP_MIN,
        set_limit_min=max(1.0, mix.initial_set_at_20c_h * 60 * factor - SET_MARGIN_MIN - _way_min(situation)),
        # A load's own temperature enters as spread: the clock's table already stands at the cautious temperature.
        set_factor_sd=math.hypot(
            math.sqrt(math.log1p((mix.set_time_spread_percent / 100) ** 2)),
            mix.temperature_spread_c * activation_k / (KELVIN_AT_0_C + fresh) ** 2,
        ),
        counts_age=True,
        activation_temperature_k=activation_k,
        plant_temperature_c=plant_c,
        plant_temperature_sd_c=mix.temperature_spread_c,
        change_per_h=CHANGE_PER_H[situation.sheet.trucks.vehicle],
        air_temperature_c=air,
        edge_limits=tuple((limit.up_to_c, limit.longest_min) for limit in situation.sheet.specification.live_edge),
    )


def _way_min(situation: Situation) -> float:
    """On the way from a site mixer the concrete grows older; a truck's way is simulated."""
    mixer = situation.sheet.site_mixer
    return 0.0 if mixer is None else mixer.way_min


def _faster_activation_k(activation_energy_j_per_mol: float, fresh_c: float) -> float:
    """E/R of the setting rule that is the faster one at this temperature; halving written in Arrhenius' form."""
    arrhenius = activation_energy_j_per_mol / GAS_CONSTANT_J_PER_MOL_K
    halving = math.log(2.0) / HALVING_K * (KELVIN_AT_0_C + 20.0) * (KELVIN_AT_0_C + fresh_c)
    return max(arrhenius, halving) if fresh_c >= 20.0 else min(arrhenius, halving)


def fresh_temperature_c(situation: Situation, candidate: Candidate) -> float:
    """Concrete when it is placed, in the mean over the pour: plant temperature and the way (TRANSPORT_SOURCE)."""
    plant_c = situation.plant_temperature_c(candidate.mix_option, candidate.cooler_by_c)
    duration = situation.gross_m3 / candidate.rate_m3_per_h * 60
    times = np.linspace(candidate.start_min, candidate.start_min + duration, 9)
    air = float(situation.weather.air_at(times).mean())
    on_the_way = situation.usual_haul_min + situation.sheet.trucks.position_and_check_min + 10.0
    share = CHANGE_PER_H[situation.sheet.trucks.vehicle] * on_the_way / 60
    return (plant_c + share * air) / (1 + share)


def joint_temperature_c(fresh_c: float, air_c: NDArray[np.float64]) -> Floats:
    """Temperature on which the joint clock runs (CLOCK_SOURCE)."""
    warm: Floats = np.maximum(fresh_c, (fresh_c + air_c) / 2)
    return warm


def _air(situation: Situation) -> Floats:
    times = np.arange(0.0, CLOCK_UNTIL_MIN + CLOCK_STEP_MIN, CLOCK_STEP_MIN)
    return situation.weather.air_at(times)


@lru_cache(maxsize=256)
def _clock(air_bytes: bytes, fresh_c: float, activation_energy_j_per_mol: float) -> Floats:
    warm = joint_temperature_c(fresh_c, np.frombuffer(air_bytes, dtype=np.float64))
    arrhenius = maturity_rate(warm, activation_energy_j_per_mol)
    rate = np.maximum(arrhenius, 2.0 ** ((warm - 20.0) / HALVING_K))
    total: Floats = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) * (CLOCK_STEP_MIN / 2))])
    return total


def slower_clock_share(situation: Situation, candidate: Candidate) -> float:
    """How much slower than the joint clock the finishers' cautious clock runs, over the ten hours after the start.

    Finishers' hours are planned with the longer of the two setting rules at the mean of concrete and air (own rule).
    """
    fresh = fresh_temperature_c(situation, candidate)
    air = situation.weather.air_at(candidate.start_min + np.arange(0.0, 600.0, 30.0))
    energy = situation.mix.activation_energy_j_per_mol
    surface = (fresh + air) / 2
    slow = np.minimum(maturity_rate(surface, energy), 2.0 ** ((surface - 20.0) / HALVING_K))
    warm = joint_temperature_c(fresh, air)
    fast = np.maximum(maturity_rate(warm, energy), 2.0 ** ((warm - 20.0) / HALVING_K))
    return float((slow / fast).mean())


def _finishing(
    situation: Situation, candidate: Candidate, names: tuple[str, ...], area_m2: NDArray[np.float64]
) -> FinishingWork:
    mix, crew, option = situation.mix, situation.sheet.crew, situation.option(candidate.mix_option)
    factor = (option.set_time_factor if option else 1.0) * candidate.longer_set_factor
    share, finish = slower_clock_share(situation, candidate), situation.sheet.specification.finish
    return FinishingWork(
        strip_min=area_m2 * crew.finishing_passes_count / crew.finishing_rate_m2_per_h * 60,
        strip_cv=FINISHING_CV,
        strip_names=names,
        ready_clock_min=mix.initial_set_at_20c_h * 60 * factor / share * FINISH_OPENS_AT[finish],
        latest_clock_min=mix.final_set_at_20c_h * 60 * factor / share,
        crews_count=candidate.finishing_crews_count,
    )
