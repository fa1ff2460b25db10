"""How well what was written at one place fits what the display would have shown: density of every cell.

A cell is the display with noise, or now and then a slip; densities are per metre, of depths and currents per
unit of their logarithm.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.place_data import ANYTHING, BESIDE, FEET_INCHES, SONDE_MODE, PlaceData
from plumbmark.inference.place_scene import LN_CURRENT_0, ROOT_2, ROOT_2PI
from plumbmark.inference.priors import (
    ANYTHING_PER_LN,
    ANYTHING_PER_M,
    CURRENT_LOG_SIGMA,
    CURRENT_SIGMA,
    CURRENT_TEN_SHARE,
    FLIP_ODDS,
    HOLE_MISS_ODDS,
    HOLE_RADIUS_M,
    REFUSED_FROM_M,
    REFUSED_LN_SCALE,
    REFUSED_ODDS,
    SLIP_ODDS,
    SLIP_SHARED,
)

FLOATS = NDArray[np.float64]


@kernel
def cell_density(low: float, high: float, mean: float, sigma: float) -> float:
    """Chance that a Gaussian lies from `low` to `high`, over that width."""
    width = high - low
    if width < 0.05 * sigma:
        e = (0.5 * (low + high) - mean) / sigma
        return math.exp(-0.5 * e * e) / (ROOT_2PI * sigma)
    a = (low - mean) / (ROOT_2 * sigma)
    b = (high - mean) / (ROOT_2 * sigma)
    if a < 0.0:
        a, b = -b, -a  # in the tail where nothing cancels
    return 0.5 * (math.erfc(a) - math.erfc(b)) / width


@kernel
def shown_by_sonde_mode(shown: float, lower: float, spacing: float) -> float:
    """Depth that sonde mode makes of the fields of a line whose two coils show `shown` [m].

    The fields of a dipole go as the third power: the ratio's cube root is taken for what a line's ratio is.
    """
    ratio = (shown + lower + spacing) / (shown + lower)
    return float(spacing / (ratio ** (1.0 / 3.0) - 1.0) - lower)


@kernel
def gap_fit(d: PlaceData, between: float, sigma: float) -> tuple[float, float, float]:
    """Density of the written gap where the null is `between` from the mark; chances of a flip, of a slip."""
    right = cell_density(d.gap[0], d.gap[1], between, sigma)
    wrong = cell_density(d.gap[0], d.gap[1], -between, sigma)
    if not d.signed:
        right = wrong = 0.5 * (right + wrong)
    a = (1.0 - SLIP_ODDS - FLIP_ODDS) * right
    b = FLIP_ODDS * wrong
    c = SLIP_ODDS * ANYTHING_PER_M
    return a + b + c, b / (a + b + c), c / (a + b + c)


@kernel
def halves_fit(d: PlaceData, left: float, right: float, sigma: float) -> float:
    """Density of the written half points: right, left for right, or one of them anything."""
    has_left = not math.isnan(d.half_left[0])
    has_right = not math.isnan(d.half_right[0])
    straight = 1.0
    swapped = 1.0
    broad = SLIP_ODDS * ANYTHING_PER_M
    if has_left:
        straight *= (1.0 - SLIP_ODDS) * cell_density(d.half_left[0], d.half_left[1], left, sigma) + broad
        swapped *= (1.0 - SLIP_ODDS) * cell_density(d.half_left[0], d.half_left[1], right, sigma) + broad
    if has_right:
        straight *= (1.0 - SLIP_ODDS) * cell_density(d.half_right[0], d.half_right[1], right, sigma) + broad
        swapped *= (1.0 - SLIP_ODDS) * cell_density(d.half_right[0], d.half_right[1], left, sigma) + broad
    return float((1.0 - FLIP_ODDS) * straight + FLIP_ODDS * swapped)


@kernel
def depth_fit(label: int, d: PlaceData, shown: float, beside: float, theta: FLOATS, sigma: float) -> float:
    """Density of the written depth under a label; `beside` is what was shown where the crew stood then."""
    if label == ANYTHING:
        return ANYTHING_PER_LN
    if label == SONDE_MODE:
        mean = math.log(shown_by_sonde_mode(shown, theta[3], theta[4]))
        return cell_density(d.depth[0, 0], d.depth[0, 1], mean, sigma)
    if label == BESIDE:
        return cell_density(d.depth[0, 0], d.depth[0, 1], math.log(beside), sigma)
    if math.isnan(d.depth[label, 0]):
        return 0.0
    mean = math.log(shown)
    # by the width of what is written, so that all labels speak of the same event
    # of that width; where no rounding is known, digits of a hundredth of a foot
    least = 0.003048 * math.exp(-d.depth[0, 0])
    share = (d.depth[label, 1] - d.depth[label, 0]) / max(d.depth[0, 1] - d.depth[0, 0], least)
    if label != FEET_INCHES:
        share = 1.0
    return float(share) * float(cell_density(d.depth[label, 0], d.depth[label, 1], mean, sigma))


@kernel
def raised_fit(label: int, d: PlaceData, shown: float, theta: FLOATS, sigma: float) -> tuple[float, float]:
    """Density of the written raised depth, and the chance that it is a slip of its own."""
    mean = math.log(shown)
    own = (1.0 - SLIP_ODDS) * cell_density(d.raised[0, 0], d.raised[0, 1], mean, sigma)
    broad = SLIP_ODDS * ANYTHING_PER_LN
    same = 0.0
    if label == SONDE_MODE:
        mode = math.log(shown_by_sonde_mode(shown, theta[3], theta[4]))
        same = cell_density(d.raised[0, 0], d.raised[0, 1], mode, sigma)
    elif 0 < label < FEET_INCHES:
        same = cell_density(d.raised[label, 0], d.raised[label, 1], mean, sigma)
    else:
        return own + broad, broad / (own + broad)
    total = SLIP_SHARED * same + (1.0 - SLIP_SHARED) * (own + broad)
    return total, (1.0 - SLIP_SHARED) * broad / total


@kernel
def current_fit(d: PlaceData, shown: float, scatter: float) -> tuple[float, float, float]:
    """Densities of the written current if it is right, ten times too much and a tenth, with their odds."""
    sigma = math.hypot(CURRENT_LOG_SIGMA, CURRENT_SIGMA * scatter)
    mean = LN_CURRENT_0 + shown
    ten = math.log(10.0)
    right = cell_density(d.current[0], d.current[1], mean, sigma)
    more = cell_density(d.current[0] - ten, d.current[1] - ten, mean, sigma)
    less = cell_density(d.current[0] + ten, d.current[1] + ten, mean, sigma)
    more *= SLIP_ODDS * CURRENT_TEN_SHARE[0]
    less *= SLIP_ODDS * CURRENT_TEN_SHARE[1]
    return (1.0 - SLIP_ODDS) * right, more, less


@kernel
def refused_odds(shown: float) -> float:
    """Chance that a display withholds a depth that it would show as `shown` [m]."""
    past = 1.0 / (1.0 + math.exp(-(math.log(shown) - math.log(REFUSED_FROM_M)) / REFUSED_LN_SCALE))
    return REFUSED_ODDS + (1.0 - REFUSED_ODDS) * past


@kernel
def holes_fit(d: PlaceData, t: float, z: float) -> float:
    """Log density of what test holes said of a line `t` left of the mark and exp(z) deep."""
    total = 0.0
    if not math.isnan(d.hole_ln_depth):
        total -= 0.5 * (z - d.hole_ln_depth) ** 2 / d.hole_depth_var + 0.5 * math.log(d.hole_depth_var)
    if not math.isnan(d.hole_at):
        total -= 0.5 * (d.hole_at + t) ** 2 / d.hole_at_var + 0.5 * math.log(d.hole_at_var)
    for i in range(d.misses.shape[0]):
        sigma = ROOT_2 * max(d.misses[i, 1], 1e-6)
        away = d.misses[i, 0] + t
        inside = 0.5 * (math.erf((HOLE_RADIUS_M - away) / sigma) - math.erf((-HOLE_RADIUS_M - away) / sigma))
        if math.exp(z) < d.misses[i, 2]:
            total += math.log(1.0 - (1.0 - HOLE_MISS_ODDS) * inside)
    return total
