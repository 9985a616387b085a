"""Proof of the concrete that was placed: how many samples."""

from wetfront.proving.sampling import StrengthSamples, samples_aci_318, samples_is_456

__all__ = ["StrengthSamples", "samples_aci_318", "samples_is_456"]
