"""A cluster on this machine for the tests: scheduler and workers as processes of their own, on the loopback alone."""

import itertools
import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

STARTED_S = 60
TESTS = Path(__file__).parent
PATHS = [str(TESTS), str(TESTS.parent)]
"""Where the tasks of tests and benchmarks stand: scheduler and workers look them up by name."""


class Machines:
    """A scheduler and its workers, each a process that can be killed."""

    def __init__(self, folder):
        self._folder, self._number, self._logs = folder, itertools.count(), {}
        self.scheduler = self._dask("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        self.address = self._said(self.scheduler, "Scheduler at:").split()[-1]
        self.workers = []

    def _dask(self, *arguments, **environment):
        log = self._folder / f"dask-{next(self._number)}.log"
        with log.open("w") as out:
            process = subprocess.Popen(
                [sys.executable, "-m", "dask", *arguments],
                cwd=self._folder,
                env={
                    **os.environ,
                    **environment,
                    "PYTHONPATH": os.pathsep.join([*PATHS, *filter(None, [os.environ.get("PYTHONPATH")])]),
                },
                stdout=out,
                stderr=subprocess.STDOUT,
            )
        self._logs[process.pid] = log
        return process

    def _said(self, process, words):
        begun = time.monotonic()
        while process.poll() is None and time.monotonic() - begun < STARTED_S:
            for line in self._logs[process.pid].read_text().splitlines():
                if words in line:
                    return line.strip()
            time.sleep(0.02)
        raise AssertionError(f"never said {words!r}:\n{self._logs[process.pid].read_text()}")

    def start(self, count=1, **environment):
        """So many more workers of one thread each, started at once."""
        options = ("--host", "127.0.0.1", "--nthreads", "1", "--no-nanny", "--no-dashboard", "--memory-limit", "0")
        started = [self._dask("worker", self.address, *options, **environment) for _ in range(count)]
        for process in started:
            self._said(process, "Registered to:")
        self.workers += started
        return started

    def vanish(self):
        """As a power cut: nobody says good-bye."""
        for process in (self.scheduler, *self.workers):
            if process.poll() is None:
                os.kill(process.pid, signal.SIGKILL)
            process.wait()


@contextmanager
def machines(folder, workers=0):
    made = Machines(folder)
    try:
        made.start(workers)
        yield made
    finally:
        made.vanish()


def slow_double(number):
    """A task that takes a while."""
    time.sleep(0.2)
    return 2 * number
