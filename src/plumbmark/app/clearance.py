"""Check the planned digs of a job against what is known to be there, and write what was asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from plumbmark.app.outfile import where_to_write
from plumbmark.app.solve import Outcome, finished
from plumbmark.app.solved import solved
from plumbmark.base.errors import PlumbmarkError
from plumbmark.base.units import parse_length
from plumbmark.model.clearance import ClearanceAnswer, ZoneRule
from plumbmark.model.estimate import Solution
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job


def clearance_folder(
    folder: Path,
    rules: str = "default",
    asked: str | None = None,
    json_path: Path | None = None,
    now: datetime | None = None,
) -> Outcome:
    """Read a job, solve it, check its digs, tell it in words and write the file asked for.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form, with a dig.
    rules : str
        A tolerance zone by name, or a TOML file of one's own.
    asked : str, optional
        Separation asked for, a length with its unit; that of the rule where not given.
    json_path : Path, optional
    now : datetime, optional
        With its offset; a ticket that ran out by then is said to have.

    Returns
    -------
    Outcome
        What is wrong with the input or the command is returned, all of it, and nothing is written then.
    """
    from plumbmark.exchange.jobfolder import read_job

    job, findings = read_job(folder)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    problems += where_to_write(folder, json_path, None)
    rule = rule_named(rules, problems)
    asked_m = None
    try:
        asked_m = asked_length(asked)
    except PlumbmarkError as error:
        problems.append(Finding(Severity.ERROR, "--asked", str(error)))
    if job is not None and not job.digs:
        what = "has no dig, or is not there: nothing to check (draw where is to be dug)"
        problems.append(Finding(Severity.ERROR, "dig.geojson", what))
    if job is None or rule is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.handover.answer import all_warnings
    from plumbmark.handover.clearance_data import clearance_bytes
    from plumbmark.handover.clearance_text import clearance_text

    try:
        solution, answer = check_job(job, rule, asked_m, now=now)
    except PlumbmarkError as error:
        return Outcome(None, (f"dig.geojson: {error}",))
    files = [] if json_path is None else [(json_path, clearance_bytes(answer))]
    warnings = tuple(str(f) for f in all_warnings(job, solution))
    return finished(clearance_text(job, answer), warnings, files)


def rule_named(name: str, problems: list[Finding]) -> ZoneRule | None:
    """The tolerance zone of that name; None, and a finding, where there is none."""
    from plumbmark.clearance.rules import zone_rule

    try:
        return zone_rule(name)
    except PlumbmarkError as error:
        problems.append(Finding(Severity.ERROR, "--rules", str(error)))
        return None


def check_job(
    job: Job, rule: ZoneRule, asked_m: float | None = None, *, now: datetime | None = None
) -> tuple[Solution, ClearanceAnswer]:
    """Solve a job and check its digs.

    Parameters
    ----------
    job : Job
        With its digs; passes of a sweep count where it has them.
    rule : ZoneRule
        From `plumbmark.clearance.rules.zone_rule`.
    asked_m : float, optional, [m]
    now : datetime, optional
        With its offset, for what has run out.

    Returns
    -------
    solution, answer : Solution, ClearanceAnswer

    Raises
    ------
    PlumbmarkError
        If a dig cannot be.
    """
    from plumbmark.clearance.check import check_clearance, surprises_of
    from plumbmark.clearance.shapes import footprints_of
    from plumbmark.handover.on_plan import on_plan
    from plumbmark.planning.sweep import swept

    for dig in job.digs:  # before the long work
        footprints_of(dig)
    solution, posterior = solved(job)
    surprises: tuple[str, ...] = ()
    if any(hole.found for hole in job.test_holes):
        surprises = surprises_of(job, solved(replace(job, test_holes=()))[0])
    seen, drawn = on_plan(job, solution)
    answer = check_clearance(
        seen,
        drawn,
        posterior.draw,
        rule,
        asked_m=asked_m,
        sweep=swept(job),
        surprises=surprises,
        now=now,
    )
    return solution, answer


def asked_length(text: str | None) -> float | None:
    """A separation as typed, None where none was.

    Raises
    ------
    UnitError
        If it is no length of 0 to 10 m.
    """
    from plumbmark.base.errors import UnitError

    if text is None:
        return None
    value = parse_length(text, None, "asked").low
    if not 0.0 <= value <= 10.0:
        raise UnitError(f"'{text}' is not within 0 to 10 m")
    return value
