"""Imports point one way: DESIGN's rings hold from the first commit on."""

import ast
from pathlib import Path

import pytest

SOURCE = Path(__file__).parent.parent / "src" / "wetfront"

RING = {
    **dict.fromkeys(("quantities", "errors", "hashed", "nouns"), 0),
    **dict.fromkeys(("rules", "journal"), 1),
    **dict.fromkeys(("acceptance", "hydration", "takeoff", "weather"), 2),
    **dict.fromkeys(("materials", "formwork", "placing", "delivery", "finishing", "curing", "proving"), 3),
    "planning": 4,
    "forecast": 5,
    **dict.fromkeys(("desk", "store", "intake", "calculations"), 6),
    "dossier": 7,
    "api": 8,
    "cli": 9,
}
WHOLE_PACKAGE = {"__init__", "__main__", "py"}


def room_of(path: Path) -> str:
    return path.relative_to(SOURCE).parts[0].removesuffix(".py")


def imports_between_rooms() -> list[tuple[str, str, str]]:
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{path}: relative import"
                names = [
                    f"{node.module}.{alias.name}" if node.module == "wetfront" else node.module or ""
                    for alias in node.names
                ]
            elif isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            for name in names:
                parts = name.split(".")
                if parts[0] == "wetfront" and len(parts) > 1 and parts[1] != "__version__":
                    found.append((room_of(path), parts[1], str(path.relative_to(SOURCE))))
    return found


def test_every_room_has_a_ring():
    rooms = {room_of(path) for path in SOURCE.rglob("*.py")} - WHOLE_PACKAGE
    assert rooms <= set(RING), f"no ring for {rooms - set(RING)}"


def test_no_room_imports_upward_or_sideways():
    for room, used, path in imports_between_rooms():
        if room in WHOLE_PACKAGE:
            continue
        # `errors` imports nothing and lies under all others: every room may refuse.
        lower = used == "errors" or RING[used] < RING[room]
        assert room == used or lower, f"{path}: {room} must not import {used}"


def test_formulas_run_without_a_journal_and_the_journal_without_formulas():
    """A better formula must not rewrite a past pour, and a formula must run without a record of one."""
    for room, used, path in imports_between_rooms():
        if room in WHOLE_PACKAGE:
            continue
        assert used != "journal" or room == "journal" or RING[room] >= 4, f"{path}: {room} must not import the journal"
        assert room != "journal" or RING[used] == 0 or used == "journal", f"{path}: the journal must not import {used}"


@pytest.mark.parametrize("module", ["pydantic", "json", "sqlalchemy", "fastapi"])
def test_formulas_do_not_know_the_border(module):
    """Rooms below the border import neither the checker nor a store."""
    for path in sorted(SOURCE.rglob("*.py")):
        # The journal is no formula: its seal is over a text, which is JSON.
        if RING.get(room_of(path), 99) > 4 or (room_of(path), module) == ("journal", "json"):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert module not in {name.split(".")[0] for name in names}, f"{path} imports {module}"
