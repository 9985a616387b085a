"""`wetfront cool` and `wetfront admix`: what to ask the producer for."""

import argparse
import math
import textwrap
from pathlib import Path

from wetfront.cli.mistakes import mistakes_told
from wetfront.errors import InvalidInput, WetfrontError
from wetfront.materials.admixture_classes import FIRST, AdmixtureClass, admixture_classes, classes_for

WIDTH = 100


def admixtures(arguments: argparse.Namespace) -> int:
    """Print the classes for the conditions, or all of them. Exit code 2 for a condition that is not known."""
    return mistakes_told("admix", "conditions", lambda: _admixtures(arguments))


def _admixtures(arguments: argparse.Namespace) -> int:
    if not arguments.condition:
        found = list(admixture_classes().values())
    else:
        found = list(dict.fromkeys(each for word in arguments.condition for each in classes_for(word)))
    lines = list(FIRST)
    for each in found:
        lines += ["", *_told(each)]
    if len(found) > 1 and arguments.condition:
        lines += ["", "Several classes: ask one producer for all of them, with a compatibility statement."]
    print("\n".join(lines))
    return 0


def _told(each: AdmixtureClass) -> list[str]:
    dose = "the supplier's"
    if each.dose_percent is not None:
        span = each.dose_percent
        dose = f"guide {span.low:g} to {span.high:g} % of the cement ({span.provenance})"
    rows = [("for", ", ".join(each.conditions)), ("dose", dose)]
    rows += [("effect", f"{said.text} ({said.provenance})") for said in each.effects]
    rows += [("beware", f"{said.text} ({said.provenance})") for said in each.cautions]
    lines = [f"{each.id}: {each.title}; {each.standards}"]
    for label, text in rows:
        lines += textwrap.wrap(text, WIDTH - 10, initial_indent=f"  {label:<8}", subsequent_indent=" " * 10)
    return lines


def cool(arguments: argparse.Namespace) -> int:
    """Print what brings each pour's mix to the target. Exit code 2 where a target cannot be reached."""
    return mistakes_told("cool", "sheet", lambda: _cool(arguments))


def _cool(arguments: argparse.Namespace) -> int:
    from wetfront.intake import read_sheet
    from wetfront.planning.cooler import balance_c, cooling_of, way_words

    if not math.isfinite(arguments.to):
        raise InvalidInput("to", f"--to: found {arguments.to}; allowed: a temperature in °C")
    sheet = read_sheet(Path(arguments.sheet)).sheet
    pours = [pour for pour in sheet.pour if arguments.pour in (None, pour.id)]
    if not pours:
        raise WetfrontError(f"the sheet has no pour {arguments.pour!r}; it has {', '.join(p.id for p in sheet.pour)}")
    for name in dict.fromkeys(pour.mix for pour in pours):
        mix = sheet.mix[name]
        if mix.cooling is None:
            raise WetfrontError(
                f"mix {name} tells no temperatures: add [mix.{name}.cooling] and [[mix.{name}.aggregate]]"
            )
        found = cooling_of(mix, mix.cooling, arguments.to)
        currency = sheet.project.currency
        print(f"mix {name}: {balance_c(mix, mix.cooling):.1f} °C by heat balance, wanted {arguments.to:g} °C")
        for way in found.alone:
            print(f"  alone     {found.now_c - way.temperature_c:4.1f} °C cooler: {way_words(way, currency)}")
        print(f"  cheapest  {way_words(found.cheapest, currency)}")
        print(f"  least     {way_words(found.least, currency)}")
        print(f"  lowest    {found.lowest_c:.1f} °C with all of them")
    print(
        "Mixing and first hydration add 1 to 3 °C (common practice), the way its own: compare with measured loads. All "
        "ice\nmust be melted when mixing ends. Ice terms and the share of ice are from memory (ACI 305R)."
    )
    return 0
