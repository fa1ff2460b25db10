"""Where to look for the depth and the mark in a given scene: near what was written, before it is weighed.

A guess only: draws are made about it and weighed exactly, so that a poor one costs draws and nothing else.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.place_data import BESIDE, FEET_INCHES, SONDE_MODE, PlaceData
from plumbmark.inference.place_scene import (
    LEAST_LN,
    LN_DEPTH_0,
    MOST_LN,
    mark_sigmas,
)
from plumbmark.inference.priors import BESIDE_SIGMA_M, DEPTH_SIGMA, HALF_SIGMA_M, RAISE_SIGMA_M
from plumbmark.inference.scene import marked_peak, put_scene
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE
from plumbmark.physics.display import depth_at, half_of, null_of

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

MOST_ROWS: Final = 8
#: Guesses are widened by this, for what is not linear in them.
WIDER: Final = 1.1


@kernel
def _middle(cell: FLOATS) -> float:
    return 0.5 * float(cell[0] + cell[1])


@kernel
def _anchor(label: int, whose: int, d: PlaceData, theta: FLOATS) -> tuple[float, bool]:
    """What to aim the depth at: ln of what a display shows (True) or about that of the line (False)."""
    if label <= FEET_INCHES or label == BESIDE:
        k = label if label <= FEET_INCHES else 0
        if not math.isnan(d.depth[k, 0]):
            return _middle(d.depth[k]), True
    if label == SONDE_MODE and not math.isnan(d.depth[0, 0]):
        shown = math.exp(_middle(d.depth[0])) + theta[3]
        ratio = (theta[4] / shown + 1.0) ** 3
        return math.log(max(theta[4] / (ratio - 1.0) - theta[3], 0.05)), True
    if whose == 0 and not math.isnan(d.hole_ln_depth):
        return d.hole_ln_depth, False
    if not math.isnan(d.raised[0, 0]):
        return math.log(max(math.exp(_middle(d.raised[0])) - d.raised_by, 0.05)), True
    left, right = _middle(d.half_left), _middle(d.half_right)
    half = right if math.isnan(left) else left if math.isnan(right) else 0.5 * (left + right)
    return (LN_DEPTH_0 if math.isnan(half) else math.log(max(half, 0.05))), False


@kernel
def _put(
    y: float,
    whose: int,
    z: float,
    theta: FLOATS,
    skin: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
) -> tuple[float, int]:
    """Scene with the line whose peak is marked exp(`y`) deep; its peak and number of images.

    An infinite `skin` depth leaves the ground out: each line is one image, and all is much quicker.
    """
    if whose == 0:
        z = y
    else:
        theta[FIRST_LINE + PER_LINE * (whose - 1) + 2] = y
    if math.isinf(skin):
        n = 1
        at[0], deep[0], current[0] = 0.0, math.exp(z), 1.0
        k = FIRST_LINE
        while k + PER_LINE <= theta.shape[0]:
            at[n], deep[n], current[n] = theta[k], math.exp(theta[k + 2]), theta[k + 3] + 1j * theta[k + 4]
            n += 1
            k += PER_LINE
    else:
        n = int(put_scene(theta, z, 0.0, skin, at, deep, current))
    return float(marked_peak(theta[3], at, deep, current, n)), n


@kernel
def _rows(
    label: int,
    whose: int,
    y: float,
    z: float,
    slope: float,
    goal: float,
    aside: float,
    peak: float,
    n: int,
    d: PlaceData,
    theta: FLOATS,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    rows: FLOATS,
) -> int:
    """What each cell asks of the depth and of the mark's error: slopes by both, residue, variance."""
    lower, spacing, error = theta[3], theta[4], theta[1]
    scatter = math.exp(theta[0])
    sigma, _spread = mark_sigmas(d, theta, z)
    base = peak
    m = 0
    null = 0.0
    if d.mark_kind == 1 or not math.isnan(d.gap[0]):
        null = null_of(peak, lower, 0 if theta[5] < 0.5 else 1, at, deep, current, n)
    if d.mark_kind == 1:
        base = null
    here = depth_at(base + aside, lower, spacing, 0.0, error, at, deep, current, n)
    k = label if label <= FEET_INCHES else 0
    if not math.isnan(d.depth[k, 0]) and (label <= FEET_INCHES or label in (SONDE_MODE, BESIDE)):
        width = d.depth[k, 1] - d.depth[k, 0]
        rows[m] = (slope, 0.0, goal - math.log(here), (scatter * DEPTH_SIGMA) ** 2 + width * width / 12.0)
        m += 1
    if not math.isnan(d.raised[k, 0]) and label != SONDE_MODE:
        above = depth_at(base, lower, spacing, d.raised_by, error, at, deep, current, n)
        width = d.raised[k, 1] - d.raised[k, 0]
        block = (scatter * RAISE_SIGMA_M) ** 2 + d.raised_by_sigma**2
        noise = (scatter * DEPTH_SIGMA) ** 2 + width * width / 12.0 + block / (above * above)
        share = min(here / (here + d.raised_by), 1.0)
        rows[m] = (slope * share, 0.0, _middle(d.raised[k]) - math.log(above), noise)
        m += 1
    if not math.isnan(d.gap[0]):
        gap = _middle(d.gap)
        if not d.signed and gap * (null - base) < 0.0:
            gap = -gap
        width = d.gap[1] - d.gap[0]
        rows[m] = (0.0, -1.0, gap - (null - base), sigma * sigma + width * width / 12.0)
        m += 1
    noise = (scatter * HALF_SIGMA_M) ** 2
    for side in (-1.0, 1.0):
        cell = d.half_left if side < 0.0 else d.half_right
        if not math.isnan(cell[0]):
            half = half_of(base, side, lower, at, deep, current, n)
            width = cell[1] - cell[0]
            rows[m] = (slope * half, -side, _middle(cell) - half, noise + width * width / 12.0)
            m += 1
    if whose == 0 and not math.isnan(d.hole_ln_depth):
        rows[m] = (1.0, 0.0, d.hole_ln_depth - y, d.hole_depth_var)
        m += 1
    if not math.isnan(d.hole_at):
        rows[m] = (0.0, 1.0, -d.hole_at - base, d.hole_at_var)
        m += 1
    return m


@kernel
def _solved(
    rows: FLOATS, m: int, off: float, prior_sigma: float, spread: float
) -> tuple[float, float, float, float, float]:
    """Least squares over the rows and the priors, rows far out counted less.

    Returns the step of the depth, its sigma, the mark's error, its slope by the depth's deviate, its sigma.
    """
    step = 0.0
    mark = 0.0
    for turn in range(3):
        a = 1.0 / (prior_sigma * prior_sigma)
        b = 0.0
        c = 1.0 / (spread * spread)
        f = off * a
        g = 0.0
        for i in range(m):
            by_depth, by_mark, residue, var = rows[i, 0], rows[i, 1], rows[i, 2], rows[i, 3]
            left = residue - by_depth * step - by_mark * mark
            wide = var + (by_mark * spread) ** 2 if turn == 0 else var
            w = 1.25 / (var * (1.0 + 0.25 * left * left / wide))
            w = min(w, 1.0 / var)
            a += w * by_depth * by_depth
            b += w * by_depth * by_mark
            c += w * by_mark * by_mark
            f += w * by_depth * residue
            g += w * by_mark * residue
        det = a * c - b * b
        step = (c * f - b * g) / det
        mark = (a * g - b * f) / det
    # covariance is the inverse: depth first, the mark given the depth
    sigma = math.sqrt(c / det)
    return step, sigma, mark, -b / c * sigma, math.sqrt(1.0 / c)


@kernel
def aim(
    label: int,
    whose: int,
    aside_deviate: float,
    z: float,
    mean: float,
    sigma: float,
    d: PlaceData,
    theta: FLOATS,
    skin: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    rows: FLOATS,
) -> tuple[float, float, float, float, float]:
    """Guess of ln depth of the line whose peak is marked, and of the mark's error, from what was written.

    Parameters
    ----------
    label, whose : int
        What the written depth is; whose peak: 0 the line's own, else that second line's.
    aside_deviate : float
        Where beside the mark the depth was taken, in sigmas.
    z : float
        ln depth of the line itself, where its own is not what is guessed.
    mean, sigma : float
        Prior of what is guessed.
    rows : shape (MOST_ROWS, 4)
        Scratch.

    Returns
    -------
    depth, sigma, mark, slope, sigma : float
        ln depth and its sigma; error of the mark [m], its change for one sigma of depth, its own sigma.
    """
    goal, shown = _anchor(label, whose, d, theta)
    aside = BESIDE_SIGMA_M * aside_deviate if label == BESIDE else 0.0
    y = goal
    slope = 1.0
    before_y = y
    before = 0.0
    for turn in range(5 if shown else 0):
        y = min(max(y, LEAST_LN), MOST_LN)
        peak, n = _put(y, whose, z, theta, math.inf, at, deep, current)
        here = math.log(depth_at(peak + aside, theta[3], theta[4], 0.0, theta[1], at, deep, current, n))
        if turn > 0 and abs(y - before_y) > 1e-9:
            slope = min(max((here - before) / (y - before_y), 0.4), 2.0)
        before_y = y
        before = here
        step = min(max((goal - here) / slope, -0.7), 0.7)
        if abs(step) < 0.04 or turn == 4:
            break
        y += step
    deviate = mark = tilt = width = 0.0
    for _turn in range(1 if shown else 3):
        peak, n = _put(y, whose, z, theta, skin, at, deep, current)
        own = y if whose == 0 else z
        _sigma, spread = mark_sigmas(d, theta, own)
        m = _rows(label, whose, y, own, slope, goal, aside, peak, n, d, theta, at, deep, current, rows)
        step, deviate, mark, tilt, width = _solved(rows, m, mean - y, sigma, spread)
        y = min(max(y + min(max(step, -0.7), 0.7), LEAST_LN), MOST_LN)
    return y, WIDER * deviate, mark, WIDER * tilt, WIDER * width
