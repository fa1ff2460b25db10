"""Work out the hook-up plan of a job's network, and write what was asked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from plumbmark.app.outfile import where_to_write
from plumbmark.app.solve import Outcome, finished
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.linefit import LineFit
from plumbmark.model.network import Network
from plumbmark.model.questions import Bonded, MadeOf, Reached


def plan_folder(folder: Path, json_path: Path | None = None, out_folder: Path | None = None) -> Outcome:
    """Read a job's network, rank its connections, tell it in words and write the files asked for.

    Parameters
    ----------
    folder : Path
        A job in the plain-file form with network.toml; it needs no reading yet.
    json_path : Path, optional
        Where the machine-readable plan goes.
    out_folder : Path, optional
        Where the picture page goes, as ``<job>-plan.html``; made if it is not there.

    Returns
    -------
    Outcome
        What is wrong with the input is returned, all of it.
    """
    from plumbmark.exchange.jobfolder.network import read_network

    network, findings = read_network(folder)
    problems = [f for f in findings if f.severity is Severity.ERROR]
    problems += where_to_write(folder, json_path, out_folder)
    if network is None or problems:
        return Outcome(None, tuple(map(str, problems)))

    from plumbmark.handover.plan_data import plan_bytes
    from plumbmark.handover.plan_page import plan_page
    from plumbmark.handover.plan_text import plan_text
    from plumbmark.planning.hookup import plan_hookups

    try:
        plan = plan_hookups(network)
    except PlumbmarkError as error:
        return Outcome(None, (f"network.toml: {error}",))
    fit, unused = _after_readings(folder, network)
    files: list[tuple[Path, bytes]] = []
    if out_folder is not None:
        page = plan_page(plan, fit)
        files.append((out_folder / f"{network.id or 'network'}-plan.html", page.encode()))
    if json_path is not None:
        files.append((json_path, plan_bytes(plan, fit)))
    warnings = (*map(str, findings), *map(str, plan.warnings), *map(str, unused))
    return finished(plan_text(plan, fit), warnings, files, out_folder)


def _after_readings(folder: Path, network: Network) -> tuple[LineFit | None, list[Finding]]:
    """What currents along the target say, where the job has readings and they can be read."""
    from plumbmark.exchange.jobfolder import read_job
    from plumbmark.planning.readings import fit_readings

    job, _ = read_job(folder, to_solve=False)
    if job is None:
        what = "the job has mistakes (plumbmark solve lists them), so its currents are not fitted"
        return None, [Finding(Severity.WARNING, "readings.csv", what)]
    return fit_readings(network, job)


def answer_questions(
    made_of: MadeOf, reached: Sequence[Reached], bonded: Sequence[Bonded], units: str = "ft-in"
) -> str:
    """A hook-up from three answers, in words.

    Parameters
    ----------
    made_of : MadeOf
    reached : sequence of Reached
        Where a lead or a clamp gets at the line.
    bonded : sequence of Bonded
        What else is joined to it.
    units : str
        ``"ft-in"`` or ``"m"``.

    Returns
    -------
    str
    """
    from plumbmark.handover.advice_text import advice_text
    from plumbmark.planning.questions import advise

    return advice_text(advise(made_of, reached, bonded), units)
