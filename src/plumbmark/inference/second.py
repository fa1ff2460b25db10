"""Prior of the globals of a stretch: log density and draws."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference import priors as p
from plumbmark.inference.priors import (
    CANDIDATE_LOG_SIGMA,
    CANDIDATE_ODDS,
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
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE

FLOATS = NDArray[np.float64]


class Known(NamedTuple):
    """What the job says of its receiver and soil, and of other lines that could be the second one.

    `candidates` has shape (c, 5): offset at the middle [m], its sigma, change per metre, its sigma, ln depth.
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


@kernel
def _normal(e: float, sigma: float) -> float:
    return -0.5 * (e / sigma) ** 2 - math.log(sigma) - 0.9189385332046727


@kernel
def log_prior(theta: FLOATS, known: Known) -> float:
    """Log prior density of the globals, up to a constant; -1e30 outside what can be."""
    total = _normal(theta[0], SCATTER_LOG_SIGMA) + _normal(theta[1], COIL_ERROR_SIGMA)
    total += _normal(theta[2] - known.soil_ln, known.soil_sigma)
    if theta[2] < -1.0 or theta[2] > 11.0:
        return -1e30
    if theta[3] < known.lower_low - 1e-9 or theta[3] > known.lower_high + 1e-9:
        return -1e30
    if theta[4] < known.spacing_low - 1e-9 or theta[4] > known.spacing_high + 1e-9:
        return -1e30
    if theta[5] < 0.0 or theta[5] > 1.0:
        return -1e30
    k = FIRST_LINE
    while k + PER_LINE <= theta.shape[0]:
        q = theta[k]
        b = theta[k + 1]
        z = theta[k + 2]
        re = theta[k + 3]
        im = theta[k + 4]
        size = math.sqrt(re * re + im * im)
        if abs(q) > 2.0 * SECOND_FAR_M or size > 6.0 or size < 0.03 or z < -2.2 or z > 1.9:
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
        c = known.candidates.shape[0]
        if c > 0:
            mixed = 0.0
            for i in range(c):
                e = _normal(q - known.candidates[i, 0], known.candidates[i, 1])
                e += _normal(b - known.candidates[i, 2], known.candidates[i, 3])
                e += _normal(z - known.candidates[i, 4], CANDIDATE_LOG_SIGMA)
                mixed += math.exp(e)
            plain = (1.0 - CANDIDATE_ODDS) * plain + CANDIDATE_ODDS * mixed / c
        total += math.log(plain + 1e-300)
        e = (math.log(size) - math.log(RATIO_LARGE_MEDIAN)) / RATIO_LARGE_LOG_SIGMA
        usual = (1.0 - RATIO_LARGE_ODDS) * math.exp(_normal(size - RATIO_MEAN, RATIO_SIGMA))
        large = (
            RATIO_LARGE_ODDS * math.exp(-0.5 * e * e) / (2.5066282746310002 * RATIO_LARGE_LOG_SIGMA * size)
        )
        phase = math.atan2(im, abs(re))
        total += math.log(usual + large) + _normal(phase, RATIO_PHASE_SIGMA) - math.log(2.0 * size)
        total += _normal(theta[k + 5] * known.length_m, RATIO_DRIFT_SIGMA)
        total += _normal(theta[k + 6] * known.length_m, SECOND_DEPTH_DRIFT_SIGMA)
        k += PER_LINE
    return total


def draw_prior(n: int, lines: int, known: Known, rng: np.random.Generator) -> FLOATS:
    """Draws of the globals with `lines` second lines, shape (n, FIRST_LINE + PER_LINE * lines)."""
    out = np.empty((n, FIRST_LINE + PER_LINE * lines))
    out[:, 0] = rng.normal(0.0, p.SCATTER_LOG_SIGMA, n)
    out[:, 1] = rng.normal(0.0, p.COIL_ERROR_SIGMA, n)
    out[:, 2] = np.clip(rng.normal(known.soil_ln, known.soil_sigma, n), -0.9, 10.9)
    out[:, 3] = rng.uniform(known.lower_low, known.lower_high, n)
    out[:, 4] = rng.uniform(known.spacing_low, known.spacing_high, n)
    out[:, 5] = rng.uniform(0.0, 1.0, n) if known.null_kind < 0.0 else known.null_kind
    for line in range(lines):
        k = FIRST_LINE + PER_LINE * line
        angled = rng.random(n) < p.SECOND_ANGLED_ODDS
        side = np.where(rng.random(n) < 0.5, -1.0, 1.0)
        q = side * rng.uniform(np.where(angled, 0.0, p.SECOND_NEAR_M), p.SECOND_FAR_M, n)
        b = rng.normal(0.0, np.where(angled, p.SECOND_SLOPE_ANGLED, p.SECOND_SLOPE_PARALLEL))
        z = np.clip(rng.normal(0.0, p.SECOND_DEPTH_LOG_SIGMA, n), -2.1, 1.8)
        if len(known.candidates):
            use = rng.random(n) < p.CANDIDATE_ODDS
            pick = known.candidates[rng.integers(0, len(known.candidates), n)]
            q = np.where(use, rng.normal(pick[:, 0], pick[:, 1]), q)
            b = np.where(use, rng.normal(pick[:, 2], pick[:, 3]), b)
            z = np.where(use, np.clip(rng.normal(pick[:, 4], p.CANDIDATE_LOG_SIGMA), -2.1, 1.8), z)
        size = rng.normal(p.RATIO_MEAN, p.RATIO_SIGMA, n)
        while np.any(size < 0.03):
            again = size < 0.03
            size[again] = rng.normal(p.RATIO_MEAN, p.RATIO_SIGMA, int(again.sum()))
        big = rng.random(n) < p.RATIO_LARGE_ODDS
        large = p.RATIO_LARGE_MEDIAN * np.exp(rng.normal(0.0, p.RATIO_LARGE_LOG_SIGMA, n))
        size = np.clip(np.where(big, large, size), 0.031, 5.9)
        phase = rng.normal(0.0, p.RATIO_PHASE_SIGMA, n)
        out[:, k] = np.clip(q, -2.0 * p.SECOND_FAR_M + 0.1, 2.0 * p.SECOND_FAR_M - 0.1)
        out[:, k + 1] = b
        out[:, k + 2] = z
        out[:, k + 3] = size * np.cos(phase) * np.where(rng.random(n) < 0.5, -1.0, 1.0)
        out[:, k + 4] = size * np.sin(phase)
        out[:, k + 5] = rng.normal(0.0, p.RATIO_DRIFT_SIGMA / known.length_m, n)
        out[:, k + 6] = rng.normal(0.0, p.SECOND_DEPTH_DRIFT_SIGMA / known.length_m, n)
    return out
