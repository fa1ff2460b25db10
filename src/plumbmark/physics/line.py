r"""Long straight line of current in air: the textbook case everything else is compared with.

Axes here and in all of `physics`: easting to the right, up upwards, the viewer looks along the line and
current is positive away from the viewer. Straight above the line the field then points right, and right of
it down.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.constants import MU_0_OVER_2PI
from plumbmark.base.errors import GeometryError

FLOATS = NDArray[np.float64]


def infinite_line_field(
    easting: ArrayLike,
    up: ArrayLike,
    *,
    line_easting: float = 0.0,
    line_up: float = 0.0,
    current: complex,
) -> tuple[NDArray[np.inexact], NDArray[np.inexact]]:
    r"""Magnetic flux density of a long straight line of current, across it and upright.

    Parameters
    ----------
    easting, up : float or array, broadcast to shape (...), [m]
        Points, measured square across the line.
    line_easting, line_up : float, [m]
    current : float or complex, [A], RMS, positive away from the viewer

    Returns
    -------
    b_e, b_u : float or complex array, shape (...), [T], RMS
        To the right and up; complex if the current is.

    Raises
    ------
    GeometryError
        If a point lies on the line.

    Notes
    -----
    :math:`B = \mu_0 I / 2\pi r`; to the right :math:`\mu_0 I z / 2\pi r^2`, up
    :math:`-\mu_0 I x / 2\pi r^2`, with :math:`x` the offset to the right and :math:`z` the height above the
    line. Free space, no return current; `halfspace` says how far that holds over ground.

    Examples
    --------
    10 mA, 1 m below the point: 2 nT across.

    >>> b_e, b_u = infinite_line_field(0.0, 1.0, current=0.010)
    >>> print(f"{b_e:.3g} {abs(b_u):.3g}")
    2e-09 0
    """
    x = np.asarray(easting, float) - line_easting
    z = np.asarray(up, float) - line_up
    r2 = x * x + z * z
    if not np.all(r2 > 0):
        raise GeometryError("a point lies on the line, where its field has no value")
    scale = MU_0_OVER_2PI * current
    b_e, b_u = scale * z / r2, -scale * x / r2
    return b_e, b_u


def two_coil_depth(ratio: ArrayLike, *, spacing: float, lower_height: float = 0.0) -> FLOATS:
    r"""Depth of one long line from the ratio of its field at two coils, one above the other.

    Parameters
    ----------
    ratio : float or array, shape (...), above 1
        Lower coil's signal over the upper coil's.
    spacing : float, [m], above 0
    lower_height : float, [m], 0 or above
        Of the lower coil above the ground.

    Returns
    -------
    array, shape (...), [m]
        From the ground to the line's centre.

    Raises
    ------
    GeometryError
        If the ratio is not above 1: the upper coil sees as much as the lower.

    Notes
    -----
    :math:`s / (R - 1) - a`. One per cent of error in the ratio moves it by :math:`(d + s) / s` per cent of
    the distance :math:`d` from the lower coil: 3.5 % at 1 m with coils 0.4 m apart.

    Examples
    --------
    >>> print(f"{two_coil_depth(1.4, spacing=0.4):.6g}")
    1
    """
    r = np.asarray(ratio, float)
    if not np.all(r > 1):
        raise GeometryError("the upper coil sees as much as the lower: no depth can be had from their ratio")
    return np.asarray(spacing / (r - 1.0) - lower_height, float)[()]


def coil_ratio(depth: ArrayLike, *, spacing: float, lower_height: float = 0.0, power: int = 1) -> FLOATS:
    r"""Lower coil's signal over the upper coil's, straight above a source whose field falls as r^-power.

    Parameters
    ----------
    depth : float or array, shape (...), [m]
    spacing, lower_height : float, [m]
    power : int
        1 for a long line, 3 for a sonde.

    Returns
    -------
    array, shape (...)

    Raises
    ------
    GeometryError
        If the source is not below the lower coil.
    """
    d = np.asarray(depth, float) + lower_height
    if not np.all(d > 0):
        raise GeometryError("the source must lie below the lower coil")
    return np.asarray(((d + spacing) / d) ** power, float)[()]


def straight_reach(distance: float, fraction: float) -> float:
    r"""How far a straight stretch must reach, each way, to give all but a fraction of a long line's field.

    Parameters
    ----------
    distance : float, [m]
        From the receiver to the line.
    fraction : float, between 0 and 1
        Of the field that may be missing.

    Returns
    -------
    float, [m]
        Length of the stretch on each side of the receiver.

    Notes
    -----
    A stretch reaching :math:`L` each way gives :math:`L / \sqrt{L^2 + d^2}` of the field.

    Examples
    --------
    Within 2 %: about five distances each way.

    >>> round(straight_reach(1.0, 0.02), 2)
    4.92
    """
    kept = 1.0 - fraction
    return distance * kept / math.sqrt(1.0 - kept * kept)
