r"""Stakes in the ground: their resistance, the soil potential they share, the step beside them.

A stake is a rod driven from the surface into uniform soil; its current leaves it evenly along its length.
The mean potential that one rod's current gives another is then a closed double integral, and the same
formula with the rod's radius for the distance is Dwight's resistance of a rod alone.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.errors import GeometryError

FLOATS = NDArray[np.float64]


def rod_resistance(resistivity: ArrayLike, length: ArrayLike, radius: ArrayLike) -> FLOATS:
    r"""Resistance of one driven rod to remote ground.

    Parameters
    ----------
    resistivity : float or array, [ohm m], above 0
    length, radius : float or array, [m], above 0; the length more than twice the radius

    Returns
    -------
    array, broadcast shape, [ohm]

    Raises
    ------
    GeometryError
        If a value is not above 0 or the rod is no rod.

    Notes
    -----
    :math:`R = \frac{\rho}{2\pi L}\left(\ln\frac{4L}{a} - 1\right)` (Dwight, Electrical Engineering 55, 1936).

    Examples
    --------
    10 ft of 3/4 in rod in 100 ohm m: the 32 ohm of the handbooks.

    >>> round(float(rod_resistance(100.0, 3.048, 0.009525)), 2)
    32.14
    """
    rho, long, a = (np.asarray(v, float) for v in (resistivity, length, radius))
    if not (np.all(rho > 0) and np.all(a > 0) and np.all(long > 2.0 * a)):
        raise GeometryError(
            f"a stake of length {long} m and radius {a} m in soil of {rho} ohm m: all are above 0, "
            "and the length is more than the diameter"
        )
    return np.asarray(rho / (2.0 * math.pi * long) * (np.log(4.0 * long / a) - 1.0))


def rod_mutual(resistivity: float, length: ArrayLike, apart: ArrayLike) -> FLOATS:
    r"""Mean rise of potential of a rod for each ampere that leaves another of the same length.

    Parameters
    ----------
    resistivity : float, [ohm m]
    length, apart : float or array, [m], above 0

    Returns
    -------
    array, broadcast shape, [ohm]

    Notes
    -----
    :math:`\frac{\rho}{2\pi L}[\sinh^{-1}\frac1t - \sqrt{1 + t^2} + t]`, :math:`t = s / 2L`. Dwight's
    series is its expansion for large :math:`t`; cut after three terms it is 4 % too high at :math:`s = L`.

    Examples
    --------
    Far apart, a rod is a point: rho / (2 pi s).

    >>> round(float(rod_mutual(100.0, 1.0, 100.0)), 3), round(100.0 / (2.0 * math.pi * 100.0), 3)
    (0.159, 0.159)
    """
    long, s = np.asarray(length, float), np.asarray(apart, float)
    t = 0.5 * s / long
    return np.asarray(resistivity / (2.0 * math.pi * long) * (np.arcsinh(1.0 / t) - np.hypot(1.0, t) + t))


def rods_matrix(
    resistivity: float, easting: ArrayLike, northing: ArrayLike, length: ArrayLike, radius: ArrayLike
) -> FLOATS:
    """Potentials of rods that share the soil, for each ampere that leaves one of them.

    Parameters
    ----------
    resistivity : float, [ohm m]
    easting, northing, length, radius : array, shape (n,), [m]

    Returns
    -------
    array, shape (n, n), [ohm]
        Symmetric; the diagonal is each rod alone. Rods of unlike length share with their mean length.

    Raises
    ------
    GeometryError
        If two rods stand in one place, or one is no rod.
    """
    e, n, long, a = (np.atleast_1d(np.asarray(v, float)) for v in (easting, northing, length, radius))
    apart = np.hypot(e[:, None] - e, n[:, None] - n)
    np.fill_diagonal(apart, 1.0)
    if np.any(apart < a[:, None] + a):
        raise GeometryError("two stakes stand in one place")
    shared = rod_mutual(resistivity, 0.5 * (long[:, None] + long), apart)
    np.fill_diagonal(shared, rod_resistance(resistivity, long, a))
    return shared


def rods_resistance(
    resistivity: float, easting: ArrayLike, northing: ArrayLike, length: ArrayLike, radius: ArrayLike
) -> float:
    """Resistance of rods wired together [ohm].

    Parameters, raises
        As `rods_matrix`.

    Examples
    --------
    Two rods four lengths apart: 52 % of one.

    >>> two = rods_resistance(100.0, [0.0, 12.192], [0.0, 0.0], [3.048] * 2, [0.009525] * 2)
    >>> round(two / 32.137, 3)
    0.52
    """
    matrix = rods_matrix(resistivity, easting, northing, length, radius)
    return float(1.0 / np.sum(np.linalg.solve(matrix, np.ones(len(matrix)))))


def rod_potential(resistivity: float, length: float, distance: ArrayLike, depth: ArrayLike = 0.0) -> FLOATS:
    r"""Soil potential near a rod for each ampere that leaves it [ohm].

    Parameters
    ----------
    resistivity : float, [ohm m]
    length : float, [m]
    distance : float or array, [m], above 0
        From the rod's axis.
    depth : float or array, [m]
        Of the point.

    Returns
    -------
    array, broadcast shape, [ohm]

    Notes
    -----
    :math:`\frac{\rho}{4\pi L}\left[\sinh^{-1}\frac{L-z}{r} + \sinh^{-1}\frac{L+z}{r}\right]`.
    """
    r, z = np.asarray(distance, float), np.asarray(depth, float)
    spread = np.arcsinh((length - z) / r) + np.arcsinh((length + z) / r)
    return np.asarray(resistivity / (4.0 * math.pi * length) * spread)


def step_share(length: float, radius: float, distance: ArrayLike) -> FLOATS:
    """Part of a rod's voltage that lies between it and a point of the surface.

    Parameters
    ----------
    length, radius : float, [m]
    distance : float or array, [m]

    Returns
    -------
    array
        Between 0 and 1: times the rod's voltage, what somebody bridges who stands that far from it.

    Notes
    -----
    Touch and step voltage of MIL-HDBK-419A volume I, table 2-7.

    Examples
    --------
    A flush 10 ft rod of 1 in diameter, the first 3 ft: about two thirds.

    >>> round(float(step_share(3.048, 0.0127, 0.9144)), 2)
    0.67
    """
    return np.asarray(1.0 - rod_potential(1.0, length, distance) / rod_resistance(1.0, length, radius))
