"""What a receiver shows over buried currents: peak, null, half points, depth, current.

Every current is given as image lines (see `images`). The scalar kernels are the one implementation that
simulation, fit and drawing share; the functions below them check what they are given first.

Each number is the root of an equation, found by Newton's method on the form of it that is exact for one
line: over one line :math:`1/|H|` is a parabola in the lateral place, :math:`V/H` a straight line, and at the
half points :math:`1/|H|` is a straight line in the square of the distance. A step below `CLOSE` of the
distance to the line leaves its square as error: some 1e-10 m.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.compiled import kernel
from plumbmark.base.errors import GeometryError
from plumbmark.physics.images import across_upright, field_slopes, image_lines

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

#: Depth shown where the upper coil sees no less than the lower one [m]: past every buried line.
NO_DEPTH_M = 50.0
#: The last step of a search, of the distance from the coil to the line.
CLOSE = 1e-5
#: Most steps of one, and the longest, of the same distance.
STEPS = 25
STRIDE = 0.35

NULL_PHASE = 0
NULL_LEAST = 1


@kernel
def peak_of(start: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int) -> float:
    """Lateral place where the across-line amplitude peaks, climbed to from `start` [m]."""
    x = start
    scale = height + depth[0].real
    for _ in range(STEPS):
        h, h1, h2, _v, _v1, _v2 = field_slopes(x, height, at, depth, current, n)
        size = h.real**2 + h.imag**2
        g = h1.real * h.real + h1.imag * h.imag
        g1 = h2.real * h.real + h2.imag * h.imag + h1.real**2 + h1.imag**2
        # slope and curvature of 1 / |h|, times -|h|^3 and |h|^5
        curve = 3.0 * g * g - g1 * size
        if curve > 0.0:
            step = g * size / curve
        else:
            step = math.copysign(STRIDE * scale, g)
        step = min(max(step, -STRIDE * scale), STRIDE * scale)
        x += step
        if abs(step) < CLOSE * scale:
            break
    return x


@kernel
def null_of(
    start: float, height: float, kind: int, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> float:
    """Lateral place nearest `start` where the upright field vanishes, by either definition [m]."""
    x = start
    scale = height + depth[0].real
    for _ in range(STEPS):
        h, h1, _h2, v, v1, v2 = field_slopes(x, height, at, depth, current, n)
        if kind == NULL_PHASE:
            size = h.real**2 + h.imag**2
            u = complex(v.real * h.real + v.imag * h.imag, v.imag * h.real - v.real * h.imag) / size
            # real parts of u = v / h and of its slope (v1 - u h1) / h
            g = u.real
            w = v1 - u * h1
            g1 = (w.real * h.real + w.imag * h.imag) / size
        else:
            g = v1.real * v.real + v1.imag * v.imag
            g1 = v2.real * v.real + v2.imag * v.imag + v1.real**2 + v1.imag**2
        if g1 > 0.0:
            step = -g / g1
        else:
            step = math.copysign(STRIDE * scale, -g)
        step = min(max(step, -STRIDE * scale), STRIDE * scale)
        x += step
        if abs(step) < CLOSE * scale:
            break
    return x


@kernel
def half_of(
    mark: float, side: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> float:
    """Distance from `mark` to where the across-line amplitude is half of that at the mark [m].

    `side` is +1 for the right and -1 for the left.
    """
    scale = height + depth[0].real
    h, h1, h2, _v, _v1, _v2 = field_slopes(mark, height, at, depth, current, n)
    size = h.real**2 + h.imag**2
    g = h1.real * h.real + h1.imag * h.imag
    curve = 3.0 * g * g - (h2.real * h.real + h2.imag * h.imag + h1.real**2 + h1.imag**2) * size
    goal = 2.0 / math.sqrt(size)
    # begin short of where the parabola of 1 / |h| at the mark doubles, so as not to miss the first half point
    w = 0.7 * (min(scale, math.sqrt(2.0 * size * size / curve)) if curve > 0.0 else scale)
    low = 0.0
    high = math.inf
    for _ in range(STEPS):
        h, h1, _h2, _v, _v1, _v2 = field_slopes(mark + side * w, height, at, depth, current, n)
        size = math.sqrt(h.real**2 + h.imag**2)
        miss = 1.0 / size - goal
        if miss < 0.0:
            low = w
        else:
            high = w
        # slope of 1 / |h| by the square of the distance
        slope = -side * (h1.real * h.real + h1.imag * h.imag) / (2.0 * w * size**3)
        nxt = math.sqrt(max(w * w - miss / slope, 0.0)) if slope > 0.0 else math.inf
        if abs(nxt - w) < CLOSE * scale:
            return float(nxt)
        if high == math.inf:
            w = min(nxt, w + 0.5 * scale)
        else:
            w = nxt if low < nxt < high else 0.5 * (low + high)
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
        return NO_DEPTH_M
    d = spacing * b2 / (b1 - b2) - lower
    return min(max(d, 1e-3), NO_DEPTH_M)


@kernel
def current_at(
    mark: float, shown_depth: float, lower: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> float:
    """Current that the display makes of the lower coil's field and the depth it shows [A]."""
    h, _v = across_upright(mark, lower, at, depth, current, n)
    return abs(h) * (shown_depth + lower)


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
