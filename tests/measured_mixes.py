"""1030 laboratory mixes as published (tests/data), and how far their parts fill the cubic metre."""

import csv
from pathlib import Path

import numpy as np

from wetfront.dossier.plots import histogram_svg
from wetfront.materials.absolute_volume import volume_of

FILE = Path(__file__).parent / "data" / "measured_mixes.csv"
RELATIVE_DENSITIES = {
    "cement_kg_per_m3": 3.15,
    "slag_kg_per_m3": 2.9,
    "fly_ash_kg_per_m3": 2.3,
    "water_kg_per_m3": 1.0,
    "superplasticizer_kg_per_m3": 1.1,
    "coarse_aggregate_kg_per_m3": 2.68,
    "fine_aggregate_kg_per_m3": 2.63,
}
"""Usual values: the set gives none."""


def measured_mixes() -> dict[str, np.ndarray]:
    """Column -> its 1030 figures."""
    with FILE.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


def parts_volume_l(mixes: dict[str, np.ndarray]) -> np.ndarray:
    """Absolute volume of solids and water of each mix [l per m³]."""
    return 1000 * sum(
        volume_of(mixes[name], np.full_like(mixes[name], density)) for name, density in RELATIVE_DENSITIES.items()
    )


def closure_svg() -> str:
    """The picture of docs/mix-design.md."""
    volumes = parts_volume_l(measured_mixes())
    edges = np.arange(930, 1035, 5)
    counts, _ = np.histogram(volumes, edges)
    sentence = (
        f"Solids and water of {len(volumes)} published laboratory mixes take {volumes.mean():.0f} ± "
        f"{volumes.std():.0f} litres of the cubic metre, from {volumes.min():.0f} to {volumes.max():.0f}; the rest is "
        "air."
    )
    return histogram_svg(
        "Absolute volume of the parts of measured mixes",
        sentence,
        "litres of solids and water per m³",
        [float(edge) for edge in edges],
        [int(count) for count in counts],
        (("1 m³ without air", 1000.0),),
    )
