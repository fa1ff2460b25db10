"""Logs that crews have already: looked at first, taken in once somebody has confirmed what they mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter, Request
from pydantic import TypeAdapter, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from plumbmark.app import logs
from plumbmark.app.logs import LogRefusedError
from plumbmark.model.fact import JOB_ID
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.log import LogLook, LogMapping, LogTaken
from plumbmark.web.errors import Refusal, error_answers
from plumbmark.web.running import Held

router = APIRouter(tags=["logs"])

_MAPPING: Final = TypeAdapter(LogMapping)
_MOST: Final = 2 * 2**20  # characters of a form's field
_MAPPING_WORDS: Final = "What was confirmed or changed so far: a LogMapping as JSON."


@dataclass(frozen=True, slots=True)
class _Sent:
    """What a form held."""

    name: str
    data: bytes
    job: str
    by: str
    mapping: LogMapping | None


def _form(mapping_needed: bool) -> dict[str, object]:
    required = ["file", "job", *(["mapping"] if mapping_needed else [])]
    held = {"contentMediaType": "application/json", "type": "string", "description": _MAPPING_WORDS}
    fields = {
        "file": {"type": "string", "format": "binary", "description": "The log, with its name."},
        "job": {"type": "string", "description": "Id of the job it is for; made if there is none."},
        "by": {"type": "string", "description": "Who brings it."},
        "mapping": held,
    }
    schema = {"type": "object", "required": required, "properties": fields}
    return {"requestBody": {"required": True, "content": {"multipart/form-data": {"schema": schema}}}}


@router.post("/logs/look", responses=error_answers(400, 403, 413, 422, 503, 507), openapi_extra=_form(False))
async def look_at_log(request: Request, held: Held) -> LogLook:
    """What a log holds as far as it can be told, and what has to be asked; nothing is written down."""
    sent = await _read(request)

    def work() -> LogLook:
        return logs.look(held.answering.store, sent.job, sent.name, sent.data, sent.mapping)

    try:
        return await run_in_threadpool(work)
    except LogRefusedError as error:
        raise Refusal(422, str(error), error.findings) from error


@router.post("/logs/take", responses=error_answers(400, 403, 413, 422, 503, 507), openapi_extra=_form(True))
async def take_log(request: Request, held: Held) -> LogTaken:
    """Take a log into a job as it was confirmed; the mapping is kept for logs with the same columns."""
    sent = await _read(request)
    mapping = sent.mapping
    if mapping is None:
        what = "is missing: look at the log first, and send what was confirmed"
        raise Refusal(422, "the mapping is missing", [Finding(Severity.ERROR, "mapping", what)])
    answering = held.answering

    def work() -> LogTaken:
        return logs.take(answering.store, sent.job, sent.name, sent.data, mapping, sent.by)

    try:
        taken = await run_in_threadpool(work)
    except LogRefusedError as error:
        raise Refusal(422, str(error), error.findings) from error
    if taken.recorded:
        answering.came_in(taken.job)
    return taken


async def _read(request: Request) -> _Sent:
    """What the form holds, or a Refusal that names every field that is wrong."""
    try:
        async with request.form(max_files=1, max_fields=10, max_part_size=_MOST) as form:
            file, texts = form.get("file"), {name: form.get(name) for name in ("job", "by", "mapping")}
            data = await file.read() if isinstance(file, UploadFile) else b""
            name = (file.filename or "log") if isinstance(file, UploadFile) else ""
    except HTTPException as error:
        raise Refusal(400, f"what was sent cannot be read as a form ({error.detail})") from error
    wrong: list[Finding] = []

    def text(field: str) -> str:
        held = texts[field]
        return held if isinstance(held, str) else ""

    if not isinstance(file, UploadFile):
        wrong.append(Finding(Severity.ERROR, "file", "is missing: the log itself"))
    if JOB_ID.fullmatch(text("job")) is None:
        what = f"{text('job')!r:.80} is not an id (letters, digits, '.', '_', '-', at most 64)"
        wrong.append(Finding(Severity.ERROR, "job", what))
    if len(text("by")) > 200 or not text("by").isprintable():
        wrong.append(Finding(Severity.ERROR, "by", "is not a name of at most 200 characters"))
    mapping: LogMapping | None = None
    if text("mapping"):
        try:
            mapping = _MAPPING.validate_json(text("mapping"))
        except ValidationError as error:
            wrong += [
                Finding(Severity.ERROR, ".".join(["mapping", *map(str, row["loc"])]), str(row["msg"]))
                for row in error.errors()[:20]
            ]
    if wrong:
        raise Refusal(422, "the form is not as it should be", wrong)
    plain = "".join(c if c.isprintable() else " " for c in name)[-200:]
    return _Sent(plain, data, text("job"), text("by"), mapping)
