"""Mixtures that draws come from, and what their weights tell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel

FLOATS = NDArray[np.float64]

HEAVY = 8.0  # degrees of freedom


@kernel
def log_mixture(x: FLOATS, centre: FLOATS, inverse: FLOATS, share: FLOATS, out: FLOATS) -> None:
    """Log density of a mixture of multivariate Student's distributions at each row of `x`.

    `inverse` holds lower factors whose product with their transpose is the inverse covariance.
    """
    n = x.shape[1]
    parts = np.empty(centre.shape[0])
    constant = np.empty(centre.shape[0])
    e = np.empty(n)
    for m in range(centre.shape[0]):
        constant[m] = math.lgamma(0.5 * (HEAVY + n)) - math.lgamma(0.5 * HEAVY) + math.log(share[m])
        constant[m] -= 0.5 * n * math.log(HEAVY * math.pi)
        for j in range(n):
            constant[m] += math.log(inverse[m, j, j])
    for r in range(x.shape[0]):
        top = -1e300
        for m in range(centre.shape[0]):
            far = 0.0
            for j in range(n):
                e[j] = x[r, j] - centre[m, j]
            for j in range(n):
                s = 0.0
                for i in range(j, n):
                    s += inverse[m, i, j] * e[i]
                far += s * s
            parts[m] = constant[m] - 0.5 * (HEAVY + n) * math.log1p(far / HEAVY)
            top = max(top, parts[m])
        total = 0.0
        for m in range(centre.shape[0]):
            if parts[m] > top - 40.0:
                total += math.exp(parts[m] - top)
        out[r] = top + math.log(total)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A share of draws from the prior, the rest from Student's distributions about `centre`.

    The Student part may be of the first outer unknowns only; the last second line then is from the prior.
    """

    from_prior: float
    centre: FLOATS
    inverse: FLOATS
    share: FLOATS

    def draw(self, n: int, rng: np.random.Generator) -> FLOATS:
        """`n` draws of the Student part."""
        pick = rng.choice(len(self.share), n, p=self.share)
        scale = np.sqrt(HEAVY / rng.chisquare(HEAVY, n))
        e = rng.normal(size=(n, self.centre.shape[1])) * scale[:, None]
        step = np.linalg.solve(self.inverse[pick].transpose(0, 2, 1), e[:, :, None])[:, :, 0]
        return np.asarray(self.centre[pick] + step)


def flattened(log_weight: FLOATS, least: float) -> FLOATS:
    """Weights to the largest power up to one at which `least` draws are in effect."""
    e = log_weight - log_weight.max()

    def effective(power: float) -> float:
        w = np.exp(power * e)
        return float(w.sum() ** 2 / (w * w).sum())

    low, high = 0.0, 1.0
    if effective(1.0) < least:
        for _ in range(30):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if effective(middle) >= least else (low, middle)
        return np.asarray(np.exp(low * e))
    return np.asarray(np.exp(e))


def pareto_k(log_weight: FLOATS) -> float:
    """Shape of the upper tail of importance weights; above 0.7 means of them are not to be leaned on.

    Parameters
    ----------
    log_weight : shape (n,)

    Returns
    -------
    float
        Infinite where fewer than five draws carry weight.

    Notes
    -----
    Generalised Pareto distribution fitted to the largest min(n / 5, 3 sqrt(n)) weights by the quasi-Bayesian
    estimate of Zhang & Stephens 2009, drawn towards 0.5 as by ten more draws (Vehtari and others 2024).
    """
    n = len(log_weight)
    m = int(min(0.2 * n, 3.0 * math.sqrt(n)))
    w = np.sort(np.exp(log_weight - log_weight.max()))
    x = w[-m:] - w[-m - 1]
    x = x[x > 0.0]
    if len(x) < 5:
        return math.inf
    grid = 30 + int(math.sqrt(len(x)))
    quarter = x[int(len(x) / 4 + 0.5) - 1]
    b = 1.0 / x[-1] + (1.0 - np.sqrt(grid / (np.arange(grid) + 0.5))) / (3.0 * quarter)
    k = np.mean(np.log1p(-b[:, None] * x), axis=1)
    fit = len(x) * (np.log(-b / k) - k - 1.0)
    share = 1.0 / np.exp(fit[None, :] - fit[:, None]).sum(axis=1)
    best = float((b * share).sum())
    shape = float(np.mean(np.log1p(-best * x)))
    return (shape * len(x) + 5.0) / (len(x) + 10.0)
