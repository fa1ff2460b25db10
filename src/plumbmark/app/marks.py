"""What to paint along the lines of a job: words, numbers, a sketch."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from plumbmark.app.outfile import problem_with, where_to_write
from plumbmark.app.solve import Outcome, finished
from plumbmark.base.errors import UnitError
from plumbmark.base.units import parse_length
from plumbmark.model.finding import Finding, Severity


@dataclass(frozen=True, slots=True)
class MarksWanted:
    """What is asked for: lengths as typed, with their units.

    `offsets` are (line, from, to, how far to the right; negative for left) of places that cannot be painted.
    """

    json_path: Path | None = None
    svg_path: Path | None = None
    spacing: str = "3 m"
    offsets: tuple[tuple[str, str, str, str], ...] = ()
    with_depth: bool = False


def marks_folder(folder: Path, wanted: MarksWanted) -> Outcome:
    """Read a job, solve it, say what to paint and write the files asked for.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form.
    wanted : MarksWanted

    Returns
    -------
    Outcome
        What is wrong with the input or the command is returned, all of it, and nothing is written then.
    """
    from plumbmark.exchange.jobfolder import read_job
    from plumbmark.handover.marks import NoPaint, plan_marks

    job, findings = read_job(folder)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    problems += where_to_write(folder, wanted.json_path, None)
    if wanted.svg_path is not None:
        why = problem_with(wanted.svg_path, inputs=folder)
        if why:
            problems.append(Finding(Severity.ERROR, f"--svg '{wanted.svg_path}'", why))
    spacing = _length(wanted.spacing, "--spacing", 0.1, 100.0, problems)
    no_paint = []
    for line, *lengths in wanted.offsets:
        where = f"--offset {line}"
        first, last, off = (_length(text, where, -1e5, 1e5, problems) for text in lengths)
        if job is not None and line not in {known.id for known in job.lines}:
            problems.append(Finding(Severity.ERROR, where, "is no line of this job"))
        elif first is not None and last is not None and off is not None:
            problems += _wrong_offset(where, first, last, off)
            no_paint.append(NoPaint(line, first, last, off))
    if job is None or spacing is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.handover.answer import all_warnings
    from plumbmark.handover.marks_data import marks_bytes
    from plumbmark.handover.marks_text import marks_text
    from plumbmark.handover.on_plan import left_off, on_plan
    from plumbmark.handover.sketch import sketch_svg
    from plumbmark.inference.solve import solve_job

    solution = solve_job(job)
    drawn = on_plan(job, solution)
    plan = plan_marks(*drawn, spacing_m=spacing, no_paint=no_paint, with_depth=wanted.with_depth)
    files: list[tuple[Path, bytes]] = []
    if wanted.json_path is not None:
        files.append((wanted.json_path, marks_bytes(job, plan)))
    if wanted.svg_path is not None:
        files.append((wanted.svg_path, sketch_svg(*drawn, plan).encode()))
    left = [text for text in (left_off(job),) if text]
    warnings = (*(str(f) for f in all_warnings(job, solution)), *left)
    return finished(marks_text(job, plan), warnings, files)


def _length(text: str, where: str, low: float, high: float, problems: list[Finding]) -> float | None:
    try:
        value = parse_length(text, None, "length").low
    except UnitError as error:
        problems.append(Finding(Severity.ERROR, where, str(error)))
        return None
    if not low <= value <= high:
        problems.append(Finding(Severity.ERROR, where, f"'{text}' is not within {low:g} to {high:g} m"))
        return None
    return value


def _wrong_offset(where: str, first: float, last: float, off: float) -> list[Finding]:
    if last < first:
        return [Finding(Severity.ERROR, where, "has its farther end first (from, to, how far aside)")]
    if abs(off) < 0.1:
        return [Finding(Severity.ERROR, where, "sets its marks aside by less than 10 cm, right or left")]
    return []
