"""What the display would show over a stretch, tabled: nodes computed where needed, cubics between them.

With the globals fixed, the display at a station depends on one number, ln depth, and where second lines
run at an angle on chainage as well. Both are laid out in fixed grids; a node is computed the first time it
is asked for, so the cost hardly grows with the number of stations.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.scene import fill_node, profile_misfit, put_scene, skin_depth_of
from plumbmark.inference.stretch import FIRST_LINE, PER_LINE, Stretch

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]
FLAGS = NDArray[np.bool_]

GRID_LOW = math.log(0.10)  # ln depth of the first node
GRID_STEP = 0.2
GRID_NODES = 21  # to 5.5 m
MOST_CHAINAGES = 8
MOST_IMAGES = 32
OUTSIDE = 7  # node values that are there without raises
CURVATURE_STEP = 0.02  # of ln depth, for the slope and curvature of what is read off


class Table(NamedTuple):
    """Nodes under one set of globals, and the scratch that reading them off needs."""

    scatter: float
    chainages: int  # 1, 3 or more nodes along the stretch ...
    pitch: float  # ... so far apart [m]
    shown: FLOATS  # shape (modes, chainages, GRID_NODES, values)
    done: FLAGS  # shape (modes, chainages, GRID_NODES)
    walked: FLOATS  # shape (n, GRID_NODES, 3): misfit, place, variance of walks across
    walk_done: FLAGS
    at: FLOATS  # images of the scene
    deep: COMPLEXES
    current: COMPLEXES
    model: FLOATS  # shape (2, most points of a walk)
    node: FLOATS  # shape (3, values): read off below, at and above the ln depth asked for
    walk: FLOATS  # shape (3, 3): the same for the walk across
    along_weights: FLOATS
    deep_weights: FLOATS


@kernel
def _weights(u: float, w: FLOATS) -> None:
    """Cubic Lagrange weights for nodes at -1, 0, 1, 2."""
    w[0] = -u * (u - 1.0) * (u - 2.0) / 6.0
    w[1] = (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0
    w[2] = -(u + 1.0) * u * (u - 2.0) / 2.0
    w[3] = (u + 1.0) * u * (u - 1.0) / 6.0


@kernel
def _misfit(
    d: Stretch,
    s: int,
    t: float,
    scatter: float,
    lower: float,
    at: FLOATS,
    deep: COMPLEXES,
    current: COMPLEXES,
    n: int,
    model: FLOATS,
) -> float:
    """Log likelihood of the walk across at station `s` with its zero `t` right of the line."""
    return profile_misfit(
        t,
        d.profile_start[s],
        d.profile_count[s],
        scatter,
        d.point_offset,
        d.point_height,
        d.point_across,
        d.point_across_sigma,
        d.point_upright,
        d.point_upright_sigma,
        lower,
        at,
        deep,
        current,
        n,
        model,
    )


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
    t = null
    if not math.isnan(d.gap[s]):
        t = null - d.gap[s]
    h = 0.02
    best = 0.0
    curve = 1.0
    for i in range(4):
        low = _misfit(d, s, t - h, scatter, theta[3], at, deep, current, n, model)
        best = _misfit(d, s, t, scatter, theta[3], at, deep, current, n, model)
        high = _misfit(d, s, t + h, scatter, theta[3], at, deep, current, n, model)
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
def make_table(theta: FLOATS, d: Stretch) -> Table:
    """An empty table for the globals `theta`; more chainages the more the second lines run at an angle."""
    n = d.at.shape[0]
    values = OUTSIDE + d.raises.shape[0]
    modes = 2 if d.has_null_marks else 1
    angle = 0.0
    k = FIRST_LINE
    while k + PER_LINE <= theta.shape[0]:
        angle = max(angle, abs(theta[k + 1]))
        k += PER_LINE
    length = d.at[n - 1] - d.at[0]
    nc = 1
    if k > FIRST_LINE and length > 0.5:
        nc = 3 if angle * length < 0.15 else min(max(int(angle * length / 0.4) + 4, 4), MOST_CHAINAGES)
    walks = n if d.point_offset.shape[0] > 0 else 1
    most = 1
    for s in range(n):
        most = max(most, d.profile_count[s])
    return Table(
        math.exp(theta[0]),
        nc,
        length / (nc - 1) if nc > 1 else 1.0,
        np.empty((modes, nc, GRID_NODES, values)),
        np.zeros((modes, nc, GRID_NODES), dtype=np.bool_),
        np.empty((walks, GRID_NODES, 3)),
        np.zeros((walks, GRID_NODES), dtype=np.bool_),
        np.empty(MOST_IMAGES),
        np.empty(MOST_IMAGES, dtype=np.complex128),
        np.empty(MOST_IMAGES, dtype=np.complex128),
        np.empty((2, most)),
        np.empty((3, values)),
        np.empty((3, 3)),
        np.empty(4),
        np.empty(4),
    )


@kernel
def _chainages_about(run: float, pitch: float, count: int, w: FLOATS) -> tuple[int, int]:
    """First chainage node about a place `run` from the first of `count`, and how many; weights into `w`."""
    w[0] = 1.0
    if count == 1:
        return 0, 1
    if count == 3:
        u = run / pitch - 1.0
        w[0] = 0.5 * u * (u - 1.0)
        w[1] = 1.0 - u * u
        w[2] = 0.5 * u * (u + 1.0)
        return 0, 3
    u = run / pitch
    c0 = min(max(int(u) - 1, 0), count - 4)
    _weights(u - c0 - 1.0, w)
    return c0, 4


@kernel
def _fill(t: Table, theta: FLOATS, d: Stretch, mode: int, c: int, k: int) -> None:
    """Compute node `k` of ln depth at chainage node `c`."""
    t.done[mode, c, k] = True
    along = 0.5 * (d.at[0] + d.at[d.at.shape[0] - 1]) if t.chainages == 1 else d.at[0] + t.pitch * c
    fill_node(
        theta,
        GRID_LOW + GRID_STEP * k,
        along,
        d.frequency_hz,
        d.raises,
        d.has_halves,
        mode == 1,
        t.at,
        t.deep,
        t.current,
        t.shown[mode, c, k],
    )


@kernel
def _read_walk(t: Table, theta: FLOATS, d: Stretch, s: int, z0: int, null: float, out: FLOATS) -> None:
    """Walk across at station `s`, from the four nodes from `z0`; their weights stand in the scratch."""
    for v in range(3):
        out[v] = 0.0
    for b in range(4):
        if not t.walk_done[s, z0 + b]:
            t.walk_done[s, z0 + b] = True
            z = GRID_LOW + GRID_STEP * (z0 + b)
            _profile_node(
                d, s, theta, z, t.scatter, null, t.at, t.deep, t.current, t.model, t.walked[s, z0 + b]
            )
        for v in range(3):
            out[v] += t.deep_weights[b] * t.walked[s, z0 + b, v]
    out[2] = max(out[2], 1e-6)


@kernel
def read_off(t: Table, theta: FLOATS, d: Stretch, s: int, z: float, middle_only: bool) -> None:
    """What the display would show at station `s` with the line exp(`z`) deep, into `node` and `walk`.

    Row 1 of both is for `z` itself, rows 0 and 2 for `z` less and plus CURVATURE_STEP (left as they are
    with `middle_only`). `z` has to lie inside the grid by more than one and a quarter of its steps.
    """
    mode = 1 if d.mark_kind[s] == 1 else 0
    c0, count = _chainages_about(d.at[s] - d.at[0], t.pitch, t.chainages, t.along_weights)
    values = t.node.shape[1]
    for j in range(3):
        if middle_only and j != 1:
            continue
        u = (z + (j - 1) * CURVATURE_STEP - GRID_LOW) / GRID_STEP
        z0 = min(max(int(u) - 1, 0), GRID_NODES - 4)
        _weights(u - z0 - 1.0, t.deep_weights)
        node = t.node[j]
        for v in range(values):
            node[v] = 0.0
        for a in range(count):
            for b in range(4):
                if not t.done[mode, c0 + a, z0 + b]:
                    _fill(t, theta, d, mode, c0 + a, z0 + b)
                w = t.along_weights[a] * t.deep_weights[b]
                for v in range(values):
                    node[v] += w * t.shown[mode, c0 + a, z0 + b, v]
        if d.profile_count[s] > 0:
            _read_walk(t, theta, d, s, z0, node[1], t.walk[j])
