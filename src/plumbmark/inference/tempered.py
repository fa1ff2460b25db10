r"""Posterior over standard normal unknowns: tempered particles, proposals that keep a fitted Gaussian.

A model is written in unknowns :math:`u` that are independent standard normals before the first reading
(whatever its parameters are, as functions of :math:`u`) and a log likelihood. Particles start from the prior
and follow the likelihood raised to growing powers; at each power a Gaussian is fitted to them and every
particle moves, in turn, by

.. math:: u' = \mu + \sqrt{1 - s^2} (u - \mu) + s\,\Sigma^{1/2} \xi,

which leaves that Gaussian as it is, so that only the ratio of posterior to Gaussian decides what is kept
(where the posterior is nearly Gaussian whole steps are kept, in twenty dimensions as in two), and by a share
of the difference of two others, which follows bent and parted posteriors. The mean weights of the steps give
the evidence.

Sources: Del Moral, Doucet & Jasra 2006 (sequential Monte Carlo samplers); Cotter, Roberts, Stuart & White
2013 (proposals that keep a Gaussian); ter Braak 2006 (differences of two others). From memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FLOATS = NDArray[np.float64]

KEEP = 0.75  # a step of temperature leaves at least this share of the particles in effect
START = 16  # draws from the prior for each particle: the first step costs no moves
LEAST_STEP = 0.08  # of the Gaussian's own width; steps are drawn between this and all of it
JITTER = 1e-4
TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Tempered:
    """Equally weighted particles, shape (n, dims).

    `effective` is how many independent draws they are worth, an estimate: the effective number at the last
    step of temperature, before the moves that spread them again. `moved` is the share of proposals kept in
    the last moves.
    """

    particles: FLOATS
    log_evidence: float
    effective: float
    moved: float


def _next_power(power: float, values: FLOATS, least: float) -> float:
    """Largest power at which the effective number of the weights is still `least`."""
    e = values - values.max()

    def effective(to: float) -> float:
        w = np.exp((to - power) * e)
        return float(w.sum() ** 2 / (w * w).sum())

    if effective(1.0) >= least:
        return 1.0
    low, high = power, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective(middle) >= least else (low, middle)
    return max(low, power + 1e-7)


def _moved(
    u: FLOATS,
    values: FLOATS,
    power: float,
    log_likelihood: Callable[[FLOATS], FLOATS],
    moves: int,
    rng: np.random.Generator,
) -> tuple[FLOATS, FLOATS, float]:
    """Particles and log likelihoods after `moves` proposals of either kind in turn, and the share kept."""
    n, dims = u.shape
    middle = u.mean(axis=0)
    spread = np.cov(u, rowvar=False).reshape(dims, dims) + TINY * np.eye(dims)
    root = np.linalg.cholesky(spread)
    inverse = np.linalg.inv(root).T
    kept = 0
    for turn in range(moves):
        # log of proposal densities, up to what is the same both ways: those of the Gaussian, or symmetric
        if turn % 2 == 0:
            s = np.exp(rng.uniform(np.log(LEAST_STEP), 0.0, n))[:, None]
            white = (u - middle) @ inverse
            own = np.sqrt(1.0 - s * s) * white + s * rng.normal(size=(n, dims))
            at = middle + own @ root.T
            gain = 0.5 * ((own * own).sum(axis=1) - (white * white).sum(axis=1))
        else:
            one, other = rng.integers(0, n, (2, n))
            scale = 2.38 / np.sqrt(2.0 * dims) * np.exp(rng.uniform(np.log(LEAST_STEP), 0.0, n))
            at = u + scale[:, None] * (u[one] - u[other]) + JITTER * rng.normal(size=(n, dims))
            gain = np.zeros(n)
        value = log_likelihood(at)
        gain += power * (value - values) - 0.5 * ((at * at).sum(axis=1) - (u * u).sum(axis=1))
        yes = np.log(rng.random(n)) < gain
        u, values = np.where(yes[:, None], at, u), np.where(yes, value, values)
        kept += int(yes.sum())
    return u, values, kept / (n * moves)


def temper(
    log_likelihood: Callable[[FLOATS], FLOATS],
    dims: int,
    count: int,
    rng: np.random.Generator,
    *,
    moves: int = 10,
) -> Tempered:
    """Particles of the posterior of `dims` standard normal unknowns.

    Parameters
    ----------
    log_likelihood : function
        Of unknowns, shape (n, dims), to finite log likelihoods, shape (n,).
    dims : int
    count : int
        Particles, several times `dims`.
    rng : numpy Generator
    moves : int
        Proposals at each power; three times as many at the last.

    Returns
    -------
    Tempered

    Raises
    ------
    ValueError
        If there are too few particles to fit a Gaussian to, or a log likelihood is not finite.

    Examples
    --------
    One unknown, seen as 1 with unit error: the posterior has mean 1/2.

    >>> told = temper(lambda u: -0.5 * (u[:, 0] - 1.0) ** 2, 1, 4000, np.random.default_rng(1))
    >>> round(float(told.particles.mean()), 1)
    0.5
    """
    if count < 4 * dims:
        raise ValueError(f"{count} particles for {dims} unknowns: at least four for each")
    u = rng.normal(size=(START * count, dims))
    values = log_likelihood(u)
    if not np.all(np.isfinite(values)):
        raise ValueError("a log likelihood is not finite: every set of unknowns has one")
    power, evidence, share, effective = 0.0, 0.0, 1.0, float(count)
    while power < 1.0:
        after = _next_power(power, values, KEEP * count)
        top = float(values.max())
        w = np.exp((after - power) * (values - top))
        evidence += (after - power) * top + float(np.log(w.mean()))
        effective = min(float(w.sum() ** 2 / (w * w).sum()), float(count))
        edges = np.cumsum(w) / w.sum()
        rows = np.searchsorted(edges, (rng.random() + np.arange(count)) / count).clip(0, len(w) - 1)
        power = after
        turns = 3 * moves if power >= 1.0 else moves
        u, values, share = _moved(u[rows], values[rows], power, log_likelihood, turns, rng)
    return Tempered(u, evidence, effective, share)
