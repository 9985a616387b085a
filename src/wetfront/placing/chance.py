"""Draws become the minutes and factors of one model: lognormal durations, breakdowns, each load's own clock."""

from dataclasses import dataclass, fields
from math import log, log1p, sqrt

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
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
    first_replication: int = 0
    """As in `Draws`."""

    @property
    def count(self) -> int:
        """Number of replications."""
        return len(self.batching_min)

    @property
    def loads_count(self) -> int:
        """Loads that there are figures for."""
        return int(self.batching_min.shape[1])

    @property
    def stops_count(self) -> int:
        """Breakdowns that there are figures for."""
        return int(self.up_min.shape[1])

    @property
    def strips_count(self) -> int:
        """Strips that there are figures for."""
        return int(self.finishing_min.shape[1])

    def part(self, replications: slice) -> "Chance":
        """The same figures for some of the replications, one after the other."""
        first, until, step = replications.indices(self.count)
        if step != 1:
            raise InvalidInput("replications", "must follow one another")
        rows = {column.name: getattr(self, column.name)[first:until] for column in fields(self)[:-1]}
        return Chance(**rows, first_replication=self.first_replication + first)


def of_the_day(share: float, day_z: Floats, load_z: Floats) -> Floats:
    """Normal numbers of the loads of which this share of the variance is the day's. Share 0 leaves them as they are."""
    if share == 0.0:
        return load_z
    mixed: Floats = sqrt(share) * day_z + sqrt(1.0 - share) * load_z
    return mixed


def lognormal(law: Lognormal, z: Floats) -> Floats:
    """Values with this mean and coefficient of variation: ln is normal with variance ln(1 + cv²)."""
    variance = log1p(law.cv**2)
    values: Floats = np.exp(log(law.mean) - variance / 2 + sqrt(variance) * z)
    return values


def chance_of(model: PourModel, draws: Draws) -> Chance:
    """All durations and factors of these replications."""
    supply, site, concrete, finishing = model.supply, model.site, model.concrete, model.finishing
    tables = (
        *(draws.batching_z, draws.haul_z, draws.return_z),
        *(draws.speed_z, draws.set_z, draws.temperature_z),
    )
    batching_z, haul_z, return_z, speed_z, set_z, temperature_z = (
        of_the_day(model.day_share, draws.day_z[:, level : level + 1], table) for level, table in enumerate(tables)
    )
    pattern = np.resize(np.array(supply.plant_of_load), draws.loads_count)
    batching, haul, back = (np.empty_like(draws.batching_z) for _ in range(3))
    for number, plant in enumerate(supply.plants):
        of_plant = pattern == number
        batching[:, of_plant] = lognormal(plant.batching_min, batching_z[:, of_plant])
        haul[:, of_plant] = lognormal(plant.haul_min, haul_z[:, of_plant])
        back[:, of_plant] = lognormal(plant.return_min, return_z[:, of_plant])
    speed = lognormal(site.speed, speed_z)
    strips_count = len(finishing.strip_min)
    strip_factor = lognormal(Lognormal(1.0, finishing.strip_cv), draws.finishing_z[:, :strips_count])
    return Chance(
        batching_min=batching,
        haul_min=haul,
        return_min=back,
        speed=np.minimum(speed, 1.0) if site.rate_is_held else speed,
        set_factor=np.exp(_set_factor_sd(model, draws) * set_z),
        plant_temperature_c=concrete.plant_temperature_c + concrete.plant_temperature_sd_c * temperature_z,
        consistence_u=draws.consistence_u,
        up_min=site.pumping_min_between_stops * draws.up_e,
        repair_min=lognormal(site.repair_min, draws.repair_z),
        finishing_min=finishing.strip_min * strip_factor,
        wastage=np.maximum(site.wastage + site.wastage_sd * draws.wastage_z[:, 0], 0.0),
        first_replication=draws.first_replication,
    )


def _set_factor_sd(model: PourModel, draws: Draws) -> float | Floats:
    """Of the concrete, or of the weather that each replication meets."""
    members = model.members
    if members is None:
        return model.concrete.set_factor_sd
    rows = (draws.first_replication + np.arange(draws.count) - members.first_replication) % members.count
    return members.set_factor_sd[rows, np.newaxis]
