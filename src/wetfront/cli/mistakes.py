"""How a command ends on bad input: every mistake on standard error, exit code 2."""

import sys
from collections.abc import Callable

from wetfront.errors import SheetError, WetfrontError


def mistakes_told(command: str, thing: str, act: Callable[[], int]) -> int:
    """What `act` returns; 2 where its input is wrong, with all mistakes of the `thing` told and counted."""
    try:
        return act()
    except SheetError as error:
        count = len(error.problems)
        print(error.message, file=sys.stderr)
        print(f"{count} mistake{'' if count == 1 else 's'} in the {thing}", file=sys.stderr)
    except WetfrontError as error:
        print(f"wetfront {command}: {error.message}", file=sys.stderr)
    return 2
