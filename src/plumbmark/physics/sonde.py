r"""Sonde: a small transmitter coil pushed along a duct, a magnetic dipole pointing along it.

In air, the coil small against its distance. What conducting ground adds is of the order of the square of
distance over skin depth and mostly a quarter period behind (a dipole in uniform ground:
:math:`1 + (\gamma r)^2 / 2`, so 6 % at a quarter of a skin depth, 4 m at 33 kHz in 30 ohm m). It is left out.

**Two kinds of depth.** A receiver that takes depth from two coils assumes how fast the field falls: as
1/r of a long line, or as 1/r^3 of a sonde. Read in the wrong way the answer is far off, always to the
same side; `shown_in_sonde_mode` and `shown_in_line_mode` say by how much.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.constants import MU_0
from plumbmark.base.errors import GeometryError
from plumbmark.physics.line import coil_ratio, two_coil_depth

FLOATS = NDArray[np.float64]


def sonde_field(
    along: ArrayLike, right: ArrayLike, up: ArrayLike, *, moment: float
) -> tuple[FLOATS, FLOATS, FLOATS]:
    r"""Magnetic flux density of a sonde, along its duct, across it and upright.

    Parameters
    ----------
    along, right, up : float or array, broadcast to shape (...), [m]
        Point, counted from the sonde: ahead of it, right of it, above it.
    moment : float, [A m^2], RMS
        Turns times area times current, positive ahead.

    Returns
    -------
    b_along, b_right, b_up : array, shape (...), [T], RMS

    Raises
    ------
    GeometryError
        If a point lies in the sonde.

    Notes
    -----
    :math:`\vec B = \frac{\mu_0}{4\pi} (3 (\vec m\cdot\hat r) \hat r - \vec m) / r^3`. Straight above, at
    distance :math:`d`, it lies along the duct and has :math:`\mu_0 m / 4\pi d^3`, its largest value there;
    it vanishes ahead and behind at :math:`d / \sqrt 2`. Beyond, at :math:`\sqrt{3/2}\,d`, stands a second
    peak, a fifth as strong and opposite. Straight over the duct there is no field across it.

    Examples
    --------
    1 A m^2 at 1 m: 100 nT, against the moment.

    >>> b_along, _, _ = sonde_field(0.0, 0.0, 1.0, moment=1.0)
    >>> print(f"{b_along:.3g}")
    -1e-07
    """
    s, x, z = np.broadcast_arrays(np.asarray(along, float), np.asarray(right, float), np.asarray(up, float))
    r2 = s * s + x * x + z * z
    if not np.all(r2 > 0):
        raise GeometryError("a point lies in the sonde, where its field has no value")
    q = MU_0 * moment / (4.0 * math.pi) / (r2 * r2 * np.sqrt(r2))
    return q * (2.0 * s * s - x * x - z * z), q * 3.0 * s * x, q * 3.0 * s * z


def sonde_null_distance(depth: ArrayLike, *, coil_height: float = 0.0) -> FLOATS:
    r"""How far ahead of the sonde, and behind, the field along the duct vanishes.

    Parameters
    ----------
    depth : float or array, shape (...), [m], above 0
        Of the sonde below the ground.
    coil_height : float, [m]
        Of the receiver's coil above the ground.

    Returns
    -------
    array, shape (...), [m]
        :math:`(d + a)/\sqrt 2`.
    """
    return np.asarray((np.asarray(depth, float) + coil_height) / math.sqrt(2.0), float)[()]


def depth_from_nulls(ahead: ArrayLike, behind: ArrayLike, *, coil_height: float = 0.0) -> FLOATS:
    """Depth of a sonde from the distance between its two nulls along the duct.

    Parameters
    ----------
    ahead, behind : float or array, broadcast to shape (...), [m]
        From the mark to each null; that the mark is not midway does no harm.
    coil_height : float, [m]
        Of the receiver's coil above the ground.

    Returns
    -------
    array, shape (...), [m]

    Examples
    --------
    Nulls 1.414 m apart: 1 m down.

    >>> print(f"{depth_from_nulls(0.7, 0.714):.3f}")
    1.000
    """
    between = np.asarray(ahead, float) + np.asarray(behind, float)
    return np.asarray(between / math.sqrt(2.0) - coil_height, float)[()]


def sonde_two_coil_depth(ratio: ArrayLike, *, spacing: float, lower_height: float = 0.0) -> FLOATS:
    r"""Depth of a sonde from the ratio of its field at two coils, one above the other.

    Parameters
    ----------
    ratio : float or array, shape (...), above 1
        Lower coil's signal over the upper coil's, both along the duct, straight above.
    spacing : float, [m], above 0
    lower_height : float, [m]

    Returns
    -------
    array, shape (...), [m]
        :math:`s / (R^{1/3} - 1) - a`.

    Raises
    ------
    GeometryError
        If the ratio is not above 1.
    """
    return two_coil_depth(np.cbrt(np.asarray(ratio, float)), spacing=spacing, lower_height=lower_height)


def shown_in_sonde_mode(line_depth: ArrayLike, *, spacing: float, lower_height: float = 0.0) -> FLOATS:
    r"""Depth that a receiver set to sonde shows over one long line.

    Parameters
    ----------
    line_depth : float or array, shape (...), [m]
    spacing, lower_height : float, [m]

    Returns
    -------
    array, shape (...), [m]

    Notes
    -----
    The coils see a ratio :math:`R = 1 + s/D`, :math:`D = d + a`, and the display makes
    :math:`s / (R^{1/3} - 1) - a` of it: near :math:`3 D + s - a`, a little less.

    Assumed: the receiver is held across the line, so that its coils see the line's field in full, and in
    either mode takes the same two coils.

    Examples
    --------
    A line 1 m down, coils 0.4 m apart, the lower on the ground:

    >>> print(f"{shown_in_sonde_mode(1.0, spacing=0.4):.2f}")
    3.37
    """
    ratio = coil_ratio(line_depth, spacing=spacing, lower_height=lower_height)
    return sonde_two_coil_depth(ratio, spacing=spacing, lower_height=lower_height)


def shown_in_line_mode(sonde_depth: ArrayLike, *, spacing: float, lower_height: float = 0.0) -> FLOATS:
    r"""Depth that a receiver set to line shows straight above a sonde, held along its duct.

    Parameters
    ----------
    sonde_depth : float or array, shape (...), [m]
    spacing, lower_height : float, [m]

    Returns
    -------
    array, shape (...), [m]
        :math:`s / ((1 + s/D)^3 - 1) - a`: under a third of the truth. Below 0 for a shallow sonde.

    Examples
    --------
    A sonde 1 m down, coils 0.4 m apart, the lower on the ground:

    >>> print(f"{shown_in_line_mode(1.0, spacing=0.4):.3f}")
    0.229
    """
    ratio = coil_ratio(sonde_depth, spacing=spacing, lower_height=lower_height, power=3)
    return two_coil_depth(ratio, spacing=spacing, lower_height=lower_height)
