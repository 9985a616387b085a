"""The check list before the pour: what applies, what is accepted, who releases, what has been recorded."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from wetfront.nouns.plan import ReadinessItem
from wetfront.nouns.readiness import ReadinessItem as Recorded
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.sheet import PourSheet
from wetfront.placing.site_mixer import age_limit
from wetfront.planning.needs import Facts

PROJECT = "project's own value"
RECORDED = "project's check list"


@dataclass(frozen=True, slots=True)
class ListedCheck:
    """A line of the list as it stands in `readiness.toml`."""

    id: str
    group: str
    check: str
    acceptance: str
    source: Source
    hold: bool
    needs: frozenset[str]


@cache
def listed_checks() -> tuple[ListedCheck, ...]:
    """The whole list, in its order."""
    table = tomllib.loads(files("wetfront.planning").joinpath("readiness.toml").read_text(encoding="utf-8"))
    return tuple(
        ListedCheck(
            id=item["id"],
            group=item["group"],
            check=item["check"],
            acceptance=item["acceptance"],
            source=Source(item["source"], Provenance(item["provenance"])),
            hold=item.get("hold", False),
            needs=frozenset(item.get("needs", ())),
        )
        for item in table["item"]
    )


def readiness_list(
    sheet: PourSheet, needs: frozenset[str], facts: Facts, recorded: Sequence[Recorded]
) -> tuple[ReadinessItem, ...]:
    """Hold points first, then what the project has recorded, then the lines of the list that this pour needs.

    A recorded row stands by itself, with its own words and numbers: its ids are the project's, not those of the list.
    A line of the list that the project records in the same words is not shown twice.
    """
    own = _project_acceptance(sheet, facts)
    same_words = {row.item.casefold() for row in recorded}
    states = {row.item_id: row for row in recorded}
    found = [
        ReadinessItem(
            id=point.id,
            group="hold point",
            check=point.title,
            acceptance=f"released by {point.released_by}, in writing, before work goes on",
            source=PROJECT,
            hold_point=True,
            released_by=point.released_by,
            state=_state(states[point.id]) if point.id in states else "open",
        )
        for point in sheet.hold_point
    ]
    hold_ids = {point.id for point in sheet.hold_point}
    found += [
        ReadinessItem(
            id=row.item_id,
            group=row.group,
            check=row.item,
            acceptance=row.acceptance,
            source=RECORDED,
            hold_point=False,
            released_by=row.checked_by_role,
            state=_state(row),
        )
        for row in recorded
        if row.item_id not in hold_ids
    ]
    taken = {item.id for item in found}
    for line in listed_checks():
        if (line.needs and not line.needs & needs) or line.check.casefold() in same_words:
            continue
        acceptance = own.get(line.id)
        found.append(
            ReadinessItem(
                # The list's own number, kept apart from the project's where both use the same one.
                id=f"list {line.id}" if line.id in taken else line.id,
                group=line.group,
                check=line.check,
                acceptance=acceptance or line.acceptance,
                source=PROJECT if acceptance else f"default: {line.source.citation} ({line.source.provenance})",
                hold_point=line.hold,
                released_by="",
                state="open",
            )
        )
    return tuple(found)


def unsettled(items: Sequence[ReadinessItem]) -> tuple[str, ...]:
    """Recorded items that are not passed, in words: what a site engineer asks for the evening before."""
    return tuple(
        f"{item.id} {item.check}: {item.state}"
        for item in items
        if item.source == RECORDED and not item.state.startswith("pass")
    )


def _state(row: Recorded) -> str:
    measured = " ".join(part for part in (row.measured, row.unit.replace("_", " ")) if part)
    details = [text for text in (measured, row.note) if text]
    when = "" if row.checked_local is None else f", {row.checked_local.strftime('%d %b %H:%M')}"
    return f"{row.result}{when}" + (f" ({'; '.join(details)})" if details else "")


def _project_acceptance(sheet: PourSheet, facts: Facts) -> Mapping[str, str]:
    """Acceptance that the sheet sets or that follows from its figures, by the list's id."""
    specification = sheet.specification
    found = {
        "F8": f"free fall at most {specification.free_fall_max_m:g} m at every point",
        "E5": f"{facts.vibrators_count} working and {-(-facts.vibrators_count // 3)} spare, all started today",
        "K1": f"{1.05 * facts.top_area_m2:.0f} m² on hand, 105 % of {facts.top_area_m2:.0f} m²",
        "M3": f"sheets for the largest open area, at most {facts.top_area_m2:.0f} m², with weights",
        "T1": f"{facts.samples_count} samples as marked in the call-off table",
        "T2": f"at least {-(-facts.specimens_count * 12 // 10)} moulds: {facts.specimens_count} planned plus 20 %",
        "M2": f"action at {specification.evaporation_action_kg_per_m2_h:g}, full measures at "
        f"{specification.evaporation_stop_kg_per_m2_h:g} kg/m²h",
        "S2": f"at most {sheet.trucks.longest_batching_to_end_of_discharge_min:g} min to the end of discharge",
        "E4": f"at most {sheet.trucks.waiting_places_on_site_count} trucks waiting",
    }
    if sheet.site_mixer is not None:
        found["B6"] = f"at most {age_limit(sheet.site_mixer)[0]:g} min from charging the drum until it is placed"
    if facts.placing_h > 6:
        found["W2"] = found["B8"] = f"list; relief named, since placing takes {facts.placing_h:.1f} h"
    if specification.concrete_temperature_at_placing_c is not None:
        limits = specification.concrete_temperature_at_placing_c
        found["M1"] = f"{limits.min:g} to {limits.max:g} °C"
    if specification.slump_limits_mm is not None:
        low, high = specification.slump_limits_mm
        found["S5"] = found["B9"] = f"{low:g} to {high:g} mm"
    if specification.curing_class:
        found["K2"] = f"on the plan; {specification.curing_class}"
    if sheet.formwork is not None:
        found["F10"] = (
            f"{sheet.formwork.permitted_pressure_kn_per_m2:g} kN/m² ({sheet.formwork.basis})"
            + (
                f" and {sheet.formwork.designer_assumed_rise_m_per_h:g} m/h"
                if sheet.formwork.designer_assumed_rise_m_per_h is not None
                else ""
            )
            + " readable from the placing deck"
        )
    if sheet.falsework:
        found["P5"] = (
            "; ".join(
                f"{', '.join(falsework.elements)}: heaps at most {falsework.permitted_heap_mm:g} mm"
                for falsework in sheet.falsework
            )
            + "; signed by the hose crew"
        )
    if sheet.overhead_line:
        found["E2"] = "; ".join(
            f"{line.voltage_kv:g} kV: never nearer than {line.least_clearance_agreed_m:g} m"
            for line in sheet.overhead_line
        )
    if specification.wind_stop_m_per_s is not None:
        found["E7"] = f"boom stowed at gusts of {specification.wind_stop_m_per_s:g} m/s"
    if facts.joint_places:
        found["J3"] = f"timber, dowels and sheets on the deck for {', '.join(facts.joint_places)}"
    return found
