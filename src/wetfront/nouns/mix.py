"""The concrete: what was ordered and how it sets."""

from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le

from wetfront.nouns.element import Name

CementGroup = Literal["portland", "portland-retarded", "blend", "blend-retarded", "high-blend"]
FlowClass = Literal["f1", "f2", "f3", "f4", "f5", "f6", "self-compacting"]
Temperature = Annotated[float, Ge(-40), Le(60)]
AggregateKind = Literal["sand", "stone"]
Moisture = Annotated[float, Ge(0), Le(30)]
Height = Annotated[float, Gt(0), Le(5000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Aggregate:
    """One aggregate of a mix and how it lies on the heap today."""

    id: Name
    kind: AggregateKind
    kg_per_m3: Annotated[float, Gt(0), Le(2500)]
    """In the mix, in the state that `basis` names."""
    basis: Literal["oven-dry", "saturated-surface-dry"] = "saturated-surface-dry"
    absorption_percent: Moisture
    moisture_percent: Moisture | None = None
    """Total moisture today, of the oven-dry mass; or the two masses of a dried sample."""
    wet_mass_g: Annotated[float, Gt(0), Le(100_000)] | None = None
    oven_dry_mass_g: Annotated[float, Gt(0), Le(100_000)] | None = None
    loose_bulk_density_kg_per_m3: Annotated[float, Ge(300), Le(3000)] | None = None
    """Oven-dry and loose; needed for batching by volume."""
    bulking_percent: Annotated[float, Ge(0), Le(100)] | None = None
    """Of moist sand; or the two heights of the test in a vessel. Needed for sand that is batched by volume."""
    moist_height_mm: Height | None = None
    inundated_height_mm: Height | None = None
    temperature_c: Temperature | None = None
    """On the heap; needed where the temperature of the mix is asked."""


AdmixtureName = Literal[
    "retarder",
    "accelerator",
    "plasticiser",
    "superplasticiser",
    "air-entraining",
    "water-resisting",
    "viscosity-modifying",
    "special",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingMeasures:
    """Temperatures of what is batched today, and what could be had to cool it. What is left out cannot be had."""

    cement_temperature_c: Annotated[float, Ge(-20), Le(90)]
    water_temperature_c: Annotated[float, Gt(0), Le(60)]
    chilled_water_c: Annotated[float, Gt(0), Le(40)] | None = None
    chilled_water_cu_per_m3: Annotated[float, Ge(0), Le(10_000)] = 0.0
    shaded_aggregate_c: Annotated[float, Gt(0), Le(60)] | None = None
    """All aggregates, under shade or sprinkled and drained."""
    shading_cu_per_m3: Annotated[float, Ge(0), Le(10_000)] = 0.0
    night_aggregate_c: Annotated[float, Gt(0), Le(60)] | None = None
    """All aggregates, batched at night."""
    night_cu_per_m3: Annotated[float, Ge(0), Le(10_000)] = 0.0
    ice_to_be_had: bool = False
    ice_cu_per_kg: Annotated[float, Ge(0), Le(10_000)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MixOption:
    """A change of the mix that the producer offers, with what it does to setting, temperature and price."""

    id: Name
    admixture: AdmixtureName | None = None
    """Class of admixture behind the option. Where `set_time_factor` is left out, one is proposed from the limits of the
    class, from memory, and the plan says so. A retarder counts as one in the pressure methods."""
    dose_percent: Annotated[float, Gt(0), Le(5)] | None = None
    """Of the cement mass."""
    set_time_factor: Annotated[float, Gt(0.2), Le(5)] | None = None
    """Setting time over that without the option, by the producer; left out: 1, or proposed by `admixture`."""
    cooler_by_c: Annotated[float, Ge(0), Le(20)] = 0.0
    extra_cu_per_m3: Annotated[float, Ge(0), Le(10_000)] = 0.0
    delays_setting: bool = False
    """True for whatever retards: the pressure methods then count the cement group as retarded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """One concrete. Setting times count from first contact of water and cement, at 20 °C."""

    strength_class: Name
    strength_age_d: Annotated[int, Ge(1), Le(365)] = 28
    exposure: tuple[str, ...] = ()
    consistence_class: Name
    slump_mm: Annotated[float, Ge(0), Le(300)] | None = None
    """Target slump; used by the pressure methods."""
    cement: str = ""
    cement_group: CementGroup
    cement_kg_per_m3: Annotated[float, Gt(0), Le(1000)]
    water_kg_per_m3: Annotated[float, Gt(0), Le(400)]
    max_water_cement_ratio: Annotated[float, Gt(0.2), Le(1.0)] | None = None
    density_kg_per_m3: Annotated[float, Ge(800), Le(4000)] = 2400.0
    largest_aggregate_mm: Annotated[float, Gt(0), Le(150)] = 20.0
    initial_set_at_20c_h: Annotated[float, Gt(0.5), Le(48)]
    final_set_at_20c_h: Annotated[float, Gt(0.5), Le(72)]
    activation_energy_j_per_mol: Annotated[float, Ge(20_000), Le(70_000)] = 40_000.0
    end_of_setting_h: Annotated[float, Gt(0), Le(48)] | None = None
    """tE of DIN 18218, told by the producer; without it the DIN method is not shown."""
    end_of_setting_at_c: Annotated[float, Ge(5), Le(30)] = 15.0
    flow_class: FlowClass | None = None
    low_bleed: bool = False
    temperature_at_plant_c: Annotated[float, Ge(0), Le(45)]
    """Expected on the day when loading; the tickets of earlier days tell it best."""
    temperature_spread_c: Annotated[float, Ge(0), Le(10)] = 1.0
    """Standard deviation between loads."""
    set_time_spread_percent: Annotated[float, Ge(0), Le(50)] = 7.0
    """Standard deviation of the setting time between loads; chosen, replace by the producer's record."""
    option: tuple[MixOption, ...] = ()
    aggregate: tuple[Aggregate, ...] = ()
    """Wanted where the mix is made on site or is to be cooled."""
    cooling: CoolingMeasures | None = None
