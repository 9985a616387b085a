"""`wetfront check POUR.toml`: is the sheet complete, and if not, everything that is wrong with it."""

import argparse
import sys
from pathlib import Path

from wetfront.errors import SheetError
from wetfront.intake import read_sheet
from wetfront.nouns.sheet import CheckedSheet
from wetfront.takeoff.shapes import take_off


def run(arguments: argparse.Namespace) -> int:
    """Print what the sheet holds, or every mistake on a line of its own."""
    try:
        checked = read_sheet(Path(arguments.sheet))
    except SheetError as error:
        count = len(error.problems)
        print(error.message, file=sys.stderr)
        print(f"{count} mistake{'' if count == 1 else 's'} in the sheet", file=sys.stderr)
        return 2
    print("\n".join(summary(checked)))
    return 0


def summary(checked: CheckedSheet) -> list[str]:
    """What was read, in a few lines."""
    sheet = checked.sheet
    lines = [f"{checked.files[0].name}: the sheet is complete"]
    for pour in sheet.pour:
        count = len(pour.elements)
        held = "1 element" if count == 1 else f"{count} elements"
        lines.append(f"  {pour.id}: {pour.date:%a} {pour.date.isoformat()}, {held}, mix {pour.mix}, {pour.pump}")
        taken = take_off([element for element in sheet.element if element.id in pour.elements])
        areas = f"{taken.formed_area_m2:.2f} m² formed, {taken.top_area_m2:.2f} m² top"
        lines.append(f"    {taken.volume_m3:.3f} m³ net, {areas}")
        if checked.weather is None:
            lines.append("    no weather file")
        elif checked.weather.end.date() < pour.date:
            lines.append("    no forecast for that day yet")
    return [*lines, *(f"  read {file.name} ({file.kind})" for file in checked.files)]
