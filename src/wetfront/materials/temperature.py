"""Temperature of fresh concrete: from its constituents, with ice, and after the drive."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Provenance, Source

HEAT_BALANCE = Source("heat balance of the constituents, ACI 305R appendix, textbook form", Provenance.PUBLISHED)
ICE_TERMS = Source("heat of melting 79.6 and 0.5 for ice below 0 °C, ACI 305R appendix", Provenance.MEMORY)
TRANSPORT = Source("temperature change in delivery, ACI 306R (5.3)", Provenance.MEMORY)

SPECIFIC_HEAT_RATIO = 0.22
"""Specific heat of the solids over that of water; 0.20 to 0.25 (HEAT_BALANCE)."""
MELTING_HEAT = 79.6
"""Heat that melts 1 kg of ice, in kilograms of water cooled by 1 °C (ICE_TERMS)."""
ICE_SPECIFIC_HEAT_RATIO = 0.5
TEMPERATURE_CHANGE_PER_H = {"revolving-drum": 0.25, "covered-body": 0.10, "open-body": 0.20}
"""Share of the difference to the air that is lost in one hour, by vehicle (TRANSPORT)."""


@dataclass(frozen=True, slots=True)
class Solids:
    """What is in a cubic metre besides batch water and ice: heat content and heat capacity, in kilograms of water."""

    heat: float
    """Capacity × temperature, from 0 °C [kg °C]."""
    capacity: float
    free_moisture_kg_per_m3: float


def solids(
    cement_kg_per_m3: float,
    cement_temperature_c: float,
    aggregate_kg_per_m3: Sequence[float],
    aggregate_temperature_c: Sequence[float],
    aggregate_free_moisture_percent: Sequence[float],
    specific_heat_ratio: float = SPECIFIC_HEAT_RATIO,
) -> Solids:
    """Binder, aggregates and their free water. InvalidInput names a list of another length than the masses."""
    for key, entries in (
        ("aggregate_temperature_c", aggregate_temperature_c),
        ("aggregate_free_moisture_percent", aggregate_free_moisture_percent),
    ):
        if len(entries) != len(aggregate_kg_per_m3):
            raise InvalidInput(
                key, f"{key} has {len(entries)} entries, aggregate_kg_per_m3 has {len(aggregate_kg_per_m3)}"
            )
    aggregates = list(zip(aggregate_kg_per_m3, aggregate_temperature_c, strict=True))
    free = [
        mass * percent / 100 for mass, percent in zip(aggregate_kg_per_m3, aggregate_free_moisture_percent, strict=True)
    ]
    dry_heat = cement_kg_per_m3 * cement_temperature_c + math.fsum(mass * warmth for mass, warmth in aggregates)
    wet_heat = math.fsum(water * warmth for water, warmth in zip(free, aggregate_temperature_c, strict=True))
    dry_mass, free_moisture = cement_kg_per_m3 + math.fsum(aggregate_kg_per_m3), math.fsum(free)
    return Solids(
        specific_heat_ratio * dry_heat + wet_heat, specific_heat_ratio * dry_mass + free_moisture, free_moisture
    )


def ice_cooling(ice_temperature_c: float) -> float:
    """Heat that 1 kg of ice takes up until it is water at 0 °C, in kg °C of water."""
    return MELTING_HEAT - ICE_SPECIFIC_HEAT_RATIO * ice_temperature_c


@dataclass(frozen=True, slots=True)
class MixTemperature:
    """Result of the heat balance with its two sums."""

    concrete_temperature_c: float
    heat: float
    capacity: float
    ice_heat: float


def mix_temperature(
    parts: Solids,
    water_kg_per_m3: float,
    water_temperature_c: float,
    ice_kg_per_m3: float = 0.0,
    ice_temperature_c: float = 0.0,
) -> MixTemperature:
    """Temperature of the fresh mix [°C], all ice melted. Sources: HEAT_BALANCE, ICE_TERMS.

    Mixing energy and first hydration are not in it (1 to 3 °C more, common practice). InvalidInput for an empty mix.
    """
    capacity = parts.capacity + water_kg_per_m3 + ice_kg_per_m3
    if capacity <= 0:
        raise InvalidInput("cement_kg_per_m3", "cement_kg_per_m3, aggregates, water and ice are all 0: there is no mix")
    ice_heat = ice_kg_per_m3 * ice_cooling(ice_temperature_c)
    heat = parts.heat + water_temperature_c * water_kg_per_m3 - ice_heat
    return MixTemperature(heat / capacity, heat, capacity, ice_heat)


@dataclass(frozen=True, slots=True)
class IceNeeded:
    """Batch water split into water and ice."""

    temperature_without_ice_c: float
    lowest_temperature_c: float
    ice_kg_per_m3: float
    water_kg_per_m3: float
    ice_share_percent: float


def ice_for_temperature(
    target_temperature_c: float,
    parts: Solids,
    water_and_ice_kg_per_m3: float,
    water_temperature_c: float,
    ice_temperature_c: float = 0.0,
) -> IceNeeded:
    """Ice that brings the mix to the target, kilogram for kilogram in place of water; 0 where none is needed.

    OutOfRange on target_temperature_c where all batch water as ice is not enough. Source: the same balance, solved.
    """
    water = water_and_ice_kg_per_m3
    capacity = parts.capacity + water
    cooling = ice_cooling(ice_temperature_c)
    without = (parts.heat + water_temperature_c * water) / capacity
    lowest = (parts.heat - water * cooling) / capacity
    ice = (parts.heat + water_temperature_c * water - target_temperature_c * capacity) / (water_temperature_c + cooling)
    if ice > water * (1 + 1e-9):
        raise OutOfRange(
            "target_temperature_c",
            target_temperature_c,
            f"from {lowest:.2f} °C (all batch water as ice)",
            "cooling by ice",
        )
    ice = min(max(ice, 0.0), water)
    return IceNeeded(without, lowest, ice, water - ice, ice / water * 100)


@dataclass(frozen=True, slots=True)
class TransportTemperature:
    """Temperature when loading for a temperature wanted at discharge."""

    temperature_change_c: float
    """Loss on the way; below zero: gain."""
    plant_temperature_c: float


def transport_temperature(
    required_temperature_c: float, air_temperature_c: float, delivery_time_min: float, vehicle: str
) -> TransportTemperature:
    """Loss on the way in proportion to time and to the difference from discharge to air. Source: TRANSPORT.

    The guide speaks of cold weather only; a gain in warm air by the same rule is our extension (sun and hydration come
    on top).
    """
    change = _share_lost(delivery_time_min, vehicle) * (required_temperature_c - air_temperature_c)
    return TransportTemperature(change, required_temperature_c + change)


def temperature_after(concrete_c: Any, air_c: Any, minutes: Any, vehicle: str) -> Any:
    """Temperature [°C] after so many minutes on the road, from that when loading; numbers or arrays.

    The rule of `transport_temperature` solved for the other end, so that both agree. It tends to the air's temperature
    and never passes it.

    >>> round(temperature_after(13.5, -4.0, 60.0, "revolving-drum"), 9)
    10.0
    """
    share = _share_lost(minutes, vehicle)
    return (concrete_c + share * air_c) / (1 + share)


def _share_lost(minutes: Any, vehicle: str) -> Any:
    if vehicle not in TEMPERATURE_CHANGE_PER_H:
        allowed = ", ".join(TEMPERATURE_CHANGE_PER_H)
        raise InvalidInput("vehicle", f"vehicle is {vehicle!r}; allowed is one of {allowed}")
    return TEMPERATURE_CHANGE_PER_H[vehicle] * minutes / 60
