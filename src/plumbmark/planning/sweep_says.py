"""What a sweep means, in sentences: what was taken, what "no signal" rules out, what it cannot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from plumbmark.base.spoken import spoken_current, spoken_length
from plumbmark.inference.priors import DEPTH_LOG_SIGMA, DEPTH_MEDIAN_M
from plumbmark.model.job import Job
from plumbmark.model.record import DigKind
from plumbmark.model.sweep import LeastCurrent, MethodSweep, Search
from plumbmark.planning import sweep_priors as priors
from plumbmark.planning.sweep_ground import BORE_M, CELL_M, TRENCH_M, Ground

_CANNOT: Final = (
    "Pipes of plastic, clay or concrete, and glass fibre without a wire, carry no current: no sweep finds "
    "them. A sonde, records, a test hole or another kind of survey must.",
    "A cable that is switched off, cut or abandoned may carry nothing, and one whose current comes back in "
    "the same sheath shows little: passive power can miss both.",
    "A line close beside a stronger one, nearer than about its own depth, is heard as one with it.",
    "A piece of line much shorter than five times its depth makes less signal than is counted on here, and "
    "so does the end of a line.",
)


def assumptions(job: Job, searches: Sequence[Search], pieces: Sequence[Ground]) -> tuple[str, ...]:
    """What was taken because the job does not say it, each with its reason, once.

    Parameters
    ----------
    job : Job
    searches : sequence of Search
        With every value in them.
    pieces : sequence of Ground
    """
    plan, units = job.sweep, job.display_units
    said = []
    if not job.searches:
        said.append(
            "What to search for is not said: passive power, passive radio and active, each over all of the "
            "ground, as each finds lines that the others miss."
        )
    if plan.margin_m is None:
        said.append(
            f"Swept {spoken_length(priors.MARGIN_M, units)} round the dig as well: lines that pass this near "
            "matter to it."
        )
    if plan.spacing_m is None:
        said.append(
            f"Planned passes are {spoken_length(priors.SPACING_M, units)} apart at most: a line midway is "
            "then no farther to the side than it is deep, mostly."
        )
    if plan.line_bearing_deg is None:
        said.append("Lines may run in any direction, as nothing is said of it.")
    if plan.depth_m is None:
        low, high = (DEPTH_MEDIAN_M * math.exp(s * DEPTH_LOG_SIGMA) for s in (-1.0, 1.0))
        said.append(
            f"Depths are about {spoken_length(DEPTH_MEDIAN_M, units)}, two in three between "
            f"{spoken_length(low, units)} and {spoken_length(high, units)}, as cover tables have it."
        )
    if plan.reach_m is None:
        said.append(
            f"Only ground walked within {spoken_length(priors.REACH_M, units)} of a spot counts for it: "
            "farther off a line may have turned or ended."
        )
    if any(s.antenna is None for s in job.searches) or not job.searches:
        said.append(
            "The receiver is taken to have one coil, lying the way it faces, wherever nothing else is said: "
            "it hears nothing of a line that it is walked along."
        )
    said += _carried(job, searches)
    said += _odd_ground(job, pieces)
    return tuple(said)


def _carried(job: Job, searches: Sequence[Search]) -> list[str]:
    given = {s.method: s for s in job.searches}
    said = []
    for search in searches:
        own = given.get(search.method)
        known = own is not None and own.threshold_a is not None and own.current_a is not None
        if known or search.threshold_a is None or search.current_a is None:
            continue
        name = search.method.words
        said.append(
            f"{name[0].upper()}{name[1:]}: a line 1 m off is noticed every other time from "
            f"{spoken_current(search.threshold_a)}, and such lines carry about "
            f"{spoken_current(search.current_a)}, a factor {search.current_sigma_factor:g} either way "
            f"({priors.SEARCHED[search.method].reason})."
        )
    return said


def _odd_ground(job: Job, pieces: Sequence[Ground]) -> list[str]:
    said, units = [], job.display_units
    trenches = [d.id for d in job.digs if d.kind is DigKind.TRENCH and not d.width_m]
    bores = [d.id for d in job.digs if d.kind is DigKind.BORE and not d.diameter_m]
    if trenches:
        said.append(
            f"Width of trench not said ({', '.join(trenches)}): {spoken_length(TRENCH_M, units)} taken."
        )
    if bores:
        said.append(f"Diameter of bore not said ({', '.join(bores)}): {spoken_length(BORE_M, units)} taken.")
    coarse = max(piece.cell_m for piece in pieces)
    if coarse > CELL_M:
        said.append(f"The ground is so large that it is looked at every {spoken_length(coarse, units)}.")
    return said


def least_words(least: Sequence[LeastCurrent], units: str) -> str:
    """Least currents at their depths, in a row.

    Examples
    --------
    >>> least_words([LeastCurrent(0.5, 0.02), LeastCurrent(1.0, None)], "m")
    '20 mA at 0.50 m'
    """
    said = [
        f"{spoken_current(item.current_a)} at {spoken_length(item.depth_m, units)}"
        for item in least
        if item.current_a is not None
    ]
    return ", ".join(said)


def rules_out(job: Job, sweeps: Sequence[MethodSweep], *, done: bool) -> tuple[str, ...]:
    """What "looked, no signal" rules out, one sentence for each method.

    Parameters
    ----------
    job : Job
    sweeps : sequence of MethodSweep
    done : bool
        Whether these passes were walked, or are only planned.
    """
    said = []
    for sweep in sweeps:
        name = sweep.search.method.words
        least = least_words(sweep.least, job.display_units)
        head = f"{name[0].upper()}{name[1:]}: "
        if least:
            verb = "would have been" if done else "would be"
            said.append(
                f"{head}on the swept ground of the dig a straight line {verb} noticed 19 times in 20, "
                f"whichever way it runs, if it carried {least}, or more."
            )
        else:
            said.append(f"{head}nothing is ruled out, as no ground of the dig was swept.")
    return tuple(said)


def cannot() -> tuple[str, ...]:
    """What no signal does not rule out, however well the ground was swept."""
    return _CANNOT
