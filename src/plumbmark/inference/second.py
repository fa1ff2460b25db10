"""Prior of the globals of a stretch: log density and draws."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.priors import (
    COIL_ERROR_SIGMA,
    RATIO_DRIFT_SIGMA,
    RATIO_LARGE_LOG_SIGMA,
    RATIO_LARGE_MEDIAN,
    RATIO_LARGE_ODDS,
    RATIO_MEAN,
    RATIO_PHASE_SIGMA,
    RATIO_SIGMA,
    SCATTER_LOG_SIGMA,
    SECOND_ANGLED_ODDS,
    SECOND_DEPTH_DRIFT_SIGMA,
    SECOND_DEPTH_LOG_SIGMA,
    SECOND_FAR_M,
    SECOND_NEAR_M,
    SECOND_SLOPE_ANGLED,
    SECOND_SLOPE_PARALLEL,
)
from plumbmark.inference.stretch import (
    FIRST_LINE,
    PER_LINE,
    PER_RECEIVER,
    PER_SETUP_AND_LINE,
    lines_in,
)

FLOATS = NDArray[np.float64]


class Known(NamedTuple):
    """What the job says of its receivers and soil, and of other lines that could be the second one.

    `candidates` has shape (c, 7): offset at the middle [m], its sigma, change per metre, its sigma, ln depth,
    its sigma, and how likely it is that the second line is this one, all together below one.
    `more_receivers` has shape (receivers - 1, 5): ranges of coils, and null kind, as the first's.
    """

    soil_ln: float
    soil_sigma: float
    lower_low: float
    lower_high: float
    spacing_low: float
    spacing_high: float
    null_kind: float  # below 0: not known
    length_m: float  # of the stretch
    candidates: FLOATS
    more_receivers: FLOATS = np.empty((0, 5))
    setups: int = 1


@kernel
def _normal(e: float, sigma: float) -> float:
    return -0.5 * (e / sigma) ** 2 - math.log(sigma) - 0.9189385332046727


@kernel
def _log_receiver(
    error: float,
    lower: float,
    spacing: float,
    kind: float,
    low: float,
    high: float,
    near: float,
    far: float,
) -> float:
    """Log density of one receiver's coils and null kind; -1e30 outside what can be."""
    if lower < low - 1e-9 or lower > high + 1e-9 or spacing < near - 1e-9 or spacing > far + 1e-9:
        return -1e30
    if kind < 0.0 or kind > 1.0:
        return -1e30
    return float(_normal(error, COIL_ERROR_SIGMA))


@kernel
def _log_ratio(re: float, im: float, slope: float, length_m: float) -> float:
    """Log density of a second line's current over the line's, and of its change along the stretch."""
    size = math.sqrt(re * re + im * im)
    if size > 6.0 or size < 0.03:
        return -1e30
    e = (math.log(size) - math.log(RATIO_LARGE_MEDIAN)) / RATIO_LARGE_LOG_SIGMA
    usual = (1.0 - RATIO_LARGE_ODDS) * math.exp(_normal(size - RATIO_MEAN, RATIO_SIGMA))
    large = RATIO_LARGE_ODDS * math.exp(-0.5 * e * e) / (2.5066282746310002 * RATIO_LARGE_LOG_SIGMA * size)
    phase = math.atan2(im, abs(re))
    total = math.log(usual + large) + _normal(phase, RATIO_PHASE_SIGMA) - math.log(2.0 * size)
    return float(total + _normal(slope * length_m, RATIO_DRIFT_SIGMA))


@kernel
def _log_place(q: float, b: float, z: float, known: Known) -> float:
    """Log density of a second line's offset, angle and ln depth."""
    if abs(q) > 2.0 * SECOND_FAR_M or z < -2.2 or z > 1.9:
        return -1e30
    # anywhere within reach, with an edge eased on both sides
    near = 1.0 / (1.0 + math.exp(-(abs(q) - SECOND_NEAR_M) / 0.02))
    far = 1.0 / (1.0 + math.exp((abs(q) - SECOND_FAR_M) / 0.15))
    parallel = (1.0 - SECOND_ANGLED_ODDS) * math.exp(_normal(b, SECOND_SLOPE_PARALLEL))
    angled = SECOND_ANGLED_ODDS * math.exp(_normal(b, SECOND_SLOPE_ANGLED))
    plain = near * far / (2.0 * (SECOND_FAR_M - SECOND_NEAR_M)) * parallel
    # an angled one crosses the line somewhere: near the line at the middle is nothing odd
    plain += far / (2.0 * SECOND_FAR_M) * angled
    plain *= math.exp(_normal(z, SECOND_DEPTH_LOG_SIGMA))
    named = 0.0
    mixed = 0.0
    for i in range(known.candidates.shape[0]):
        e = _normal(q - known.candidates[i, 0], known.candidates[i, 1])
        e += _normal(b - known.candidates[i, 2], known.candidates[i, 3])
        e += _normal(z - known.candidates[i, 4], known.candidates[i, 5])
        named += known.candidates[i, 6]
        mixed += known.candidates[i, 6] * math.exp(e)
    return math.log((1.0 - named) * plain + mixed + 1e-300)


@kernel
def log_prior(theta: FLOATS, known: Known) -> float:
    """Log prior density of the globals, up to a constant; -1e30 or less outside what can be."""
    total = _normal(theta[0], SCATTER_LOG_SIGMA) + _normal(theta[2] - known.soil_ln, known.soil_sigma)
    if theta[2] < -1.0 or theta[2] > 11.0:
        return -1e30
    total += _log_receiver(
        theta[1],
        theta[3],
        theta[4],
        theta[5],
        known.lower_low,
        known.lower_high,
        known.spacing_low,
        known.spacing_high,
    )
    more = known.more_receivers
    lines = lines_in(theta.shape[0], known.setups, more.shape[0] + 1)
    k = FIRST_LINE + PER_LINE * lines
    for r in range(more.shape[0]):
        total += _log_receiver(
            theta[k],
            theta[k + 1],
            theta[k + 2],
            theta[k + 3],
            more[r, 0],
            more[r, 1],
            more[r, 2],
            more[r, 3],
        )
        k += PER_RECEIVER
    for _setup in range(1, known.setups):
        for _line in range(lines):
            total += _log_ratio(theta[k], theta[k + 1], theta[k + 2], known.length_m)
            k += PER_SETUP_AND_LINE
    for line in range(lines):
        k = FIRST_LINE + PER_LINE * line
        total += _log_place(theta[k], theta[k + 1], theta[k + 2], known)
        total += _log_ratio(theta[k + 3], theta[k + 4], theta[k + 5], known.length_m)
        total += _normal(theta[k + 6] * known.length_m, SECOND_DEPTH_DRIFT_SIGMA)
    return total


def _draw_receiver(
    n: int, ranges: tuple[float, float, float, float], kind: float, rng: np.random.Generator
) -> FLOATS:
    """Coil error, lower coil, spacing and null kind, shape (n, 4)."""
    low, high, near, far = ranges
    return np.column_stack(
        [
            rng.normal(0.0, p.COIL_ERROR_SIGMA, n),
            rng.uniform(low, high, n),
            rng.uniform(near, far, n),
            rng.uniform(0.0, 1.0, n) if kind < 0.0 else np.full(n, kind),
        ]
    )


def _draw_ratio(n: int, length_m: float, rng: np.random.Generator) -> FLOATS:
    """Real and imaginary part of a second line's ratio, and its slope, shape (n, 3)."""
    size = rng.normal(p.RATIO_MEAN, p.RATIO_SIGMA, n)
    while np.any(size < 0.03):
        again = size < 0.03
        size[again] = rng.normal(p.RATIO_MEAN, p.RATIO_SIGMA, int(again.sum()))
    big = rng.random(n) < p.RATIO_LARGE_ODDS
    large = p.RATIO_LARGE_MEDIAN * np.exp(rng.normal(0.0, p.RATIO_LARGE_LOG_SIGMA, n))
    size = np.clip(np.where(big, large, size), 0.031, 5.9)
    phase = rng.normal(0.0, p.RATIO_PHASE_SIGMA, n)
    return np.column_stack(
        [
            size * np.cos(phase) * np.where(rng.random(n) < 0.5, -1.0, 1.0),
            size * np.sin(phase),
            rng.normal(0.0, p.RATIO_DRIFT_SIGMA / length_m, n),
        ]
    )


def draw_prior(n: int, lines: int, known: Known, rng: np.random.Generator) -> FLOATS:
    """Draws of the globals with `lines` second lines, one row each, in the order of `stretch`."""
    first = (known.lower_low, known.lower_high, known.spacing_low, known.spacing_high)
    coils = _draw_receiver(n, first, known.null_kind, rng)
    scatter = rng.normal(0.0, p.SCATTER_LOG_SIGMA, n)
    soil = np.clip(rng.normal(known.soil_ln, known.soil_sigma, n), -0.9, 10.9)
    parts = [np.column_stack([scatter, coils[:, 0], soil, coils[:, 1:]])]
    for _line in range(lines):
        place = _draw_place(n, known, rng)
        ratio = _draw_ratio(n, known.length_m, rng)
        drift = rng.normal(0.0, p.SECOND_DEPTH_DRIFT_SIGMA / known.length_m, n)
        parts.append(np.column_stack([place, ratio, drift]))
    for row in known.more_receivers:
        parts.append(_draw_receiver(n, (row[0], row[1], row[2], row[3]), float(row[4]), rng))
    for _setup in range(1, known.setups):
        parts += [_draw_ratio(n, known.length_m, rng) for _line in range(lines)]
    return np.ascontiguousarray(np.concatenate(parts, axis=1))


def _draw_place(n: int, known: Known, rng: np.random.Generator) -> FLOATS:
    """Offset, angle and ln depth of a second line, shape (n, 3)."""
    angled = rng.random(n) < p.SECOND_ANGLED_ODDS
    side = np.where(rng.random(n) < 0.5, -1.0, 1.0)
    q = side * rng.uniform(np.where(angled, 0.0, p.SECOND_NEAR_M), p.SECOND_FAR_M, n)
    b = rng.normal(0.0, np.where(angled, p.SECOND_SLOPE_ANGLED, p.SECOND_SLOPE_PARALLEL))
    z = rng.normal(0.0, p.SECOND_DEPTH_LOG_SIGMA, n)
    if len(known.candidates):
        # which candidate, or none of them
        edges = np.cumsum(known.candidates[:, 6])
        which = np.searchsorted(edges, rng.random(n))
        use = which < len(edges)
        pick = known.candidates[np.minimum(which, len(edges) - 1)]
        q = np.where(use, rng.normal(pick[:, 0], pick[:, 1]), q)
        b = np.where(use, rng.normal(pick[:, 2], pick[:, 3]), b)
        z = np.where(use, rng.normal(pick[:, 4], pick[:, 5]), z)
    far = 2.0 * p.SECOND_FAR_M - 0.1
    return np.column_stack([np.clip(q, -far, far), b, np.clip(z, -2.1, 1.8)])
