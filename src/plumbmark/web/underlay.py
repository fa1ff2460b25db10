"""Lines of other programs' files for the plan."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from plumbmark.app.underlay import UnderlayError, lines_in_grid
from plumbmark.web.errors import Refusal, error_answers, file_answer

router = APIRouter(tags=["files"])

_MEDIA: Final = "application/geo+json"
_FIELDS: Final = {
    "file": {"type": "string", "format": "binary", "description": "A GeoPackage or GeoJSON, with its name."},
    "crs": {"type": "string", "description": "Of the job's grid: local (if left out) or EPSG:…"},
}
_SCHEMA: Final = {"type": "object", "required": ["file"], "properties": _FIELDS}
_FORM: Final = {"requestBody": {"required": True, "content": {"multipart/form-data": {"schema": _SCHEMA}}}}


@router.post(
    "/lines",
    response_class=Response,
    responses=file_answer(_MEDIA) | error_answers(400, 403, 413, 422),
    openapi_extra=_FORM,
)
async def read_lines(request: Request) -> Response:
    """The lines of a file as GeoJSON in a job's grid; nothing is kept."""
    try:
        async with request.form(max_files=1, max_fields=2) as form:
            file, crs = form.get("file"), form.get("crs", "local")
            if not isinstance(file, UploadFile) or not isinstance(crs, str):
                raise Refusal(422, "file has to be a file, and crs text")
            name, data = file.filename or "", await file.read()
    except HTTPException as error:
        raise Refusal(400, f"what was sent cannot be read as a form ({error.detail})") from error
    try:
        lines = await run_in_threadpool(lines_in_grid, name, data, crs)
    except UnderlayError as error:
        raise Refusal(422, str(error)) from error
    return Response(lines, media_type=_MEDIA)
