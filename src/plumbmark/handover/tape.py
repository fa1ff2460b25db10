"""A place told so that it is found again with a tape: along a baseline, and by two swing ties."""

from __future__ import annotations

import itertools
import math
from typing import Final

from plumbmark.handover import words
from plumbmark.model.job import Baseline, Corner, Job
from plumbmark.model.mark import Tape

LEAST_CUT: Final = 0.25  # sine of the angle at which two swung tapes have to meet at least
LONGEST_M: Final = 60.0  # a tape longer than this is not swung
_EASY_M: Final = 30.0


def tape_of(job: Job, easting_m: float, northing_m: float) -> Tape:
    """How a place is found again from the job's baselines and corners.

    Parameters
    ----------
    job : Job
    easting_m, northing_m : float, [m]

    Returns
    -------
    Tape
        The baseline that it lies nearest to, and the two corners whose tapes cut best. Empty where the job
        has neither.

    Examples
    --------
    >>> base = Baseline("B1", 0.0, 0.0, 10.0, 0.0)
    >>> tape = tape_of(Job("j", baselines=(base,)), 4.0, -1.0)
    >>> tape.baseline, tape.station_m, tape.offset_m
    ('B1', 4.0, 1.0)
    """
    here = (easting_m, northing_m)
    base = min(job.baselines, key=lambda b: _strain(b, here), default=None)
    station = offset = None
    if base is not None:
        station, offset = along_baseline(base, here)
    pairs = [
        (_cut(one, two, here), one, two)
        for one, two in itertools.combinations(job.corners, 2)
        if max(_away(one, here), _away(two, here)) <= LONGEST_M
    ]
    best = max(pairs, key=lambda p: p[0], default=None)
    name = None if base is None else base.id
    if best is None or best[0] <= 0.0:
        return Tape(name, station, offset)
    _, one, two = best
    ties = ((one.id, _away(one, here)), (two.id, _away(two, here)))
    return Tape(name, station, offset, ties, "right" if _cross(one, two, here) > 0.0 else "left")


def along_baseline(base: Baseline, here: tuple[float, float]) -> tuple[float, float]:
    """Station from the start and offset to the right of a baseline [m]."""
    run_e, run_n = base.end_easting_m - base.start_easting_m, base.end_northing_m - base.start_northing_m
    length = math.hypot(run_e, run_n)
    east, north = here[0] - base.start_easting_m, here[1] - base.start_northing_m
    return (east * run_e + north * run_n) / length, (east * run_n - north * run_e) / length


def _strain(base: Baseline, here: tuple[float, float]) -> float:
    """How awkward it is to measure from a baseline: the offset, and twice what lies past its ends."""
    length = math.hypot(
        base.end_easting_m - base.start_easting_m, base.end_northing_m - base.start_northing_m
    )
    station, offset = along_baseline(base, here)
    return abs(offset) + 2.0 * max(-station, station - length, 0.0)


def _away(corner: Corner, here: tuple[float, float]) -> float:
    return math.hypot(here[0] - corner.easting_m, here[1] - corner.northing_m)


def _cross(one: Corner, two: Corner, here: tuple[float, float]) -> float:
    """Positive on the right of the way from the first corner to the second."""
    run_e, run_n = two.easting_m - one.easting_m, two.northing_m - one.northing_m
    return run_n * (here[0] - one.easting_m) - run_e * (here[1] - one.northing_m)


def _cut(one: Corner, two: Corner, here: tuple[float, float]) -> float:
    """How well two swung tapes fix a place; 0 where they meet too flat."""
    first, second = _away(one, here), _away(two, here)
    if min(first, second) < 0.05:
        return 0.0
    sine = abs(_cross(one, two, here)) / (first * second)
    return sine / (1.0 + max(first, second) / _EASY_M) if sine >= LEAST_CUT else 0.0


def tape_words(job: Job, tape: Tape) -> str:
    """A place in words; empty where there is nothing to measure from.

    Examples
    --------
    >>> tape_words(Job("j"), Tape("B1", 4.0, -1.0))
    '4.00 m along B1, 1.00 m left of it'
    """
    units = job.display_units
    said = []
    if tape.baseline is not None and tape.station_m is not None and tape.offset_m is not None:
        station, side = words.length(tape.station_m, units), "right" if tape.offset_m > 0 else "left"
        before = " before its start" if tape.station_m < -0.005 else ""
        off = (
            f", {words.length(tape.offset_m, units)} {side} of it"
            if abs(tape.offset_m) >= 0.005
            else ", on it"
        )
        said.append(f"{station} along {tape.baseline}{before}{off}")
    if tape.ties:
        (one, first), (two, second) = tape.ties
        said.append(
            f"{words.length(first, units)} from {one} and {words.length(second, units)} from {two}, "
            f"{tape.tie_side} of the way between them"
        )
    return "; ".join(said)


def place_words(job: Job, easting_m: float, northing_m: float) -> str:
    """A place in words by tape, by its coordinates where the job has nothing to measure from."""
    said = tape_words(job, tape_of(job, easting_m, northing_m))
    return said or f"easting {easting_m:.2f} m, northing {northing_m:.2f} m"
