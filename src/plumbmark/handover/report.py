"""A report: what an excavator, an owner, an engineer or a court can go by years later."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from plumbmark import __version__
from plumbmark.handover import report_answer as found
from plumbmark.handover import report_facts as facts
from plumbmark.handover import report_site as site
from plumbmark.handover import report_ticket as asked
from plumbmark.handover.answer import all_warnings
from plumbmark.handover.on_plan import left_off, on_plan
from plumbmark.handover.report_blocks import (
    Audience,
    Block,
    Drawing,
    Photograph,
    Report,
    Section,
    Signatures,
    Words,
)
from plumbmark.handover.report_depth import Reader
from plumbmark.handover.report_plan import plan_drawings
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.mark import MarkPlan
from plumbmark.model.quality import QualityClaim

_KINDS = {
    Audience.CREW: "Locate report, the crew's own record",
    Audience.EXCAVATOR: "Locate report for the excavator",
    Audience.OWNER: "Locate report for the owner",
}
_ROLES = {
    Audience.CREW: ("Locator", "Checked by"),
    Audience.EXCAVATOR: ("Locator", "Received for the excavator"),
    Audience.OWNER: ("Locator", "Qualified person, for the quality claimed", "Received for the owner"),
}
_FOOT = {
    Audience.CREW: "Depth is an estimate. Hand dig or vacuum in the tolerance zone. Unmarked does not mean "
    "empty.",
    Audience.EXCAVATOR: "Hand dig or vacuum in the tolerance zone until the line is seen. Unmarked does "
    "not mean empty. One-call, local law and the owner's instructions come first.",
    Audience.OWNER: "Depth is an estimate, from the ground to the middle of the line. Unmarked does not "
    "mean empty.",
}


@dataclass(frozen=True, slots=True)
class Extras:
    """What a report shows besides the answer, where it is there."""

    clearance: ClearanceAnswer | None = None
    marks: MarkPlan | None = None
    quality: tuple[QualityClaim, ...] = ()
    sketches: tuple[Drawing, ...] = ()
    photographs: tuple[Photograph, ...] = ()


def make_report(
    job: Job, solution: Solution, *, digest: str, reader: Reader | None = None, extras: Extras | None = None
) -> Report:
    """A report as sections, to be written by `report_pdf` or `report_html`.

    Parameters
    ----------
    job : Job
    solution : Solution
        Of this job.
    digest : str
        Of the files it was read from.
    reader : Reader, optional
        For whom; the crew where not given. It decides which depths are told.
    extras : Extras, optional

    Returns
    -------
    Report
        The same input gives the same report: it holds no time of its making.
    """
    reader = reader or Reader()
    extras = extras or Extras()
    plan: tuple[Block, ...] = tuple(plan_drawings(*on_plan(job, solution), extras.clearance))
    if left := left_off(job):
        plan = (*plan, Words(left))
    sections: Sequence[Section | None] = (
        Section("", (facts.job_facts(job, reader, digest),)),
        found.answer_section(job, solution, reader, extras.clearance),
        asked.ticket_section(job, solution),
        Section("Plan", plan, new_page=True),
        site.clearance_section(job, extras.clearance, reader),
        site.advised_holes_section(job, extras.clearance, reader),
        facts.holes_section(job, reader),
        site.marks_section(job, extras.marks, extras.sketches),
        asked.things_section(job),
        found.along_section(job, solution, reader),
        found.numbers_section(job, solution, reader),
        facts.readings_section(job, solution, reader),
        found.reasons_section(job, solution, reader),
        facts.hookup_section(job, reader),
        site.quality_section(job, extras.quality, reader),
        asked.photographs_section(job, extras.photographs),
        facts.warnings_section(all_warnings(job, solution)),
        asked.expiry_section(job),
        Section("Signatures", (Signatures(_ROLES[reader.audience]),)),
    )
    return Report(
        f"{job.id}: {job.title}" if job.title else job.id,
        _KINDS[reader.audience],
        _FOOT[reader.audience],
        f"{job.id}, input {digest[:12]}, plumbmark {__version__}",
        max((int(r.taken_at.timestamp()) for r in job.readings if r.taken_at is not None), default=0),
        tuple(section for section in sections if section is not None and section.blocks),
    )
