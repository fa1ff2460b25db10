"""Smooth states of a few stations as sums over few standard normal unknowns.

The chains of `chain.py` for ln depth and for a line's course, written as factors of their covariance: a state
is `basis @ u`, and directions that move no station by more than a few millimetres are left out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference.priors import (
    DEPTH_LOG_SIGMA,
    DEPTH_SLOPE_LENGTH_M,
    DEPTH_SLOPE_SIGMA,
    KINK_SIGMA,
)

FLOATS = NDArray[np.float64]

SLOPE_WORTH_M = 0.3  # a slope counts by what it does so far on
LEFT_OUT = 0.004  # standard deviation of what a direction that is left out would add, summed over stations


def _factor(covariance: FLOATS, worth: FLOATS) -> FLOATS:
    """Columns of a root of `covariance`, largest first, those worth nothing left out; `worth` weighs rows."""
    values, vectors = np.linalg.eigh(covariance * np.outer(worth, worth))
    keep = np.sqrt(np.maximum(values, 0.0)) > LEFT_OUT
    root = vectors[:, keep] * np.sqrt(values[keep])
    return np.asarray(root[:, ::-1] / worth[:, None])


def depth_basis(at: FLOATS) -> FLOATS:
    """Basis of ln depth less its prior median.

    Parameters
    ----------
    at : shape (m,), not decreasing, [m]
        Along the line.

    Returns
    -------
    shape (m, unknowns)
        The first column is the level, with `DEPTH_LOG_SIGMA`; the others are what changes along the line.

    Examples
    --------
    >>> depth_basis(np.zeros(1))
    array([[0.55]])
    """
    p, length = at - at[0], DEPTH_SLOPE_LENGTH_M
    early, apart = np.minimum.outer(p, p), np.abs(np.subtract.outer(p, p))
    fade = np.exp(-p / length)
    grown = 1.0 - fade[:, None] - fade[None, :] + np.exp(-apart / length)
    covariance = DEPTH_SLOPE_SIGMA**2 * (2.0 * length * early - length**2 * grown)
    level = np.full((len(at), 1), DEPTH_LOG_SIGMA)
    return np.hstack([level, _factor(covariance, np.ones(len(at)))])


def course_basis(at: FLOATS, place_sigma: float, slope_sigma: float) -> tuple[FLOATS, FLOATS]:
    """Bases of a line's place across and of its slope.

    Parameters
    ----------
    at : shape (m,), not decreasing, [m]
    place_sigma : float, [m]
        Of the place at the first of them.
    slope_sigma : float
        Of the slope there.

    Returns
    -------
    place, slope : shape (m, unknowns)
        The first two columns are a straight line; the others its wandering, a slope that turns by
        `KINK_SIGMA` per root metre.
    """
    p, m = at - at[0], len(at)
    early, late = np.minimum.outer(p, p), np.maximum.outer(p, p)
    covariance = np.empty((2 * m, 2 * m))
    covariance[:m, :m] = early**2 * (3.0 * late - early) / 6.0
    covariance[m:, m:] = early
    # of the place at p with the slope at q: what both have had by then
    both = np.where(p[:, None] <= p[None, :], 0.5 * p[:, None] ** 2, p[:, None] * p[None, :] - 0.5 * p**2)
    covariance[:m, m:] = both
    covariance[m:, :m] = both.T
    wander = _factor(KINK_SIGMA**2 * covariance, np.repeat([1.0, SLOPE_WORTH_M], m))
    place = np.hstack([np.full((m, 1), place_sigma), slope_sigma * p[:, None], wander[:m]])
    slope = np.hstack([np.zeros((m, 1)), np.full((m, 1), slope_sigma), wander[m:]])
    return place, slope
