"""Streams to the page, woken from threads that know nothing of them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

#: Takes a function to call at every change, gives back how to stop.
Listen = Callable[[Callable[[], None]], Callable[[], None]]


@contextmanager
def woken_by(listen: Listen) -> Iterator[asyncio.Event]:
    """An event of the running loop that is set at every change, until the block ends."""
    changed = asyncio.Event()
    loop = asyncio.get_running_loop()

    def wake() -> None:
        with suppress(RuntimeError):  # the loop has ended, and this stream with it
            loop.call_soon_threadsafe(changed.set)

    stop = listen(wake)
    try:
        yield changed
    finally:
        stop()
