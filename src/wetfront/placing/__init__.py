"""Placing concrete: the simulator of a pour, joints and the live edge.

Doors: `model` (what goes in and comes out), `draws` (`hashed_draws`), `seeded` (draws by seed alone), `core.prepared`
(`simulate`, and `PreparedPours` for many pours: compiled where the core is built, else plain), `core.library`
(`core_name`), `simulate` (the plain simulator that the core is held against, and `trace`), `sequence`
(`placing_order`, `model_inputs_from_lattice`); `joints`, `supply`, `vibration` answer single questions.
"""
