r"""Best fits to a walk: Levenberg and Marquardt's descent, the gain profiled out.

Half the sum of squares of data and prior goes down from a start, with the data's scale (gain) profiled out:
with :math:`g = y^T W m / m^T W m` the residual :math:`W^{1/2}(y - g m)` has, to first order, the derivative
:math:`-g` times the part of :math:`W^{1/2} \partial m` at right angles to :math:`W^{1/2} m` (Kaufman 1975,
from memory). The prior here is Gaussian and only leads to the hills: `walk_weigh` has the posterior.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.priors import DEPTH_LOG_SIGMA, PROFILE_FLOOR, SECOND_DEPTH_LOG_SIGMA
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
    SOIL,
    WORK,
    amplitude_slopes,
    amplitudes,
    heights_of,
    walk_sums,
)

FLOATS = NDArray[np.float64]

# -- the Gaussian that stands for the prior in the descent ------------------------------------------------
SHIFT_SIGMA_M = 0.5
OFFSET_SIGMA_M = 3.0
RE_SIGMA = 0.6
IM_SIGMA = 0.25
#: Farthest step of one turn: shift, ln depth, soil, coil, then offset, ln depth and ratio of second lines.
SHIFT_STEP_M, LN_STEP, SOIL_STEP, OFFSET_STEP_M, RATIO_STEP = 0.4, 0.6, 1.5, 0.6, 0.4
LEAST_LN, MOST_LN = -2.3, 2.1

#: A receiver's floor rounds off the amplitude where the field vanishes; by this share of the field of the
#: line alone, so that the descent meets no kink there.
EASE = PROFILE_FLOOR
FEW_TURNS, MANY_TURNS, MOST_TURNS = 8, 60, 300
LEAST_SWAP = 0.15  # of the current: with less the line would be nothing likely over the other one
SWAPPED = 2  # of the best fits: what the line is and what a second one may be the other way about
SAME = 0.02  # of the farthest step: nearer fits are one ...
ALIKE = 0.1  # ... and nearer ones on their way down will be


@kernel
def solve_posdef(a: FLOATS, b: FLOATS, low: FLOATS) -> bool:
    """Solve `a` x = `b` in place by Cholesky, the lower factor into `low`; False if not positive definite."""
    n = b.shape[0]
    for i in range(n):
        for j in range(i + 1):
            s = a[i, j]
            for k in range(j):
                s -= low[i, k] * low[j, k]
            if i == j:
                if not s > 0.0:
                    return False
                low[i, i] = math.sqrt(s)
            else:
                low[i, j] = s / low[j, j]
    for i in range(n):
        s = b[i]
        for k in range(i):
            s -= low[i, k] * b[k]
        b[i] = s / low[i, i]
    for i in range(n - 1, -1, -1):
        s = b[i]
        for k in range(i + 1, n):
            s -= low[k, i] * b[k]
        b[i] = s / low[i, i]
    return True


@kernel
def start_state(lines: int, known: Known) -> FLOATS:
    """Unknowns at the middle of the prior, the second lines without current."""
    state = np.zeros(FIRST + PER * lines)
    state[SOIL] = known.soil_ln
    state[LOWER] = 0.5 * (known.lower_low + known.lower_high)
    return state


@kernel
def _goal(k: int, known: Known) -> tuple[float, float]:
    """Middle and sigma of unknown `k` in the Gaussian that stands for the prior."""
    if k == SHIFT:
        return 0.0, SHIFT_SIGMA_M
    if k == LN_DEPTH:
        return 0.0, DEPTH_LOG_SIGMA
    if k == SOIL:
        return known.soil_ln, known.soil_sigma
    if k == LOWER:
        return 0.5 * (known.lower_low + known.lower_high), 0.3 * (known.lower_high - known.lower_low) + 1e-4
    part = (k - FIRST) % PER
    if part == OFFSET:
        return 0.0, OFFSET_SIGMA_M
    if part == OTHER_LN_DEPTH:
        return 0.0, SECOND_DEPTH_LOG_SIGMA
    return 0.0, RE_SIGMA if part == RE else IM_SIGMA


@kernel
def _furthest(k: int) -> float:
    """Longest step of unknown `k`."""
    if k == SHIFT:
        return SHIFT_STEP_M
    if k in (SOIL, LOWER):
        return SOIL_STEP
    if k == LN_DEPTH:
        return LN_STEP
    part = (k - FIRST) % PER
    if part == OFFSET:
        return OFFSET_STEP_M
    return LN_STEP if part == OTHER_LN_DEPTH else RATIO_STEP


@kernel
def misfit(state: FLOATS, walk: Walk, known: Known, sigma: FLOATS, size: FLOATS) -> tuple[float, float]:
    """Half the sum of squares of data and prior for amplitudes `size`, and the gain."""
    top = 0.0
    bottom = 0.0
    for c in range(2):
        for i in range(size.shape[1]):
            if not math.isnan(walk.level[c, i]):
                w = 1.0 / sigma[c, i] ** 2
                top += w * walk.level[c, i] * size[c, i]
                bottom += w * size[c, i] ** 2
    gain = top / bottom
    total = 0.0
    for c in range(2):
        for i in range(size.shape[1]):
            if not math.isnan(walk.level[c, i]):
                total += ((walk.level[c, i] - gain * size[c, i]) / sigma[c, i]) ** 2
    for k in range(state.shape[0]):
        middle, s = _goal(k, known)
        total += ((state[k] - middle) / s) ** 2
    return 0.5 * total, gain


@kernel
def normal_equations(
    state: FLOATS,
    walk: Walk,
    known: Known,
    sigma: FLOATS,
    size: FLOATS,
    slopes: FLOATS,
    gain: float,
    a: FLOATS,
    b: FLOATS,
) -> None:
    """Normal matrix and right-hand side at amplitudes `size` and their `slopes`, the gain profiled out."""
    n = state.shape[0]
    bottom = 0.0
    along = np.zeros(n)
    a[:n, :n] = 0.0
    b[:n] = 0.0
    for c in range(2):
        for i in range(size.shape[1]):
            if math.isnan(walk.level[c, i]):
                continue
            w = 1.0 / sigma[c, i] ** 2
            m = size[c, i]
            bottom += w * m * m
            left = w * (walk.level[c, i] - gain * m) * gain
            for k in range(n):
                d = slopes[k, c, i]
                along[k] += w * m * d
                b[k] += left * d
                wd = w * gain * gain * d
                for j in range(k + 1):
                    a[k, j] += wd * slopes[j, c, i]
    for k in range(n):
        for j in range(k + 1):
            a[k, j] -= gain * gain * along[k] * along[j] / bottom
            a[j, k] = a[k, j]
    for k in range(n):
        middle, s = _goal(k, known)
        a[k, k] += 1.0 / s**2
        b[k] -= (state[k] - middle) / s**2


@kernel
def descend(
    state: FLOATS, walk: Walk, known: Known, sigma: FLOATS, turns: int, a: FLOATS
) -> tuple[float, float]:
    """Go down to the nearest best fit, in place; returns the misfit and the gain.

    Parameters
    ----------
    state : shape (unknowns,)
        To begin from; changed.
    sigma : shape (2, points)
        One standard deviation of each amplitude.
    turns : int
        Most steps.
    a : shape (unknowns, unknowns) or larger
        Filled with the normal matrix where it ends: about the inverse covariance.
    """
    n = state.shape[0]
    m = walk.offset.shape[0]
    lines = (n - FIRST) // PER
    height = np.empty(m)
    w = np.empty((WORK, m))
    sums = np.empty((lines + 1, ROWS, m))
    total = np.empty((ROWS, m))
    size = np.empty((2, m))
    steep = np.empty((2, m))
    slopes = np.empty((n, 2, m))
    b = np.empty(n)
    step = np.empty(n)
    damped = np.empty((n, n))
    low = np.zeros((n, n))
    largest = np.zeros(n)
    tried = state.copy()
    heights_of(walk.height, state[LOWER], height)
    walk_sums(state, walk.frequency_hz, walk.offset, height, True, w, sums, total)
    ease = EASE * math.exp(-state[LN_DEPTH])
    amplitudes(total, ease, size, steep)
    cost, gain = misfit(state, walk, known, sigma, size)
    amplitude_slopes(state, walk.height, sums, total, ease, size, steep, slopes)
    normal_equations(state, walk, known, sigma, size, slopes, gain, a, b)
    damping = 1e-3
    for _ in range(turns):
        for k in range(n):
            step[k] = b[k]
            for j in range(n):
                damped[k, j] = a[k, j]
            largest[k] = max(largest[k], a[k, k])
            # near a real ratio the amplitudes answer to its imaginary part in second order only
            twin = k >= FIRST and (k - FIRST) % PER == IM
            damped[k, k] = a[k, k] + damping * (max(largest[k], largest[k - 1]) if twin else largest[k])
        if not solve_posdef(damped, step, low):
            damping = 10.0 * damping + 1e-6
            continue
        promised = 0.0
        for k in range(n):
            promised += step[k] * b[k]
        for k in range(n):
            reach = _furthest(k)
            tried[k] = state[k] + min(max(step[k], -reach), reach)
            if k == LN_DEPTH or (k >= FIRST and (k - FIRST) % PER == OTHER_LN_DEPTH):
                tried[k] = min(max(tried[k], LEAST_LN), MOST_LN)
        tried[LOWER] = min(max(tried[LOWER], known.lower_low), known.lower_high)
        heights_of(walk.height, tried[LOWER], height)
        walk_sums(tried, walk.frequency_hz, walk.offset, height, True, w, sums, total)
        ease = EASE * math.exp(-tried[LN_DEPTH])
        amplitudes(total, ease, size, steep)
        new, new_gain = misfit(tried, walk, known, sigma, size)
        if new < cost:
            gone = cost - new
            cost = new
            gain = new_gain
            for k in range(n):
                state[k] = tried[k]
            amplitude_slopes(state, walk.height, sums, total, ease, size, steep, slopes)
            normal_equations(state, walk, known, sigma, size, slopes, gain, a, b)
            damping = max(0.2 * damping, 1e-9)
            if gone < 1e-9 * (1.0 + cost):
                break
        else:
            if promised < 1e-9 * (1.0 + cost) or damping > 1e8:
                break
            damping *= 8.0
    return cost, gain


@kernel
def _twin(state: FLOATS) -> None:
    """Turn the phases of all second lines the other way, which amplitudes hardly tell apart."""
    k = FIRST
    while k + PER <= state.shape[0]:
        state[k + IM] = -state[k + IM]
        k += PER


@kernel
def change_places(state: FLOATS, line: int) -> bool:
    """Let the line and a second one change places, which leaves the fields as they are but for their scale.

    False where the second one's current is so small that the line's would be nothing likely over it.
    """
    k = FIRST + PER * line
    ratio = complex(state[k + RE], state[k + IM])
    if abs(ratio) < LEAST_SWAP:
        return False
    away = state[k + OFFSET]
    state[SHIFT] += away
    state[LN_DEPTH], state[k + OTHER_LN_DEPTH] = state[k + OTHER_LN_DEPTH], state[LN_DEPTH]
    for j in range(FIRST, state.shape[0], PER):
        own = 1.0 / ratio if j == k else complex(state[j + RE], state[j + IM]) / ratio
        state[j + OFFSET] = -away if j == k else state[j + OFFSET] - away
        state[j + RE] = own.real
        state[j + IM] = own.imag
    return True


@kernel
def _apart(one: FLOATS, other: FLOATS) -> float:
    """Largest difference of two states, over the farthest steps."""
    away = 0.0
    for k in range(one.shape[0]):
        away = max(away, abs(one[k] - other[k]) / _furthest(k))
    return away


@kernel
def _insert(state: FLOATS, cost: float, modes: FLOATS, costs: FLOATS, found: int) -> int:
    """Put a fit among those `found`, in order of cost; returns its rank, -1 where it is one of them."""
    at = found
    for j in range(found):
        if _apart(state, modes[j]) < SAME:
            return -1
        if cost < costs[j]:
            at = min(at, j)
    if at < costs.shape[0]:
        for j in range(min(found, costs.shape[0] - 1), at, -1):
            modes[j] = modes[j - 1]
            costs[j] = costs[j - 1]
        modes[at] = state
        costs[at] = cost
    return at


@kernel
def settle(
    starts: FLOATS,
    count: int,
    walk: Walk,
    known: Known,
    sigma: FLOATS,
    keep: int,
    modes: FLOATS,
    costs: FLOATS,
) -> int:
    """From starts to distinct best fits, the best first; returns their number.

    Every start goes down a few turns, the best `keep` of those that differ and their twins all the way; of
    the best two also what comes of the line and a second one changing places.

    Parameters
    ----------
    starts : shape (count or more, unknowns)
        Changed.
    modes : shape (2 * keep, unknowns), filled
    costs : shape (2 * keep,), filled
    """
    n = starts.shape[1]
    a = np.empty((n, n))
    rough = np.empty(count)
    for i in range(count):
        rough[i], _g = descend(starts[i], walk, known, sigma, FEW_TURNS, a)
    found = 0
    for _ in range(min(keep, count)):
        i = int(np.argmin(rough))
        if rough[i] >= 1e300:
            break
        rough[i] = 1e300
        for j in range(count):
            if _apart(starts[j], starts[i]) < ALIKE:
                rough[j] = 1e300
        rank = 0
        settled = starts[i]
        for side in range(2 + (n - FIRST) // PER if n > FIRST else 1):
            state = starts[i].copy() if side < 2 else settled.copy()
            if side == 1:
                _twin(state)
            if side > 1 and (rank >= SWAPPED or not change_places(state, side - 2)):
                continue
            cost, _g = descend(state, walk, known, sigma, MANY_TURNS, a)
            at = _insert(state, cost, modes, costs, found)
            if side == 0:
                settled = state
                rank = at if at >= 0 else SWAPPED
            if 0 <= at < costs.shape[0]:
                found = min(found + 1, costs.shape[0])
    if found > 0:  # along a flat valley many more turns are needed
        costs[0], _g = descend(modes[0], walk, known, sigma, MOST_TURNS, a)
    return found
