"""What a worker beside the server computes of a job: functions of a module, from values to values."""

from __future__ import annotations

from plumbmark.app.solved import solved
from plumbmark.app.worker import WorkerError
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.estimate import Solution, StationEstimate
from plumbmark.model.job import Job


def answer_of(job: Job, cannot: frozenset[str]) -> Solution:
    """The solution of a job."""
    return solved(job, cannot)[0]


def near_answer(job: Job, line: str, ident: str) -> StationEstimate | None:
    """The quick answer for one place."""
    from plumbmark.inference.solve import solve_near

    return solve_near(job, line, ident)


def clearance_of(job: Job) -> ClearanceAnswer:
    """The clearance check of a job by the default rule."""
    from plumbmark.app.clearance import check_job
    from plumbmark.clearance.rules import zone_rule

    return check_job(job, zone_rule("default"))[1]


def warm_up() -> None:
    """Load and compile all that an answer needs, by answering an invented job."""
    from plumbmark.exchange.jobfolder import read_job_files

    rows = "".join(f"{k},A,{3 * k}.0,0.0,{0.9 + 0.02 * k},{20 - k},0.0\n" for k in range(1, 5))
    header = "reading,line,easting_m,northing_m,depth_m,current_ma,null_offset_m\n"
    job, _ = read_job_files(
        {
            "job.toml": b'[job]\nid = "warm"\n[[lines]]\nid = "A"\nhookup = "direct"\nfrequency_hz = 10000\n',
            "readings.csv": (header + rows).encode(),
        }
    )
    if job is None:
        raise WorkerError("the invented job that warms a worker cannot be read")
    answer_of(job, frozenset())
    near_answer(job, "A", "2")
