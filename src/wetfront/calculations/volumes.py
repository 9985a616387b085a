"""Contracts of the calculations about volumes."""

from wetfront.calculations.contract import REQUIRED, Calculation, Choice, Number, Numbers, Output
from wetfront.nouns.reason import Answer, Provenance, Source, Step
from wetfront.takeoff import volumes

_GEOMETRY = Source("geometry", Provenance.COMMON_PRACTICE)
_PRISMATOID = Source("geometry: prismatoid, exact for plane sides", Provenance.COMMON_PRACTICE)
_STEEL = Source("density of reinforcing steel 7850 kg/m³", Provenance.COMMON_PRACTICE)
_NOT_DEDUCTED = "Reinforcement, chairs and cast-in items are not deducted."
_VOLUME = Output(key="volume_m3", meaning="net volume", unit="m³")


def _length(key: str, meaning: str, default: object = REQUIRED) -> Number:
    return Number(key=key, meaning=meaning, unit="m", above=0, high=10_000, default=default)


def _from_zero(key: str, meaning: str, unit: str = "m", high: float = 10_000) -> Number:
    return Number(key=key, meaning=meaning, unit=unit, low=0, high=high, default=0.0)


def _wall(
    length_m: float,
    height_m: float,
    thickness_m: float,
    opening_widths_m: tuple[float, ...],
    opening_heights_m: tuple[float, ...],
    smallest_deducted_opening_m2: float,
) -> Answer:
    found = volumes.wall_volume(
        length_m, height_m, thickness_m, opening_widths_m, opening_heights_m, smallest_deducted_opening_m2
    )
    cautions = [_NOT_DEDUCTED]
    if found.kept_openings_count:
        cautions.append(
            f"{found.kept_openings_count} opening(s) of {smallest_deducted_opening_m2:g} m² or less were not deducted: "
            "right for measurement, too much for an order."
        )
    if found.volume_m3 == 0:
        cautions.append("The openings take the whole wall: nothing is left to pour.")
    return Answer(
        {"volume_m3": found.volume_m3, "deducted_area_m2": found.deducted_area_m2},
        (
            Step("face of the wall = length × height", length_m * height_m, "m²", _GEOMETRY),
            Step("deducted openings", found.deducted_area_m2, "m²", _GEOMETRY),
            Step("volume = (face − openings) × thickness", found.volume_m3, "m³", _GEOMETRY),
        ),
        tuple(cautions),
    )


_COLUMN_SIZES = {
    "rectangular": ("width_m", "breadth_m"),
    "circular": ("diameter_m",),
    "octagonal": ("across_flats_m",),
}


def _column(height_m: float, section: str, **sizes: float | None) -> Answer:
    area = volumes.column_area(section, **sizes)
    unused = [key for key, size in sizes.items() if size is not None and key not in _COLUMN_SIZES[section]]
    volume = volumes.column_volume(height_m, area)
    return Answer(
        {"volume_m3": volume, "section_area_m2": area},
        (
            Step(f"{section} section", area, "m²", _GEOMETRY),
            Step("volume = section × height", volume, "m³", _GEOMETRY),
        ),
        (
            "Height from top of footing or kicker to slab soffit, not to the slab's top: else concrete counts twice.",
            *(f"{key} is not used for a {section} section." for key in unused),
        ),
    )


def _tapered_footing(
    base_length_m: float,
    base_breadth_m: float,
    edge_thickness_m: float,
    tapered_height_m: float,
    top_length_m: float,
    top_breadth_m: float,
) -> Answer:
    found = volumes.tapered_footing_volume(
        base_length_m, base_breadth_m, tapered_height_m, top_length_m, top_breadth_m, edge_thickness_m
    )
    return Answer(
        {"volume_m3": found.volume_m3, "tapered_volume_m3": found.tapered_volume_m3},
        (
            Step("edge = base × edge thickness", found.edge_volume_m3, "m³", _GEOMETRY),
            Step(
                "taper = h/6 × [L1 B1 + (L1 + L2)(B1 + B2) + L2 B2]",
                found.tapered_volume_m3,
                "m³",
                _PRISMATOID,
            ),
            Step("volume = edge + taper", found.volume_m3, "m³", _GEOMETRY),
        ),
        (_NOT_DEDUCTED,),
    )


def _drop_panel(
    drop_length_m: float, drop_breadth_m: float, drop_depth_m: float, side_slope_horizontal_per_vertical: float
) -> Answer:
    volume = volumes.drop_panel_volume(drop_length_m, drop_breadth_m, drop_depth_m, side_slope_horizontal_per_vertical)
    wider = 2 * side_slope_horizontal_per_vertical * drop_depth_m
    return Answer(
        {"volume_m3": volume},
        (
            Step("length at the slab's soffit", drop_length_m + wider, "m", _GEOMETRY),
            Step("breadth at the slab's soffit", drop_breadth_m + wider, "m", _GEOMETRY),
            Step("volume between the two soffits", volume, "m³", _PRISMATOID),
        ),
        ("The slab above the panel is not in this volume.",),
    )


def _stair(
    risers_count: int,
    riser_m: float,
    going_m: float,
    width_m: float,
    waist_m: float,
    landing_area_m2: float,
    landing_thickness_m: float,
) -> Answer:
    found = volumes.stair_volume(risers_count, riser_m, going_m, width_m, waist_m, landing_area_m2, landing_thickness_m)
    cautions = ["The number of risers is the number of steps in the flight; the top riser may belong to the landing."]
    if (landing_area_m2 > 0) != (landing_thickness_m > 0):
        cautions.append("Only one of landing_area_m2 and landing_thickness_m is over 0: no landing is counted.")
    return Answer(
        {
            "volume_m3": found.volume_m3,
            "steps_volume_m3": found.steps_volume_m3,
            "waist_volume_m3": found.waist_volume_m3,
            "landing_volume_m3": found.landing_volume_m3,
        },
        (
            Step("waist = width × n × waist × √(riser² + going²)", found.waist_volume_m3, "m³", _GEOMETRY),
            Step("steps = width × n × riser × going / 2", found.steps_volume_m3, "m³", _GEOMETRY),
            Step("landing = area × thickness", found.landing_volume_m3, "m³", _GEOMETRY),
            Step("volume = waist + steps + landing", found.volume_m3, "m³", _GEOMETRY),
        ),
        tuple(cautions),
    )


def _haunch(length_m: float, haunch_width_m: float, haunch_depth_m: float, sides_count: int) -> Answer:
    volume = volumes.haunch_volume(length_m, haunch_width_m, haunch_depth_m, sides_count)
    section = haunch_width_m * haunch_depth_m / 2
    return Answer(
        {"volume_m3": volume},
        (
            Step("section of one side = width × depth / 2", section, "m²", _GEOMETRY),
            Step("volume = section × length × sides", volume, "m³", _GEOMETRY),
        ),
    )


def _reinforcement(reinforcement_kg_per_m3: float) -> Answer:
    share = volumes.reinforcement_displacement(reinforcement_kg_per_m3)
    return Answer(
        {"displaced_percent": share},
        (Step("share = reinforcement / 7850 kg/m³", share, "%", _STEEL),),
        ("For information: concrete orders are not reduced by it.",),
    )


CALCULATIONS = (
    Calculation(
        name="wall-volume",
        title="Concrete volume of a wall with openings",
        method="Face of the wall less the openings that are deducted, times the thickness. Openings of the smallest "
        "deducted area or less stay in.",
        source=_GEOMETRY,
        inputs=(
            _length("length_m", "length of the wall"),
            _length("height_m", "height poured"),
            _length("thickness_m", "thickness"),
            Numbers(
                key="opening_widths_m",
                meaning="widths of the openings",
                each=_length("opening_widths_m", "width"),
                default=(),
            ),
            Numbers(
                key="opening_heights_m",
                meaning="heights of the openings, as many as widths",
                each=_length("opening_heights_m", "height"),
                default=(),
            ),
            _from_zero("smallest_deducted_opening_m2", "openings of this area or less are not deducted", "m²"),
        ),
        outputs=(_VOLUME, Output(key="deducted_area_m2", meaning="sum of deducted openings", unit="m²")),
        answer=_wall,
    ),
    Calculation(
        name="column-volume",
        title="Concrete volume of a column",
        method="Section times height: rectangle; circle π d²/4; octagon 0.8284 × (width across flats)².",
        source=_GEOMETRY,
        inputs=(
            _length("height_m", "from footing or kicker to slab soffit"),
            Choice(key="section", meaning="shape of the section", options=tuple(_COLUMN_SIZES)),
            _length("width_m", "of a rectangular section", None),
            _length("breadth_m", "of a rectangular section", None),
            _length("diameter_m", "of a circular section", None),
            _length("across_flats_m", "of an octagonal section", None),
        ),
        outputs=(_VOLUME, Output(key="section_area_m2", meaning="cross-section", unit="m²")),
        answer=_column,
    ),
    Calculation(
        name="tapered-footing-volume",
        title="Concrete volume of a tapered footing",
        method="Vertical edge plus taper: h/6 × [L1 B1 + (L1 + L2)(B1 + B2) + L2 B2]. Exact also where top and base "
        "differ in shape, where the rule with the root of the areas fails.",
        source=_PRISMATOID,
        inputs=(
            _length("base_length_m", "length of the base"),
            _length("base_breadth_m", "breadth of the base"),
            _from_zero("edge_thickness_m", "vertical edge below the taper"),
            _length("tapered_height_m", "height of the taper"),
            Number(key="top_length_m", meaning="not more than the base", unit="m", low=0, high=10_000),
            Number(key="top_breadth_m", meaning="not more than the base", unit="m", low=0, high=10_000),
        ),
        outputs=(_VOLUME, Output(key="tapered_volume_m3", meaning="of the taper alone", unit="m³")),
        answer=_tapered_footing,
    ),
    Calculation(
        name="drop-panel-volume",
        title="Concrete below the slab soffit in a drop panel",
        method="Prismatoid between the panel's soffit and the slab's soffit; the sides slope outward going up.",
        source=_PRISMATOID,
        inputs=(
            _length("drop_length_m", "at the panel's soffit"),
            _length("drop_breadth_m", "at the panel's soffit"),
            _length("drop_depth_m", "below the slab's soffit"),
            _from_zero("side_slope_horizontal_per_vertical", "0 for vertical sides", "1", 100),
        ),
        outputs=(_VOLUME,),
        answer=_drop_panel,
    ),
    Calculation(
        name="stair-volume",
        title="Concrete volume of a stair flight",
        method="Width × steps × [waist × √(riser² + going²) + riser × going / 2], plus landings.",
        source=_GEOMETRY,
        inputs=(
            Number(key="risers_count", meaning="number of steps", unit="", low=1, high=10_000, whole=True),
            _length("riser_m", "rise of a step"),
            _length("going_m", "going of a step"),
            _length("width_m", "width of the flight"),
            _length("waist_m", "thickness at right angles to the slope"),
            _from_zero("landing_area_m2", "plan area of landings", "m²", 1_000_000),
            _from_zero("landing_thickness_m", "thickness of landings"),
        ),
        outputs=(
            _VOLUME,
            Output(key="steps_volume_m3", meaning="triangles", unit="m³"),
            Output(key="waist_volume_m3", meaning="along the slope", unit="m³"),
            Output(key="landing_volume_m3", meaning="landings", unit="m³"),
        ),
        answer=_stair,
    ),
    Calculation(
        name="haunch-volume",
        title="Concrete volume of a haunch",
        method="Triangular prism: width × depth / 2 × length for each side.",
        source=_GEOMETRY,
        inputs=(
            _length("length_m", "length"),
            _length("haunch_width_m", "width of the triangle"),
            _length("haunch_depth_m", "depth of the triangle"),
            Number(key="sides_count", meaning="sides that have one", unit="", low=1, high=100, whole=True, default=1),
        ),
        outputs=(_VOLUME,),
        answer=_haunch,
    ),
    Calculation(
        name="reinforcement-displacement",
        title="Share of the volume taken by the reinforcement",
        method="Mass of reinforcement over its density. For information; orders are not reduced.",
        source=_STEEL,
        inputs=(Number(key="reinforcement_kg_per_m3", meaning="steel in the concrete", unit="kg/m³", low=0, high=700),),
        outputs=(Output(key="displaced_percent", meaning="for information, not deducted", unit="%"),),
        answer=_reinforcement,
    ),
)
