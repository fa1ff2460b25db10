"""Jobs brought in as files, and given out as files."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from plumbmark.app import journal, papers, parcel
from plumbmark.app.known import Known
from plumbmark.app.report import Wanted
from plumbmark.app.worker import WorkerError
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.finding import Severity
from plumbmark.model.job import Job
from plumbmark.model.wire import ImportedBody, Remark
from plumbmark.web.errors import Refusal, error_answers, file_answer
from plumbmark.web.running import Held, JobId, Running, known_job

router = APIRouter(tags=["files"])

Audience = Literal["crew", "excavator", "owner"]
Paper = Literal["a4", "letter"]
Ending = Literal["gpkg", "geojson", "dxf", "kml", "csv", "xlsx", "parquet"]
Text = Annotated[str | None, Query(max_length=200)]
Line = Annotated[list[str], Query(max_length=100)]

_FORM: Final = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["files"],
                    "properties": {
                        "by": {"type": "string", "description": "Who brings them."},
                        "files": {
                            "type": "array",
                            "items": {"type": "string", "format": "binary"},
                            "description": "A zip, or every file of a folder with its path as its name.",
                        },
                    },
                }
            }
        },
    }
}
#: A report is a page of its own and nothing in it may run or reach out, whatever stands in the job.
_PAGE_POLICY: Final = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"


@router.post("/import", responses=error_answers(400, 403, 413, 422, 503, 507), openapi_extra=_FORM)
async def import_job(request: Request, held: Held) -> ImportedBody:
    """Bring in a job: a zip, or the files of its folder. Every file is kept, byte for byte."""
    try:
        async with request.form(max_files=parcel.MOST_FILES, max_fields=10) as form:
            sent = [part for part in form.getlist("files") if isinstance(part, UploadFile)]
            files = [(part.filename or "", await part.read()) for part in sent]
            by = form.get("by")
    except HTTPException as error:
        raise Refusal(400, f"what was sent cannot be read as files ({error.detail})") from error
    return await run_in_threadpool(_imported, held, files, by if isinstance(by, str) else "")


def _imported(held: Running, files: list[tuple[str, bytes]], by: str) -> ImportedBody:
    if not files:
        raise Refusal(422, "no file was sent")
    zipped = len(files) == 1 and files[0][1][:4] == b"PK\x03\x04"
    try:
        found = parcel.unpacked(files[0][1]) if zipped else parcel.as_job(files)
    except parcel.ParcelError as error:
        raise Refusal(422, str(error)) from error
    answering = held.answering
    outcome = journal.import_files(answering.store, found, by)
    if outcome.job is None:
        errors = [f for f in outcome.findings if f.severity is Severity.ERROR]
        raise Refusal(422, "the job cannot be read; its files say why", errors)
    answering.came_in(outcome.job)
    return ImportedBody(outcome.job, tuple(Remark(f.where, f.what) for f in outcome.findings))


@router.get(
    "/jobs/{job}/export.zip",
    response_class=Response,
    responses=file_answer("application/zip") | error_answers(404, 422, 503),
)
def export_job(job: JobId, held: Held) -> Response:
    """The job as a folder in a zip: what was brought in and not touched since is the same to the byte."""
    known_job(held, job)
    return _file(journal.export_zip(held.answering.store, job), "application/zip", f"{job}.zip")


@router.get(
    "/jobs/{job}/report.pdf",
    response_class=Response,
    responses=file_answer("application/pdf") | error_answers(404, 409, 422, 503),
)
def get_report_pdf(
    job: JobId,
    held: Held,
    audience: Audience = "crew",
    paper: Paper = "a4",
    owner: Text = None,
    depth_for: Line = [],  # noqa: B006
) -> Response:
    """The report of a job for printing; solved anew, so it takes a moment."""
    data = _report(held, job, ".pdf", Wanted(None, None, audience, paper, owner, tuple(depth_for)))
    return _file(data, papers.MEDIA[".pdf"], f"{job}-{audience}.pdf")


@router.get(
    "/jobs/{job}/report.html",
    response_class=Response,
    responses=file_answer("text/html") | error_answers(404, 409, 422, 503),
)
def get_report_html(
    job: JobId,
    held: Held,
    audience: Audience = "crew",
    owner: Text = None,
    depth_for: Line = [],  # noqa: B006
) -> Response:
    """The report of a job as one page."""
    data = _report(held, job, ".html", Wanted(None, None, audience, "a4", owner, tuple(depth_for)))
    return Response(data, media_type="text/html", headers={"content-security-policy": _PAGE_POLICY})


@router.get(
    "/jobs/{job}/layers.{ending}",
    response_class=Response,
    responses=file_answer(*(papers.MEDIA[e] for e in papers.LAYERS)) | error_answers(404, 409, 422, 503),
)
def get_layers(job: JobId, ending: Ending, held: Held, layer: Text = None, crs: Text = None) -> Response:
    """All that is known of a job as a file for other programs."""
    known, solved = _to_hand_on(held, job)
    digest = known.files_digest
    try:
        data = held.answering.whole.run(papers.layers_bytes, solved, digest, f".{ending}", layer, crs)
    except WorkerError:
        raise
    except PlumbmarkError as error:
        raise Refusal(409, str(error)) from error
    return _file(data, papers.MEDIA[f".{ending}"], f"{job}.{ending}")


def _report(held: Running, job: str, ending: str, wanted: Wanted) -> bytes:
    if wanted.owner is not None and wanted.audience != "owner":
        raise Refusal(422, "owner is for a report to an owner: ask for audience=owner with it")
    if wanted.depth_for and wanted.audience != "excavator":
        raise Refusal(422, "depth_for is for a report to an excavator: ask for audience=excavator with it")
    known, solved = _to_hand_on(held, job)
    pictures = known.photographs(held.answering.store)
    try:
        run = held.answering.whole.run
        return run(papers.report_bytes, solved, known.files_digest, pictures, ending, wanted)
    except WorkerError:
        raise
    except PlumbmarkError as error:
        raise Refusal(409, str(error)) from error


def _to_hand_on(held: Running, job: str) -> tuple[Known, Job]:
    """A job that can be solved."""
    known = known_job(held, job)
    if known.job is None:
        raise Refusal(409, "the job cannot be read; what stands in it says why", known.errors)
    if not known.solvable:
        raise Refusal(409, "nothing to hand on yet: no reading is written down")
    return known, known.job


def _file(data: bytes, media: str, name: str) -> Response:
    return Response(data, media_type=media, headers={"content-disposition": f'attachment; filename="{name}"'})
