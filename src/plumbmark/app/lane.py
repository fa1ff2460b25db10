"""Work waiting for a worker: of each job only the newest state, the more urgent kind of work first."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from typing import Final

_log: Final = logging.getLogger("plumbmark.app")


class Lane:
    """A thread that does one piece of work after another.

    Parameters
    ----------
    name : str
    kinds : sequence of (str, function)
        Kinds of work, the most urgent first, each with what does it for a job. What is asked for twice
        before it is begun is done once; what is asked for while it is done is done again after it.
    """

    def __init__(self, name: str, kinds: Sequence[tuple[str, Callable[[str], None]]]) -> None:
        self._kinds = list(kinds)
        self._waiting: list[dict[str, None]] = [{} for _ in kinds]
        self._at_work: tuple[str, str] | None = None
        self._condition = threading.Condition()
        self._closed = False
        self._thread = threading.Thread(target=self._run, name=f"plumbmark-{name}", daemon=True)

    def start(self) -> None:
        """Begin to work."""
        self._thread.start()

    def ask(self, kind: str, job: str) -> None:
        """Have a kind of work done for a job."""
        with self._condition:
            self._waiting[self._rank(kind)].setdefault(job)
            self._condition.notify_all()

    def wanted(self, kind: str, job: str) -> bool:
        """Whether such work is asked for or under way."""
        with self._condition:
            return job in self._waiting[self._rank(kind)] or self._at_work == (kind, job)

    def idle(self, timeout_s: float) -> bool:
        """Wait until nothing is asked for and nothing is under way; False where that takes longer."""
        with self._condition:
            return self._condition.wait_for(
                lambda: self._at_work is None and not any(self._waiting), timeout_s
            )

    def stop(self) -> None:
        """Begin nothing more."""
        with self._condition:
            self._closed = True
            self._condition.notify_all()

    def close(self) -> None:
        """Do no more; whoever closes ends what is under way."""
        self.stop()
        if self._thread.is_alive():
            self._thread.join(10.0)

    def _rank(self, kind: str) -> int:
        return [name for name, _ in self._kinds].index(kind)

    def _run(self) -> None:
        while True:
            with self._condition:
                self._condition.wait_for(lambda: self._closed or any(self._waiting))
                if self._closed:
                    return
                rank = next(k for k, waiting in enumerate(self._waiting) if waiting)
                job = next(iter(self._waiting[rank]))
                del self._waiting[rank][job]
                kind, work = self._kinds[rank]
                self._at_work = (kind, job)
            try:
                work(job)
            except Exception:
                # A lane that stopped would leave every job waiting. What the end cuts short is no fault.
                if not self._closed:
                    _log.exception("%s of job %s failed", kind, job)
            with self._condition:
                self._at_work = None
                self._condition.notify_all()
