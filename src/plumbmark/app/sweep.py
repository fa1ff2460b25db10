"""Plan the sweep of a job's digs, weigh the passes walked, and write what was asked for."""

from __future__ import annotations

from pathlib import Path

from plumbmark.app.outfile import where_to_write
from plumbmark.app.solve import Outcome, finished
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.finding import Severity


def sweep_folder(folder: Path, json_path: Path | None = None, out_folder: Path | None = None) -> Outcome:
    """Read a job, sweep its digs, tell it in words and write the files asked for.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form; it needs a dig, and no reading yet.
    json_path : Path, optional
        Where the machine-readable answer goes.
    out_folder : Path, optional
        Where the picture page goes, as ``<job>-sweep.html``; made if it is not there.

    Returns
    -------
    Outcome
        What is wrong with the input is returned, all of it.
    """
    from plumbmark.exchange.jobfolder import read_job

    job, findings = read_job(folder, to_solve=False)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    problems += where_to_write(folder, json_path, out_folder)
    if job is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.handover.sweep_data import sweep_bytes
    from plumbmark.handover.sweep_page import sweep_page
    from plumbmark.handover.sweep_text import sweep_text
    from plumbmark.planning.sweep import sweep_job

    try:
        answer = sweep_job(job)
    except PlumbmarkError as error:
        return Outcome(None, (f"dig.geojson: {error}",))
    files: list[tuple[Path, bytes]] = []
    if out_folder is not None:
        files.append((out_folder / f"{job.id}-sweep.html", sweep_page(job, answer).encode()))
    if json_path is not None:
        files.append((json_path, sweep_bytes(answer)))
    warnings = tuple(map(str, findings))
    return finished(sweep_text(job, answer), warnings, files, out_folder)
