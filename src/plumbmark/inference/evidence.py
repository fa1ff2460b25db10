"""The evidence of one set of globals: smooth states marginalised inside (Laplace at the stations).

What the display would show depends, with the globals fixed, on one number a station, ln depth. It is
computed at nodes of a fixed grid of ln depth (and of chainage, where second lines run at an angle), only
where needed, and interpolated by cubics; so the cost hardly grows with the number of stations.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.chain import smooth_slope_chain
from plumbmark.inference.priors import (
    DEPTH_LOG_SIGMA,
    DEPTH_MEDIAN_M,
    DEPTH_SIGMA,
    DEPTH_SLOPE_LENGTH_M,
    DEPTH_SLOPE_SIGMA,
    FLIP_ODDS,
    HALF_SIGMA_M,
    KINK_SIGMA,
    SECOND_WANDER,
    SLIP_ODDS,
)
from plumbmark.inference.scene import fill_node, profile_misfit, put_scene, skin_depth_of
from plumbmark.inference.stretch import Stretch

FLOATS = NDArray[np.float64]

GRID_LOW = math.log(0.10)  # ln depth of the first node
GRID_STEP = 0.2
GRID_NODES = 21  # to 5.5 m
MOST_CHAINAGES = 8
MOST_IMAGES = 32
OUTSIDE = 7  # node values that are there without raises
LN_DEPTH_0 = math.log(DEPTH_MEDIAN_M)
TINY = 1e-300
ROOT_2PI = math.sqrt(2.0 * math.pi)
#: A slipped cell may hold anything: density of the broad alternative, per unit of ln and per metre.
BROAD_LN = 1.0 / 5.0
BROAD_M = 1.0 / 4.0
CURVATURE_STEP = 0.02
FEWEST_PRECISION = 1e-3


@kernel
def _weights(u: float, w: FLOATS) -> None:
    """Cubic Lagrange weights for nodes at -1, 0, 1, 2."""
    w[0] = -u * (u - 1.0) * (u - 2.0) / 6.0
    w[1] = (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0
    w[2] = -(u + 1.0) * u * (u - 2.0) / 2.0
    w[3] = (u + 1.0) * u * (u - 1.0) / 6.0


@kernel
def log_cell(e: float, var: float, broad: float) -> float:
    """Log density of one cell: noise, or now and then anything at all."""
    return math.log((1.0 - SLIP_ODDS) * math.exp(-0.5 * e * e / var) / (ROOT_2PI * math.sqrt(var)) + SLIP_ODDS * broad)


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
        total += log_cell(d.ln_depth[s] - node[4], scatter2 * DEPTH_SIGMA**2 + d.ln_depth_floor[s] + off, BROAD_LN)
    if d.raise_index[s] >= 0:
        shown = node[7 + d.raise_index[s]]
        total += log_cell(d.ln_raised[s] - shown, scatter2 * DEPTH_SIGMA**2 + d.ln_raised_floor[s] + off, BROAD_LN)
    return total, mean, var


@kernel
def _profile_node(
    d: Stretch,
    s: int,
    theta: FLOATS,
    z: float,
    scatter: float,
    null: float,
    at: FLOATS,
    deep: NDArray[np.complex128],
    current: NDArray[np.complex128],
    model: FLOATS,
    out: FLOATS,
) -> None:
    """Best place of the mark under a walk across at one node: log likelihood there, place, variance."""
    n = put_scene(theta, z, d.at[s], skin_depth_of(theta, d.frequency_hz), at, deep, current)
    first = d.profile_start[s]
    count = d.profile_count[s]
    t = null
    if not math.isnan(d.gap[s]):
        t = null - d.gap[s]
    h = 0.02
    best = 0.0
    curve = 1.0
    for i in range(4):
        low = profile_misfit(
            t - h, first, count, scatter, d.point_offset, d.point_height, d.point_across,
            d.point_across_sigma, d.point_upright, d.point_upright_sigma, theta[3], at, deep, current, n, model,
        )
        best = profile_misfit(
            t, first, count, scatter, d.point_offset, d.point_height, d.point_across,
            d.point_across_sigma, d.point_upright, d.point_upright_sigma, theta[3], at, deep, current, n, model,
        )
        high = profile_misfit(
            t + h, first, count, scatter, d.point_offset, d.point_height, d.point_across,
            d.point_across_sigma, d.point_upright, d.point_upright_sigma, theta[3], at, deep, current, n, model,
        )
        slope = (high - low) / (2.0 * h)
        curve = -(high - 2.0 * best + low) / (h * h)
        if i == 3:
            break
        if curve > 1.0:
            step = slope / curve
        else:
            step = 0.1 if slope > 0.0 else -0.1
        step = min(max(step, -0.15), 0.15)
        t += step
        if abs(step) < 0.004:
            break
    out[0] = best
    out[1] = t
    out[2] = 1.0 / max(curve, 4.0)


@kernel
def log_evidence(
    theta: FLOATS,
    d: Stretch,
    start: FLOATS,
    depth_mean: FLOATS,
    depth_var: FLOATS,
    mark_mean: FLOATS,
    mark_var: FLOATS,
    shown_current: FLOATS,
    alone: FLOATS,
    across_mean: FLOATS,
    across_var: FLOATS,
    station_fit: FLOATS,
    rounds: int,
) -> float:
    """Log evidence of the globals `theta`; fills the smoothed states of every station.

    Parameters
    ----------
    theta : shape (g,)
        Globals, in the order of `stretch`.
    d : Stretch
    start : shape (n,)
        ln depth to begin from.
    depth_mean, depth_var, mark_mean, mark_var, across_mean, across_var : shape (n,), filled
        ln depth; where the mark lies right of the line [m]; the line across its leg [m].
    shown_current, alone : shape (n,), filled
        ln of displayed over true current; 1 where the other currents move nothing that matters, else 0.
    station_fit : shape (n,), filled
        Log likelihood of the station at its smoothed depth.
    rounds : int
        Most Newton steps.
    """
    n = d.at.shape[0]
    values = OUTSIDE + d.raises.shape[0]
    modes = 2 if d.has_null_marks else 1
    angle = 0.0
    k = 6
    while k + 7 <= theta.shape[0]:
        angle = max(angle, abs(theta[k + 1]))
        k += 7
    length = d.at[n - 1] - d.at[0]
    nc = 1
    if k > 6 and length > 0.5:
        nc = 3 if angle * length < 0.15 else min(max(int(angle * length / 0.4) + 4, 4), MOST_CHAINAGES)
    pitch = length / (nc - 1) if nc > 1 else 1.0
    table = np.empty((modes, nc, GRID_NODES, values))
    done = np.zeros((modes, nc, GRID_NODES), dtype=np.bool_)
    any_profile = d.point_offset.shape[0] > 0
    ptable = np.empty((n if any_profile else 1, GRID_NODES, 3))
    pdone = np.zeros((n if any_profile else 1, GRID_NODES), dtype=np.bool_)
    at = np.empty(MOST_IMAGES)
    deep = np.empty(MOST_IMAGES, dtype=np.complex128)
    current = np.empty(MOST_IMAGES, dtype=np.complex128)
    most = 1
    for s in range(n):
        most = max(most, d.profile_count[s])
    model = np.empty((2, most))
    node = np.empty((3, values))
    prof = np.empty((3, 3))
    wz = np.empty(4)
    wc = np.empty(4)
    value = np.empty(n)
    precision = np.empty(n)
    work = np.empty((n, 12))
    scatter = math.exp(theta[0])
    scatter2 = scatter * scatter
    total = 0.0
    for s in range(n):
        depth_mean[s] = start[s]
    prior = 0.0
    moved = 1.0
    for turn in range(rounds + 1):
        # the last pass only reads the likelihood off where the smoother left the states
        final = turn == rounds or moved < 0.004
        total = 0.0
        for s in range(n):
            z = min(max(depth_mean[s], GRID_LOW + 0.25), GRID_LOW + GRID_STEP * (GRID_NODES - 2) - 0.25)
            mode = 1 if d.mark_kind[s] == 1 else 0
            c0 = 0
            mc = 1
            wc[0] = 1.0
            if nc == 3:
                uc = (d.at[s] - d.at[0]) / pitch - 1.0
                wc[0] = 0.5 * uc * (uc - 1.0)
                wc[1] = 1.0 - uc * uc
                wc[2] = 0.5 * uc * (uc + 1.0)
                mc = 3
            elif nc > 3:
                uc = (d.at[s] - d.at[0]) / pitch
                c0 = min(max(int(uc) - 1, 0), nc - 4)
                _weights(uc - c0 - 1.0, wc)
                mc = 4
            has_profile = d.profile_count[s] > 0
            for j in range(3):
                if final and j != 1:
                    continue
                zz = z + (j - 1) * CURVATURE_STEP
                uz = (zz - GRID_LOW) / GRID_STEP
                z0 = min(max(int(uz) - 1, 0), GRID_NODES - 4)
                _weights(uz - z0 - 1.0, wz)
                for v in range(values):
                    node[j, v] = 0.0
                for a in range(mc):
                    for b in range(4):
                        if not done[mode, c0 + a, z0 + b]:
                            done[mode, c0 + a, z0 + b] = True
                            along = 0.5 * (d.at[0] + d.at[n - 1]) if nc == 1 else d.at[0] + pitch * (c0 + a)
                            fill_node(
                                theta, GRID_LOW + GRID_STEP * (z0 + b), along, d.frequency_hz, d.raises,
                                d.has_halves, mode == 1, at, deep, current, table[mode, c0 + a, z0 + b],
                            )
                        w = wc[a] * wz[b]
                        for v in range(values):
                            node[j, v] += w * table[mode, c0 + a, z0 + b, v]
                if has_profile:
                    for v in range(3):
                        prof[j, v] = 0.0
                    for b in range(4):
                        if not pdone[s, z0 + b]:
                            pdone[s, z0 + b] = True
                            _profile_node(
                                d, s, theta, GRID_LOW + GRID_STEP * (z0 + b), scatter, node[j, 1],
                                at, deep, current, model, ptable[s, z0 + b],
                            )
                        for v in range(3):
                            prof[j, v] += wz[b] * ptable[s, z0 + b, v]
                    prof[j, 2] = max(prof[j, 2], 1e-6)
            mid, mean, var = _station(d, s, theta, scatter2, node[1], prof[1], has_profile)
            seen = not math.isnan(d.seen_ln_depth[s])
            if seen:
                mid += -0.5 * (z - d.seen_ln_depth[s]) ** 2 / d.seen_var[s] - 0.5 * math.log(d.seen_var[s])
            if final:
                mark_mean[s] = mean
                mark_var[s] = var
                shown_current[s] = node[1, 5]
                off = abs(node[1, 0]) < 0.05 and abs(node[1, 4] - node[1, 6]) < 0.05
                alone[s] = 1.0 if off else 0.0
                station_fit[s] = mid
                total += mid + 0.5 * precision[s] * (depth_mean[s] - value[s]) ** 2
                total -= 0.5 * math.log(precision[s]) - 0.9189385332046727
                continue
            low, _m, _v = _station(d, s, theta, scatter2, node[0], prof[0], has_profile)
            high, _m, _v = _station(d, s, theta, scatter2, node[2], prof[2], has_profile)
            if seen:
                low += -0.5 * (z - CURVATURE_STEP - d.seen_ln_depth[s]) ** 2 / d.seen_var[s]
                high += -0.5 * (z + CURVATURE_STEP - d.seen_ln_depth[s]) ** 2 / d.seen_var[s]
            slope = (high - low) / (2.0 * CURVATURE_STEP)
            curve = -(high - 2.0 * mid + low) / CURVATURE_STEP**2
            lam = max(curve, 0.15 * abs(slope), FEWEST_PRECISION)
            value[s] = z + min(max(slope / lam, -0.4), 0.4)
            precision[s] = lam
        if final:
            break
        keep = depth_mean.copy()
        prior = smooth_slope_chain(
            d.at, value, precision, LN_DEPTH_0, DEPTH_LOG_SIGMA**2, DEPTH_SLOPE_SIGMA**2,
            DEPTH_SLOPE_SIGMA**2, DEPTH_SLOPE_LENGTH_M, work, depth_mean, depth_var,
        )
        moved = 0.0
        for s in range(n):
            moved = max(moved, abs(depth_mean[s] - keep[s]))
    return total + prior + _across_legs(d, mark_mean, mark_var, across_mean, across_var)


@kernel
def _across_legs(
    d: Stretch, mark_mean: FLOATS, mark_var: FLOATS, across_mean: FLOATS, across_var: FLOATS
) -> float:
    """Position across each straight leg of the route, smoothed; returns its log evidence.

    A mark far from where its neighbours put the line (a wrong line, a copied place) is let go.
    """
    n = d.at.shape[0]
    total = 0.0
    first = 0
    while first < n:
        last = first
        while last + 1 < n and d.leg[last + 1] == d.leg[first]:
            last += 1
        m = last - first + 1
        value = np.empty(m)
        precision = np.empty(m)
        var = np.empty(m)
        work = np.empty((m, 12))
        mean_out = np.empty(m)
        var_out = np.empty(m)
        for i in range(m):
            s = first + i
            value[i] = d.across[s] - mark_mean[s]
            var[i] = mark_var[s] + d.fix_var[s]
            if not math.isnan(d.seen_across[s]):
                w = 1.0 / d.seen_across_var[s]
                value[i] = (value[i] / var[i] + d.seen_across[s] * w) / (1.0 / var[i] + w)
                var[i] = 1.0 / (1.0 / var[i] + w)
            precision[i] = 1.0 / var[i]
        evidence = 0.0
        for turn in range(3):
            evidence = smooth_slope_chain(
                d.at[first : last + 1], value, precision, 0.0, 4.0, 0.02, KINK_SIGMA**2, 1e9, work, mean_out, var_out
            )
            if turn == 2 or m < 4:
                break
            believed = np.ones(m)
            for i in range(m):
                # leave-one-out residual decides how much the mark is believed
                w = precision[i] * var_out[i]
                loo_var = var_out[i] / max(1.0 - w, 1e-6) + var[i]
                loo = (value[i] - mean_out[i]) / max(1.0 - w, 1e-6)
                good = (1.0 - SLIP_ODDS) * math.exp(-0.5 * loo * loo / loo_var) / math.sqrt(loo_var)
                believed[i] = good / (good + SLIP_ODDS * BROAD_M * ROOT_2PI + TINY)
            for i in range(m):
                # two in a row that do not fit are the line's own course, not two slips
                beside = min(believed[max(i - 1, 0)] if i > 0 else 1.0, believed[i + 1] if i + 1 < m else 1.0)
                trusted = 1.0 if beside < 0.5 else believed[i]
                precision[i] = max(trusted, 1e-4) / var[i]
        for i in range(m):
            across_mean[first + i] = mean_out[i]
            across_var[first + i] = var_out[i]
        total += evidence
        first = last + 1
    return total


@kernel
def log_evidence_many(
    thetas: FLOATS,
    d: Stretch,
    starts: FLOATS,
    rounds: int,
    out: FLOATS,
    depth_mean: FLOATS,
    depth_var: FLOATS,
    mark_mean: FLOATS,
    mark_var: FLOATS,
    shown_current: FLOATS,
    alone: FLOATS,
    across_mean: FLOATS,
    across_var: FLOATS,
    station_fit: FLOATS,
) -> None:
    """`log_evidence` for many sets of globals; every array has one row a set."""
    for i in range(thetas.shape[0]):
        out[i] = log_evidence(
            thetas[i], d, starts[i], depth_mean[i], depth_var[i], mark_mean[i], mark_var[i],
            shown_current[i], alone[i], across_mean[i], across_var[i], station_fit[i], rounds,
        )
        if math.isnan(out[i]):
            out[i] = -1e30
