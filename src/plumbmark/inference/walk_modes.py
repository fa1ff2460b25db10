"""Best fits of a walk with none, one and two second lines, as Gaussians in the outer unknowns."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.priors import RATIO_PHASE_SIGMA
from plumbmark.inference.second import Known
from plumbmark.inference.walk import Walk
from plumbmark.inference.walk_field import (
    FIRST,
    IM,
    LN_DEPTH,
    LOWER,
    PER,
    RE,
    ROWS,
    SHIFT,
    SOIL,
    WORK,
    amplitudes,
    heights_of,
    walk_sums,
)
from plumbmark.inference.walk_fit import (
    EASE,
    MANY_TURNS,
    change_places,
    descend,
    settle,
    solve_posdef,
    start_state,
)
from plumbmark.inference.walk_order import point_sigma
from plumbmark.inference.walk_prior import LEAST_RATIO, OUT_PHASE, OUT_SIZE, size_and_phase
from plumbmark.inference.walk_scan import scan, scan_weak
from plumbmark.inference.walk_weigh import nearest_line

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

MOST_LINES = 2
OUTER = 1 + PER * MOST_LINES
SOFT_TURNS = 6
SWAP_TURNS = 3
SIZE_SIGMA = 0.8  # of ln ratio


class Search(NamedTuple):
    """Starts with a weak and with a strong second line, how many of them go down all the way, fits kept."""

    weak: int = 5
    strong: int = 12
    keep: int = 5
    modes: int = 12


class Modes(NamedTuple):
    """Best fits with up to two second lines; arrays have a row for each number of them.

    Fit 0 of each is that without second lines, see `walk_weigh`.
    """

    found: INTS  # shape (3,), fits beyond the first
    cost: FLOATS  # shape (3, modes + 1)
    place: FLOATS  # shape (3, modes + 1, 2 + OUTER): place, ln depth, outer unknowns
    whose: INTS  # shape (3, modes + 1), as in `walk_weigh`
    spread: FLOATS  # shape (3, modes + 1, OUTER, OUTER): inverse covariance of the outer unknowns
    slope: FLOATS  # shape (3, modes + 1, 2, OUTER): how place and depth lean on them


@kernel
def soft_sigma(state: FLOATS, gain: float, walk: Walk, out: FLOATS) -> None:
    """Standard deviations at the amplitudes of a fit, larger for points far from it, shape (2, points)."""
    m = walk.offset.shape[0]
    height = np.empty(m)
    lines = (state.shape[0] - FIRST) // PER
    sums = np.empty((lines + 1, ROWS, m))
    total = np.empty((ROWS, m))
    size = np.empty((2, m))
    steep = np.empty((2, m))
    heights_of(walk.height, state[LOWER], height)
    walk_sums(state, walk.frequency_hz, walk.offset, height, False, np.empty((WORK, m)), sums, total)
    top = amplitudes(total, EASE * math.exp(-state[LN_DEPTH]), size, steep)
    for c in range(2):
        for i in range(m):
            s = gain * point_sigma(size[c, i], steep[c, i], top)
            var = s * s + walk.floor[c, i]
            e2 = (walk.level[c, i] - gain * size[c, i]) ** 2 / var
            out[c, i] = math.sqrt(var * (6.0 + e2) / 7.0)


@kernel
def _lean(a: FLOATS, spread: FLOATS, slope: FLOATS) -> bool:
    """From a normal matrix to the outer unknowns' inverse covariance and what place and depth owe them."""
    n = a.shape[0]
    inner = np.array([SHIFT, LN_DEPTH, LOWER])
    outer = np.empty(n - 3, dtype=np.int64)
    outer[0] = SOIL
    for k in range(1, n - 3):
        outer[k] = FIRST + k - 1
    block = np.empty((3, 3))
    for i in range(3):
        for j in range(3):
            block[i, j] = a[inner[i], inner[j]]
    low = np.zeros((3, 3))
    b = np.empty(3)
    for k in range(n - 3):
        for i in range(3):
            b[i] = a[inner[i], outer[k]]
        if not solve_posdef(block, b, low):
            return False
        slope[0, k] = -b[0]
        slope[1, k] = -b[1]
        for j in range(n - 3):
            spread[j, k] = a[outer[j], outer[k]]
            for i in range(3):
                spread[j, k] -= a[outer[j], inner[i]] * b[i]
    return True


@kernel
def _put(lines: int, state: FLOATS, cost: float, a: FLOATS, modes: Modes) -> None:
    """Put a best fit and its normal matrix down as a Gaussian, while there is room."""
    n = state.shape[0]
    at = modes.found[lines] + 1
    if at >= modes.place.shape[1] or not _lean(a, modes.spread[lines, at], modes.slope[lines, at]):
        return
    modes.cost[lines, at] = cost
    modes.place[lines, at, 0] = state[SHIFT]
    modes.place[lines, at, 1] = state[LN_DEPTH]
    modes.place[lines, at, 2] = state[SOIL]
    for k in range(n - FIRST):
        modes.place[lines, at, 3 + k] = state[FIRST + k]
    modes.whose[lines, at] = nearest_line(state[SHIFT], modes.place[lines, at, 2:], lines)
    _to_sizes(n - 3, modes.place[lines, at], modes.spread[lines, at], modes.slope[lines, at])
    modes.found[lines] += 1


@kernel
def _keep(
    lines: int, fits: FLOATS, found: int, walk: Walk, known: Known, power: float, search: Search, modes: Modes
) -> None:
    """Soften the best fits and put them down, each also with the line in another one's place."""
    n = fits.shape[1]
    a = np.empty((n, n))
    sigma = np.empty_like(walk.sigma)
    for i in range(min(found, search.keep)):
        state = fits[i]
        _cost, gain = descend(state, walk, known, walk.sigma, 1, a)
        soft_sigma(state, gain, walk, sigma)
        sigma /= math.sqrt(power)
        cost, _g = descend(state, walk, known, sigma, SOFT_TURNS, a)
        _put(lines, state, cost, a, modes)
        for line in range(lines):
            other = state.copy()
            if change_places(other, line):
                cost, _g = descend(other, walk, known, sigma, SWAP_TURNS, a)
                _put(lines, other, cost, a, modes)


@kernel
def _to_sizes(n: int, place: FLOATS, spread: FLOATS, slope: FLOATS) -> None:
    """From real and imaginary part of the ratios to signed size and phase, to first order about the fit."""
    for k in range(1, n, PER):
        re, im = place[2 + k + RE], place[2 + k + IM]
        if re * re + im * im < LEAST_RATIO**2:
            re = LEAST_RATIO if re >= 0.0 else -LEAST_RATIO
        place[2 + k + OUT_SIZE], place[2 + k + OUT_PHASE] = size_and_phase(re, im)
        sign = 1.0 if re >= 0.0 else -1.0
        # derivatives of re and im by signed size (ln size times sign) and by phase
        a, b, c, d = sign * re, -sign * im, sign * im, sign * re
        i, j = k + RE, k + IM
        for row in range(2):
            x, y = slope[row, i], slope[row, j]
            slope[row, i], slope[row, j] = x * a + y * c, x * b + y * d
        for row in range(n):
            x, y = spread[row, i], spread[row, j]
            spread[row, i], spread[row, j] = x * a + y * c, x * b + y * d
        for row in range(n):
            x, y = spread[i, row], spread[j, row]
            spread[i, row], spread[j, row] = x * a + y * c, x * b + y * d
        # far along a flat direction the straight line is none
        spread[i, i] += 1.0 / SIZE_SIGMA**2
        spread[j, j] += 1.0 / RATIO_PHASE_SIGMA**2


@kernel
def find_modes(walk: Walk, known: Known, power: float, most: int, search: Search, modes: Modes) -> None:
    """Best fits with up to `most` second lines, filled into `modes`, the best first."""
    modes.found[:] = 0
    alone = start_state(0, known)
    low = start_state(0, known)
    a = np.empty((FIRST, FIRST))
    cost, _g = descend(alone, walk, known, walk.sigma, MANY_TURNS, a)
    # where it is deep, what is written says so little of the depth that one start may go the wrong way
    low[LN_DEPTH] = -0.8
    other, _g = descend(low, walk, known, walk.sigma, MANY_TURNS, a)
    if other < cost:
        alone[:] = low
    for lines in range(most + 1):
        modes.place[lines, 0, 0] = alone[SHIFT]
        modes.place[lines, 0, 1] = alone[LN_DEPTH]
    fits = np.empty((2 * search.keep, FIRST + PER))
    costs = np.empty(2 * search.keep)
    if most > 0:
        starts = np.empty((search.weak + search.strong, FIRST + PER))
        count = scan_weak(alone, walk, known, walk.sigma, starts[: search.weak])
        count += scan(walk, known, starts[count : count + search.strong])
        found = settle(starts, count, walk, known, walk.sigma, search.keep, fits, costs)
        if most > 1:
            more = np.empty((2 * search.keep, FIRST + 2 * PER))
            more_costs = np.empty(2 * search.keep)
            thirds = np.empty((2 * search.weak, FIRST + 2 * PER))
            third = 0
            for i in range(min(found, 2)):
                third += scan_weak(fits[i], walk, known, walk.sigma, thirds[third : third + search.weak])
            most_found = settle(thirds, third, walk, known, walk.sigma, search.keep, more, more_costs)
            _keep(2, more, most_found, walk, known, power, search, modes)
        _keep(1, fits, found, walk, known, power, search, modes)
    single = np.empty((1, FIRST))
    single[0] = alone
    _keep(0, single, 1, walk, known, power, search, modes)


def empty_modes(search: Search) -> Modes:
    """Room for the best fits of one walk."""
    n = search.modes + 1
    return Modes(
        np.zeros(3, dtype=np.int64),
        np.zeros((3, n)),
        np.zeros((3, n, 2 + OUTER)),
        np.zeros((3, n), dtype=np.int64),
        np.zeros((3, n, OUTER, OUTER)),
        np.zeros((3, n, 2, OUTER)),
    )
