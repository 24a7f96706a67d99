"""One further process for what takes longer than a moment: low in priority, and never more than one.

It is started when it is first wanted, ends with the watch, and is replaced where it was killed. What it is
given is a function of a module and its arguments; both ways they are pickled, so a store goes as its path.
"""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures import TimeoutError as TooLate
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait
from time import monotonic
from typing import ParamSpec, TypeVar

from monitor.errors import WorkerError

P = ParamSpec("P")
T = TypeVar("T")

NICE = 10
LONGEST_S = 60
"""A job that takes longer is given up."""
STARTS_S = 30.0
"""How long a new process may take to start on a slow card."""


class Worker:
    """May be used from any thread: jobs are done one after the other."""

    def __init__(self, longest_s: int = LONGEST_S) -> None:
        self._longest_s = longest_s
        self._pool: ProcessPoolExecutor | None = None
        self._pid: int | None = None
        self._turn = threading.Lock()
        self._closed = False

    def run(self, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """What the function returns, or raises. Raises WorkerError where it took too long or was killed."""
        if not self._turn.acquire(timeout=self._longest_s):
            raise WorkerError("the worker is busy: try again in a minute")
        try:
            for again in (True, False):
                begun_s = monotonic()
                try:
                    return self._run(function, *args, **kwargs)
                except BrokenProcessPool as error:
                    self._drop()
                    late = monotonic() - begun_s >= self._longest_s
                    if late or self._closed or not again:
                        raise WorkerError(self._why(late)) from error
            raise AssertionError("unreachable")
        finally:
            self._turn.release()

    def close(self) -> None:
        """End the process, whatever it does."""
        self._closed = True
        self._drop()

    @property
    def pid(self) -> int | None:
        """Of the process, None where there is none."""
        return self._pid

    def _run(self, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        if self._closed:
            raise WorkerError("the watch is ending")
        if self._pool is None:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(max_workers=1, mp_context=context, initializer=_begin)
        try:
            self._pid = self._pid or self._pool.submit(os.getpid).result(STARTS_S)
            job = self._pool.submit(_limited, self._longest_s, function, args, kwargs)
            return job.result(2 * self._longest_s)
        except TooLate as error:  # Its own alarm did not end it: it hangs on the card.
            self._drop()
            raise WorkerError(self._why(late=True)) from error

    def _why(self, late: bool) -> str:
        return (
            f"it took longer than {self._longest_s} s and was given up" if late else "the worker was killed"
        )

    def _drop(self) -> None:
        pool, pid, self._pool, self._pid = self._pool, self._pid, None, None
        if pool is None:
            return
        for process in multiprocessing.active_children():
            if process.pid == pid:
                process.kill()
        pool.shutdown(wait=False, cancel_futures=True)


def _begin() -> None:
    """In the process: after everybody else, deaf to the keyboard, and gone when the watch is."""
    os.nice(NICE)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(0)


def _limited(
    longest_s: int, function: Callable[..., T], args: tuple[object, ...], kwargs: dict[str, object]
) -> T:
    """Unless it is done by then, the alarm's default ends the process."""
    signal.alarm(longest_s)
    try:
        return function(*args, **kwargs)
    finally:
        signal.alarm(0)
