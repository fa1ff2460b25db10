"""A job solved once for all that is asked of it in one process: answer, clearance, report, layers."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from plumbmark.model.estimate import Solution
from plumbmark.model.finding import Finding
from plumbmark.model.job import Job

if TYPE_CHECKING:
    from plumbmark.inference.posterior import Posterior

#: Jobs of more rows are solved anew each time: what their joint samples are drawn from takes much memory.
_ROWS = 150


def solved(job: Job, cannot: frozenset[str] = frozenset()) -> tuple[Solution, Posterior]:
    """The solution of a job and its posterior; of the jobs asked about last they are kept.

    Parameters
    ----------
    job : Job
    cannot : frozenset of str
        Actions that the crew cannot do.

    Returns
    -------
    Solution, Posterior
        The same whether kept or not: same job, same answer.
    """
    solve = _kept if len(job.readings) + len(job.profiles) <= _ROWS else _kept.__wrapped__
    return solve(job, job.findings, cannot)


@lru_cache(maxsize=4)
def _kept(job: Job, findings: tuple[Finding, ...], cannot: frozenset[str]) -> tuple[Solution, Posterior]:
    """`findings` stand beside the job since it is compared without them, and they travel with the answer."""
    from plumbmark.inference.solve import solve_with_posterior

    return solve_with_posterior(job, cannot)
