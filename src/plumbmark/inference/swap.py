"""Lines that change roles: the line read is taken for the second one, and the second for the one read.

Both explanations make the same field, so between them stand only the prior and where a crew would have
looked; small steps never lead from one to the other. The move keeps the currents where they are and gives
them each other's name.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference.stretch import (
    ANGLE,
    DEPTH_SLOPE,
    FIRST_LINE,
    LN_DEPTH,
    OFFSET,
    PER_LINE,
    PER_RECEIVER,
    PER_SETUP_AND_LINE,
    RATIO_IM,
    RATIO_RE,
    Stretch,
    lines_in,
)

FLOATS = NDArray[np.float64]

LN_DEPTH_SIGMA = 0.05  # the depth of what becomes the second line is drawn about the smoothed one ...
RIDGE_SIGMA = 0.4  # of ln offset, along the ridge
SLOPE_SIGMA = 0.01  # ... and so is its change per metre


@dataclass(frozen=True, slots=True)
class Swap:
    """Swapped globals, ln depths to begin from, and what the ratio of acceptance needs."""

    thetas: FLOATS
    starts: FLOATS
    line: int
    log_jacobian: FLOATS
    at: FLOATS


def _density(thetas: FLOATS, depth: FLOATS, swap: Swap) -> FLOATS:
    """Density (ln) of a second line's depth and its slope, drawn about those of the other role."""
    a = FIRST_LINE + PER_LINE * swap.line
    mean, slope = _trend(depth, swap.at)
    e = (thetas[:, a + LN_DEPTH] - mean) / LN_DEPTH_SIGMA
    f = (thetas[:, a + DEPTH_SLOPE] - slope) / SLOPE_SIGMA
    return np.asarray(-0.5 * (e * e + f * f))


def _trend(depth: FLOATS, at: FLOATS) -> tuple[FLOATS, FLOATS]:
    """Depth (ln) at the middle of the stretch and its slope, for each row of `depth`."""
    run = at - at.mean()
    slope = depth @ run / max(float(run @ run), 1e-9)
    return depth.mean(axis=1) - slope * at.mean(), slope


def swapped(thetas: FLOATS, depth: FLOATS, d: Stretch, rng: np.random.Generator) -> Swap:
    """Each row of globals with its line and one of its second lines in each other's role.

    Parameters
    ----------
    thetas : shape (particles, globals), with one second line at least
    depth : shape (particles, stations)
        Smoothed ln depth of the line.
    """
    setups, receivers = len(d.frequency_hz), int(d.receiver_of.max()) + 1
    lines = lines_in(thetas.shape[1], setups, receivers)
    k = int(rng.integers(lines))
    own = FIRST_LINE + PER_LINE * k
    new = thetas.copy()
    mean, slope = _trend(depth, d.at)
    new[:, own + LN_DEPTH] = mean + LN_DEPTH_SIGMA * rng.normal(size=len(thetas))
    new[:, own + DEPTH_SLOPE] = slope + SLOPE_SIGMA * rng.normal(size=len(thetas))
    for column in (OFFSET, ANGLE):
        for line in range(lines):
            j = FIRST_LINE + PER_LINE * line + column
            new[:, j] = (thetas[:, j] if line != k else 0.0) - thetas[:, own + column]
    log_jacobian = np.zeros(len(thetas))
    for setup in range(setups):
        first, step = FIRST_LINE + RATIO_RE, PER_LINE
        if setup:
            first = FIRST_LINE + PER_LINE * lines + PER_RECEIVER * (receivers - 1)
            first, step = first + PER_SETUP_AND_LINE * lines * (setup - 1), PER_SETUP_AND_LINE
        a = first + step * k
        ratio = thetas[:, a] + 1j * thetas[:, a + 1]
        # 1 / r for the two that swap, s / r for every other: in the plane r^-4 and r^-2
        log_jacobian -= 2.0 * (lines + 1) * np.log(np.abs(ratio))
        for line in range(lines):
            j = first + step * line
            r = (1.0 if line == k else thetas[:, j] + 1j * thetas[:, j + 1]) / ratio
            new[:, j], new[:, j + 1] = r.real, r.imag
            new[:, j + 2] = (thetas[:, j + 2] if line != k else 0.0) - thetas[:, a + 2]
    starts = thetas[:, own + LN_DEPTH, None] + thetas[:, own + DEPTH_SLOPE, None] * d.at
    return Swap(new, starts, k, log_jacobian, d.at)


def log_ratio(swap: Swap, thetas: FLOATS, depth: FLOATS, new_depth: FLOATS) -> FLOATS:
    """What the move adds to ln of the ratio of acceptance.

    `thetas`, `depth` are those before, `new_depth` the smoothed ln depth under the swapped globals.
    """
    there = _density(swap.thetas, depth, swap)
    back = _density(thetas, new_depth, swap)
    return np.asarray(swap.log_jacobian + back - there)


def ridden(thetas: FLOATS, stepped: FLOATS, d: Stretch, rng: np.random.Generator) -> tuple[FLOATS, FLOATS]:
    """For half of the rows a move along the ridge of one second line, for the others `stepped` as it is.

    Farther off with more current, or on the other side with its current turned round: what bends the field
    at the mark stays nearly the same. Returns the globals and ln of the Jacobian.
    """
    n = len(thetas)
    setups, receivers = len(d.frequency_hz), int(d.receiver_of.max()) + 1
    lines = lines_in(thetas.shape[1], setups, receivers)
    own = FIRST_LINE + PER_LINE * int(rng.integers(lines))
    scale = np.exp(RIDGE_SIGMA * rng.normal(size=n))
    side = np.where(rng.random(n) < 0.3, -1.0, 1.0)
    new = thetas.copy()
    new[:, own + OFFSET] *= side * scale
    for column in (RATIO_RE, RATIO_IM):
        new[:, own + column] *= side * scale**2
    ride = rng.random(n) < 0.5
    return np.where(ride[:, None], new, stepped), np.where(ride, 5.0 * np.log(scale), 0.0)
