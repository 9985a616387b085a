"""`wetfront check POUR.toml`: is the sheet complete, and if not, everything that is wrong with it."""

import argparse
from pathlib import Path

from wetfront.cli.mistakes import mistakes_told
from wetfront.intake import read_sheet
from wetfront.nouns.sheet import CheckedSheet
from wetfront.takeoff.shapes import take_off


def run(arguments: argparse.Namespace) -> int:
    """Print what the sheet holds, or every mistake on a line of its own."""
    return mistakes_told("check", "sheet", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    print("\n".join(summary(read_sheet(Path(arguments.sheet)))))
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
