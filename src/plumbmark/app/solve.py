"""Solve a folder of readings and write what was asked for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from plumbmark.app.outfile import where_to_write, write_all
from plumbmark.model.finding import Severity


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a folder.

    `text` is the answer for a terminal, None where there is none; then `problems` says why and
    nothing was written, one line each. `written` names the files that were.
    """

    text: str | None
    problems: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    written: tuple[Path, ...] = ()


def finished(
    text: str, warnings: tuple[str, ...], files: list[tuple[Path, bytes]], out_folder: Path | None = None
) -> Outcome:
    """Write the files of an answer; the outcome is the answer, or what the machine refused."""
    failed = write_all(out_folder, files)
    if failed:
        return Outcome(None, failed, warnings)
    return Outcome(text, (), warnings, tuple(path for path, _ in files))


def solve_folder(
    folder: Path,
    json_path: Path | None = None,
    out_folder: Path | None = None,
    cannot: frozenset[str] = frozenset(),
) -> Outcome:
    """Read a job, solve it, tell it in words and write the files asked for.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form.
    json_path : Path, optional
        Where the machine-readable answer goes.
    out_folder : Path, optional
        Where the picture page goes, as ``<job>.html``; made if it is not there.
    cannot : frozenset of str
        Actions that the crew cannot do, so that none of them is the next step.

    Returns
    -------
    Outcome

    Notes
    -----
    What is wrong with the input is returned, all of it; an exception is a fault of ours.
    """
    # Imported here, so that `plumbmark --version` and a refused folder do not wait for the solver.
    from plumbmark.exchange.jobfolder import read_job

    job, findings = read_job(folder)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    problems += where_to_write(folder, json_path, out_folder)
    if job is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.handover.answer import all_warnings
    from plumbmark.handover.answer_text import answer_text
    from plumbmark.inference.solve import solve_job

    solution = solve_job(job, cannot)
    files: list[tuple[Path, bytes]] = []
    if out_folder is not None:
        from plumbmark.handover.page import write_page

        page = write_page(job, solution).encode()
        files.append((out_folder / f"{job.id}.html", page))
    if json_path is not None:
        from plumbmark.exchange.estimates import estimates_bytes

        files.append((json_path, estimates_bytes(solution, job)))
    warnings = tuple(map(str, all_warnings(job, solution)))
    return finished(answer_text(job, solution), warnings, files, out_folder)
