"""The command line: read, call, render."""

from wetfront.cli.main import main

__all__ = ["main"]
