"""Smooth states along a line, marginalised exactly: Kalman filter, smoother, evidence.

Two chains: a value whose slope is an Ornstein-Uhlenbeck process (ln depth), and the same with a free,
slowly turning slope (position across a leg of the route), and a plain random walk (ln current).
All work is linear in the number of stations.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel

FLOATS = NDArray[np.float64]
LOG_2PI = math.log(2.0 * math.pi)


@kernel
def chain_step(gap: float, slope_var: float, length: float) -> tuple[float, float, float, float, float]:
    """Transition of (value, slope) over `gap`: shift, decay, and the three noise terms."""
    if length > 1e6:  # slope is a random walk; slope_var is its variance per metre
        return gap, 1.0, slope_var * gap**3 / 3.0, slope_var * gap**2 / 2.0, slope_var * gap
    a = math.exp(-gap / length)
    return (
        length * (1.0 - a),
        a,
        slope_var * length * length * max(2.0 * gap / length - 3.0 + 4.0 * a - a * a, 0.0),
        slope_var * length * (1.0 - a) ** 2,
        slope_var * (1.0 - a * a),
    )


@kernel
def smooth_slope_chain(
    at: FLOATS,
    value: FLOATS,
    precision: FLOATS,
    mean0: float,
    var0: float,
    slope0: float,
    slope_var: float,
    length: float,
    work: FLOATS,
    mean_out: FLOATS,
    var_out: FLOATS,
) -> float:
    """Smoothed mean and variance at each station; returns the log evidence of the pseudo-data.

    Parameters
    ----------
    at : shape (n,), increasing, [m]
    value, precision : shape (n,)
        One datum per station; precision 0 where there is none.
    mean0, var0 : of the value at the first station; `slope0` variance of its slope there.
    work : shape (n, 12), scratch.
    """
    n = at.shape[0]
    m0 = mean0
    m1 = 0.0
    p00 = var0
    p01 = 0.0
    p11 = slope0
    evidence = 0.0
    for s in range(n):
        if s > 0:
            f, a, q00, q01, q11 = chain_step(at[s] - at[s - 1], slope_var, length)
            m0 = m0 + f * m1
            m1 = a * m1
            n00 = p00 + 2.0 * f * p01 + f * f * p11 + q00
            n01 = a * (p01 + f * p11) + q01
            p11 = a * a * p11 + q11
            p00 = n00
            p01 = n01
        work[s, 0] = m0
        work[s, 1] = m1
        work[s, 2] = p00
        work[s, 3] = p01
        work[s, 4] = p11
        if precision[s] > 0.0:
            r = 1.0 / precision[s]
            v = p00 + r
            e = value[s] - m0
            evidence -= 0.5 * (e * e / v + math.log(v) + LOG_2PI)
            k0 = p00 / v
            k1 = p01 / v
            m0 += k0 * e
            m1 += k1 * e
            p11 -= k1 * p01
            p01 -= k0 * p01
            p00 -= k0 * p00
        work[s, 5] = m0
        work[s, 6] = m1
        work[s, 7] = p00
        work[s, 8] = p01
        work[s, 9] = p11
    mean_out[n - 1] = m0
    var_out[n - 1] = p00
    s0 = m0
    s1 = m1
    c00 = p00
    c01 = p01
    c11 = p11
    for s in range(n - 2, -1, -1):
        f, a, _q00, _q01, _q11 = chain_step(at[s + 1] - at[s], slope_var, length)
        # gain = P F' (predicted)^-1
        p00 = work[s, 7]
        p01 = work[s, 8]
        p11 = work[s, 9]
        b00 = p00 + f * p01
        b01 = a * p01
        b10 = p01 + f * p11
        b11 = a * p11
        q00 = work[s + 1, 2]
        q01 = work[s + 1, 3]
        q11 = work[s + 1, 4]
        det = q00 * q11 - q01 * q01
        if det <= 1e-300:
            det = 1e-300
        g00 = (b00 * q11 - b01 * q01) / det
        g01 = (b01 * q00 - b00 * q01) / det
        g10 = (b10 * q11 - b11 * q01) / det
        g11 = (b11 * q00 - b10 * q01) / det
        d0 = s0 - work[s + 1, 0]
        d1 = s1 - work[s + 1, 1]
        s0 = work[s, 5] + g00 * d0 + g01 * d1
        s1 = work[s, 6] + g10 * d0 + g11 * d1
        e00 = c00 - q00
        e01 = c01 - q01
        e11 = c11 - q11
        c00 = p00 + g00 * (g00 * e00 + g01 * e01) + g01 * (g00 * e01 + g01 * e11)
        n01 = p01 + g00 * (g10 * e00 + g11 * e01) + g01 * (g10 * e01 + g11 * e11)
        c11 = p11 + g10 * (g10 * e00 + g11 * e01) + g11 * (g10 * e01 + g11 * e11)
        c01 = n01
        mean_out[s] = s0
        var_out[s] = max(c00, 1e-14)
    return evidence


@kernel
def random_walk_chain(
    at: FLOATS,
    value: FLOATS,
    precision: FLOATS,
    mean0: float,
    var0: float,
    rate: float,
    mean_out: FLOATS,
    var_out: FLOATS,
) -> float:
    """Random walk of variance `rate` per metre: smoothed mean and variance; returns the log evidence."""
    n = at.shape[0]
    evidence = 0.0
    m = mean0
    p = var0
    for s in range(n):
        if s > 0:
            p += rate * (at[s] - at[s - 1])
        if precision[s] > 0.0:
            v = p + 1.0 / precision[s]
            e = value[s] - m
            evidence -= 0.5 * (e * e / v + math.log(v) + LOG_2PI)
            m += p / v * e
            p -= p * p / v
        mean_out[s] = m
        var_out[s] = p
    for s in range(n - 2, -1, -1):
        q = var_out[s] + rate * (at[s + 1] - at[s])
        g = var_out[s] / max(q, 1e-300)
        mean_out[s] += g * (mean_out[s + 1] - mean_out[s])
        var_out[s] += g * g * (var_out[s + 1] - q)
    return evidence
