"""Lateral pressure of fresh concrete and the rise rate that a form permits."""

from wetfront.formwork.aci import AciConditions, AciPressure, aci_max_rise, aci_pressure
from wetfront.formwork.ciria import CiriaConditions, CiriaPressure, ciria_max_rise, ciria_pressure
from wetfront.formwork.din import DinConditions, DinPressure, din_max_rise, din_pressure
from wetfront.formwork.envelope import PressureEnvelope, pressure_envelope
from wetfront.formwork.pressure import HighestRise, Pressure, full_head, rise_rate, weight_density

__all__ = [
    "AciConditions",
    "AciPressure",
    "CiriaConditions",
    "CiriaPressure",
    "DinConditions",
    "DinPressure",
    "HighestRise",
    "Pressure",
    "PressureEnvelope",
    "aci_max_rise",
    "aci_pressure",
    "ciria_max_rise",
    "ciria_pressure",
    "din_max_rise",
    "din_pressure",
    "full_head",
    "pressure_envelope",
    "rise_rate",
    "weight_density",
]
