"""Contracts of the calculations about a delivered load: air, time, temperature, water on site, ticket."""

from wetfront.acceptance import measured
from wetfront.acceptance.compare import within
from wetfront.acceptance.limits import TICKET_LIMIT
from wetfront.acceptance.ticket import DESIGNED, ENTRIES, OF_DESIGNED, TICKET, missing_entries
from wetfront.acceptance.water import allowed_water, water_rules
from wetfront.calculations.answers import answered
from wetfront.calculations.consistence import DECIDES, on_memory, rule_steps
from wetfront.calculations.contract import Calculation, Choice, Choices, Flag, Number, Output
from wetfront.nouns.reason import Answer, Notice, Provenance, Source, Step
from wetfront.rules import rule

AIR = Source("EN 206:2013+A2:2021, 5.4.3 and 8.2.3; ASTM C94/C94M, section 8", Provenance.MEMORY)
TIMES = Source("ASTM C94/C94M, BS 8500-2, DIN 1045-2, IS 4926, AS 1379, as each step says", Provenance.PUBLISHED)
TEMPERATURES = Source("ACI 301, ACI 305.1-14, ACI 306R; EN 206; AS 1379, as each step says", Provenance.PUBLISHED)
WATER = Source("Concrete in Practice 26, jobsite addition of water; ASTM C94/C94M", Provenance.PUBLISHED)
_WARN_MIN = 15.0
"""Minutes left from which the answer warns: common practice, no source."""
_NO_FROST_MPA = 3.5
"""Strength before which concrete must not freeze, ACI 306R, from memory."""


def _word(accepted: bool) -> str:
    return "within the limits" if accepted else "outside the limits"


def _air(basis: str, measured_percent: float, specified_percent: float) -> Answer:
    limits = measured.air_limits(basis, specified_percent)
    assert limits.high is not None
    accepted = within(measured_percent, limits.low, limits.high)
    notices = on_memory(limits.rules, _word(accepted))
    if not accepted and measured_percent < limits.low:
        text = "Low air may be corrected by the producer before discharge, then test again. High air may not."
        notices.append(Notice("low-air", text))
    result = {"lower_limit_percent": limits.low, "upper_limit_percent": limits.high, "accepted": accepted}
    return answered(result, rule_steps(limits.rules), notices, (DECIDES,))


def _time(
    basis: str,
    elapsed_min: float,
    agitated: bool,
    drum_revolutions_count: int | None,
    agreed_limit_min: float | None,
) -> Answer:
    found = measured.delivery_time(
        basis,
        elapsed_min,
        agitated=agitated,
        drum_turns_count=drum_revolutions_count,
        agreed_limit_min=agreed_limit_min,
    )
    why = []
    if found.rule is None:
        why.append(Step("limit agreed on the ticket", found.limit_min, "min", TICKET_LIMIT))
    else:
        counted = f"from {found.rule.counts_from} to {found.rule.counts_to}"
        why.append(Step(f"{found.rule.title}, {counted}", found.limit_min, "min", found.rule.cited))
    if found.turns_rule is not None:
        why += rule_steps((found.turns_rule,))
    notices = on_memory([one for one in (found.rule, found.turns_rule) if one], _word(found.within_limit))
    if not found.turns_are_met:
        notices.append(Notice("turns", f"{drum_revolutions_count} turns of the drum are over the limit."))
    if found.time_is_met and found.remaining_min <= _WARN_MIN:
        notices.append(Notice("near", f"{found.remaining_min:g} min left to end the discharge."))
    if drum_revolutions_count is not None and found.turns_rule is None:
        notices.append(Notice("turns-not-counted", f"{basis} does not limit the turns of the drum."))
    if not agitated and agreed_limit_min is None and not measured.TIME_RULES[basis][2]:
        notices.append(
            Notice("agitated", f"{basis} gives no shorter time without agitation: ask the producer for one.")
        )
    cautions = [
        "The time counts from first contact of cement and water. Heat shortens it: agree a limit before the pour.",
        DECIDES,
    ]
    result = {
        "limit_min": found.limit_min,
        "remaining_min": found.remaining_min,
        "within_limit": found.within_limit,
    }
    return answered(result, why, notices, cautions)


def _temperature(
    concrete_temperature_c: float,
    basis: str,
    section_size_mm: float | None,
    cold_weather: bool,
    air_temperature_c: float | None,
) -> Answer:
    found = measured.placing_temperature(
        basis, cold_weather=cold_weather, section_size_mm=section_size_mm, air_temperature_c=air_temperature_c
    )
    accepted = found.accepts(concrete_temperature_c)
    cautions = [DECIDES]
    if cold_weather and basis == "aci":
        over = rule("aci", "mixing-over-least").high
        cautions.append(f"When mixing not more than {over:g} °C over the lowest for mixing.")
        cautions.append(f"Concrete must not freeze before about {_NO_FROST_MPA:g} MPa (from memory).")
        cautions.append("Never on snow, ice or frozen ground; steel and forms above 0 °C.")
    elif cold_weather:
        cautions.append(f"{basis} gives no further limits in cold weather; see aci, and the project.")
    elif basis == "aci":
        cautions.append("Warmer only with a proven record or a trial. In cold weather say so: then a lowest applies.")
    if basis == "en-206":
        cautions.append("EN 206 gives no highest temperature: it is national or the project's, often 30 °C.")
    result = {
        "minimum_c": found.minimum_c,
        "maximum_c": found.maximum_c,
        "minimum_mixing_temperature_c": found.minimum_mixing_c,
        "maximum_drop_24_h_c": found.maximum_drop_24_h_c,
        "accepted": accepted,
    }
    return answered(result, rule_steps(found.rules), on_memory(found.deciding, _word(accepted)), cautions)


def _water(
    load_volume_m3: float,
    cementitious_kg_per_m3: float,
    free_water_batched_kg_per_m3: float,
    maximum_water_cement_ratio: float,
    measured_slump_mm: float,
    maximum_slump_mm: float,
    water_already_added_l: float,
    discharge_started: bool,
    design_water_kg_per_m3: float | None,
) -> Answer:
    found = allowed_water(
        volume_m3=load_volume_m3,
        cementitious_kg_per_m3=cementitious_kg_per_m3,
        free_water_kg_per_m3=free_water_batched_kg_per_m3,
        maximum_ratio=maximum_water_cement_ratio,
        slump_mm=measured_slump_mm,
        maximum_slump_mm=maximum_slump_mm,
        already_added_l=water_already_added_l,
        discharge_started=discharge_started,
        design_water_kg_per_m3=design_water_kg_per_m3,
    )
    why = [Step("water/cement ratio now", found.ratio_now, "1", WATER)]
    why += [Step(f"left by the {cap}", litres, "l/m³", WATER) for cap, litres in found.left_by.items()]
    why += rule_steps(water_rules())
    why.append(Step(f"allowed now ({found.because})", found.litres_per_m3, "l/m³", WATER))
    notices = [] if found.permitted else [Notice("none", f"No water may be added: {found.because}.")]
    cautions = (
        "Water weakens concrete; a water reducer is better. Water over the design makes the load non-conforming.",
        "Once, on arrival, with the truck in one place; remix, test again, and write litres, who asked and who "
        "agreed on the ticket.",
        "European practice: none, unless the producer foresaw it and the ticket carries the amount beforehand.",
    )
    result = {
        "water_cement_ratio_now": found.ratio_now,
        "allowable_water_l": found.litres,
        "water_cement_ratio_after": found.ratio_after,
        "expected_slump_mm": found.expected_slump_mm,
        "permitted": found.permitted,
        "remixing_revolutions_count": found.turns_count,
    }
    return answered(result, why, notices, cautions)


def _ticket(present_fields: tuple[str, ...], certified: bool, designed_concrete: bool, stage: str) -> Answer:
    missing = missing_entries(
        present_fields,
        certified=certified,
        designed_concrete=designed_concrete,
        discharged=stage == "after-discharge",
    )
    notices = []
    if "loading-time" in missing:
        notices.append(Notice("age", "Without the loading time the age of the load is unknown: hold the load."))
    why = [Step(f"{name} is missing", None, "", DESIGNED if name in OF_DESIGNED else TICKET) for name in missing] or [
        Step("every entry is there", True, "", TICKET)
    ]
    cautions = ("What the specification asks for beyond these entries is not checked.",)
    return answered({"missing_fields": list(missing), "complete": not missing}, why, notices, cautions)


def _percent(key: str, meaning: str, high: float) -> Number:
    return Number(key=key, meaning=meaning, unit="%", low=0, high=high)


CALCULATIONS = (
    Calculation(
        name="air-content-acceptance",
        title="Acceptance of a load by air content",
        method="EN 206: the specified value is the least; a result may lie 0.5 % under it, and 1.0 % over the "
        "most, which is 4 % more. ASTM C94: the specified value ± 1.5 %.",
        source=AIR,
        inputs=(
            Choice(
                key="basis",
                meaning="specified value is the least (en-206) or the target (astm-c94)",
                options=measured.AIR_BASES,
            ),
            _percent("measured_percent", "air of the load", 20),
            _percent("specified_percent", "air that is specified", 12),
        ),
        outputs=(
            Output(key="lower_limit_percent", meaning="smallest value accepted, not below 0", unit="%"),
            Output(key="upper_limit_percent", meaning="largest value accepted", unit="%"),
            Output(key="accepted", meaning="within both"),
        ),
        answer=_air,
    ),
    Calculation(
        name="delivery-time-check",
        title="Time left to discharge a load",
        method="The time limit of the rule named, or the one agreed on the ticket, which replaces it. Turns of "
        "the drum bind in the oldest rule only, also beside an agreed time. Exactly at a limit is within it.",
        source=TIMES,
        inputs=(
            Choice(key="basis", meaning="whose rule", options=tuple(measured.TIME_RULES)),
            Number(key="elapsed_min", meaning="since first contact of cement and water", unit="min", low=0),
            Flag(key="agitated", meaning="carried in a truck that agitates", default=True),
            Number(
                key="drum_revolutions_count",
                meaning="turns of the drum; bind in the oldest rule only",
                unit="",
                low=0,
                whole=True,
                default=None,
            ),
            Number(
                key="agreed_limit_min",
                meaning="agreed and printed on the ticket; replaces the default, required for astm-c94-2021",
                unit="min",
                above=0,
                high=1440,
                default=None,
            ),
        ),
        outputs=(
            Output(key="limit_min", meaning="the limit used", unit="min"),
            Output(key="remaining_min", meaning="negative when late", unit="min"),
            Output(key="within_limit", meaning="time and, where they bind, turns"),
        ),
        answer=_time,
    ),
    Calculation(
        name="placing-temperature-limits",
        title="Concrete temperature at placing",
        method="Limits of the rule named. American practice in cold weather: by the least dimension of the "
        "section the lowest as placed and kept, 11 °C more as the highest, the lowest when mixing by the air, and "
        "the largest fall afterwards.",
        source=TEMPERATURES,
        inputs=(
            Number(key="concrete_temperature_c", meaning="of the fresh concrete", unit="°C", low=-5, high=60),
            Choice(key="basis", meaning="whose rule", options=measured.TEMPERATURE_BASES, default="aci"),
            Number(
                key="section_size_mm",
                meaning="least dimension, needed with cold_weather",
                unit="mm",
                above=0,
                high=100_000,
                default=None,
            ),
            Flag(key="cold_weather", meaning="air at or expected below about 4 °C", default=False),
            Number(
                key="air_temperature_c",
                meaning="for the mixing temperature",
                unit="°C",
                low=-60,
                high=60,
                default=None,
            ),
        ),
        outputs=(
            Output(key="minimum_c", meaning="lowest accepted; left out where the basis gives none", unit="°C"),
            Output(key="maximum_c", meaning="highest accepted; left out where the basis gives none", unit="°C"),
            Output(key="minimum_mixing_temperature_c", meaning="cold weather with an air temperature only", unit="°C"),
            Output(key="maximum_drop_24_h_c", meaning="allowed fall in the first 24 h after protection", unit="°C"),
            Output(key="accepted", meaning="within the limits"),
        ),
        answer=_temperature,
    ),
    Calculation(
        name="water-addition-on-site",
        title="Water that may be added to a load on site",
        method="The least of what the water/cement ratio, the design water and the slump leave (5 l/m³ for 25 "
        "mm); nothing once discharge has begun or water was added before.",
        source=WATER,
        inputs=(
            Number(key="load_volume_m3", meaning="in the drum now", unit="m³", above=0, high=30),
            Number(
                key="cementitious_kg_per_m3",
                meaning="cement and the additions that count",
                unit="kg/m³",
                above=0,
                high=1000,
            ),
            Number(
                key="free_water_batched_kg_per_m3",
                meaning="free water with that in aggregates and admixtures",
                unit="kg/m³",
                low=0,
                high=500,
            ),
            Number(key="maximum_water_cement_ratio", meaning="largest ratio", unit="1", low=0.2, high=1.0),
            Number(key="measured_slump_mm", meaning="slump now", unit="mm", low=0, high=300),
            Number(key="maximum_slump_mm", meaning="upper limit wanted", unit="mm", low=0, high=300),
            Number(key="water_already_added_l", meaning="on site so far", unit="l", low=0, high=10_000, default=0.0),
            Flag(key="discharge_started", meaning="more than the first 0.2 m³ is out", default=False),
            Number(
                key="design_water_kg_per_m3",
                meaning="water of the mix design, a further cap",
                unit="kg/m³",
                above=0,
                high=500,
                default=None,
            ),
        ),
        outputs=(
            Output(key="water_cement_ratio_now", meaning="batched and added water over cementitious", unit="1"),
            Output(key="allowable_water_l", meaning="for the whole load", unit="l"),
            Output(key="water_cement_ratio_after", meaning="with the allowable water", unit="1"),
            Output(key="expected_slump_mm", meaning="rule of thumb: 5 l/m³ for 25 mm", unit="mm"),
            Output(key="permitted", meaning="some water may be added"),
            Output(key="remixing_revolutions_count", meaning="at mixing speed; 0 where no water is added"),
        ),
        answer=_water,
    ),
    Calculation(
        name="delivery-ticket-check",
        title="Missing entries on a delivery ticket",
        method="All entries of EN 206, 7.3; before discharge without the two unloading times; the certification "
        "body only where production is certified; five more for designed concrete.",
        source=TICKET,
        inputs=(
            Choices(
                key="present_fields",
                meaning="entries that the ticket carries",
                each=Choice(key="present_fields", meaning="one entry", options=ENTRIES),
            ),
            Flag(key="certified", meaning="the production is certified", default=False),
            Flag(key="designed_concrete", meaning="designed, not prescribed, concrete", default=True),
            Choice(
                key="stage",
                meaning="when it is looked at",
                options=("before-discharge", "after-discharge"),
                default="before-discharge",
            ),
        ),
        outputs=(
            Output(key="missing_fields", meaning="in alphabetical order"),
            Output(key="complete", meaning="nothing is missing"),
        ),
        answer=_ticket,
    ),
)
