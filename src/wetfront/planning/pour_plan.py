"""The plan of one pour, put together from what the search found."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wetfront.acceptance import AGE_RULES
from wetfront.errors import NoFeasiblePlan, OutOfRange
from wetfront.nouns.plan import CostLine, Decision, Moments, PressureCheck, Reach, Risk, SearchRecord, Verdict
from wetfront.nouns.readiness import ReadinessItem as Recorded
from wetfront.nouns.sheet import Pour, PourSheet
from wetfront.placing.core.library import core_name
from wetfront.placing.model import Floats, Replications, Trace
from wetfront.placing.simulate import trace
from wetfront.planning.arrange import Arrangement
from wetfront.planning.book_limits import BookLimits
from wetfront.planning.call_off import balance_words, called_loads, calm_trace, planned_samples, specimens_count
from wetfront.planning.candidate import Candidate
from wetfront.planning.candidates import depth_mm
from wetfront.planning.carried import Carried
from wetfront.planning.cautions import cautions
from wetfront.planning.changes import asked_changes, changes
from wetfront.planning.conditions import Conditions, conditions, open_hours
from wetfront.planning.cut_short import cut_short_words
from wetfront.planning.drawn import drawings
from wetfront.planning.explain import binding, runner_up
from wetfront.planning.form_pressure import pressure_checks
from wetfront.planning.frontier import prices_and_frontier
from wetfront.planning.hourly import (
    evaporation_by_hour,
    evaporation_chart,
    grid,
    joint_margin,
    placed_volume,
    rise_charts,
)
from wetfront.planning.judge import RISK_KEYS, costs, draws_for, run, unended_reason, why_not
from wetfront.planning.model import WeatherModels, arranged, first_batching_min, pour_model
from wetfront.planning.needs import Facts, needs_of
from wetfront.planning.opened import opened_decisions
from wetfront.planning.quantity import quantity_of
from wetfront.planning.race import Sample, violation
from wetfront.planning.reach import LineDistance, boom_reach, line_distance
from wetfront.planning.readiness import readiness_list
from wetfront.planning.reasons import decision_steps, not_checked, quantity_steps
from wetfront.planning.search import Found
from wetfront.planning.site_mixing import COST_TITLES, REMEDIES, lasting_rate_m3_per_h, site_mixing, usual_interval_min
from wetfront.planning.situation import Situation, Volumes
from wetfront.planning.steps import Steps, edge_margins, moments, steps_of, strip_times
from wetfront.planning.thermal import fresh_temperature_c
from wetfront.planning.weather_shares import BAND, banded, evaporation_by_weather, spread_of
from wetfront.planning.words import RISK_TITLES, decision_words, has_strips, percent, risk_words, unended_words

TRACES = 80
"""Replications shown in full for bands of strips, edges and charts."""


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """The winner on its full number of replications."""

    situation: Situation
    found: Found
    candidate: Candidate
    outcome: Carried
    traces: tuple[Trace, ...]
    calm: Trace
    arranged: Arrangement
    steps: Steps

    @property
    def sample(self) -> Sample:
        """Its costs and failures."""
        return self.found.sample

    @property
    def feasible(self) -> bool:
        """Every risk within its limit."""
        return violation(self.sample, self.found.limits) == 0


def shown_of(situation: Situation, found: Found) -> Shown:
    """Run the winner again in full. NoFeasiblePlan where its pour cannot be carried to its end."""
    winner = found.winner
    count = found.sample.count
    outcome = run(situation, winner, found.bench.seed, 0, count)
    if outcome is None or not outcome.ended[:TRACES].any():
        raise NoFeasiblePlan(f"the pour cannot be carried to its end: {why_not(situation, winner, found.bench.seed)}")
    shown = min(TRACES, count)
    ended = np.flatnonzero(outcome.ended[:shown])
    model = pour_model(situation, winner, WeatherModels(situation, 0, shown))
    draws = draws_for(situation, [winner], [model], found.bench.seed, 0, shown).table()
    where = arranged(situation, winner)
    try:
        calm = calm_trace(model, situation.loads_count(winner.load_m3))
    except OutOfRange as error:
        why = why_not(situation, winner, found.bench.seed, error)
        raise NoFeasiblePlan(f"with every time as usual the pour cannot be carried to its end: {why}") from None
    return Shown(
        situation=situation,
        found=found,
        candidate=winner,
        outcome=outcome,
        traces=tuple(trace(model, draws, number) for number in ended.tolist()),
        calm=calm,
        arranged=where,
        steps=steps_of(where, winner.order.layers == "whole"),
    )


def reach_of(situation: Situation) -> tuple[tuple[Reach, ...], tuple[LineDistance, ...]]:
    """The pour's own pump first, then the standby ones; and how near they come to overhead lines.

    Nothing where the concrete is carried from a site mixer.
    """
    if situation.sheet.site_mixer is not None:
        return (), ()
    outlines = [outline for shapes in situation.outlines.values() for outline in shapes]
    pumps = [situation.pump, *(pump for pump in situation.sheet.pump if pump.standby and pump != situation.pump)]
    lines = tuple(
        found
        for pump in pumps
        for line in situation.sheet.overhead_line
        if (found := line_distance(pump, line)) is not None
    )
    return (tuple(boom_reach(pump, outlines) for pump in pumps) if outlines else ()), lines


def plan_parts(
    shown: Shown, recorded: Sequence[Recorded], nearest: tuple[str, ...], laid: BookLimits
) -> dict[str, Any]:
    """Every field of the plan that needs a decision, by its name."""
    situation, winner, outcome = shown.situation, shown.candidate, shown.outcome
    model = pour_model(situation, winner)
    times = strip_times(situation.day, model, shown.arranged, shown.steps, shown.traces)
    reach, lines = reach_of(situation)
    facts = facts_of(shown)
    needs = needs_of(situation.sheet, situation.elements, facts)
    readiness = readiness_list(situation.sheet, needs, facts, recorded)
    state = conditions(situation, winner, outcome, reach, lines, readiness)
    state = replace(state, measures=(*state.measures, *laid.measures))
    verdict = verdict_of(shown, state)
    asked = asked_changes(situation, winner)
    prices, front = prices_and_frontier(situation, shown.found)
    volumes = situation.volumes.with_pumps(winner.pumps_count)
    return {
        "verdict": verdict,
        "reasons": (*cut_short_words(shown.found), *reasons(shown, state, laid)),
        "measures": state.measures,
        "specification_changed": laid.changed,
        "nearest_change": nearest,
        "quantity": quantity_of(volumes, winner.load_m3, balance_words(situation, shown.calm)),
        "site_mixing": site_mixing(situation, winner, outcome),
        "decision": decision(situation, winner),
        "end_of_placing": moments(situation.day, outcome.end_of_pour_min),
        "end_of_finishing": _end_of_finishing(shown),
        "risks": risks(shown),
        "cost": cost_lines(situation, winner, outcome),
        "binding": binding(situation, shown.found),
        "runner_up": runner_up(situation, shown.found),
        "opened": opened_decisions(situation, shown.found),
        "changes": changes(shown.found.bench, winner, outcome, shown.found.limits, asked),
        "limit_prices": prices,
        "frontier": front,
        "strips": times,
        "edges": edge_margins(model, outcome, shown.traces),
        "loads": called_loads(situation, model, shown.calm, shown.steps, shown.found.bench.seed),
        "pressure": _pressure(shown),
        "reach": reach,
        "readiness": readiness,
        "charts": _charts(shown),
        "weather": spread_of(situation, winner),
        "drawings": drawings(situation, shown.arranged, shown.steps, times),
        "cautions": cautions(situation.sheet, situation.elements, needs, facts, lines),
        "not_checked": not_checked(situation.sheet, situation),
        "why": (*quantity_steps(volumes), *decision_steps(situation, winner), *laid.steps),
        "search": search_record(shown.found),
    }


def bare_parts(sheet: PourSheet, pour: Pour, volumes: Volumes, recorded: Sequence[Recorded]) -> dict[str, Any]:
    """Check list and cautions of a pour without a decision: they hold whatever the weather will be."""
    pump = next(pump for pump in sheet.pump if pump.id == pour.pump)
    elements = [element for element in sheet.element if element.id in pour.elements]
    quantity = quantity_of(volumes, sheet.trucks.capacity_m3, "")
    planned = planned_samples(sheet, quantity.order_m3, quantity.top_area_m2, quantity.loads_count, seed=0)
    samples = planned.required_count
    facts = Facts(
        pump=pump,
        vibrators_count=pour.vibrators_count or sum(vibrator.count_working for vibrator in sheet.vibrator),
        top_area_m2=quantity.top_area_m2,
        samples_count=samples,
        specimens_count=specimens_count(sheet.sampling, samples),
        coldest_air_c=None,
        hottest_air_c=None,
        placing_h=quantity.gross_m3 / pump.planned_output_m3_per_h,
        joint_places=tuple(joint.id for joint in sheet.joint if joint.agreed_emergency),
    )
    needs = needs_of(sheet, elements, facts)
    lines = [found for line in sheet.overhead_line if (found := line_distance(pump, line)) is not None]
    return {
        "readiness": readiness_list(sheet, needs, facts, recorded),
        "cautions": cautions(sheet, elements, needs, facts, lines),
    }


def facts_of(shown: Shown) -> Facts:
    """Figures for check list and cautions."""
    situation, sheet = shown.situation, shown.situation.sheet
    loads = len(shown.calm.loads.volume_m3)
    area_m2 = situation.volumes.quantities.top_area_m2
    samples = planned_samples(sheet, situation.order_m3, area_m2, loads, shown.found.bench.seed).required_count
    hours = open_hours(shown.candidate, shown.outcome)
    weather = situation.weather
    during = (weather.minutes >= hours.from_min - 60) & (weather.minutes <= hours.to_min + 60)
    coldest, hottest = float(weather.air_c[during].min()), float(weather.air_c[during].max())
    if weather.drawn is not None:
        air = weather.drawn.members.air_c[:, during]
        coldest = min(coldest, float(np.quantile(air.min(axis=1), BAND[0])))
        hottest = max(hottest, float(np.quantile(air.max(axis=1), BAND[1])))
    return Facts(
        pump=situation.pump,
        vibrators_count=shown.candidate.vibrators_count,
        top_area_m2=situation.volumes.quantities.top_area_m2,
        samples_count=samples,
        specimens_count=specimens_count(sheet.sampling, samples),
        coldest_air_c=coldest,
        hottest_air_c=hottest,
        placing_h=float(np.median(shown.outcome.end_of_pour_min) - shown.candidate.start_min) / 60,
        joint_places=tuple(joint.id for joint in sheet.joint if joint.agreed_emergency),
    )


def verdict_of(shown: Shown, state: Conditions) -> Verdict:
    """No go where a limit is broken; go with measures where anything has to be in place."""
    if not shown.feasible or state.against:
        return Verdict.NO_GO
    return Verdict.GO_WITH_MEASURES if state.measures else Verdict.GO


def reasons(shown: Shown, state: Conditions, laid: BookLimits) -> tuple[str, ...]:
    """The answer first: what breaks a limit, and whether it is remembered; then the decision, its ends, the rest."""
    situation, day = shown.situation, shown.situation.day
    too_likely = {
        key: risk_words(key, float(probability), float(limit))
        for key, probability, limit in zip(RISK_KEYS, shown.sample.probabilities(), shown.found.limits, strict=True)
        if probability > limit
    }
    over = list(too_likely.values())
    placed = np.quantile(shown.outcome.end_of_pour_min, (0.5, 0.95))
    broken = [f"no plan keeps every limit: {'; '.join(over)}"] if over else []
    if not shown.outcome.ended.all():
        one = int(np.flatnonzero(~shown.outcome.ended)[0])
        why = unended_reason(situation, shown.candidate, shown.found.bench.seed, one)
        broken.append(f"{unended_words(shown.outcome)}: {why}")
    alone = len(over) == 1 and not state.against  # a stop is plain as soon as one limit that stops it is known
    remembered = laid.remembered(*AGE_RULES) if "load_over_age" in too_likely else ()
    broken += [text if alone else f"of these, {text}" for text in remembered]
    found = [*broken, *state.against, decision_words(situation, shown.candidate)]
    found.append(
        f"placing ends about {day.clock(float(placed[0]))} (95 %: {day.clock(float(placed[1]))}); hours end "
        f"{day.clock(day.closes_min)}"
    )
    if len(pour_model(situation, shown.candidate).finishing.strip_min):
        ended = np.quantile(shown.outcome.finishing_end_min, (0.5, 0.95))
        found.append(
            f"finishing ends about {day.clock(float(ended[0]))} (95 %: {day.clock(float(ended[1]))}); allowed until "
            f"{day.clock(day.trowelling_until_min)}"
        )
    if not over:
        share = shown.sample.probabilities() / np.maximum(shown.found.limits, 1e-3)
        worst = int(share.argmax())
        nearest = risk_words(
            RISK_KEYS[worst], float(shown.sample.probabilities()[worst]), float(shown.found.limits[worst])
        )
        found.insert(len(state.against), f"every risk within its limit; nearest: {nearest}")
    return (*found, *state.good)


def decision(situation: Situation, candidate: Candidate) -> Decision:
    """The decision as the plan holds it."""
    return Decision(
        start=situation.day.moment(candidate.start_min),
        first_batch=situation.day.moment(first_batching_min(situation, candidate)),
        interval_min=usual_interval_min(situation, candidate),
        trucks_count=candidate.trucks_count,
        load_m3=candidate.load_m3,
        placing_rate_m3_per_h=lasting_rate_m3_per_h(situation, candidate),
        pump=situation.pump.id,
        plants=candidate.plants,
        mix=situation.pour.mix,
        mix_option=candidate.mix_option,
        element_order=candidate.order.element_order,
        strips_along=candidate.order.strips_along if has_strips(situation) else "",
        strip_width_m=candidate.order.strip_width_m if has_strips(situation) else 0.0,
        layer_mm=min(candidate.order.layer_mm, deepest_mm(situation)),
        layer_order=candidate.order.layers,
        vibrators_count=candidate.vibrators_count,
        joint=situation.split_at,
        interval_pattern=candidate.pattern,
        pumps_count=candidate.pumps_count,
        gang=candidate.gang,
        cooler_by_c=candidate.cooler_by_c,
        start_corner=candidate.order.start_corner,
        cutting_width_m=candidate.order.strip_width_m,
        step_length_m=candidate.order.step_length_m,
    )


def deepest_mm(situation: Situation) -> float:
    """Depth of the deepest element: a layer is never shown thicker than what is placed."""
    return max(depth_mm(element) for element in situation.elements) or situation.sheet.specification.largest_layer_mm


_REMEDIES = {
    "cold_joint": "retarder, narrower strips or more trucks; agreed joint with timber and dowels on the deck",
    "specified_edge_exceeded": "narrower strips, cooler concrete; agree the departure with the designer beforehand",
    "pressure_over_permitted": "slower, smaller lifts, warmer concrete or a stronger form",
    "placing_out_of_hours": "earlier start, faster placing, a second plant or a later closing; leave in time from the "
    "authority",
    "finishing_out_of_hours": "one finishing crew more, earlier start, or a split at an agreed joint",
    "rain_on_fresh_surface": "sheets on the deck, or another day",
    "load_over_age": "wider interval, fewer trucks, smaller loads; hold at the plant by telephone",
    "trucks_over_places": "wider interval, fewer trucks, or a waiting place on the road",
}


def risks(shown: Shown) -> tuple[Risk, ...]:
    """Each risk with its limit and the figure behind it, nearest to its limit first."""
    sample, limits = shown.sample, shown.found.limits
    details = _details(shown)
    remedy = _REMEDIES if shown.situation.sheet.site_mixer is None else _REMEDIES | REMEDIES
    found = [
        Risk(
            key=key,
            title=RISK_TITLES[key],
            probability=float(probability),
            standard_error=float(error),
            limit=float(limit),
            detail=details[key],
            remedy=remedy[key],
        )
        for key, probability, error, limit in zip(
            RISK_KEYS, sample.probabilities(), sample.standard_errors(), limits, strict=True
        )
        if shown.situation.sheet.site_mixer is None or key != "trucks_over_places"
    ]
    return tuple(sorted(found, key=lambda risk: (-risk.probability / max(risk.limit, 1e-3), RISK_KEYS.index(risk.key))))


def _details(shown: Shown) -> dict[str, str]:
    outcome, day, sheet = shown.outcome, shown.situation.day, shown.situation.sheet
    edges = edge_margins(pour_model(shown.situation, shown.candidate), outcome, shown.traces)
    by_set = min(edges, key=lambda edge: edge.set_margin_min[0], default=None)
    by_minutes = max(edges, key=lambda edge: (edge.chance_specified_exceeded, edge.wait_min[2]), default=None)
    limits = shown.situation.form_limits(shown.candidate.mix_option, shown.candidate.cooler_by_c)
    rise = outcome.highest_rise_m_per_h
    late = float(np.quantile(outcome.oldest_age_min, 0.95))
    return {
        "cold_joint": "no edges"
        if by_set is None
        else f"tightest edge {by_set.name}: {by_set.set_margin_min[1]:.0f} min left "
        f"(5 %: {by_set.set_margin_min[0]:.0f})",
        "specified_edge_exceeded": "the sheet gives no minutes: not checked"
        if by_minutes is None or by_minutes.specified_min is None
        else f"edge {by_minutes.name} waits {by_minutes.wait_min[1]:.0f} min (95 %: {by_minutes.wait_min[2]:.0f}) of "
        f"{by_minutes.specified_min:.0f} specified",
        "pressure_over_permitted": "no form pressure checked"
        if not limits or rise.shape[1] == 0
        else f"highest half-hour rise {float(np.quantile(rise.max(axis=1), 0.95)):.2f} m/h (95 %), permitted "
        + ", ".join(
            f"{limit.highest_rise_m_per_h:.2f} m/h by {limit.governs}"
            if limit.highest_rise_m_per_h is not None
            else "any"
            for limit in limits
        ),
        "placing_out_of_hours": f"95 %: {day.clock(float(np.quantile(outcome.end_of_pour_min, 0.95)))}, hours end "
        f"{day.clock(day.closes_min)}{_after_closing(shown)}",
        "finishing_out_of_hours": f"95 %: {day.clock(float(np.quantile(outcome.finishing_end_min, 0.95)))}, allowed "
        f"until {day.clock(day.trowelling_until_min)}",
        "rain_on_fresh_surface": "rain of 1 mm/h or more from the first concrete to the end of finishing"
        if shown.situation.weather.rain_probability_percent is not None
        else "the forecast gives no probability of rain: not checked",
        "load_over_age": f"oldest load {late:.0f} min (95 %) of "
        f"{sheet.trucks.longest_batching_to_end_of_discharge_min:g}; chance that one is refused for it "
        f"{percent(float((outcome.refused_age_count > 0).mean()))}",
        "trucks_over_places": f"up to {int(np.quantile(outcome.most_trucks_waiting, 0.95))} waiting (95 %), places for "
        f"{sheet.trucks.waiting_places_on_site_count}",
    }


def _after_closing(shown: Shown) -> str:
    """Said where loads would be batched after their plant has closed; empty where none would."""
    late = shown.outcome.loads_after_closing
    if not (late > 0).any():
        return ""
    plants = [plant for plant in shown.situation.sheet.plant if plant.id in shown.candidate.plants]
    closing = ", ".join(f"{plant.id} closes {plant.closes_local:%H:%M}" for plant in plants)
    return f"; {closing}: {float(late.mean()):.1f} loads on average would be batched later"


def cost_lines(situation: Situation, candidate: Candidate, outcome: Replications) -> tuple[CostLine, ...]:
    """Expected money by line; lines without money left out."""
    lines: dict[str, Floats] = costs(situation, candidate, outcome)
    titles = {} if situation.sheet.site_mixer is None else COST_TITLES
    return tuple(
        CostLine(title=titles.get(title, title), amount_cu=float(amount.mean()))
        for title, amount in lines.items()
        if amount.mean() > 0.005
    )


def search_record(found: Found) -> SearchRecord:
    """How the decision was found."""
    return SearchRecord(
        candidates_count=found.candidates_count,
        replications_count=found.sample.count,
        total_replications_count=sum(sample.count for sample in found.bench.samples.values()),
        chance_best=found.race.chance_best,
        possible_loss_cu=found.race.possible_loss,
        core=core_name(),
        seed=found.bench.seed,
        cut_short=found.cut_short,
    )


def _end_of_finishing(shown: Shown) -> Moments | None:
    if not len(pour_model(shown.situation, shown.candidate).finishing.strip_min):
        return None
    return moments(shown.situation.day, shown.outcome.finishing_end_min)


def _pressure(shown: Shown) -> tuple[PressureCheck, ...]:
    limits = shown.situation.form_limits(shown.candidate.mix_option, shown.candidate.cooler_by_c)
    names = pour_model(shown.situation, shown.candidate).panel_names
    found: list[PressureCheck] = []
    for limit in limits:
        if limit.element in names:
            rise = float(np.quantile(shown.outcome.highest_rise_m_per_h[:, names.index(limit.element)], 0.95))
            found += pressure_checks(limit, rise)
    return tuple(found)


def _charts(shown: Shown) -> tuple[Any, ...]:
    situation, model = shown.situation, pour_model(shown.situation, shown.candidate)
    hours, specification = open_hours(shown.candidate, shown.outcome), situation.sheet.specification
    margin = joint_margin(situation.day, model, shown.traces)
    limits = situation.form_limits(shown.candidate.mix_option, shown.candidate.cooler_by_c)
    times = grid(hours.from_min, hours.to_min, 60.0)
    by_weather = evaporation_by_weather(situation, shown.candidate, times)
    drying = evaporation_chart(
        situation.day,
        times,
        evaporation_by_hour(situation.weather, fresh_temperature_c(situation, shown.candidate), times),
        () if by_weather is None else banded(by_weather),
        specification.evaporation_action_kg_per_m2_h,
        specification.evaporation_stop_kg_per_m2_h,
    )
    charts = [placed_volume(situation.day, model, shown.traces), margin, drying]
    return tuple(chart for chart in charts if chart) + tuple(rise_charts(situation.day, model, shown.traces, limits))
