"""Solve a folder of readings and write the report of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from plumbmark.app.clearance import rule_named
from plumbmark.app.handed import hand_over, sketch_of
from plumbmark.app.outfile import problem_with
from plumbmark.app.solve import Outcome, finished
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.clearance import ZoneRule
from plumbmark.model.estimate import Solution
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job

if TYPE_CHECKING:
    from plumbmark.handover.report_blocks import Report

AUDIENCES = ("crew", "excavator", "owner")
PAPERS = ("a4", "letter")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What report is wanted, and for whom.

    `owner`: name of the owner that it is for. `depth_for`: lines whose owners allow the excavator to have a
    depth. `rules`: tolerance zone of the clearance check.
    """

    pdf: Path | None = None
    html: Path | None = None
    audience: str = "crew"
    paper: str = "a4"
    owner: str | None = None
    depth_for: tuple[str, ...] = ()
    rules: str = "default"


def report_folder(folder: Path, wanted: Wanted) -> Outcome:
    """Read a job, solve it and write its report.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form; pictures in its folder `photos` are shown.
    wanted : Wanted

    Returns
    -------
    Outcome
        What is wrong with the input or the command is returned, all of it, and nothing is written then.
    """
    from plumbmark.exchange.jobfolder import read_job

    job, findings = read_job(folder)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    problems += _wrong_with(folder, wanted, job)
    rule = rule_named(wanted.rules, problems)
    if job is None or rule is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.exchange.jobfolder.digest import job_digest
    from plumbmark.exchange.photographs import read_photographs
    from plumbmark.handover.answer import all_warnings

    pictures, unread = read_photographs(folder)
    try:
        report, solution = report_of(job, rule, wanted, job_digest(folder), pictures)
    except PlumbmarkError as error:
        return Outcome(None, (f"dig.geojson: {error}",))
    files: list[tuple[Path, bytes]] = []
    if wanted.pdf is not None:
        from plumbmark.handover.report_pdf import report_pdf

        files.append((wanted.pdf, report_pdf(report, wanted.paper)))
    if wanted.html is not None:
        from plumbmark.handover.report_html import report_html

        files.append((wanted.html, report_html(report).encode()))
    warnings = tuple(map(str, [*all_warnings(job, solution), *unread]))
    return finished("", warnings, files)


def report_of(
    job: Job, rule: ZoneRule, wanted: Wanted, digest: str, pictures: Sequence[tuple[str, bytes]] = ()
) -> tuple[Report, Solution]:
    """Solve a job and make its report, for whom it is wanted.

    Parameters
    ----------
    job : Job
    rule : ZoneRule
        Tolerance zone for its digs.
    wanted : Wanted
    digest : str
        Of the files that the job was read from.
    pictures : sequence of (str, bytes)
        File names of photographs, each with its JPEG.

    Returns
    -------
    Report, Solution

    Raises
    ------
    PlumbmarkError
        If a dig cannot be.
    """
    from plumbmark.handover.report import Extras, make_report
    from plumbmark.handover.report_blocks import Audience, Photograph
    from plumbmark.handover.report_depth import Reader
    from plumbmark.handover.report_ticket import photo_caption

    handed = hand_over(job, rule)
    photographs = tuple(Photograph(name, data, photo_caption(job, name)) for name, data in pictures)
    reader = Reader(Audience(wanted.audience), wanted.owner, frozenset(wanted.depth_for))
    extras = Extras(handed.clearance, handed.marks, handed.quality, sketch_of(job, handed), photographs)
    return make_report(job, handed.solution, digest=digest, reader=reader, extras=extras), handed.solution


def _wrong_with(folder: Path, wanted: Wanted, job: Job | None) -> list[Finding]:
    """Everything about the command that keeps the report from being written."""
    said: list[tuple[str, str]] = []
    if wanted.pdf is None and wanted.html is None:
        said.append(("report", "says no file to write: name one with --pdf or --html, or both"))
    for option, path in (("--pdf", wanted.pdf), ("--html", wanted.html)):
        why = None if path is None else problem_with(path, inputs=folder)
        if why:
            said.append((f"{option} '{path}'", why))
    if wanted.pdf is not None and wanted.html is not None and wanted.pdf.resolve() == wanted.html.resolve():
        said.append((f"--html '{wanted.html}'", "is the file that --pdf names too; choose another name"))
    if wanted.audience not in AUDIENCES:
        said.append((f"--for '{wanted.audience}'", f"is nobody a report is for: {', '.join(AUDIENCES)}"))
    if wanted.paper not in PAPERS:
        said.append((f"--paper '{wanted.paper}'", f"is no paper that is known: {', '.join(PAPERS)}"))
    if wanted.owner is not None and wanted.audience != "owner":
        said.append(("--owner", "is for a report to an owner: add --for owner"))
    if wanted.depth_for and wanted.audience != "excavator":
        said.append(("--depth-for", "is for a report to an excavator: add --for excavator"))
    if job is not None:
        said += wrong_names(wanted, job)
    return [Finding(Severity.ERROR, where, what) for where, what in said]


def wrong_names(wanted: Wanted, job: Job) -> list[tuple[str, str]]:
    """Owners and lines that a report names and the job does not: where, and what."""
    said = []
    owners = sorted({line.owner for line in job.lines if line.owner})
    if wanted.owner is not None and wanted.owner not in owners:
        known = ", ".join(owners) or "it names none"
        said.append((f"--owner '{wanted.owner}'", f"is no owner of a line in this job ({known})"))
    lines = [line.id for line in job.lines]
    said += [
        (f"--depth-for '{name}'", f"is no line of this job ({', '.join(lines)})")
        for name in wanted.depth_for
        if name not in lines
    ]
    return said
