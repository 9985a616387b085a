"""Build the compiled core beside its source: `python build.py`. Needs a C compiler and nothing else of this package.

The system's compiler is taken if there is one ($CC, cc, gcc, clang), else the one in the `ziglang` package.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
SOURCES = (
    *("pour.c", "pour.h", "run.h", "loads.h", "front.h", "abreast.h", "joints.h", "finish.h", "chance.h"),
    *("levels.h", "steps.h", "bands.h"),
)
LIBRARY_NAME = {"win32": "pour.dll", "darwin": "libpour.dylib"}.get(sys.platform, "libpour.so")
FLAGS = ("-std=c99", "-O3", "-ffp-contract=off", "-fno-math-errno", "-fPIC", "-shared", "-fvisibility=default")
"""No flag that changes what a sum gives, and none that asks for more than the platform's plain level; wider
instructions are asked for function by function and taken only where the processor has them."""


def source_hash(folder: Path = FOLDER) -> str:
    """By which a library is known to belong to this source."""
    parts = (folder.joinpath(name).read_bytes().replace(b"\r\n", b"\n") for name in SOURCES)
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def compiler() -> list[str]:
    """Command of a C compiler, empty if there is none."""
    for name in (os.environ.get("CC", ""), "cc", "gcc", "clang"):
        if name and shutil.which(name.split()[0]):
            return name.split()
    if importlib.util.find_spec("ziglang") is not None:
        return [sys.executable, "-m", "ziglang", "cc"]
    return []


def build(folder: Path = FOLDER, command: list[str] | None = None) -> Path | None:
    """Build the library into this folder; None where there is no compiler. Errors: `CalledProcessError`."""
    command = compiler() if command is None else command
    if not command:
        return None
    library = folder / LIBRARY_NAME
    with tempfile.TemporaryDirectory(dir=folder, prefix=".build-") as scratch:
        made = Path(scratch) / LIBRARY_NAME
        define = f'-DPOUR_SOURCE="{source_hash()}"'
        mathematics = [] if sys.platform == "win32" else ["-lm"]
        subprocess.run(
            [*command, *FLAGS, define, str(FOLDER / "pour.c"), "-o", str(made), *mathematics],
            check=True,
            capture_output=True,
            text=True,
        )
        # Whole or not at all, also for a process that has the old one loaded.
        made.replace(library)
    return library


def main() -> int:
    """Build, and say what came of it."""
    try:
        library = build()
    except subprocess.CalledProcessError as error:
        print(f"{error.stderr}\nthe compiled core could not be built; the plain Python one is used", file=sys.stderr)
        return 0
    print(f"built {library}" if library else "no C compiler: the plain Python core is used")
    return 0


if __name__ == "__main__":
    sys.exit(main())
