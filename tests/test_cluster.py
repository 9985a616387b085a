"""`--cluster`: the same plan as without, whatever happens to the machines; and what a cut search still gives."""

import json
import multiprocessing
import os
import signal
import sys
import time
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from dataclasses import replace

import pytest

from clusters import machines, slow_double
from planned import QUICK, checked, small_slab
from wetfront.cli import cluster as command
from wetfront.cli.cluster import NoCluster, WorkerDiffers, cluster, same_here
from wetfront.cli.fingerprint import fingerprint
from wetfront.cli.main import main
from wetfront.desk.plan_pour import SearchStopped, plan_one
from wetfront.dossier import plan_json, screen_text
from wetfront.planning.search import Bench

LABEL = "search cut short: best so far of"


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    return checked(tmp_path_factory.mktemp("sheet"), small_slab())


@pytest.fixture(scope="module")
def alone(sheet):
    """The plan as this process makes it without help."""
    return planned(sheet)


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """A cluster of two workers that no test harms."""
    with machines(tmp_path_factory.mktemp("dask"), workers=2) as made:
        yield made


def planned(sheet, executor=None, progress=None):
    return plan_one(sheet, sheet.sheet.pour[0], executor, progress, final_rounds=QUICK)


def once_after(calls, act):
    """A progress that acts once, at that call."""
    seen = []

    def progress(*_):
        seen.append(1)
        if len(seen) == calls:
            act()

    return progress


def kill(process):
    os.kill(process.pid, signal.SIGKILL)
    process.wait()


class Breaking(Executor):
    """Does the work itself, and is lost after so many tasks."""

    def __init__(self, tasks):
        self.left = tasks

    def submit(self, fn, /, *args):
        if self.left == 0:
            raise BrokenExecutor("all machines are lost")
        self.left -= 1
        done = Future()
        done.set_result(fn(*args))
        return done


# The same plan


def test_a_pool_gives_the_same_plan_to_the_last_bit(sheet, alone):
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        assert plan_json(planned(sheet, pool)) == plan_json(alone)


def test_a_cluster_gives_the_same_plan_to_the_last_bit(sheet, alone, pair):
    with cluster(pair.address) as executor:
        assert plan_json(planned(sheet, executor)) == plan_json(alone)
        assert executor.lost == ""


def test_a_worker_killed_in_the_search_changes_nothing(sheet, alone, pair):
    (doomed,) = pair.start(1)
    with cluster(pair.address) as executor:
        plan = planned(sheet, executor, once_after(5, lambda: kill(doomed)))
    assert doomed.returncode == -signal.SIGKILL
    assert plan_json(plan) == plan_json(alone)


def test_tasks_of_a_killed_worker_are_done_by_the_others_in_order(pair):
    (doomed,) = pair.start(1)
    with cluster(pair.address) as executor:
        results = executor.map(slow_double, range(12))
        found = [next(results)]
        kill(doomed)
        assert found + list(results) == [2 * number for number in range(12)]


def test_a_single_task_and_the_error_of_a_task_come_as_they_are(pair):
    with cluster(pair.address) as executor:
        assert executor.submit(abs, -3).result(30) == 3
        with pytest.raises(ZeroDivisionError):
            list(executor.map(divmod, [1], [0]))


def test_the_command_plans_on_a_cluster(pair, tmp_path, capsys):
    path = written_sheet(tmp_path)
    assert main(["plan", str(path), "--out", str(tmp_path / "out"), "--cluster", pair.address]) in (0, 1)
    assert {file.name for file in (tmp_path / "out").iterdir()} == {"plan.json", "plan.ics", "plan.pdf"}
    shown = capsys.readouterr()
    assert "cut short" not in shown.out and "in this process alone" not in shown.err


def written_sheet(folder):
    checked(folder, small_slab())
    return next(folder.glob("*.toml"))


# A cluster that cannot be used


def test_without_the_package_the_extra_is_named(monkeypatch, tmp_path, capsys):
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert main(["plan", str(written_sheet(tmp_path)), "--cluster", "tcp://127.0.0.1:8786"]) == 2
    assert 'needs the extra "cluster"' in capsys.readouterr().err
    assert not list(tmp_path.glob("*-plan"))


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense://here"])
def test_an_address_where_nobody_answers_is_said_soon(address, monkeypatch, tmp_path, capsys):
    assert command.CONNECT_S <= 10
    monkeypatch.setattr(command, "CONNECT_S", 1.0)
    begun = time.monotonic()
    assert main(["plan", str(written_sheet(tmp_path)), "--cluster", address]) == 2
    assert time.monotonic() - begun < 5
    shown = capsys.readouterr()
    assert f"no cluster answers at {address}" in shown.err and shown.out == ""


def test_cluster_and_workers_together_are_refused(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["plan", "pour.toml", "--cluster", "tcp://127.0.0.1:8786", "--workers", "2"])
    assert stopped.value.code == 2 and "not allowed with" in capsys.readouterr().err


def test_workers_that_would_give_other_digits_are_refused_at_once_and_later(monkeypatch, tmp_path):
    monkeypatch.setattr(command, "FIRST_WORKER_S", 0.2)
    with machines(tmp_path) as made:
        with (
            pytest.raises(NoCluster, match="has no workers: start one with `dask worker tcp://"),
            cluster(made.address),
        ):
            pass
        (good,) = made.start(1)
        with cluster(made.address, patience_s=1.0) as executor:
            made.start(1, WETFRONT_CORE="plain")
            with pytest.raises(BrokenExecutor, match=r"simulator compiled here, plain Python there"):
                list(executor.map(slow_double, range(12)))
            assert "new worker that is not the same" in executor.lost
        with pytest.raises(NoCluster, match=r"simulator compiled here, plain Python there"), cluster(made.address):
            pass
        kill(good)
        kill(made.workers[1])
        made.start(1)
        with cluster(made.address, patience_s=1.0) as executor:
            results = executor.map(slow_double, range(12))
            assert next(results) == 0
            kill(made.workers[2])
            with pytest.raises(BrokenExecutor, match="has no workers any more"):
                list(results)


@pytest.mark.parametrize("field", ["version", "program", "core", "results"])
def test_a_task_is_not_done_where_anything_differs(field):
    assert same_here(fingerprint(), slow_double, 4) == 8
    with pytest.raises(WorkerDiffers):
        same_here(replace(fingerprint(), **{field: "other"}), slow_double, 4)


# Cut short


def test_a_cluster_that_vanishes_leaves_the_best_so_far_labelled(sheet, tmp_path, monkeypatch, capsys):
    tell, seen = Bench._tell, []

    def tell_and_vanish(bench, replications, text):
        tell(bench, replications, text)
        seen.append(text)
        if len(seen) == 20:
            made.vanish()

    path = written_sheet(tmp_path)
    with machines(tmp_path, workers=1) as made:
        monkeypatch.setattr(Bench, "_tell", tell_and_vanish)
        begun = time.monotonic()
        assert main(["plan", str(path), "--out", str(tmp_path / "out"), "--cluster", made.address]) == 3
        assert time.monotonic() - begun < 60
    shown = capsys.readouterr()
    assert LABEL in shown.out and "search cut short, best so far" in shown.out
    assert f"the cluster at {made.address} is gone" in shown.err
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["search"]["cut_short"] == f"the cluster at {made.address} is gone"
    assert plan["reasons"][0].startswith(LABEL) and plan["decision"] is not None
    assert b"search cut short" in (tmp_path / "out" / "plan.ics").read_bytes()


def test_the_best_so_far_is_shown_on_its_full_replications(sheet, alone):
    plan = planned(sheet, Breaking(40))
    assert plan.search.cut_short == "all machines are lost"
    assert plan.search.replications_count == QUICK[-1][0] == alone.search.replications_count
    assert plan.search.candidates_count < alone.search.candidates_count
    assert plan.reasons[0].startswith(f"{LABEL} {plan.search.candidates_count} candidates (all machines are lost)")
    assert alone.search.cut_short == "" and not any("cut short" in reason for reason in alone.reasons)


@pytest.mark.parametrize("after_search", [False, True])
def test_machines_lost_before_or_after_the_search_cost_nothing_but_time(after_search, sheet, alone):
    counted = Breaking(10**9)
    planned(sheet, counted)
    whole = 10**9 - counted.left
    plan = planned(sheet, Breaking(whole - 1 if after_search else 0))
    assert plan_json(plan) == plan_json(alone)


def interrupt():
    raise KeyboardInterrupt


def test_ctrl_c_in_the_search_gives_the_best_so_far(sheet):
    with pytest.raises(SearchStopped) as stopped:
        planned(sheet, progress=once_after(20, interrupt))
    plan = stopped.value.plan
    assert plan.search.cut_short == "stopped by Ctrl-C" and plan.decision is not None
    assert LABEL in screen_text(plan) and isinstance(stopped.value, KeyboardInterrupt)


def test_ctrl_c_twice_leaves_at_once(sheet):
    calls = []

    def progress(*_):
        calls.append(1)
        if len(calls) in (20, 22):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt) as stopped:
        planned(sheet, progress=progress)
    assert not isinstance(stopped.value, SearchStopped) and len(calls) == 22


def test_ctrl_c_before_anything_was_tried_has_nothing_to_show(sheet):
    class Stopped(Breaking):
        def submit(self, fn, /, *args):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt) as stopped:
        planned(sheet, Stopped(1))
    assert not isinstance(stopped.value, SearchStopped)
