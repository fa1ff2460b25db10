"""Draws at one place and their weights: scene, mark, display, and how well what was written fits.

A draw is a *label* (what the written depth is), whose peak the mark is on, and a vector of coordinates. Those
of the scene are standard normal under the prior. The depth and the error of the mark count from where this
scene would put them given what was written, so that few draws are wasted; their prior density comes in as a
number. So importance weights are exact.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.place_aim import MOST_ROWS, aim
from plumbmark.inference.place_data import BESIDE, PlaceData
from plumbmark.inference.place_fit import (
    current_fit,
    depth_fit,
    gap_fit,
    halves_fit,
    holes_fit,
    raised_fit,
    refused_odds,
)
from plumbmark.inference.place_scene import (
    ASIDE,
    DEPTH,
    LEAST_LN,
    LN_DEPTH_0,
    LN_ROOT_2PI,
    MARK,
    MOST_IMAGES,
    MOST_LN,
    OWN,
    PER_SECOND,
    Q_DEPTH,
    ROOT_2PI,
    SECOND_DEPTH_CUT,
    mark_sigmas,
    scene_of,
    second_depth,
    whose_peak,
)
from plumbmark.inference.priors import (
    ANYTHING_PER_LN,
    BESIDE_SIGMA_M,
    CURRENT_TEN_SHARE,
    DEPTH_LOG_SIGMA,
    DEPTH_SIGMA,
    HALF_SIGMA_M,
    RAISE_SIGMA_M,
    SLIP_ODDS,
)
from plumbmark.inference.scene import marked_peak, put_line, put_scene, skin_depth_of
from plumbmark.inference.second import Known
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE
from plumbmark.physics.display import current_at, depth_at, half_of, null_of

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]
COMPLEXES = NDArray[np.complex128]

# -- what is filled in for each draw -------------------------------------------------------------------
LOG_TARGET = 0  # log of prior times likelihood in these coordinates, the odds of the label left out
LOG_FIRST = 1  # log density that the first proposal has here
AT = 2  # the mark, right of the line [m]
LN_DEPTH = 3
LN_SHOWN_CURRENT = 4  # ln of displayed over true current
ALONE = 5  # 1 where other currents move the mark by less than 5 cm and the depth by less than 5 %
FLIPPED = 6  # chance that the null was written on the wrong side
GAP_SLIPPED = 7  # ... that the null is any other slip
RAISED_SLIPPED = 8
FIT = 9  # log likelihood
SECOND_DEPTHS = 10  # ln depth of each second line
COLUMNS: Final = 12

STUDENT_0: Final = math.lgamma(3.5) - math.lgamma(3.0) - 0.5 * math.log(6.0 * math.pi)
#: The first proposal takes depths from the prior for this share of draws, where the guess may be wrong.
FROM_PRIOR: Final = 0.1


@kernel
def student(e: float) -> float:
    """Log density of Student's t with six degrees of freedom, the proposals' tails."""
    return STUDENT_0 - 3.5 * math.log1p(e * e / 6.0)


@kernel
def _log(density: float) -> float:
    """Natural logarithm; of a density too small for a float a very low number."""
    return math.log(max(density, 1e-300))


@kernel
def _readings_fit(
    u: FLOATS,
    label: int,
    d: PlaceData,
    theta: FLOATS,
    t: float,
    shown: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    n: int,
    out: FLOATS,
) -> float:
    """Log likelihood of half points, depth, raised depth and current for a mark at `t`."""
    lower, spacing, error = theta[3], theta[4], theta[1]
    scatter = math.exp(theta[0])
    fit = 0.0
    if not math.isnan(d.half_left[0]) or not math.isnan(d.half_right[0]):
        left = half_of(t, -1.0, lower, at, deep, current, n)
        right = half_of(t, 1.0, lower, at, deep, current, n)
        fit += _log(halves_fit(d, left, right, scatter * HALF_SIGMA_M))
    if d.refused:
        fit += _log(refused_odds(shown))
    elif not math.isnan(d.depth[0, 0]):
        there = t + BESIDE_SIGMA_M * u[ASIDE] if label == BESIDE else t
        aside = depth_at(there, lower, spacing, 0.0, error, at, deep, current, n)
        density = depth_fit(label, d, shown, aside, theta, scatter * DEPTH_SIGMA)
        fit += _log(density * (1.0 - refused_odds(shown)))
    if not math.isnan(d.raised[0, 0]):
        above = depth_at(t, lower, spacing, d.raised_by, error, at, deep, current, n)
        block = math.hypot(scatter * RAISE_SIGMA_M, d.raised_by_sigma)
        noise = math.hypot(scatter * DEPTH_SIGMA, block / above)
        density, out[RAISED_SLIPPED] = raised_fit(label, d, above, theta, noise)
        fit += _log(density)
    out[LN_SHOWN_CURRENT] = math.log(max(current_at(t, shown, lower, at, deep, current, n), 1e-12))
    if not math.isnan(d.current[0]):
        right, more, less = current_fit(d, out[LN_SHOWN_CURRENT], scatter)
        anything = SLIP_ODDS * (1.0 - CURRENT_TEN_SHARE[0] - CURRENT_TEN_SHARE[1]) * ANYTHING_PER_LN
        fit += _log(right + more + less + anything)
    return fit


@kernel
def _prior_of(u: FLOATS, aimed: int, whose: int, known: Known) -> tuple[float, float, float]:
    """Log prior of the coordinates of the scene; prior mean and sigma of the depth that is aimed."""
    own = 0.0
    for j in range(u.shape[0]):
        if j not in (MARK, aimed):
            own -= 0.5 * u[j] * u[j] + LN_ROOT_2PI
    if whose == 0:
        return own, LN_DEPTH_0, DEPTH_LOG_SIGMA
    mean, sigma = second_depth(u, aimed - Q_DEPTH, known)
    return own, mean, sigma


@kernel
def weigh(
    u: FLOATS,
    label: int,
    whose: int,
    given: float,
    d: PlaceData,
    known: Known,
    theta: FLOATS,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    rows: FLOATS,
    out: FLOATS,
) -> None:
    """Scene, display and weight of one draw, into `out` (the columns at the head of the module).

    `whose` peak is taken to be marked: where in truth it would be another's, the weight is nothing, so that
    draws of all together count everything once. `given` is the normal deviate of a depth that is drawn from
    the prior, whose coordinate is then filled in; NaN: the coordinate counts.
    """
    out[:] = 0.0
    out[LOG_TARGET] = -math.inf
    scene_of(u, known, theta)
    lower, spacing, error = theta[3], theta[4], theta[1]
    skin = skin_depth_of(theta, d.frequency_hz)
    aimed = DEPTH if whose == 0 else OWN + PER_SECOND * (whose - 1) + Q_DEPTH
    prior, mean, sigma = _prior_of(u, aimed, whose, known)
    z = LN_DEPTH_0 + DEPTH_LOG_SIGMA * u[DEPTH]
    goal, scale, mark, tilt, width = aim(
        label, whose, u[ASIDE], z, mean, sigma, d, theta, skin, at, deep, current, rows
    )
    y = mean + sigma * given if not math.isnan(given) else goal + scale * u[aimed]
    u[aimed] = (y - goal) / scale
    e = (y - mean) / sigma
    depth_prior = -0.5 * e * e + math.log(scale / (sigma * ROOT_2PI))
    about = (1.0 - FROM_PRIOR) * math.exp(student(u[aimed])) + FROM_PRIOR * math.exp(depth_prior)
    out[LOG_FIRST] = prior + math.log(about) + student(u[MARK])
    if whose == 0:
        z = y
    elif SECOND_DEPTH_CUT[0] < y < SECOND_DEPTH_CUT[1]:
        theta[FIRST_LINE + PER_LINE * (whose - 1) + 2] = y
    else:
        return
    if z < LEAST_LN or z > MOST_LN:
        return
    n = int(put_scene(theta, z, 0.0, skin, at, deep, current))
    peak = marked_peak(lower, at, deep, current, n)
    if whose_peak(theta, z, peak) != whose:
        return
    null = null_of(peak, lower, 0 if theta[5] < 0.5 else 1, at, deep, current, n)
    noise, spread = mark_sigmas(d, theta, z)
    off = mark + tilt * u[aimed] + width * u[MARK]
    t = off + (null if d.mark_kind == 1 else peak)
    fit = holes_fit(d, t, z)
    if not math.isnan(d.gap[0]):
        density, out[FLIPPED], out[GAP_SLIPPED] = gap_fit(d, null - t, noise)
        fit += _log(density)
    shown = depth_at(t, lower, spacing, 0.0, error, at, deep, current, n)
    fit += _readings_fit(u, label, d, theta, t, shown, at, deep, current, n, out)
    for k in range((theta.shape[0] - FIRST_LINE) // PER_LINE):
        out[SECOND_DEPTHS + k] = theta[FIRST_LINE + PER_LINE * k + 2]
    out[AT] = t
    out[LN_DEPTH] = z
    out[FIT] = fit
    out[LOG_TARGET] = (
        prior + depth_prior - 0.5 * (off / spread) ** 2 + math.log(width / (spread * ROOT_2PI)) + fit
    )
    at_peak = depth_at(peak, lower, spacing, 0.0, 0.0, at, deep, current, n)
    one = put_line(0, 0.0, math.exp(z), 1.0, 0.0, skin, at, deep, current)
    alone = depth_at(0.0, lower, spacing, 0.0, 0.0, at, deep, current, one)
    out[ALONE] = 1.0 if abs(peak) < 0.05 and abs(at_peak / alone - 1.0) < 0.05 else 0.0


@kernel
def weigh_many(
    u: FLOATS, label: INTS, whose: INTS, given: FLOATS, d: PlaceData, known: Known, lines: int, out: FLOATS
) -> None:
    """`weigh` of each row of `u`, shape (n, OWN + PER_SECOND * lines); `out` has shape (n, COLUMNS)."""
    theta = np.empty(FIRST_LINE + PER_LINE * lines)
    at = np.empty(MOST_IMAGES)
    deep = np.empty(MOST_IMAGES, dtype=np.complex128)
    current = np.empty(MOST_IMAGES, dtype=np.complex128)
    rows = np.empty((MOST_ROWS, 4))
    for i in range(u.shape[0]):
        weigh(u[i], label[i], whose[i], given[i], d, known, theta, at, deep, current, rows, out[i])
        if math.isnan(out[i, LOG_TARGET]):
            out[i, LOG_TARGET] = -math.inf
