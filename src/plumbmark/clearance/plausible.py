"""Remarks on plausibility: minimum cover, records beside solved lines, what test holes found.

None of them lowers a demand.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from plumbmark.base.datafile import read_data
from plumbmark.base.spoken import spoken_length
from plumbmark.clearance.things import RECORD_SIGMA_M, Z_95, Thing
from plumbmark.clearance.zones import Band
from plumbmark.model.clearance import Met
from plumbmark.model.estimate import LineEstimate
from plumbmark.model.job import Job
from plumbmark.model.reading import TestHole

HOLE_SIGMA_M = 0.05  # of a hole's own tape and place, beside the band: 2 sigma of 2.5 cm
NEAR_M = 3.0


def cover_notes(job: Job, things: Sequence[Thing]) -> tuple[str, ...]:
    """Lines whose top is solved shallower than every published minimum cover for what they carry.

    Parameters
    ----------
    job : Job
    things : sequence of Thing

    Returns
    -------
    tuple of str
        One sentence a line; cover is what somebody was to give it once, and limits nothing.
    """
    utilities = {line.id: line.utility.value for line in job.lines}
    notes = []
    for thing in things:
        if thing.met is not Met.LINE or thing.estimate is None:
            continue
        rows = [r for r in read_data("cover")["rows"] if utilities[thing.name] in r["utilities"]]
        if not rows:
            continue
        least = min(rows, key=lambda r: float(r["cover_m"]))
        shallow = min(thing.estimate.stations, key=lambda s: s.depth_m.high)
        top = shallow.depth_m.high - thing.radius_m
        if top < float(least["cover_m"]):
            down = spoken_length(max(top, 0.0), job.display_units)
            asked = spoken_length(float(least["cover_m"]), job.display_units)
            notes.append(
                f"{thing.name} at {shallow.id}: the top is {down} down at most, less than the {asked} of "
                f"{least['rule']} ({least['source']}). Plausible where ground was taken off; else doubt the "
                "reading. Cover is no limit: lines lie shallower than they were to"
            )
    return tuple(notes)


def record_notes(job: Job, things: Sequence[Thing], bands: Mapping[str, Band]) -> tuple[str, ...]:
    """Records of solved lines that lie farther off than their own sigma and the line's band explain."""
    notes = []
    for thing in things:
        if thing.met is not Met.LINE:
            continue
        band = bands[thing.name]
        for record in job.records:
            if record.line != thing.name:
                continue
            sigma = RECORD_SIGMA_M if record.position_sigma_m is None else record.position_sigma_m
            off = _farthest(band, np.array(record.path, dtype=np.float64))
            half = 0.5 * float(np.median(band.high_m - band.low_m))
            if off is not None and abs(off) > math.hypot(Z_95 * sigma, half):
                side = "right" if off > 0.0 else "left"
                far = spoken_length(abs(off), job.display_units)
                notes.append(
                    f"Record {record.id} has {thing.name} up to {far} to the {side} of where it was solved: "
                    "more than the drawing's own error. One of the two may be another line"
                )
    return tuple(notes)


def _farthest(band: Band, path: np.ndarray) -> float | None:
    """Greatest distance to the right or left of a drawn path from a line, along what both cover."""
    chainage = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.linspace(0.0, chainage[-1], max(2, int(chainage[-1] / 0.5)))
    offs = []
    for east, north in zip(*(np.interp(at, chainage, path[:, k]) for k in (0, 1)), strict=True):
        k = int(np.hypot(*(band.centre - (east, north)).T).argmin())
        if 0 < k < len(band.centre) - 1:
            offs.append(float((np.array([east, north]) - band.centre[k]) @ band.right[k]))
    return max(offs, key=abs) if offs else None


def hole_against(hole: TestHole, estimate: LineEstimate, diameter_m: float | None, units: str) -> str:
    """How a test hole differs from what was said of the line there; empty where it does not.

    Parameters
    ----------
    hole : TestHole
        That found the line.
    estimate : LineEstimate
        Of the line, made without the hole.
    diameter_m : float or None
        Of the line as listed; the hole's own is better.
    units : str

    Returns
    -------
    str
        To be read after "found E1 ".
    """
    here = (hole.place.easting_m, hole.place.northing_m)
    nearest = min(estimate.stations, key=lambda s: math.dist(here, (s.easting_m, s.northing_m)))
    if math.dist(here, (nearest.easting_m, nearest.northing_m)) > NEAR_M:
        return ""
    right = math.radians(nearest.right_deg)
    aside = (here[0] - nearest.mark_easting_m) * math.sin(right) + (
        here[1] - nearest.mark_northing_m
    ) * math.cos(right)
    slack = HOLE_SIGMA_M + 2.0 * (hole.place.sigma_m or 0.0)
    shift = nearest.lateral_shift_m
    if not shift.low - slack <= aside <= shift.high + slack:
        off = aside - shift.value
        return f"{spoken_length(abs(off), units)} {'right' if off > 0 else 'left'} of where it was to be"
    if hole.depth_to_top_m is None:
        return ""
    size = hole.outside_diameter_m.value if hole.outside_diameter_m is not None else diameter_m
    top = hole.depth_to_top_m.value
    low, high = top + 0.5 * (size or 0.0), top + (0.5 * size if size is not None else 0.3)
    if high < nearest.depth_m.low - HOLE_SIGMA_M or low > nearest.depth_m.high + HOLE_SIGMA_M:
        way = "shallower" if high < nearest.depth_m.low else "deeper"
        return f"{way} than it was to be: the top at {spoken_length(top, units)}"
    return ""
