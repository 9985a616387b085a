"""Finishing a slab: the window for floating and trowelling, and the machines it takes."""

from wetfront.finishing.window import (
    FinishingMachines,
    FinishingWindow,
    finishing_machines,
    finishing_window,
)

__all__ = ["FinishingMachines", "FinishingWindow", "finishing_machines", "finishing_window"]
