"""Passes as the straight legs that chances are computed from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from plumbmark.model.sweep import Antenna, Pass, Point

FLOATS = NDArray[np.float64]

NOTED_FIX_M: Final = 0.10  # a fix better than this moves nothing that a sweep asks
SWAY_M: Final = 0.10  # wandering of fixes about a straight course: it is not the way the walker faced


def pass_legs(walk: Pass, antenna: Antenna) -> FLOATS:
    """A walked pass as straight legs for `noticed`, shape (m, 7).

    A pass with a poor fix counts as one sigma shorter at both ends, and one sigma farther from everything
    that it does not cross. Where no heading is written down the walker faces along the course, with the
    swaying of its fixes smoothed (Douglas and Peucker, 10 cm).
    """
    sigmas = [p.place.sigma_m for p in walk.points if p.place.sigma_m is not None]
    sigma = max(sigmas, default=0.0)
    sigma = sigma if sigma > NOTED_FIX_M else 0.0
    at = np.array([(p.place.easting_m, p.place.northing_m) for p in walk.points])
    headings = [p.heading_deg for p in walk.points]
    if len(at) > 2 and all(heading is None for heading in headings):
        at = np.asarray(LineString(at).simplify(max(SWAY_M, sigma), preserve_topology=False).coords)
    lengths = np.hypot(*np.diff(at, axis=0).T)
    before = np.concatenate([[0.0], np.cumsum(lengths)])
    legs = []
    for i, length in enumerate(lengths):
        low, high = max(sigma - before[i], 0.0), min(before[-1] - sigma - before[i], length)
        if length <= 0.0 or low >= high:
            continue
        ahead = (at[i + 1] - at[i]) / length
        heading = headings[i]
        if antenna is Antenna.THREE_AXIS:
            faced = (0.0, 0.0)
        elif heading is None:
            faced = (ahead[0], ahead[1])
        else:
            faced = (math.sin(math.radians(heading)), math.cos(math.radians(heading)))
        legs.append((*(at[i] + low * ahead), *(at[i] + high * ahead), *faced, sigma))
    return np.array(legs, float).reshape(-1, 7)


def chord_legs(path: Sequence[Point], antenna: Antenna) -> FLOATS:
    """A path to be walked, the receiver facing the way walked, as legs for `noticed`, shape (m, 7)."""
    at = np.asarray(path, float)
    run = np.diff(at, axis=0)
    length = np.hypot(run[:, 0], run[:, 1])
    keep = length > 0.0
    faced = run[keep] / length[keep, None] if antenna is Antenna.ONE_AXIS else np.zeros((int(keep.sum()), 2))
    return np.column_stack([at[:-1][keep], at[1:][keep], faced, np.zeros(int(keep.sum()))])
