"""`wetfront`: the door.

Exit codes: 0 done; 1 planned, but no pour may go ahead, or tickets read, but a row is held or in error; 2 bad input
(the message names it); 3 planned, but the search was cut short by lost workers; 70 a fault of the program; 130 stopped
by Ctrl-C.
"""

import os
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module

from wetfront.cli.grammar import parser

FAULT = 70
"""As EX_SOFTWARE of the BSD sysexits."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    arguments = parser().parse_args(argv)
    try:
        module, function = arguments.run.split(":")
        return int(getattr(import_module(f"wetfront.cli.{module}"), function)(arguments))
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader of our output has gone, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception:  # a fault of ours must never look like an answer, which 1 is
        traceback.print_exc()
        print("wetfront: this is a fault of the program, not of your input; nothing more was written", file=sys.stderr)
        return FAULT


if __name__ == "__main__":
    sys.exit(main())
