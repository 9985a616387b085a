"""The machines behind `--cluster ADDRESS`: a Dask distributed cluster as an executor that gives the same results."""

import asyncio
import contextlib
import logging
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future
from contextlib import contextmanager
from typing import Any, ParamSpec, TypeVar

from wetfront.cli.fingerprint import Fingerprint, fingerprint, told
from wetfront.errors import WetfrontError

Client = Any
"""Of the package `distributed`, which is imported only where it is used."""
P = ParamSpec("P")
Result = TypeVar("Result")
CONNECT_S = 8.0
"""So long an address may stay silent before it counts as wrong."""
FIRST_WORKER_S = 5.0
TRIAL_S = 30.0
"""So long each worker may take to say what it runs."""
LOOK_S = 2.0
"""While a result is awaited, the cluster is asked this often whether it is still there."""
PATIENCE_S = 30.0
"""A cluster without any worker for so long is lost; a worker that is started again needs some seconds."""
CLOSE_S = 2.0


class NoCluster(WetfrontError):
    """The cluster cannot be used: not installed here, not reached, no workers, or not the same program there."""

    code = "no-cluster"


class WorkerDiffers(Exception):
    """Raised on a worker that would not give the same digits."""


class ClusterExecutor(Executor):
    """Tasks on all workers of the cluster. A lost worker's tasks are done again by the others.

    `BrokenExecutor` where the scheduler or all workers are lost, or where a worker joins that would give other digits.
    """

    def __init__(self, client: Client, address: str, patience_s: float = PATIENCE_S) -> None:
        self._client, self._address, self._patience_s = client, address, patience_s
        self._inner = client.get_executor(pure=False)
        self._lost = ""

    def submit(self, fn: Callable[P, Result], /, *args: P.args, **kwargs: P.kwargs) -> Future[Result]:
        """One task. Errors: `BrokenExecutor` where the cluster is known to be lost."""
        if self._lost:
            raise BrokenExecutor(self._lost)
        future: Future[Result] = self._inner.submit(same_here, fingerprint(), fn, *args, **kwargs)
        return future

    def map(
        self, fn: Callable[..., Result], *iterables: Any, timeout: float | None = None, chunksize: int = 1
    ) -> Iterator[Result]:
        """As `Executor.map`; `chunksize` is not looked at. All tasks are handed in before the first result is asked."""
        if self._lost:
            raise BrokenExecutor(self._lost)
        until = None if timeout is None else time.monotonic() + timeout
        tasks = list(zip(*iterables, strict=False))
        try:
            waiting = [self._client.submit(same_here, fingerprint(), fn, *task, pure=False) for task in tasks]
        except Exception as error:
            raise self._broken(f"takes no tasks ({error})") from None
        return self._results(waiting[::-1], until)

    def _results(self, waiting: list[Any], until: float | None) -> Iterator[Result]:
        try:
            while waiting:
                result: Result = self._result(waiting[-1], until)
                waiting.pop().release()
                yield result
        finally:
            # The scheduler drops what nobody waits for any more.
            for future in waiting:
                future.release()

    def _result(self, future: Any, until: float | None) -> Any:
        seen = time.monotonic()
        while True:
            try:
                return future.result(LOOK_S)
            except (CancelledError, asyncio.CancelledError):
                raise self._broken("is gone") from None
            except WorkerDiffers as error:
                raise self._broken(f"has a new worker that is not the same: {error}") from None
            except ImportError as error:
                raise self._broken(f"has a new worker without this wetfront: {error}") from None
            except Exception as error:
                if type(error).__name__ == "KilledWorker":
                    raise self._broken("loses every worker that takes up one of the tasks") from None
                if future.status == "error":  # the task's own
                    raise
            now = time.monotonic()
            if until is not None and now > until:
                raise TimeoutError
            if self._has_workers():
                seen = now
            elif self._client.status != "running":
                raise self._broken("is gone")
            elif now - seen > self._patience_s:
                raise self._broken("has no workers any more")

    def _has_workers(self) -> bool:
        return bool(_workers_of(self._client))

    def _broken(self, what: str) -> BrokenExecutor:
        self._lost = f"the cluster at {self._address} {what}"
        return BrokenExecutor(self._lost)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Let go of the tasks; the cluster itself runs on."""
        if not self._lost:
            self._inner.shutdown(wait=wait and not cancel_futures)

    @property
    def lost(self) -> str:
        """What has happened to the cluster; empty while it is there."""
        return self._lost


def same_here(expected: Fingerprint, function: Callable[P, Result], *args: P.args, **kwargs: P.kwargs) -> Result:
    """Run on a worker: the function, if this process gives the same digits as the one that asks."""
    different = expected.differences(fingerprint())
    if different:
        raise WorkerDiffers(different)
    return function(*args, **kwargs)


@contextmanager
def cluster(address: str, patience_s: float = PATIENCE_S) -> Iterator[ClusterExecutor]:
    """The cluster whose scheduler listens at `address`, such as tcp://10.0.0.5:8786. Errors: `NoCluster`."""
    client = _client(address)
    try:
        _check_workers(client, address)
        executor = ClusterExecutor(client, address, patience_s)
        try:
            yield executor
        except BaseException:
            executor.shutdown(wait=False, cancel_futures=True)
            raise
        if executor.lost:
            print(f"{executor.lost}: what was left was done in this process alone", file=sys.stderr)
    finally:
        with contextlib.suppress(Exception):  # a cluster that is gone cannot be taken leave of
            client.close(CLOSE_S)


def _client(address: str) -> Client:
    try:
        import distributed
    except ImportError:
        raise NoCluster('--cluster needs the extra "cluster": pip install "wetfront[cluster]"') from None
    # What it would log of lost connections is told in our own words.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        return distributed.Client(address, timeout=CONNECT_S, set_as_default=False)
    except Exception as error:
        reason = str(error).splitlines()[0][:200] if str(error) else type(error).__name__
        raise NoCluster(
            f"no cluster answers at {address} ({reason}); allowed: the address that `dask scheduler` prints, such as "
            "tcp://10.0.0.5:8786"
        ) from None


def _workers_of(client: Client) -> list[str]:
    """The workers that the scheduler has now; none where it does not answer, for whatever reason."""
    try:
        return list(client.sync(client.scheduler.ncores, callback_timeout=LOOK_S))
    except Exception:
        return []


def _check_workers(client: Client, address: str) -> None:
    """NoCluster where there is no worker, or one that would give other digits."""
    until = time.monotonic() + FIRST_WORKER_S
    while not (workers := _workers_of(client)):
        if time.monotonic() > until:
            raise NoCluster(f"the cluster at {address} has no workers: start one with `dask worker {address}`")
        time.sleep(0.1)
    asked = [client.submit(told, workers=[worker], pure=False) for worker in workers]
    here = fingerprint()
    for worker, future in zip(workers, asked, strict=True):
        try:
            different = here.differences(Fingerprint(**future.result(TRIAL_S)))
        except Exception as error:
            # The scheduler, too, reads what a task is before a worker gets it.
            reason = " ".join(str(error.__cause__ or error).split())[:200] or type(error).__name__
            raise NoCluster(
                f"the worker {worker} cannot run this wetfront ({reason}); scheduler and workers need the same as here"
            ) from None
        if different:
            raise NoCluster(f"the worker {worker} would not give the same results: {different}")
