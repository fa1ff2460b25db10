r"""The chance that a line is noticed from passes walked over it.

A line of current :math:`I` at depth :math:`d` below a coil carried :math:`h` above the ground makes, at a
distance :math:`x` beside it, with :math:`z = d + h`, a field across it of :math:`\mu_0 I z / 2\pi r^2` and in
all of :math:`\mu_0 I / 2\pi r`, :math:`r^2 = x^2 + z^2` (`physics.line`). One coil lying in the direction
faced sees the first times the cosine of the angle to square across; three coils see the second. Per ampere
and in units of a line 1 m off these are

.. math:: q_1 = |\cos\psi|\, z / r^2, \qquad q_3 = 1 / r .

Both grow as the walker comes nearer, so a straight leg counts by its nearest point. A line is noticed with
chance :math:`\Phi(\ln(q I / T) / \sigma_T)`, with :math:`T` the current noticed every other time at 1 m: the
log-probit curve used for the detection of flaws (MIL-HDBK-1823A, from memory). One walker's threshold is
common to all passes, so the strongest signal decides and passes are not multiplied. With :math:`\ln I`
normal, its average is closed: :math:`\Phi((\ln(q I_{50} / T)) / \sqrt{\sigma_I^2 + \sigma_T^2})`.

Lines are straight through the spot asked about, and only what was walked within a *reach* of it counts:
farther off the line may have turned or ended. Ground is left out: within a reach of some metres it changes
the field by less than :math:`\sigma_T` says (REFERENCES of `physics.halfspace`).
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from plumbmark.base.compiled import kernel
from plumbmark.model.sweep import ChanceMap
from plumbmark.planning.sweep_priors import SWEPT_SIGNAL

FLOATS = NDArray[np.float64]

DIRECTIONS: Final = 36
DEPTHS: Final = 5
_THREADS: Final = max(1, min(4, os.cpu_count() or 1))
_PART: Final = 400
_ALONE: Final = 6  # parts that are done before threads have started


@dataclass(frozen=True, slots=True, eq=False)
class Likely:
    """What might be there, as nodes of equal chance in direction, and weighted ones in depth.

    Attributes
    ----------
    bearing_rad : array, shape (k,), [rad]
    below_m : array, shape (j,), [m], above 0
        From the coil to the middle of the line.
    weight : array, shape (j,)
        Sums to 1.
    level : float
        ln of the middle current over the threshold at 1 m.
    spread : float, above 0
        One sigma of that, of current and threshold together.
    reach_m : float, [m]
    """

    bearing_rad: FLOATS
    below_m: FLOATS
    weight: FLOATS
    level: float
    spread: float
    reach_m: float


def bearings(middle_deg: float | None, sigma_deg: float | None) -> FLOATS:
    """Directions of equal chance, shape (36,) [rad]: all around, or normal about a bearing.

    Examples
    --------
    >>> nodes = bearings(None, None)
    >>> print(f"{np.degrees(nodes[0]):.3g} {np.degrees(nodes[-1]):.4g}")
    2.5 177.5
    """
    share = (np.arange(DIRECTIONS) + 0.5) / DIRECTIONS
    if middle_deg is None or sigma_deg is None:
        return np.asarray(np.pi * share)
    return np.asarray(np.radians(middle_deg + sigma_deg * ndtri(share)))


def depths(middle_m: float, factor: float) -> tuple[FLOATS, FLOATS]:
    """Depths of a lognormal and their weights, shape (5,) each, by Gauss and Hermite.

    Examples
    --------
    >>> d, w = depths(1.0, 1.0)
    >>> bool(np.allclose(d, 1.0)), round(float(w.sum()), 12)
    (True, 1.0)
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(DEPTHS)
    return np.asarray(middle_m * np.exp(math.log(factor) * nodes)), np.asarray(weights / weights.sum())


def is_swept(chances: ChanceMap) -> NDArray[np.bool_]:
    """Cells where a line of any direction is heard at least half as strong as from straight above."""
    return np.asarray(chances.inside & (chances.signal >= SWEPT_SIGNAL), bool)


def best_chance(likely: Likely) -> float:
    """Chance for a pass straight across the line, above it: no pass does better."""
    return float(likely.weight @ _normal(likely, -np.log(likely.below_m)))


@dataclass(frozen=True, slots=True, eq=False)
class Noticed:
    """What passes are worth at each of `n` points.

    Attributes
    ----------
    chance : array, shape (n,)
        That a line through the point is noticed, averaged over direction, depth and current.
    signal : array, shape (n, k), 0 to 1
        Strongest signal of any pass from a line of each direction at the middle depth, over that from
        straight above it walking square across.
    weakest : array, shape (n, r), [1/m]
        At each depth asked for, the least of the strongest signals over all directions, in units of what a
        line 1 m off makes of the same current.
    """

    chance: FLOATS
    signal: FLOATS
    weakest: FLOATS


def noticed(
    points: FLOATS, legs: FLOATS, likely: Likely, below_m: FLOATS, *, signal_only: bool = False
) -> Noticed:
    """Chance and signals of lines through each point, given what was walked.

    Parameters
    ----------
    points : array, shape (n, 2), [m]
        Easting and northing.
    legs : array, shape (m, 7)
        Straight stretches walked: easting and northing of both ends [m]; easting and northing of the unit
        vector faced, both 0 for three coils; and how much farther off to count it for a poor fix [m].
    likely : Likely
    below_m : array, shape (r,), [m]
        Depths asked for, coil to line.
    signal_only : bool
        Leave the chances at 0, which takes a quarter of the time.

    Returns
    -------
    Noticed

    Examples
    --------
    Walking north above a spot: a line running east is met square, one running north is not heard at all.

    >>> walk = np.array([[0.0, -2.0, 0.0, 2.0, 0.0, 1.0, 0.0]])
    >>> lines = Likely(np.array([0.0, np.pi / 2]), np.array([1.0]), np.array([1.0]), 0.0, 1.0, 4.0)
    >>> noticed(np.zeros((1, 2)), walk, lines, np.empty(0)).signal.round(6).tolist()
    [[0.0, 1.0]]
    """
    found = Noticed(
        np.zeros(len(points)),
        np.zeros((len(points), len(likely.bearing_rad))),
        np.zeros((len(points), len(below_m))),
    )
    if not len(legs):
        return found
    normal = np.column_stack([np.cos(likely.bearing_rad), -np.sin(likely.bearing_rad)])
    middle = likely.below_m[len(likely.below_m) // 2]
    asked = np.concatenate([[middle], below_m])
    nodes = 0 if signal_only else len(likely.below_m)
    low = np.minimum(legs[:, 0:2], legs[:, 2:4]) - likely.reach_m
    high = np.maximum(legs[:, 0:2], legs[:, 2:4]) + likely.reach_m

    def run(start: int) -> None:
        rows = slice(start, start + _PART)
        near = (low <= points[rows].max(axis=0)).all(axis=1) & (high >= points[rows].min(axis=0)).all(axis=1)
        if near.any():
            _noticed(
                points[rows],
                legs[near],
                normal,
                likely.below_m[:nodes],
                likely.weight[:nodes],
                likely.level,
                likely.spread,
                likely.reach_m,
                asked,
                found.chance[rows],
                found.signal[rows],
                found.weakest[rows],
            )

    starts = range(0, len(points), _PART)
    if len(starts) <= _ALONE:
        for start in starts:
            run(start)
    else:
        with ThreadPoolExecutor(_THREADS) as pool:
            list(pool.map(run, starts))
    return found


def _normal(likely: Likely, ln_signal: FLOATS) -> FLOATS:
    return np.asarray(ndtr((likely.level + ln_signal) / likely.spread), float)


@kernel
def _noticed(
    points: FLOATS,
    legs: FLOATS,
    normal: FLOATS,
    below: FLOATS,
    weight: FLOATS,
    level: float,
    spread: float,
    reach: float,
    asked: FLOATS,
    chance: FLOATS,
    signal: FLOATS,
    weakest: FLOATS,
) -> None:
    """Fill the arrays of a `Noticed`; the first depth asked for is that of `signal`."""
    m, near = len(legs), 0
    kept = np.empty((m, 7))
    all_below = np.concatenate((below, asked))
    n_below, n_all = len(below), len(all_below)
    strongest = np.empty(n_all)
    scale = 1.0 / (spread * math.sqrt(2.0))
    for i in range(len(points)):
        # Legs cut to what lies within reach, seen from the point.
        near = 0
        for s in range(m):
            ax, ay = legs[s, 0] - points[i, 0], legs[s, 1] - points[i, 1]
            dx, dy = legs[s, 2] - legs[s, 0], legs[s, 3] - legs[s, 1]
            dd = dx * dx + dy * dy
            if dd <= 0.0:
                continue
            half = -(ax * dx + ay * dy)
            root = half * half - dd * (ax * ax + ay * ay - reach * reach)
            if root <= 0.0:
                continue
            root = math.sqrt(root)
            t0, t1 = max((half - root) / dd, 0.0), min((half + root) / dd, 1.0)
            if t0 >= t1:
                continue
            kept[near, 0], kept[near, 1] = ax + t0 * dx, ay + t0 * dy
            kept[near, 2], kept[near, 3] = ax + t1 * dx, ay + t1 * dy
            kept[near, 4], kept[near, 5], kept[near, 6] = legs[s, 4], legs[s, 5], legs[s, 6]
            near += 1
        for r in range(len(asked) - 1):
            weakest[i, r] = np.inf
        for k in range(len(normal)):
            ne, nn = normal[k, 0], normal[k, 1]
            strongest[:] = 0.0
            for s in range(near):
                x0 = kept[s, 0] * ne + kept[s, 1] * nn
                x1 = kept[s, 2] * ne + kept[s, 3] * nn
                x = 0.0 if x0 * x1 <= 0.0 else min(abs(x0), abs(x1)) + kept[s, 6]
                if kept[s, 4] == 0.0 and kept[s, 5] == 0.0:
                    for j in range(n_all):
                        q = 1.0 / math.sqrt(x * x + all_below[j] * all_below[j])
                        strongest[j] = max(strongest[j], q)
                else:
                    facing = abs(kept[s, 4] * ne + kept[s, 5] * nn)
                    for j in range(n_all):
                        q = facing * all_below[j] / (x * x + all_below[j] * all_below[j])
                        strongest[j] = max(strongest[j], q)
            total = 0.0
            for j in range(n_below):
                if strongest[j] > 0.0:
                    total += weight[j] * 0.5 * math.erfc(-(level + math.log(strongest[j])) * scale)
            chance[i] += total / len(normal)
            signal[i, k] = strongest[n_below] * asked[0]
            for r in range(len(asked) - 1):
                weakest[i, r] = min(weakest[i, r], strongest[n_below + 1 + r])
