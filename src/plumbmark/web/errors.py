"""Every error in one shape: `{"error": {"what": …, "findings": [{"where": …, "what": …}]}}`."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from plumbmark.base.errors import PlumbmarkError, StoreError, StoreFullError
from plumbmark.model.finding import Finding
from plumbmark.model.wire import ErrorBody

_log: Final = logging.getLogger("plumbmark.web")


class Refusal(PlumbmarkError):
    """A request that cannot be done, with the status it is answered by."""

    def __init__(self, status: int, what: str, findings: Iterable[Finding] = ()) -> None:
        super().__init__(what)
        self.status = status
        self.what = what
        self.findings = tuple(findings)


def error_answers(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The `responses` of a route that may answer with these statuses."""
    said = {
        400: "The request cannot be read.",
        401: "Over the network: the token of a paired phone is missing, or was ended.",
        403: "Not allowed.",
        404: "There is no such thing here.",
        409: "It does not go with what is there.",
        413: "Too large.",
        421: "Meant for another server.",
        422: "Something in it is wrong; findings say where and what.",
        429: "Too many wrong tries; wait.",
        507: "The disk is full; nothing was stored.",
        503: "The store cannot be reached.",
    }
    # Not as a `model`: the framework would give it the kind of the route's own answer, a stream's too.
    content = {"application/json": {"schema": {"$ref": f"#/components/schemas/{ErrorBody.__name__}"}}}
    return {status: {"description": said[status], "content": content} for status in statuses}


def file_answer(*media: str) -> dict[int | str, dict[str, Any]]:
    """The `responses` of a route that answers with a file."""
    schema = {"schema": {"type": "string", "format": "binary"}}
    return {200: {"description": "The file.", "content": dict.fromkeys(media, schema)}}


def body_of(what: str, findings: Iterable[tuple[str, str]] = ()) -> dict[str, Any]:
    """An error as JSON; what cannot be written in UTF-8 is written with question marks."""
    rows = [{"where": _well(where), "what": _well(text)} for where, text in findings]
    return {"error": {"what": _well(what), "findings": rows}}


def add_errors(app: FastAPI) -> None:
    """Let an application answer errors in the one shape."""

    @app.exception_handler(Refusal)
    async def refused(_: Request, error: Refusal) -> JSONResponse:
        rows = [(f.where, f.what) for f in error.findings]
        return JSONResponse(body_of(error.what, rows), error.status)

    @app.exception_handler(StoreError)
    async def store_failed(_: Request, error: StoreError) -> JSONResponse:
        _log.error("%s", error)
        return JSONResponse(body_of(str(error)), 507 if isinstance(error, StoreFullError) else 503)

    @app.exception_handler(RequestValidationError)
    async def invalid(_: Request, error: RequestValidationError) -> JSONResponse:
        rows = [(_where(row["loc"]), str(row["msg"])) for row in error.errors()[:100]]
        return JSONResponse(body_of("something in the request is not as it should be", rows), 422)

    @app.exception_handler(HTTPException)
    async def plain(_: Request, error: HTTPException) -> JSONResponse:
        return JSONResponse(body_of(_words(error)), error.status_code, headers=error.headers)

    @app.exception_handler(Exception)
    async def fault(_: Request, error: Exception) -> JSONResponse:  # logged by whoever runs the application
        what = "this is a fault of the program, not yours; its log says where it happened"
        return JSONResponse(body_of(what), 500)


def _words(error: HTTPException) -> str:
    if error.status_code == 400 and "pars" in str(error.detail):
        return "what was sent cannot be read as JSON"
    if error.status_code == 404:
        return "there is nothing at this address"
    if error.status_code == 405:
        return "this cannot be done at this address"
    return str(error.detail)


def _where(parts: Iterable[object]) -> str:
    return ".".join(str(part) for part in parts)


def _well(text: str) -> str:
    return text.encode("utf-8", errors="replace").decode()
