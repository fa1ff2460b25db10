"""Solve a job and say what its stretches may claim under quality schemes."""

from __future__ import annotations

from pathlib import Path

from plumbmark.app.solve import Outcome
from plumbmark.model.finding import Severity


def quality_folder(folder: Path) -> Outcome:
    """Read a job, solve it and say which classes are supportable, and why no better ones.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form.

    Returns
    -------
    Outcome
    """
    from plumbmark.exchange.jobfolder import read_job

    job, findings = read_job(folder)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    if job is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.handover.answer import all_warnings
    from plumbmark.handover.quality_text import quality_text
    from plumbmark.inference.solve import solve_job

    solution = solve_job(job)
    return Outcome(quality_text(job, solution), (), tuple(str(f) for f in all_warnings(job, solution)))
