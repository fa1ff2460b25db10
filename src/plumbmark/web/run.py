"""Running the server until it is told to stop."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from typing import Final

import uvicorn
from starlette.types import ASGIApp

from plumbmark.app.answering import Answering
from plumbmark.web.certificates import Served
from plumbmark.web.gnss import Receiver
from plumbmark.web.lan import Lan
from plumbmark.web.server import application
from plumbmark.web.settings import ServeError, Settings

_log: Final = logging.getLogger("plumbmark.web")
_RENEW_EVERY_S: Final = 86_400.0


def listening(settings: Settings) -> socket.socket:
    """A socket at the address of the settings.

    Raises
    ------
    ServeError
        Something else listens there.
    """
    return bound(settings.host, settings.port, "--port")


def bound(host: str, port: int, option: str) -> socket.socket:
    """A socket at an address; `option` is what names another port.

    Raises
    ------
    ServeError
        Something else listens there, or the address is not this machine's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host, port))
    except OSError as error:
        made.close()
        place = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
        raise ServeError(
            f"{place} cannot be listened on ({error.strerror or error}): "
            f"something else may run there; name another with {option}"
        ) from error
    return made


class LanServer(uvicorn.Server):
    """The way in over the network, beside the one on loopback, which is told when to stop."""

    def __init__(self, app: ASGIApp, lan: Lan) -> None:
        self.served = Served(lan.authority, lan.hosts)
        super().__init__(_configured(app, self.served))

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave signals to the server on loopback."""
        yield

    async def keep_renewed(self) -> None:
        """Take a new certificate each day."""
        while True:
            await asyncio.sleep(_RENEW_EVERY_S)
            try:
                self.served.renew(datetime.now(UTC))
            except OSError as error:  # no room for it: the one there is counts for weeks yet
                _log.error("the server's certificate was not renewed: %s", error)


class FieldServer(uvicorn.Server):
    """A server whose streams end when it is told to stop; they never do by themselves.

    `lan` is the second way in, with the socket it listens on.
    """

    def __init__(
        self,
        answering: Answering,
        settings: Settings,
        lan: tuple[Lan, socket.socket] | None = None,
        receiver: Receiver | None = None,
    ) -> None:
        doors = application(answering, settings, lan and lan[0], receiver)
        super().__init__(_configured(doors.loopback))
        self._answering = answering
        self._lan: tuple[LanServer, socket.socket] | None = None
        if lan is not None and doors.lan is not None:
            self._lan = LanServer(doors.lan, lan[0]), lan[1]
        self._beside: list[asyncio.Task[None]] = []

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, and the way in over the network with it."""
        await super().startup(sockets)
        if self._lan is not None:
            server, listener = self._lan
            serving = server.serve(sockets=[listener])
            self._beside = [asyncio.create_task(serving), asyncio.create_task(server.keep_renewed())]
            while not server.started and not self._beside[0].done():
                await asyncio.sleep(0.01)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then everything else."""
        self._answering.end_streams()
        if self._lan is not None and self._beside:
            self._lan[0].should_exit = True
            self._beside[1].cancel()
            with suppress(asyncio.CancelledError):
                await self._beside[0]
        await super().shutdown(sockets)


def _configured(app: ASGIApp, served: Served | None = None) -> uvicorn.Config:
    """How a server is run; the application is started and ended with the one on loopback."""
    return uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=5,  # a report may be under way
        lifespan="auto" if served is None else "off",
        ssl_context_factory=None if served is None else lambda *_: served.context,
        proxy_headers=False,  # nobody stands between: whoever says so is not believed
    )


def run(
    answering: Answering,
    settings: Settings,
    listener: socket.socket,
    lan: tuple[Lan, socket.socket] | None = None,
    receiver: Receiver | None = None,
) -> None:
    """Serve until the process is told to stop; what is under way is ended then, what was stored stays."""
    with contextlib.suppress(KeyboardInterrupt):
        FieldServer(answering, settings, lan, receiver).run(sockets=[listener])
