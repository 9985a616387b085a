"""Lateral pressure of fresh concrete and the rise rate that a form permits."""

from wetfront.formwork.pressure import rise_rate

__all__ = ["rise_rate"]
