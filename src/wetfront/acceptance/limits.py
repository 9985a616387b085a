"""The limits that a pour's loads are judged by: rule book in force with the project's specification laid over it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

from wetfront.acceptance.compare import LoadLimits
from wetfront.acceptance.consistence import CLASS_BASES, ValueLimits, flow_limits, slump_flow_limits, slump_limits
from wetfront.acceptance.measured import air_limits
from wetfront.errors import InvalidInput
from wetfront.nouns.element import Column, DeckSlab, Element, GroundSlab, Slab, Wall
from wetfront.nouns.load import Order, SampleKind, TestName
from wetfront.nouns.mix import Mix
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.sheet import Specification, TemperatureLimits
from wetfront.nouns.site import Trucks
from wetfront.nouns.verdict import LimitInForce, Whose
from wetfront.rules import (
    Applied,
    Rule,
    Terms,
    approver_of_deviations,
    held,
    in_force,
    rule,
    stricter_of,
    terms_of,
    with_terms,
)
from wetfront.rules.model import Value, limit_in_words

AGE_RULES = ("delivery-time-agitated", "delivery-time-not-agitated")
"""For a drum that turns, and for everything else."""
END_OF_DISCHARGE = "end of discharge"
"""What the sheet's own age limit counts to; a rule that counts to another moment is judged beside it, never merged."""
BATCHING = "first contact of cement and water"
ARRIVAL = "arrival"
SHEET = Source("the project's specification", Provenance.INPUT)
TICKET_LIMIT = Source("time limit agreed and printed on the ticket", Provenance.INPUT)

_SLUMP_BASIS: dict[tuple[str, SampleKind], str] = {
    ("en", "spot"): "bs-8500-spot",
    ("en", "composite"): "en-206-composite",
    ("aci", "spot"): "astm-c94",
    ("aci", "composite"): "astm-c94",
    ("is", "spot"): "is-4926",
    ("is", "composite"): "is-4926",
    ("as", "spot"): "as-1379",
    ("as", "composite"): "as-1379",
}
_SLUMP_CLASSES = ("S1", "S2", "S3", "S4")
"""S5 has no slump limits: the flow table tells more."""
_AIR_BASIS = {"en": "en-206", "aci": "astm-c94"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TestLimit:
    """The limit of one test on one kind of sample."""

    __test__ = False

    test: TestName
    sample: SampleKind
    limit: LimitInForce


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptanceLimits:
    """Everything that the loads of a pour are compared with. A missing limit is not judged; the verdict says so."""

    book: str | None
    ages: tuple[LimitInForce, ...] = ()
    """Each with what it counts from and to."""
    project_age_min: float | None = None
    """The project's own age limit to the end of discharge, which no ticket loosens."""
    turns: LimitInForce | None = None
    temperatures: tuple[LimitInForce, ...] = ()
    tests: tuple[TestLimit, ...] = ()
    terms: Terms | None = None
    """What the project confirmed, set itself and approved; None where it names no rule book."""
    notes: tuple[str, ...] = ()
    """What could not be made a limit, and why."""

    def rule(self, book_name: str, name: str) -> Rule:
        """A rule with what this project's people confirmed, set themselves and approved."""
        return _in_terms(rule(book_name, name), self.terms)

    def of_test(self, test: TestName, sample: SampleKind) -> LimitInForce | None:
        """The limit of a test on this kind of sample, None where there is none."""
        return next((each.limit for each in self.tests if (each.test, each.sample) == (test, sample)), None)

    @property
    def numbers(self) -> LoadLimits:
        """Age to the end of discharge and temperature as bare figures: what the simulator judges by."""
        ages = [each.high for each in self.ages if each.counts_to == END_OF_DISCHARGE and each.high is not None]
        lows = [each.low for each in self.temperatures if each.low is not None]
        highs = [each.high for each in self.temperatures if each.high is not None]
        return LoadLimits(
            longest_age_min=min(ages, default=inf),
            lowest_c=max(lows, default=-inf),
            highest_c=min(highs, default=inf),
        )


def ordered(name: str, mix: Mix) -> Order:
    """The order of a mix of the sheet."""
    return Order(
        mix=name,
        strength_class=mix.strength_class,
        exposure_classes=mix.exposure,
        consistence_class=mix.consistence_class,
        target_slump_mm=mix.slump_mm,
        maximum_aggregate_size_mm=mix.largest_aggregate_mm,
        cementitious_kg_per_m3=mix.cement_kg_per_m3,
        free_water_kg_per_m3=mix.water_kg_per_m3,
        maximum_water_cement_ratio=mix.max_water_cement_ratio,
    )


def acceptance_limits(
    specification: Specification, trucks: Trucks, order: Order, elements: Sequence[Element] = ()
) -> AcceptanceLimits:
    """The limits for the loads of a pour: the specification's rule book with its own figures laid over it.

    `elements`: what is placed, for rules that go by its least dimension. InvalidInput where book and project cannot
    both be met.
    """
    return _Building(specification, trucks, order, elements).limits()


def figures(specification: Specification, trucks: Trucks) -> LoadLimits:
    """Age and temperature limits of a sheet as they stand in it, as bare figures.

    For a sheet over which the rule book is laid already; `AcceptanceLimits.numbers` lays it over first.
    """
    temperatures = specification.concrete_temperature_at_placing_c
    return LoadLimits(
        longest_age_min=trucks.longest_batching_to_end_of_discharge_min,
        lowest_c=temperatures.min if temperatures else -inf,
        highest_c=temperatures.max if temperatures else inf,
    )


def least_dimension_mm(elements: Sequence[Element]) -> float | None:
    """Least section dimension of the pour, where the shape has one; the thinnest element is the cautious one."""
    found = []
    for element in elements:
        match element:
            case Slab() | GroundSlab() | Wall():
                found.append(element.thickness_mm)
            case DeckSlab():
                found.append(element.overall_depth_mm - element.rib_height_mm)
            case Column():
                sides = (element.width_m, element.breadth_m, element.diameter_m, element.across_flats_m)
                found += [1000 * side for side in sides if side is not None]
    return min(found, default=None)


@dataclass(frozen=True, slots=True)
class LaidAge:
    """The age limit to the end of discharge, and a rule that limits another stretch of time."""

    to_end_min: float
    merged: Applied | None
    """None where no rule counts to the end of discharge: then the project's figure stands alone."""
    beside: Applied | None
    """The book's rule where it counts to another moment."""


def laid_age(terms: Terms | None, trucks: Trucks) -> LaidAge:
    """The book's time limit for this kind of vehicle laid over the sheet's; to another moment it is kept apart."""
    own = trucks.longest_batching_to_end_of_discharge_min
    name = AGE_RULES[0] if trucks.vehicle == "revolving-drum" else AGE_RULES[1]
    found = None if terms is None else in_force(terms.book, name)
    if terms is None or found is None:
        return LaidAge(own, None, None)
    if found.counts_to != END_OF_DISCHARGE:
        return LaidAge(own, None, held(terms, name))
    merged = held(terms, name, own=own)
    longest = own if merged is None or merged.high is None else merged.high
    return LaidAge(longest, merged, None)


def laid_temperatures(
    terms: Terms | None, own: TemperatureLimits | None, least_dimension_mm: float | None
) -> tuple[Applied | None, Applied | None]:
    """The book's lowest and highest concrete temperature with the project's range laid over each."""
    if terms is None:
        return None, None
    return (
        held(terms, "concrete-temperature-least", least_dimension_mm, own.min if own else None),
        held(terms, "concrete-temperature-most", own=own.max if own else None),
    )


def _in_terms(found: Rule, terms: Terms | None) -> Rule:
    return found if terms is None else with_terms(found, terms)


class _Building:
    """Collects the limits of one pour."""

    def __init__(self, specification: Specification, trucks: Trucks, order: Order, elements: Sequence[Element]) -> None:
        self.own, self.trucks, self.order = specification, trucks, order
        self.terms = terms_of(specification)
        self.book = specification.rule_book
        self.least_mm = least_dimension_mm(elements)
        self.notes: list[str] = []

    def limits(self) -> AcceptanceLimits:
        """All of them."""
        return AcceptanceLimits(
            book=self.book,
            ages=self.ages(),
            project_age_min=self.trucks.longest_batching_to_end_of_discharge_min,
            turns=self.laid("drum-turns"),
            temperatures=self.temperatures(),
            tests=(*self.consistence(), *self.air()),
            terms=self.terms,
            notes=tuple(self.notes),
        )

    def lookup(self, book_name: str, name: str) -> Rule:
        """A rule with what this project's people confirmed, set themselves and approved."""
        return _in_terms(rule(book_name, name), self.terms)

    def laid(self, name: str, own: Value | None = None, where: float | str | None = None) -> LimitInForce | None:
        """The rule with the project's figure laid over it; None where there is no rule."""
        found = None if self.terms is None else held(self.terms, name, where, own)
        return None if found is None else in_force_limit(found)

    def ages(self) -> tuple[LimitInForce, ...]:
        """To the end of discharge, and what the book limits beside it."""
        age = laid_age(self.terms, self.trucks)
        if age.merged is None:
            to_end = project_limit("Age of a load", None, age.to_end_min, "min", counts=(BATCHING, END_OF_DISCHARGE))
        else:
            to_end = in_force_limit(age.merged)
        beside = None if age.beside is None else in_force_limit(age.beside)
        return tuple(each for each in (to_end, beside, self.laid("discharge-after-arrival")) if each is not None)

    def temperatures(self) -> tuple[LimitInForce, ...]:
        """The lowest and the highest."""
        own = self.own.concrete_temperature_at_placing_c
        least, most = (
            None if applied is None else in_force_limit(applied)
            for applied in laid_temperatures(self.terms, own, self.least_mm)
        )
        if own is not None:
            least = least or project_limit("Lowest concrete temperature at placing", own.min, None, "°C")
            most = most or project_limit("Highest concrete temperature at placing", None, own.max, "°C")
        return tuple(each for each in (least, most) if each is not None)

    def consistence(self) -> list[TestLimit]:
        name = self.order.consistence_class.upper()
        found = []
        samples: tuple[SampleKind, ...] = ("spot", "composite")
        for sample in samples:
            if (slump := self.slump(name, sample)) is not None:
                found.append(TestLimit(test="slump", sample=sample, limit=slump))
            if self.book == "en" and name.startswith("F"):
                flow = flow_limits(name, spot=sample == "spot", lookup=self.lookup)
                found.append(TestLimit(test="flow", sample=sample, limit=self.derived("Flow", name, flow)))
        if self.order.target_slump_flow_mm is not None:
            flow = slump_flow_limits(target_mm=self.order.target_slump_flow_mm, lookup=self.lookup)
            found += self.both_samples("slump-flow", self.derived("Slump-flow", "target", flow))
        elif name.startswith("SF"):
            flow = slump_flow_limits(slump_flow_class=name, lookup=self.lookup)
            found += self.both_samples("slump-flow", self.derived("Slump-flow", name, flow))
        return found

    def both_samples(self, test: TestName, limit: LimitInForce) -> list[TestLimit]:
        return [
            TestLimit(test=test, sample="spot", limit=limit),
            TestLimit(test=test, sample="composite", limit=limit),
        ]

    def slump(self, name: str, sample: SampleKind) -> LimitInForce | None:
        """Book's limits for class or target, the project's own range laid over them."""
        own, target = self.own.slump_limits_mm, self.order.target_slump_mm
        alone = None if own is None else project_limit("Slump", own[0], own[1], "mm")
        if self.book is None:
            return alone
        basis = _SLUMP_BASIS[self.book, sample]
        by_class = basis in CLASS_BASES and name in _SLUMP_CLASSES
        if by_class and basis == "bs-8500-spot":
            return self.laid("slump-spot-limits", own, name)
        if not by_class and (target is None or (name and name not in _SLUMP_CLASSES and name[0] in "SFVC")):
            return alone
        as_maximum = basis == "astm-c94" and self.order.slump_is_maximum
        limits = slump_limits(
            basis,
            consistence_class=name if by_class else None,
            target_mm=None if by_class else target,
            specified_as_maximum=as_maximum,
            lookup=self.lookup,
        )
        of = f"class {name}" if by_class else f"target {target:g} mm"
        try:
            approver = "" if own is None else self.approver(limits, own, None if by_class else target, as_maximum)
            return self.derived("Slump", of, limits, own, approver)
        except InvalidInput as error:
            if sample == "spot":
                raise
            self.notes.append(f"slump of a composite sample: {error.message}")
            return None

    def air(self) -> list[TestLimit]:
        wanted = self.order.air_percent
        if wanted is None:
            return []
        if self.book not in _AIR_BASIS:
            self.notes.append("air: the rule book in force gives no limits for it")
            return []
        limits = air_limits(_AIR_BASIS[self.book], wanted, self.lookup)
        return self.both_samples("air", self.derived("Air content", f"specified {wanted:g} %", limits))

    def approver(self, limits: ValueLimits, own: tuple[float, float], target: float | None, as_maximum: bool) -> str:
        """Who stands for the project's slump range where it is wider than a class or target with its tolerances."""
        assert self.terms is not None
        wanted = (limits.rules[0].low, limits.rules[0].high) if target is None else (target, target)
        deviations = [each for each in limits.rules if each.low is None]  # the divisor of IS 4926 is none
        below = deviations[0].name if deviations else "slump-tolerance"
        above = "" if as_maximum else deviations[-1].name if deviations else "slump-tolerance"
        asked = []
        if own[0] < limits.low:
            asked.append((below, self.row_label(below, target), (wanted[0] or 0.0) - own[0]))
        if limits.high is not None and own[1] > limits.high:
            asked.append((above, self.row_label(above, target), own[1] - (wanted[1] or 0.0)))
        return approver_of_deviations(self.terms, asked)

    def row_label(self, name: str, target: float | None) -> str:
        """The row of a tolerance for this target; empty for one limit."""
        table = rule(self.book, name) if self.book and name else None
        return table.row_at(target).label(table.by_unit) if table and table.cells and target is not None else ""

    def derived(
        self,
        title: str,
        of: str,
        limits: ValueLimits,
        own: tuple[float, float] | None = None,
        approver: str = "",
    ) -> LimitInForce:
        """Limits worked out from rules, as one limit; known no better than the least known of them."""
        first = next((each for each in limits.rules if each.provenance is Provenance.MEMORY), limits.rules[0])
        one = replace(
            first,
            title=f"{title}, {of}",
            unit="%" if title.startswith("Air") else "mm",
            low=limits.low,
            high=limits.high,
            cells=(),
        )
        return in_force_limit(stricter_of(one, own, approver))


def in_force_limit(applied: Applied) -> LimitInForce:
    """A merged rule as a limit of the verdict."""
    whose = {"rule": Whose.RULE_BOOK, "project": Whose.PROJECT, "both": Whose.RULE_BOOK_AND_PROJECT}[applied.governs]
    if applied.rule.provenance is Provenance.INPUT:  # worked out from rules over which the project laid its own
        whose = Whose.PROJECT
    return LimitInForce(
        title=applied.rule.title,
        low=applied.low,
        high=applied.high,
        unit=applied.rule.unit,
        whose=whose,
        source=SHEET if whose is Whose.PROJECT else applied.rule.cited,
        rests_on_memory=applied.rests_on_memory,
        text=applied.text,
        counts_from=applied.rule.counts_from,
        counts_to=applied.rule.counts_to,
    )


def project_limit(
    title: str, low: float | None, high: float | None, unit: str, counts: tuple[str, str] = ("", "")
) -> LimitInForce:
    """A figure of the project where no rule lies under it."""
    return LimitInForce(
        title=title,
        low=low,
        high=high,
        unit=unit,
        whose=Whose.PROJECT,
        source=SHEET,
        text=f"{limit_in_words(low, high, unit)} by the project",
        counts_from=counts[0],
        counts_to=counts[1],
    )


def ages_with_ticket(limits: AcceptanceLimits, agreed_min: float | None) -> tuple[LimitInForce, ...]:
    """The age limits once a ticket carries an agreed one: it replaces the book's, the project's stricter one stays."""
    if agreed_min is None:
        return limits.ages
    kept = tuple(each for each in limits.ages if each.counts_from.startswith(ARRIVAL))
    own = limits.project_age_min
    if own is not None and own < agreed_min:
        text = f"at most {own:g} min by the project, stricter than {agreed_min:g} min on the ticket"
        whose, source, high = Whose.PROJECT, SHEET, own
    else:
        text = f"at most {agreed_min:g} min, agreed on the ticket"
        whose, source, high = Whose.TICKET, TICKET_LIMIT, agreed_min
    agreed = LimitInForce(
        title="Age of a load",
        high=high,
        unit="min",
        whose=whose,
        source=source,
        text=text,
        counts_from=BATCHING,
        counts_to=END_OF_DISCHARGE,
    )
    return (agreed, *kept)
