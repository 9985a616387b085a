"""Batching on site: the brief that a person fills in, and the batch that follows from it."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, Len, MinLen

from wetfront.nouns.element import Name
from wetfront.nouns.mix import Aggregate, AggregateKind
from wetfront.nouns.reason import Step

BATCH_SCHEMA = 1
"""Raised when a key of batch.json changes its meaning or goes away."""

Slump = Annotated[float, Ge(0), Le(300)]
Percent = Annotated[float, Ge(0), Le(30)]
Title = Annotated[str, Len(1, 80)]


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchMix:
    """The concrete to be mixed, per cubic metre: a mix that has been tried, with the specifier's consent."""

    designation: Title
    cement: str = ""
    cement_kg_per_m3: Annotated[float, Ge(50), Le(1000)]
    water_kg_per_m3: Annotated[float, Ge(50), Le(400)]
    """Free water: what is added and what the aggregates bring beyond their absorption."""
    max_water_cement_ratio: Annotated[float, Gt(0.2), Le(1.5)] | None = None
    """Without it the card allows no water over that of the mix."""
    slump_limits_mm: tuple[Slump, Slump] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchAdmixture:
    """A liquid admixture by its dose."""

    id: Name
    dose_percent: Annotated[float, Gt(0), Le(5)]
    """Of the cement mass."""
    density_kg_per_l: Annotated[float, Ge(0.9), Le(1.6)]
    solids_percent: Annotated[float, Ge(0), Le(100)] | None = None
    """Needed where all admixtures together are over 3 l/m³: their water then counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixer:
    """The site mixer or mixers, all alike."""

    output_m3: Annotated[float, Ge(0.01), Le(3)]
    """Fresh concrete of one batch, not the volume of the drum."""
    cycle_min: Annotated[float, Ge(2), Le(60)]
    """From charging to the drum empty again, when nothing waits."""
    mixing_min: Annotated[float, Ge(2), Le(30)] = 2.0
    """Once all is in the drum."""
    mixers_count: Annotated[int, Ge(1), Le(10)] = 1
    people_count: Annotated[int, Ge(1), Le(50)] = 2
    cement_bag_kg: Annotated[float, Ge(5), Le(1500)] | None = None
    """Batch in whole bags of this size; left out: cement is weighed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """How the aggregates are measured."""

    by: Literal["weight", "volume"] = "weight"
    volume_approved_by: Annotated[str, Len(0, 60)] = ""
    """Who decided that structural concrete may be batched by volume; empty: nobody, and it is refused."""
    tolerances: Literal["en", "astm"] = "en"
    """Whose batching tolerances stand on the card."""
    box_length_mm: Annotated[float, Ge(100), Le(1000)] = 400.0
    box_width_mm: Annotated[float, Ge(100), Le(1000)] = 300.0
    """Inside, of the gauge boxes; their depth is worked out."""
    box_most_l: Annotated[float, Ge(5), Le(100)] = 25.0
    """What two people can lift and tip; a larger volume is measured in several boxes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchBrief:
    """What is to be mixed on site, with what, on which day."""

    schema: Literal[1]
    title: Title
    project: Annotated[str, Len(0, 80)] = ""
    date: dt.date
    """Day for which the moisture and bulking hold."""
    invented: bool = False
    work: Literal["structural", "small non-structural"]
    required_volume_m3: Annotated[float, Gt(0), Le(200)]
    """Volume in the work."""
    waste_percent: Percent = 5.0
    mix: BatchMix
    aggregate: Annotated[tuple[Aggregate, ...], MinLen(1)]
    admixture: tuple[BatchAdmixture, ...] = ()
    mixer: Mixer
    measure: Measure = field(default_factory=Measure)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeBox:
    """An open box filled so many times a batch, struck off level."""

    count: int
    length_mm: float
    width_mm: float
    depth_mm: float
    litres: float
    """Of one box."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """One constituent of one batch."""

    name: str
    kind: Literal["cement", "water", "admixture"] | AggregateKind
    batch_kg: float
    """As weighed today."""
    batch_l: float | None
    """Water and admixtures as litres; aggregates as loose litres where they are batched by volume."""
    low_kg: float
    high_kg: float
    """Batching tolerance."""
    total_kg: float
    """For all batches, as it lies on the heap."""
    bags_count: int | None = None
    """Whole bags a batch."""
    box: GaugeBox | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WetterSand:
    """The same batch with the sand at another moisture."""

    moisture_percent: float
    sand_kg: float
    water_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteBatch:
    """One batch of a site mixer, and what the whole volume takes."""

    schema: int
    program: str
    title: str
    project: str
    date: dt.date
    invented: bool
    work: str
    may_be_mixed: bool
    """False where the aggregates bring more water than the mix may have."""
    reasons: tuple[str, ...]
    """Why not; or who decided what."""
    designation: str
    cement: str
    slump_limits_mm: tuple[float, float] | None
    measured_by: str
    batches_count: int
    batch_volume_m3: float
    mixers_count: int
    people_count: int
    mixing_min: float
    mixing_h: float
    """From the first charge to the last drum empty, without breaks."""
    output_m3_per_h: float
    bags_total_count: int | None
    bag_kg: float | None
    ingredients: tuple[Ingredient, ...]
    """In the order in which the card lists them: cement, aggregates, water, admixtures."""
    design_water_l: float
    """Free water of a batch."""
    brought_water_l: float
    """Free water that aggregates, and admixtures where they count, bring."""
    water_to_add_l: float
    most_water_l: float
    """The most that may ever be added, by the highest water/cement ratio; the same as `water_to_add_l` without one."""
    water_cement_ratio: float
    wetter_sand: tuple[WetterSand, ...]
    cautions: tuple[str, ...]
    why: tuple[Step, ...]
    inputs: tuple[tuple[str, str], ...]
    """File name and SHA-256 of what was read."""

    @property
    def batch_kg(self) -> float:
        """All that goes into the drum."""
        return sum(ingredient.batch_kg for ingredient in self.ingredients)
