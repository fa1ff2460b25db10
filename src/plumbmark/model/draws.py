"""Joint samples of a solved line: what a clearance check counts on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FLOATS = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LineDraws:
    """`n` samples of one line at `m` chainages; row i of every line of a job is one state of the whole job.

    Attributes
    ----------
    line : str
    chainage_m : shape (m,), [m]
        Along the route of the marks, from the first station's end to the last.
    easting_m, northing_m : shape (n, m), [m]
        The ground above the line.
    depth_m : shape (n, m), [m]
        Ground to the centre of the conductor.
    ln_depth_mean, ln_depth_sd : shape (n, m)
        Under sample i all else being as it is, ln depth is normal with these: tails can be had in closed
        form instead of by counting.
    """

    line: str
    chainage_m: FLOATS
    easting_m: FLOATS
    northing_m: FLOATS
    depth_m: FLOATS
    ln_depth_mean: FLOATS
    ln_depth_sd: FLOATS
