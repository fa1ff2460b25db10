"""Currents of a job's readings as runs along a conductor of its network."""

from __future__ import annotations

import math

import numpy as np

from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Hookup, Job, Setup
from plumbmark.model.linefit import CurrentRun, LineFit
from plumbmark.model.network import Conductor, Network
from plumbmark.model.reading import Reading
from plumbmark.planning.linefit import SOIL_SD, fit_line
from plumbmark.planning.runs import foot_on

#: A reading farther from the conductor than this is not of it [m].
OFF_M = 3.0
#: Fewer currents than this along a conductor say nothing of it.
LEAST_READINGS = 5


def fit_readings(network: Network, job: Job) -> tuple[LineFit | None, list[Finding]]:
    """Fit the target of a network to the currents read along its line.

    Parameters
    ----------
    network : Network
    job : Job
        Of the same folder.

    Returns
    -------
    fit : LineFit or None
        None where there are too few currents, or nobody knows where the signal was put on.
    findings : list of Finding
        What could not be used, and why.
    """
    target = network.conductor(network.target)
    line = next((found for found in job.lines if found.id == target.line), None)
    if line is None:
        return None, []
    findings: list[Finding] = []
    runs = []
    for setup in line.setups:
        rows = [r for r in job.readings if r.line == line.id and r.setup == setup.id]
        run = _run(network, target, setup, rows, findings)
        if run is not None:
            runs.append(run)
    if sum(np.count_nonzero(~np.isnan(run.current_a)) for run in runs) < LEAST_READINGS:
        return None, findings
    soil_sd = SOIL_SD
    if network.resistivity_known:
        soil_sd = math.log(max(job.soil.resistivity_sigma_factor, 1.05))
    fit = fit_line(
        target,
        runs,
        resistivity_ohm_m=network.resistivity_ohm_m,
        soil_sd=soil_sd,
        least_current_a=network.receiver.least_current_a,
    )
    return fit, findings


def _run(
    network: Network, target: Conductor, setup: Setup, rows: list[Reading], findings: list[Finding]
) -> CurrentRun | None:
    """The currents of one setup; a display that was withheld and gave no current heard nothing."""
    feet = [foot_on(target, (r.place.easting_m, r.place.northing_m)) for r in rows]
    used = [
        (s, r)
        for (s, off), r in zip(feet, rows, strict=True)
        if off < OFF_M and (r.current_a is not None or r.depth_refused)
    ]
    if not used:
        return None
    named = f"setup {setup.id}" if setup.id else f"line {setup.line}"
    if setup.frequency_hz is None:
        findings.append(_unused(named, "its frequency is not given"))
        return None
    at = connected_at(network, target, setup, used[0][0])
    if at is None:
        findings.append(_unused(named, "where on the line the signal was put on is not known"))
        return None
    currents = [math.nan if r.current_a is None else r.current_a.value for _, r in used]
    return CurrentRun(at, setup.frequency_hz, np.array([s for s, _ in used]), np.array(currents))


def _unused(where: str, why: str) -> Finding:
    return Finding(Severity.WARNING, where, f"{why}, so its currents are not fitted")


def connected_at(network: Network, target: Conductor, setup: Setup, first_m: float) -> float | None:
    """Chainage at which a setup put its signal on.

    The transmitter's place where the setup has one, else that of the network's connection of the same kind
    on the target; of several, the one nearest to the first reading.
    """
    if setup.transmitter_easting_m is not None and setup.transmitter_northing_m is not None:
        place = (setup.transmitter_easting_m, setup.transmitter_northing_m)
        return foot_on(target, place)[0]
    if setup.hookup not in (Hookup.DIRECT, Hookup.CLAMP):
        return None
    same = [
        c.at_m
        for c in network.connections
        if c.kind is setup.hookup and c.conductor == target.id and c.at_m is not None
    ]
    return min(same, key=lambda at: abs(at - first_m), default=None)
