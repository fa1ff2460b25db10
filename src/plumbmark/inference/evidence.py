"""The evidence of one set of globals: smooth states marginalised inside (Laplace at the stations).

What the display would show comes from `table`. NaN among the readings means not taken, and every use of one
is behind a test for it; a set of globals whose evidence comes out NaN all the same counts as impossible.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.across import BROAD_M, ROOT_2PI, TINY, across_legs
from plumbmark.inference.chain import smooth_slope_chain
from plumbmark.inference.priors import (
    DEPTH_LOG_SIGMA,
    DEPTH_MEDIAN_M,
    DEPTH_SIGMA,
    DEPTH_SLOPE_LENGTH_M,
    DEPTH_SLOPE_SIGMA,
    FLIP_ODDS,
    HALF_SIGMA_M,
    HOLE_BOTTOM_SIGMA,
    SECOND_WANDER,
    SLIP_ODDS,
)
from plumbmark.inference.scene import (
    FIRST_RAISED,
    LEFT,
    LN_CURRENT,
    LN_SHOWN,
    LN_SHOWN_ALONE,
    NULL,
    PEAK,
    RIGHT,
)
from plumbmark.inference.stretch import (
    ALONE,
    DEPTH_DATUM,
    DEPTH_MEAN,
    DEPTH_PRECISION,
    DEPTH_VAR,
    MARK_MEAN,
    MARK_VAR,
    SHOWN_CURRENT,
    STATION_FIT,
    Stretch,
)
from plumbmark.inference.table import make_table, reach_of, read_off

FLOATS = NDArray[np.float64]

LN_DEPTH_0 = math.log(DEPTH_MEDIAN_M)
#: A slipped cell may hold anything: density of the broad alternative, per unit of ln.
BROAD_LN = 1.0 / 5.0
FEWEST_PRECISION = 1e-3
LONGEST_STEP = 0.4  # of ln depth in one Newton step


@kernel
def log_cell(e: float, var: float, broad: float) -> tuple[float, float]:
    """Log density of one cell, noise or now and then anything at all; and the share that is noise."""
    good = (1.0 - SLIP_ODDS) * math.exp(-0.5 * e * e / var) / (ROOT_2PI * math.sqrt(var))
    total = good + SLIP_ODDS * broad
    return math.log(total), good / total


@kernel
def _fold(
    mean: float, turn: float, var: float, at: float, swing: float, noise: float, flip: float, into: FLOATS
) -> tuple[float, float, float]:
    """Fold one across-line datum into where the mark lies: new mean, its slope with ln depth, variance.

    `turn` and `swing` are the slopes of `mean` and `at`; `flip` is where the datum would put the mark with
    left written for right (NaN: cannot be). Log evidence, its slope and its curvature are added to `into`.
    """
    v = var + noise
    e = at - mean
    good = (1.0 - SLIP_ODDS) * math.exp(-0.5 * e * e / v) / (ROOT_2PI * math.sqrt(v))
    bad = SLIP_ODDS * BROAD_M
    if not math.isnan(flip):
        f = flip - mean
        bad += FLIP_ODDS * math.exp(-0.5 * f * f / v) / (ROOT_2PI * math.sqrt(v))
    total = good + bad + TINY
    w = good / total
    k = w * var / v
    drift = swing - turn
    into[0] += math.log(total)
    into[1] -= w * e * drift / v
    into[2] += w * drift * drift / v
    # moments of the two-part mixture: moved by the datum, or left where it was
    spread = var - w * var * var / v + w * (1.0 - w) * (var / v * e) ** 2
    return mean + k * e, turn + k * drift, spread


@kernel
def weigh_stations(
    d: Stretch,
    scatter2: float,
    depth: FLOATS,
    nodes: FLOATS,
    walks: FLOATS,
    sides: FLOATS,
    fits: FLOATS,
    marks: FLOATS,
) -> None:
    """Log likelihood of every station for interpolated displays; where its mark lies right of the line.

    Parameters
    ----------
    depth : shape (n,)
        ln depth that the displays were read off for.
    nodes, walks, sides : shapes (n, 2, values), (n, 3, 3) and (n, 3)
        Displays, walks across and readings from the side with their slopes, as `table.read_off` leaves them.
    fits : shape (n, 3), filled
        Log likelihood, its slope with ln depth, and its curvature (positive; Gauss-Newton).
    marks : shape (n, 2), filled
        Mean and variance of the mark's place.
    """
    for s in range(d.at.shape[0]):
        shown, swing, into = nodes[s, 0], nodes[s, 1], fits[s]
        own = NULL if d.mark_kind[s] == 1 else PEAK
        peak2 = scatter2 * d.peak_sigma[s] ** 2
        half2 = scatter2 * HALF_SIGMA_M**2
        depth2 = scatter2 * DEPTH_SIGMA**2 + (SECOND_WANDER * (shown[LN_SHOWN] - shown[LN_SHOWN_ALONE])) ** 2
        # how far the other currents bend the field here; a part of that is not as the model has it
        aside = (SECOND_WANDER * (shown[NULL] - shown[PEAK])) ** 2
        mean, turn = shown[own], swing[own]
        var = peak2 + (0.04 if d.mark_kind[s] == 2 else 0.0)
        into[0] = 0.0
        into[1] = 0.0
        into[2] = 0.0
        if not math.isnan(d.gap[s]):
            noise = peak2 + d.gap_floor[s] + aside
            flip = shown[NULL] + d.gap[s]
            mean, turn, var = _fold(mean, turn, var, shown[NULL] - d.gap[s], swing[NULL], noise, flip, into)
        if not math.isnan(d.half_left[s]):
            noise = half2 + d.half_left_floor[s] + aside
            mean, turn, var = _fold(
                mean, turn, var, shown[LEFT] + d.half_left[s], swing[LEFT], noise, math.nan, into
            )
        if not math.isnan(d.half_right[s]):
            noise = half2 + d.half_right_floor[s] + aside
            mean, turn, var = _fold(
                mean, turn, var, shown[RIGHT] - d.half_right[s], swing[RIGHT], noise, math.nan, into
            )
        if d.profile_count[s] > 0:
            # its zero is the mark; the misfit is a parabola in where that lies
            walk = walks[s]
            v = var + walk[0, 2]
            e = walk[0, 1] - mean
            drift = walk[1, 1] - turn
            into[0] += walk[0, 0] - 0.5 * e * e / v - 0.5 * math.log(v / walk[0, 2])
            into[1] += walk[1, 0] - e * drift / v
            into[2] += max(-walk[2, 0], 0.0) + drift * drift / v
            mean += var / v * e
            var -= var * var / v
        if not math.isnan(d.ln_depth[s]):
            _cell(d.ln_depth[s] - shown[LN_SHOWN], swing[LN_SHOWN], depth2 + d.ln_depth_floor[s], into)
        if d.raise_index[s] >= 0:
            r = FIRST_RAISED + d.raise_index[s]
            _cell(d.ln_raised[s] - shown[r], swing[r], depth2 + d.ln_raised_floor[s], into)
        if not math.isnan(d.side_stand[s]):
            into[0] += sides[s, 0]
            into[1] += sides[s, 1]
            into[2] += max(-sides[s, 2], 0.0)
        if not math.isnan(d.seen_ln_depth[s]):
            e = d.seen_ln_depth[s] - depth[s]
            into[0] -= 0.5 * e * e / d.seen_var[s] + 0.5 * math.log(d.seen_var[s])
            into[1] += e / d.seen_var[s]
            into[2] += 1.0 / d.seen_var[s]
        if not math.isnan(d.dug_ln_depth[s]):
            _dug(depth[s] - d.dug_ln_depth[s], d.dug_beside[s], into)
        marks[s, 0] = mean
        marks[s, 1] = var


@kernel
def _cell(e: float, swing: float, var: float, into: FLOATS) -> None:
    """Add a displayed depth that is off by `e` in ln to log likelihood, slope and curvature."""
    fit, w = log_cell(e, var, BROAD_LN)
    into[0] += fit
    into[1] += w * e * swing / var
    into[2] += w * swing * swing / var


@kernel
def _dug(deeper_by: float, beside: float, into: FLOATS) -> None:
    """Add what a hole says that did not find the line: it is deeper (in ln, by so much), or beside."""
    u = deeper_by / HOLE_BOTTOM_SIGMA
    chance = beside + (1.0 - beside) * 0.5 * math.erfc(-u / math.sqrt(2.0))
    slope = (1.0 - beside) * math.exp(-0.5 * u * u) / (ROOT_2PI * HOLE_BOTTOM_SIGMA) / chance
    into[0] += math.log(chance)
    into[1] += slope
    into[2] += slope * slope


@kernel
def log_evidence(theta: FLOATS, d: Stretch, start: FLOATS, state: FLOATS, rounds: int) -> float:
    """Log evidence of the globals `theta`; fills the smoothed states of every station.

    Parameters
    ----------
    theta : shape (g,)
        Globals, in the order of `stretch`.
    d : Stretch
    start : shape (n,)
        ln depth to begin from.
    state : shape (ROWS, n), filled
        In the order of `stretch`.
    rounds : int
        Most Newton steps.
    """
    n = d.at.shape[0]
    depth = state[DEPTH_MEAN]
    value = state[DEPTH_DATUM]
    precision = state[DEPTH_PRECISION]
    middle = 0.0
    for s in range(n):
        depth[s] = start[s]
        middle += start[s] / n
    t = make_table(theta, d, middle)
    work = np.empty((n, 12))
    place = np.empty(n)
    fits = np.empty((n, 3))
    marks = np.empty((n, 2))
    low, high = reach_of(t)
    scatter2 = t.scatter * t.scatter
    total = 0.0
    moved = 1.0
    for turn in range(rounds + 1):
        for s in range(n):
            place[s] = min(max(depth[s], low), high)
        read_off(t, d, place)
        weigh_stations(d, scatter2, place, t.nodes, t.walks, t.sides, fits, marks)
        # the last pass only reads the likelihood off where the smoother left the states
        if turn == rounds or moved < 0.004:
            break
        for s in range(n):
            precision[s] = max(fits[s, 2], FEWEST_PRECISION)
            value[s] = place[s] + min(max(fits[s, 1] / precision[s], -LONGEST_STEP), LONGEST_STEP)
        total = smooth_slope_chain(
            d.at,
            value,
            precision,
            LN_DEPTH_0,
            DEPTH_LOG_SIGMA**2,
            DEPTH_SLOPE_SIGMA**2,
            DEPTH_SLOPE_SIGMA**2,
            DEPTH_SLOPE_LENGTH_M,
            work,
            depth,
            state[DEPTH_VAR],
        )
        moved = 0.0
        for s in range(n):
            moved = max(moved, abs(depth[s] - place[s]))
    for s in range(n):
        shown = t.nodes[s, 0]
        state[MARK_MEAN, s] = marks[s, 0]
        state[MARK_VAR, s] = marks[s, 1]
        state[SHOWN_CURRENT, s] = shown[LN_CURRENT]
        off = abs(shown[PEAK]) < 0.05 and abs(shown[LN_SHOWN] - shown[LN_SHOWN_ALONE]) < 0.05
        state[ALONE, s] = 1.0 if off else 0.0
        state[STATION_FIT, s] = fits[s, 0]
        total += fits[s, 0] + 0.5 * precision[s] * (place[s] - value[s]) ** 2
        total -= 0.5 * math.log(precision[s]) - 0.9189385332046727
    return total + across_legs(d, state)


@kernel
def log_evidence_many(
    thetas: FLOATS, d: Stretch, starts: FLOATS, rounds: int, out: FLOATS, states: FLOATS
) -> None:
    """`log_evidence` for many sets of globals; every array has one row a set."""
    for i in range(thetas.shape[0]):
        out[i] = log_evidence(thetas[i], d, starts[i], states[i], rounds)
        if math.isnan(out[i]):
            out[i] = -1e30
