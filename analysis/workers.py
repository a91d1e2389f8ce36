"""Where independent jobs run: in this process, or spread over others on this machine.

A job is a function of a module and plain data, and returns plain data, so that it may run
anywhere; results come back in the order of the jobs, so that the place makes no difference.
"""

import gc
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self, TypeVar

from ingest.errors import WorkerError
from ingest.freed_memory import keep_freed_memory

Job = TypeVar("Job")
Result = TypeVar("Result")

MAX_LOST = 2
"""Ours: once may be chance (memory short for a moment), more is the job's own doing."""

_WATCH_S = 0.2


class Workers(Protocol):
    """A place where jobs run.

    Attributes
    ----------
    n : int
        How many jobs run at the same time.
    """

    n: int

    def map(self, work: Callable[[Job], Result], jobs: Sequence[Job]) -> Iterator[Result]:
        """Run a job each, from now on or as results are asked for; those in the jobs' order.

        Raises
        ------
        WorkerError
            The workers are lost.
        """
        ...


class Prepared(Workers, Protocol):
    """A place that may be told beforehand that it will be wanted."""

    def prepare(self) -> None:
        """Get ready meanwhile."""
        ...


@dataclass(frozen=True)
class Spread:
    """Workers that read one store side by side, while nothing writes to it.

    Attributes
    ----------
    workers : Workers
        Write pages.
    measurers : Workers
        Measure; the same ones, or those of a cluster.
    aside : Prepared
        One more, for what takes large libraries; told beforehand, it has loaded them by the time
        they are wanted.
    memory_limit : str
        What each one's database may hold in memory.
    """

    workers: Workers
    measurers: Workers
    aside: Prepared
    store: Path
    memory_limit: str


def call(job: Callable[[], Result]) -> Result:
    """Run a job that is a call with all its arguments, such as a ``functools.partial``."""
    return job()


class Here:
    """Jobs run in this process, one after the other."""

    n = 1

    def prepare(self) -> None:
        """Nothing to get ready: what is wanted is loaded where it is wanted."""

    def map(self, work: Callable[[Job], Result], jobs: Sequence[Job]) -> Iterator[Result]:
        """Run a job each; see `Workers`."""
        for job in jobs:
            yield work(job)


class ClosedAtEnd:
    """What a with statement closes at its end."""

    def close(self) -> None:
        """Give back what is held."""
        raise NotImplementedError

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


class Processes(ClosedAtEnd):
    """Jobs run in processes of this machine, started at once; to be used in a with statement.

    Where the system can, they are copies of this process as it is, which spares them its start;
    so they are best made before a store is open.
    """

    def __init__(self, n: int) -> None:
        self.n = n
        self._pool = _pool(n)

    def close(self) -> None:
        """End the processes; jobs not begun are dropped."""
        self._pool.shutdown(cancel_futures=True)

    def map(self, work: Callable[[Job], Result], jobs: Sequence[Job]) -> Iterator[Result]:
        """Set off a job each; see `Workers`. What a lost worker was at is done by another."""
        return self._results(work, jobs, [self._pool.submit(work, job) for job in jobs])

    def _results(
        self,
        work: Callable[[Job], Result],
        jobs: Sequence[Job],
        futures: "list[Future[Result]]",
    ) -> Iterator[Result]:
        n_lost = 0
        for place in range(len(jobs)):
            while True:
                try:
                    result = futures[place].result()
                    break
                except BrokenProcessPool as error:
                    n_lost += 1
                    if n_lost > MAX_LOST:
                        raise WorkerError(
                            "Worker processes were ended from outside, perhaps for want of memory;"
                            " what is done is kept. Run it again with --workers 1."
                        ) from error
                    self._pool.shutdown(cancel_futures=True)
                    self._pool = _pool(self.n)
                    futures = [
                        future if _is_done(future) else self._pool.submit(work, job)
                        for future, job in zip(futures, jobs, strict=True)
                    ]
            yield result


class Aside(Processes):
    """One process more, for what takes large libraries."""

    def __init__(self, libraries: Sequence[str]) -> None:
        super().__init__(1)
        self._unloaded = list(libraries)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is not None:  # nobody waits for what it is at, such as hashing many logs
            for process in multiprocessing.active_children():
                process.terminate()
        super().__exit__(kind, value, trace)

    def prepare(self) -> None:
        """Let it load the libraries, as they will be wanted."""
        if self._unloaded:
            self.map(call, [partial(_load_library, name) for name in self._unloaded])
            self._unloaded = []


@contextmanager
def process_aside(n: int, libraries: Sequence[str]) -> Iterator[Prepared]:
    """One process more, which loads some libraries once told to; just this one if ``n`` is 1.

    To be started first of all, while this process is small and no store is open. Told as soon as
    there is something to do, it loads them while this process is at other work; where nothing has
    changed since last time, they are not wanted.
    """
    if n == 1:
        yield Here()
        return
    with Aside(libraries) as process:
        yield process


def _load_library(name: str) -> None:
    import_module(name)


def _is_done(future: "Future[Result]") -> bool:
    return future.done() and not future.cancelled() and future.exception() is None


def _pool(n: int) -> ProcessPoolExecutor:
    method = "fork" if sys.platform == "linux" else "spawn"
    pool = ProcessPoolExecutor(
        n,
        mp_context=multiprocessing.get_context(method),
        initializer=_begin,
        initargs=(os.getpid(),),
    )
    pool.submit(os.getpid)  # starts them
    return pool


def _begin(parent: int) -> None:
    """Prepare a worker: it leaves alone what it has from its parent, and ends when that ends."""
    gc.freeze()
    keep_freed_memory()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent stops the work
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(_WATCH_S)
    os._exit(1)
