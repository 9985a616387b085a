"""Placing concrete: the simulator of a pour, joints and the live edge.

Doors: `model` (what goes in and comes out), `draws` (`hashed_draws`), `simulate` (`simulate`, `trace`), `sequence`
(`placing_order`, `model_inputs_from_lattice`); `joints`, `supply`, `vibration` answer single questions.
"""
