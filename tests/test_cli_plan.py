"""`wetfront plan` as a person meets it: files, screen, exit codes, Ctrl-C. Ready plans stand in for the search."""

import errno
import io
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import pytest

from plans import no_forecast_plan, no_go_plan, slab_plan
from wetfront.cli import plan as command
from wetfront.cli.files import write_atomically
from wetfront.cli.main import main
from wetfront.cli.progress import Progress
from wetfront.cli.workers import default_workers, workers
from wetfront.desk.plan_pour import SEED
from wetfront.intake import read_sheet

EXAMPLES = Path(__file__).parent.parent / "examples" / "tarnwick"
NAMES = {"plan.json", "plan.ics", "plan.pdf"}


@pytest.fixture
def planned(monkeypatch):
    """What the search was asked, and ready plans as its answer."""
    asked = []

    def answer(checked, pour, executor, progress, seed):
        asked.append((pour.id, seed))
        return replace(slab_plan(), pour=pour.id)

    monkeypatch.setattr(command, "plan_one", answer)
    return asked


def answer_with(monkeypatch, *plans):
    ready = iter(plans)
    monkeypatch.setattr(command, "plan_one", lambda checked, pour, *_: replace(next(ready), pour=pour.id))


def files_in(folder):
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def plan(*arguments):
    return main(["plan", *map(str, arguments), "--workers", "1"])


def test_a_plan_is_printed_and_written(planned, tmp_path, capsys):
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path / "out", "--seed", 7) == 0
    assert files_in(tmp_path / "out") == NAMES
    shown = capsys.readouterr()
    assert "GO WITH MEASURES" in shown.out and str(tmp_path / "out" / "plan.pdf") in shown.out
    assert shown.err == ""
    assert json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))["schema"] == 1
    assert (tmp_path / "out" / "plan.pdf").read_bytes().startswith(b"%PDF-")
    assert (tmp_path / "out" / "plan.ics").read_bytes().startswith(b"BEGIN:VCALENDAR")
    assert planned == [("slab", 7)]


def test_without_out_the_files_go_beside_the_sheet(planned, tmp_path):
    for name in ("slab.toml", "site.toml", "weather-forecast.csv", "readiness-slab.csv"):
        (tmp_path / name).write_bytes((EXAMPLES / name).read_bytes())
    assert plan(tmp_path / "slab.toml") == 0
    assert files_in(tmp_path / "slab-plan") == NAMES


def test_each_pour_of_a_sheet_gets_a_folder(planned, tmp_path, capsys):
    assert plan(EXAMPLES / "wall.toml", "--out", tmp_path) == 0
    pours = [pour.id for pour in read_sheet(EXAMPLES / "wall.toml").sheet.pour]
    assert len(pours) == 3
    assert files_in(tmp_path) == {
        f"{folder.name}/{name}"
        for folder in command._folders(read_sheet(EXAMPLES / "wall.toml"), tmp_path).values()
        for name in NAMES
    }
    assert capsys.readouterr().out.count("GO WITH MEASURES") == 3


def test_one_pour_of_several_keeps_its_own_folder(planned, tmp_path):
    pour = read_sheet(EXAMPLES / "wall.toml").sheet.pour[1].id
    assert plan(EXAMPLES / "wall.toml", "--out", tmp_path, "--pour", pour) == 0
    assert planned == [(pour, SEED)]
    assert len({Path(name).parent for name in files_in(tmp_path)}) == 1


def test_same_sheet_same_bytes(planned, tmp_path):
    plan(EXAMPLES / "slab.toml", "--out", tmp_path / "one")
    plan(EXAMPLES / "slab.toml", "--out", tmp_path / "two")
    for name in NAMES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


@pytest.mark.parametrize(
    ("plans", "code"),
    [
        ((slab_plan, slab_plan, no_forecast_plan), 0),
        ((no_go_plan, no_go_plan, no_forecast_plan), 1),
        ((no_go_plan, slab_plan, no_go_plan), 0),
    ],
)
def test_the_exit_code_says_whether_anything_may_go_ahead(plans, code, monkeypatch, tmp_path):
    answer_with(monkeypatch, *(make() for make in plans))
    assert plan(EXAMPLES / "wall.toml", "--out", tmp_path) == code
    assert len(files_in(tmp_path)) == 9, "a plan that is no go is written all the same"


def test_a_sheet_with_mistakes_is_refused_with_all_of_them(planned, tmp_path, capsys):
    sheet = tmp_path / "bad.toml"
    sheet.write_text(
        'schema = 1\n[project]\nname = ""\ntime_zone = "Mars/Base"\nlatitude_deg = 200\n', encoding="utf-8"
    )
    assert plan(sheet) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and "latitude_deg" in shown.err and "mistakes in the sheet" in shown.err
    assert files_in(tmp_path) == {"bad.toml"} and planned == []


def test_an_unknown_pour_is_refused_with_the_nearest_name(planned, tmp_path, capsys):
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path / "out", "--pour", "slap") == 2
    assert "did you mean slab?" in capsys.readouterr().err
    assert planned == [] and not (tmp_path / "out").exists()


def test_a_folder_below_a_file_is_refused_before_the_search(planned, tmp_path, capsys):
    (tmp_path / "file").write_text("x")
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path / "file" / "out") == 2
    assert "cannot be written" in capsys.readouterr().err
    assert planned == [] and files_in(tmp_path) == {"file"}


def test_a_folder_that_may_not_be_written_is_refused_before_the_search(planned, tmp_path, capsys, monkeypatch):
    def refuse(**_):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(tempfile, "TemporaryFile", refuse)
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path / "new" / "out") == 2
    assert "Permission denied; choose another with --out" in capsys.readouterr().err
    assert planned == [] and list(tmp_path.iterdir()) == []


def test_ctrl_c_in_the_search_leaves_nothing(monkeypatch, tmp_path, capsys):
    def pressed(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "plan_one", pressed)
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path / "a" / "b") == 130
    assert "stopped" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_an_earlier_plan_stays_when_a_later_one_fails(planned, monkeypatch, tmp_path):
    plan(EXAMPLES / "slab.toml", "--out", tmp_path)
    before = {name: (tmp_path / name).read_bytes() for name in NAMES}

    def pressed(_):
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "plan_pdf", pressed)
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path) == 130
    assert {name: (tmp_path / name).read_bytes() for name in NAMES} == before
    assert files_in(tmp_path) == NAMES


def test_ctrl_c_while_writing_waits_until_all_files_are_whole(planned, monkeypatch, tmp_path):
    def pressed_within(path, data):
        if path.name == "plan.json":
            os.kill(os.getpid(), signal.SIGINT)
        write_atomically(path, data)

    monkeypatch.setattr(command, "write_atomically", pressed_within)
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path) == 130
    assert files_in(tmp_path) == NAMES


def test_a_terminal_that_knows_no_superscripts_still_gets_the_screen(planned, monkeypatch, tmp_path):
    narrow = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", narrow)
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path) == 0
    narrow.flush()
    assert b"GO WITH MEASURES" in narrow.buffer.getvalue()


def test_names_of_pours_cannot_leave_the_folder_or_collide(tmp_path):
    checked = read_sheet(EXAMPLES / "wall.toml")
    odd = tuple(replace(pour, id=name) for pour, name in zip(checked.sheet.pour, ("../..", "a/b", "A b"), strict=True))
    folders = command._folders(replace(checked, sheet=replace(checked.sheet, pour=odd)), tmp_path)
    assert [folder.name for folder in folders.values()] == ["pour", "a-b", "A-b-2"]
    assert all(folder.parent == tmp_path for folder in folders.values())


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_short_work_says_nothing():
    stream = Terminal()
    with Progress(stream) as progress:
        progress.of("slab")(1, 2, "search")
    assert stream.getvalue() == ""


def test_long_work_renews_one_line_on_a_terminal_and_wipes_it(monkeypatch):
    clock = iter((0.0, 1.5, 3.0, 3.01, 4.0))
    monkeypatch.setattr(time, "monotonic", lambda: next(clock))
    stream = Terminal()
    with Progress(stream) as progress:
        for done in (1, 2, 3, 4):
            progress.of("slab")(done, 4, "search")
    text = stream.getvalue()
    assert "slab: 25 %, search" in text and " 50 %" in text and " 75 %" not in text and "100 %" in text
    assert "\n" not in text and text.endswith("\r")


def test_elsewhere_a_line_comes_every_ten_seconds(monkeypatch):
    clock = iter((0.0, 1.5, 3.0, 9.0, 11.6))
    monkeypatch.setattr(time, "monotonic", lambda: next(clock))
    stream = io.StringIO()
    with Progress(stream) as progress:
        for done in (1, 2, 3, 4):
            progress.of("slab")(done, 4, "search")
    assert stream.getvalue() == "slab: 25 %, search\nslab: 100 %, search\n"


def test_one_worker_is_this_process():
    with workers(1) as pool:
        assert pool is None
    assert 1 <= default_workers() <= 4


def test_workers_do_the_work_and_are_gone_afterwards():
    with workers(2) as pool:
        assert list(pool.map(abs, [-1, -2])) == [1, 2]
    assert multiprocessing.active_children() == []


def test_workers_are_gone_at_once_after_ctrl_c():
    begun = time.monotonic()
    with pytest.raises(KeyboardInterrupt), workers(1 + 1) as pool:
        pool.submit(time.sleep, 60)
        pool.submit(abs, -1).result(30)
        raise KeyboardInterrupt
    while multiprocessing.active_children() and time.monotonic() - begun < 30:
        time.sleep(0.05)
    assert multiprocessing.active_children() == []
    assert time.monotonic() - begun < 30


def wetfront(*arguments, folder):
    return subprocess.Popen(
        [sys.executable, "-m", "wetfront", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=folder,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
        start_new_session=True,
    )


@pytest.mark.parametrize("count", [1, 2])
def test_ctrl_c_in_the_middle_of_a_real_search_shows_the_best_so_far_and_leaves_nothing(count, tmp_path):
    """As the terminal sends it: to the program and all its workers at once."""
    running = wetfront("plan", EXAMPLES / "wall.toml", "--out", "out", "--workers", count, folder=tmp_path)
    first = running.stderr.readline()
    assert first.startswith(b"panel-1: "), "the search has begun"
    os.killpg(running.pid, signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert b"search cut short: best so far of" in out and b"stopped by Ctrl-C" in out
    assert err.endswith(b"stopped\n") and b"Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_a_day_beyond_the_forecast_is_answered_at_once(tmp_path):
    running = wetfront("plan", EXAMPLES / "wall.toml", "--pour", "panel-2", "--out", "out", folder=tmp_path)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 1 and err == b""
    assert b"NO FORECAST FOR THAT DAY YET" in out and "14.8 m³".encode() in out
    assert files_in(tmp_path / "out") == {f"panel-2/{name}" for name in NAMES}
    document = json.loads((tmp_path / "out" / "panel-2" / "plan.json").read_text(encoding="utf-8"))
    assert document["decision"] is None and document["verdict"] == "no forecast for that day yet"


def test_help_of_the_command_starts_without_the_heavy_libraries():
    code = "import sys; from wetfront.cli.main import main\ntry: main(['plan', '--help'])\nexcept SystemExit: pass\n"
    code += "heavy = {'numpy', 'scipy', 'pydantic', 'shapely', 'typst', 'icalendar'} & set(sys.modules)\n"
    code += "sys.exit(str(heavy) if heavy else 0)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert "Exit codes: 0" in done.stdout


@pytest.mark.parametrize("core", ["plain", "compiled"])
def test_the_plain_core_is_announced_on_the_screen(planned, core, monkeypatch, tmp_path, capsys):
    if core == "plain":
        monkeypatch.setenv("WETFRONT_CORE", "plain")
    else:
        monkeypatch.delenv("WETFRONT_CORE", raising=False)
    assert plan(EXAMPLES / "slab.toml", "--out", tmp_path / "out") in (0, 1)
    assert ("the compiled core is not in use" in capsys.readouterr().err) == (core == "plain")
