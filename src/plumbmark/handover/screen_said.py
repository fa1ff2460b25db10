"""What was said of a job at the time: answers as they were given, the newest first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from plumbmark.handover import answer
from plumbmark.handover.moments import moment
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.screen_said import SaidScreen, SaidThen


def said_screen(
    job_id: str,
    job: Job | None,
    told: Sequence[tuple[datetime, str, str, Solution]],
    *,
    digest: str,
    older: int,
    now: datetime,
) -> SaidScreen:
    """Answers of a job as they were said.

    Parameters
    ----------
    job_id : str
    job : Job or None
        As it stands now; names of lines and units are taken from it, numbers never.
    told : sequence of (datetime, str, str, Solution)
        When, digest of the files, version and the solution, the newest first.
    digest : str
        Of the files as they stand now.
    older : int
        How many more there are.
    now : datetime
        With its offset.

    Returns
    -------
    SaidScreen
    """
    rows = tuple(
        SaidThen(
            at.isoformat(),
            moment(at.astimezone(now.tzinfo), now),
            of[:12],
            version,
            of == digest,
            _sentences(job or Job(job_id), solution),
        )
        for at, of, version, solution in told
    )
    count = len(rows) + older
    if not count:
        sentence = "Nothing was said of this job yet."
    elif count == 1:
        sentence = f"One answer was given, {rows[0].when}."
    else:
        sentence = f"{count:,} answers were given, the last {rows[0].when}."
    return SaidScreen(job_id, sentence, rows, older)


def _sentences(job: Job, solution: Solution) -> tuple[str, ...]:
    said = []
    for line in solution.lines:
        parts = [answer.headline(job, line)]
        if line.stations:
            paint = answer.what_to_paint(line, job.display_units)
            parts += [paint, answer.how_deep(line, job.display_units)]
        said.append(" ".join(part for part in parts if part))
    return tuple(said)
