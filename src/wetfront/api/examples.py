"""The invented pours to play with: copied into a folder, never over what is there."""

import shutil
from pathlib import Path

from wetfront.errors import InvalidInput

HERE = Path(__file__).resolve().parent.parent
PLACES = (HERE / "examples" / "tarnwick", HERE.parent.parent / "examples" / "tarnwick")
"""In the wheel, and in the repository."""
NOT_FOR_A_SITE = ("expected.toml",)


def example_folder() -> Path:
    """Where the example stands. InvalidInput where this installation has none."""
    for place in PLACES:
        if (place / "slab.toml").is_file():
            return place
    raise InvalidInput("demo", "this installation has no example in it")


def copy_example(folder: Path) -> tuple[str, ...]:
    """Copy the files of the example that are not there yet; their names."""
    found = []
    for path in sorted(example_folder().iterdir()):
        target = folder / path.name
        if path.is_file() and path.name not in NOT_FOR_A_SITE and not target.exists():
            shutil.copyfile(path, target)
            found.append(path.name)
    return tuple(found)
