"""Draws become the minutes and factors of one model: lognormal durations, breakdowns, each load's own clock."""

from dataclasses import dataclass
from math import log, log1p, sqrt

import numpy as np
from numpy.typing import NDArray

from wetfront.placing.draws import Draws
from wetfront.placing.model import Lognormal, PourModel

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Chance:
    """One row a replication, as in `Draws`, in minutes and factors."""

    batching_min: Floats
    haul_min: Floats
    return_min: Floats
    speed: Floats
    set_factor: Floats
    plant_temperature_c: Floats
    consistence_u: Floats
    up_min: Floats
    repair_min: Floats
    finishing_min: Floats
    wastage: Floats


def lognormal(law: Lognormal, z: Floats) -> Floats:
    """Values with this mean and coefficient of variation: ln is normal with variance ln(1 + cv²)."""
    variance = log1p(law.cv**2)
    values: Floats = np.exp(log(law.mean) - variance / 2 + sqrt(variance) * z)
    return values


def chance_of(model: PourModel, draws: Draws) -> Chance:
    """All durations and factors of these replications."""
    supply, site, concrete, finishing = model.supply, model.site, model.concrete, model.finishing
    pattern = np.resize(np.array(supply.plant_of_load), draws.loads_count)
    batching, haul, back = (np.empty_like(draws.batching_z) for _ in range(3))
    for number, plant in enumerate(supply.plants):
        of_plant = pattern == number
        batching[:, of_plant] = lognormal(plant.batching_min, draws.batching_z[:, of_plant])
        haul[:, of_plant] = lognormal(plant.haul_min, draws.haul_z[:, of_plant])
        back[:, of_plant] = lognormal(plant.return_min, draws.return_z[:, of_plant])
    speed = lognormal(site.speed, draws.speed_z)
    strips_count = len(finishing.strip_min)
    strip_factor = lognormal(Lognormal(1.0, finishing.strip_cv), draws.finishing_z[:, :strips_count])
    return Chance(
        batching_min=batching,
        haul_min=haul,
        return_min=back,
        speed=np.minimum(speed, 1.0) if site.rate_is_held else speed,
        set_factor=np.exp(concrete.set_factor_sd * draws.set_z),
        plant_temperature_c=concrete.plant_temperature_c + concrete.plant_temperature_sd_c * draws.temperature_z,
        consistence_u=draws.consistence_u,
        up_min=site.pumping_min_between_stops * draws.up_e,
        repair_min=lognormal(site.repair_min, draws.repair_z),
        finishing_min=finishing.strip_min * strip_factor,
        wastage=np.maximum(site.wastage + site.wastage_sd * draws.wastage_z[:, 0], 0.0),
    )
