"""The process beside the server: it computes, it may die, and it never outlives the server."""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from plumbmark.app.worker import Worker, WorkerError
from plumbmark.base.errors import UnitError
from plumbmark.base.units import parse_length

SOURCE = Path(__file__).resolve().parents[2] / "src"


@pytest.fixture
def worker() -> Iterator[Worker]:
    worker = Worker()
    yield worker
    worker.close()


def test_it_runs_in_another_process_on_one_thread(worker: Worker) -> None:
    assert worker.run(os.getpid) not in {os.getpid(), None}
    assert worker.run(os.getenv, "OMP_NUM_THREADS") == "1"


def test_the_same_process_answers_again(worker: Worker) -> None:
    assert worker.run(os.getpid) == worker.run(os.getpid) == worker.pid


def test_what_is_raised_there_is_told_here(worker: Worker) -> None:
    with pytest.raises(WorkerError, match="ValueError"):
        worker.run(math.sqrt, -1.0)
    assert worker.run(abs, -3) == 3


def test_what_cannot_be_sent_back_is_told_and_ends_nothing(worker: Worker) -> None:
    first = worker.run(os.getpid)
    with pytest.raises(WorkerError, match="pickle"):
        worker.run(threading.Lock)
    assert worker.run(os.getpid) == first


def test_errors_of_ours_come_through_as_they_are(worker: Worker) -> None:
    with pytest.raises(UnitError, match="'abc' is not a length"):
        worker.run(parse_length, "abc", None, "depth")


def test_a_killed_process_is_told_and_a_new_one_answers(worker: Worker) -> None:
    first = worker.run(os.getpid)
    timer = threading.Timer(0.3, os.kill, (first, signal.SIGKILL))
    timer.start()
    with pytest.raises(WorkerError, match="ended before"):
        worker.run(time.sleep, 60.0)
    timer.join()
    assert worker.run(os.getpid) != first


def test_one_that_died_unasked_is_replaced(worker: Worker) -> None:
    first = worker.run(os.getpid)
    os.kill(first, signal.SIGKILL)
    deadline = time.monotonic() + 10.0
    while _alive(first) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert worker.run(os.getpid) != first


def test_closing_ends_it_at_work() -> None:
    worker = Worker()
    pid = worker.run(os.getpid)
    failed: list[BaseException] = []

    def wait() -> None:
        try:
            worker.run(time.sleep, 60.0)
        except WorkerError as error:
            failed.append(error)

    waiting = threading.Thread(target=wait)
    waiting.start()
    time.sleep(0.3)
    worker.close()
    waiting.join(10.0)
    assert not waiting.is_alive()
    assert len(failed) == 1
    assert not _alive(pid)
    with pytest.raises(WorkerError, match="closing"):
        worker.run(abs, -3)


def test_it_ends_when_the_server_is_killed() -> None:
    script = (
        "import os, time\n"
        "from plumbmark.app.worker import Worker\n"
        "if __name__ == '__main__':\n"
        "    worker = Worker()\n"
        "    print(worker.run(os.getpid), flush=True)\n"
        "    time.sleep(60)\n"
    )
    server = subprocess.Popen(
        [sys.executable, "-c", script],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(SOURCE)},
    )
    assert server.stdout is not None
    pid = int(server.stdout.readline())
    assert _alive(pid)
    server.kill()
    server.wait()
    server.stdout.close()
    deadline = time.monotonic() + 10.0
    while _alive(pid) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not _alive(pid)


def _alive(pid: int) -> bool:
    """Whether a process runs; one that ended and was not fetched does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False
