r"""What one reading from the side says of a line near it: the likelihood of offset and depth.

The receiver leans by an angle nobody knows, and its direction leans with it: from 5.8 m beside, a degree is
10 cm of depth. The likelihood of the distance and the depth displayed is therefore integrated over the lean,
by the trapezoidal rule on 41 angles out to four standard deviations. Fields are those of `physics.side`,
images of the ground and of a second line included; as they change little over so small an angle, they are
computed at three leans and read off by parabolas in between.

A cell holds its value with `SIDE_SIGMA` of what is shown, or is a slip (`cells.slip_density`).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.cells import LEAST_SHOWN_M, cell_likelihood, slip_density, value_and_half
from plumbmark.inference.priors import DEPTH_SIGMA as SIDE_SIGMA  # the file contract: the same 3 %
from plumbmark.inference.priors import SLIP_ODDS
from plumbmark.inference.scene import put_line
from plumbmark.model.reading import SideReading
from plumbmark.physics.halfspace import HALFSPACE_IMAGES
from plumbmark.physics.images import across_upright

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

TILT_SIGMA: Final = math.radians(1.0)  # how far from plumb a receiver is held; no source
MOST_SHOWN_M: Final = 50.0  # as `physics.side.NO_RANGE_M`

_NODES = np.linspace(-4.0, 4.0, 41)
_TILT: Final[FLOATS] = _NODES * TILT_SIGMA
_COS: Final[FLOATS] = np.cos(_TILT)
_SIN: Final[FLOATS] = np.sin(_TILT)
_WEIGHT: Final[FLOATS] = np.exp(-0.5 * _NODES**2) / np.exp(-0.5 * _NODES**2).sum()
_WIDE: Final = 2.0 * TILT_SIGMA  # the fields are computed plumb and at this lean to either side
_WIDE_COS: Final = math.cos(_WIDE)
_WIDE_SIN: Final = math.sin(_WIDE)
#: Images that a line and a second one need at most.
ROOM: Final = 2 * HALFSPACE_IMAGES

# -- a shot as a row of numbers ------------------------------------------------------------------------
DISTANCE: Final = 0  # displayed [m], NaN where not taken
DISTANCE_HALF: Final = 1  # half the range or the rounding it was written with [m]
DEPTH: Final = 2
DEPTH_HALF: Final = 3


def cells_of(shot: SideReading) -> FLOATS:
    """The numbers of a shot, shape (4,): value and half range of distance and depth [m]."""
    return np.array([*value_and_half(shot.distance_m), *value_and_half(shot.depth_m)])


@kernel
def lean_fields(
    stand: float,
    lower: float,
    spacing: float,
    coil_error: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    n: int,
    out: FLOATS,
) -> None:
    """What the direction and the range hang on, at three leans, into `out` of shape (4, 3).

    Squares of the across and upright fields, their common part, and by how much the total field's square at
    the lower coil exceeds that at the upper one.
    """
    for k in range(3):
        c = 1.0 if k == 1 else _WIDE_COS
        s = (k - 1.0) * _WIDE_SIN
        h, v = across_upright(stand + lower * s, lower * c, at, deep, current, n)
        top = lower + spacing
        h2, v2 = across_upright(stand + top * s, top * c, at, deep, current, n)
        low = h.real**2 + h.imag**2 + v.real**2 + v.imag**2
        high = (h2.real**2 + h2.imag**2 + v2.real**2 + v2.imag**2) * (1.0 + coil_error) ** 2
        out[0, k] = (h.real**2 + h.imag**2) / low
        out[1, k] = (v.real**2 + v.imag**2) / low
        out[2, k] = (h.real * v.real + h.imag * v.imag) / low
        out[3, k] = low / high - 1.0
    for i in range(4):  # to the terms of a parabola in the lean over `_WIDE`
        a, b, c = out[i, 0], out[i, 1], out[i, 2]
        out[i, 0] = b
        out[i, 1] = 0.5 * (c - a)
        out[i, 2] = 0.5 * (c + a) - b


@kernel
def shown_leaning(
    fields: FLOATS, c: float, s: float, t: float, lower: float, spacing: float
) -> tuple[float, float]:
    """Distance and depth displayed at a lean of cosine `c`, sine `s`, `t` times `_WIDE`."""
    hh = fields[0, 0] + t * (fields[0, 1] + t * fields[0, 2])
    vv = fields[1, 0] + t * (fields[1, 1] + t * fields[1, 2])
    hv = fields[2, 0] + t * (fields[2, 1] + t * fields[2, 2])
    excess = fields[3, 0] + t * (fields[3, 1] + t * fields[3, 2])
    across = max(hh * c * c + vv * s * s + 2.0 * c * s * hv, 0.0)
    upright = max(vv * c * c + hh * s * s - 2.0 * c * s * hv, 0.0)
    whole = across + upright
    plumb = math.sqrt(across / whole)
    aside = math.sqrt(upright / whole)
    reach = MOST_SHOWN_M
    b = spacing * plumb
    if excess * MOST_SHOWN_M**2 > 2.0 * b * MOST_SHOWN_M + spacing**2:
        reach = (b + math.sqrt(b * b + excess * spacing * spacing)) / excess
    return max(reach * aside, LEAST_SHOWN_M), max(reach * plumb - lower, LEAST_SHOWN_M)


@kernel
def shot_log_likelihood(
    stand: float,
    lower: float,
    spacing: float,
    coil_error: float,
    scatter: float,
    shot: FLOATS,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    n: int,
    fields: FLOATS,
) -> float:
    """Log density of the distance and depth displayed, the lean integrated out.

    Parameters
    ----------
    stand : float, [m]
        Lateral position of the receiver's foot, in the frame of the images.
    lower, spacing : float, [m]
    coil_error : float
        Relative error of the upper coil against the lower one.
    scatter : float
        The job's factor on `SIDE_SIGMA`.
    shot : array, shape (4,)
        As `cells_of` gives it.
    at, deep, current : arrays, shape (n,) or longer
        Image lines, as in `physics.display`.
    fields : array, shape (4, 3)
        Scratch.
    """
    lean_fields(stand, lower, spacing, coil_error, at, deep, current, n, fields)
    has_distance = not math.isnan(shot[DISTANCE])
    has_depth = not math.isnan(shot[DEPTH])
    odd_distance = SLIP_ODDS * slip_density(shot[DISTANCE]) if has_distance else 0.0
    odd_depth = SLIP_ODDS * slip_density(shot[DEPTH]) if has_depth else 0.0
    total = 0.0
    for k in range(_TILT.size):
        distance, depth = shown_leaning(fields, _COS[k], _SIN[k], _TILT[k] / _WIDE, lower, spacing)
        value = _WEIGHT[k]
        if has_distance:
            sigma = SIDE_SIGMA * scatter * distance
            good = cell_likelihood(shot[DISTANCE], shot[DISTANCE_HALF], distance, sigma)
            value *= (1.0 - SLIP_ODDS) * good + odd_distance
        if has_depth:
            sigma = SIDE_SIGMA * scatter * depth
            good = cell_likelihood(shot[DEPTH], shot[DEPTH_HALF], depth, sigma)
            value *= (1.0 - SLIP_ODDS) * good + odd_depth
        total += value
    return math.log(total + 1e-300)


@kernel
def shots_log_likelihood(
    stand: FLOATS,
    ln_depth: FLOATS,
    skin: FLOATS,
    lower: FLOATS,
    spacing: FLOATS,
    coil_error: FLOATS,
    scatter: FLOATS,
    second: FLOATS,
    shots: FLOATS,
    out: FLOATS,
) -> None:
    """Log likelihood of all `shots`, shape (m, 4), under each of n sets of unknowns, added to `out`.

    Parameters
    ----------
    stand : array, shape (n, m), [m]
        Of the receivers, right of the line.
    ln_depth : array, shape (n, m)
        Of the line, beside each.
    skin, lower, spacing, coil_error, scatter : array, shape (n,)
    second : array, shape (n, 4), or (0, 4) for none
        Offset right of the line [m], depth [m], real and imaginary part of the ratio of currents.
    """
    at = np.empty(ROOM)
    deep = np.empty(ROOM, dtype=np.complex128)
    current = np.empty(ROOM, dtype=np.complex128)
    fields = np.empty((4, 3))
    for i in range(stand.shape[0]):
        for k in range(stand.shape[1]):
            n = put_line(0, 0.0, math.exp(ln_depth[i, k]), 1.0, 0.0, skin[i], at, deep, current)
            if second.shape[0] > 0:
                q, d, re, im = second[i, 0], second[i, 1], second[i, 2], second[i, 3]
                n = put_line(n, q, d, re, im, skin[i], at, deep, current)
            out[i] += shot_log_likelihood(
                stand[i, k], lower[i], spacing[i], coil_error[i], scatter[i], shots[k],
                at, deep, current, n, fields,
            )  # fmt: skip


@kernel
def shown_many(
    stand: FLOATS,
    ln_depth: FLOATS,
    skin: FLOATS,
    lower: FLOATS,
    spacing: FLOATS,
    coil_error: FLOATS,
    tilt: FLOATS,
    second: FLOATS,
    out: FLOATS,
) -> None:
    """Distance and depth displayed, into `out` of shape (n, m, 2); `tilt` has shape (n, m) [rad]."""
    at = np.empty(ROOM)
    deep = np.empty(ROOM, dtype=np.complex128)
    current = np.empty(ROOM, dtype=np.complex128)
    fields = np.empty((4, 3))
    for i in range(stand.shape[0]):
        for k in range(stand.shape[1]):
            n = put_line(0, 0.0, math.exp(ln_depth[i, k]), 1.0, 0.0, skin[i], at, deep, current)
            if second.shape[0] > 0:
                q, d, re, im = second[i, 0], second[i, 1], second[i, 2], second[i, 3]
                n = put_line(n, q, d, re, im, skin[i], at, deep, current)
            lean_fields(stand[i, k], lower[i], spacing[i], coil_error[i], at, deep, current, n, fields)
            c, s, t = math.cos(tilt[i, k]), math.sin(tilt[i, k]), tilt[i, k] / _WIDE
            out[i, k, 0], out[i, k, 1] = shown_leaning(fields, c, s, t, lower[i], spacing[i])
