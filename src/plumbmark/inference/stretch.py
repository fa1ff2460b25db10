"""The numbers of one stretch of one line, as arrays: what the evidence is computed from.

Chainage counts from the middle of the stretch. *Right* is that of increasing chainage for all offsets here;
rows that look the other way were turned round when the stretch was made. NaN means not taken: it never
reaches an equation, every use is behind a test for it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

# -- the globals of a stretch, in the order in which they stand in a vector of them ------------------------
SCATTER = 0  # ln of the common factor of the job's noise
COIL_ERROR = 1  # upper coil over lower, minus one
SOIL = 2  # ln resistivity
LOWER_COIL = 3
COIL_SPACING = 4
NULL_KIND = 5  # below one half: sign change in phase; above: least amplitude
FIRST_LINE = 6  # then seven for each second line:
OFFSET = 0  # to the right, at the middle of the stretch [m]
ANGLE = 1  # its change per metre
LN_DEPTH = 2
RATIO_RE = 3
RATIO_IM = 4
RATIO_SLOPE = 5  # change of ln ratio per metre: the two currents leak away differently
DEPTH_SLOPE = 6  # change of its ln depth per metre
PER_LINE = 7
# A further receiver adds a coil error, two coil places and a null kind, a further setup a ratio and its slope
# of every second line: at the end of the vector, receivers first. `theta_of_setup` puts them in their place.
PER_RECEIVER = 4
PER_SETUP_AND_LINE = 3

# -- what is kept of every station under one set of globals, in the order of the rows of a state -------------
DEPTH_MEAN = 0  # ln depth, smoothed
DEPTH_VAR = 1
MARK_MEAN = 2  # where the mark lies right of the line [m]
MARK_VAR = 3
SHOWN_CURRENT = 4  # ln of displayed over true current
ALONE = 5  # 1 where the other currents move nothing that matters, else 0
ACROSS_MEAN = 6  # the line across its leg [m], smoothed
ACROSS_VAR = 7
STATION_FIT = 8  # log likelihood of the station at its smoothed depth
DEPTH_DATUM = 9  # the Gaussian that stands for the station: ln depth ...
DEPTH_PRECISION = 10
ACROSS_DATUM = 11  # ... and the line across its leg
ACROSS_PRECISION = 12
ROWS = 13


class Stretch(NamedTuple):
    """Arrays of shape (n,) unless said; variances split into a part that the job's scatter scales and a
    part (rounding, ranges) that it does not.
    """

    at: FLOATS  # chainage from the middle [m]
    peak_sigma: FLOATS  # finding the peak [m]
    mark_kind: INTS  # 0 on the peak, 1 on the null, 2 not known
    gap: FLOATS  # null minus mark [m]
    gap_floor: FLOATS  # [m2]
    half_left: FLOATS
    half_left_floor: FLOATS
    half_right: FLOATS
    half_right_floor: FLOATS
    ln_depth: FLOATS
    ln_depth_floor: FLOATS
    ln_raised: FLOATS
    ln_raised_floor: FLOATS
    raise_index: INTS  # into raises; -1 none
    raises: FLOATS  # shape (r,), [m]
    ln_current: FLOATS
    ln_current_floor: FLOATS
    seen_ln_depth: FLOATS  # exposed in a test hole: ln depth to centre
    seen_var: FLOATS
    across: FLOATS  # mark across its leg of the route [m]
    fix_var: FLOATS
    seen_across: FLOATS  # exposed: where, across the leg
    seen_across_var: FLOATS
    leg: INTS
    profile_start: INTS  # first point of the station's walk across, in the arrays below
    profile_count: INTS
    point_offset: FLOATS  # shape (m,) from the mark [m]
    point_height: FLOATS
    point_across: FLOATS  # amplitudes, linear
    point_across_sigma: FLOATS
    point_upright: FLOATS
    point_upright_sigma: FLOATS
    side_stand: FLOATS  # a reading from beside the line: where it stood, right of the course of the marks [m]
    side_var: FLOATS  # of that, as a place right of the line [m2]
    side_cells: FLOATS  # shape (n, 4): as `side_shot.cells_of` gives them
    setup: INTS
    dug_ln_depth: FLOATS  # dug to, and not found: ln of the depth reached
    dug_beside: FLOATS  # and how likely it is that the line passes beside the hole
    receiver_of: INTS  # shape (setups,): number of the setup's receiver
    frequency_hz: FLOATS  # shape (setups,)
    has_halves: bool
    has_null_marks: bool


#: Fields that have not one row a station.
WHOLE = frozenset(
    {
        "raises",
        "point_offset",
        "point_height",
        "point_across",
        "point_across_sigma",
        "point_upright",
        "point_upright_sigma",
        "receiver_of",
        "frequency_hz",
        "has_halves",
        "has_null_marks",
    }
)


@kernel
def lines_in(size: int, setups: int, receivers: int) -> int:
    """Number of second lines in a vector of `size` globals."""
    own = size - FIRST_LINE - PER_RECEIVER * (receivers - 1)
    return own // (PER_LINE + PER_SETUP_AND_LINE * (setups - 1))


@kernel
def theta_of_setup(
    theta: FLOATS, setups: int, receivers: int, setup: int, receiver: int, out: FLOATS
) -> None:
    """The globals as one setup has them, in the order of a job with one, into `out`."""
    lines = lines_in(theta.shape[0], setups, receivers)
    size = FIRST_LINE + PER_LINE * lines
    for j in range(size):
        out[j] = theta[j]
    if receiver > 0:
        k = size + PER_RECEIVER * (receiver - 1)
        out[COIL_ERROR] = theta[k]
        out[LOWER_COIL] = theta[k + 1]
        out[COIL_SPACING] = theta[k + 2]
        out[NULL_KIND] = theta[k + 3]
    if setup > 0:
        k = size + PER_RECEIVER * (receivers - 1) + PER_SETUP_AND_LINE * lines * (setup - 1)
        for line in range(lines):
            j = FIRST_LINE + PER_LINE * line
            out[j + RATIO_RE] = theta[k]
            out[j + RATIO_IM] = theta[k + 1]
            out[j + RATIO_SLOPE] = theta[k + 2]
            k += PER_SETUP_AND_LINE


def picked(d: Stretch, pick: INTS) -> Stretch:
    """Some of the stations of a stretch; their walks across come along whole."""
    return d._replace(**{f: getattr(d, f)[pick] for f in d._fields if f not in WHOLE})


def thetas_at(thetas: FLOATS, d: Stretch, station: int) -> FLOATS:
    """Each row of globals as the setup of a station has them, in the order of a job with one setup."""
    setups, receivers = len(d.frequency_hz), int(d.receiver_of.max()) + 1
    lines = lines_in(thetas.shape[1], setups, receivers)
    out = np.empty((len(thetas), FIRST_LINE + PER_LINE * lines))
    setup = int(d.setup[station])
    for row, into in zip(thetas, out, strict=True):
        theta_of_setup(row, setups, receivers, setup, int(d.receiver_of[setup]), into)
    return out
