"""Finishing a slab: the window for floating and trowelling, the machines it takes, and when joints can be sawn."""

from wetfront.finishing.saw_cut import SAW_METHODS, SawCutWindow, saw_cut_window
from wetfront.finishing.window import (
    FinishingMachines,
    FinishingWindow,
    finishing_machines,
    finishing_window,
)

__all__ = [
    "SAW_METHODS",
    "FinishingMachines",
    "FinishingWindow",
    "SawCutWindow",
    "finishing_machines",
    "finishing_window",
    "saw_cut_window",
]
