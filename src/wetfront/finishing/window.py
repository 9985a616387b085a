"""When a slab can be floated and trowelled, and how many machines that takes."""

import math
from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.hydration import DEFAULT_ACTIVATION_ENERGY_J_PER_MOL, setting_time_at_temperature
from wetfront.nouns.reason import Notice, Provenance, Source

WINDOW_SOURCE = Source("window from initial to final set at the surface temperature", Provenance.COMMON_PRACTICE)
MACHINES_SOURCE = Source("area × passes / (rate × window), rounded up", Provenance.COMMON_PRACTICE)
RANGE_C = (0.0, 40.0)
"""Of the surface: the setting rules hold there, below 5 °C with a notice."""
ROUNDING_GUARD = 1e-9
"""Taken off before rounding up, so that the noise of binary fractions does not ask for one machine more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishingWindow:
    """Hours after adding water."""

    window_opens_h: float
    window_closes_h: float
    factor: float
    """Multiplier of the setting times at the surface temperature."""
    latest_close_h: float
    """The longer of the two setting rules: for the hours of the finishing staff."""
    notices: tuple[Notice, ...]

    @property
    def window_h(self) -> float:
        """Length of the window."""
        return self.window_closes_h - self.window_opens_h


def finishing_window(
    initial_set_h: float,
    final_set_h: float,
    reference_temperature_c: float,
    surface_temperature_c: float,
    *,
    activation_energy_j_per_mol: float = DEFAULT_ACTIVATION_ENERGY_J_PER_MOL,
) -> FinishingWindow:
    """Window for power floating and trowelling [h after adding water], at the temperature of the surface.

    InvalidInput names `final_set_h` when it is not later than the initial set. A planning figure: the foot test
    (footprint to 6 mm, bleed water gone) opens the window on site.
    >>> round(finishing_window(5.0, 7.0, 20, 14).window_h, 3)
    2.818
    """
    if final_set_h <= initial_set_h:
        text = f"final_set_h is {final_set_h:g}; it must be later than the initial set of {initial_set_h:g} h"
        raise InvalidInput("final_set_h", text)
    opens = setting_time_at_temperature(
        initial_set_h,
        reference_temperature_c,
        surface_temperature_c,
        activation_energy_j_per_mol=activation_energy_j_per_mol,
    )
    closes = setting_time_at_temperature(
        final_set_h,
        reference_temperature_c,
        surface_temperature_c,
        activation_energy_j_per_mol=activation_energy_j_per_mol,
    )
    return FinishingWindow(
        window_opens_h=opens.setting_time_h,
        window_closes_h=closes.setting_time_h,
        factor=opens.factor,
        latest_close_h=closes.longer_h,
        notices=opens.notices,
    )


@dataclass(frozen=True, slots=True)
class FinishingMachines:
    """Machine hours, and the machines that do them within the window."""

    machine_hours_h: float
    machines_count: int


def finishing_machines(
    area_m2: float, passes_count: int, rate_per_machine_m2_per_h: float, window_h: float
) -> FinishingMachines:
    """Machines that take the whole area `passes_count` times within the window.

    >>> finishing_machines(900, 4, 350, 2.5).machines_count
    5
    """
    hours = area_m2 * passes_count / rate_per_machine_m2_per_h
    return FinishingMachines(hours, max(1, math.ceil(hours / window_h - ROUNDING_GUARD)))
