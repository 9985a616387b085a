"""Where the plan's main numbers come from, and what the sheet gives no limit for."""

from wetfront.materials.admixture_classes import is_proposed, set_proposal
from wetfront.nouns.element import DeckSlab, Slab
from wetfront.nouns.reason import Provenance, Source, Step
from wetfront.nouns.sheet import PourSheet
from wetfront.planning.candidate import Candidate
from wetfront.planning.form_pressure import form_of
from wetfront.planning.model import (
    CONSISTENCE_REFUSED,
    SET_MARGIN_MIN,
    SPREADS_SOURCE,
    concrete,
    travel_law,
)
from wetfront.planning.rain import RAIN_SOURCE
from wetfront.planning.site_mixing import mixer_steps
from wetfront.planning.situation import Situation, Volumes
from wetfront.planning.thermal import CLOCK_SOURCE, TRANSPORT_SOURCE, fresh_temperature_c, slower_clock_share
from wetfront.weather.evaporation import CHOICE, MENZEL, UNO

GEOMETRY = Source("geometry of the shapes", Provenance.DEFINITION)
SHEET = Source("pour sheet", Provenance.INPUT)
ORDER = Source("net × (1 + wastage) + extras + line, rounded up to the call-off step", Provenance.COMMON_PRACTICE)
ARRHENIUS = Source("ASTM C1074, equivalent age with the mix's activation energy", Provenance.PUBLISHED)
TRAVEL = Source("lognormal through usual (median), low (5 %) and high (95 %) travel time", Provenance.OWN_RULE)
MARGIN = Source("minutes kept between the end of a wait and the initial set", Provenance.OWN_RULE)
_REACHES = {"boom": "boom", "line": "line", "skip": "crane", "barrow": "barrow run", "dumper": "dumper run"}
FINISHERS = Source(
    "finishing opens at the initial set by the longer of the two setting rules, at the mean of concrete and air",
    Provenance.OWN_RULE,
)
SIMULATED = Source(
    "own simulator of the pour: loads, trucks, pump, cells; draws shared by all candidates", Provenance.OWN_RULE
)


def quantity_steps(volumes: Volumes) -> list[Step]:
    """The order, line by line."""
    return [
        Step("net volume by drawing", round(volumes.net_m3, 3), "m³", GEOMETRY),
        Step("wastage in the mean", round(volumes.wastage_m3, 3), "m³", SHEET),
        Step("measured extras", round(volumes.extra_m3, 3), "m³", SHEET),
        Step("line and hopper, lost", round(volumes.lost_line_m3, 3), "m³", SHEET),
        Step("priming with concrete", round(volumes.priming_m3, 3), "m³", SHEET),
        Step("order", volumes.order_m3, "m³", ORDER),
    ]


def decision_steps(situation: Situation, candidate: Candidate) -> list[Step]:
    """Temperatures, clocks, spreads and limits that the simulation stands on."""
    clock = concrete(situation, candidate)
    haul = travel_law(situation.main_plants[0].travel_loaded_min)
    found = [
        Step("concrete at the plant", round(clock.plant_temperature_c, 1), "°C", SHEET),
        Step(
            "concrete when placed, in the mean",
            round(fresh_temperature_c(situation, candidate), 1),
            "°C",
            TRANSPORT_SOURCE,
        ),
        Step("activation energy", situation.mix.activation_energy_j_per_mol, "J/mol", ARRHENIUS),
        Step("initial set at 20 °C, option counted", round((clock.set_limit_min + SET_MARGIN_MIN) / 60, 2), "h", SHEET),
        Step("temperature and speed of the joint clock", "see source", "", CLOCK_SOURCE),
        Step("margin kept before the initial set", SET_MARGIN_MIN, "min", MARGIN),
        Step(
            "finishers' clock over the joint clock", round(slower_clock_share(situation, candidate), 3), "1", FINISHERS
        ),
        Step("travel time, mean", round(haul.mean, 1), "min", TRAVEL),
        Step("travel time, coefficient of variation", round(haul.cv, 3), "1", TRAVEL),
        Step("spreads of the other times", "0.2, 0.25, 0.15, 0.6, 0.3", "1", SPREADS_SOURCE),
        Step("share of loads refused for consistence", CONSISTENCE_REFUSED, "1", SPREADS_SOURCE),
        Step("pumping between two stops, mean", situation.pump.mean_pumping_min_between_stops, "min", SHEET),
        Step("length of a stop, mean", situation.pump.stop_mean_min, "min", SHEET),
        *mixer_steps(situation, candidate),
        *_proposed_steps(situation),
        Step("chance of harmful rain", "see source", "", RAIN_SOURCE),
        Step("evaporation", "see source", "", UNO),
        Step("evaporation, surface cooler than the air", "see source", "", MENZEL),
        Step("evaporation, which equation", "see source", "", CHOICE),
        Step("probabilities, times and costs", "see source", "", SIMULATED),
    ]
    found += [
        Step(
            f"placing rate allowed by {who}", round(rate, 2), "m³/h", SHEET if "rise" not in who else _rise_source(who)
        )
        for who, rate in situation.rate_caps(candidate.means)
    ]
    for limit in situation.form_limits(candidate.mix_option, candidate.cooler_by_c):
        lowest = situation.lowest_concrete_c(candidate.mix_option, candidate.cooler_by_c)
        cold = Source("a load as cold as 5 % of them, on the coldest permitted hour", Provenance.OWN_RULE)
        found.append(Step(f"lowest concrete temperature for {limit.element}", round(lowest, 1), "°C", cold))
        found.append(
            Step(f"permitted pressure of {limit.element}", round(limit.permitted_kn_per_m2, 2), "kN/m²", SHEET)
        )
        found.append(Step(f"smallest plan area of {limit.element}", round(limit.least_plan_area_m2, 3), "m²", GEOMETRY))
    return found


def _proposed_steps(situation: Situation) -> list[Step]:
    """Set-time factors that nobody told but the limits of an admixture's class."""
    found = []
    for option in situation.sheet.mix[situation.pour.mix].option:
        if is_proposed(option) and option.admixture is not None:
            proposed = set_proposal(option.admixture, situation.mix.initial_set_at_20c_h)
            if proposed is not None:
                name = f"proposed set-time factor of option {option.id}"
                found.append(Step(name, round(proposed.factor, 3), "1", proposed.source))
    return found


def _rise_source(who: str) -> Source:
    if "DIN" in who:
        return Source("DIN 18218:2010-01, solved for the rise", Provenance.MEMORY)
    if "CIRIA" in who:
        return Source("CIRIA Report 108 (1985), solved for the rise", Provenance.PUBLISHED)
    if "ACI" in who:
        return Source("ACI 347R-14, 4.2.2 (SI), solved for the rise", Provenance.PUBLISHED)
    return SHEET


def _could_touch(situation: Situation) -> bool:
    """A boom or crane stands where there are overhead lines."""
    return situation.pump.kind in ("boom", "skip") and bool(situation.sheet.overhead_line)


def not_checked(sheet: PourSheet, situation: Situation) -> tuple[str, ...]:
    """Limits that the sheet does not give, each with the key that would give it."""
    specification, mix = sheet.specification, situation.mix
    has_form = any(form_of(element) is not None for element in situation.elements)
    suspended = any(
        isinstance(element, DeckSlab) or (isinstance(element, Slab) and element.support == "falsework")
        for element in situation.elements
    )
    questions: tuple[tuple[bool, str], ...] = (
        (not specification.live_edge, "minutes that an edge may wait (specification.live_edge)"),
        (has_form and sheet.formwork is None, "form pressure and permitted rise ([formwork])"),
        (
            sheet.formwork is not None and has_form and (mix.end_of_setting_h is None or mix.flow_class is None),
            "form pressure by DIN 18218: the mix gives no flow_class and end_of_setting_h",
        ),
        (
            sheet.formwork is not None and has_form and mix.slump_mm is None and specification.slump_limits_mm is None,
            "form pressure by ACI 347R: the mix gives no slump_mm",
        ),
        (suspended and not sheet.falsework, "heaps on the falsework ([[falsework]])"),
        (
            specification.concrete_temperature_at_placing_c is None,
            "concrete temperature at placing (specification.concrete_temperature_at_placing_c)",
        ),
        (specification.slump_limits_mm is None, "slump limits of a spot sample (specification.slump_limits_mm)"),
        (
            situation.pump.kind == "boom" and specification.wind_stop_m_per_s is None,
            "gusts at which the boom is stowed (specification.wind_stop_m_per_s)",
        ),
        (situation.weather.rain_probability_percent is None, "rain: the forecast has no rain_probability_percent"),
        (bool(sheet.noise_limit) and not sheet.noise_source, "noise: limits, but no levels ([[noise_source]])"),
        (not sheet.vibrator, "vibrators ([[vibrator]])"),
        (
            situation.pump.horizontal_reach_m is None and sheet.site_mixer is None,
            f"reach of the {_REACHES[situation.pump.kind]} (pump.horizontal_reach_m)"
            + ("; nor how near it comes to the overhead lines" if _could_touch(situation) else ""),
        ),
        (
            len(situation.outlines) < len(situation.elements),
            "reach and edges between elements that have no place (element.at_m)",
        ),
        (
            situation.pump.kind == "boom" and not sheet.overhead_line,
            "overhead lines ([[overhead_line]]): none in the sheet",
        ),
        (len(situation.forms) > 1, "filling several forms in turn: they are planned one after the other"),
        (sheet.readiness is None, "state of the check list ([readiness])"),
    )
    found = [text for missing, text in questions if missing]
    found.append("ground, outriggers, reinforcement and the strength of forms: by the people responsible, not here")
    return tuple(found)
