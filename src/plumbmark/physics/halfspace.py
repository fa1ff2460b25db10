r"""Line of current buried in conducting ground, seen from the air: complex image lines.

Over ground of resistivity :math:`\rho` the field of a line at depth :math:`d` is, in both components, the
values at :math:`\zeta = (a \mp jx)/d` of one analytic function

.. math:: G(\zeta) = \int_0^\infty \frac{2 l}{l + u} e^{-u - l\zeta} dl, \qquad
          u^2 = l^2 + 2jk^2, \qquad k = d/\delta, \qquad \delta = \sqrt{2\rho/\omega\mu_0},

with the receiver at height :math:`a` and lateral offset :math:`x`; in air (:math:`k = 0`) it is
:math:`1/(1+\zeta)`. A rational fit :math:`G \approx \sum_j r_j / (\zeta + 1 + b_j)` **is** a set of long
straight lines in air: image :math:`j` carries :math:`r_j` times the current at the complex depth
:math:`d (1 + b_j)`. Image 0 is the line itself (:math:`r = 1, b = 0`); seven more stand below it. Then

.. math:: H = \sum_j \frac{c_j D_j}{D_j^2 + x^2}, \quad V = \sum_j \frac{c_j x}{D_j^2 + x^2}, \quad
          D_j = a + d (1 + b_j), \quad c_j = I r_j,

are the field across the line and upright times :math:`2\pi/\mu_0`. **Signs**: time goes as
:math:`e^{+j\omega t}`; current is positive away from the viewer, :math:`x` to the right; :math:`H` is
positive to the right and :math:`V` positive **down**, so :math:`b_u = -\mu_0 V / 2\pi` in
`line.infinite_line_field` and in the functions below that return teslas.

Assumptions: flat uniform ground of the permeability of air, a long straight line of uniform current that
returns through the ground, no displacement current. The images hold to 6e-5 of the field at the point for
:math:`5\cdot 10^{-4} \le k \le 0.9`, offsets to 70 depths and heights to 15 depths (for :math:`k \le 0.02`,
which is most of the trade, 1e-5); that the error stays below 1e-4 there to :math:`k = 0.5` is proven by
bench/bound_halfspace.py, not only sampled. Below ``K_LOW`` they shrink in proportion to :math:`k` and are
exactly those of air at 0. Above ``K_HIGH`` the ground is taken as no more conducting than there.

Sources: Pollaczek 1926 and Wait & Spies, Radio Science 6(8):781, 1971 (the integral); the rational fit is
our own, by variable projection (Golub & Pereyra 1973), made by tests/create_data/make_halfspace_images.py.
"""

from __future__ import annotations

import math
from importlib.resources import files
from typing import Final

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.compiled import kernel
from plumbmark.base.constants import MU_0_OVER_2PI
from plumbmark.base.errors import GeometryError
from plumbmark.physics.images import across_upright, field_slopes, fields

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

with (files("plumbmark.physics") / "_tables" / "halfspace_images.npz").open("rb") as _file:
    _stored = np.load(_file)
    #: (grid, 4, images): positions b, their slopes per unit of log k, residues r, theirs.
    _TABLE: Final[COMPLEXES] = np.ascontiguousarray(_stored["table"])
    _LOG_K_LOW: Final = float(_stored["log_k_low"])
    _LOG_K_STEP: Final = float(_stored["log_k_step"])

_GRID: Final = _TABLE.shape[0] - 1
_BELOW: Final = _TABLE.shape[2]
#: Images that stand for one line over ground, the line itself first.
HALFSPACE_IMAGES: Final = _BELOW + 1
#: Depth over skin depth between which the images are tabulated.
K_LOW: Final = math.exp(_LOG_K_LOW)
K_HIGH: Final = math.exp(_LOG_K_LOW + _GRID * _LOG_K_STEP)


@kernel
def halfspace_images(
    depth: float, inverse_skin_depth: float, out_depth: COMPLEXES, out_current: COMPLEXES
) -> None:
    """Complex depths and relative currents of the image lines of a line over ground.

    Parameters
    ----------
    depth : float, [m], above 0
        Of the line's centre below the ground.
    inverse_skin_depth : float, [1/m], 0 (air) or above
    out_depth : complex array, shape (HALFSPACE_IMAGES,) or longer, [m]
        Filled; the first is `depth`.
    out_current : complex array, shape (HALFSPACE_IMAGES,) or longer, relative to the line's current
        Filled; the first is 1.
    """
    out_depth[0] = depth
    out_current[0] = 1.0
    k = depth * inverse_skin_depth
    shrink = 1.0
    if k < K_LOW:
        shrink = k / K_LOW
        k = K_LOW
    s = (math.log(k) - _LOG_K_LOW) / _LOG_K_STEP
    i = min(max(int(s), 0), _GRID - 1)
    s = min(max(s - i, 0.0), 1.0)
    # cubic Hermite weights of the two ends and of their slopes
    v1 = s * s * (3.0 - 2.0 * s)
    v0 = 1.0 - v1
    d0 = s * (1.0 - s) * (1.0 - s) * _LOG_K_STEP
    d1 = -s * s * (1.0 - s) * _LOG_K_STEP
    for j in range(_BELOW):
        b = v0 * _TABLE[i, 0, j] + v1 * _TABLE[i + 1, 0, j] + d0 * _TABLE[i, 1, j] + d1 * _TABLE[i + 1, 1, j]
        r = v0 * _TABLE[i, 2, j] + v1 * _TABLE[i + 1, 2, j] + d0 * _TABLE[i, 3, j] + d1 * _TABLE[i + 1, 3, j]
        out_depth[j + 1] = depth * (1.0 + b)
        out_current[j + 1] = shrink * r


@kernel
def halfspace_image_slopes(
    depth: float, inverse_skin_depth: float, out_depth_slope: COMPLEXES, out_current_slope: COMPLEXES
) -> None:
    """Derivatives of the images by the logarithm of depth over skin depth, the depth held.

    With p, c the complex depth and relative current of an image and p', c' what is filled in here:
    dp/d log(skin depth) = -p', dp/d depth = (p + p') / depth; dc/d log(skin depth) = -c',
    dc/d depth = c' / depth.

    Parameters
    ----------
    depth, inverse_skin_depth
        As in `halfspace_images`.
    out_depth_slope, out_current_slope : complex array, shape (HALFSPACE_IMAGES,) or longer, [m] and [1]
        Filled.
    """
    out_depth_slope[0] = 0.0
    out_current_slope[0] = 0.0
    k = depth * inverse_skin_depth
    below = k < K_LOW
    above = k > K_HIGH
    shrink = 1.0
    if below:
        shrink = k / K_LOW
        k = K_LOW
    s = (math.log(k) - _LOG_K_LOW) / _LOG_K_STEP
    i = min(max(int(s), 0), _GRID - 1)
    s = min(max(s - i, 0.0), 1.0)
    v1 = 6.0 * s * (1.0 - s) / _LOG_K_STEP
    d0 = (1.0 - s) * (1.0 - 3.0 * s)
    d1 = s * (3.0 * s - 2.0)
    for j in range(_BELOW):
        b = v1 * (_TABLE[i + 1, 0, j] - _TABLE[i, 0, j]) + d0 * _TABLE[i, 1, j] + d1 * _TABLE[i + 1, 1, j]
        r = v1 * (_TABLE[i + 1, 2, j] - _TABLE[i, 2, j]) + d0 * _TABLE[i, 3, j] + d1 * _TABLE[i + 1, 3, j]
        if below:
            b = 0.0j
            r = shrink * _TABLE[0, 2, j]
        if above:
            b = 0.0j
            r = 0.0j
        out_depth_slope[j + 1] = depth * b
        out_current_slope[j + 1] = r


def _checked(
    easting: ArrayLike, height: ArrayLike, line_easting: float, depth: float, skin_depth: float
) -> tuple[FLOATS, FLOATS]:
    """Offsets and heights of one shape; raises where the formulas do not hold."""
    offset, a = np.broadcast_arrays(np.asarray(easting, float) - line_easting, np.asarray(height, float))
    if not depth > 0:
        raise GeometryError(f"depth is {depth} m: the line must lie below the ground")
    if not skin_depth > 0:
        raise GeometryError(f"skin depth is {skin_depth} m: above 0, or infinite for air")
    if not np.all(a >= 0):
        raise GeometryError("a point lies below the ground: these fields are for the air, height 0 or above")
    return offset, a


def line_over_ground_field(
    easting: ArrayLike,
    height: ArrayLike,
    *,
    line_easting: float = 0.0,
    depth: float,
    current: complex,
    skin_depth: float,
) -> tuple[COMPLEXES, COMPLEXES]:
    r"""Magnetic flux density above ground of a line in it, across the line and upright.

    Parameters
    ----------
    easting, height : float or array, broadcast to shape (...), [m]
        Points, measured square across the line; height above the ground, 0 or above.
    line_easting : float, [m]
    depth : float, [m], above 0
        From the ground to the line's centre.
    current : complex, [A], RMS, positive away from the viewer
    skin_depth : float, [m], above 0, infinite for air

    Returns
    -------
    b_e, b_u : complex array, shape (...), [T], RMS
        To the right and **up**, phase against the current (negative: behind it).

    Raises
    ------
    GeometryError
        If the line is not below the ground or a point is.

    Notes
    -----
    Complex images, see the head of the module for assumptions and error.

    Examples
    --------
    10 mA, 1 m below the receiver, in air: 2 nT across. In ground of skin depth 10 m, 6.7 % less.

    >>> b_e, _ = line_over_ground_field(0.0, 0.0, depth=1.0, current=0.01, skin_depth=float("inf"))
    >>> print(f"{abs(b_e):.4g}")
    2e-09
    >>> b_e, _ = line_over_ground_field(0.0, 0.0, depth=1.0, current=0.01, skin_depth=10.0)
    >>> print(f"{abs(b_e):.3g}")
    1.87e-09
    """
    offset, a = _checked(easting, height, line_easting, depth, skin_depth)
    n = HALFSPACE_IMAGES
    p, c = np.empty(n, complex), np.empty(n, complex)
    halfspace_images(float(depth), 1.0 / skin_depth, p, c)
    h, v = np.empty(offset.size, complex), np.empty(offset.size, complex)
    fields(np.ravel(offset), np.ravel(a), np.zeros(n), p, c, n, h, v)
    scale = MU_0_OVER_2PI * current
    return scale * h.reshape(offset.shape), -scale * v.reshape(offset.shape)


_NODES, _WEIGHTS = leggauss(24)


def line_over_ground_field_quadrature(
    easting: ArrayLike,
    height: ArrayLike,
    *,
    line_easting: float = 0.0,
    depth: float,
    current: complex,
    skin_depth: float,
) -> tuple[COMPLEXES, COMPLEXES]:
    r"""The same field straight from the integral, to 1e-12: the judge of the images, and slow.

    Parameters, returns, raises
        As `line_over_ground_field`.

    Notes
    -----
    :math:`H = \frac{I}{\pi}\int_0^\infty \frac{l}{l+u} e^{-ud-la} \{\cos lx, \sin lx\}\,dl` by composite
    Gauss-Legendre rules: panels grow from the smallest scale of the integrand and stay short against its
    oscillation; the tail left out is below e^-40.
    """
    offset, a = _checked(easting, height, line_easting, depth, skin_depth)
    x, a = np.ravel(offset), np.ravel(a)
    reach = max(float(np.abs(x).max(initial=0.0)), depth)
    top = 42.0 / (depth + float(a.min(initial=0.0)))
    edges = [0.0, 1e-4 * min(1.0 / skin_depth, 1.0 / reach) if math.isfinite(skin_depth) else 1e-4 / reach]
    while edges[-1] < top:
        edges.append(edges[-1] + min(0.6 * edges[-1], 2.0 / depth, 12.0 / reach))
    low, high = np.array(edges[:-1]), np.array(edges[1:])
    wave = (0.5 * (high - low)[:, None] * (_NODES + 1.0) + low[:, None]).ravel()
    weight = (0.5 * (high - low)[:, None] * _WEIGHTS).ravel()
    u = np.sqrt(wave * wave + 2j / skin_depth**2)
    source = weight * 2.0 * wave / (wave + u) * np.exp(-u * depth)
    b_e, b_u = np.empty(x.size, complex), np.empty(x.size, complex)
    for n in range(x.size):
        falling = source * np.exp(-wave * a[n])
        b_e[n] = np.sum(falling * np.cos(wave * x[n]))
        b_u[n] = -np.sum(falling * np.sin(wave * x[n]))
    scale = MU_0_OVER_2PI * current
    return scale * b_e.reshape(offset.shape), scale * b_u.reshape(offset.shape)


@kernel
def line_over_ground_slopes(
    offset: float,
    height: float,
    depth: float,
    inverse_skin_depth: float,
    out_h: COMPLEXES,
    out_v: COMPLEXES,
) -> None:
    """Across and upright at one point for 1 A, times 2 pi / mu0, with their first derivatives.

    Parameters
    ----------
    offset, height, depth : float, [m]
    inverse_skin_depth : float, [1/m]
    out_h, out_v : complex array, shape (5,)
        Filled: value [1/m]; derivative by offset, by height, by depth [1/m^2]; by log of skin depth [1/m].
        Upright is positive down.
    """
    n = HALFSPACE_IMAGES
    at = np.zeros(n)
    p = np.empty(n, np.complex128)
    c = np.empty(n, np.complex128)
    p1 = np.empty(n, np.complex128)
    c1 = np.empty(n, np.complex128)
    halfspace_images(depth, inverse_skin_depth, p, c)
    halfspace_image_slopes(depth, inverse_skin_depth, p1, c1)
    out_h[0], out_h[1], _, out_v[0], out_v[1], _ = field_slopes(offset, height, at, p, c, n)
    out_h[2] = -out_v[1]
    out_v[2] = out_h[1]
    # an image that sinks by dp is one seen from dp higher; one whose current grows by dc adds a field of dc
    by_current_h, by_current_v = across_upright(offset, height, at, p, c1, n)
    _, up, _, _, across, _ = field_slopes(offset, height, at, p, c * (p + p1), n)
    out_h[3] = (by_current_h - across) / depth
    out_v[3] = (by_current_v + up) / depth
    _, up, _, _, across, _ = field_slopes(offset, height, at, p, c * p1, n)
    out_h[4] = across - by_current_h
    out_v[4] = -up - by_current_v
