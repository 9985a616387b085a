"""Contracts of the calculations about exposure: limits of the composition, chloride."""

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Choices, Number, Numbers, Output, Size
from wetfront.materials.chloride import chloride_content
from wetfront.nouns.reason import Answer, Provenance, Source, Step
from wetfront.rules import Rule, composition, rule, strength_class_name

TABLE_F1 = Source(
    "EN 206-1:2000 Table F.1, read in a copy; the same values are kept in EN 206:2013+A2:2021", Provenance.PUBLISHED
)
IS_456 = Source("IS 456:2000, Table 5, read in lecture notes; Table 6 from memory", Provenance.PUBLISHED)
CHLORIDE = Source("EN 206, 5.2.8, Table 15", Provenance.MEMORY)
_SUM = Source("mass balance", Provenance.DEFINITION)
_CLASSES = tuple(cell.word for cell in rule("en", "strength-least").cells)
_CHLORIDE_CLASSES = tuple(cell.word for cell in rule("en", "chloride-content").cells)
_EXPOSURES = tuple(cell.word for cell in rule("is", "water-cement-ratio").cells)
_PLAIN = {"reinforced": "", "plain": "-plain"}
_FROST_WITH_AIR = ("XF2", "XF3", "XF4")
_SULFATE = ("XA2", "XA3")


def _limit(one: Rule | None) -> float | None:
    return None if one is None else one.number


def _step(one: Rule) -> Step:
    return Step(one.title, one.number, "1" if one.unit == "ratio" else one.unit, one.cited)


def _en(exposure_classes: tuple[str, ...]) -> Answer:
    found = composition(exposure_classes)
    name = strength_class_name(found.strength.number)
    cautions = [
        "Recommended values for 50 years and CEM I: the National Annex replaces them. Ask for the values in force "
        "where the structure stands.",
    ]
    if set(exposure_classes) & set(_FROST_WITH_AIR):
        cautions.append("XF2 to XF4: frost-resisting aggregate; without entrained air the resistance is to be proven.")
    if set(exposure_classes) & set(_SULFATE):
        cautions.append("XA2 and XA3 by sulfate: sulfate-resisting cement.")
    if "X0" in exposure_classes and len(set(exposure_classes)) > 1:
        cautions.append("X0 means no risk of attack: beside another class it adds nothing. Look at the classes again.")
    parts = (found.water_cement_ratio, found.cement, found.air)
    return answered(
        {
            "maximum_water_cement_ratio": _limit(found.water_cement_ratio),
            "minimum_strength_class": name,
            "minimum_cement_kg_per_m3": _limit(found.cement),
            "minimum_air_content_percent": _limit(found.air),
        },
        [_step(found.strength), *(_step(one) for one in parts if one is not None)],
        cautions=cautions,
    )


def _is(exposure: str, concrete_kind: str, maximum_aggregate_size_mm: float) -> Answer:
    kind = _PLAIN[concrete_kind]
    ratio, cement = (
        rule("is", f"{name}{kind}").at(exposure) for name in ("water-cement-ratio", "cement-content-least")
    )
    change = rule("is", "cement-content-for-size").at(f"{maximum_aggregate_size_mm:g} mm")
    steps = [_step(ratio), _step(cement)]
    grades = rule("is", f"grade-least{kind}")
    grade = grades.at(exposure) if any(cell.word == exposure for cell in grades.cells) else None
    if grade is not None:
        steps.append(_step(grade))
    if change.number:
        steps.append(_step(change))
    return answered(
        {
            "minimum_cement_kg_per_m3": cement.number + change.number,
            "maximum_water_cement_ratio": ratio.number,
            "minimum_grade_mpa": _limit(grade),
        },
        steps,
        cautions=(
            "The cement counts with the additions that the standard admits. Cement over "
            f"{rule('is', 'cement-content-most').number:g} kg/m³ without additions needs special consideration "
            "(IS 456, 8.2.4.2).",
        ),
    )


def _chloride(
    masses_kg_per_m3: tuple[float, ...],
    chloride_percents: tuple[float, ...],
    cement_kg_per_m3: float,
    chloride_class: str,
) -> Answer:
    found = chloride_content(masses_kg_per_m3, chloride_percents, cement_kg_per_m3, chloride_class)
    return answered(
        {
            "chloride_percent_of_cement": found.chloride_percent_of_cement,
            "limit_percent": found.limit.number,
            "accepted": found.accepted,
        },
        [
            Step("sum of mass × chloride, over the cement", found.chloride_percent_of_cement, "%", _SUM),
            _step(found.limit),
        ],
        cautions=(
            "No calcium chloride in concrete with steel. Use the highest declared chloride of each constituent, and "
            "ask which class holds where the structure stands.",
        ),
    )


CALCULATIONS = (
    Calculation(
        name="exposure-limits-en-206",
        title="Composition limits for exposure classes",
        method="Each class has its row in the table of recommended values. For several classes the lowest "
        "water/cement ratio, the highest strength class, the most cement and the most air hold.",
        source=TABLE_F1,
        inputs=(
            Choices(
                key="exposure_classes",
                meaning="all classes of the member",
                each=Choice(key="exposure_classes", meaning="one class", options=_CLASSES),
                least_count=1,
            ),
        ),
        outputs=(
            Output(key="maximum_water_cement_ratio", meaning="lowest of the classes; left out for X0 alone", unit="1"),
            Output(key="minimum_strength_class", meaning="highest of the classes, cylinder/cube in MPa"),
            Output(
                key="minimum_cement_kg_per_m3", meaning="highest of the classes; left out for X0 alone", unit="kg/m³"
            ),
            Output(key="minimum_air_content_percent", meaning="only with XF2 to XF4", unit="%"),
        ),
        answer=_en,
    ),
    Calculation(
        name="exposure-limits-is-456",
        title="Composition limits for an exposure",
        method="The table's row for the exposure, of plain or reinforced concrete; its least cement is for 20 mm "
        "aggregate and is changed for 10 mm and 40 mm.",
        source=IS_456,
        inputs=(
            Choice(key="exposure", meaning="exposure of the member", options=_EXPOSURES),
            Choice(key="concrete_kind", meaning="with or without steel", options=tuple(_PLAIN), default="reinforced"),
            Size(
                key="maximum_aggregate_size_mm",
                meaning="nominal largest size",
                unit="mm",
                options=(10.0, 20.0, 40.0),
                default=20.0,
            ),
        ),
        outputs=(
            Output(key="minimum_cement_kg_per_m3", meaning="corrected for the aggregate size", unit="kg/m³"),
            Output(key="maximum_water_cement_ratio", meaning="free water", unit="1"),
            Output(key="minimum_grade_mpa", meaning="cube strength; left out for plain, mild", unit="MPa"),
        ),
        answer=_is,
    ),
    Calculation(
        name="chloride-content",
        title="Chloride content against its class",
        method="Sum of mass × chloride over all constituents, in percent of the cement mass, against the number in the "
        "name of the class. Just met is met.",
        source=CHLORIDE,
        inputs=(
            Numbers(
                key="masses_kg_per_m3",
                meaning="all constituents, cement among them",
                each=Number(key="masses_kg_per_m3", meaning="mass", unit="kg/m³", low=0, high=5000),
                least_count=1,
                most_count=50,
            ),
            Numbers(
                key="chloride_percents",
                meaning="chloride of each in percent of its mass, as many as masses",
                each=Number(key="chloride_percents", meaning="chloride", unit="%", low=0, high=100),
                least_count=1,
                most_count=50,
            ),
            Number(key="cement_kg_per_m3", meaning="cement content", unit="kg/m³", above=0, high=5000),
            Choice(key="chloride_class", meaning="class asked for", options=_CHLORIDE_CLASSES),
        ),
        outputs=(
            Output(key="chloride_percent_of_cement", meaning="sum of mass × chloride over the cement", unit="%"),
            Output(key="limit_percent", meaning="number in the class name", unit="%"),
            Output(key="accepted", meaning="true where the content is not over the limit"),
        ),
        answer=_chloride,
    ),
)
