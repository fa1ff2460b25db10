"""Facts and files: the way in from a device, and the way out to one."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as InPath
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, WithJsonSchema
from starlette.concurrency import run_in_threadpool

from plumbmark.app import taking
from plumbmark.base.errors import FactError
from plumbmark.model.wire import BlobBody, FactsOut, FactsTaken
from plumbmark.web.errors import Refusal, error_answers, file_answer
from plumbmark.web.lan import Calling
from plumbmark.web.running import Held, JobId

MOST_FACTS: Final = 1000
router = APIRouter(tags=["facts"])

Order = Annotated[int, Query(ge=0, le=2**53, description="Order number; facts after it are given.")]
Sha256 = Annotated[str, InPath(pattern="^[0-9a-f]{64}$", description="SHA-256 of the file, in hexadecimal.")]
_BINARY: Final = {"schema": {"type": "string", "format": "binary"}}
_MEDIA: Final = ("application/octet-stream", "image/jpeg", "image/png", "image/webp")
_FACTS: Final = {
    "type": "array",
    "items": {"$ref": "#/components/schemas/Fact"},
    "maxItems": MOST_FACTS,
}


class FactsIn(BaseModel):
    """What a device sends: who it is, its clock, and facts in the order of its chain.

    Each fact is checked by itself, so that one that is refused does not keep others out.
    """

    model_config = ConfigDict(extra="forbid")

    device: str = Field(min_length=1, max_length=64)
    now: AwareDatetime | None = None
    facts: Annotated[list[Any], WithJsonSchema(_FACTS)] = Field(max_length=MOST_FACTS)


@router.post("/facts", responses=error_answers(400, 403, 413, 422, 503, 507))
def send_facts(sent: FactsIn, held: Held, calling: Calling) -> FactsTaken:
    """Take facts in; they are on disk when the receipts are given. A paired phone sends its own alone."""
    if calling.over_lan and calling.device != sent.device:
        raise Refusal(403, "this phone was paired as another device: pair it anew")
    answering = held.answering
    now: datetime | None = sent.now
    taken, jobs = taking.take_facts(answering.store, sent.device, sent.facts, now, origin="device")
    for job in sorted(jobs):
        answering.came_in(job)
    return taken


@router.get("/facts", responses=error_answers(422, 503))
def get_facts(
    held: Held, after: Order = 0, limit: Annotated[int, Query(ge=1, le=MOST_FACTS)] = 500
) -> FactsOut:
    """Facts of all jobs after an order number, for a device's own copy."""
    return taking.facts_after(held.answering.store, after, limit)


@router.get("/jobs/{job}/facts", responses=error_answers(404, 422, 503))
def get_facts_of_job(job: JobId, held: Held, after: Order = 0) -> FactsOut:
    """Facts of one job after an order number."""
    found = taking.facts_of(held.answering.store, job, after)
    if not found.facts and held.answering.known(job) is None:
        raise Refusal(404, f"there is no job '{job}' here")
    return found


@router.put(
    "/blobs/{sha256}",
    responses=error_answers(400, 403, 413, 422, 503, 507),
    openapi_extra={"requestBody": {"required": True, "content": {"application/octet-stream": _BINARY}}},
)
async def put_blob(sha256: Sha256, request: Request, held: Held) -> BlobBody:
    """Keep a file under its hash; twice is once."""
    data = await request.body()
    try:
        return await run_in_threadpool(taking.take_blob, held.answering.store, sha256, data)
    except FactError as error:
        raise Refusal(422, str(error)) from error


@router.get(
    "/blobs/{sha256}",
    response_class=Response,
    responses={**file_answer(*_MEDIA), **error_answers(404, 422, 503)},
)
def get_blob(sha256: Sha256, held: Held) -> Response:
    """A file by its hash."""
    data = taking.blob_of(held.answering.store, sha256)
    if data is None:
        raise Refusal(404, "no file with this SHA-256 has come in")
    # As a picture or as bytes and nothing else: what somebody sent must never run as a page of ours.
    headers = {"cache-control": "private, max-age=31536000, immutable", "content-disposition": "attachment"}
    return Response(data, media_type=taking.media_of(data), headers=headers)
