"""Running the server until it is told to stop."""

from __future__ import annotations

import contextlib
import socket

import uvicorn

from plumbmark.app.answering import Answering
from plumbmark.web.server import application
from plumbmark.web.settings import ServeError, Settings


def listening(settings: Settings) -> socket.socket:
    """A socket at the address of the settings.

    Raises
    ------
    ServeError
        Something else listens there.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((settings.host, settings.port))
    except OSError as error:
        made.close()
        raise ServeError(
            f"{settings.address} cannot be listened on ({error.strerror or error}): something else may run "
            "there; name another with --port"
        ) from error
    return made


class FieldServer(uvicorn.Server):
    """A server whose streams end when it is told to stop; they never do by themselves."""

    def __init__(self, answering: Answering, settings: Settings) -> None:
        super().__init__(configured(answering, settings))
        self._answering = answering

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then everything else."""
        self._answering.end_streams()
        await super().shutdown(sockets)


def configured(answering: Answering, settings: Settings) -> uvicorn.Config:
    """How the server is run."""
    return uvicorn.Config(
        application(answering, settings),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=5,  # a report may be under way
    )


def run(answering: Answering, settings: Settings, listener: socket.socket) -> None:
    """Serve until the process is told to stop; what is under way is ended then, what was stored stays."""
    with contextlib.suppress(KeyboardInterrupt):
        FieldServer(answering, settings).run(sockets=[listener])
