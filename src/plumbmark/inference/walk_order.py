r"""Likelihood of an order: how likely independent noisy amplitudes are to come out in the order written down.

With :math:`f_k` the density of the k-th smallest number and :math:`F_0 = 1`,

.. math:: F_k(y) = \int_{-\infty}^{y} f_k(t) F_{k-1}(t)\,dt, \qquad P = F_n(\infty),

one integral after another on a grid whose pitch grows with the noise, by cubics through four nodes. Numbers
that were written down alike are not told apart: with :math:`C_j` their distribution functions they come in
together,

.. math:: F_k(y) = \int_{-\infty}^{y} \prod_j \left[C_j(y) - C_j(t)\right] dF_{k-1}(t).

Noise is Student's with six degrees of freedom, folded at zero: amplitudes have no sign.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.priors import PROFILE_FLOOR, PROFILE_OFFSET_SIGMA_M, PROFILE_SIGMA

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

PER_SIGMA = 2.0  # nodes for each usual standard deviation
_REACH = math.asinh(1.2 * PROFILE_SIGMA / PROFILE_FLOOR) / PROFILE_SIGMA
_STEPS = np.arange(int(_REACH * PER_SIGMA) + 1) / PER_SIGMA
#: Amplitudes over the largest, so that neighbours lie a part of the usual standard deviation apart.
NODES = PROFILE_FLOOR / PROFILE_SIGMA * np.sinh(PROFILE_SIGMA * _STEPS)
#: Amplitude from one node to the next, at each.
PITCH = PROFILE_FLOOR / PER_SIGMA * np.cosh(PROFILE_SIGMA * _STEPS)
COUNT = NODES.shape[0]
STUDENT = 0.3827327723098717  # of six degrees of freedom, at its middle
IMPOSSIBLE = -1e6


@kernel
def point_sigma(size: float, steep: float, top: float) -> float:
    """One standard deviation of an amplitude, by the file contract, before the job's scatter."""
    a = PROFILE_SIGMA * size
    b = PROFILE_FLOOR * top
    c = PROFILE_OFFSET_SIGMA_M * steep
    return math.sqrt(a * a + b * b + c * c)


@kernel
def _density(size: float, sigma: float, top: float, out: FLOATS) -> None:
    """Density of one amplitude at the nodes times `top`, times the pitch there, shape (COUNT,)."""
    scale = top / sigma
    middle = size / sigma
    for j in range(COUNT):
        t = NODES[j] * scale - middle
        r = 1.0 / math.sqrt(1.0 + t * t / 6.0)
        r2 = r * r
        out[j] = STUDENT * scale * PITCH[j] * r2 * r2 * r2 * r
    if middle < 20.0:
        for j in range(COUNT):
            t = NODES[j] * scale + middle
            r = 1.0 / math.sqrt(1.0 + t * t / 6.0)
            r2 = r * r
            out[j] += STUDENT * scale * PITCH[j] * r2 * r2 * r2 * r


@kernel
def _integral(g: FLOATS, out: FLOATS) -> None:
    """Integral of `g` from the first node to each, by the cubic through the four nodes about each step."""
    out[0] = 0.0
    out[1] = (9.0 * g[0] + 19.0 * g[1] - 5.0 * g[2] + g[3]) / 24.0
    for j in range(1, COUNT - 2):
        step = (13.0 * (g[j] + g[j + 1]) - g[j - 1] - g[j + 2]) / 24.0
        out[j + 1] = out[j] + step
    n = COUNT - 1
    out[n] = out[n - 1] + (9.0 * g[n] + 19.0 * g[n - 1] - 5.0 * g[n - 2] + g[n - 3]) / 24.0


@kernel
def log_order(
    size: FLOATS,
    steep: FLOATS,
    top: float,
    scatter: float,
    first: int,
    order: INTS,
    group: INTS,
    work: FLOATS,
) -> float:
    """Log chance of the order of amplitudes.

    Parameters
    ----------
    size, steep : shape (n,)
        Amplitudes without noise, and their slopes along the walk [1/m].
    top : float
        The largest amplitude.
    scatter : float
        Factor on all noise.
    first : int
        Taken off each entry of `order`.
    order : shape (m,)
        Places in `size` from the smallest to the largest.
    group : shape (m,)
        Grows by one where an amplitude is told from the one before it.
    work : shape (3, COUNT)
        Scratch.
    """
    before = work[0]
    after = work[1]
    one = work[2]
    before[:] = 1.0
    total = 0.0
    m = order.shape[0]
    a = 0
    while a < m:
        b = a + 1
        while b < m and group[b] == group[a]:
            b += 1
        if b == a + 1:
            k = order[a] - first
            _density(size[k], scatter * point_sigma(size[k], steep[k], top), top, one)
            for j in range(COUNT):
                one[j] *= before[j]
            _integral(one, after)
        else:
            _together(size, steep, top, scatter, first, order[a:b], a == 0, before, after, one)
        last = after[COUNT - 1]
        if not last > 1e-200:
            return IMPOSSIBLE
        total += math.log(last)
        for j in range(COUNT):
            before[j] = max(after[j] / last, 0.0)
        a = b
    return total


@kernel
def _together(
    size: FLOATS,
    steep: FLOATS,
    top: float,
    scatter: float,
    first: int,
    alike: INTS,
    lowest: bool,
    before: FLOATS,
    after: FLOATS,
    one: FLOATS,
) -> None:
    """One step of the recursion for numbers that are not told apart; `lowest`: there are none below them."""
    count = alike.shape[0]
    each = np.empty((count, COUNT))
    for c in range(count):
        k = alike[c] - first
        _density(size[k], scatter * point_sigma(size[k], steep[k], top), top, one)
        _integral(one, each[c])
    for j in range(COUNT):
        product = 1.0 if lowest else 0.0
        for c in range(count if lowest else 0):
            product *= each[c, j]
        after[j] = product
        for i in range(0 if lowest else j):
            # each step of the distribution before, at its middle
            product = before[i + 1] - before[i]
            if product <= 0.0:
                continue
            for c in range(count):
                product *= each[c, j] - 0.5 * (each[c, i] + each[c, i + 1])
            after[j] += product
