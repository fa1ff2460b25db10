"""Posterior weight of draws about one walk: the outer unknowns given, the inner ones fitted and drawn.

*Outer* are the soil and the second lines, as in `walk_prior`; *inner* are the line's place and depth, the
gain and the scatter, which are nearly Gaussian once the outer ones are given. Each draw of the outer ones
gets its own best inner ones by a few Gauss-Newton turns and a draw about them from Student's distribution;
its weight is that of the exact posterior, with no Gaussian left in it, over the density it was drawn from.

Under the same outer unknowns the walk's zero may be near the line or, where the crew marked the peak of
another one, near that: *whose* says which is nearest, and a draw that comes out otherwise counts nothing.
Where only the order of the amplitudes is trusted there is nothing to fit, and all unknowns are outer.

The noise is the file contract's, at the amplitudes of the model, times the job's scatter, with Student's
tails of six degrees of freedom so that a bad point does not carry the answer, and folded at zero.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.priors import (
    DEPTH_LOG_SIGMA,
    DEPTH_MEDIAN_M,
    PEAK_SIGMA_M,
    PEAK_SIGMA_OF_DEPTH,
    SCATTER_LOG_SIGMA,
)
from plumbmark.inference.scene import marked_peak, put_scene
from plumbmark.inference.second import Known
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE
from plumbmark.inference.walk import Walk
from plumbmark.inference.walk_field import (
    FIRST,
    H_Z,
    IM,
    LN_DEPTH,
    LOWER,
    OFFSET,
    OTHER_LN_DEPTH,
    PER,
    RE,
    ROWS,
    SHIFT,
    SOIL,
    V_Z,
    WORK,
    H,
    V,
    amplitudes,
    heights_of,
    line_sums,
    skin_of,
    walk_sums,
)
from plumbmark.inference.walk_fit import LEAST_LN, MOST_LN, SHIFT_SIGMA_M, solve_posdef
from plumbmark.inference.walk_order import COUNT, log_order, point_sigma
from plumbmark.inference.walk_prior import IMPOSSIBLE, OUT_PHASE, OUT_SIZE, log_prior_outer, ratio_of

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]
COMPLEXES = NDArray[np.complex128]

# -- inner unknowns, and the last of the outer ones where only the order is trusted -----------------------
INNER_SHIFT = 0
INNER_LN_DEPTH = 1
INNER_LN_SCATTER = 2
INNER_LN_GAIN = 3
INNER = 4
ORDERED = 3  # the gain does not matter then

TAIL = 8.0  # degrees of freedom of the inner proposals
WIDER = 1.15  # their width over the Gauss-Newton one
TURNS = 6
MOST_SHIFT_M = 8.0
FAR2 = 40.0  # squared distance from every best fit beyond which none of them says where to begin
LOG_TAIL = math.lgamma(0.5 * (TAIL + 1.0)) - math.lgamma(0.5 * TAIL) - 0.5 * math.log(TAIL * math.pi)
LN_DEPTH_0 = math.log(DEPTH_MEDIAN_M)


@kernel
def outer_size(lines: int, ordered: bool) -> int:
    """Number of outer unknowns: soil, four for each second line, three more where only the order counts."""
    return 1 + PER * lines + (ORDERED if ordered else 0)


@kernel
def _log_prior_inner(z: float, ln_scatter: float) -> float:
    a = (z - LN_DEPTH_0) / DEPTH_LOG_SIGMA
    b = ln_scatter / SCATTER_LOG_SIGMA
    constant = math.log(DEPTH_LOG_SIGMA * SCATTER_LOG_SIGMA * 2.0 * math.pi)
    return -0.5 * (a * a + b * b) - constant


@kernel
def scene_theta(state: FLOATS, ln_scatter: float, theta: FLOATS) -> None:
    """The same scene in the order of `stretch`, coils left as they are in `theta`."""
    theta[0] = ln_scatter
    theta[2] = state[SOIL]
    theta[3] = state[LOWER]
    k = FIRST
    j = FIRST_LINE
    while k + PER <= state.shape[0]:
        theta[j] = state[k + OFFSET]
        theta[j + 1] = 0.0
        theta[j + 2] = state[k + OTHER_LN_DEPTH]
        theta[j + 3] = state[k + RE]
        theta[j + 4] = state[k + IM]
        theta[j + 5] = 0.0
        theta[j + 6] = 0.0
        k += PER
        j += PER_LINE


@kernel
def _peak(
    state: FLOATS, frequency_hz: float, theta: FLOATS, at: FLOATS, deep: COMPLEXES, current: COMPLEXES
) -> float:
    """Where a crew would mark the line, right of it [m]."""
    scene_theta(state, 0.0, theta)
    skin = skin_of(state, frequency_hz)
    n = put_scene(theta, state[LN_DEPTH], 0.0, skin, at, deep, current)
    return float(marked_peak(state[LOWER], at, deep, current, n))


@kernel
def _mark_sigma(z: float) -> float:
    """How well the peak over a line exp(z) deep is found by hand, before the job's scatter [m]."""
    return PEAK_SIGMA_M + PEAK_SIGMA_OF_DEPTH * min(math.exp(z), 6.0)


@kernel
def _log_mark(state: FLOATS, peak: float, ln_scatter: float) -> float:
    """Log density of the walk's zero standing where it does, set on the peak by hand."""
    s = math.exp(ln_scatter) * _mark_sigma(state[LN_DEPTH])
    e = (state[SHIFT] + peak) / s
    return float(-0.5 * e * e - math.log(s) - 0.5 * math.log(2.0 * math.pi))


@kernel
def _log_amplitudes(
    walk: Walk, size: FLOATS, steep: FLOATS, top: float, scatter: float, gain: float
) -> float:
    """Log density of the amplitudes written down, up to a constant."""
    total = 0.0
    for c in range(2):
        for i in range(size.shape[1]):
            y = walk.level[c, i]
            if math.isnan(y):
                continue
            s = gain * scatter * point_sigma(size[c, i], steep[c, i], top)
            s = math.sqrt(s * s + walk.floor[c, i])
            a = (y - gain * size[c, i]) / s
            b = (y + gain * size[c, i]) / s
            u = 1.0 + a * a / 6.0
            v = 1.0 + b * b / 6.0
            total += math.log((1.0 / (u * u * u * math.sqrt(u)) + 1.0 / (v * v * v * math.sqrt(v))) / s)
    return total


@kernel
def nearest_line(shift: float, outer: FLOATS, lines: int) -> int:
    """Which line is nearest the walk's zero: 0 the line itself, else a second one."""
    best = 0
    least = abs(shift)
    for line in range(lines):
        away = abs(shift + outer[1 + PER * line + OFFSET])
        if away < least:
            least = away
            best = line + 1
    return best


@kernel
def _begin(
    outer: FLOATS,
    whose: int,
    modes: FLOATS,
    modes_whose: INTS,
    spread: FLOATS,
    slope: FLOATS,
    inner: FLOATS,
) -> None:
    """Place and depth to begin from: those of the nearest best fit, leant over to these outer unknowns.

    `modes` has shape (modes, 2 + outer): place and depth, then the outer unknowns; row 0 is the best fit
    without second lines, for draws far from all others. `spread` holds inverse covariances of the outer
    unknowns, `slope` how place and depth lean on them.
    """
    n = spread.shape[1]
    nearest = FAR2
    inner[INNER_SHIFT] = modes[0, 0]
    inner[INNER_LN_DEPTH] = modes[0, 1]
    if whose > 0:
        inner[INNER_SHIFT] -= outer[1 + PER * (whose - 1) + OFFSET]
        inner[INNER_LN_DEPTH] = LN_DEPTH_0
    for m in range(1, modes.shape[0]):
        if modes_whose[m] != whose:
            continue
        # a fit that knows nothing of the last line stands further off by what that one would add
        away = 0.0 if spread[m, n - 1, n - 1] > 0.0 else float(PER)
        for i in range(n):
            e = outer[i] - modes[m, 2 + i]
            for j in range(n):
                away += e * spread[m, i, j] * (outer[j] - modes[m, 2 + j])
        if away < nearest:
            nearest = away
            for k in range(2):
                inner[k] = modes[m, k]
                for i in range(n):
                    inner[k] += slope[m, k, i] * (outer[i] - modes[m, 2 + i])


@kernel
def _scatter_of(
    walk: Walk, size: FLOATS, steep: FLOATS, top: float, gain: float, power: float, mark: float
) -> tuple[float, float]:
    """Most likely log scatter of given residuals, and its standard deviation.

    `mark` is how far the mark stands from the peak, in its standard deviations; NaN if it was not set there.
    """
    f = 0.0
    curve = 1.0
    for _ in range(5):
        slope = -f / SCATTER_LOG_SIGMA**2
        curve = 1.0 / SCATTER_LOG_SIGMA**2
        s2 = math.exp(2.0 * f)
        if not math.isnan(mark):
            slope += mark * mark / s2 - 1.0
            curve += 2.0 * mark * mark / s2
        for c in range(2):
            for i in range(size.shape[1]):
                if math.isnan(walk.level[c, i]):
                    continue
                s = point_sigma(size[c, i], steep[c, i], top)
                own = s * s * s2
                var = own + walk.floor[c, i] / gain**2
                e = walk.level[c, i] / gain - size[c, i]
                share = own / var
                q = 6.0 + e * e / var
                slope += power * share * (7.0 * e * e / var / q - 1.0)
                curve += power * share * share * 84.0 * (e * e / var) / (q * q)
        step = min(max(slope / curve, -0.5), 0.5)
        f = min(max(f + step, -1.5), 2.0)
        if abs(step) < 0.02:
            break
    return f, 1.0 / math.sqrt(curve)


@kernel
def _gain_of(walk: Walk, size: FLOATS, steep: FLOATS, top: float) -> float:
    """Gain that fits best, every amplitude weighed by its noise in the model."""
    num = 0.0
    den = 0.0
    for c in range(2):
        for i in range(size.shape[1]):
            y = walk.level[c, i]
            if not math.isnan(y):
                w = 1.0 / point_sigma(size[c, i], steep[c, i], top) ** 2
                num += w * y * size[c, i]
                den += w * size[c, i] ** 2
    return num / den


@kernel
def _turn(
    walk: Walk,
    main: FLOATS,
    total: FLOATS,
    size: FLOATS,
    steep: FLOATS,
    top: float,
    scatter: float,
    gain: float,
    power: float,
    a: FLOATS,
    b: FLOATS,
) -> None:
    """Normal equations of place, ln depth and ln gain, points far off weighed down; prior not yet in."""
    a[:, :] = 0.0
    b[:] = 0.0
    for c in range(2):
        f = H if c == 0 else V
        fz = H_Z if c == 0 else V_Z
        for i in range(size.shape[1]):
            y = walk.level[c, i]
            if math.isnan(y):
                continue
            s = scatter * point_sigma(size[c, i], steep[c, i], top)
            var = s * s + walk.floor[c, i] / gain**2
            e = y / gain - size[c, i]
            w = power * 7.0 / (6.0 + e * e / var) / var
            d0 = -steep[c, i]
            d1 = (total[f, i] * main[fz, i] + total[f + 1, i] * main[fz + 1, i]) / size[c, i]
            d2 = size[c, i]
            b[0] += w * e * d0
            b[1] += w * e * d1
            b[2] += w * e * d2
            a[0, 0] += w * d0 * d0
            a[1, 0] += w * d1 * d0
            a[1, 1] += w * d1 * d1
            a[2, 0] += w * d2 * d0
            a[2, 1] += w * d2 * d1
            a[2, 2] += w * d2 * d2


@kernel
def _fields(state: FLOATS, walk: Walk, height: FLOATS, w: FLOATS, sums: FLOATS, total: FLOATS) -> None:
    """Totals of all lines, and for the line itself also slopes by its depth."""
    skin = skin_of(state, walk.frequency_hz)
    walk_sums(state, walk.frequency_hz, walk.offset, height, False, w, sums, total)
    line_sums(math.exp(state[LN_DEPTH]), skin, walk.offset, height, state[SHIFT], True, w, sums[0])


@kernel
def _fit_inner(
    state: FLOATS,
    walk: Walk,
    power: float,
    goal: float,
    height: FLOATS,
    w: FLOATS,
    sums: FLOATS,
    total: FLOATS,
    size: FLOATS,
    steep: FLOATS,
    a: FLOATS,
    low: FLOATS,
) -> float:
    """Best place, depth and gain under the outer unknowns of `state`, which is changed; returns the log gain.

    Fills `low` with the Cholesky factor of the inverse covariance of the three. `goal` is where the mark says
    the line is [m], NaN if it says nothing.
    """
    b = np.empty(3)
    ln_gain = 0.0
    for turn in range(TURNS):
        _fields(state, walk, height, w, sums, total)
        top = amplitudes(total, 0.0, size, steep)
        if turn == 0:
            ln_gain = math.log(_gain_of(walk, size, steep, top))
        gain = math.exp(ln_gain)
        sigma = _mark_sigma(state[LN_DEPTH])
        mark = (state[SHIFT] - goal) / sigma
        f, _sd = _scatter_of(walk, size, steep, top, gain, power, mark)
        _turn(walk, sums[0], total, size, steep, top, math.exp(f), gain, power, a, b)
        near = (sigma * math.exp(f)) ** 2 if not math.isnan(goal) else SHIFT_SIGMA_M**2
        a[0, 0] += 1.0 / near
        b[0] -= (state[SHIFT] - (0.0 if math.isnan(goal) else goal)) / near
        a[1, 1] += 1.0 / DEPTH_LOG_SIGMA**2
        b[1] -= (state[LN_DEPTH] - LN_DEPTH_0) / DEPTH_LOG_SIGMA**2
        promised0 = b[0]
        promised1 = b[1]
        promised2 = b[2]
        if not solve_posdef(a, b, low):
            break
        state[SHIFT] += min(max(b[0], -0.3), 0.3)
        state[LN_DEPTH] = min(max(state[LN_DEPTH] + min(max(b[1], -0.4), 0.4), LEAST_LN), MOST_LN)
        ln_gain += min(max(b[2], -0.7), 0.7)
        if promised0 * b[0] + promised1 * b[1] + promised2 * b[2] < 0.1:
            break
    return ln_gain


@kernel
def _student(e: float) -> float:
    """Log density of a number drawn from Student's distribution, widened."""
    return LOG_TAIL - 0.5 * (TAIL + 1.0) * math.log1p(e * e / TAIL) - math.log(WIDER)


@kernel
def _draw(e: FLOATS, low: FLOATS, step: FLOATS) -> float:
    """Step of place, depth and gain from independent Student numbers `e`; returns its log density."""
    log_density = 0.0
    for k in range(2, -1, -1):
        s = WIDER * e[k]
        for j in range(k + 1, 3):
            s -= low[j, k] * step[j]
        step[k] = s / low[k, k]
        log_density += _student(e[k]) + math.log(low[k, k])
    return log_density


@kernel
def weigh(
    outer: FLOATS,
    whose: INTS,
    lower: FLOATS,
    students: FLOATS,
    walk: Walk,
    known: Known,
    power: float,
    marked: bool,
    modes: FLOATS,
    modes_whose: INTS,
    spread: FLOATS,
    slope: FLOATS,
    inner: FLOATS,
    out: FLOATS,
) -> None:
    """Log of posterior over the inner proposals' density for each row of `outer`; fills the inner unknowns.

    Parameters
    ----------
    outer : shape (n, outer_size)
        Soil and second lines; last, where only the order is trusted, place, ln depth and log scatter.
    whose : shape (n,)
        The line that is to be nearest the walk's zero; not looked at where only the order is trusted.
    lower : shape (n,), [m]
        Height of the lower coil, drawn from its prior.
    students : shape (n, INNER)
        Draws of Student's distribution with `TAIL` degrees of freedom.
    power : float
        The likelihood of the walk is raised to it.
    marked : bool
        The walk's zero was set on the peak; else nothing is known of how it was set.
    modes, modes_whose, spread, slope
        As `_begin` takes them.
    inner : shape (n, INNER), filled
    out : shape (n,), filled
        -1e30 where it cannot be.
    """
    m = walk.offset.shape[0]
    ordered = walk.order.shape[0] > 0
    lines = (outer.shape[1] - 1) // PER
    height, w = np.empty(m), np.empty((WORK, m))
    sums, total = np.empty((lines + 1, ROWS, m)), np.empty((ROWS, m))
    size, steep = np.empty((2, m)), np.empty((2, m))
    flat, rise = size.reshape(2 * m), steep.reshape(2 * m)
    a, low, step = np.empty((3, 3)), np.zeros((3, 3)), np.empty(3)
    work = np.empty((3, COUNT))
    theta = np.zeros(FIRST_LINE + PER_LINE * lines)
    at = np.empty(32)
    deep, current = np.empty(32, dtype=np.complex128), np.empty(32, dtype=np.complex128)
    state = np.empty(FIRST + PER * lines)
    for r in range(outer.shape[0]):
        out[r] = log_prior_outer(outer[r], lines, known)
        if out[r] <= IMPOSSIBLE:
            continue
        state[SOIL] = outer[r, 0]
        state[LOWER] = lower[r]
        for k in range(0, PER * lines, PER):
            ratio = ratio_of(outer[r, 1 + k + OUT_SIZE], outer[r, 1 + k + OUT_PHASE])
            state[FIRST + k + OFFSET] = outer[r, 1 + k + OFFSET]
            state[FIRST + k + OTHER_LN_DEPTH] = outer[r, 1 + k + OTHER_LN_DEPTH]
            state[FIRST + k + RE] = ratio.real
            state[FIRST + k + IM] = ratio.imag
        heights_of(walk.height, lower[r], height)
        if ordered:
            for k in range(ORDERED):
                inner[r, k] = outer[r, 1 + PER * lines + k]
            inner[r, INNER_LN_GAIN] = 0.0
        else:
            _begin(outer[r], whose[r], modes, modes_whose, spread, slope, inner[r])
            state[SHIFT] = inner[r, INNER_SHIFT]
            state[LN_DEPTH] = inner[r, INNER_LN_DEPTH]
            goal = -_peak(state, walk.frequency_hz, theta, at, deep, current) if marked else math.nan
            ln_gain = _fit_inner(state, walk, power, goal, height, w, sums, total, size, steep, a, low)
            out[r] -= _draw(students[r], low, step)
            inner[r, INNER_SHIFT] = state[SHIFT] + step[0]
            inner[r, INNER_LN_DEPTH] = state[LN_DEPTH] + step[1]
            inner[r, INNER_LN_GAIN] = ln_gain + step[2]
        state[SHIFT] = inner[r, INNER_SHIFT]
        state[LN_DEPTH] = inner[r, INNER_LN_DEPTH]
        stray = not ordered and nearest_line(state[SHIFT], outer[r], lines) != whose[r]
        if stray or abs(state[LN_DEPTH]) > 3.0 or abs(state[SHIFT]) > MOST_SHIFT_M:
            out[r] = IMPOSSIBLE
            continue
        walk_sums(state, walk.frequency_hz, walk.offset, height, False, w, sums, total)
        top = amplitudes(total, 0.0, size, steep)
        peak = _peak(state, walk.frequency_hz, theta, at, deep, current) if marked else math.nan
        if ordered:
            f = inner[r, INNER_LN_SCATTER]
            fit = log_order(flat, rise, top, math.exp(f), 0, walk.order, walk.group, work)
        else:
            # the scatter last: what is left over at this very draw says what it may be
            gain = math.exp(inner[r, INNER_LN_GAIN])
            mark = (state[SHIFT] + peak) / _mark_sigma(state[LN_DEPTH])
            f, sd = _scatter_of(walk, size, steep, top, gain, power, mark)
            out[r] -= _student(students[r, 3]) - math.log(sd)
            f += WIDER * sd * students[r, 3]
            inner[r, INNER_LN_SCATTER] = f
            fit = _log_amplitudes(walk, size, steep, top, math.exp(f), gain)
        out[r] += _log_prior_inner(state[LN_DEPTH], f) + power * fit
        if marked:
            out[r] += _log_mark(state, peak, f)
