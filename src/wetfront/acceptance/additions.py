"""Water and admixture on site: what was added is judged, and what may still be added is worked out."""

from dataclasses import dataclass

from wetfront.acceptance.compare import within
from wetfront.acceptance.limits import AcceptanceLimits
from wetfront.acceptance.water import AllowedWater, allowed_water
from wetfront.nouns.load import Addition, DeliveredLoad, FreshTests, Order
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.verdict import Finding, LimitInForce, Outcome, WaterLeft, Whose
from wetfront.rules import Rule

ONCE = Source("CIP 26, jobsite addition of water; ASTM C94/C94M: once, on arrival", Provenance.PUBLISHED)
RATIO = Source("largest water/cement ratio of the order", Provenance.INPUT)


@dataclass(frozen=True, slots=True)
class _Recipe:
    """What the ratio of a load is worked out from."""

    cementitious_kg_per_m3: float
    free_water_kg_per_m3: float
    maximum_ratio: float
    as_batched: bool
    """From the ticket; else the mix as designed is taken, and the finding says so."""


def addition_findings(order: Order, load: DeliveredLoad, limits: AcceptanceLimits) -> tuple[list[Finding], list[str]]:
    """Judge every addition: agreed for the producer, water once and early and within its caps, remixed, tested anew."""
    findings: list[Finding] = []
    not_judged: list[str] = []
    waters = [each for each in load.additions if each.kind == "water" and each.amount_l > 0]
    if waters:
        findings += _water(order, load, limits, waters)
    for each in load.additions:
        if each.amount_l <= 0:
            continue
        what = f"{each.amount_l:g} l of {each.product or each.kind}"
        findings.append(_agreed(each, what, limits))
        remixed = _remixed(each, what, load.ticket.volume_m3, limits)
        if remixed is None:
            not_judged.append(f"remixing after {what}: neither minutes nor turns were noted")
        else:
            findings.append(remixed)
    if findings and not _tested_since(load.tests):
        findings.append(
            Finding(
                about="consistence",
                outcome=Outcome.CHECK_TEST,
                text="something was added to the load and its consistence was not tested after that",
                holds=True,
                next_step="remix, then test slump or flow again",
            )
        )
    return findings, not_judged


def water_left(order: Order, load: DeliveredLoad, limits: AcceptanceLimits, *, refused: bool) -> WaterLeft:
    """Water that may be added to this load now [l].

    Once, before more than the first 0.2 m³ is out; capped by ratio, design water, the slump wanted and the amount
    on the ticket. European practice: only what the ticket carries beforehand. Nothing where a figure is missing.
    Source: CIP 26; ASTM C94/C94M; EN 206.
    """
    written = load.ticket.water_allowed_l
    if refused:
        return WaterLeft(litres=0.0, why="the load is refused")
    if load.discharge_start is not None or load.discharge_end is not None:
        return WaterLeft(litres=0.0, why="discharge has begun")
    if limits.book == "en" and written is None:
        return WaterLeft(litres=0.0, why="EN 206: only water that the ticket carries beforehand, and it carries none")
    recipe = _recipe(order, load)
    slump = load.tests.slump_mm
    wanted = order.target_slump_mm
    if wanted is None and (limit := limits.of_test("slump", load.tests.sample)) is not None:
        wanted = limit.high
    if recipe is None or slump is None or wanted is None:
        missing = "ratio of the mix" if recipe is None else "slump" if slump is None else "slump wanted"
        return WaterLeft(litres=0.0, why=f"the {missing} is not known")
    found = _allowed(order, load, limits, recipe, slump, wanted)
    litres, why = found.litres, found.because
    if written is not None and written < litres:
        litres, why = written, "the amount on the ticket"
    if litres <= 0:
        return WaterLeft(litres=0.0, why=f"none: {why}")
    share = litres / found.litres
    return WaterLeft(
        litres=litres,
        why=f"as much as {why} leaves; once, then remix, test again and write it on the ticket",
        expected_slump_mm=slump + share * (found.expected_slump_mm - slump),
        remixing_turns_count=found.turns_count,
    )


def _recipe(order: Order, load: DeliveredLoad) -> _Recipe | None:
    ticket = load.ticket
    cement = ticket.cementitious_kg_per_m3 or order.cementitious_kg_per_m3
    water = ticket.free_water_kg_per_m3 or order.free_water_kg_per_m3
    ratio = order.maximum_water_cement_ratio
    if cement is None or water is None or ratio is None:
        return None
    as_batched = ticket.cementitious_kg_per_m3 is not None and ticket.free_water_kg_per_m3 is not None
    return _Recipe(cement, water, ratio, as_batched)


def _allowed(
    order: Order, load: DeliveredLoad, limits: AcceptanceLimits, recipe: _Recipe, slump: float, wanted: float
) -> AllowedWater:
    first = limits.rule("aci", "discharged-before-water").high
    added = sum(each.amount_l for each in load.additions if each.kind == "water")
    return allowed_water(
        volume_m3=load.ticket.volume_m3,
        cementitious_kg_per_m3=recipe.cementitious_kg_per_m3,
        free_water_kg_per_m3=recipe.free_water_kg_per_m3,
        maximum_ratio=recipe.maximum_ratio,
        slump_mm=slump,
        maximum_slump_mm=wanted,
        already_added_l=added,
        discharge_started=not within(load.discharged_m3, high=first),
        design_water_kg_per_m3=order.design_water_kg_per_m3,
    )


# What was added


def _water(order: Order, load: DeliveredLoad, limits: AcceptanceLimits, waters: list[Addition]) -> list[Finding]:
    total = sum(each.amount_l for each in waters)
    findings = [
        _finding("water", len(waters) == 1, f"water added {_times(len(waters))}: once is allowed", ONCE, len(waters))
    ]
    first = limits.rule("aci", "discharged-before-water")
    for each in waters:
        met = within(each.discharged_before_m3, high=first.high)
        text = f"water added after {each.discharged_before_m3:g} m³ was out: at most {first.high:g} m³"
        findings.append(_finding("water", met, text, first.cited, each.discharged_before_m3))
    written = load.ticket.water_allowed_l
    if written is not None:
        text = f"{total:g} l of water added, {written:g} l on the ticket beforehand"
        source = Source("amount on the ticket", Provenance.INPUT)
        findings.append(_finding("water", within(total, high=written), text, source, total, Whose.TICKET))
    recipe = _recipe(order, load)
    if recipe is None:
        text = f"{total:g} l of water added, and the water/cement ratio of the mix is not known"
        findings.append(
            Finding(
                about="water",
                outcome=Outcome.CHECK_TEST,
                text=text,
                holds=True,
                next_step="get cement, free water and largest ratio from the plant",
            )
        )
        return findings
    now = recipe.free_water_kg_per_m3 + total / load.ticket.volume_m3
    ratio = now / recipe.cementitious_kg_per_m3
    of = "" if recipe.as_batched else ", by the mix as designed"
    text = f"water/cement ratio {ratio:.3f} with {total:g} l added{of}: at most {recipe.maximum_ratio:g}"
    findings.append(_finding("water", within(ratio, high=recipe.maximum_ratio), text, RATIO, ratio, Whose.ORDER))
    if order.design_water_kg_per_m3 is not None:
        text = f"free water {now:.1f} kg/m³ with {total:g} l added: design water {order.design_water_kg_per_m3:g} kg/m³"
        source = Source("design water of the mix", Provenance.INPUT)
        met = within(now, high=order.design_water_kg_per_m3)
        findings.append(_finding("water", met, text, source, now, Whose.ORDER))
    return findings


def _finding(about: str, met: bool, text: str, source: Source, value: float, whose: Whose = Whose.RULE_BOOK) -> Finding:
    remembered = source.provenance is Provenance.MEMORY
    return Finding(
        about=about,
        outcome=Outcome.ACCEPT if met else Outcome.REFUSE,
        text=text,
        value=value,
        limit=LimitInForce(
            title="Water on site", unit="", whose=whose, source=source, text=text, rests_on_memory=remembered
        ),
        next_step="" if met else "write it on the ticket as non-conforming; the specifier decides",
    )


def _times(count: int) -> str:
    return "once" if count == 1 else "twice" if count == 2 else f"{count} times"


def _agreed(addition: Addition, what: str, limits: AcceptanceLimits) -> Finding:
    limit = LimitInForce(
        title="Who agreed",
        unit="",
        whose=Whose.RULE_BOOK,
        source=limits.rule("en", "added-at-delivery").cited,
        text="only under the producer's responsibility",
    )
    if addition.agreed_by.strip():
        text = f"{what} added, agreed for the producer by {addition.agreed_by}"
        return Finding(about=addition.kind, outcome=Outcome.ACCEPT, text=text, limit=limit)
    return Finding(
        about=addition.kind,
        outcome=Outcome.CHECK_TEST,
        text=f"{what} added, and nobody agreed to it for the producer",
        limit=limit,
        holds=True,
        next_step="ask the producer, who answers for the mix, and write the name on the ticket",
    )


def _remixed(addition: Addition, what: str, volume_m3: float, limits: AcceptanceLimits) -> Finding | None:
    """Remixing by whichever figure was noted; both, where both were."""
    shortfalls: list[tuple[float, float, Rule, str]] = []
    if addition.remixed_min is not None:
        per_m3, least = limits.rule("en", "remixing-time-per-m3"), limits.rule("en", "remixing-time")
        needed = max((per_m3.low or 0.0) * volume_m3, least.low or 0.0)
        shortfalls.append((addition.remixed_min, needed, per_m3, "min"))
    if addition.remixed_turns_count is not None and (limits.book != "en" or addition.remixed_min is None):
        turns = limits.rule("aci", "remixing-turns")
        shortfalls.append((addition.remixed_turns_count, turns.low or 0.0, turns, "turns"))
    if not shortfalls:
        return None
    found, needed, by, unit = min(shortfalls, key=lambda each: each[0] - each[1])
    met = within(found, needed)
    text = f"remixed {found:g} {unit} after {what}: at least {needed:g} {unit}"
    return Finding(
        about="remixing",
        outcome=Outcome.ACCEPT if met else Outcome.CHECK_TEST,
        text=text,
        value=found,
        limit=LimitInForce(
            title=by.title,
            low=needed,
            unit=unit,
            whose=Whose.RULE_BOOK,
            source=by.cited,
            text=text,
            rests_on_memory=by.rests_on_memory,
        ),
        next_step="" if met else "remix, then test again",
    )


def _tested_since(tests: FreshTests) -> bool:
    return any(each is not None for each in (tests.slump_mm, tests.flow_mm, tests.slump_flow_mm))
