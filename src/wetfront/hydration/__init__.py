"""The physics that joints, pressure, finishing and curing share: how fast concrete sets at a temperature."""

from wetfront.hydration.setting import (
    DEFAULT_ACTIVATION_ENERGY_J_PER_MOL,
    PenetrationSetting,
    SettingTime,
    maturity_rate,
    setting_from_penetration,
    setting_time_at_temperature,
)

__all__ = [
    "DEFAULT_ACTIVATION_ENERGY_J_PER_MOL",
    "PenetrationSetting",
    "SettingTime",
    "maturity_rate",
    "setting_from_penetration",
    "setting_time_at_temperature",
]
