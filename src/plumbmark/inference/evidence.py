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
    SECOND_WANDER,
    SLIP_ODDS,
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
from plumbmark.inference.table import CURVATURE_STEP, GRID_LOW, GRID_NODES, GRID_STEP, make_table, read_off

FLOATS = NDArray[np.float64]

LN_DEPTH_0 = math.log(DEPTH_MEDIAN_M)
#: A slipped cell may hold anything: density of the broad alternative, per unit of ln.
BROAD_LN = 1.0 / 5.0
FEWEST_PRECISION = 1e-3


@kernel
def log_cell(e: float, var: float, broad: float) -> float:
    """Log density of one cell: noise, or now and then anything at all."""
    return math.log(
        (1.0 - SLIP_ODDS) * math.exp(-0.5 * e * e / var) / (ROOT_2PI * math.sqrt(var)) + SLIP_ODDS * broad
    )


@kernel
def _fold(mean: float, var: float, at: float, noise: float, flip: float) -> tuple[float, float, float]:
    """Fold one across-line datum into where the mark lies: new mean, variance, log evidence.

    `flip` is where the datum would put it with left written for right (NaN: cannot be).
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
    # moments of the two-part mixture: moved by the datum, or left where it was
    new = mean + k * e
    spread = var - w * var * var / v + w * (1.0 - w) * (var / v * e) ** 2
    return new, spread, math.log(total)


@kernel
def _station(
    d: Stretch,
    s: int,
    theta: FLOATS,
    scatter2: float,
    node: FLOATS,
    profile: FLOATS,
    has_profile: bool,
) -> tuple[float, float, float]:
    """Log likelihood of station `s` for interpolated displays, and where its mark lies right of the line."""
    mean = node[1] if d.mark_kind[s] == 1 else node[0]
    var = scatter2 * d.peak_sigma[s] ** 2
    if d.mark_kind[s] == 2:
        var += 0.04
    total = 0.0
    # how far the other currents bend the field here; a part of that is not as the model has it
    aside = (SECOND_WANDER * (node[1] - node[0])) ** 2
    if not math.isnan(d.gap[s]):
        noise = scatter2 * d.peak_sigma[s] ** 2 + d.gap_floor[s] + aside
        mean, var, e = _fold(mean, var, node[1] - d.gap[s], noise, node[1] + d.gap[s])
        total += e
    if not math.isnan(d.half_left[s]):
        noise = scatter2 * HALF_SIGMA_M**2 + d.half_left_floor[s] + aside
        mean, var, e = _fold(mean, var, node[2] + d.half_left[s], noise, math.nan)
        total += e
    if not math.isnan(d.half_right[s]):
        noise = scatter2 * HALF_SIGMA_M**2 + d.half_right_floor[s] + aside
        mean, var, e = _fold(mean, var, node[3] - d.half_right[s], noise, math.nan)
        total += e
    if has_profile:
        # its zero is the mark; the misfit is a parabola in where that lies
        v = var + profile[2]
        f = profile[1] - mean
        total += profile[0] - 0.5 * f * f / v - 0.5 * math.log(v / profile[2])
        mean += var / v * f
        var -= var * var / v
    off = (SECOND_WANDER * (node[4] - node[6])) ** 2
    if not math.isnan(d.ln_depth[s]):
        total += log_cell(
            d.ln_depth[s] - node[4], scatter2 * DEPTH_SIGMA**2 + d.ln_depth_floor[s] + off, BROAD_LN
        )
    if d.raise_index[s] >= 0:
        shown = node[7 + d.raise_index[s]]
        total += log_cell(
            d.ln_raised[s] - shown, scatter2 * DEPTH_SIGMA**2 + d.ln_raised_floor[s] + off, BROAD_LN
        )
    return total, mean, var


@kernel
def _seen(z: float, seen: float, var: float) -> float:
    """What a test hole that saw `seen` says of ln depth `z`, up to a constant; nothing if that is NaN."""
    return 0.0 if math.isnan(seen) else -0.5 * (z - seen) ** 2 / var


@kernel
def _newton(
    d: Stretch, s: int, theta: FLOATS, scatter2: float, z: float, mid: float, nodes: FLOATS, walks: FLOATS
) -> tuple[float, float]:
    """Gaussian that stands for station `s` near ln depth `z`, where its log likelihood is `mid`.

    Returns its mean and its precision.
    """
    has_walk = d.profile_count[s] > 0
    low, _m, _v = _station(d, s, theta, scatter2, nodes[0], walks[0], has_walk)
    high, _m, _v = _station(d, s, theta, scatter2, nodes[2], walks[2], has_walk)
    low += _seen(z - CURVATURE_STEP, d.seen_ln_depth[s], d.seen_var[s])
    high += _seen(z + CURVATURE_STEP, d.seen_ln_depth[s], d.seen_var[s])
    slope = (high - low) / (2.0 * CURVATURE_STEP)
    curve = -(high - 2.0 * mid + low) / CURVATURE_STEP**2
    precision = max(curve, 0.15 * abs(slope), FEWEST_PRECISION)
    return z + min(max(slope / precision, -0.4), 0.4), precision


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
    t = make_table(theta, d)
    depth = state[DEPTH_MEAN]
    value = state[DEPTH_DATUM]
    precision = state[DEPTH_PRECISION]
    work = np.empty((n, 12))
    scatter2 = t.scatter * t.scatter
    total = 0.0
    for s in range(n):
        depth[s] = start[s]
    prior = 0.0
    moved = 1.0
    for turn in range(rounds + 1):
        # the last pass only reads the likelihood off where the smoother left the states
        final = turn == rounds or moved < 0.004
        total = 0.0
        for s in range(n):
            z = min(max(depth[s], GRID_LOW + 0.25), GRID_LOW + GRID_STEP * (GRID_NODES - 2) - 0.25)
            read_off(t, theta, d, s, z, final)
            node = t.node[1]
            fit, mean, var = _station(d, s, theta, scatter2, node, t.walk[1], d.profile_count[s] > 0)
            fit += _seen(z, d.seen_ln_depth[s], d.seen_var[s])
            if not final:
                value[s], precision[s] = _newton(d, s, theta, scatter2, z, fit, t.node, t.walk)
                continue
            if not math.isnan(d.seen_ln_depth[s]):
                fit -= 0.5 * math.log(d.seen_var[s])
            state[MARK_MEAN, s] = mean
            state[MARK_VAR, s] = var
            state[SHOWN_CURRENT, s] = node[5]
            off = abs(node[0]) < 0.05 and abs(node[4] - node[6]) < 0.05
            state[ALONE, s] = 1.0 if off else 0.0
            state[STATION_FIT, s] = fit
            total += fit + 0.5 * precision[s] * (depth[s] - value[s]) ** 2
            total -= 0.5 * math.log(precision[s]) - 0.9189385332046727
        if final:
            break
        keep = depth.copy()
        prior = smooth_slope_chain(
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
            moved = max(moved, abs(depth[s] - keep[s]))
    return total + prior + across_legs(d, state)


@kernel
def log_evidence_many(
    thetas: FLOATS, d: Stretch, starts: FLOATS, rounds: int, out: FLOATS, states: FLOATS
) -> None:
    """`log_evidence` for many sets of globals; every array has one row a set."""
    for i in range(thetas.shape[0]):
        out[i] = log_evidence(thetas[i], d, starts[i], states[i], rounds)
        if math.isnan(out[i]):
            out[i] = -1e30
