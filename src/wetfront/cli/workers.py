"""The pool of worker processes behind a long command, gone when the command is, also after Ctrl-C."""

import multiprocessing
import os
import signal
import sys
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager

from wetfront.placing.core.library import core_name

MOST_BY_DEFAULT = 4
PLAIN_CORE = (
    "wetfront: the compiled core is not in use: the plain Python one gives the same figures, some hundred times "
    "slower (`make core` builds it)"
)


def default_workers() -> int:
    """As many as there are cores for this process, at most four."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(cores, MOST_BY_DEFAULT)


def tell_plain_core() -> None:
    """Whoever waits for a simulation must know why it takes so long."""
    if core_name() != "compiled":
        print(PLAIN_CORE, file=sys.stderr)


@contextmanager
def workers(count: int | None, address: str | None = None) -> Iterator[Executor | None]:
    """A pool of `count` processes; None, which means this process alone, for one; the cluster at an address."""
    tell_plain_core()
    if address is not None:
        from wetfront.cli.cluster import cluster

        with cluster(address) as machines:
            yield machines
        return
    count = default_workers() if count is None else count
    if count <= 1:
        yield None
        return
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn"), initializer=_leave_ctrl_c_alone)
    try:
        yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        for worker in set(multiprocessing.active_children()) - others:
            worker.terminate()
        raise
    pool.shutdown()


def _leave_ctrl_c_alone() -> None:
    """The main process decides what Ctrl-C means."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
