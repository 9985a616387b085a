"""What a candidate's replications cost, and how often each limit is broken."""

from collections.abc import Sequence

import numpy as np

from wetfront.errors import OutOfRange
from wetfront.nouns.sheet import RiskLimits
from wetfront.placing.core.prepared import PreparedPours, simulate
from wetfront.placing.draws import SPARE_LOADS_COUNT
from wetfront.placing.model import Floats, PourModel, Replications
from wetfront.placing.seeded import SeededDraws
from wetfront.planning.candidate import Candidate
from wetfront.planning.carried import Carried, carried
from wetfront.planning.gangs import crews_beyond_cost, gang_cost
from wetfront.planning.model import WeatherModels, pour_model
from wetfront.planning.race import Sample
from wetfront.planning.rain import is_harmed, rain_risk
from wetfront.planning.situation import Situation
from wetfront.planning.thermal import CLOCK_UNTIL_MIN, fresh_temperature_c

RISK_KEYS = (
    "cold_joint",
    "specified_edge_exceeded",
    "pressure_over_permitted",
    "placing_out_of_hours",
    "finishing_out_of_hours",
    "rain_on_fresh_surface",
    "load_over_age",
    "trucks_over_places",
)
UNWORKABLE_CU = 1e12
"""Cost of a candidate that a form does not permit at all."""
_NOISE = 1e-9


def risk_limits(limits: RiskLimits) -> Floats:
    """Accepted probabilities in the order of RISK_KEYS."""
    return np.array([getattr(limits, key) for key in RISK_KEYS])


def evaluate(situation: Situation, candidates: Sequence[Candidate], seed: int, first: int, count: int) -> list[Sample]:
    """A sample for each candidate, on replications `first` to `first + count` of the seed. A pure function."""
    outcomes = run_all(situation, candidates, seed, first, count)
    return [
        judged(situation, candidate, outcome, count, first)
        for candidate, outcome in zip(candidates, outcomes, strict=True)
    ]


def run_all(
    situation: Situation, candidates: Sequence[Candidate], seed: int, first: int, count: int
) -> list[Carried | None]:
    """The replications of each candidate; None where not one of them can be carried to its end."""
    allowed = [candidate for candidate in candidates if _may_rise(situation, candidate)]
    found: dict[Candidate, Carried | None] = dict.fromkeys(candidates)
    if allowed:
        weather = WeatherModels(situation, first, count)
        models = [pour_model(situation, candidate, weather) for candidate in allowed]
        draws = draws_for(situation, allowed, models, seed, first, count)
        outcomes = PreparedPours(models).simulate(draws, carry_on=True)
        for number, candidate in enumerate(allowed):
            outcome = outcomes.of(number)
            # The draws are made for whoever takes most loads: no other ends by the loads of its neighbour.
            ended = outcomes.ended[number] & (outcome.loads_count <= most_loads(situation, candidate))
            found[candidate] = carried(outcome, ended)
    return [found[candidate] for candidate in candidates]


def _may_rise(situation: Situation, candidate: Candidate) -> bool:
    """Whether every form permits any rise at all with this concrete."""
    rates = situation.form_rates(candidate.mix_option, candidate.cooler_by_c).values()
    return candidate.rate_m3_per_h > 0 and all(rate > 0 for rate in rates)


def run(situation: Situation, candidate: Candidate, seed: int, first: int, count: int) -> Carried | None:
    """The replications of one candidate."""
    return run_all(situation, [candidate], seed, first, count)[0]


def why_not(situation: Situation, candidate: Candidate, seed: int, calm: OutOfRange | None = None) -> str:
    """What stops a pour whose replications do not come to an end, or, with its error, the one with times as usual."""
    discharge_min = candidate.load_m3 / candidate.rate_m3_per_h * 60
    oldest_min = situation.sheet.trucks.longest_batching_to_end_of_discharge_min
    if situation.lead_min + discharge_min > oldest_min:
        rate, who = situation.highest_rate(candidate.means)
        return (
            f"a load of {candidate.load_m3:g} m³ takes {discharge_min:.0f} min to place at "
            f"{candidate.rate_m3_per_h:.3g} m³/h and comes {situation.lead_min:.0f} min old, over the limit of "
            f"{oldest_min:g} min; {who} allows no more than {rate:.3g} m³/h"
        )
    return unended_reason(situation, candidate, seed) if calm is None else _stopped_words(situation, candidate, calm)


def unended_reason(situation: Situation, candidate: Candidate, seed: int, replication: int = 0) -> str:
    """What keeps one replication from coming to its end."""
    model = pour_model(situation, candidate, WeatherModels(situation, replication, 1))
    try:
        simulate(model, draws_for(situation, [candidate], [model], seed, replication, 1))
    except OutOfRange as error:
        return _stopped_words(situation, candidate, error)
    return "in some replications it does not come to an end"


def _stopped_words(situation: Situation, candidate: Candidate, error: OutOfRange) -> str:
    """What the simulator ran out of; with the concrete's temperature where that alone has loads refused."""
    if error.key != "draws":
        return "it runs on for more than four days"
    told = "more loads are refused, by age, temperature or consistence, than the plant could replace"
    usual = fresh_temperature_c(situation, candidate)
    permitted = situation.sheet.specification.concrete_temperature_at_placing_c
    if permitted is None or permitted.min <= usual <= permitted.max:
        return told
    return f"{told}; concrete comes at about {usual:.1f} °C, permitted are {permitted.min:g} to {permitted.max:g}"


def draws_for(
    situation: Situation,
    candidates: Sequence[Candidate],
    models: Sequence[PourModel],
    seed: int,
    first: int,
    count: int,
) -> SeededDraws:
    """The draws that these models need. A number never depends on how many others are drawn beside it."""
    loads = max(most_loads(situation, candidate) for candidate in candidates)
    strips = max(len(model.finishing.strip_min) for model in models)
    return SeededDraws(seed=seed, count=count, loads_count=loads, strips_count=strips, first_replication=first)


def most_loads(situation: Situation, candidate: Candidate) -> int:
    """Loads that a plan may take, those that replace refused ones among them; a pour that needs more does not end."""
    return situation.loads_count(candidate.load_m3) + SPARE_LOADS_COUNT


def judged(situation: Situation, candidate: Candidate, outcome: Carried | None, count: int, first: int = 0) -> Sample:
    """Cost and failures of each replication, from number `first` on; one that does not end breaks every limit."""
    if outcome is None:
        worst = unended_cu(situation, candidate) if _may_rise(situation, candidate) else UNWORKABLE_CU
        return Sample(np.full(count, worst), np.ones((count, len(RISK_KEYS))))
    total = np.sum(list(costs(situation, candidate, outcome).values()), axis=0)
    failed = failures(situation, candidate, outcome, first)
    if not outcome.ended.all():
        total = np.where(outcome.ended, total, unended_cu(situation, candidate))
        failed[~outcome.ended] = 1.0
    return Sample(total, failed)


def unended_cu(situation: Situation, candidate: Candidate) -> float:
    """Cost of a replication that does not come to its end: what no replication that does could well exceed (own rule).

    All loads that are simulated at most, delivered and taken back, and pump and gang until the simulation's last hour.
    The same for all replications of a candidate, whatever runs beside it.
    """
    prices, option = situation.sheet.prices, situation.option(candidate.mix_option)
    per_m3 = prices.concrete_cu_per_m3 + (option.extra_cu_per_m3 if option else 0.0)
    per_m3 += prices.returned_concrete_cu_per_m3
    gang = max(block.price_cu_per_h for block in situation.gang_blocks(candidate.gang))
    delivered_m3 = most_loads(situation, candidate) * candidate.load_m3
    hours = (CLOCK_UNTIL_MIN - candidate.start_min) / 60
    return delivered_m3 * per_m3 + hours * (prices.pump_cu_per_h * candidate.pumps_count + gang)


def costs(situation: Situation, candidate: Candidate, outcome: Replications) -> dict[str, Floats]:
    """Money of each replication, line by line."""
    prices = situation.sheet.prices
    option = situation.option(candidate.mix_option)
    blocks, ended = situation.gang_blocks(candidate.gang), outcome.end_of_pour_min
    placing_h = np.maximum(ended - candidate.start_min, 0.0) / 60
    pump_h = np.maximum((outcome.end_of_pour_min - outcome.first_discharge_min) / 60, prices.pump_least_h)
    short_m3 = np.maximum(situation.sheet.trucks.capacity_m3 * outcome.loads_count - outcome.delivered_m3, 0.0)
    beyond = max(0, candidate.trucks_count - situation.sheet.trucks.count_promised)
    whole = np.ones(outcome.count)
    return {
        "concrete": outcome.delivered_m3 * prices.concrete_cu_per_m3,
        "mix option": outcome.delivered_m3 * (option.extra_cu_per_m3 if option else 0.0),
        "cooler concrete": outcome.delivered_m3
        * (prices.one_degree_cooler_cu_per_m3 * max(0.0, candidate.cooler_by_c)),
        "part loads": short_m3 * prices.part_load_cu_per_m3_short,
        "returned concrete": outcome.waste_m3 * prices.returned_concrete_cu_per_m3,
        "trucks waiting": outcome.paid_waiting_min * prices.waiting_cu_per_min,
        "trucks beyond those promised": whole * beyond * prices.truck_cu_per_truck,
        "pump": pump_h * prices.pump_cu_per_h * candidate.pumps_count,
        "placing gang": gang_cost(blocks, candidate.start_min, ended, of_finishers=False),
        "finishers after placing": gang_cost(blocks, ended, outcome.finishing_end_min, of_finishers=True),
        "finishing crews beyond the gang": crews_beyond_cost(
            blocks, candidate.more_finishing_crews, candidate.start_min, outcome.finishing_end_min
        ),
        "vibrators": placing_h * (prices.vibrator_cu_per_h * candidate.vibrators_count),
        "cold joints put right": outcome.cold_joint_area_m2 * prices.cold_joint_cu_per_m2,
    }


def failures(situation: Situation, candidate: Candidate, outcome: Replications, first: int = 0) -> Floats:
    """(replications, RISK_KEYS): 1 where the limit is broken; for rain a probability where no weathers are drawn."""
    trucks = situation.sheet.trucks
    columns = {
        "cold_joint": outcome.cold_joint_area_m2 > 0,
        "specified_edge_exceeded": outcome.area_over_specification_m2 > 0,
        "pressure_over_permitted": _too_fast(situation, candidate, outcome),
        # A load that would be batched after its plant has closed does not come.
        "placing_out_of_hours": (outcome.end_of_pour_min > situation.day.closes_min)
        | (outcome.loads_after_closing > 0),
        "finishing_out_of_hours": outcome.finishing_end_min > finishing_deadline_min(situation),
        "rain_on_fresh_surface": _rain(situation, outcome, first),
        "load_over_age": (outcome.refused_age_count + outcome.over_age_count) > 0,
        "trucks_over_places": outcome.most_trucks_waiting > trucks.waiting_places_on_site_count,
    }
    return np.column_stack([columns[key].astype(np.float64) for key in RISK_KEYS])


def finishing_deadline_min(situation: Situation) -> float:
    """End of finishing: the hours with their extension, or earlier where noise allows neither trowel nor hand work.

    Where only the power trowel is too loud, hand finishing goes on: the plan then says from when.
    """
    deadline = situation.day.trowelling_until_min
    level = situation.level_db("hand-finishing")
    if level is None:
        level = situation.level_db("trowelling")
    if level is None:
        return deadline
    broken = [
        start
        for start, _, limit in situation.day.noise
        if situation.day.closes_min - _NOISE <= start < deadline and limit < level
    ]
    return min([deadline, *broken])


def _too_fast(situation: Situation, candidate: Candidate, outcome: Replications) -> Floats:
    """Highest half-hour rise over the permitted one in any form: pressure grows with the rise."""
    limits = situation.form_limits(candidate.mix_option, candidate.cooler_by_c)
    if not limits or outcome.highest_rise_m_per_h.shape[1] == 0:
        return np.zeros(outcome.count)
    # Columns are named by the lattice's elements, which keep the pour's order; so do the forms.
    permitted = np.array(
        [np.inf if limit.highest_rise_m_per_h is None else limit.highest_rise_m_per_h for limit in limits]
    )
    broken = outcome.highest_rise_m_per_h > permitted * (1 + _NOISE)
    return np.asarray(broken.any(axis=1), dtype=np.float64)


def _rain(situation: Situation, outcome: Replications, first: int) -> Floats:
    """Harmful rain from the first concrete to the end of finishing, or of placing without finishing.

    Met or not in the replication's own weather; by the forecast alone its chance.
    """
    stop, weather = situation.sheet.specification.rain_stop_mm_per_h, situation.weather
    starts = np.floor(outcome.first_discharge_min / 60) * 60
    ends = np.ceil(outcome.finishing_end_min / 60) * 60
    if weather.drawn is not None and weather.rain_probability_percent is not None:
        return is_harmed(weather.drawn, first, starts, ends, stop)
    chances: dict[tuple[float, float], float] = {}
    found = np.zeros(outcome.count)
    for row, window in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
        if window not in chances:
            risk = rain_risk(weather, *window, stop)
            chances[window] = 0.0 if risk is None else risk.harmful
        found[row] = chances[window]
    return found
