"""Timed workloads, as ratios inside one run. Each module has `run()`, which returns its `Measure`s."""
