r"""Straight pieces of line, bends, ends and tees: Biot-Savart in closed form, in three dimensions.

Points and vertices are (easting, northing, up) in metres, fields in teslas along the same axes. A current
may differ at the two ends of a piece and then falls or rises evenly between: it leaks into the ground. The
field of the leaked current on its way through the ground is *not* in these formulas, nor is that of the
ground's own eddy currents: free space.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.compiled import kernel
from plumbmark.base.constants import MU_0
from plumbmark.base.errors import GeometryError

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

#: Nearer to a piece than this its field counts as without value [m].
ON_THE_LINE_M = 1e-9

_MU_0_OVER_4PI = MU_0 / (4.0 * math.pi)


@kernel
def segment_factors(
    px: float, py: float, pz: float, ax: float, ay: float, az: float, bx: float, by: float, bz: float
) -> tuple[float, float, float, float, float]:
    """Field of one straight piece, split into what the current at each end contributes.

    Parameters
    ----------
    px, py, pz, ax, ay, az, bx, by, bz : float, [m]
        The point, and the ends a and b of the piece.

    Returns
    -------
    nx, ny, nz : float, [m]
        Direction of the field: unit vector from a to b, crossed with the distance of the point.
    of_a, of_b : float, [1/m^2]
        The field is mu0 / 4 pi times (of_a I_a + of_b I_b) times n. No value on the piece itself: infinite.
    """
    tx, ty, tz = bx - ax, by - ay, bz - az
    length = math.sqrt(tx * tx + ty * ty + tz * tz)
    tx, ty, tz = tx / length, ty / length, tz / length
    rx, ry, rz = px - ax, py - ay, pz - az
    nx, ny, nz = ty * rz - tz * ry, tz * rx - tx * rz, tx * ry - ty * rx
    # along the piece, from the foot of the point: from s0 to s1
    s0 = -(tx * rx + ty * ry + tz * rz)
    s1 = s0 + length
    rho2 = nx * nx + ny * ny + nz * nz
    r0 = math.sqrt(rho2 + s0 * s0)
    r1 = math.sqrt(rho2 + s1 * s1)
    # even = int ds / r^3 and odd = int s ds / r^3, written without loss of digits near the axis
    if s0 > 0.0:
        even = 1.0 / (r0 * (r0 + s0)) - 1.0 / (r1 * (r1 + s1))
    elif s1 < 0.0:
        even = 1.0 / (r1 * (r1 - s1)) - 1.0 / (r0 * (r0 - s0))
    elif rho2 > 0.0:
        even = (s1 / r1 - s0 / r0) / rho2
    else:
        return nx, ny, nz, math.inf, math.inf
    odd = 1.0 / r0 - 1.0 / r1
    slope = (odd - s0 * even) / length
    return nx, ny, nz, even - slope, slope


@kernel
def _polyline(points: FLOATS, vertices: FLOATS, start: COMPLEXES, end: COMPLEXES, out: COMPLEXES) -> None:
    for n in range(points.shape[0]):
        for m in range(vertices.shape[0] - 1):
            a, b = vertices[m], vertices[m + 1]
            p = points[n]
            nx, ny, nz, of_a, of_b = segment_factors(p[0], p[1], p[2], a[0], a[1], a[2], b[0], b[1], b[2])
            q = of_a * start[m] + of_b * end[m]
            out[n, 0] += q * nx
            out[n, 1] += q * ny
            out[n, 2] += q * nz


def _nearest(points: FLOATS, vertices: FLOATS) -> float:
    """Least distance of any point from any piece [m]."""
    a = vertices[:-1]
    t = vertices[1:] - a
    r = points[:, None, :] - a
    along = np.clip((r * t).sum(-1) / (t * t).sum(-1), 0.0, 1.0)
    return float(np.linalg.norm(r - along[..., None] * t, axis=-1).min(initial=math.inf))


def polyline_field(points: ArrayLike, vertices: ArrayLike, *, current: ArrayLike) -> COMPLEXES:
    r"""Magnetic flux density of a bent line of current.

    Parameters
    ----------
    points : array, shape (..., 3), [m]
        Easting, northing, up.
    vertices : array, shape (m, 3), [m], m of 2 or more
    current : complex or array, shape (), (m,) or (m - 1, 2), [A], RMS
        The same everywhere; or at each vertex, even between; or at the start and end of each piece, where
        it may jump at a vertex (a tee, a bond). Positive from the first vertex to the last.

    Returns
    -------
    array, shape (..., 3), [T], RMS, complex

    Raises
    ------
    GeometryError
        If a point lies on the line, a piece has no length or the shapes do not fit.

    Notes
    -----
    With :math:`s` along a piece from the foot of the point and :math:`\rho` the distance from its axis,
    :math:`B = \frac{\mu_0}{4\pi} \hat t \times \vec\rho \int I(s)\,(\rho^2 + s^2)^{-3/2} ds`. For an even
    current that is :math:`\mu_0 I (\sin\theta_2 - \sin\theta_1) / 4\pi\rho`. A line that ends leaves out
    what carries the current away: the field is then that of the pieces, and not free of curl in air.

    Examples
    --------
    1 A, 1 m away from the middle of 2 m: 0.7071 of 200 nT.

    >>> b = polyline_field([0.0, 0.0, 1.0], [[0.0, -1.0, 0.0], [0.0, 1.0, 0.0]], current=1.0)
    >>> print(f"{b[0].real:.4g}")
    1.414e-07
    """
    p, v = np.asarray(points, float), np.asarray(vertices, float)
    if p.shape[-1:] != (3,) or v.ndim != 2 or v.shape[1] != 3 or len(v) < 2:
        raise GeometryError(f"points need shape (..., 3), vertices (2 or more, 3): {p.shape} and {v.shape}")
    i = np.asarray(current, complex)
    if i.ndim == 0:
        ends = np.full((len(v) - 1, 2), i)
    elif i.shape == (len(v),):
        ends = np.stack([i[:-1], i[1:]], axis=1)
    elif i.shape == (len(v) - 1, 2):
        ends = i
    else:
        raise GeometryError(f"current of shape {i.shape} does not fit {len(v)} vertices")
    if np.any(np.linalg.norm(np.diff(v, axis=0), axis=1) <= ON_THE_LINE_M):
        raise GeometryError("two vertices that follow one another are the same place")
    flat = np.ascontiguousarray(p.reshape(-1, 3))
    if _nearest(flat, v) <= ON_THE_LINE_M:
        raise GeometryError("a point lies on the line, where its field has no value")
    out = np.zeros(flat.shape, complex)
    _polyline(flat, np.ascontiguousarray(v), ends[:, 0].copy(), ends[:, 1].copy(), out)
    out *= _MU_0_OVER_4PI
    return out.reshape(p.shape)


def segment_field(points: ArrayLike, start: ArrayLike, end: ArrayLike, *, current: ArrayLike) -> COMPLEXES:
    """Magnetic flux density of one straight piece of line.

    Parameters
    ----------
    points : array, shape (..., 3), [m]
    start, end : array, shape (3,), [m]
    current : complex, or array of shape (2,), [A], RMS
        Even, or at the start and at the end. Positive from start to end.

    Returns
    -------
    array, shape (..., 3), [T], RMS, complex

    Raises
    ------
    GeometryError
        As `polyline_field`, which see.
    """
    return polyline_field(
        points, np.stack([np.asarray(start, float), np.asarray(end, float)]), current=current
    )
