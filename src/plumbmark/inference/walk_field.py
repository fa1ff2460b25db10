r"""Amplitudes along one walk across a line, and their derivatives by all that lies below, in closed form.

The unknowns of a walk stand in a vector: `SHIFT`, `LN_DEPTH`, `SOIL`, `LOWER`, then four for each second
line (offset right of the line, ln depth, real and imaginary part of its current over the line's). Over the
images of `halfspace` (complex depth :math:`p`, current :math:`c`) a coil at :math:`x` right of a line and
:math:`a` above ground sees

.. math:: H = \sum \frac{c D}{D^2 + x^2}, \quad V = \sum \frac{c x}{D^2 + x^2}, \quad D = a + p,

so that :math:`\partial H/\partial x = \partial V/\partial D` and :math:`\partial V/\partial x =
-\partial H/\partial D`: four sums serve place and height, four more the line's depth and the soil. Real and
imaginary parts stand in rows of their own and the loops run over points, a few rows each: so they are
compiled to vector instructions, which makes them five times faster than complex numbers point by point.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.physics.halfspace import HALFSPACE_IMAGES, halfspace_image_slopes, halfspace_images
from plumbmark.physics.skin import inverse_skin_depth

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

# -- the unknowns of a walk --------------------------------------------------------------------------------
SHIFT = 0  # the line right of the walk's zero [m]
LN_DEPTH = 1
SOIL = 2  # ln resistivity
LOWER = 3  # height of the lower coil, where a point has no height of its own [m]
FIRST = 4  # then four for each second line:
OFFSET = 0  # right of the line [m]
OTHER_LN_DEPTH = 1
RE = 2
IM = 3
PER = 4

# -- sums over the images of one line: pairs of rows, real and imaginary -----------------------------------
H = 0
V = 2
H_X = 4  # by the place across; also V by height
H_D = 6  # by height; also less V by the place across
PLAIN = 8  # rows without the following
H_Z = 8  # by ln depth
V_Z = 10
H_R = 12  # by ln resistivity
V_R = 14
ROWS = 16
WORK = 6  # rows of scratch
TINY = 1e-300


@kernel
def _spread(p: complex, c: complex, offset: FLOATS, height: FLOATS, place: float, w: FLOATS) -> None:
    """Into the scratch, for one image: x, D, and a = c / (D^2 + x^2), b = c / (D^2 + x^2)^2."""
    x, d, ar, ai, br, bi = w[0], w[1], w[2], w[3], w[4], w[5]
    pr = p.real
    pi = p.imag
    cr = c.real
    ci = c.imag
    for i in range(offset.shape[0]):
        xx = offset[i] - place
        dd = height[i] + pr
        qr = dd * dd - pi * pi + xx * xx
        qi = 2.0 * dd * pi
        s = 1.0 / (qr * qr + qi * qi)
        rr = qr * s
        ri = -qi * s
        a = cr * rr - ci * ri
        b = cr * ri + ci * rr
        ar[i] = a
        ai[i] = b
        br[i] = a * rr - b * ri
        bi[i] = a * ri + b * rr
        d[i] = dd
        x[i] = xx


@kernel
def _plain_sums(
    p: COMPLEXES, c: COMPLEXES, offset: FLOATS, height: FLOATS, place: float, w: FLOATS, out: FLOATS
) -> None:
    """Fields and their slopes by place and height: the first PLAIN rows."""
    n = offset.shape[0]
    x, d, ar, ai, br, bi = w[0], w[1], w[2], w[3], w[4], w[5]
    hr, hi, vr, vi = out[H], out[H + 1], out[V], out[V + 1]
    xr, xi, dr, di = out[H_X], out[H_X + 1], out[H_D], out[H_D + 1]
    for j in range(p.shape[0]):
        _spread(p[j], c[j], offset, height, place, w)
        pi = p[j].imag
        for i in range(n):
            hr[i] += ar[i] * d[i] - ai[i] * pi
            hi[i] += ar[i] * pi + ai[i] * d[i]
        for i in range(n):
            vr[i] += ar[i] * x[i]
            vi[i] += ai[i] * x[i]
        for i in range(n):
            xr[i] -= 2.0 * x[i] * (d[i] * br[i] - pi * bi[i])
            xi[i] -= 2.0 * x[i] * (d[i] * bi[i] + pi * br[i])
        for i in range(n):
            er = x[i] * x[i] - d[i] * d[i] + pi * pi
            ei = -2.0 * d[i] * pi
            dr[i] += er * br[i] - ei * bi[i]
            di[i] += er * bi[i] + ei * br[i]


@kernel
def _slope_sums(
    p: COMPLEXES,
    c: COMPLEXES,
    p1: COMPLEXES,
    c1: COMPLEXES,
    offset: FLOATS,
    height: FLOATS,
    place: float,
    w: FLOATS,
    out: FLOATS,
) -> None:
    """Slopes by ln depth and ln resistivity; `p1`, `c1` are those of the images by ln k.

    ln k is ln depth less ln skin depth, the latter half of ln resistivity; what comes by ln k gathers in the
    rows of the resistivity and is halved at the end.
    """
    n = offset.shape[0]
    x, d, ar, ai, br, bi = w[0], w[1], w[2], w[3], w[4], w[5]
    hz, hzi, hk, hki = out[H_Z], out[H_Z + 1], out[H_R], out[H_R + 1]
    vz, vzi, vk, vki = out[V_Z], out[V_Z + 1], out[V_R], out[V_R + 1]
    for j in range(p.shape[0]):
        if c[j] == 0.0:
            continue
        _spread(p[j], c[j], offset, height, place, w)
        pr, pi = p[j].real, p[j].imag
        sr, si = p1[j].real, p1[j].imag
        g = c1[j] / c[j]
        gr, gi = g.real, g.imag
        for i in range(n):
            er = x[i] * x[i] - d[i] * d[i] + pi * pi
            ei = -2.0 * d[i] * pi
            fr = er * br[i] - ei * bi[i]
            fi = er * bi[i] + ei * br[i]
            tr = ar[i] * d[i] - ai[i] * pi
            ti = ar[i] * pi + ai[i] * d[i]
            hz[i] += fr * pr - fi * pi
            hzi[i] += fr * pi + fi * pr
            hk[i] += fr * sr - fi * si + gr * tr - gi * ti
            hki[i] += fr * si + fi * sr + gr * ti + gi * tr
        for i in range(n):
            fr = -2.0 * x[i] * (d[i] * br[i] - pi * bi[i])
            fi = -2.0 * x[i] * (d[i] * bi[i] + pi * br[i])
            vz[i] += fr * pr - fi * pi
            vzi[i] += fr * pi + fi * pr
            vk[i] += fr * sr - fi * si + (gr * ar[i] - gi * ai[i]) * x[i]
            vki[i] += fr * si + fi * sr + (gr * ai[i] + gi * ar[i]) * x[i]
    for f in range(4):
        by_z = out[H_Z + f]
        by_k = out[H_R + f]
        for i in range(n):
            by_z[i] += by_k[i]
            by_k[i] *= -0.5


@kernel
def line_sums(
    depth: float,
    skin: float,
    offset: FLOATS,
    height: FLOATS,
    place: float,
    slopes: bool,
    w: FLOATS,
    out: FLOATS,
) -> None:
    """Fields of 1 A times 2 pi / mu0 and their slopes for a line at `place` across the walk.

    Parameters
    ----------
    depth, skin, place : float, [m]
        Depth of the line, skin depth of the ground, and where across the walk the line lies.
    offset, height : array, shape (points,), [m]
        No gaps among the heights: `heights_of` fills them.
    slopes : bool
        Also by ln depth and ln resistivity.
    w : shape (WORK, points)
        Scratch.
    out : array, shape (ROWS, points)
        Filled: rows as named above; upright is positive down.
    """
    p = np.empty(HALFSPACE_IMAGES, np.complex128)
    c = np.empty(HALFSPACE_IMAGES, np.complex128)
    halfspace_images(depth, 1.0 / skin, p, c)
    for f in range(ROWS if slopes else PLAIN):
        for i in range(offset.shape[0]):
            out[f, i] = 0.0
    _plain_sums(p, c, offset, height, place, w, out)
    if slopes:
        p1 = np.empty(HALFSPACE_IMAGES, np.complex128)
        c1 = np.empty(HALFSPACE_IMAGES, np.complex128)
        halfspace_image_slopes(depth, 1.0 / skin, p1, c1)
        _slope_sums(p, c, p1, c1, offset, height, place, w, out)


@kernel
def skin_of(state: FLOATS, frequency_hz: float) -> float:
    """Skin depth under a state [m]."""
    return 1.0 / inverse_skin_depth(frequency_hz, math.exp(state[SOIL]))


@kernel
def walk_sums(
    state: FLOATS,
    frequency_hz: float,
    offset: FLOATS,
    height: FLOATS,
    slopes: bool,
    w: FLOATS,
    sums: FLOATS,
    total: FLOATS,
) -> None:
    """Sums of every line, shape (lines, ROWS, points), and their total weighted by the currents."""
    skin = skin_of(state, frequency_hz)
    rows = ROWS if slopes else PLAIN
    line_sums(math.exp(state[LN_DEPTH]), skin, offset, height, state[SHIFT], slopes, w, sums[0])
    n = offset.shape[0]
    for f in range(rows):
        for i in range(n):
            total[f, i] = sums[0, f, i]
    line = 1
    k = FIRST
    while k + PER <= state.shape[0]:
        place = state[SHIFT] + state[k + OFFSET]
        s = sums[line]
        line_sums(math.exp(state[k + OTHER_LN_DEPTH]), skin, offset, height, place, slopes, w, s)
        re = state[k + RE]
        im = state[k + IM]
        for f in range(0, rows, 2):
            for i in range(n):
                total[f, i] += re * s[f, i] - im * s[f + 1, i]
                total[f + 1, i] += re * s[f + 1, i] + im * s[f, i]
        line += 1
        k += PER


@kernel
def heights_of(height: FLOATS, lower: float, out: FLOATS) -> None:
    """Heights of the points; those not written down (NaN) are the lower coil's."""
    for i in range(height.shape[0]):
        out[i] = lower if math.isnan(height[i]) else height[i]


@kernel
def amplitudes(total: FLOATS, ease: float, size: FLOATS, steep: FLOATS) -> float:
    """Amplitudes and their slopes along the walk, shape (2, points): across, upright. Returns the largest.

    They are the root of |field|^2 + ease^2: with none they have a kink where a field vanishes.
    """
    n = size.shape[1]
    for part in range(2):
        f = H if part == 0 else V
        by = H_X if part == 0 else H_D
        sign = 1.0 if part == 0 else -1.0
        for i in range(n):
            size[part, i] = math.sqrt(total[f, i] ** 2 + total[f + 1, i] ** 2 + ease * ease) + TINY
            slope = total[f, i] * total[by, i] + total[f + 1, i] * total[by + 1, i]
            steep[part, i] = sign * slope / size[part, i]
    top = 0.0
    for i in range(n):
        top = max(top, size[0, i], size[1, i])
    return top


@kernel
def _slope(total: FLOATS, f: int, i: int, size: float, re: float, im: float, by: FLOATS, g: int) -> float:
    """Derivative of amplitude `size` of field `f` when it changes by (re + j im) times row pair `g`."""
    dr = re * by[g, i] - im * by[g + 1, i]
    di = re * by[g + 1, i] + im * by[g, i]
    return float((total[f, i] * dr + total[f + 1, i] * di) / size)


@kernel
def amplitude_slopes(
    state: FLOATS,
    height: FLOATS,
    sums: FLOATS,
    total: FLOATS,
    ease: float,
    size: FLOATS,
    steep: FLOATS,
    out: FLOATS,
) -> None:
    """Derivatives of the amplitudes by every unknown, shape (unknowns, 2, points).

    Parameters
    ----------
    state : shape (unknowns,)
    height : shape (points,), [m]
        As written down: NaN where it was not.
    sums, total, ease, size, steep
        As `walk_sums`, with slopes, and `amplitudes` filled them; the ease is in proportion to 1 / depth.
    out : shape (unknowns, 2, points)
        Filled: 0 across, 1 upright.
    """
    e = ease * ease
    for i in range(height.shape[0]):
        a = size[0, i]
        u = size[1, i]
        # the whole scene moves with the line
        out[SHIFT, 0, i] = -steep[0, i]
        out[SHIFT, 1, i] = -steep[1, i]
        out[LN_DEPTH, 0, i] = _slope(total, H, i, a, 1.0, 0.0, sums[0], H_Z) - e / a
        out[LN_DEPTH, 1, i] = _slope(total, V, i, u, 1.0, 0.0, sums[0], V_Z) - e / u
        out[SOIL, 0, i] = _slope(total, H, i, a, 1.0, 0.0, total, H_R)
        out[SOIL, 1, i] = _slope(total, V, i, u, 1.0, 0.0, total, V_R)
        free = 1.0 if math.isnan(height[i]) else 0.0
        out[LOWER, 0, i] = _slope(total, H, i, a, free, 0.0, total, H_D)
        out[LOWER, 1, i] = _slope(total, V, i, u, free, 0.0, total, H_X)
        line = 1
        k = FIRST
        while k + PER <= state.shape[0]:
            re = state[k + RE]
            im = state[k + IM]
            s = sums[line]
            out[k + OFFSET, 0, i] = _slope(total, H, i, a, -re, -im, s, H_X)
            out[k + OFFSET, 1, i] = _slope(total, V, i, u, re, im, s, H_D)
            out[k + OTHER_LN_DEPTH, 0, i] = _slope(total, H, i, a, re, im, s, H_Z)
            out[k + OTHER_LN_DEPTH, 1, i] = _slope(total, V, i, u, re, im, s, V_Z)
            out[k + RE, 0, i] = _slope(total, H, i, a, 1.0, 0.0, s, H)
            out[k + RE, 1, i] = _slope(total, V, i, u, 1.0, 0.0, s, V)
            out[k + IM, 0, i] = _slope(total, H, i, a, 0.0, 1.0, s, H)
            out[k + IM, 1, i] = _slope(total, V, i, u, 0.0, 1.0, s, V)
            line += 1
            k += PER
