"""Every question that can be asked alone, by its name in trade terms."""

from wetfront.calculations.table import calculation, names

__all__ = ["calculation", "names"]
