"""Contracts of the calculations about the temperature of fresh concrete."""

from wetfront.calculations.contract import Calculation, Choice, Number, Numbers, Output
from wetfront.materials import temperature
from wetfront.materials.temperature import HEAT_BALANCE, ICE_TERMS, SPECIFIC_HEAT_RATIO, TRANSPORT
from wetfront.nouns.reason import Answer, Provenance, Source, Step

_ICE_SOLVED = Source("the same heat balance solved for ice in place of water", Provenance.RECOMPUTED)
_GAIN = Source("the same rule taken for a gain, an extension", Provenance.OWN_RULE)
_FLASH_SET_C = 60.0
_MOST_ICE_SHARE_PERCENT = 75.0
_AGITATED_LIMIT_MIN, _STILL_LIMIT_MIN = 90, 60


def _mix_cautions(
    concrete_c: float,
    aggregate_temperature_c: tuple[float, ...],
    aggregate_free_moisture_percent: tuple[float, ...],
    water_temperature_c: float,
) -> list[str]:
    """What the heat balance cannot know."""
    cautions = [
        "Mixing and first hydration add about 1 to 3 °C (common practice). Compare with measured loads and carry the "
        "difference along."
    ]
    frozen = any(
        warmth < 0 and moisture > 0
        for warmth, moisture in zip(aggregate_temperature_c, aggregate_free_moisture_percent, strict=True)
    )
    if frozen:
        cautions.append("Moist aggregate below 0 °C: its ice is not covered, the concrete will be colder than this.")
    if water_temperature_c > _FLASH_SET_C:
        cautions.append(f"Water over {_FLASH_SET_C:g} °C must not meet the cement first: danger of flash set.")
    if concrete_c < 0:
        cautions.append("Below 0 °C mixing water freezes, which the balance does not know: no concrete to be placed.")
    return cautions


def _fresh(
    cement_kg_per_m3: float,
    cement_temperature_c: float,
    aggregate_kg_per_m3: tuple[float, ...],
    aggregate_temperature_c: tuple[float, ...],
    aggregate_free_moisture_percent: tuple[float, ...],
    water_kg_per_m3: float,
    water_temperature_c: float,
    ice_kg_per_m3: float,
    ice_temperature_c: float,
    specific_heat_ratio: float,
) -> Answer:
    parts = temperature.solids(
        cement_kg_per_m3,
        cement_temperature_c,
        aggregate_kg_per_m3,
        aggregate_temperature_c,
        aggregate_free_moisture_percent,
        specific_heat_ratio,
    )
    found = temperature.mix_temperature(parts, water_kg_per_m3, water_temperature_c, ice_kg_per_m3, ice_temperature_c)
    concrete = found.concrete_temperature_c
    cautions = _mix_cautions(concrete, aggregate_temperature_c, aggregate_free_moisture_percent, water_temperature_c)
    steps = [
        Step("free water of the aggregates", parts.free_moisture_kg_per_m3, "kg/m³", HEAT_BALANCE),
        Step("heat of solids and their free water", parts.heat, "kg °C/m³ of water", HEAT_BALANCE),
        Step("heat with batch water and ice", found.heat, "kg °C/m³ of water", HEAT_BALANCE),
        Step("heat capacity of the mix", found.capacity, "kg/m³ of water", HEAT_BALANCE),
        Step("temperature = heat / capacity", concrete, "°C", HEAT_BALANCE),
    ]
    if ice_kg_per_m3 > 0:
        steps.insert(2, Step("heat taken up by melting ice", found.ice_heat, "kg °C/m³ of water", ICE_TERMS))
        cautions.append("All ice must be melted when mixing ends.")
    return Answer(
        {"concrete_temperature_c": concrete, "free_moisture_kg_per_m3": parts.free_moisture_kg_per_m3},
        tuple(steps),
        tuple(cautions),
    )


def _ice(
    target_temperature_c: float,
    water_and_ice_kg_per_m3: float,
    water_temperature_c: float,
    ice_temperature_c: float,
    cement_kg_per_m3: float,
    cement_temperature_c: float,
    aggregate_kg_per_m3: tuple[float, ...],
    aggregate_temperature_c: tuple[float, ...],
    aggregate_free_moisture_percent: tuple[float, ...],
    specific_heat_ratio: float,
) -> Answer:
    parts = temperature.solids(
        cement_kg_per_m3,
        cement_temperature_c,
        aggregate_kg_per_m3,
        aggregate_temperature_c,
        aggregate_free_moisture_percent,
        specific_heat_ratio,
    )
    found = temperature.ice_for_temperature(
        target_temperature_c, parts, water_and_ice_kg_per_m3, water_temperature_c, ice_temperature_c
    )
    cautions = _mix_cautions(
        found.temperature_without_ice_c, aggregate_temperature_c, aggregate_free_moisture_percent, water_temperature_c
    )
    if found.ice_kg_per_m3 > 0:
        cautions.append("All ice must be melted when mixing ends.")
    if found.ice_share_percent > _MOST_ICE_SHARE_PERCENT:
        cautions.append(
            f"Over {_MOST_ICE_SHARE_PERCENT:g} % of the batch water as ice: some water is needed for admixtures and "
            "mixing (from memory)."
        )
    if found.temperature_without_ice_c < target_temperature_c:
        cautions.append("The mix is cooler than the target without ice: nothing here warms it.")
    if found.lowest_temperature_c < 0:
        cautions.append("The lowest temperature is below 0 °C: not all ice would melt.")
    return Answer(
        {
            "temperature_without_ice_c": found.temperature_without_ice_c,
            "ice_kg_per_m3": found.ice_kg_per_m3,
            "water_kg_per_m3": found.water_kg_per_m3,
            "ice_share_percent": found.ice_share_percent,
            "lowest_temperature_c": found.lowest_temperature_c,
        },
        (
            Step("all batch water as water", found.temperature_without_ice_c, "°C", HEAT_BALANCE),
            Step("all batch water as ice", found.lowest_temperature_c, "°C", ICE_TERMS),
            Step("ice for the target", found.ice_kg_per_m3, "kg/m³", _ICE_SOLVED),
            Step("ice takes up, per kg", temperature.ice_cooling(ice_temperature_c), "°C of 1 kg water", ICE_TERMS),
            Step("share of the batch water", found.ice_share_percent, "%", _ICE_SOLVED),
        ),
        tuple(cautions),
    )


def _transport(
    required_temperature_c: float, air_temperature_c: float, delivery_time_min: float, vehicle: str
) -> Answer:
    found = temperature.transport_temperature(required_temperature_c, air_temperature_c, delivery_time_min, vehicle)
    gains = found.temperature_change_c < 0
    cautions = []
    if gains:
        cautions.append("A gain by the same rule is an extension of the guide; sun and hydration come on top.")
    limit = _AGITATED_LIMIT_MIN if vehicle == "revolving-drum" else _STILL_LIMIT_MIN
    if delivery_time_min > limit:
        cautions.append(
            f"Over {limit} min: check the specification's limit on the age of a load (ASTM C94: 90 min; BS 8500-2: 2 "
            "h in a truck mixer, 1 h without agitation)."
        )
    if found.plant_temperature_c <= 0:
        cautions.append("The temperature when loading is 0 °C or less: no concrete can be made so cold.")
    return Answer(
        {"temperature_change_c": found.temperature_change_c, "plant_temperature_c": found.plant_temperature_c},
        (
            Step(
                "share of the difference lost in one hour",
                temperature.TEMPERATURE_CHANGE_PER_H[vehicle],
                "1/h",
                TRANSPORT,
            ),
            Step(
                "change = share × (wanted − air) × time, loss positive",
                found.temperature_change_c,
                "°C",
                _GAIN if gains else TRANSPORT,
            ),
            Step("temperature when loading = wanted + change", found.plant_temperature_c, "°C", TRANSPORT),
        ),
        tuple(cautions),
    )


_CEMENT = (
    Number(key="cement_kg_per_m3", meaning="all binder", unit="kg/m³", low=0, high=1000),
    Number(key="cement_temperature_c", meaning="temperature of the binder", unit="°C", low=-10, high=100),
)
_AGGREGATES = (
    Numbers(
        key="aggregate_kg_per_m3",
        meaning="masses without free water, absorbed water in them",
        each=Number(key="aggregate_kg_per_m3", meaning="mass", unit="kg/m³", low=0, high=5000),
        least_count=1,
        most_count=50,
    ),
    Numbers(
        key="aggregate_temperature_c",
        meaning="as many as masses",
        each=Number(key="aggregate_temperature_c", meaning="temperature", unit="°C", low=-20, high=80),
        most_count=50,
    ),
    Numbers(
        key="aggregate_free_moisture_percent",
        meaning="free water in percent of the mass, as many as masses",
        each=Number(key="aggregate_free_moisture_percent", meaning="free water", unit="%", low=0, high=20),
        most_count=50,
    ),
)
_WATER_TEMPERATURE = Number(
    key="water_temperature_c", meaning="temperature of the batch water", unit="°C", low=0, high=90
)
_ICE_TEMPERATURE = Number(
    key="ice_temperature_c", meaning="temperature of the ice", unit="°C", low=-30, high=0, default=0.0
)
_RATIO = Number(
    key="specific_heat_ratio",
    meaning="specific heat of the solids over that of water",
    unit="1",
    low=0.15,
    high=0.30,
    default=SPECIFIC_HEAT_RATIO,
)

CALCULATIONS = (
    Calculation(
        name="fresh-concrete-temperature",
        title="Temperature of fresh concrete from its constituents",
        method="Heat of binder, aggregates, their free water, batch water and ice over their heat capacity; solids "
        "count with 0.22 of the specific heat of water, ice with 79.6 − 0.5 × its temperature per kilogram.",
        source=HEAT_BALANCE,
        inputs=(
            *_CEMENT,
            *_AGGREGATES,
            Number(
                key="water_kg_per_m3",
                meaning="batch water without ice and without aggregate water",
                unit="kg/m³",
                low=0,
                high=400,
            ),
            _WATER_TEMPERATURE,
            Number(key="ice_kg_per_m3", meaning="ice", unit="kg/m³", low=0, high=400, default=0.0),
            _ICE_TEMPERATURE,
            _RATIO,
        ),
        outputs=(
            Output(key="concrete_temperature_c", meaning="of the fresh mix", unit="°C"),
            Output(key="free_moisture_kg_per_m3", meaning="water brought by the aggregate", unit="kg/m³"),
        ),
        answer=_fresh,
    ),
    Calculation(
        name="ice-for-temperature",
        title="Ice for a target temperature of fresh concrete",
        method="The same heat balance solved for ice that replaces batch water kilogram for kilogram. A target below "
        "what all the batch water as ice gives is refused, with the lowest temperature possible.",
        source=_ICE_SOLVED,
        inputs=(
            Number(key="target_temperature_c", meaning="wanted temperature of the mix", unit="°C", low=0, high=50),
            Number(key="water_and_ice_kg_per_m3", meaning="batch water to be split", unit="kg/m³", above=0, high=400),
            _WATER_TEMPERATURE,
            _ICE_TEMPERATURE,
            *_CEMENT,
            *_AGGREGATES,
            _RATIO,
        ),
        outputs=(
            Output(key="temperature_without_ice_c", meaning="all batch water as water", unit="°C"),
            Output(key="ice_kg_per_m3", meaning="0 if no ice is needed", unit="kg/m³"),
            Output(key="water_kg_per_m3", meaning="what remains as water", unit="kg/m³"),
            Output(key="ice_share_percent", meaning="of the batch water", unit="%"),
            Output(key="lowest_temperature_c", meaning="with all batch water as ice", unit="°C"),
        ),
        answer=_ice,
    ),
    Calculation(
        name="transport-temperature",
        title="Temperature change of concrete in transport",
        method="Change in one hour = 0.25 (revolving drum), 0.10 (covered body) or 0.20 (open body) × (wanted − air), "
        "in proportion to the time; added to the wanted temperature it gives that when loading.",
        source=TRANSPORT,
        inputs=(
            Number(key="required_temperature_c", meaning="wanted at discharge", unit="°C", low=0, high=40),
            Number(key="air_temperature_c", meaning="air on the way", unit="°C", low=-40, high=50),
            Number(key="delivery_time_min", meaning="from loading to discharge", unit="min", low=0, high=240),
            Choice(key="vehicle", meaning="how it is carried", options=tuple(temperature.TEMPERATURE_CHANGE_PER_H)),
        ),
        outputs=(
            Output(key="temperature_change_c", meaning="loss positive, gain negative", unit="°C"),
            Output(key="plant_temperature_c", meaning="needed when loading", unit="°C"),
        ),
        answer=_transport,
    ),
)
