r"""What a receiver shows over buried currents: peak, null, half points, depth, current.

Every current is given as *image lines*: a long straight line in air is one image (its depth real, its
current in amperes); a line in conducting ground is a short sum of images whose depths and currents are
complex (see `halfspace`). Over image :math:`j` at lateral position :math:`x_j`, complex depth
:math:`p_j` and complex current :math:`c_j`, a coil at lateral :math:`x` and height :math:`h` sees

.. math:: H = \sum_j \frac{c_j D_j}{D_j^2 + (x-x_j)^2}, \quad
          V = \sum_j \frac{c_j (x-x_j)}{D_j^2 + (x-x_j)^2}, \quad D_j = h + p_j,

across the line and upright, in A/m times :math:`2\pi`; the factor :math:`\mu_0/2\pi` drops out of
everything that a display shows. Amplitudes are RMS. The scalar kernels are the one implementation that
simulation, fit and drawing share; the functions without an underscore broadcast over them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.compiled import kernel
from plumbmark.base.errors import GeometryError

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

#: Depth shown where the upper coil sees no less than the lower one [m]: past every buried line.
NO_DEPTH_M = 50.0

NULL_PHASE = 0
NULL_LEAST = 1


@kernel
def across_upright(
    x: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> tuple[complex, complex]:
    """Field across the line and upright at one point, scaled by 2 pi / mu0 [A/m]."""
    h = 0.0 + 0.0j
    v = 0.0 + 0.0j
    for j in range(n):
        dx = x - at[j]
        d = height + depth[j]
        q = current[j] / (d * d + dx * dx)
        h += q * d
        v += q * dx
    return h, v


@kernel
def _across_slopes(
    x: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> tuple[complex, complex, complex]:
    """Across-line field with its first and second derivative along x."""
    h = 0.0 + 0.0j
    h1 = 0.0 + 0.0j
    h2 = 0.0 + 0.0j
    for j in range(n):
        dx = x - at[j]
        d = height + depth[j]
        r = 1.0 / (d * d + dx * dx)
        a = current[j] * d * r
        b = a * r
        h += a
        h1 -= 2.0 * dx * b
        h2 += (6.0 * dx * dx - 2.0 * d * d) * b * r
    return h, h1, h2


@kernel
def _upright_slopes(
    x: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> tuple[complex, complex, complex]:
    """Upright field with its first and second derivative along x."""
    v = 0.0 + 0.0j
    v1 = 0.0 + 0.0j
    v2 = 0.0 + 0.0j
    for j in range(n):
        dx = x - at[j]
        d = height + depth[j]
        r = 1.0 / (d * d + dx * dx)
        a = current[j] * r
        v += a * dx
        v1 += (d * d - dx * dx) * a * r
        v2 += 2.0 * dx * (dx * dx - 3.0 * d * d) * a * r * r
    return v, v1, v2


@kernel
def peak_of(start: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int) -> float:
    """Lateral place where the across-line amplitude peaks, climbed to from `start` [m]."""
    x = start
    reach = 0.35 * (height + depth[0].real)
    for _ in range(25):
        h, h1, h2 = _across_slopes(x, height, at, depth, current, n)
        g = (h1 * h.conjugate()).real
        g1 = (h2 * h.conjugate()).real + h1.real**2 + h1.imag**2
        if g1 < 0.0:
            step = -g / g1
        elif g > 0.0:
            step = reach
        else:
            step = -reach
        step = min(max(step, -reach), reach)
        x += step
        if abs(step) < 1e-8:
            break
    return x


@kernel
def null_of(
    start: float, height: float, kind: int, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> float:
    """Lateral place nearest `start` where the upright field vanishes, by either definition [m]."""
    x = start
    reach = 0.35 * (height + depth[0].real)
    for _ in range(25):
        v, v1, v2 = _upright_slopes(x, height, at, depth, current, n)
        if kind == 0:
            h, h1, _h2 = _across_slopes(x, height, at, depth, current, n)
            g = (v * h.conjugate()).real
            g1 = (v1 * h.conjugate()).real + (v * h1.conjugate()).real
        else:
            g = (v1 * v.conjugate()).real
            g1 = (v2 * v.conjugate()).real + v1.real**2 + v1.imag**2
        if g1 > 0.0:
            step = -g / g1
        elif g > 0.0:
            step = -reach
        else:
            step = reach
        step = min(max(step, -reach), reach)
        x += step
        if abs(step) < 1e-8:
            break
    return x


@kernel
def half_of(
    mark: float, side: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> float:
    """Distance from `mark` to where the across-line amplitude is half of that at the mark [m].

    `side` is +1 for the right and -1 for the left.
    """
    h, _v = across_upright(mark, height, at, depth, current, n)
    goal = 0.25 * (h.real**2 + h.imag**2)
    scale = height + depth[0].real
    low = 0.0
    high = scale
    for _ in range(12):
        h, _v = across_upright(mark + side * high, height, at, depth, current, n)
        if h.real**2 + h.imag**2 <= goal:
            break
        low = high
        high += 0.5 * scale
    w = 0.5 * (low + high)
    for _ in range(40):
        h, h1, _h2 = _across_slopes(mark + side * w, height, at, depth, current, n)
        f = h.real**2 + h.imag**2 - goal
        if f > 0.0:
            low = w
        else:
            high = w
        f1 = 2.0 * side * (h1 * h.conjugate()).real
        nxt = w - f / f1 if f1 < 0.0 else 0.5 * (low + high)
        if not (low < nxt < high):
            nxt = 0.5 * (low + high)
        if abs(nxt - w) < 1e-7:
            w = nxt
            break
        w = nxt
    return float(w)


@kernel
def depth_at(
    mark: float,
    lower: float,
    spacing: float,
    raised: float,
    coil_error: float,
    at: FLOATS,
    depth: COMPLEXES,
    current: COMPLEXES,
    n: int,
) -> float:
    """Depth that two coils one above the other show at `mark`, counted from the raised foot [m].

    `coil_error` is the relative error of the upper coil against the lower one.
    """
    h1, _v1 = across_upright(mark, lower + raised, at, depth, current, n)
    h2, _v2 = across_upright(mark, lower + raised + spacing, at, depth, current, n)
    b1 = abs(h1)
    b2 = abs(h2) * (1.0 + coil_error)
    if b1 - b2 <= 1e-9 * b1:
        return 50.0
    d = spacing * b2 / (b1 - b2) - lower
    return min(max(d, 1e-3), 50.0)


@kernel
def current_at(
    mark: float, shown_depth: float, lower: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> float:
    """Current that the display makes of the lower coil's field and the depth it shows [A]."""
    h, _v = across_upright(mark, lower, at, depth, current, n)
    return abs(h) * (shown_depth + lower)


def image_lines(
    easting: ArrayLike, depth: ArrayLike, current: ArrayLike
) -> tuple[FLOATS, COMPLEXES, COMPLEXES]:
    """Lateral places, complex depths and currents as the kernels take them; raises where they do not fit."""
    e = np.atleast_1d(np.asarray(easting, dtype=np.float64))
    d = np.atleast_1d(np.asarray(depth, dtype=np.complex128))
    c = np.atleast_1d(np.asarray(current, dtype=np.complex128))
    if not (e.shape == d.shape == c.shape and e.ndim == 1):
        raise GeometryError(f"positions, depths, currents differ in shape: {e.shape}, {d.shape}, {c.shape}")
    if not np.all(d.real > 0.0):
        raise GeometryError(f"line depths {d.real.tolist()} m: each is above 0, positive down")
    return e, d, c


def check_spacing(coil_spacing: float) -> None:
    """Raises `GeometryError` for a distance between two coils that is none."""
    if not coil_spacing > 0.0:
        raise GeometryError(f"coil spacing {coil_spacing!r} m: it is above 0")


def peak_position(
    line_easting: ArrayLike, line_depth: ArrayLike, current: ArrayLike, *, coil_height: float = 0.0
) -> float:
    """Where the peak over the first line is, climbed to from straight above it.

    Parameters
    ----------
    line_easting, line_depth : array, shape (n,), [m]
        Lateral positions and depths to centre (complex for images of conducting ground).
    current : array, shape (n,), [A], RMS
        Complex where out of phase; the first is the line being located.
    coil_height : float, [m]
        Lower coil above ground.

    Returns
    -------
    float, [m]

    Raises
    ------
    GeometryError
        If the arrays differ in length or a depth is not below ground.

    Examples
    --------
    >>> peak_position([0.0], [1.0], [1.0])
    0.0
    """
    e, d, c = image_lines(line_easting, line_depth, current)
    return float(peak_of(float(e[0]), coil_height, e, d, c, len(e)))


def null_position(
    line_easting: ArrayLike,
    line_depth: ArrayLike,
    current: ArrayLike,
    *,
    coil_height: float = 0.0,
    least: bool = False,
) -> float:
    """Where the upright field vanishes, nearest the peak [m].

    Parameters are those of `peak_position`; `least` takes the least amplitude, else the sign change in
    phase with the across-line field. The two agree where all currents are in phase.

    Raises
    ------
    GeometryError
        As `peak_position`.
    """
    e, d, c = image_lines(line_easting, line_depth, current)
    start = peak_of(float(e[0]), coil_height, e, d, c, len(e))
    return float(null_of(start, coil_height, NULL_LEAST if least else NULL_PHASE, e, d, c, len(e)))


def half_distances(
    line_easting: ArrayLike, line_depth: ArrayLike, current: ArrayLike, *, coil_height: float = 0.0
) -> tuple[float, float]:
    """Distances from the peak to half the signal, left and right [m]; one line alone: the depth, twice.

    Raises
    ------
    GeometryError
        As `peak_position`.

    Examples
    --------
    >>> [round(w, 6) for w in half_distances([0.0], [1.0], [1.0])]
    [1.0, 1.0]
    """
    e, d, c = image_lines(line_easting, line_depth, current)
    mark = peak_of(float(e[0]), coil_height, e, d, c, len(e))
    left = half_of(mark, -1.0, coil_height, e, d, c, len(e))
    right = half_of(mark, 1.0, coil_height, e, d, c, len(e))
    return float(left), float(right)


def displayed_depth(
    line_easting: ArrayLike,
    line_depth: ArrayLike,
    current: ArrayLike,
    *,
    mark: float,
    lower_coil_height: float,
    coil_spacing: float,
    raised_by: float = 0.0,
    coil_error: float = 0.0,
) -> float:
    """Depth a two-coil receiver shows with its foot at `mark`, counted from the (raised) foot [m].

    Returns
    -------
    float, [m]
        `NO_DEPTH_M` where the upper coil sees no less than the lower one.

    Raises
    ------
    GeometryError
        As `peak_position`, or if the spacing is not positive.

    Examples
    --------
    >>> round(displayed_depth([0.0], [1.0], [1.0], mark=0.0, lower_coil_height=0.05, coil_spacing=0.4), 6)
    1.0
    """
    check_spacing(coil_spacing)
    e, d, c = image_lines(line_easting, line_depth, current)
    return float(depth_at(mark, lower_coil_height, coil_spacing, raised_by, coil_error, e, d, c, len(e)))


def displayed_current(
    line_easting: ArrayLike,
    line_depth: ArrayLike,
    current: ArrayLike,
    *,
    mark: float,
    shown_depth: float,
    lower_coil_height: float,
) -> float:
    """Current a receiver shows at `mark` from its lower coil's field and the depth it shows [A].

    Raises
    ------
    GeometryError
        As `peak_position`.
    """
    e, d, c = image_lines(line_easting, line_depth, current)
    return float(current_at(mark, shown_depth, lower_coil_height, e, d, c, len(e)))


def field_along(
    offsets: ArrayLike,
    heights: ArrayLike,
    line_easting: ArrayLike,
    line_depth: ArrayLike,
    current: ArrayLike,
) -> tuple[COMPLEXES, COMPLEXES]:
    """Across-line and upright field at many points, scaled by 2 pi / mu0 [A/m].

    Parameters
    ----------
    offsets, heights : array, broadcastable, [m]
        Lateral positions of the coil and its heights above ground.

    Returns
    -------
    across, upright : complex array of the broadcast shape, [A/m]

    Raises
    ------
    GeometryError
        As `peak_position`.
    """
    e, d, c = image_lines(line_easting, line_depth, current)
    x, z = np.broadcast_arrays(np.asarray(offsets, dtype=float), np.asarray(heights, dtype=float))
    dx = x[..., None] - e
    dd = z[..., None] + d
    q = c / (dd * dd + dx * dx)
    return np.sum(q * dd, axis=-1), np.sum(q * dx, axis=-1)
