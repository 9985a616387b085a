"""The deliveries of a day from the tickets: every load judged, then queue, stops, edges, volumes, money, samples."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from wetfront import __version__
from wetfront.acceptance import acceptance_limits, in_words, judge_load, ordered, samples_specified
from wetfront.delivery.additions import with_log
from wetfront.delivery.edges import edge_waits
from wetfront.delivery.loads import (
    age_at_end,
    late,
    on_site_min,
    out_of_order,
    road_min,
    road_not_judged,
    truck_clashes,
    volumes,
    water_ratio,
)
from wetfront.delivery.queue import queue_of
from wetfront.delivery.sampling import sampling_check
from wetfront.delivery.stops import LogLine, stops_of
from wetfront.desk.delivery_findings import findings_of
from wetfront.nouns.delivery import DeliveryRow, Reading, RowState
from wetfront.nouns.delivery_day import (
    TICKETS_SCHEMA,
    DeliveryDay,
    DeliveryReport,
    LoadOfDay,
    VolumesOfDay,
    WaterRatio,
)
from wetfront.nouns.mix import Mix
from wetfront.nouns.sheet import CheckedSheet, Pour, PourSheet
from wetfront.nouns.verdict import Judgement
from wetfront.planning.book_limits import laid_over
from wetfront.planning.day import Day, day_of
from wetfront.planning.situation import pour_elements, volumes_of
from wetfront.takeoff.order import rounded_up_to_step

CAUTIONS = (
    "The verdicts are the program's comparison with limits. The decision is the site's, and taking a load outside a "
    "limit is the specifier's.",
    "Water added on site to a mix already at its ratio weakens the structure.",
    "A wait over the specification's minutes is a departure to be recorded and shown to the designer. It is not by "
    "itself a cold joint, and a wait within them proves no sound one: that is seen in the work.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredOnSite:
    """What tickets cannot tell: measured by people. None: not measured."""

    in_place_m3: float | None = None
    """Concrete in the work, by survey after the pour."""
    left_m3: float | None = None
    """Still to be filled, measured now."""


def delivery_report(
    checked: CheckedSheet,
    pours: Sequence[Pour],
    rows: Sequence[DeliveryRow],
    reading: Reading,
    log: Sequence[LogLine] = (),
    measured: MeasuredOnSite | None = None,
    inputs: Sequence[tuple[str, str]] = (),
) -> DeliveryReport:
    """What the tickets tell of each of `pours` that has any row; of the only one in any case."""
    known = [pour for pour in pours if len(pours) == 1 or any(row.pour == pour.id for row in rows)]
    of_sheet = checked.sheet
    days = tuple(
        _day(of_sheet, pour, [row for row in rows if row.pour == pour.id], log, measured or MeasuredOnSite())
        for pour in sorted(known, key=lambda pour: (pour.date, pour.id))
    )
    days = tuple(replace(day, findings=findings_of(day, reading, of_sheet.project.currency)) for day in days)
    return DeliveryReport(
        schema=TICKETS_SCHEMA,
        program=f"wetfront {__version__}",
        project=of_sheet.project.name,
        time_zone=of_sheet.project.time_zone,
        currency=of_sheet.project.currency,
        invented=of_sheet.project.invented,
        reading=reading,
        other_rows_count=sum(all(row.pour != pour.id for pour in pours) for row in rows),
        days=days,
        delivered_m3=sum(day.volumes.delivered_m3 for day in days),
        net_m3=sum(day.volumes.net_m3 for day in days),
        inputs=tuple(inputs),
    )


def _day(
    plain_sheet: PourSheet,
    pour: Pour,
    rows: Sequence[DeliveryRow],
    log: Sequence[LogLine],
    measured: MeasuredOnSite,
) -> DeliveryDay:
    laid = laid_over(plain_sheet, pour)
    sheet, mix, prices = laid.sheet, plain_sheet.mix[pour.mix], plain_sheet.prices
    once = _each_once(rows)
    of_day = volumes_of_day(sheet, pour, rows, measured)
    longest_road = _longest_road(sheet)
    came_late = late(once, longest_road)
    idle_cu_per_h = prices.pump_cu_per_h + prices.crew_cu_per_h
    stops = stops_of(once, log, idle_cu_per_h, sheet.trucks.capacity_m3, came_late)
    edges, note = edge_waits(once, stops, sheet.specification.live_edge, mix)
    ages = {row.number: age for row in once if (age := age_at_end(row)) is not None}
    known = {number: age.min for number, age in ages.items() if not age.at_least}
    oldest = max(known.values(), default=None)
    taken = [row for row in once if row.state is RowState.TAKEN]
    own_age = plain_sheet.trucks.longest_batching_to_end_of_discharge_min
    age_limit = sheet.trucks.longest_batching_to_end_of_discharge_min
    return DeliveryDay(
        pour=pour.id,
        title=pour.title,
        date=pour.date,
        mix=pour.mix,
        findings=(),
        volumes=of_day,
        loads=tuple(_load(row, mix, judgement) for row, judgement in _judged(plain_sheet, pour, rows, log)),
        late=came_late,
        road_not_judged=road_not_judged(once, longest_road),
        out_of_order=out_of_order(once),
        in_ban=_in_ban(once, day_of(plain_sheet, pour.date)),
        truck_clashes=truck_clashes(once),
        oldest=tuple(number for number, age in known.items() if oldest is not None and age >= oldest - 1e-9),
        oldest_age_min=oldest,
        age_limit_min=age_limit,
        age_limit_from="project" if age_limit == own_age else "rule book",
        age_unknown=tuple(number for number, age in ages.items() if age.at_least),
        queue=queue_of(
            once,
            sheet.trucks.waiting_places_on_site_count,
            prices.waiting_free_min_per_load,
            prices.waiting_cu_per_min,
        ),
        stops=stops,
        edges=edges,
        edges_note=note,
        sampling=sampling_check(
            taken, sheet.sampling, samples_specified(sheet.sampling, of_day.accepted_m3, len(taken))
        ),
        balance_call=balance_call(sheet, of_day, once, measured.left_m3),
        cautions=CAUTIONS,
    )


def _each_once(rows: Sequence[DeliveryRow]) -> list[DeliveryRow]:
    """The rows without a second one of the same number: two contents of one ticket are one truck."""
    found: dict[str, DeliveryRow] = {}
    for row in rows:
        found.setdefault(row.number, row)
    return list(found.values())


def volumes_of_day(sheet: PourSheet, pour: Pour, rows: Sequence[DeliveryRow], measured: MeasuredOnSite) -> VolumesOfDay:
    """Planned and delivered volumes."""
    planned = volumes_of(sheet, pour)
    accepted, rejected, held = volumes(rows)
    in_place = measured.in_place_m3
    return VolumesOfDay(
        net_m3=planned.net_m3,
        need_m3=planned.gross_m3,
        order_m3=planned.order_m3,
        loads_planned_count=planned.loads_count(sheet.trucks.capacity_m3),
        delivered_m3=accepted + rejected + held,
        accepted_m3=accepted,
        rejected_m3=rejected,
        held_m3=held,
        in_place_m3=in_place,
        residue_m3=None if in_place is None else accepted - in_place,
        rejected_cu=rejected * sheet.prices.returned_concrete_cu_per_m3,
    )


def balance_call(sheet: PourSheet, of_day: VolumesOfDay, rows: Sequence[DeliveryRow], left_m3: float | None) -> str:
    """What to call off now: what was measured as still to fill, with its wastage, less what is on the way.

    The line is full already and stays so: its content is not counted again. Rounded up to the plant's step. Own rule.
    """
    if left_m3 is None:
        return ""
    under_way = sum(
        row.volume_m3 for row in rows if row.state is not RowState.REFUSED and row.load.discharge_end is None
    )
    wastage = sheet.allowance.wastage_percent
    need = left_m3 * (1 + wastage / 100) - under_way
    made = f"{left_m3:g} m³ measured as still to fill, {wastage:g} % wastage, less {under_way:g} m³ on the way"
    if need <= 0:
        return f"call nothing more: {made} leaves {-need:.2f} m³ over"
    call = rounded_up_to_step(need, sheet.allowance.rounding_step_m3)
    capacity = sheet.trucks.capacity_m3
    loads = "" if call <= capacity else f", in loads of at most {capacity:g} m³"
    return f"call {call:g} m³{loads}: {made} is {need:.2f} m³, rounded up to {sheet.allowance.rounding_step_m3:g} m³"


def _in_ban(rows: Sequence[DeliveryRow], day: Day) -> tuple[str, ...]:
    """Tickets of loads that arrived while no truck may arrive; the first minute after a ban is free."""
    return tuple(
        row.number
        for row in rows
        if row.load.arrived is not None
        and any(start <= day.minutes(row.load.arrived) < end for _, start, end in day.ban_reasons)
    )


def _longest_road(sheet: PourSheet) -> dict[str, float]:
    """Each plant's high travel time; a ticket without a plant is judged where only one plant supplies."""
    found = {plant.id: plant.travel_loaded_min.high for plant in sheet.plant}
    main = [plant for plant in sheet.plant if not plant.standby]
    if len(main) == 1:
        found[""] = main[0].travel_loaded_min.high
    return found


def _judged(
    sheet: PourSheet, pour: Pour, rows: Sequence[DeliveryRow], log: Sequence[LogLine]
) -> list[tuple[DeliveryRow, Judgement]]:
    """Each load by the acceptance function, with the site's own decision beside it."""
    order = ordered(pour.mix, sheet.mix[pour.mix])
    limits = acceptance_limits(sheet.specification, sheet.trucks, order, pour_elements(sheet, pour))
    last = max((moment for row in rows for moment in row.moments), default=None)
    judged = []
    for plain in rows:
        row = replace(plain, load=with_log(plain, log))
        now = None if row.load.discharge_end is not None else row.left_site or last
        judged.append((row, judge_load(order, row.load, limits, now=now, decision=row.decision)))
    return judged


def _load(row: DeliveryRow, mix: Mix, judged: Judgement) -> LoadOfDay:
    load, verdict = row.load, judged.verdict
    water = sum(each.amount_l for each in load.additions if each.kind == "water")
    admixture = sum(each.amount_l for each in load.additions if each.kind == "admixture")
    retest = load.tests.slump_mm if load.additions else load.tests.slump_check_mm
    fits = verdict.outcome.rank == 0
    return LoadOfDay(
        ticket_number=row.number,
        line=row.line,
        state=row.state,
        volume_m3=row.volume_m3,
        truck=load.ticket.truck,
        batched=load.ticket.batched,
        arrived=load.arrived,
        discharge_start=load.discharge_start,
        discharge_end=load.discharge_end,
        left_site=row.left_site,
        age=age_at_end(row),
        on_the_road_min=road_min(row),
        on_site_min=on_site_min(row),
        slump_mm=row.slump_first_mm,
        slump_retest_mm=retest,
        concrete_temperature_c=load.tests.concrete_temperature_c,
        water_added_l=water,
        admixture_added_l=admixture,
        addition_agreed_by=", ".join(dict.fromkeys(each.agreed_by for each in load.additions if each.agreed_by)),
        water_ratio=_ratio(mix, water, row.volume_m3),
        sample_id=row.sample_id,
        placed_in=row.placed_in,
        verdict=verdict.outcome.value,
        verdict_held=verdict.held,
        rests_on_memory=verdict.rests_on_memory,
        verdict_reasons=() if fits else tuple(each.text for each in verdict.deciding),
        verdict_limits=tuple(dict.fromkeys(each.limit.text for each in verdict.findings if each.limit is not None)),
        not_judged=verdict.not_judged,
        decision="" if row.decided is None else "accept" if row.decided else "refuse",
        decided_by="" if row.decision is None else row.decision.by,
        differs=judged.differs,
        in_words=in_words(judged),
        remarks=row.remarks,
    )


def _ratio(mix: Mix, water_l: float, load_m3: float) -> WaterRatio | None:
    if not water_l:
        return None
    return water_ratio(mix.water_kg_per_m3, mix.cement_kg_per_m3, water_l, load_m3, mix.max_water_cement_ratio)
