"""`wetfront plan POUR.toml`: read the sheet, plan its pours, print one screen each, write plan.json, .ics and .pdf."""

import argparse
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from difflib import get_close_matches
from pathlib import Path

from wetfront.cli.files import CannotWrite, undisturbed, writable, write_atomically
from wetfront.cli.mistakes import mistakes_told
from wetfront.cli.progress import Progress
from wetfront.cli.terminal import screen_width, show
from wetfront.cli.workers import workers
from wetfront.desk.plan_pour import SEED, SearchStopped, plan_one
from wetfront.dossier import calendar_text, plan_json, plan_pdf, screen_text
from wetfront.errors import WetfrontError
from wetfront.intake import read_sheet
from wetfront.nouns.plan import Plan, Verdict
from wetfront.nouns.sheet import CheckedSheet, Pour


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 planned, at least one pour may go ahead; 1 planned, none may; 2 bad input; 3 a search cut short."""
    return mistakes_told("plan", "sheet", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    sheet = Path(arguments.sheet)
    checked = read_sheet(sheet)
    chosen = chosen_pours(checked, arguments.pour)
    out = Path(arguments.out) if arguments.out else sheet.parent / f"{sheet.stem}-plan"
    seed = SEED if arguments.seed is None else arguments.seed
    plans: list[Plan] = []
    with (
        _shown_when_stopped(plans),
        writable(out),
        Progress(sys.stderr) as progress,
        workers(arguments.workers, arguments.cluster) as executor,
    ):
        for pour in chosen:
            plan = plan_one(checked, pour, executor, progress.of(pour.id), seed)
            plans.append(plan)
        folders = _folders(checked, out)
        made = {folders[plan.pour]: (plan, _rendered(plan, progress)) for plan in plans}
        with undisturbed():
            _write(made)
    for folder, (plan, _) in made.items():
        show(screen_text(plan, screen_width(), [str(folder / name) for name in ("plan.pdf", "plan.json", "plan.ics")]))
    return _exit_code(plans)


def _exit_code(plans: Sequence[Plan]) -> int:
    cut_short = [plan for plan in plans if plan.search is not None and plan.search.cut_short]
    for plan in cut_short:
        assert plan.search is not None
        print(f"wetfront plan: {plan.pour}: search cut short, best so far: {plan.search.cut_short}", file=sys.stderr)
    if cut_short:
        return 3
    return 0 if any(plan.verdict in (Verdict.GO, Verdict.GO_WITH_MEASURES) for plan in plans) else 1


@contextmanager
def _shown_when_stopped(whole: Sequence[Plan]) -> Iterator[None]:
    """Ctrl-C in the search: the pours that are planned and the best so far on the screen, nothing written."""
    try:
        yield
    except SearchStopped as stopped:
        for plan in (*whole, stopped.plan):
            show(screen_text(plan, screen_width()))
        raise


def chosen_pours(checked: CheckedSheet, name: str | None) -> list[Pour]:
    """The pours to plan; WetfrontError where the sheet has none of that name."""
    if name is None:
        return list(checked.sheet.pour)
    known = [pour.id for pour in checked.sheet.pour]
    if name not in known:
        near = get_close_matches(name, known, 1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise WetfrontError(f"the sheet has no pour {name!r}; it has {', '.join(known[:20])}{hint}")
    return [pour for pour in checked.sheet.pour if pour.id == name]


def _folders(checked: CheckedSheet, out: Path) -> dict[str, Path]:
    """Where each pour's files go: `out` itself, or a folder by the pour's name where the sheet has several."""
    pours = [pour.id for pour in checked.sheet.pour]
    if len(pours) == 1:
        return {pours[0]: out}
    folders: dict[str, Path] = {}
    for pour in pours:
        name = re.sub(r"[^\w.-]+", "-", pour).strip("-.") or "pour"
        taken = {folder.name.casefold() for folder in folders.values()}
        unique, number = name, 2
        while unique.casefold() in taken:
            unique, number = f"{name}-{number}", number + 1
        folders[pour] = out / unique
    return folders


def _rendered(plan: Plan, progress: Progress) -> dict[str, bytes]:
    progress.say(f"{plan.pour}: writing the pages")
    return {
        "plan.json": plan_json(plan).encode("utf-8"),
        "plan.ics": calendar_text(plan),
        "plan.pdf": plan_pdf(plan),
    }


def _write(made: dict[Path, tuple[Plan, dict[str, bytes]]]) -> None:
    for folder, (_, contents) in made.items():
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise CannotWrite(f"{folder} cannot be written: {error.strerror or error}") from None
        for name, data in contents.items():
            write_atomically(folder / name, data)
