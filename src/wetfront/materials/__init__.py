"""The concrete itself: its temperature when fresh and after the drive; batches of a site mixer, admixtures."""

from wetfront.materials.temperature import (
    ice_for_temperature,
    mix_temperature,
    solids,
    temperature_after,
    transport_temperature,
)

__all__ = ["ice_for_temperature", "mix_temperature", "solids", "temperature_after", "transport_temperature"]
