"""A job and its answer as layers for other programs, and what must travel with their coordinates."""

from __future__ import annotations

from datetime import UTC

from plumbmark import __version__
from plumbmark.handover.answer import CAUTION, TRUST_MEANING, all_warnings, is_invented
from plumbmark.handover.layers_answer import answer_layers
from plumbmark.handover.layers_facts import facts_layers
from plumbmark.handover.layers_plan import clearance_layers, mark_layers
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.layer import LayerSet
from plumbmark.model.mark import MarkPlan
from plumbmark.survey.transform import system_words


def layers_of(
    job: Job,
    solution: Solution,
    *,
    digest: str,
    marks: MarkPlan | None = None,
    clearance: ClearanceAnswer | None = None,
) -> LayerSet:
    """Everything a job holds and everything that was made of it, as layers.

    Parameters
    ----------
    job : Job
    solution : Solution
        Of this job.
    digest : str
        Of the files it was read from.
    marks : MarkPlan, optional
    clearance : ClearanceAnswer, optional

    Returns
    -------
    LayerSet
        In the job's own coordinates. A layer of which there is nothing is there all the same, empty.
    """
    return LayerSet(
        job.id,
        job.title,
        job.crs,
        (
            *answer_layers(job, solution),
            *mark_layers(marks, job.marks),
            *clearance_layers(job, clearance),
            *facts_layers(job),
        ),
        _notes(job, solution, digest),
        _last(job),
    )


def _notes(job: Job, solution: Solution, digest: str) -> tuple[str, ...]:
    system = system_words(job.crs)
    display = "feet and inches (1 ft = 0.3048 m exactly)" if job.display_units == "ft-in" else "metres"
    said = [
        f"Job {job.id}" + (f": {job.title}" if job.title else ""),
        *(["Invented data: no such place."] if is_invented(job) else []),
        f"Coordinates: {system.code}, {system.name}. Datum: {system.datum}. Unit: {system.unit}.",
        f"Columns named _m are metres whatever the coordinates count in; people are shown {display}.",
        "Depths are from the ground down to the middle of the line unless a name says otherwise; no heights "
        "above a datum are known.",
        CAUTION,
        "Unmarked does not mean empty.",
        TRUST_MEANING,
        f"Made by plumbmark {__version__} from input with SHA-256 {digest}.",
    ]
    said += [f"Warning: {found}" for found in all_warnings(job, solution)]
    return tuple(said)


def _last(job: Job) -> str:
    times = [r.taken_at for r in job.readings if r.taken_at is not None]
    if not times:
        return "1970-01-01T00:00:00.000Z"
    return max(t.astimezone(UTC) for t in times).strftime("%Y-%m-%dT%H:%M:%S.000Z")
