"""From the globals of a stretch to the currents under one place of it, as image lines."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE
from plumbmark.inference.walk_order import COUNT, log_order
from plumbmark.physics.display import current_at, depth_at, half_of, null_of, peak_of
from plumbmark.physics.halfspace import HALFSPACE_IMAGES, halfspace_images
from plumbmark.physics.images import across_upright, field_slopes
from plumbmark.physics.skin import inverse_skin_depth

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

#: Half the signal is looked for as far as this many displayed depths, where one line alone has it at one.
HALF_TO_DEPTH = 1.5
ORDER_STEP_M = 0.03  # to either side, for the slope of an order's likelihood
NEARBY_M = 1e-3  # for the slope of an amplitude along a walk

# -- what a node of the display table holds ---------------------------------------------------------------
PEAK = 0
NULL = 1
LEFT = 2
RIGHT = 3
LN_SHOWN = 4
LN_CURRENT = 5
LN_SHOWN_ALONE = 6
FIRST_RAISED = 7


@kernel
def put_line(
    first: int,
    offset: float,
    depth: float,
    re: float,
    im: float,
    skin: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
) -> int:
    """Append one line's images from index `first`; returns the next free index."""
    last: int = first + HALFSPACE_IMAGES
    halfspace_images(depth, 1.0 / skin, deep[first:last], current[first:last])
    for j in range(first, last):
        at[j] = offset
        current[j] *= re + 1j * im
    return last


@kernel
def put_scene(
    theta: FLOATS, z: float, along: float, skin: float, at: FLOATS, deep: COMPLEXES, current: COMPLEXES
) -> int:
    """All currents at chainage `along` with the line itself exp(`z`) deep; returns their number of images."""
    n = int(put_line(0, 0.0, math.exp(z), 1.0, 0.0, skin, at, deep, current))
    k = FIRST_LINE
    while k + PER_LINE <= theta.shape[0]:
        share = math.exp(theta[k + 5] * along)
        n = put_line(
            n,
            theta[k] + theta[k + 1] * along,
            math.exp(theta[k + 2] + theta[k + 6] * along),
            share * theta[k + 3],
            share * theta[k + 4],
            skin,
            at,
            deep,
            current,
        )
        k += PER_LINE
    return n


@kernel
def skin_depth_of(theta: FLOATS, frequency_hz: float) -> float:
    """Skin depth under the globals [m]."""
    return 1.0 / inverse_skin_depth(frequency_hz, math.exp(theta[2]))


@kernel
def marked_peak(lower: float, at: FLOATS, deep: COMPLEXES, current: COMPLEXES, n: int) -> float:
    """The peak a crew would mark: climbed to from above the line, be it the line's own or another's."""
    return float(peak_of(0.0, lower, at, deep, current, n))


@kernel
def depth_shown(
    theta: FLOATS,
    z: float,
    along: float,
    frequency_hz: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
) -> float:
    """Depth displayed at the marked peak at chainage `along` for a line exp(`z`) deep [m]."""
    n = put_scene(theta, z, along, skin_depth_of(theta, frequency_hz), at, deep, current)
    mark = marked_peak(theta[3], at, deep, current, n)
    return float(depth_at(mark, theta[3], theta[4], 0.0, theta[1], at, deep, current, n))


@kernel
def fill_node(
    theta: FLOATS,
    z: float,
    along: float,
    frequency_hz: float,
    raises: FLOATS,
    halves: bool,
    at_null: bool,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    out: FLOATS,
) -> None:
    """What the display shows at chainage `along` for a line exp(`z`) deep, into `out`."""
    skin = skin_depth_of(theta, frequency_hz)
    n = put_scene(theta, z, along, skin, at, deep, current)
    lower = theta[3]
    spacing = theta[4]
    kind = 0 if theta[5] < 0.5 else 1
    peak = marked_peak(lower, at, deep, current, n)
    null = null_of(peak, lower, kind, at, deep, current, n)
    out[PEAK] = peak
    out[NULL] = null
    mark = null if at_null else peak
    shown = depth_at(mark, lower, spacing, 0.0, theta[1], at, deep, current, n)
    if halves:
        # past that it is another line's signal, and the place jumps from here to there
        widest = HALF_TO_DEPTH * (shown + lower)
        out[LEFT] = mark - min(half_of(mark, -1.0, lower, at, deep, current, n), widest)
        out[RIGHT] = mark + min(half_of(mark, 1.0, lower, at, deep, current, n), widest)
    out[LN_SHOWN] = math.log(shown)
    out[LN_CURRENT] = math.log(max(current_at(mark, shown, lower, at, deep, current, n), 1e-12))
    for r in range(raises.shape[0]):
        out[FIRST_RAISED + r] = math.log(
            depth_at(mark, lower, spacing, raises[r], theta[1], at, deep, current, n)
        )
    # the line's own images stand first: it alone
    out[LN_SHOWN_ALONE] = math.log(
        depth_at(0.0, lower, spacing, 0.0, 0.0, at, deep, current, HALFSPACE_IMAGES)
    )


@kernel
def order_misfit(
    t: float,
    first: int,
    count: int,
    scatter: float,
    offset: FLOATS,
    height: FLOATS,
    across: FLOATS,
    upright: FLOATS,
    lower: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    n: int,
) -> float:
    """Log likelihood of the order of a walk's amplitudes, its zero `t` right of the line.

    `across` and `upright` hold ranks, alike for amplitudes not told apart; NaN where not taken.
    """
    size = np.empty(2 * count)
    steep = np.empty(2 * count)
    rank = np.empty(2 * count)
    taken = 0
    top = 0.0
    for i in range(count):
        j = first + i
        h = height[j] if not math.isnan(height[j]) else lower
        a, u = across_upright(t + offset[j], h, at, deep, current, n)
        b, v = across_upright(t + offset[j] + NEARBY_M, h, at, deep, current, n)
        for c in range(2):
            value = across[j] if c == 0 else upright[j]
            if not math.isnan(value):
                size[taken] = abs(a) if c == 0 else abs(u)
                steep[taken] = ((abs(b) if c == 0 else abs(v)) - size[taken]) / NEARBY_M
                rank[taken] = value
                top = max(top, size[taken])
                taken += 1
    order = np.argsort(rank[:taken])
    group = np.zeros(taken, dtype=np.int64)
    for k in range(1, taken):
        group[k] = group[k - 1] + (1 if rank[order[k]] > rank[order[k - 1]] else 0)
    return float(log_order(size, steep, top, scatter, 0, order, group, np.empty((3, COUNT))))


@kernel
def profile_pull(
    t: float,
    first: int,
    count: int,
    scatter: float,
    offset: FLOATS,
    height: FLOATS,
    across: FLOATS,
    across_sigma: FLOATS,
    upright: FLOATS,
    upright_sigma: FLOATS,
    lower: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    n: int,
    model: FLOATS,
) -> tuple[float, float, float]:
    """Log likelihood of a walk across whose zero lies `t` right of the line, its slope and curvature in `t`.

    The gain is profiled out. Heavy tails (Student, six degrees of freedom) so that one bad point does not
    carry the fit; curvature by Gauss and Newton, positive. `model` is scratch of shape (4, count).
    Where only the order of the amplitudes is trusted they are ranks, and their sigmas are negative:
    `order_misfit` has them, and its slopes are differences.
    """
    if across_sigma[first] < 0.0:
        fits = np.empty(3)
        for k in range(3):
            place = t + (k - 1) * ORDER_STEP_M
            fits[k] = order_misfit(
                place, first, count, scatter, offset, height, across, upright, lower, at, deep, current, n
            )
        low, mid, high = fits
        bow = (2.0 * mid - high - low) / ORDER_STEP_M**2
        return mid, (high - low) / (2.0 * ORDER_STEP_M), max(bow, 1.0)
    top = 0.0
    bottom = 0.0
    top_slope = 0.0
    bottom_slope = 0.0
    for i in range(count):
        j = first + i
        h = height[j] if not math.isnan(height[j]) else lower
        a, a1, _a2, u, u1, _u2 = field_slopes(t + offset[j], h, at, deep, current, n)
        for k in range(2):
            f, f1 = (a, a1) if k == 0 else (u, u1)
            size = abs(f)
            model[k, i] = size
            model[k + 2, i] = (f.real * f1.real + f.imag * f1.imag) / max(size, 1e-300)
            seen = across[j] if k == 0 else upright[j]
            if math.isnan(seen):
                continue
            sigma = across_sigma[j] if k == 0 else upright_sigma[j]
            w = 1.0 / (sigma * sigma)
            top += w * seen * size
            bottom += w * size * size
            top_slope += w * seen * model[k + 2, i]
            bottom_slope += 2.0 * w * size * model[k + 2, i]
    gain = top / bottom
    gain_slope = (top_slope - gain * bottom_slope) / bottom
    total = 0.0
    slope = 0.0
    curve = 0.0
    number = 0
    for i in range(count):
        j = first + i
        for k in range(2):
            seen = across[j] if k == 0 else upright[j]
            if math.isnan(seen):
                continue
            sigma = scatter * (across_sigma[j] if k == 0 else upright_sigma[j])
            e = (seen - gain * model[k, i]) / sigma
            e1 = -(gain_slope * model[k, i] + gain * model[k + 2, i]) / sigma
            weight = 7.0 / (6.0 + e * e)
            total -= 3.5 * math.log1p(e * e / 6.0)
            slope -= weight * e * e1
            curve += weight * e1 * e1
            number += 1
    return total - (number - 1) * math.log(scatter), slope, curve
