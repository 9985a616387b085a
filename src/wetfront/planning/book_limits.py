"""The rule book in force laid over a pour's own limits: the stricter holds, and what it changed is said."""

from dataclasses import dataclass, replace

from wetfront.acceptance import laid_age, laid_temperatures, least_dimension_mm
from wetfront.nouns.mix import Mix
from wetfront.nouns.reason import Step
from wetfront.nouns.sheet import Pour, PourSheet, TemperatureLimits
from wetfront.rules import CHECK_FIRST, Applied, Terms, Value, held, terms_of


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

    def kept(laid: Applied | None, value: float | None) -> float | None:
        if laid is None:
            return value
        applied.append(laid)
        return _single(laid)

    def limit(name: str, value: float | None) -> float | None:
        return kept(held(terms, name, own=value), value)

    mix = sheet.mix[pour.mix]
    elements = [element for element in sheet.element if element.id in pour.elements]
    temperatures = own.concrete_temperature_at_placing_c
    coldest, warmest = laid_temperatures(terms, temperatures, least_dimension_mm(elements))
    least = kept(coldest, temperatures.min if temperatures else None)
    most = kept(warmest, temperatures.max if temperatures else None)
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


def own_figures(sheet: PourSheet, terms: Terms) -> dict[str, Value]:
    """What the keys of the sheet say about rules, by the name of the rule; without `own_limit` of the specification."""
    own = sheet.specification
    found: dict[str, Value] = {
        "evaporation-precaution": own.evaporation_action_kg_per_m2_h,
        "evaporation-precaution-low-bleed": own.evaporation_action_kg_per_m2_h,
        "layer-thickness": own.largest_layer_mm,
        "free-fall": own.free_fall_max_m,
    }
    temperatures = own.concrete_temperature_at_placing_c
    if temperatures is not None:
        found |= {"concrete-temperature-least": temperatures.min, "concrete-temperature-most": temperatures.max}
    age = laid_age(terms, sheet.trucks).merged
    if age is not None:
        found[age.rule.name] = sheet.trucks.longest_batching_to_end_of_discharge_min
    return found


def _age(sheet: PourSheet, terms: Terms, applied: list[Applied]) -> tuple[float, tuple[str, ...]]:
    laid = laid_age(terms, sheet.trucks)
    if laid.merged is not None:
        applied.append(laid.merged)
    if laid.beside is None:
        return laid.to_end_min, ()
    rule = laid.beside.rule
    text = (
        f"{rule.citation} limits {rule.limit} from {rule.counts_from} to {rule.counts_to}; the plan judges "
        f"{laid.to_end_min:g} min to the end of discharge, which is another moment"
    )
    return laid.to_end_min, (text,)


def _evaporation_rule(mix: Mix) -> str:
    return "evaporation-precaution-low-bleed" if mix.low_bleed else "evaporation-precaution"


def _range(own: TemperatureLimits | None, least: float | None, most: float | None) -> TemperatureLimits | None:
    """Both ends where both are known; a lone end is opened to where no concrete is placed anyway."""
    if least is None and most is None:
        return own
    return TemperatureLimits(min=-10.0 if least is None else least, max=60.0 if most is None else most)


def _single(applied: Applied) -> float | None:
    """The one limit that holds; the highest of a range."""
    return applied.low if applied.high is None else applied.high
