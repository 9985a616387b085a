"""Contracts of the calculations about volumes of slabs whose thickness varies."""

from wetfront.calculations.contract import REQUIRED, Calculation, Choice, Number, Numbers, Output
from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Answer, Provenance, Source, Step
from wetfront.takeoff import volumes

_GEOMETRY = Source("geometry", Provenance.COMMON_PRACTICE)
_MEAN = Source("mean of the tolerance band, or of measured thicknesses", Provenance.COMMON_PRACTICE)
_DECK = Source("geometry; 0.7 × deflection for ponding, EN 1994-1-1:2004, 9.3.2", Provenance.MEMORY)
_VOLUME = Output(key="volume_m3", meaning="net volume", unit="m³")


def _depth(key: str, meaning: str, default: object = REQUIRED) -> Number:
    return Number(key=key, meaning=meaning, unit="mm", above=0, high=100_000, default=default)


def _area(meaning: str) -> Number:
    return Number(key="area_m2", meaning=meaning, unit="m²", above=0, high=10_000_000)


def _deck_slab(
    area_m2: float,
    overall_depth_mm: float,
    rib_height_mm: float,
    rib_pitch_mm: float,
    rib_width_top_mm: float,
    rib_width_bottom_mm: float,
    deck_deflection_mm: float,
    poured_to: str,
) -> Answer:
    found = volumes.deck_slab_volume(
        area_m2,
        overall_depth_mm,
        rib_height_mm,
        rib_pitch_mm,
        rib_width_top_mm,
        rib_width_bottom_mm,
        deck_deflection_mm,
        poured_to,
    )
    cautions = []
    if deck_deflection_mm > overall_depth_mm / 10:
        cautions.append(
            f"Deflection {deck_deflection_mm:g} mm is over a tenth of the depth ({overall_depth_mm / 10:g} mm): "
            "the deck has to be designed for ponding; ask the designer (EN 1994-1-1:2004, 9.3.2, from memory)."
        )
    if poured_to == "level":
        cautions.append("Levelling a sagging deck adds load: ask the designer before pouring to a level.")
    elif deck_deflection_mm > 0:
        cautions.append("Poured to constant thickness: the surface follows the deck, and no ponding is counted.")
    return Answer(
        {
            "volume_m3": found.volume_m3,
            "mean_thickness_mm": found.mean_thickness_mm,
            "ponding_thickness_mm": found.ponding_thickness_mm,
        },
        (
            Step(
                "mean thickness = (overall − rib) + rib × mean rib width / pitch",
                found.mean_thickness_mm,
                "mm",
                _GEOMETRY,
            ),
            Step(
                "ponding = 0.7 × deflection where poured to a level",
                found.ponding_thickness_mm,
                "mm",
                volumes.PONDING_SOURCE if poured_to == "level" else _GEOMETRY,
            ),
            Step("volume = area × (mean thickness + ponding)", found.volume_m3, "m³", _GEOMETRY),
        ),
        tuple(cautions),
    )


def _ground_slab(
    area_m2: float,
    thickness_mm: float | None,
    subbase_lowest_mm: float | None,
    subbase_highest_mm: float | None,
    measured_thicknesses_mm: tuple[float, ...] | None,
) -> Answer:
    if measured_thicknesses_mm is not None:
        return _measured_slab(area_m2, measured_thicknesses_mm, thickness_mm)
    thickness_mm = _needed("thickness_mm", thickness_mm)
    found = volumes.ground_slab_volume(
        area_m2,
        thickness_mm,
        _needed("subbase_lowest_mm", subbase_lowest_mm),
        _needed("subbase_highest_mm", subbase_highest_mm),
    )
    cautions = ["A soft sub-base or folds of a membrane take 5 to 10 mm more (common practice)."]
    if found.thinnest_mm < thickness_mm:
        cautions.append(
            f"The slab may be as thin as {found.thinnest_mm:g} mm, under the design thickness of {thickness_mm:g} mm."
        )
    return Answer(
        _slab_result(found) | {"thickest_mm": found.thickest_mm},
        (
            Step("mean thickness = design + (lowest − highest) / 2", found.mean_thickness_mm, "mm", _MEAN),
            Step("thinnest = design − highest", found.thinnest_mm, "mm", _MEAN),
            Step("thickest = design + lowest", found.thickest_mm, "mm", _MEAN),
            Step("volume = area × mean thickness", found.volume_m3, "m³", _GEOMETRY),
        ),
        tuple(cautions),
    )


def _needed(key: str, value: float | None) -> float:
    if value is None:
        raise InvalidInput(key, f"{key} is missing; it is needed unless measured_thicknesses_mm is given")
    return value


def _slab_result(found: volumes.GroundSlabVolume) -> dict[str, float]:
    return {
        "volume_m3": found.volume_m3,
        "mean_thickness_mm": found.mean_thickness_mm,
        "thinnest_mm": found.thinnest_mm,
    }


def _measured_slab(area_m2: float, measured_thicknesses_mm: tuple[float, ...], thickness_mm: float | None) -> Answer:
    found = volumes.measured_slab_volume(area_m2, measured_thicknesses_mm)
    cautions = [
        "The mean holds for points on a regular grid. With measured thicknesses take a wastage of 2 to 3 % "
        "(common practice)."
    ]
    if thickness_mm is None:
        cautions.append("Compare the thinnest place with the design thickness.")
    elif found.thinnest_mm < thickness_mm:
        cautions.append(
            f"The thinnest place has {found.thinnest_mm:g} mm, under the design thickness of {thickness_mm:g} mm."
        )
    return Answer(
        _slab_result(found),
        (
            Step(f"mean of {len(measured_thicknesses_mm)} thicknesses", found.mean_thickness_mm, "mm", _MEAN),
            Step("thinnest found", found.thinnest_mm, "mm", Source("input", Provenance.INPUT)),
            Step("volume = area × mean thickness", found.volume_m3, "m³", _GEOMETRY),
        ),
        tuple(cautions),
    )


CALCULATIONS = (
    Calculation(
        name="deck-slab-volume",
        title="Concrete volume of a slab on ribbed deck",
        method="Mean thickness = (overall − rib) + rib × mean rib width / pitch. Poured to a level, 0.7 × the "
        "deflection is added for ponding; poured to constant thickness, nothing.",
        source=_DECK,
        inputs=(
            _area("plan area"),
            _depth("overall_depth_mm", "from top to the underside of the rib"),
            Number(key="rib_height_mm", meaning="less than the overall depth", unit="mm", low=0, high=100_000),
            _depth("rib_pitch_mm", "from rib to rib"),
            Number(
                key="rib_width_top_mm", meaning="concrete in the trough, at its top", unit="mm", low=0, high=100_000
            ),
            Number(key="rib_width_bottom_mm", meaning="at its bottom", unit="mm", low=0, high=100_000),
            Number(
                key="deck_deflection_mm",
                meaning="of deck and beams under the wet concrete",
                unit="mm",
                low=0,
                high=10_000,
                default=0.0,
            ),
            Choice(
                key="poured_to",
                meaning="how the surface is levelled",
                options=("constant-thickness", "level"),
                default="constant-thickness",
            ),
        ),
        outputs=(
            _VOLUME,
            Output(key="mean_thickness_mm", meaning="without ponding", unit="mm"),
            Output(key="ponding_thickness_mm", meaning="added mean thickness", unit="mm"),
        ),
        answer=_deck_slab,
    ),
    Calculation(
        name="ground-slab-volume",
        title="Concrete volume of a slab on an uneven sub-base",
        method="Measured thicknesses on a regular grid: their mean. Else design thickness + (lowest − highest)/2 of "
        "the sub-base's tolerance.",
        source=_MEAN,
        inputs=(
            _area("plan area"),
            _depth("thickness_mm", "design thickness, unless thicknesses were measured", None),
            Number(
                key="subbase_lowest_mm",
                meaning="how far the sub-base may lie low, unless measured",
                unit="mm",
                low=0,
                high=10_000,
                default=None,
            ),
            Number(
                key="subbase_highest_mm",
                meaning="how far it may lie high, unless measured",
                unit="mm",
                low=0,
                high=10_000,
                default=None,
            ),
            Numbers(
                key="measured_thicknesses_mm",
                meaning="thicknesses on a regular grid; the three keys before are then not used",
                each=_depth("measured_thicknesses_mm", "thickness"),
                least_count=1,
                default=None,
            ),
        ),
        outputs=(
            _VOLUME,
            Output(key="mean_thickness_mm", meaning="mean", unit="mm"),
            Output(key="thinnest_mm", meaning="least thickness", unit="mm"),
            Output(key="thickest_mm", meaning="largest thickness; not with measured values", unit="mm"),
        ),
        answer=_ground_slab,
    ),
)
