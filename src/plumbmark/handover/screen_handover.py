"""The handover: the ledger, marks as painted, who was told, what is open, files to give."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from plumbmark.handover import words
from plumbmark.handover.answer import CAUTION
from plumbmark.handover.ledger import ledger
from plumbmark.handover.marks import plan_marks
from plumbmark.handover.marks_text import CAUTION as MARKS_CAUTION
from plumbmark.handover.marks_text import difference_words
from plumbmark.handover.marks_to_paint import marks_to_paint
from plumbmark.handover.owners_said import owner_name, owner_words
from plumbmark.handover.record_checks import photographs_of, record_checks
from plumbmark.handover.screen_answer import expiry_words
from plumbmark.handover.screen_drawn import job_on_plan, solution_on_plan
from plumbmark.handover.screen_questions import questions_of
from plumbmark.handover.screen_which import which_screen
from plumbmark.model.estimate import Identity, Solution, Trust
from plumbmark.model.job import Job
from plumbmark.model.mark import MarkDifference, MarkPlan, MarkState
from plumbmark.model.screen_handover import FileForm, FileToGive, HandoverScreen, LedgerRow, PaintedRow
from plumbmark.model.screen_parts import JobState

_REPORT: Final = "report.{}?audience={}"


def _report(audience: str) -> tuple[FileForm, ...]:
    return FileForm("PDF", _REPORT.format("pdf", audience)), FileForm(
        "Page", _REPORT.format("html", audience)
    )


FILES: Final = (
    FileToGive(
        "Report for the excavator",
        "excavator",
        "Marks, plan, what the dig demands and what is unanswered. No depth, unless an owner allows it.",
        _report("excavator"),
    ),
    FileToGive(
        "Report for the owner",
        "owner",
        "The owner's own lines with their bands, readings, hook-ups and what their quality supports.",
        _report("owner"),
    ),
    FileToGive(
        "Report for the crew's own record",
        "crew",
        "Everything, depths included. It is not to be handed on.",
        _report("crew"),
    ),
    FileToGive(
        "Layers for other programs",
        "crew",
        "Lines, bands, marks and readings, depths included.",
        tuple(
            FileForm(words, f"layers.{ending}")
            for words, ending in (
                ("GeoPackage", "gpkg"),
                ("GeoJSON", "geojson"),
                ("DXF", "dxf"),
                ("KML", "kml"),
                ("CSV", "csv"),
                ("XLSX", "xlsx"),
            )
        ),
    ),
    FileToGive(
        "The whole job as a folder",
        "crew",
        "Every file as it was written, to be kept or opened again.",
        (FileForm("Zip", "export.zip"),),
    ),
)
_PERMITS_NOTHING: Final = (
    "That a record can stand says nothing of whether anybody may dig: the ticket, the owners and the law say "
    "that."
)
_PRIVATE: Final = (
    "Private lines beyond the meter are covered by no ticket and no owner's answer: ask whoever owns the "
    "ground."
)


def handover_screen(
    job: Job, solution: Solution | None, state: JobState, plan: MarkPlan | None = None
) -> HandoverScreen:
    """Whether everyone is told and the record can stand.

    Parameters
    ----------
    job : Job
    solution : Solution or None
    state : JobState
    plan : MarkPlan, optional
        Of this job and solution; made here where it is not given.

    Returns
    -------
    HandoverScreen
    """
    if plan is None and solution is not None:
        plan = _plan(job, solution, state)
    record = record_checks(job, solution, state)
    missing = sum(bool(check.missing) for check in record)
    left = _open(job, solution, state, plan)
    rows = (
        LedgerRow(e.name, e.expected_by, e.became, e.why, e.by, e.at, e.until, e.is_open)
        for e in ledger(job, solution)
    )
    return HandoverScreen(
        job.id,
        job.title,
        _headline(missing, len(left)),
        not missing,
        record,
        left,
        tuple(rows),
        _painted(job, state, plan),
        marks_to_paint(job, solution, state, plan),
        tuple(sorted(state.told, key=lambda t: _stamp(t.at), reverse=True)),
        FILES,
        state.frozen,
        state.late,
        job.ticket.expires_at if job.ticket is not None else None,
        expiry_words(job, state),
        (_PERMITS_NOTHING, _PRIVATE, MARKS_CAUTION, CAUTION),
    )


def _plan(job: Job, solution: Solution, state: JobState) -> MarkPlan | None:
    """Marks of what has a place on the plan; None where the answer is of another state of the job."""
    seen, drawn = job_on_plan(job, state.places), solution_on_plan(solution, state.places)
    lines = {line.id for line in job.lines}
    return plan_marks(seen, drawn) if all(line.line in lines for line in drawn.lines) else None


def _stamp(at: datetime | None) -> float:
    return at.timestamp() if at is not None else float("-inf")


def _headline(missing: int, left: int) -> str:
    if missing:
        many = words.count(missing, "thing is", "things are")
        return f"The record cannot stand yet: {many} missing."
    if left:
        return f"The record can stand. {words.count(left, 'thing stays', 'things stay')} open."
    return "The record can stand, and nothing that is known stays open."


def _painted(job: Job, state: JobState, plan: MarkPlan | None) -> tuple[PaintedRow, ...]:
    """Every mark that was painted, the ones outside their band first."""
    against: dict[str, MarkDifference] = {d.mark: d for d in plan.differences} if plan is not None else {}
    rows = []
    for mark in job.marks:
        difference = against.get(mark.id)
        if difference is not None:
            said, good = difference_words(job, difference), difference.in_band
        elif mark.state is MarkState.GONE:
            said, good = f"{mark.id}: gone. It says nothing any more; ask for a re-mark.", None
        elif ("marks", mark.id) in state.places:
            where = state.places["marks", mark.id]
            said, good = f"{mark.id}: {where}. Known by words only, so it is compared with nothing.", None
        else:
            said, good = f"{mark.id}: no line of this job is computed to compare it with.", None
        rows.append(PaintedRow(mark.id, mark.line, said, good, photographs_of(job, mark)))
    return tuple(sorted(rows, key=lambda row: row.in_band is not False))


def _open(job: Job, solution: Solution | None, state: JobState, plan: MarkPlan | None) -> tuple[str, ...]:
    """What whoever takes this over has to know is not settled."""
    said = []
    ticket = job.ticket
    if ticket is not None and ticket.has_run_out(state.now):
        said.append("The ticket ran out: marks and answers ended with it.")
    said += [f"{owner_name(o)}: {owner_words(o, state.now)}." for o in job.owners if o.is_open(state.now)]
    read = {x.line for x in solution.lines if x.stations} if solution is not None else set()
    entries = ledger(job, solution)
    of_lines = zip(job.lines, (e for e in entries if e.expected_by == "job"), strict=True)
    unread = [e for line, e in of_lines if line.id not in read]
    unread += [e for e in entries if e.expected_by == "record"]
    said += [f"{e.name}: {e.became}." for e in unread]
    said += [
        line.headline
        for line in which_screen(job, solution, state).lines
        if line.line in read and line.identity is not Identity.PROVEN
    ]
    private = [line.id for line in job.lines if line.private]
    if private:
        said.append(f"Private, covered by no ticket: {words.some(private)}.")
    said += [q.words for q in questions_of(solution, state)]
    outside = [d.mark for d in plan.differences if not d.in_band] if plan is not None else []
    if outside:
        said.append(f"Painted outside the band of the line: {words.some(outside)}.")
    for line in solution.lines if solution is not None else ():
        unsure = [s.id for s in line.stations if s.trust is Trust.UNPROVEN]
        if unsure:
            said.append(f"Unproven on {line.line}: {words.listing(unsure, [s.id for s in line.stations])}.")
    return tuple(said)
