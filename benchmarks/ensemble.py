"""What judging on drawn weathers costs: the search on 400 of them against the same search on the forecast alone."""

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from benchmarks.measure import Measure
from wetfront.desk.plan_pour import SEED
from wetfront.desk.situations import NoPlan, situation_on
from wetfront.intake import read_sheet
from wetfront.planning.search import Bench, search
from wetfront.planning.situation import Situation

TARNWICK = Path(__file__).parent.parent / "examples" / "tarnwick"
REPEATS = 5
WANTED = 1.5


def run() -> Iterator[Measure]:
    """The two take turns, so that what else the machine does meets both."""
    for name in ("slab", "wall", "raft"):
        alone, drawn = (_situation(name, count) for count in (1, None))
        seconds = [(_seconds(alone), _seconds(drawn)) for _ in range(REPEATS)]
        before, after = (min(times) for times in zip(*seconds, strict=True))
        note = f"{after:.2f} s of processor time; wanted at most {WANTED}"
        yield Measure(
            f"search of the demo {name} on 400 weathers over one forecast", after / before, "times as long", note
        )


def _situation(name: str, members_count: int | None) -> Situation:
    checked = read_sheet(TARNWICK / f"{name}.toml")
    files = checked.sheet.weather
    if members_count is not None and files is not None:
        files = replace(files, members_count=members_count)
    checked = replace(checked, sheet=replace(checked.sheet, weather=files))
    found = situation_on(checked, checked.sheet.pour[0], SEED)
    if isinstance(found, NoPlan):
        raise SystemExit(f"{name}: {found.reasons[0]}")
    return found


def _seconds(situation: Situation) -> float:
    begin = time.process_time()
    search(situation, Bench(situation, SEED))
    return time.process_time() - begin
