"""Placing concrete: the simulator of a pour, joints and the live edge."""

from wetfront.placing.draws import Draws, draws_from_generator, hashed_draws
from wetfront.placing.model import PourModel, Replications, Trace
from wetfront.placing.sequence import PlacingOrder, SequenceChoices, model_inputs_from_lattice, placing_order
from wetfront.placing.simulate import simulate, trace

__all__ = [
    "Draws",
    "PlacingOrder",
    "PourModel",
    "Replications",
    "SequenceChoices",
    "Trace",
    "draws_from_generator",
    "hashed_draws",
    "model_inputs_from_lattice",
    "placing_order",
    "simulate",
    "trace",
]
