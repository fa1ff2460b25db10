"""One process beside the server that computes, so that nothing the server does waits for it."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, Final, ParamSpec, TypeVar

from plumbmark.base.errors import PlumbmarkError

P = ParamSpec("P")
R = TypeVar("R")

#: The work is many small fits: threads inside one of them only get in each other's way.
_ONE_THREAD: Final = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


class WorkerError(PlumbmarkError):
    """What was computed in the other process failed there, by a fault of ours."""


class WorkerEnded(WorkerError):
    """The other process ended before it had the answer."""


class Worker:
    """A process that runs one function at a time; a new one is started where the last one died.

    Parameters
    ----------
    warm : function, optional
        Run once in each new process before the first question, so that this one need not wait for imports
        and compiled code.
    patient : bool
        Whether it leaves the processor to whatever else wants it.

    Notes
    -----
    The process is spawned, not forked, and holds no end of the pipe but its own: it ends when the server
    does, in whatever way that happens.
    """

    def __init__(self, warm: Callable[[], object] | None = None, *, patient: bool = False) -> None:
        self._warm = warm
        self._patient = patient
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._lock = threading.Lock()
        self._closed = False

    @property
    def pid(self) -> int | None:
        """Number of the process, None where none runs."""
        return None if self._process is None else self._process.pid

    def start(self) -> None:
        """Start the process, so that it is warm when it is needed."""
        with self._lock:
            self._started()

    def run(self, function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Run a function in the other process and wait for what it returns.

        Parameters
        ----------
        function : function
            Of a module, and it takes and gives values that can be pickled.

        Returns
        -------
        The function's own result.

        Raises
        ------
        PlumbmarkError
            The one that the function raised.
        WorkerError
            It raised something else; `WorkerEnded` where the process ended while it ran.
        """
        with self._lock:
            pipe = self._started()
            try:
                pipe.send((function, args, kwargs))
                well, result = pipe.recv()
            except (EOFError, OSError) as error:
                self._end()
                raise WorkerEnded("the process that computes ended before it had the answer") from error
        if not well:
            raise result if isinstance(result, PlumbmarkError) else WorkerError(str(result))
        done: R = result
        return done

    def close(self) -> None:
        """End the process, at once if it is at work."""
        self._closed = True
        process = self._process
        if process is not None:
            with contextlib.suppress(ValueError):  # it ended by itself meanwhile
                process.kill()
        with self._lock:
            self._end()

    def _started(self) -> Connection:
        if self._closed:
            raise WorkerEnded("the server is closing")
        if self._process is not None and not self._process.is_alive():
            self._end()
        if self._pipe is None:
            context = multiprocessing.get_context("spawn")
            self._pipe, theirs = context.Pipe()
            self._process = context.Process(
                target=_serve, args=(theirs, self._warm, self._patient), daemon=True
            )
            with _one_thread():
                self._process.start()
            theirs.close()  # theirs alone now: it reads the end of this one when we are gone
        return self._pipe

    def _end(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join()
            self._process.close()
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None


@contextlib.contextmanager
def _one_thread() -> Any:
    """Libraries of numbers read these when they are loaded: set them for a process that is being started."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _serve(pipe: Connection, warm: Callable[[], object] | None, patient: bool) -> None:
    """What the other process does until the pipe ends."""
    if patient and hasattr(os, "nice"):
        os.nice(10)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server says when to end
    if warm is not None:
        warm()
    while True:
        try:
            function, args, kwargs = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            answer: tuple[bool, object] = (True, function(*args, **kwargs))
        except PlumbmarkError as error:
            answer = (False, error)
        except Exception as error:
            answer = (False, f"{type(error).__name__}: {error}")
        try:
            pipe.send(answer)
        except OSError:
            return
        except Exception as error:  # what cannot be pickled is a fault of ours, and no reason to end
            pipe.send((False, f"{type(error).__name__}: {error}"))
