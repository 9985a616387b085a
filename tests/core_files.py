"""Input files for core_driver.c from models and draws."""

import struct
from pathlib import Path

import numpy as np

from wetfront.placing.core.layout import shared_values, supply_values
from wetfront.placing.core.library import load
from wetfront.placing.core.records import draw_values

FAILURE = struct.Struct("=qqqd")


def driver_input(model, draws, first: int, until: int, repeats: int = 1) -> bytes:
    """What the driver reads: range, model, draws."""
    kinds = load().kinds
    values = shared_values(model) | supply_values(model.supply)
    return (
        struct.pack("=qqq", first, until, repeats)
        + _fields(values, kinds["model"])
        + _fields(draw_values(draws), kinds["draws"])
    )


def _fields(values, kinds) -> bytes:
    parts = []
    for name, kind in kinds.items():
        value = values.get(name, 0 if kind in "DI" else np.zeros(0))
        if kind in "DI":
            parts.append(struct.pack("=d" if kind == "D" else "=q", value))
        else:
            parts += [struct.pack("=q", value.nbytes), value.tobytes()]
    return b"".join(parts)


def driver_command(compiler: list[str], flags: list[str], folder: Path) -> Path:
    """Build the driver with the core into this folder."""
    import subprocess

    core = Path(load.__code__.co_filename).parent
    program = folder / "core_driver"
    sources = [str(core / "pour.c"), str(Path(__file__).with_name("core_driver.c"))]
    subprocess.run(
        [*compiler, "-std=c99", "-ffp-contract=off", *flags, f"-I{core}", *sources, "-o", str(program), "-lm"],
        check=True,
        capture_output=True,
        text=True,
    )
    return program
