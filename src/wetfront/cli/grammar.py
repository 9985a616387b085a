"""The grammar of the command line. Each command names its own function, which is imported only when it runs."""

import argparse
import datetime as dt
from collections.abc import Callable

from wetfront import __version__


class _Help(argparse.HelpFormatter):
    """Counts the indent of the commands too, so that the longest one keeps its help on its own line."""

    def add_argument(self, action: argparse.Action) -> None:
        super().add_argument(action)
        if isinstance(action, argparse._SubParsersAction):
            self._action_max_length += self._indent_increment


def parser() -> argparse.ArgumentParser:
    """Parser of the whole command line; `run` of what it reads is "module:function" within this room."""
    description = "Plan in-situ concrete pours, with reasons."
    top = argparse.ArgumentParser(prog="wetfront", description=description, formatter_class=_Help)
    top.add_argument("--version", action="version", version=f"wetfront {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_sheets(commands)
    _add_planning(commands)
    _add_concrete(commands)
    _add_running(commands)
    _add_tickets(commands)
    _add_lookup(commands)
    return top


def _add_sheets(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The pour sheet itself."""
    new = commands.add_parser("new", help="write a commented pour sheet or mix brief to start from")
    new.add_argument("file", metavar="FILE", help="the sheet to write; a file that is there already stays")
    new.add_argument(
        "--kind",
        choices=("slab", "wall", "raft", "batch", "mix"),
        default="slab",
        help="what is poured (slab); batch: a batch brief; mix: a mix brief",
    )
    new.set_defaults(run="new:run")

    check = commands.add_parser("check", help="tell every mistake of a pour sheet, or that it is complete")
    check.add_argument("sheet", metavar="POUR.toml", help="the pour sheet")
    check.set_defaults(run="check:run")

    schema = commands.add_parser("schema", help="print the JSON Schema of a sheet or written document, for editors")
    schema.add_argument("format", metavar="FORMAT", nargs="?", default="pour-sheet", help="pour-sheet, plan, …")
    schema.add_argument("--keys", action="store_true", help="a sheet's keys as Markdown tables instead, for people")
    schema.add_argument("--out", metavar="FILE", help="write it to FILE instead")
    schema.add_argument("--all", metavar="FOLDER", help="write the schema and key tables of every format to FOLDER")
    schema.set_defaults(run="schema:run")


def _add_planning(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """From a sheet to a plan."""
    plan = commands.add_parser(
        "plan",
        help="plan the pours of a sheet: one screen, plan.pdf, plan.json, plan.ics",
        description="Plan the pours of a sheet. Prints one screen a pour and writes plan.pdf, plan.json and plan.ics, "
        "in a folder of its own for each pour where the sheet has several.",
        epilog="Exit codes: 0 at least one pour may go ahead; 1 planned, but none may (no go, or no forecast yet); "
        "2 bad input, with every mistake on standard error, nothing written; 3 all workers lost in the search, the "
        "best so far written and labelled; 70 a fault of the program; 130 stopped by Ctrl-C, the best so far shown and "
        "nothing written.",
    )
    plan.add_argument("sheet", metavar="POUR.toml", help="the pour sheet")
    plan.add_argument("--out", metavar="FOLDER", help="where to write (beside the sheet, in POUR-plan)")
    plan.add_argument("--pour", metavar="ID", help="only this pour of the sheet")
    plan.add_argument("--seed", metavar="N", type=_whole(0, 2**63 - 1), help="another draw of the random days")
    _add_workers(plan)
    plan.set_defaults(run="plan:run")

    sheet = commands.add_parser(
        "print",
        help="one sheet of the plan alone: for the wall, the tester, the check list, the supplier",
        description="Plan the pours of a sheet and write one sheet of each plan as PDF (POUR-WHAT.pdf).",
        epilog="Exit codes: 0 written; 2 bad input, nothing written; 130 stopped by Ctrl-C.",
    )
    sheet.add_argument("sheet", metavar="POUR.toml", help="the pour sheet")
    sheet.add_argument(
        "--what", choices=("wall-plan", "tester", "checks", "call-off"), required=True, help="which sheet"
    )
    sheet.add_argument("--paper", choices=("a3", "a4"), default="a3", help="of the wall plan (a3)")
    sheet.add_argument("--out", metavar="FOLDER", help="where to write (beside the sheet)")
    sheet.add_argument("--pour", metavar="ID", help="only this pour of the sheet")
    _add_workers(sheet)
    sheet.set_defaults(run="handouts:run")

    week = commands.add_parser(
        "week",
        help="give days to several pours that share crew, pump, forms and plant; again after a slip",
        description="Give days to the pours of a programme sheet. Prints one screen and writes "
        "programme.json, programme.ics and programme.pdf. With --slip and the like, the programme changes as little "
        "as possible.",
        epilog="Exit codes: 0 every pour has a day; 1 planned, but not every pour has one; 2 bad input, nothing "
        "written; 130 stopped by Ctrl-C, nothing written.",
    )
    week.add_argument("programme", metavar="PROGRAMME.toml", help="the programme sheet")
    week.add_argument("--out", metavar="FOLDER", help="where to write (beside the sheet, in PROGRAMME-plan)")
    week.add_argument("--previous", metavar="FILE", help="programme.json before, to be changed as little as possible")
    for name, form, text in (
        ("--slip", "POUR=DAYS", "the pour is not ready for so many working days after its day"),
        ("--lost-day", "DATE", "nobody pours on this day"),
        ("--not-struck", "POUR=DATE", "the form of this pour stays until this day"),
        ("--away", "ID=FROM/TO", "one of this crew, pump or form set is away on these days"),
    ):
        week.add_argument(name, metavar=form, action="append", default=[], help=f"{text}; may be given several times")
    week.add_argument("--today", metavar="DATE", type=_date, help="pours before this day count as done as planned")
    _add_workers(week)
    week.set_defaults(run="week:run")


def _add_concrete(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The concrete and the site mixer."""
    mix = commands.add_parser(
        "mix",
        help="proportion a concrete by three methods, with its trial batch: one screen, mix.pdf, mix.json",
        description="Proportion a concrete from a mix brief by up to three methods, set them side by side, and print "
        "the trial batch. Prints one screen and writes mix.pdf and mix.json. A first trial, never a mix to pour.",
        epilog="Exit codes: 0 done; 2 bad input, with every mistake on standard error, nothing written; 70 a fault of "
        "the program; 130 stopped by Ctrl-C, nothing written.",
    )
    mix.add_argument("brief", metavar="BRIEF.toml", help="the mix brief (wetfront new BRIEF.toml --kind mix)")
    mix.add_argument("--out", metavar="FOLDER", help="where to write (beside the brief, in BRIEF-mix)")
    mix.set_defaults(run="mix:run")

    batch = commands.add_parser(
        "batch",
        help="one batch of a site mixer: one screen, batch.json, and the card at the mixer",
        description="Work out one batch of a site mixer for today's heaps, and what the whole volume takes. Prints one "
        "screen and writes batch.json and batch-card.pdf. `wetfront new FILE --kind batch` writes a brief.",
        epilog="Exit codes: 0 the batch may be mixed; 1 worked out, but the heaps are too wet; 2 bad input, with every "
        "mistake on standard error, nothing written.",
    )
    batch.add_argument("brief", metavar="BRIEF.toml", help="the batch brief")
    batch.add_argument("--out", metavar="FOLDER", help="where to write (beside the brief, in BRIEF-batch)")
    batch.set_defaults(run="batch:run")

    cool = commands.add_parser(
        "cool",
        help="what brings a pour's mix to a lower temperature: colder water, shade, night, ice",
        description="What each measure of [mix.NAME.cooling] gives alone, and the cheapest and least combination that "
        "brings the mix to a target, by the heat balance of its constituents.",
        epilog="Exit codes: 0 reached; 2 bad input, or a target out of reach, with the lowest temperature told.",
    )
    cool.add_argument("sheet", metavar="POUR.toml", help="the pour sheet")
    cool.add_argument(
        "--to", metavar="DEG_C", type=float, required=True, help="wanted temperature of the fresh mix, °C"
    )
    cool.add_argument("--pour", metavar="ID", help="only this pour of the sheet")
    cool.set_defaults(run="mix_advice:cool")

    admixtures = commands.add_parser(
        "admix", help="which class of admixture a condition on site asks for, and what to beware of"
    )
    admixtures.add_argument("condition", metavar="CONDITION", nargs="*", help="such as hot, long-haul, frost (all)")
    admixtures.set_defaults(run="mix_advice:admixtures")


def _add_running(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The pour itself, and a day to try it on."""
    serve = commands.add_parser(
        "serve",
        help="the server of a running pour: board, record and photos for phones",
        description="Serve the pours of a folder's sheets, on this machine alone or with --site on its network. An "
        "empty folder will do; the record is kept in it. Prints the address and the access code.",
        epilog="Exit codes: 0 stopped; 2 bad input: folder, port or database. docs/serve.md says how to reach it.",
    )
    serve.add_argument("folder", metavar="FOLDER", nargs="?", default=".", help="pour sheets and record (this folder)")
    serve.add_argument("--demo", action="store_true", help="copy the invented pours into the folder, to play with")
    serve.add_argument("--site", action="store_true", help="on the site's network, with a certificate of its own")
    serve.add_argument("--port", metavar="N", type=_whole(0, 65535), default=8642, help="port (8642)")
    serve.add_argument("--host", metavar="ADDRESS", help="listen at this address (127.0.0.1; with --site: all)")
    serve.add_argument(
        "--database",
        metavar="URL",
        default="",
        help="postgresql://… in place of a file in the folder",
    )
    serve.set_defaults(run="serve:run")

    rehearse = commands.add_parser(
        "rehearse",
        help="play a day's tickets and log through a server of its own, to watch the board live",
        description="Start a server on a folder of its own whose clock runs from the morning of the pour at the chosen "
        "speed, make the plan, and play the day's tickets and log into it. Without a sheet: the invented slab. With "
        "--to: into a server that runs, by its clock, on the day that its sheet gives the pour.",
        epilog="Exit codes: 0 played; 2 bad input: files, port, or a server that lives on another day.",
    )
    rehearse.add_argument("sheet", metavar="POUR.toml", nargs="?", help="the pour sheet (the invented slab)")
    rehearse.add_argument("--tickets", metavar="FILE", help="tickets (delivery-tickets-POUR.csv beside the sheet)")
    rehearse.add_argument("--log", metavar="FILE", help="day log (day-log-POUR.csv beside the sheet, if there)")
    rehearse.add_argument("--pour", metavar="ID", help="this pour of the sheet (its first)")
    rehearse.add_argument("--speed", metavar="N", type=_speed, default=180.0, help="minutes of the day in one (180)")
    rehearse.add_argument("--once", action="store_true", help="end when the day is played")
    rehearse.add_argument("--port", metavar="N", type=_whole(0, 65535), default=8642, help="port (8642)")
    rehearse.add_argument("--host", metavar="ADDRESS", help="listen at this address (127.0.0.1)")
    rehearse.add_argument("--to", metavar="URL", help="play into this server instead, by its clock")
    rehearse.add_argument("--code", metavar="CODE", help="access code of that server")
    rehearse.add_argument("--trust", metavar="FILE", help="the authority that vouches for that server")
    rehearse.add_argument("--open", action="store_true", help="open the pour in this machine's browser")
    rehearse.set_defaults(run="rehearse:run")


def _add_tickets(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """What came."""
    tickets = commands.add_parser(
        "tickets",
        help="read delivery tickets: each load against the limits, queue, stops, edges, volumes",
        description="Read the delivery tickets of a sheet's pours as they came (CSV or XLSX), judge each load by the "
        "limits in force beside the site's own decision, and say what the day was. Prints one screen and writes "
        "tickets.json and tickets.pdf.",
        epilog="Exit codes: 0 every row read and decided; 1 a row is held or in error (the rest is reported); 2 bad "
        "input, nothing written.",
    )
    tickets.add_argument("sheet", metavar="POUR.toml", help="the pour sheet")
    tickets.add_argument("tickets", metavar="TICKETS", help="the tickets: CSV or XLSX, one row a load")
    tickets.add_argument("--check", action="store_true", help="only show how the file would be read; write nothing")
    tickets.add_argument("--pour", metavar="ID", help="only this pour of the sheet")
    tickets.add_argument("--log", metavar="FILE", help="the day log (CSV): shown beside the stops")
    tickets.add_argument("--in-place-m3", metavar="M3", help="concrete in the work by survey: gives the residue")
    tickets.add_argument("--left-m3", metavar="M3", help="still to be filled, measured now: gives the balance load")
    tickets.add_argument("--out", metavar="FOLDER", help="where to write (beside the tickets, in TICKETS-report)")
    tickets.set_defaults(run="tickets:run")


def _add_lookup(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Single answers, the limits, and the pages about both."""
    rules = commands.add_parser("rules", help="list, search and compare the limits of the rule books")
    rules.add_argument("name", nargs="?", help="show one rule side by side over the books that have it")
    rules.add_argument("--book", metavar="BOOK", help="only this book: en, aci, is, as, practice")
    rules.add_argument("--search", nargs="+", metavar="WORD", help="rules in which every word stands")
    rules.add_argument("--from-memory", action="store_true", help="only what nobody has read in its standard yet")
    rules.add_argument(
        "--compare", metavar="BOOK,BOOK", help="these books beside each other, or one rule of theirs: whose is stricter"
    )
    rules.add_argument(
        "--sheet", metavar="POUR.toml", help="what is in force for a project, whose limit each is, what awaits a tick"
    )
    rules.add_argument("--json", action="store_true", help="print JSON")
    rules.set_defaults(run="rules:run")

    calc = commands.add_parser("calc", help="answer one question from JSON, or list them all")
    calc.add_argument("name", nargs="?", help="name of the calculation")
    calc.add_argument("--input", metavar="FILE", help="read the JSON inputs from FILE instead of standard input")
    calc.add_argument("--list", action="store_true", help="list the calculations")
    calc.add_argument("--explain", action="store_true", help="method, keys with units and ranges, source")
    calc.add_argument(
        "--batch", action="store_true", help='one {"calculation": …, "inputs": …} a line, one answer a line'
    )
    calc.set_defaults(run="calc:run")

    docs = commands.add_parser("docs", help="write one method page a calculation, from the code")
    docs.add_argument("folder", metavar="FOLDER", help="folder to write to")
    docs.add_argument("--cases", metavar="FOLDER", default="tests/reference", help="check cases (tests/reference)")
    docs.set_defaults(run="docs:run")


def _add_workers(command: argparse.ArgumentParser) -> None:
    """Who does the work: processes here, or a cluster. The result is the same."""
    who = command.add_mutually_exclusive_group()
    who.add_argument(
        "--workers", metavar="N", type=_whole(1, 256), help="worker processes (as many as cores, at most 4)"
    )
    who.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="the machines of a Dask cluster instead, by its scheduler (docs/cluster.md)",
    )


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2027-06-17") from None


def _speed(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 1 <= value <= 100_000:
        raise argparse.ArgumentTypeError(f"{text!r} is no speed from 1 to 100000")
    return value


def _whole(low: int, high: int) -> Callable[[str], int]:
    def convert(text: str) -> int:
        try:
            value = int(text)
        except ValueError:
            value = low - 1
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is no whole number from {low} to {high}")
        return value

    return convert
