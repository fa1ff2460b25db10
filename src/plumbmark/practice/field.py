r"""The simulator's own field of buried lines: chains of short straight segments, over conducting ground.

Nothing here is shared with what the estimator computes with, so that a slip in one shows against
the other. In free space a segment's field is exact (Biot and Savart, closed form). What conducting
ground adds is the field of a long line in a half-space less that of the same line in free space,

.. math:: \Delta B_a - j'\,\Delta B_u = \frac{\mu_0 I}{2\pi} \int_0^\infty
   \left[\frac{2\lambda}{\lambda+u} e^{-u d} - e^{-\lambda d}\right] e^{-\lambda (z + j' y)} d\lambda,
   \qquad u^2 = \lambda^2 + j\omega\mu_0/\rho,

(Pollaczek 1926 in Wait's form), by quadrature over panels of growing width. It is taken with the depth,
direction and current the line has nearest to the place looked at, so it is as good as the line is
straight over a few depths. Time goes as `exp(j omega t)`, currents and fields are RMS.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel

MU0 = 4e-7 * math.pi
"""Magnetic constant [T m/A]."""

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


@kernel
def _segments(points: Floats, nodes: Floats, currents: Complexes) -> Complexes:
    field = np.zeros((points.shape[0], 3), dtype=np.complex128)
    for i in range(points.shape[0]):
        ax = points[i, 0] - nodes[0, 0]
        ay = points[i, 1] - nodes[0, 1]
        az = points[i, 2] - nodes[0, 2]
        ra = math.sqrt(ax * ax + ay * ay + az * az)
        for k in range(currents.shape[0]):
            bx = points[i, 0] - nodes[k + 1, 0]
            by = points[i, 1] - nodes[k + 1, 1]
            bz = points[i, 2] - nodes[k + 1, 2]
            rb = math.sqrt(bx * bx + by * by + bz * bz)
            dot = ax * bx + ay * by + az * bz
            g = 1e-7 * (ra + rb) / (ra * rb * (ra * rb + dot))
            field[i, 0] += currents[k] * (g * (ay * bz - az * by))
            field[i, 1] += currents[k] * (g * (az * bx - ax * bz))
            field[i, 2] += currents[k] * (g * (ax * by - ay * bx))
            ax, ay, az, ra = bx, by, bz, rb
    return field


def chain_field(points: Floats, nodes: Floats, currents: Complexes) -> Complexes:
    r"""Flux density of a chain of straight segments in free space.

    Parameters
    ----------
    points : array, shape (n, 3), [m]
        East, north, up.
    nodes : array, shape (m, 3), [m]
        Ends of the segments, in order.
    currents : complex array, shape (m - 1,), [A], RMS, positive along the chain

    Returns
    -------
    complex array, shape (n, 3), [T]

    Notes
    -----
    :math:`B = (\mu_0 I/4\pi)\,(r_1+r_2)\,\mathbf r_1\times\mathbf r_2 /
    (r_1 r_2 (r_1 r_2 + \mathbf r_1\cdot\mathbf r_2))`. The open ends carry no charge: no field of
    the current that leaks into the ground.

    Examples
    --------
    1 A along north through the origin, 1 m above it: 0.2 microtesla to the east.

    >>> b = chain_field(np.array([[0., 0., 1.]]), np.array([[0., -1e4, 0.], [0., 1e4, 0.]]), np.ones(1) + 0j)
    >>> [round(float(v) * 1e6, 6) for v in b[0].real]
    [0.2, 0.0, 0.0]
    """
    return np.asarray(_segments(points, nodes, currents))


def _panels(least: float, most: float) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on panels from 0 to `most` [1/m].

    Each is 2.2 times as wide as the last, for the kink at small wave numbers, up to 2.5 per metre, for
    the oscillation at offsets of several metres.
    """
    x, w = np.polynomial.legendre.leggauss(10)
    edges = [0.0, least]
    while edges[-1] < most:
        edges.append(edges[-1] + min(1.2 * edges[-1], 2.5))
    half = 0.5 * np.diff(edges)[:, None]
    middle = 0.5 * (np.array(edges[1:]) + np.array(edges[:-1]))[:, None]
    return (middle + half * x).ravel(), (half * w).ravel()


def ground_weights(depth_m: float, frequency_hz: float, resistivity_ohm_m: float) -> tuple[Floats, Complexes]:
    """Quadrature of the ground's own part for a line at one depth: wave numbers [1/m] and weights.

    `sum(weights exp(-wavenumber (z + j' y)))` is the integral of the module's head, good to 1e-6 of
    the free-space field for depths of 0.2 m and more and offsets within 6 m.
    """
    m2 = 1j * 2 * math.pi * frequency_hz * MU0 / resistivity_ohm_m
    k, w = _panels(min(0.3 * abs(m2) ** 0.5, 0.2), 12.0 / depth_m)
    u = np.sqrt(k * k + m2)
    return k, w * (2 * k / (k + u) * np.exp(-u * depth_m) - np.exp(-k * depth_m))


@kernel
def _spectrum(offsets: Floats, wavenumbers: Floats, weights: Complexes) -> tuple[Complexes, Complexes]:
    across = np.zeros(offsets.shape[0], dtype=np.complex128)
    upright = np.zeros(offsets.shape[0], dtype=np.complex128)
    for i in range(offsets.shape[0]):
        for k in range(wavenumbers.shape[0]):
            phase = wavenumbers[k] * offsets[i]
            across[i] += weights[k] * math.cos(phase)
            upright[i] -= weights[k] * math.sin(phase)
    return across, upright


def ground_field(
    offsets_m: Floats, height_m: float, wavenumbers: Floats, weights: Complexes
) -> tuple[Complexes, Complexes]:
    """What the ground adds to a long line's field, per ampere: to its right, and up [T/A].

    Parameters
    ----------
    offsets_m : array, shape (n,), [m]
        Of the points, to the right of the line looking along its current.
    height_m : float, [m]
        Of the points above ground.
    wavenumbers, weights : arrays, shape (k,)
        From `ground_weights`.

    Returns
    -------
    right, up : complex arrays, shape (n,), [T/A]
    """
    damped = weights * np.exp(-wavenumbers * height_m)
    right, up = _spectrum(np.ascontiguousarray(offsets_m), wavenumbers, damped)
    scale = MU0 / (2 * math.pi)
    return right * scale, up * scale
