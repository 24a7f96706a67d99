"""The one further process: lower in priority, replaced where it was killed, and gone with its parent."""

import os
import signal
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.errors import StorageError, WorkerError
from monitor.storage.history import History
from monitor.worker import NICE, Worker
from tests.sources.listening import eventually


def priority() -> int:
    return os.getpriority(os.PRIO_PROCESS, 0)


def add(a: int, b: int = 0) -> int:
    return a + b


def for_ever() -> None:
    while True:
        signal.pause()


def killed() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def refused() -> None:
    raise StorageError("no such store")


@pytest.fixture
def worker() -> Iterator[Worker]:
    worker = Worker(longest_s=20)
    yield worker
    worker.close()


def test_it_is_started_when_wanted_and_stays(worker: Worker) -> None:
    assert worker.pid is None
    assert worker.run(add, 2, b=3) == 5
    first = worker.pid
    assert worker.run(os.getpid) == first != os.getpid()


def test_it_stands_back_behind_the_watch(worker: Worker) -> None:
    assert worker.run(priority) == min(19, priority() + NICE)  # setpriority(2): nice ends at 19.


def test_what_the_job_raises_is_raised(worker: Worker) -> None:
    with pytest.raises(StorageError, match="no such store"):
        worker.run(refused)
    assert worker.run(add, 1) == 1


def test_one_that_was_killed_is_replaced(worker: Worker) -> None:
    worker.run(add, 1)
    first = worker.pid
    assert first is not None
    os.kill(first, signal.SIGKILL)
    assert worker.run(add, 1, b=1) == 2
    assert worker.pid != first


def test_a_job_that_kills_it_is_told_and_the_next_is_done(worker: Worker) -> None:
    with pytest.raises(WorkerError, match="killed"):
        worker.run(killed)
    assert worker.run(add, 4) == 4


def test_a_job_that_takes_too_long_is_given_up() -> None:
    worker = Worker(longest_s=5)
    try:
        with pytest.raises(WorkerError, match="took longer than 5 s"):
            worker.run(for_ever)
        assert worker.run(add, 7) == 7
    finally:
        worker.close()


def test_after_the_end_nothing_is_begun(worker: Worker) -> None:
    worker.run(add, 1)
    worker.close()
    with pytest.raises(WorkerError, match="ending"):
        worker.run(add, 1)


def test_it_dies_with_a_watch_that_is_killed(tmp_path: Path) -> None:
    script = tmp_path / "parent.py"
    script.write_text(
        textwrap.dedent(
            """
            import os, signal
            from monitor.worker import Worker
            if __name__ == "__main__":
                print(Worker().run(os.getpid), flush=True)
                signal.pause()
            """
        )
    )
    root = Path(__file__).parents[1]
    env = {**os.environ, "PYTHONPATH": str(root)}
    parent = subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, text=True, env=env)
    assert parent.stdout is not None
    child = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    parent.stdout.close()
    assert eventually(lambda: not alive(child)), "the worker outlives its watch"


def alive(pid: int) -> bool:
    """Whether it still runs: one that has ended and that nobody asked for is no more."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] not in "ZX"
    except FileNotFoundError:
        return False


def test_a_store_is_read_in_it(worker: Worker, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="no store"):
        worker.run(channels_of, tmp_path / "none.db")


def channels_of(path: Path) -> list[str]:
    return History(path).channels()
