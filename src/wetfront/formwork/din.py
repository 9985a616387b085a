"""Lateral pressure after DIN 18218:2010-01.

The lines of the consistence classes stand in one public restatement, which had them indirectly, and in the memory of
two readers; nobody has read them in the standard. The line for self-compacting concrete has a second statement.
"""

from dataclasses import dataclass

from wetfront.formwork.pressure import (
    FILLED_FROM_BASE,
    Coefficient,
    Compaction,
    HighestRise,
    Placement,
    Pressure,
    full_head,
    governing_pressure,
    highest_rise,
    over,
)
from wetfront.nouns.mix import FlowClass
from wetfront.nouns.reason import Notice, Provenance, Source

_NOT_READ = "restated in one public note that had it indirectly; not read in the standard"
_CLASSES = Source(f"DIN 18218:2010-01, Tables 1 and 2 (F1 to F6); {_NOT_READ}", Provenance.MEMORY)
_SELF_COMPACTING = Source(
    "DIN 18218:2010-01, line for self-compacting concrete, as restated in Concrete International, June 2010",
    Provenance.PUBLISHED,
)
_MINIMUM = Source("DIN 18218:2010-01, least pressure of the class", Provenance.MEMORY)
_MINIMUM_SELF_COMPACTING = Source(
    "DIN 18218:2010-01, at least 30 kN/m², as restated in Concrete International, June 2010", Provenance.PUBLISHED
)
TEMPERATURE_SOURCE = Source(
    "DIN 18218:2010-01: 3 % per K colder or warmer, 5 % per K colder for F5, F6 and self-compacting",
    Provenance.PUBLISHED,
)
REDUCTION_STOP_SOURCE = Source("no reduction beyond 10 K over the reference temperature", Provenance.OWN_RULE)
WEIGHT_SOURCE = Source("DIN 18218:2010-01: tabulated at 25 kN/m³, in proportion otherwise", Provenance.PUBLISHED)
VALIDITY_SOURCE = Source(
    "DIN 18218:2010-01: to 7 m/h and 10 m, internal vibration at shallow depth, placing from the top, form within 5° "
    "of vertical; end of setting to 20 h by our own rule",
    Provenance.PUBLISHED,
)
EARLY_SETTING_SOURCE = Source("end of setting under 5 h counts as 5 h", Provenance.OWN_RULE)


@dataclass(frozen=True, slots=True)
class ClassLine:
    """P = (constant + per_rise × v) × K1 with K1 = 1 + slope × (tE − 5); without slope P = constant + per_rise × v ×
    K1 with K1 = tE / 5. At 25 kN/m³ and the reference temperature."""

    constant_kn_per_m2: float
    per_rise: float
    setting_slope_per_h: float | None
    colder_per_k: float
    minimum: Coefficient
    source: Source


_AT_LEAST_25, _AT_LEAST_30 = Coefficient(25.0, _MINIMUM), Coefficient(30.0, _MINIMUM)
LINES: dict[FlowClass, ClassLine] = {
    "f1": ClassLine(21, 5, 0.030, 0.03, _AT_LEAST_25, _CLASSES),
    "f2": ClassLine(19, 10, 0.053, 0.03, _AT_LEAST_25, _CLASSES),
    "f3": ClassLine(18, 14, 0.077, 0.03, _AT_LEAST_25, _CLASSES),
    "f4": ClassLine(17, 17, 0.140, 0.03, _AT_LEAST_25, _CLASSES),
    "f5": ClassLine(25, 30, None, 0.05, _AT_LEAST_30, _CLASSES),
    "f6": ClassLine(25, 38, None, 0.05, _AT_LEAST_30, _CLASSES),
    "self-compacting": ClassLine(25, 33, None, 0.05, Coefficient(30.0, _MINIMUM_SELF_COMPACTING), _SELF_COMPACTING),
}
TABLED_WEIGHT_KN_PER_M3 = 25.0
WARMER_PER_K, MOST_REDUCED_K = 0.03, 10.0
EARLIEST_SETTING_H, LATEST_SETTING_H = 5.0, 20.0
HIGHEST_POUR_M, FASTEST_M_PER_H = 10.0, 7.0


def usual_compaction(consistence_class: FlowClass) -> Compaction:
    """The one way of compacting for which the standard's line of this class holds."""
    return "self-compacting" if consistence_class == "self-compacting" else "internal"


@dataclass(frozen=True, slots=True, kw_only=True)
class DinConditions:
    """All that the standard asks about a pour, but for the rise rate."""

    consistence_class: FlowClass
    pour_height_m: float
    end_of_setting_h: float
    """tE at the reference temperature, from the producer; never a default."""
    reference_temperature_c: float = 15.0
    """At which tE was found."""
    concrete_temperature_c: float
    """Lowest, placed or cooling in the form."""
    weight_density_kn_per_m3: float = 25.0
    compaction: Compaction
    placement: Placement = "from-top"

    @property
    def full_head_kn_per_m2(self) -> float:
        """Liquid head at the base, with the surge when filled from the base."""
        return full_head(self.weight_density_kn_per_m3, self.pour_height_m, self.placement)


@dataclass(frozen=True, slots=True, kw_only=True)
class DinPressure(Pressure):
    """Pressure with the standard's factors."""

    setting_factor: float
    temperature_factor: float


def setting_factor(consistence_class: FlowClass, end_of_setting_h: float) -> float:
    """K1 of DIN 18218; under 5 h counts as 5 h. The lines hold to 20 h: beyond, the full head is taken.

    >>> round(setting_factor("f3", 10), 3), setting_factor("f5", 10)
    (1.385, 2.0)
    """
    slope = LINES[consistence_class].setting_slope_per_h
    hours = max(end_of_setting_h, EARLIEST_SETTING_H)
    return hours / EARLIEST_SETTING_H if slope is None else 1 + slope * (hours - EARLIEST_SETTING_H)


def temperature_factor(
    consistence_class: FlowClass, reference_temperature_c: float, concrete_temperature_c: float
) -> float:
    """Multiplier for concrete colder or warmer than where tE was found; 1 at the reference temperature.

    >>> temperature_factor("self-compacting", 20, 16), temperature_factor("f3", 20, 40)
    (1.2, 0.7)
    """
    colder_by = reference_temperature_c - concrete_temperature_c
    if colder_by >= 0:
        return 1 + LINES[consistence_class].colder_per_k * colder_by
    return 1 - WARMER_PER_K * min(-colder_by, MOST_REDUCED_K)


def din_pressure(conditions: DinConditions, rise_rate_m_per_h: float) -> DinPressure:
    """Characteristic maximum lateral pressure [kN/m²]. Source: DIN 18218:2010-01.

    `rise_rate_m_per_h` is the highest of any half hour. Outside the standard's validity: full head, with a notice.
    >>> wall = DinConditions(consistence_class="f3", pour_height_m=6, end_of_setting_h=5, reference_temperature_c=20,
    ...                      concrete_temperature_c=20, compaction="internal")
    >>> din_pressure(wall, 2.0).max_pressure_kn_per_m2
    46.0
    """
    line = LINES[conditions.consistence_class]
    outside = _outside(conditions)
    if over(rise_rate_m_per_h, FASTEST_M_PER_H):
        text = "Rise over 7 m/h is outside DIN 18218: full head is taken."
        outside += (Notice("rise-over-limit", text),)
    pumped = conditions.placement == "pumped-from-base"
    formula = None
    if not outside and not pumped:
        constant, per_rise = _constants(conditions)
        formula = (constant + per_rise * rise_rate_m_per_h) * _scale(conditions)
    governing = governing_pressure(
        conditions.weight_density_kn_per_m3,
        conditions.pour_height_m,
        conditions.placement,
        formula,
        line.minimum.value,
    )
    return DinPressure(
        max_pressure_kn_per_m2=governing.max_pressure_kn_per_m2,
        full_head_depth_m=governing.full_head_depth_m,
        governs=governing.governs,
        weight_density_kn_per_m3=conditions.weight_density_kn_per_m3,
        full_head_kn_per_m2=conditions.weight_density_kn_per_m3 * conditions.pour_height_m,
        formula_kn_per_m2=formula,
        minimum_kn_per_m2=line.minimum.value,
        setting_factor=setting_factor(conditions.consistence_class, conditions.end_of_setting_h),
        temperature_factor=_temperature_factor(conditions),
        notices=((FILLED_FROM_BASE,) if pumped else ()) + outside + _remarks(conditions),
    )


def din_max_rise(conditions: DinConditions, permitted_pressure_kn_per_m2: float) -> HighestRise:
    """Highest rise rate [m/h] for a permitted (characteristic) pressure: the inverse of `din_pressure`.

    >>> wall = DinConditions(consistence_class="f3", pour_height_m=4, end_of_setting_h=7, concrete_temperature_c=12,
    ...                      compaction="internal")
    >>> round(din_max_rise(wall, 60).max_rise_m_per_h, 3)
    2.121
    """
    pumped = (FILLED_FROM_BASE,) if conditions.placement == "pumped-from-base" else ()

    def inverted(permitted: float) -> float:
        constant, per_rise = _constants(conditions)
        return (permitted / _scale(conditions) - constant) / per_rise

    return highest_rise(
        permitted_pressure_kn_per_m2,
        conditions.full_head_kn_per_m2,
        pumped + _outside(conditions),
        LINES[conditions.consistence_class].minimum.value,
        inverted,
        lambda rise: din_pressure(conditions, rise).max_pressure_kn_per_m2,
        FASTEST_M_PER_H,
        _remarks(conditions),
    )


def _temperature_factor(conditions: DinConditions) -> float:
    return temperature_factor(
        conditions.consistence_class, conditions.reference_temperature_c, conditions.concrete_temperature_c
    )


def _constants(conditions: DinConditions) -> tuple[float, float]:
    """The class's constant and its term per m/h, after K1."""
    line = LINES[conditions.consistence_class]
    factor = setting_factor(conditions.consistence_class, conditions.end_of_setting_h)
    if line.setting_slope_per_h is None:
        return line.constant_kn_per_m2, line.per_rise * factor
    return line.constant_kn_per_m2 * factor, line.per_rise * factor


def _scale(conditions: DinConditions) -> float:
    return _temperature_factor(conditions) * conditions.weight_density_kn_per_m3 / TABLED_WEIGHT_KN_PER_M3


def _outside(conditions: DinConditions) -> tuple[Notice, ...]:
    """Limits of validity that do not depend on the rise rate."""
    notices = []
    if over(conditions.pour_height_m, HIGHEST_POUR_M):
        text = "A pour higher than 10 m is outside DIN 18218: full head is taken."
        notices.append(Notice("pour-over-limit", text))
    if over(conditions.end_of_setting_h, LATEST_SETTING_H):
        text = "End of setting later than 20 h is outside DIN 18218: full head is taken."
        notices.append(Notice("setting-over-limit", text))
    if conditions.compaction != usual_compaction(conditions.consistence_class):
        text = (
            f"DIN 18218's line for {conditions.consistence_class} does not hold for compaction "
            f"{conditions.compaction}: full head is taken."
        )
        notices.append(Notice("compaction-not-covered", text))
    return tuple(notices)


def _remarks(conditions: DinConditions) -> tuple[Notice, ...]:
    """What the reader must know although the formula holds."""
    notices = []
    if conditions.end_of_setting_h < EARLIEST_SETTING_H:
        notices.append(Notice("setting-counts-as-5-h", "End of setting under 5 h counts as 5 h."))
    if over(conditions.concrete_temperature_c, conditions.reference_temperature_c + MOST_REDUCED_K):
        text = "The reduction for warm concrete stops at 10 K above the reference temperature (factor 0.70)."
        notices.append(Notice("reduction-stopped", text))
    return tuple(notices)
