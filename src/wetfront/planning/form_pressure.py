"""The rise that a pour's forms permit, by every method whose inputs the sheet gives, beside the designer's own rise.

Characteristic pressure is compared with a permissible limit; a limit that stands as a design value is divided by its
load factor first. The lowest rise of the methods that cover this concrete holds, and never more than the rise for
which the form was designed. A method that does not cover the concrete is shown as such and sets nothing; where none
covers it, only the full head counts.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from wetfront.formwork import (
    AciConditions,
    CiriaConditions,
    DinConditions,
    HighestRise,
    Pressure,
    aci_max_rise,
    aci_pressure,
    ciria_max_rise,
    ciria_pressure,
    din_max_rise,
    din_pressure,
    full_head,
)
from wetfront.nouns.element import Column, Element, MassBlock, Pedestal, Wall
from wetfront.nouns.mix import CementGroup, Mix, MixOption
from wetfront.nouns.plan import PressureCheck
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.sheet import Formwork, Specification

Form = Wall | Column | Pedestal | MassBlock
COLUMN_WIDEST_M = 2.0
"""No plan dimension over 2 m makes a column: ACI 347R-14, 4.2.2 (published)."""
_SLOW_M_PER_H = 0.05
"""A rise at which a method inside its validity answers by its formula or minimum."""
_SOURCES = {
    "ACI 347R-14": Source("ACI 347R-14, 4.2.2 (SI)", Provenance.PUBLISHED),
    "CIRIA Report 108": Source("CIRIA Report 108 (1985)", Provenance.PUBLISHED),
    "DIN 18218": Source("DIN 18218:2010-01", Provenance.MEMORY),
}
DESIGNER = "form designer's own rise"


@dataclass(frozen=True, slots=True)
class Method:
    """One method for one form."""

    name: str
    pressure: Callable[[float], Pressure]
    highest: HighestRise
    covers: bool
    """False where the method has no formula for this concrete or pour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FormLimit:
    """What one form permits."""

    element: str
    least_plan_area_m2: float
    permitted_kn_per_m2: float
    """Permissible value: to be compared with a characteristic pressure."""
    full_head_kn_per_m2: float
    methods: tuple[Method, ...]
    highest_rise_m_per_h: float | None
    """None: the form carries the full head, and its designer names no rise."""
    governs: str

    @property
    def highest_rate_m3_per_h(self) -> float | None:
        """Placing rate at which the narrowest level of this form rises as fast as permitted."""
        return None if self.highest_rise_m_per_h is None else self.highest_rise_m_per_h * self.least_plan_area_m2


def form_of(element: Element) -> Form | None:
    """The element if concrete rises between its forms."""
    return element if isinstance(element, Form) else None


def height_m(form: Form) -> float:
    """Pour height of a form."""
    return form.depth_m if isinstance(form, MassBlock) else form.height_m


def is_column(form: Form) -> bool:
    """No plan dimension over 2 m."""
    sizes: tuple[float, ...]
    match form:
        case Wall():
            sizes = (form.length_m, form.thickness_mm / 1000)
        case Column():
            sizes = tuple(size or 0.0 for size in (form.width_m, form.breadth_m, form.diameter_m, form.across_flats_m))
        case Pedestal() | MassBlock():
            sizes = (form.length_m, form.width_m)
    return max(sizes) <= COLUMN_WIDEST_M


def cement_group(mix: Mix, option: MixOption | None) -> CementGroup:
    """The group that the pressure methods count; a retarding option moves it to its retarded form."""
    if option is None or not option.delays_setting:
        return mix.cement_group
    retarded: dict[CementGroup, CementGroup] = {"portland": "portland-retarded", "blend": "blend-retarded"}
    return retarded.get(mix.cement_group, mix.cement_group)


def form_limit(
    form: Form,
    formwork: Formwork,
    specification: Specification,
    mix: Mix,
    option: MixOption | None,
    lowest_concrete_c: float,
    least_plan_area_m2: float,
) -> FormLimit:
    """What this form permits at the lowest concrete temperature expected."""
    permitted = formwork.permitted_pressure_kn_per_m2
    if formwork.basis == "design":
        permitted /= formwork.design_load_factor
    methods = tuple(_methods(form, formwork, specification, mix, option, lowest_concrete_c, permitted))
    head = full_head(formwork.weight_density_kn_per_m3, height_m(form))
    found: list[tuple[float, str]] = []
    if head > permitted:
        covering = [method for method in methods if method.covers]
        found = [
            (method.highest.max_rise_m_per_h, method.name)
            for method in covering
            if method.highest.max_rise_m_per_h is not None
        ]
        if not covering:
            found = [(0.0, "full head: no method covers this concrete")]
    if formwork.designer_assumed_rise_m_per_h is not None:
        found.append((formwork.designer_assumed_rise_m_per_h, DESIGNER))
    rise, governs = min(found) if found else (None, "full head, which the form carries")
    return FormLimit(
        element=form.id,
        least_plan_area_m2=least_plan_area_m2,
        permitted_kn_per_m2=permitted,
        full_head_kn_per_m2=head,
        methods=methods,
        highest_rise_m_per_h=rise,
        governs=governs,
    )


def pressure_checks(limit: FormLimit, expected_rise_m_per_h: float) -> tuple[PressureCheck, ...]:
    """Every method at the rise that the plan expects, against the form's own limit."""
    checks = []
    for method in limit.methods:
        pressure = method.pressure(expected_rise_m_per_h)
        rise = method.highest.site_rise_m_per_h if method.covers else method.highest.max_rise_m_per_h
        notes = [notice.text for notice in (*pressure.notices, *method.highest.notices)]
        if not method.covers:
            notes.insert(0, f"{limit.element}: outside this method, full head shown; it sets no rise here.")
        checks.append(
            PressureCheck(
                method=f"{method.name}, {limit.element}",
                pressure_kn_per_m2=pressure.max_pressure_kn_per_m2,
                permitted_kn_per_m2=limit.permitted_kn_per_m2,
                highest_rise_m_per_h=rise,
                highest_rate_m3_per_h=None if rise is None else rise * limit.least_plan_area_m2,
                governs=pressure.governs,
                source=_SOURCES[method.name],
                note=" ".join(dict.fromkeys(notes)),
                covers=method.covers,
            )
        )
    return tuple(checks)


def _methods(
    form: Form,
    formwork: Formwork,
    specification: Specification,
    mix: Mix,
    option: MixOption | None,
    temperature_c: float,
    permitted: float,
) -> list[Method]:
    group = cement_group(mix, option)
    kind = "column" if is_column(form) else "wall"
    slump = max(mix.slump_mm or 0.0, specification.slump_limits_mm[1] if specification.slump_limits_mm else 0.0)
    found: list[tuple[str, Callable[[float], Pressure], HighestRise]] = []
    if slump > 0:
        aci = AciConditions(
            element=kind,  # type: ignore[arg-type]
            pour_height_m=height_m(form),
            concrete_temperature_c=temperature_c,
            cement_group=group,
            density_kg_per_m3=mix.density_kg_per_m3,
            slump_mm=slump,
            vibration_depth_m=formwork.vibration_depth_m,
        )
        found.append(("ACI 347R-14", partial(aci_pressure, aci), aci_max_rise(aci, permitted)))
    ciria = CiriaConditions(
        element=kind,  # type: ignore[arg-type]
        form_height_m=max(formwork.form_height_m, height_m(form)),
        pour_height_m=height_m(form),
        concrete_temperature_c=temperature_c,
        cement_group=group,
        weight_density_kn_per_m3=formwork.weight_density_kn_per_m3,
    )
    found.append(("CIRIA Report 108", partial(ciria_pressure, ciria), ciria_max_rise(ciria, permitted)))
    # Retarded concrete has an end of setting of its own, which only the producer knows.
    retarded = option is not None and option.delays_setting
    if mix.end_of_setting_h is not None and mix.flow_class is not None and not retarded:
        din = DinConditions(
            consistence_class=mix.flow_class,
            pour_height_m=height_m(form),
            end_of_setting_h=mix.end_of_setting_h,
            reference_temperature_c=mix.end_of_setting_at_c,
            concrete_temperature_c=temperature_c,
            weight_density_kn_per_m3=formwork.weight_density_kn_per_m3,
            compaction="self-compacting" if mix.flow_class == "self-compacting" else "internal",
        )
        found.append(("DIN 18218", partial(din_pressure, din), din_max_rise(din, permitted)))
    return [
        Method(name, pressure, highest, covers=pressure(_SLOW_M_PER_H).formula_kn_per_m2 is not None)
        for name, pressure, highest in found
    ]
