"""The screen of a command: how wide it is, and text that it can show."""

import shutil
import sys

WIDEST = 100


def screen_width() -> int:
    """Columns of the terminal, at most WIDEST; WIDEST where there is none."""
    return min(WIDEST, shutil.get_terminal_size((WIDEST, 40)).columns) if sys.stdout.isatty() else WIDEST


def show(text: str) -> None:
    """Print, with "?" for what the terminal's encoding does not know."""
    encoding = sys.stdout.encoding or "utf-8"
    print(text.encode(encoding, "replace").decode(encoding), end="\n\n")
