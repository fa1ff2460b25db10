"""What of a job has a place on a map: all but what lies along a baseline whose own place is not known."""

from __future__ import annotations

from plumbmark.handover.screen_drawn import Row, job_on_plan, rows_along, solution_on_plan
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job


def on_plan(job: Job, solution: Solution) -> tuple[Job, Solution]:
    """A job and its answer without what no plan, mark or layer may show.

    Parameters
    ----------
    job : Job
    solution : Solution
        Of this job.

    Returns
    -------
    Job, Solution
        The same where every baseline is placed.
    """
    off = unplaced_rows(job)
    return (job_on_plan(job, off), solution_on_plan(solution, off)) if off else (job, solution)


def unplaced_rows(job: Job) -> frozenset[Row]:
    """Table and id of every row along a baseline that is not placed."""
    return frozenset(row for base in job.baselines if not base.placed for row in rows_along(job, base))


def left_off(job: Job) -> str:
    """That some rows are on no plan, empty where all are."""
    count = len(unplaced_rows(job))
    if not count:
        return ""
    rows, are = ("1 row", "is") if count == 1 else (f"{count:,} rows", "are")
    return f"{rows} whose place was told in words only {are} on no plan, in no mark and in no layer."
