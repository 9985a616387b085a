"""`wetfront week PROGRAMME.toml`: days for several pours that share people, pumps and forms; and again after a slip."""

import argparse
import datetime as dt
import sys
from collections.abc import Sequence
from pathlib import Path

from wetfront.cli.files import writable, write_together
from wetfront.cli.mistakes import mistakes_told
from wetfront.cli.progress import Progress
from wetfront.cli.terminal import screen_width, show
from wetfront.cli.workers import workers
from wetfront.desk.plan_week import plan_week
from wetfront.dossier.week import programme_calendar, programme_json, week_screen
from wetfront.dossier.weekpdf import programme_pdf
from wetfront.errors import InvalidInput
from wetfront.intake.programme_sheet import CheckedProgramme, read_booked, read_programme
from wetfront.planning.day import zone_of
from wetfront.planning.week import Away, DayLost, Happened, NotStruck, ResourceAway, ResourceKind, Slip


def run(arguments: argparse.Namespace) -> int:
    """Exit code: 0 every pour has a day; 1 planned, but not every pour has one; 2 bad input."""
    return mistakes_told("week", "programme", lambda: _run(arguments))


def _run(arguments: argparse.Namespace) -> int:
    path = Path(arguments.programme)
    checked = read_programme(path)
    happened = happened_in(arguments, checked)
    previous = read_booked(Path(arguments.previous)) if arguments.previous else ()
    out = Path(arguments.out) if arguments.out else path.parent / f"{path.stem}-plan"
    with (
        writable(out),
        Progress(sys.stderr) as progress,
        workers(arguments.workers, arguments.cluster) as executor,
    ):
        programme = plan_week(
            checked.sheet,
            checked.pour_sheets,
            happened=happened,
            previous=previous,
            today=arguments.today,
            inputs=checked.inputs,
            executor=executor,
            progress=progress.of(path.stem),
        )
        contents = {
            "programme.json": programme_json(programme).encode("utf-8"),
            "programme.ics": programme_calendar(programme),
            "programme.pdf": programme_pdf(programme),
        }
        written = write_together(out, contents)
    show(week_screen(programme, screen_width(), written))
    return 0 if programme.complete else 1


def happened_in(arguments: argparse.Namespace, checked: CheckedProgramme) -> tuple[Happened, ...]:
    """What the options say has happened. InvalidInput names the option and what it may hold."""
    found: list[Happened] = []
    pours = [pour.id for pour in checked.sheet.pour]
    for text in arguments.slip:
        pour, days = _two(text, "=", "--slip", "POUR=DAYS")
        if not days.isdecimal() or not 1 <= int(days) <= 60:
            raise InvalidInput("slip", f"--slip {text}: found {days!r} days; allowed: a whole number from 1 to 60")
        found.append(Slip(pour=_one_of(pour, pours, "--slip"), working_days=int(days)))
    found += [DayLost(day=_date(text, "--lost-day")) for text in arguments.lost_day]
    for text in arguments.not_struck:
        pour, day = _two(text, "=", "--not-struck", "POUR=DATE")
        until = _minutes(_date(day, "--not-struck"), checked)
        found.append(NotStruck(pour=_one_of(pour, pours, "--not-struck"), until_min=until))
    found += [_away(text, checked) for text in arguments.away]
    return tuple(found)


def _away(text: str, checked: CheckedProgramme) -> ResourceAway:
    name, days = _two(text, "=", "--away", "RESOURCE=FROM/TO")
    first, last = (_date(part, "--away") for part in _two(days, "/", "--away", "RESOURCE=FROM/TO"))
    sheet = checked.sheet
    pools: tuple[tuple[ResourceKind, Sequence[str]], ...] = (
        ("crew", [entry.id for entry in sheet.crew]),
        ("pump", [entry.id for entry in sheet.pump]),
        ("form set", [entry.id for entry in sheet.form_set]),
    )
    known = [entry for _, entries in pools for entry in entries]
    _one_of(name, known, "--away")
    kinds = [kind for kind, entries in pools if name in entries]
    if len(kinds) > 1:
        raise InvalidInput(
            "away", f"--away {name}: both a {kinds[0]} and a {kinds[1]} have this id; give them different ones"
        )
    if last < first:
        raise InvalidInput("away", f"--away {text}: {last} is before {first}")
    to_min = _minutes(last + dt.timedelta(days=1), checked)
    return ResourceAway(away=Away(kind=kinds[0], id=name, count=1, from_min=_minutes(first, checked), to_min=to_min))


def _minutes(day: dt.date, checked: CheckedProgramme) -> float:
    """Midnight of a day in the programme's minutes."""
    zone = zone_of(next(iter(checked.pour_sheets.values())).sheet.project.time_zone)
    first, wanted = (
        dt.datetime.combine(each, dt.time(0), zone).astimezone(dt.UTC) for each in (checked.sheet.first_day, day)
    )
    return (wanted - first).total_seconds() / 60


def _two(text: str, mark: str, option: str, form: str) -> tuple[str, str]:
    first, found, second = text.rpartition(mark)
    if not found or not first or not second:
        raise InvalidInput(option.strip("-"), f"{option}: found {text!r}; allowed: {form}")
    return first, second


def _one_of(name: str, known: Sequence[str], option: str) -> str:
    if name not in known:
        raise InvalidInput(option.strip("-"), f"{option}: found {name!r}; allowed: {', '.join(known)}")
    return name


def _date(text: str, option: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InvalidInput(option.strip("-"), f"{option}: found {text!r}; allowed: a date such as 2027-06-17") from None
