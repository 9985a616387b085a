"""Everything foreign that comes in, validated once."""

from wetfront.intake.sheet import read_sheet

__all__ = ["read_sheet"]
