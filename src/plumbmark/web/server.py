"""The application: every route, behind the guard."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import APIRouter, FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp

from plumbmark import __version__
from plumbmark.app.answering import Answering
from plumbmark.model.wire import VersionBody
from plumbmark.web import facts, files, screens
from plumbmark.web.errors import add_errors, error_answers
from plumbmark.web.guard import Guard
from plumbmark.web.page import Page
from plumbmark.web.running import Running
from plumbmark.web.settings import Settings

_ABOUT = """\
What the page in the browser asks for. The server listens on this machine alone; errors have one shape,
`{"error": {"what": …, "findings": [{"where": …, "what": …}]}}`.
"""
meta = APIRouter(tags=["server"])


@meta.get("/version", responses=error_answers(403))
def get_version() -> VersionBody:
    """Which program answers."""
    return VersionBody("plumbmark", __version__)


def application(answering: Answering, settings: Settings) -> ASGIApp:
    """The server of a store, as an ASGI application.

    Parameters
    ----------
    answering : Answering
        Started and closed with the application.
    settings : Settings

    Returns
    -------
    ASGI application
    """
    app = routes(settings)
    app.state.running = Running(settings, answering)
    return Guard(app, settings.names)


def routes(settings: Settings) -> FastAPI:
    """All routes; the schema of the API is made from these alone."""

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        answering: Answering = app.state.running.answering
        answering.start()
        try:
            yield
        finally:
            await run_in_threadpool(answering.close)

    app = FastAPI(
        title="plumbmark",
        version=__version__,
        description=_ABOUT,
        lifespan=life,
        docs_url=None,  # its page is fetched from elsewhere
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=error_answers(421, 422),
        generate_unique_id_function=lambda route: route.name,
    )
    add_errors(app)
    for router in (meta, facts.router, screens.router, files.router):
        app.include_router(router, prefix="/api")
    app.mount("/", Page(settings.page))
    return app
