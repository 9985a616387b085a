"""The concrete itself: its proportions by three methods; batches of a site mixer, admixtures; its temperature.

The mix methods stand in modules of their own: `aci_211`, `is_10262`, `bre`, `absolute_volume`, `target_strength`.
"""

from wetfront.materials.temperature import (
    ice_for_temperature,
    mix_temperature,
    solids,
    temperature_after,
    transport_temperature,
)

__all__ = ["ice_for_temperature", "mix_temperature", "solids", "temperature_after", "transport_temperature"]
