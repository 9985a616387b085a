"""What a board rests on and that no event changes: the pour with its sheet, plan, lattice, limits and setting clock."""

import hashlib
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wetfront.acceptance import AcceptanceLimits, SamplingPlan, acceptance_limits, ordered
from wetfront.desk.situations import weather_on
from wetfront.errors import NoFeasiblePlan
from wetfront.nouns.load import Order
from wetfront.nouns.plan import Plan, ReadinessItem
from wetfront.nouns.sheet import CheckedSheet, Pour, PourSheet
from wetfront.planning.arrange import Arrangement, arrangement
from wetfront.planning.book_limits import laid_over
from wetfront.planning.call_off import planned_samples
from wetfront.planning.candidate import Candidate
from wetfront.planning.day import Day, DayWeather, day_of
from wetfront.planning.decided import candidate_of, order_of, undecided_order
from wetfront.planning.joint_clock import JointClock, joint_clock
from wetfront.planning.model import is_finished
from wetfront.planning.pour_plan import bare_parts
from wetfront.planning.situation import Situation, Volumes, pour_elements, pump_of, situation_of, volumes_of
from wetfront.planning.splits import split_sheet
from wetfront.planning.steps import Steps, steps_of

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Basis:
    """Made once for a sheet and its plan; every board of the pour is made from it and the record."""

    checked: CheckedSheet
    """With the rule book's limits laid over its own."""
    own_sheet: PourSheet
    """As the site wrote it: the acceptance of loads lays its rule book over it itself."""
    pour: Pour
    day: Day
    plan: Plan | None
    plan_revision: str
    planning: str
    """Where the plan is when it is not there: how far the search is, or why there is none."""
    weather: DayWeather | None
    """None where the forecast does not reach the day."""
    situation: Situation | None
    candidate: Candidate | None
    """None without a decision; the cells are then those of `undecided_order`."""
    volumes: Volumes
    arranged: Arrangement
    steps: Steps
    lattice: str
    order: Order
    limits: AcceptanceLimits
    clock: JointClock | None
    """None without weather or decision: nothing then says when concrete sets."""
    sampling: SamplingPlan
    readiness: tuple[ReadinessItem, ...]
    cautions: tuple[str, ...]

    @property
    def sheet(self) -> PourSheet:
        """The sheet with the limits that hold."""
        return self.checked.sheet

    @property
    def cell_of_position(self) -> Ints:
        """The lattice's number of each cell in placing order."""
        return self.arranged.order.lattice_cell

    @property
    def waste(self) -> float:
        """Concrete that goes elsewhere, as a share of what goes into the work."""
        return (self.volumes.wastage_m3 + self.volumes.extra_m3) / self.volumes.net_m3

    @property
    def lead_m3(self) -> float:
        """Of the first loads: priming, and what stays in line and hopper."""
        return self.volumes.priming_m3 + self.volumes.lost_line_m3

    @property
    def rate_m3_per_h(self) -> float:
        """The plan's placing rate; the pump's without one."""
        if self.candidate is not None:
            return self.candidate.rate_m3_per_h
        return pump_of(self.sheet, self.pour).planned_output_m3_per_h

    @property
    def has_surface(self) -> bool:
        """Something is there that can dry from above."""
        return any(row.top_area_m2 > 0 for row in self.volumes.quantities.rows)


def basis_of(checked: CheckedSheet, pour: Pour, plan: Plan | None, revision: str = "", planning: str = "") -> Basis:
    """Put together what the boards of one pour rest on. `plan`: the desk's plan of this very sheet, None without."""
    own = checked.sheet
    if plan is not None:
        pour = replace(pour, date=plan.date)  # the plan may have chosen another of the days that are open
    laid = laid_over(own, pour)
    sheet = laid.sheet
    decision = plan.decision if plan is not None else None
    if decision is not None and decision.joint:
        sheet, pour = split_sheet(sheet, pour, decision.element_order)  # the plan is of the part that is placed first
    checked = replace(checked, sheet=sheet)
    day = day_of(sheet, pour.date)
    seed = plan.search.seed if plan is not None and plan.search is not None else 0
    # With a plan in the weathers that it was made in: an empty record then gives its own figures.
    weather = weather_on(checked, day, seed)
    situation = situation_of(sheet, pour, day, weather) if weather is not None and day.works else None
    candidate = candidate_of(situation, decision) if situation is not None and decision is not None else None
    elements = pour_elements(sheet, pour)
    choice = order_of(decision) if decision is not None else undecided_order(sheet, pour)
    placed = tuple(element for element in elements if element.id in choice.element_order)
    finishes = sheet.specification.finish != "none"
    arranged = arrangement(
        placed,
        choice,
        pump_of(sheet, pour).move_min,
        frozenset(form.id for form, _ in situation.forms) if situation is not None else frozenset(),
        frozenset(element.id for element in placed if finishes and is_finished(element)),
    )
    order = ordered(pour.mix, own.mix[pour.mix])
    volumes = volumes_of(sheet, pour).with_pumps(decision.pumps_count if decision is not None else 1)
    loads = len(plan.loads) if plan is not None and plan.loads else volumes.loads_count(sheet.trucks.capacity_m3)
    bare = bare_parts(sheet, pour, volumes, checked.readiness) if plan is None else {}
    return Basis(
        checked=checked,
        own_sheet=own,
        pour=pour,
        day=day,
        plan=plan,
        plan_revision=revision,
        planning=planning,
        weather=weather,
        situation=situation,
        candidate=candidate,
        volumes=volumes,
        arranged=arranged,
        steps=steps_of(arranged, choice.layers == "whole"),
        lattice=lattice_name(arranged),
        order=order,
        limits=acceptance_limits(own.specification, own.trucks, order, elements),
        clock=_clock(situation, candidate),
        sampling=planned_samples(sheet, volumes.order_m3, volumes.quantities.top_area_m2, loads, seed),
        readiness=plan.readiness if plan is not None else bare["readiness"],
        cautions=plan.cautions if plan is not None else bare["cautions"],
    )


def _clock(situation: Situation | None, candidate: Candidate | None) -> JointClock | None:
    if situation is None or candidate is None:
        return None
    try:
        return joint_clock(situation, candidate)
    except NoFeasiblePlan:
        return None


def lattice_name(arranged: Arrangement) -> str:
    """A name that changes with the cells: entries about cells of another lattice are not mistaken for these."""
    lattice = arranged.lattice
    digest = hashlib.sha256(",".join(lattice.element_ids).encode())
    for column in (lattice.element, lattice.layer, np.round(lattice.outline_uv_m * 1000).astype(np.int64)):
        digest.update(np.ascontiguousarray(column).tobytes())
    return digest.hexdigest()[:16]
