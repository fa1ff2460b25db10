r"""Where to begin: places and depths of second lines scanned, their currents solved in closed form.

**Strong second lines.** In air and with real currents the signed fields of a walk are linear in the
currents. The signs are known but for dips: across is positive, upright changes sign where it is least. So
over a grid of places and depths of the line and of a second one the best currents follow from two normal
equations, whose sums of products are shared: seven thousand pairs cost less than one descent.

**Weak ones.** Beside a best fit without it, a weak line adds the part of its field that is in phase with what
is there; all else gives way, in one system of normal equations for each place and depth.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.priors import DEPTH_LOG_SIGMA
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk
from plumbmark.inference.walk_field import (
    FIRST,
    IM,
    LN_DEPTH,
    LOWER,
    OFFSET,
    OTHER_LN_DEPTH,
    PER,
    RE,
    ROWS,
    SHIFT,
    WORK,
    H,
    V,
    amplitude_slopes,
    amplitudes,
    heights_of,
    walk_sums,
)
from plumbmark.inference.walk_fit import (
    EASE,
    RE_SIGMA,
    SHIFT_SIGMA_M,
    misfit,
    normal_equations,
    solve_posdef,
    start_state,
)

FLOATS = NDArray[np.float64]

SHIFTS = np.linspace(-0.75, 0.75, 7)
DEPTHS = np.exp(np.linspace(math.log(0.3), math.log(3.0), 7))
PLACES = np.linspace(-3.4, 3.4, 21)
MOST_RATIO = 2.5
GRID_SIGMA = 0.04  # a grid so coarse is off by this share of the largest amplitude
APART_M, APART_LN = 0.5, 0.6  # starts nearer than this are one
DIP = 0.34  # amplitudes that fall to this share of what stands on both sides may have changed sign
ASIDE = np.array([0.05, 0.3, 0.2, 0.15])  # the start out of phase: offset, ln depth, ratio
IM_FIRST = 0.05  # at none the amplitudes do not answer to it


@kernel
def patterns(walk: Walk, lower: float, places: FLOATS, out: FLOATS) -> None:
    """Signed fields in air of 1 A at every place and depth of the grid, shape (points * 2, combinations)."""
    m = walk.offset.shape[0]
    for i in range(m):
        h = lower if math.isnan(walk.height[i]) else walk.height[i]
        for s in range(places.shape[0]):
            x = walk.offset[i] - places[s]
            for d in range(DEPTHS.shape[0]):
                deep = DEPTHS[d] + h
                r = 1.0 / (deep * deep + x * x)
                out[i, s * DEPTHS.shape[0] + d] = deep * r
                out[m + i, s * DEPTHS.shape[0] + d] = x * r


@kernel
def _flips(level: FLOATS, first: int, every: bool, sign: FLOATS) -> int:
    """Signs of amplitudes along a walk that turn over at index `first` (-1: nowhere), shape (points,).

    With `every`, also at each other dip that is less than a third of what stands on both its sides; returns
    the number of those.
    """
    m = level.shape[0]
    sign[:] = 1.0
    found = 0
    for i in range(m):
        turn = i == first
        if every and not turn and 0 < i < m - 1 and abs(i - first) > 1:
            left = 0.0
            right = 0.0
            for j in range(m):
                if not math.isnan(level[j]):
                    if j < i:
                        left = max(left, level[j])
                    if j > i:
                        right = max(right, level[j])
            least = level[i] <= level[i - 1] and level[i] < level[i + 1]
            if least and level[i] < DIP * min(left, right):
                turn = True
                found += 1
        if turn:
            for j in range(i):
                sign[j] = -sign[j]
            sign[i] = 0.0 if i == first else sign[i]
    return found


@kernel
def signed_levels(walk: Walk, every: int, level: FLOATS, weight: FLOATS) -> int:
    """Amplitudes with the signs that the fields may have, shape (points * 2,), and their weights.

    Across is positive and upright changes sign where it is least within a metre of the peak; with `every` of
    1, 2 or 3 the former, the latter or both do so at each other dip too, as next to a strong second line.
    Returns the number of those other dips.
    """
    m = walk.offset.shape[0]
    peak = -1
    null = -1
    for i in range(m):
        if not math.isnan(walk.level[0, i]) and (peak < 0 or walk.level[0, i] > walk.level[0, peak]):
            peak = i
    middle = walk.offset[peak] if peak >= 0 else 0.0
    for i in range(m):
        near = not math.isnan(walk.level[1, i]) and abs(walk.offset[i] - middle) < 1.0
        if near and (null < 0 or walk.level[1, i] < walk.level[1, null]):
            null = i
    sign = np.empty(m)
    found = 0
    for c in range(2):
        found += _flips(walk.level[c], null if c == 1 else -1, (every >> c) & 1 == 1, sign)
        right = sign[m - 1] if sign[m - 1] != 0.0 else 1.0
        if c == 0 and peak >= 0 and sign[peak] < 0.0:
            right = -right
        for i in range(m):
            y = walk.level[c, i]
            told = not math.isnan(y)
            level[c * m + i] = right * sign[i] * y if told else 0.0
            weight[c * m + i] = 1.0 / (walk.sigma[c, i] ** 2 + GRID_SIGMA**2) if told else 0.0
    return found


@kernel
def _products(first: FLOATS, second: FLOATS, weight: FLOATS, out: FLOATS) -> None:
    """Weighted sums of products of the columns of `first` with those of `second`."""
    out[:, :] = 0.0
    for i in range(first.shape[0]):
        for a in range(first.shape[1]):
            f = weight[i] * first[i, a]
            row = out[a]
            other = second[i]
            for b in range(second.shape[1]):
                row[b] += f * other[b]


@kernel
def scan(walk: Walk, known: Known, starts: FLOATS) -> int:
    """Starts for one strong second line, the best first, shape (most, FIRST + PER); returns their number."""
    m2 = 2 * walk.offset.shape[0]
    lower = 0.5 * (known.lower_low + known.lower_high)
    mine = np.empty((m2, SHIFTS.shape[0] * DEPTHS.shape[0]))
    theirs = np.empty((m2, PLACES.shape[0] * DEPTHS.shape[0]))
    patterns(walk, lower, SHIFTS, mine)
    patterns(walk, lower, PLACES, theirs)
    level = np.empty((m2, 1))
    weight = np.empty(m2)
    both = np.empty((mine.shape[1], theirs.shape[1]))
    cost = np.full(theirs.shape[1], 1e300)
    best = np.zeros((theirs.shape[1], 2))
    for every in range(4):
        if signed_levels(walk, every, level[:, 0], weight) == 0 and every > 0:
            continue
        if every == 0:
            _products(mine, theirs, weight, both)
        _pairs(mine, theirs, both, level, weight, cost, best)
    return _distinct(cost, best, known, starts)


@kernel
def _pairs(
    mine: FLOATS, theirs: FLOATS, both: FLOATS, level: FLOATS, weight: FLOATS, cost: FLOATS, best: FLOATS
) -> None:
    """For each place and depth of the second line the best line and ratio, where better than `cost`."""
    deeps = DEPTHS.shape[0]
    one = np.empty((mine.shape[1], 1))
    other = np.empty((theirs.shape[1], 1))
    _products(mine, level, weight, one)
    _products(theirs, level, weight, other)
    one_one = np.zeros(mine.shape[1])
    other_other = np.zeros(theirs.shape[1])
    for i in range(weight.shape[0]):
        for a in range(mine.shape[1]):
            one_one[a] += weight[i] * mine[i, a] ** 2
        for b in range(theirs.shape[1]):
            other_other[b] += weight[i] * theirs[i, b] ** 2
    for a in range(mine.shape[1]):
        z = math.log(DEPTHS[a % deeps])
        prior = 0.5 * (SHIFTS[a // deeps] / SHIFT_SIGMA_M) ** 2 + 0.5 * (z / DEPTH_LOG_SIGMA) ** 2
        for b in range(theirs.shape[1]):
            det = one_one[a] * other_other[b] - both[a, b] ** 2
            if det < 1e-6 * one_one[a] * other_other[b]:
                continue
            g = (other_other[b] * one[a, 0] - both[a, b] * other[b, 0]) / det
            k = (one_one[a] * other[b, 0] - both[a, b] * one[a, 0]) / det
            if g <= 0.0 or abs(k) > MOST_RATIO * g:
                continue
            c = prior - 0.5 * (g * one[a, 0] + k * other[b, 0])
            c += 0.5 * (k / (g * RE_SIGMA)) ** 2
            if c < cost[b]:
                cost[b] = c
                best[b, 0] = a
                best[b, 1] = k / g


@kernel
def scan_weak(state: FLOATS, walk: Walk, known: Known, sigma: FLOATS, starts: FLOATS) -> int:
    """Starts with one more, weak, line beside those of a best fit `state`, the most promising first.

    To first order a weak line adds the part of its field that is in phase with what is there; the other
    unknowns give way, all in one system of normal equations for each place and depth of the new line. Returns
    the number of starts, shape (most, unknowns + PER). The last one is a line out of phase nearly above or
    below the first, which no line in phase leads to.
    """
    n = state.shape[0]
    m = walk.offset.shape[0]
    lines = (n - FIRST) // PER
    deeps = DEPTHS.shape[0]
    height = np.empty(m)
    sums = np.empty((lines + 1, ROWS, m))
    total = np.empty((ROWS, m))
    size = np.empty((2, m))
    steep = np.empty((2, m))
    slopes = np.empty((n + 1, 2, m))
    heights_of(walk.height, state[LOWER], height)
    walk_sums(state, walk.frequency_hz, walk.offset, height, True, np.empty((WORK, m)), sums, total)
    ease = EASE * math.exp(-state[LN_DEPTH])
    amplitudes(total, ease, size, steep)
    cost, gain = misfit(state, walk, known, sigma, size)
    amplitude_slopes(state, walk.height, sums, total, ease, size, steep, slopes)
    a = np.empty((n, n))
    b = np.empty(n)
    normal_equations(state, walk, known, sigma, size, slopes, gain, a, b)
    costs = np.full(PLACES.shape[0] * deeps, 1e300)
    ratio = np.zeros(costs.shape[0])
    grown = np.empty((n + 1, n + 1))
    step = np.empty(n + 1)
    low = np.zeros((n + 1, n + 1))
    for k in range(costs.shape[0]):
        for i in range(m):
            x = walk.offset[i] - PLACES[k // deeps]
            d = DEPTHS[k % deeps] + height[i]
            r = 1.0 / (d * d + x * x)
            slopes[n, 0, i] = total[H, i] * d * r / size[0, i]
            slopes[n, 1, i] = total[V, i] * x * r / size[1, i]
        grown[:n, :n] = a
        step[:n] = b
        _grow(walk, sigma, size, slopes, gain, grown, step)
        last = step[n]
        if solve_posdef(grown, step, low) and abs(step[n]) < MOST_RATIO:
            costs[k] = cost - 0.5 * last * step[n]
            ratio[k] = step[n]
            for j in range(n):
                costs[k] -= 0.5 * b[j] * step[j]
    count = 0
    while count < starts.shape[0] - 1:
        k = int(np.argmin(costs))
        if costs[k] >= 1e299:
            break
        place, deep = PLACES[k // deeps], math.log(DEPTHS[k % deeps])
        starts[count, :n] = state
        starts[count, n + OFFSET] = place - state[SHIFT]
        starts[count, n + OTHER_LN_DEPTH] = deep
        starts[count, n + RE] = ratio[k]
        starts[count, n + IM] = IM_FIRST
        count += 1
        _strike(costs, place, deep)
    starts[count, :n] = state
    starts[count, n:] = ASIDE
    return count + 1


@kernel
def _grow(walk: Walk, sigma: FLOATS, size: FLOATS, slopes: FLOATS, gain: float, a: FLOATS, b: FLOATS) -> None:
    """Last row and column of normal equations for one unknown more, a current in phase with the line's."""
    n = b.shape[0] - 1
    bottom = 0.0
    mine = 0.0
    along = np.zeros(n)
    a[n, :] = 0.0
    b[n] = 0.0
    for c in range(2):
        for i in range(size.shape[1]):
            if math.isnan(walk.level[c, i]):
                continue
            w = 1.0 / sigma[c, i] ** 2
            m = size[c, i]
            d = slopes[n, c, i]
            bottom += w * m * m
            mine += w * m * d
            b[n] += w * (walk.level[c, i] - gain * m) * gain * d
            a[n, n] += w * gain * gain * d * d
            for j in range(n):
                along[j] += w * m * slopes[j, c, i]
                a[n, j] += w * gain * gain * d * slopes[j, c, i]
    for j in range(n):
        a[n, j] -= gain * gain * mine * along[j] / bottom
        a[j, n] = a[n, j]
    a[n, n] += 1.0 / RE_SIGMA**2 - gain * gain * mine * mine / bottom


@kernel
def _strike(cost: FLOATS, place: float, deep: float) -> None:
    """Take the neighbours of a place and depth of the grid off the list."""
    deeps = DEPTHS.shape[0]
    for k in range(cost.shape[0]):
        near = abs(PLACES[k // deeps] - place) < APART_M
        if near and abs(math.log(DEPTHS[k % deeps]) - deep) < APART_LN:
            cost[k] = 1e300


@kernel
def _distinct(cost: FLOATS, best: FLOATS, known: Known, starts: FLOATS) -> int:
    """The most promising of the second lines that differ in place or depth, into `starts`."""
    deeps = DEPTHS.shape[0]
    count = 0
    while count < starts.shape[0]:
        b = int(np.argmin(cost))
        if cost[b] >= 1e299:
            break
        a = int(best[b, 0])
        place = PLACES[b // deeps]
        deep = math.log(DEPTHS[b % deeps])
        state = starts[count]
        state[:] = start_state(1, known)
        state[SHIFT] = SHIFTS[a // deeps]
        state[LN_DEPTH] = math.log(DEPTHS[a % deeps])
        state[FIRST + OFFSET] = place - state[SHIFT]
        state[FIRST + OTHER_LN_DEPTH] = deep
        state[FIRST + RE] = best[b, 1]
        state[FIRST + IM] = IM_FIRST
        count += 1
        _strike(cost, place, deep)
    return count
