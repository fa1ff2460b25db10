"""What the display would show over a stretch, tabled: nodes computed where needed, parabolas between them.

With the globals fixed, the display at a station depends on ln depth and, where there are second lines, on
chainage as well. Both are laid out in grids about where the line is thought to be; a node is computed the
first time it is asked for, so the cost hardly grows with the number of stations.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.compiled import kernel
from plumbmark.inference.scene import FIRST_RAISED, NULL, fill_node, profile_pull, put_scene, skin_depth_of
from plumbmark.inference.side_shot import shot_log_likelihood
from plumbmark.inference.stretch import (
    FIRST_LINE,
    PER_LINE,
    Stretch,
    lines_in,
    theta_of_setup,
)

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]
FLAGS = NDArray[np.bool_]
INTS = NDArray[np.int64]

STEP = 0.12  # of ln depth from node to node
NODES = 31  # the middle one at the depth to begin from
REACH = STEP * (NODES // 2 - 0.5)
SHALLOWEST = math.log(0.10)
DEEPEST = math.log(5.5)
OFFSET_PITCH_M = 0.35  # a second line may come nearer by so much from one chainage node to the next
MOST_CHAINAGES = 24
MOST_IMAGES = 32
#: Where a reading from the side may have stood, in sigmas: five points of Gauss and Hermite.
STANDS, STAND_WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
STAND_WEIGHTS = STAND_WEIGHTS / math.sqrt(2.0 * math.pi)


class Table(NamedTuple):
    """Nodes under one set of globals, and the scratch that reading them off needs."""

    scatter: float
    middle: float  # ln depth of the middle node
    chainages: int  # 1, 3 or more nodes along the stretch, or one at each station ...
    pitch: float  # ... so far apart [m]
    thetas: FLOATS  # shape (setups, globals): as each setup has them
    shown: FLOATS  # shape (modes, chainages, NODES, values)
    done: FLAGS  # shape (modes, chainages, NODES)
    walked: FLOATS  # shape (n, NODES, 3): misfit, place, variance of walks across
    walk_done: FLAGS
    at: FLOATS  # images of the scene
    deep: COMPLEXES
    current: COMPLEXES
    model: FLOATS  # shape (4, most points of a walk)
    nodes: FLOATS  # shape (n, 2, values): read off, and its slope with ln depth
    sided: FLOATS  # shape (n, NODES): log likelihood of a reading from the side
    side_done: FLAGS
    sides: FLOATS  # shape (n, 3): the same read off, its slope and its curvature
    walks: FLOATS  # shape (n, 3, 3): the same for walks across, and its curvature
    first: INTS  # shape (n,): first chainage node about each station ...
    reads: INTS  # ... how many of them ...
    weights: FLOATS  # ... and their weights, shape (n, 4)


@kernel
def _walk_node(d: Stretch, s: int, theta: FLOATS, z: float, place: float, t: Table, out: FLOATS) -> None:
    """Best place of the mark under a walk across at one node, looked for from `place`.

    Into `out`: log likelihood there, the place, its variance.
    """
    n = put_scene(
        theta, z, d.at[s], skin_depth_of(theta, d.frequency_hz[d.setup[s]]), t.at, t.deep, t.current
    )
    for i in range(4):
        best, slope, curve = profile_pull(
            place,
            d.profile_start[s],
            d.profile_count[s],
            t.scatter,
            d.point_offset,
            d.point_height,
            d.point_across,
            d.point_across_sigma,
            d.point_upright,
            d.point_upright_sigma,
            theta[3],
            t.at,
            t.deep,
            t.current,
            n,
            t.model,
        )
        step = min(max(slope / max(curve, 1.0), -0.15), 0.15)
        out[0] = best
        out[1] = place
        out[2] = 1.0 / max(curve, 4.0)
        if i == 3:
            break
        if abs(step) < 0.02:
            # so near, the parabola says how much higher the top is than here, and where
            out[0] += 0.5 * slope * step
            out[1] += step
            break
        place += step


@kernel
def _side_node(d: Stretch, s: int, theta: FLOATS, z: float, t: Table) -> float:
    """Log likelihood of a reading from the side at one node, where it stood integrated out."""
    n = put_scene(
        theta, z, d.at[s], skin_depth_of(theta, d.frequency_hz[d.setup[s]]), t.at, t.deep, t.current
    )
    fields = np.empty((4, 3))
    spread = math.sqrt(d.side_var[s])
    total = 0.0
    for k in range(STANDS.shape[0]):
        stand = d.side_stand[s] + spread * STANDS[k]
        fit = shot_log_likelihood(
            stand,
            theta[3],
            theta[4],
            theta[1],
            t.scatter,
            d.side_cells[s],
            t.at,
            t.deep,
            t.current,
            n,
            fields,
        )
        total += STAND_WEIGHTS[k] * math.exp(fit)
    return math.log(total + 1e-300)


@kernel
def _lay_weights(at: FLOATS, nodes: int, pitch: float, first: INTS, count: INTS, weights: FLOATS) -> None:
    """Which chainage nodes each station is read off from, and their weights."""
    n = at.shape[0]
    for s in range(n):
        if nodes == 1:
            continue
        if nodes == n and nodes > 3:
            first[s] = s
            continue
        run = (at[s] - at[0]) / pitch
        if nodes == 3:
            u = run - 1.0
            weights[s, 0] = 0.5 * u * (u - 1.0)
            weights[s, 1] = 1.0 - u * u
            weights[s, 2] = 0.5 * u * (u + 1.0)
            count[s] = 3
            continue
        first[s] = min(max(int(run) - 1, 0), nodes - 4)
        count[s] = 4
        u = run - first[s] - 1.0
        weights[s, 0] = -u * (u - 1.0) * (u - 2.0) / 6.0
        weights[s, 1] = (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0
        weights[s, 2] = -(u + 1.0) * u * (u - 2.0) / 2.0
        weights[s, 3] = (u + 1.0) * u * (u - 1.0) / 6.0


@kernel
def make_table(theta: FLOATS, d: Stretch, middle: float) -> Table:
    """An empty table for the globals `theta` about the ln depth `middle`."""
    n = d.at.shape[0]
    values = FIRST_RAISED + d.raises.shape[0]
    setups = d.frequency_hz.shape[0]
    receivers = 1
    for j in range(setups):
        receivers = max(receivers, d.receiver_of[j] + 1)
    lines = lines_in(theta.shape[0], setups, receivers)
    thetas = np.empty((setups, FIRST_LINE + PER_LINE * lines))
    for j in range(setups):
        theta_of_setup(theta, setups, receivers, j, d.receiver_of[j], thetas[j])
    angle = 0.0
    for line in range(lines):
        angle = max(angle, abs(theta[FIRST_LINE + PER_LINE * line + 1]))
    length = d.at[n - 1] - d.at[0]
    # the more a second line runs at an angle the more nodes; from as many as stations on one at each
    nc = 1
    if lines > 0 and length > 0.5:
        nc = 3 if angle * length < 0.15 else min(int(angle * length / OFFSET_PITCH_M) + 4, MOST_CHAINAGES)
        nc = min(nc, max(n, 3))
    modes = setups * (2 if d.has_null_marks else 1)
    walks = n if d.point_offset.shape[0] > 0 else 1
    sides = 1
    for s in range(n):
        if not math.isnan(d.side_stand[s]):
            sides = n
    most = 1
    for s in range(n):
        most = max(most, d.profile_count[s])
    pitch = length / (nc - 1) if nc > 1 else 1.0
    first = np.zeros(n, dtype=np.int64)
    count = np.ones(n, dtype=np.int64)
    weights = np.ones((n, 4))
    _lay_weights(d.at, nc, pitch, first, count, weights)
    return Table(
        math.exp(theta[0]),
        middle,
        nc,
        pitch,
        thetas,
        np.empty((modes, nc, NODES, values)),
        np.zeros((modes, nc, NODES), dtype=np.bool_),
        np.empty((walks, NODES, 3)),
        np.zeros((walks, NODES), dtype=np.bool_),
        np.empty(MOST_IMAGES),
        np.empty(MOST_IMAGES, dtype=np.complex128),
        np.empty(MOST_IMAGES, dtype=np.complex128),
        np.empty((4, most)),
        np.empty((n, 2, values)),
        np.empty((sides, NODES)),
        np.zeros((sides, NODES), dtype=np.bool_),
        np.empty((sides, 3)),
        np.empty((walks, 3, 3)),
        first,
        count,
        weights,
    )


@kernel
def reach_of(t: Table) -> tuple[float, float]:
    """Least and greatest ln depth that the table and the ground allow."""
    low = max(t.middle - REACH, SHALLOWEST)
    return low, max(min(t.middle + REACH, DEEPEST), low)


@kernel
def _fill(t: Table, d: Stretch, setup: int, at_null: bool, mode: int, c: int, k: int) -> None:
    """Compute node `k` of ln depth at chainage node `c`."""
    t.done[mode, c, k] = True
    n = d.at.shape[0]
    along = d.at[0] + t.pitch * c
    if t.chainages == 1:
        along = 0.5 * (d.at[0] + d.at[n - 1])
    elif t.chainages == n and n > 3:
        along = d.at[c]
    fill_node(
        t.thetas[setup],
        t.middle + STEP * (k - NODES // 2),
        along,
        d.frequency_hz[setup],
        d.raises,
        d.has_halves,
        at_null,
        t.at,
        t.deep,
        t.current,
        t.shown[mode, c, k],
    )


@kernel
def _parabola(left: float, mid: float, right: float, f: float) -> tuple[float, float, float]:
    """Value and slope at `f` of the parabola through places -1, 0 and 1, and how much it bows."""
    half = 0.5 * (right - left)
    bow = 0.5 * (right + left) - mid
    return mid + f * (half + f * bow), half + 2.0 * f * bow, bow


@kernel
def read_off(t: Table, d: Stretch, depth: FLOATS) -> None:
    """What the display would show at every station with the line exp(`depth`) deep, into `nodes` and `walks`.

    Depths have to lie within `reach_of` it. One loop, in which the table is handed on only to fill a node:
    that is much to hand over, and nothing runs more often than this.
    """
    values = t.nodes.shape[2]
    for s in range(d.at.shape[0]):
        at_null = d.mark_kind[s] == 1
        setup = d.setup[s]
        mode = setup
        if d.has_null_marks:
            mode = 2 * setup + (1 if at_null else 0)
        u = (depth[s] - t.middle) / STEP + NODES // 2
        k = min(max(int(u + 0.5), 1), NODES - 2)
        f = u - k
        for v in range(values):
            t.nodes[s, 0, v] = 0.0
            t.nodes[s, 1, v] = 0.0
        for c in range(t.first[s], t.first[s] + t.reads[s]):
            for b in range(k - 1, k + 2):
                if not t.done[mode, c, b]:
                    _fill(t, d, setup, at_null, mode, c, b)
            w = t.weights[s, c - t.first[s]]
            for v in range(values):
                value, slope, _bow = _parabola(
                    t.shown[mode, c, k - 1, v], t.shown[mode, c, k, v], t.shown[mode, c, k + 1, v], f
                )
                t.nodes[s, 0, v] += w * value
                t.nodes[s, 1, v] += w * slope / STEP
        if not math.isnan(d.side_stand[s]):
            for b in range(k - 1, k + 2):
                if not t.side_done[s, b]:
                    t.side_done[s, b] = True
                    t.sided[s, b] = _side_node(d, s, t.thetas[setup], t.middle + STEP * (b - NODES // 2), t)
            value, slope, bow = _parabola(t.sided[s, k - 1], t.sided[s, k], t.sided[s, k + 1], f)
            t.sides[s, 0] = value
            t.sides[s, 1] = slope / STEP
            t.sides[s, 2] = 2.0 * bow / (STEP * STEP)
        if d.profile_count[s] > 0:
            # every second node is close enough for these
            k = 2 * min(max(int(0.5 * u + 0.5), 1), NODES // 2 - 1)
            f = 0.5 * (u - k)
            for b in range(k - 2, k + 3, 2):
                if not t.walk_done[s, b]:
                    t.walk_done[s, b] = True
                    place = t.nodes[s, 0, NULL] - (0.0 if math.isnan(d.gap[s]) else d.gap[s])
                    if b >= 2 and t.walk_done[s, b - 2]:
                        place = t.walked[s, b - 2, 1]
                    z = t.middle + STEP * (b - NODES // 2)
                    _walk_node(d, s, t.thetas[setup], z, place, t, t.walked[s, b])
            for v in range(3):
                value, slope, bow = _parabola(
                    t.walked[s, k - 2, v], t.walked[s, k, v], t.walked[s, k + 2, v], f
                )
                t.walks[s, 0, v] = value
                t.walks[s, 1, v] = slope / (2.0 * STEP)
                t.walks[s, 2, v] = 2.0 * bow / (4.0 * STEP * STEP)
            t.walks[s, 0, 2] = max(t.walks[s, 0, 2], 1e-6)
