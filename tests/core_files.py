"""The compiled core as a program of its own (core_driver.c): input files from models and draws, builds, runs."""

import importlib.util
import os
import shutil
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np

from wetfront.placing.core import build
from wetfront.placing.core.layout import shared_values, supply_values
from wetfront.placing.core.library import load
from wetfront.placing.core.records import draw_values

FAILURE = struct.Struct("=qqqd")
"""Code, model, replication, value."""
SANITISERS = "-fsanitize=address,undefined"


def driver_input(model, draws, first: int, until: int, repeats: int = 1, level: int | None = None) -> bytes:
    """What the driver reads: range, model, draws; without `level`, for the widest instructions of the processor."""
    kinds = load().kinds
    values = shared_values(model) | supply_values(model.supply)
    return (
        struct.pack("=qqq", first, until, repeats)
        + _fields(values, kinds["model"])
        + _fields(draw_values(draws) | {"level": load().level if level is None else level}, kinds["draws"])
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


def sanitised_build() -> tuple[list[str], list[str], str]:
    """Compiler, its sanitising options, and what they watch: addresses too where the system's compiler can."""
    system = [name for name in (os.environ.get("CC", ""), "cc", "gcc", "clang") if name and shutil.which(name)]
    for name in system:
        command = [name, SANITISERS, "-x", "c", "-", "-o", os.devnull]
        if subprocess.run(command, input=b"int main(void) { return 0; }", capture_output=True).returncode == 0:
            return [name], [SANITISERS, "-fno-sanitize-recover=all"], "addresses and undefined behaviour"
    assert importlib.util.find_spec("ziglang"), "no C compiler: neither the system's nor the one of the ziglang package"
    zig = [sys.executable, "-m", "ziglang", "cc"]
    return zig, ["-fsanitize=undefined", "-fno-sanitize-recover=all"], "undefined behaviour"


def driver(compiler: list[str], flags: list[str], folder: Path) -> Path:
    """Build driver and core into this folder."""
    program = folder / "core_driver"
    sources = [str(build.FOLDER / "pour.c"), str(Path(__file__).with_name("core_driver.c"))]
    warnings = ["-Wall", "-Wextra", "-Wconversion", "-Werror", "-pedantic"]
    command = [*compiler, "-std=c99", "-g", "-O0", "-ffp-contract=off", *warnings, *flags, f"-I{build.FOLDER}"]
    made = subprocess.run([*command, *sources, "-o", str(program), "-lm"], capture_output=True, text=True)
    assert made.returncode == 0, made.stderr
    return program


def run_driver(program: Path, content: bytes, folder: Path) -> subprocess.CompletedProcess:
    """Run it on this input; a sanitiser's finding ends it with a report on standard error."""
    file = folder / "pour.bin"
    file.write_bytes(content)
    environment = os.environ | {"ASAN_OPTIONS": "detect_leaks=1:exitcode=99", "UBSAN_OPTIONS": "print_stacktrace=1"}
    return subprocess.run([str(program), str(file)], capture_output=True, timeout=60, env=environment)
