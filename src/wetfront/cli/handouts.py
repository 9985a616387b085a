"""`wetfront print POUR.toml --what SHEET`: one sheet of the plan by itself."""

import argparse
import sys
from pathlib import Path

from wetfront.cli.files import writable, write_atomically
from wetfront.cli.mistakes import mistakes_told
from wetfront.cli.plan import chosen_pours
from wetfront.cli.progress import Progress
from wetfront.cli.workers import workers
from wetfront.desk.board.basis import Basis, basis_of
from wetfront.desk.plan_pour import plan_one
from wetfront.desk.wall_plan import wall_drawings
from wetfront.dossier.handouts import handout_pdf
from wetfront.intake import read_sheet


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 written; 2 bad input."""
    return mistakes_told("print", "sheet", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    sheet = Path(arguments.sheet)
    checked = read_sheet(sheet)
    out = Path(arguments.out) if arguments.out else sheet.parent
    with writable(out), Progress(sys.stderr) as progress, workers(arguments.workers, arguments.cluster) as executor:
        for pour in chosen_pours(checked, arguments.pour):
            plan = plan_one(checked, pour, executor, progress.of(pour.id))
            basis = basis_of(checked, pour, plan)
            drawings = wall_drawings(basis) if arguments.what == "wall-plan" else ()
            content = handout_pdf(plan, arguments.what, drawings, _facts(basis), arguments.paper)
            path = out / f"{pour.id}-{arguments.what}.pdf"
            write_atomically(path, content)
            print(path)
    return 0


def _facts(basis: Basis) -> list[str]:
    """Pump and hose, and where the pour may stop, in words."""
    sheet, pump = basis.sheet, next(each for each in basis.sheet.pump if each.id == basis.pour.pump)
    x, y = pump.position_m
    names = " to ".join(dict.fromkeys(basis.steps.elements))
    found = [f"Pump {pump.id} at x {x:g}, y {y:g} m; hose {names}, in the order of the numbers."]
    agreed = []
    for joint in sheet.joint:
        for axis, at_m in (("x", joint.x_m), ("y", joint.y_m)):
            if joint.agreed_emergency and at_m is not None:
                agreed.append(f"{joint.id} at {axis} = {at_m:g} m")
    stop = ", ".join(agreed) if agreed else "none agreed in the sheet: ask the designer"
    low_high = sheet.specification.slump_limits_mm
    found.append(f"Emergency joint: {stop}." + (f" Slump {low_high[0]:g} to {low_high[1]:g} mm." if low_high else ""))
    return found
