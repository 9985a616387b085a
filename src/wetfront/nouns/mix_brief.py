"""The mix brief: what a concrete must be, the tests of its materials, and the candidates to compare."""

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, Len, MinLen

from wetfront.nouns.element import Name
from wetfront.nouns.limits import BookConfirmation
from wetfront.nouns.site import Price

MixMethod = Literal["absolute-volume", "british", "indian"]
DensityBasis = Literal["oven-dry", "saturated-surface-dry"]
StoneSurface = Literal["crushed", "uncrushed"]
StoneShape = Literal["angular", "sub-angular", "gravel-with-crushed", "rounded-gravel"]

RelativeDensity = Annotated[float, Ge(1), Le(10)]
Factor = Annotated[float, Ge(0), Le(1000)]
Share = Annotated[float, Ge(0), Le(30)]
Ratio = Annotated[float, Ge(0.2), Le(1.0)]
Content = Annotated[float, Ge(0), Le(1000)]
Length = Annotated[float, Gt(0), Le(100_000)]
StoneSize = Annotated[float, Gt(0), Le(150)]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixTarget:
    """What the concrete must be. Limits by exposure come from the rule books; the stricter of them and these holds."""

    strength_class: Annotated[str, Len(0, 20)] = ""
    """Of EN 206, such as "C30/37": gives the cylinder and the cube strength."""
    cylinder_strength_mpa: Annotated[float, Ge(8), Le(100)] | None = None
    """Specified or characteristic, at 28 days, where no class is given; needed by absolute-volume."""
    cube_strength_mpa: Annotated[float, Ge(10), Le(115)] | None = None
    """Characteristic, 150 mm cubes at 28 days, where no class is given; needed by british and indian."""
    slump_mm: Annotated[float, Ge(0), Le(250)]
    """Wanted at the mixer; what is lost on the way comes on top. Each method has its own range."""
    exposure_classes: tuple[Name, ...] = ()
    """Of EN 206, Table F.1, all that apply."""
    exposure_is_456: Literal["mild", "moderate", "severe", "very-severe", "extreme"] | None = None
    exposure_aci: tuple[Name, ...] = ()
    """Rows of the American tables, all that apply: `wetfront rules water-cement-ratio`, and `…-durability`."""
    concrete_kind: Literal["reinforced", "plain"] = "reinforced"
    """For the limits of IS 456."""
    air_entrained: bool = False
    frost_exposure: Literal["mild", "moderate", "severe"] = "moderate"
    """With entrained air: how much air ACI 211.1 recommends."""
    maximum_water_cement_ratio: Ratio | None = None
    """The project's own limit."""
    minimum_cement_kg_per_m3: Content | None = None
    maximum_cement_kg_per_m3: Annotated[float, Gt(0), Le(1000)] | None = None
    """Left out, 450 by IS 456 without additions in the Indian method, none in the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixSection:
    """The part that is cast: bounds the aggregate's size."""

    narrowest_form_mm: Length | None = None
    slab_depth_mm: Length | None = None
    clear_bar_spacing_mm: Length | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefCement:
    """The cement."""

    name: Name
    relative_density: RelativeDensity = 3.15
    """A blended cement is lighter: take the producer's figure."""
    strength_class: Literal["42.5", "52.5"] | None = None
    """With it the british method says at which strength to enter its chart."""
    ratio_for_strength: Ratio | None = None
    """For [sweep]: highest w/c that gives the strength aimed at with this cement, by your trials; else ACI's table."""
    price_cu_per_t: Price | None = None
    carbon_kg_co2e_per_kg: Factor | None = None
    """From the producer's declaration, modules A1 to A3. None is shipped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefStone:
    """The coarse aggregate, as tested."""

    name: Name
    maximum_size_mm: StoneSize
    """Nominal. 10, 20 and 40 count as 9.5, 19 and 37.5 in ACI's tables, and the other way round."""
    relative_density: RelativeDensity
    density_basis: DensityBasis
    """State in which relative_density was measured."""
    absorption_percent: Share
    moisture_percent: Share
    """Total, of the oven-dry mass, on the day of the trial."""
    dry_rodded_density_kg_per_m3: Annotated[float, Ge(500), Le(4000)] | None = None
    """Needed by absolute-volume."""
    surface: StoneSurface | None = None
    """Needed by british."""
    shape: StoneShape = "angular"
    """Used by indian."""
    price_cu_per_t: Price | None = None
    carbon_kg_co2e_per_kg: Factor | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefSand:
    """The fine aggregate, as tested."""

    name: Name
    relative_density: RelativeDensity
    density_basis: DensityBasis
    absorption_percent: Share
    moisture_percent: Share
    """Total, of the oven-dry mass, on the day of the trial."""
    fineness_modulus: Annotated[float, Ge(1), Le(5)] | None = None
    """Needed by absolute-volume."""
    zone: Annotated[int, Ge(1), Le(4)] | None = None
    """I to IV of IS 383; needed by indian."""
    surface: StoneSurface | None = None
    """Needed by british."""
    price_cu_per_t: Price | None = None
    carbon_kg_co2e_per_kg: Factor | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefWater:
    """The mixing water, for cost and carbon."""

    price_cu_per_t: Price | None = None
    carbon_kg_co2e_per_kg: Factor | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefAdmixture:
    """A water reducer with what it did in a trial."""

    name: Name
    dose_percent: Annotated[float, Ge(0), Le(5)]
    """Of the cement's mass."""
    water_reduction_percent: Annotated[float, Ge(0), Le(40)]
    """Measured at that dose with this cement, not read from a brochure."""
    relative_density: Annotated[float, Ge(0.9), Le(1.6)] = 1.1
    solids_percent: Annotated[float, Ge(0), Le(100)] | None = None
    """With it the admixture's water is taken off the water to add, where it counts."""
    price_cu_per_t: Price | None = None
    carbon_kg_co2e_per_kg: Factor | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthRecord:
    """Results of a like mix: they set the margin over the specified strength."""

    standard_deviation_mpa: Annotated[float, Gt(0), Le(50)]
    results_count: Annotated[int, Ge(1), Le(100_000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class BritishReadings:
    """What you read from the charts of the British method; its book is needed."""

    water_cement_ratio: Annotated[float, Ge(0.25), Le(0.9)]
    """Fig. 4, for the target mean strength."""
    fines_percent: Annotated[float, Ge(10), Le(80)]
    """Fig. 6, by mass of all aggregate."""
    fresh_density_kg_per_m3: Annotated[float, Ge(1500), Le(3500)] | None = None
    """Fig. 5; left out, computed by absolute volume."""
    defective_percent: Literal["10", "5", "2.5", "1"] = "5"


@dataclass(frozen=True, slots=True, kw_only=True)
class IndianReadings:
    """What the Indian method takes from its chart or from trials."""

    water_cement_ratio: Annotated[float, Ge(0.2), Le(0.8)]
    """Fig. 1 by the cement's strength, or trials."""
    coarse_reduction_for_pumping_percent: Annotated[float, Ge(0), Le(10)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFound:
    """What a trial batch gave that was weighed as this brief prints it, but for the water; moisture as on that day."""

    water_added_kg: Annotated[float, Ge(0), Le(10_000)]
    """At the mixer, until it was as stiff as measured here."""
    slump_mm: Annotated[float, Ge(0), Le(300)]
    fresh_density_kg_per_m3: Annotated[float, Ge(1000), Le(4000)]
    air_content_percent: Annotated[float, Ge(0), Le(15)] | None = None
    """Measured; left out, what the method counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialBatchWanted:
    """The batch to be mixed."""

    volume_l: Annotated[float, Gt(0), Le(10_000)] = 30.0
    method: MixMethod | None = None
    """Whose proportions are batched; left out, those with the lowest water/cement ratio."""
    found: TrialFound | None = None
    """With it the next proportions are worked out from this trial."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixSweep:
    """Candidates to compare: every combination of these, by absolute volume and the tables of ACI 211.1."""

    water_cement_ratios: Annotated[tuple[Ratio, ...], Len(1, 200)]
    sand_percents: Annotated[tuple[Annotated[float, Gt(0), Le(99)], ...], Len(1, 100)]
    """Sand of all aggregate by absolute volume."""
    stone: Annotated[tuple[BriefStone, ...], Len(0, 20)] = ()
    """Stones to choose among; left out, that of the brief."""
    cement: Annotated[tuple[BriefCement, ...], Len(0, 20)] = ()
    admixture: Annotated[tuple[BriefAdmixture, ...], Len(0, 20)] = ()
    """Left out, that of the brief or none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixBrief:
    """A whole mix brief."""

    schema: Literal[1]
    title: Name
    project: Name
    date: dt.date
    """Of the trial batch."""
    invented: bool = False
    """True for demo data: each page says so."""
    currency: Annotated[str, Len(0, 8)] = ""
    methods: Annotated[tuple[MixMethod, ...], MinLen(1)]
    volume_m3: Annotated[float, Gt(0), Le(1e6)] | None = None
    """Concrete to be made in all, for total cost and carbon."""
    target: MixTarget
    section: MixSection | None = None
    cement: BriefCement
    stone: BriefStone
    sand: BriefSand
    water: BriefWater = BriefWater()
    admixture: BriefAdmixture | None = None
    record: StrengthRecord | None = None
    british: BritishReadings | None = None
    indian: IndianReadings | None = None
    trial: TrialBatchWanted = TrialBatchWanted()
    sweep: MixSweep | None = None
    confirmed: tuple[BookConfirmation, ...] = ()
    """Remembered limits of the rule books that somebody has looked up in the standard."""
