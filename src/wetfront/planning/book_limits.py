"""The rule book in force laid over a pour's own limits: the stricter holds, and what it changed is said."""

from dataclasses import dataclass, replace

from wetfront.nouns.element import Column, DeckSlab, Element, GroundSlab, Slab, Wall
from wetfront.nouns.mix import Mix
from wetfront.nouns.reason import Step
from wetfront.nouns.sheet import Pour, PourSheet, TemperatureLimits
from wetfront.rules import CHECK_FIRST, Applied, Terms, held, in_force, terms_of

AGE_RULES = ("delivery-time-agitated", "delivery-time-not-agitated")
"""For a drum that turns, and for everything else."""
END_OF_DISCHARGE = "end of discharge"
"""What the sheet's own age limit counts to; a rule that counts to another moment is told beside it, never merged."""


@dataclass(frozen=True, slots=True)
class BookLimits:
    """The sheet with the limits that hold, and one line for each rule that was asked."""

    sheet: PourSheet
    applied: tuple[Applied, ...]
    beside: tuple[str, ...]
    """Rules that limit another quantity than the sheet does: told, not merged."""

    @property
    def steps(self) -> tuple[Step, ...]:
        """Each limit that holds with its source."""
        return tuple(
            Step(f"{each.rule.title}, by {each.whose}", _single(each), each.rule.unit, each.cited)
            for each in self.applied
        )

    @property
    def changed(self) -> tuple[str, ...]:
        """What the project's specification changed in the rule book: stricter, looser with whose name, entered."""
        return tuple(f"{each.rule.title}: {each.text}" for each in self.applied if each.changed)

    def remembered(self, *names: str) -> tuple[str, ...]:
        """The limits of these rules that rest on memory, each as a sentence."""
        return tuple(
            f"{CHECK_FIRST}: {each.rule.title}: {each.text}"
            for each in self.applied
            if each.rests_on_memory and (not names or each.rule.name in names)
        )

    @property
    def measures(self) -> tuple[str, ...]:
        """What a person still has to settle: loosenings without a name, remembered limits that hold."""
        found = [
            f"named approval needed: {each.rule.title}: {each.text}" for each in self.applied if each.needs_approval
        ]
        return (*found, *self.remembered(), *self.beside)


def laid_over(sheet: PourSheet, pour: Pour) -> BookLimits:
    """Lay the specification's rule book over the sheet's limits for one pour; without a book nothing changes.

    Covered: concrete temperature at placing, age of a load at the end of its discharge, evaporation from which
    protection is due, layer thickness, free fall.
    """
    own, terms = sheet.specification, terms_of(sheet.specification)
    if terms is None:
        return BookLimits(sheet, (), ())
    applied: list[Applied] = []

    def limit(name: str, value: float | None, where: float | None = None) -> float | None:
        laid = held(terms, name, where, value)
        if laid is None:
            return value
        applied.append(laid)
        return _single(laid)

    mix = sheet.mix[pour.mix]
    elements = [element for element in sheet.element if element.id in pour.elements]
    temperatures = own.concrete_temperature_at_placing_c
    least = limit(
        "concrete-temperature-least", temperatures.min if temperatures else None, _least_dimension_mm(elements)
    )
    most = limit("concrete-temperature-most", temperatures.max if temperatures else None)
    drying = limit(_evaporation_rule(mix), own.evaporation_action_kg_per_m2_h)
    layer = limit("layer-thickness", own.largest_layer_mm)
    fall = limit("free-fall", own.free_fall_max_m)
    age, beside = _age(sheet, terms, applied)
    specification = replace(
        own,
        concrete_temperature_at_placing_c=_range(temperatures, least, most),
        evaporation_action_kg_per_m2_h=own.evaporation_action_kg_per_m2_h if drying is None else drying,
        largest_layer_mm=own.largest_layer_mm if layer is None else layer,
        free_fall_max_m=own.free_fall_max_m if fall is None else fall,
    )
    trucks = replace(sheet.trucks, longest_batching_to_end_of_discharge_min=age)
    return BookLimits(replace(sheet, specification=specification, trucks=trucks), tuple(applied), beside)


def _age(sheet: PourSheet, terms: Terms, applied: list[Applied]) -> tuple[float, tuple[str, ...]]:
    agitated = sheet.trucks.vehicle == "revolving-drum"
    name = AGE_RULES[0] if agitated else AGE_RULES[1]
    rule = in_force(terms.book, name)
    age = sheet.trucks.longest_batching_to_end_of_discharge_min
    if rule is None:
        return age, ()
    if rule.counts_to != END_OF_DISCHARGE:
        text = (
            f"{rule.citation} limits {rule.limit} from {rule.counts_from} to {rule.counts_to}; the plan judges "
            f"{age:g} min to the end of discharge, which is another moment"
        )
        return age, (text,)
    laid = held(terms, name, own=age)
    if laid is None:
        return age, ()
    applied.append(laid)
    longest = _single(laid)
    return (age if longest is None else longest), ()


def _evaporation_rule(mix: Mix) -> str:
    return "evaporation-precaution-low-bleed" if mix.low_bleed else "evaporation-precaution"


def _range(own: TemperatureLimits | None, least: float | None, most: float | None) -> TemperatureLimits | None:
    """Both ends where both are known; a lone end is opened to where no concrete is placed anyway."""
    if least is None and most is None:
        return own
    return TemperatureLimits(min=-10.0 if least is None else least, max=60.0 if most is None else most)


def _least_dimension_mm(elements: list[Element]) -> float | None:
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


def _single(applied: Applied) -> float | None:
    """The one limit that holds; the highest of a range."""
    return applied.low if applied.high is None else applied.high
