"""The application: every route, behind the guard."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp

from plumbmark import __version__
from plumbmark.app.answering import Answering
from plumbmark.app.devices import device_of
from plumbmark.model.wire import ErrorBody, VersionBody
from plumbmark.web import devices, facts, files, install, logs, position, screens, underlay
from plumbmark.web.errors import add_errors, error_answers
from plumbmark.web.gnss import Receiver
from plumbmark.web.guard import Guard
from plumbmark.web.lan import Lan, OverLan
from plumbmark.web.page import Page
from plumbmark.web.running import Running
from plumbmark.web.settings import Settings

_ABOUT = """\
What the page in the browser asks for. The server listens on this machine alone, or over HTTPS to paired
phones too; errors have one shape, `{"error": {"what": …, "findings": [{"where": …, "what": …}]}}`.
"""
meta = APIRouter(tags=["server"])


@meta.get("/version", responses={403: {"model": ErrorBody, "description": "Not allowed."}})
def get_version() -> VersionBody:
    """Which program answers."""
    return VersionBody("plumbmark", __version__)


@dataclass(frozen=True, slots=True)
class Doors:
    """One application by its two ways in: from this machine, and over the network (None: there is none)."""

    loopback: ASGIApp
    lan: ASGIApp | None


def application(
    answering: Answering, settings: Settings, lan: Lan | None = None, receiver: Receiver | None = None
) -> Doors:
    """The server of a store, as ASGI applications.

    Parameters
    ----------
    answering : Answering
        Started and closed with the one for loopback.
    settings : Settings
    lan : Lan, optional
        Where phones reach it.
    receiver : Receiver, optional
        Started and closed with the application too.

    Returns
    -------
    Doors
    """
    app = routes(settings)
    app.state.running = Running(settings, answering, lan, receiver)
    loopback = Guard(app, settings.names)
    if lan is None:
        return Doors(loopback, None)
    return Doors(loopback, Guard(OverLan(app, partial(device_of, answering.store)), lan.hosts))


def routes(settings: Settings) -> FastAPI:
    """All routes; the schema of the API is made from these alone."""

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        held: Running = app.state.running
        held.answering.start()
        if held.receiver is not None:
            held.receiver.start()
        try:
            yield
        finally:
            if held.receiver is not None:
                await run_in_threadpool(held.receiver.close)
            await run_in_threadpool(held.answering.close)

    app = FastAPI(
        title="plumbmark",
        version=__version__,
        description=_ABOUT,
        lifespan=life,
        docs_url=None,  # its page is fetched from elsewhere
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=error_answers(401, 421, 422),
        generate_unique_id_function=lambda route: route.name,
    )
    add_errors(app)
    for router in (
        meta,
        facts.router,
        screens.router,
        files.router,
        underlay.router,
        logs.router,
        devices.router,
        position.router,
    ):
        app.include_router(router, prefix="/api")
    app.include_router(install.router)
    app.mount("/", Page(settings.page))
    return app
