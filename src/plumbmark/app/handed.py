"""A job solved, with everything about it that is handed on: clearance, marks, quality."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from plumbmark.app.solved import solved
from plumbmark.model.clearance import ClearanceAnswer, ZoneRule
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.mark import MarkPlan
from plumbmark.model.quality import QualityClaim


@dataclass(frozen=True, slots=True)
class Handed:
    """What is known of a job, as it is handed on."""

    solution: Solution
    clearance: ClearanceAnswer | None
    marks: MarkPlan
    quality: tuple[QualityClaim, ...]


def hand_over(job: Job, rule: ZoneRule) -> Handed:
    """Solve a job, check its digs, plan its marks.

    Parameters
    ----------
    job : Job
    rule : ZoneRule
        Tolerance zone for its digs.

    Returns
    -------
    Handed
        Without a clearance check where nothing is to be dug.

    Raises
    ------
    PlumbmarkError
        If a dig cannot be.
    """
    from plumbmark.app.clearance import check_job
    from plumbmark.handover.marks import plan_marks
    from plumbmark.handover.on_plan import on_plan
    from plumbmark.handover.quality import quality_claims

    if job.digs:
        solution, clearance = check_job(job, rule)
    else:
        solution, clearance = solved(job)[0], None
    marks = plan_marks(*on_plan(job, solution))
    return Handed(solution, clearance, marks, quality_claims(job, solution))


def sketch_of(job: Job, handed: Handed) -> tuple[Any, ...]:
    """The sketch that marks are laid out by, as a drawing of a report; none where there are no marks."""
    from plumbmark.handover.on_plan import on_plan
    from plumbmark.handover.report_paper import stands_alone
    from plumbmark.handover.sketch import sketch_svg

    if not handed.marks.marks:
        return ()
    svg = sketch_svg(*on_plan(job, handed.solution), handed.marks, with_table=False)
    said = "Sketch of the marks with the dimensions that lay them out from baseline and corners"
    return (stands_alone(svg, f"{said}.", said),)
