"""Straight legs of a route: where it bends sharply, and where each place lies across its leg."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

FLOATS = NDArray[np.float64]
INTS = NDArray[np.int64]

SCALE_M = 0.10  # marks scatter by about this about a straight leg; more is let go as a slip
SHARP_DEG = 12.0  # a gentler turn is followed by the smooth state
WORTH = 14.0  # fall of the robust misfit that a bend must bring (a wrong mark alone brings less)
FEWEST = 2  # places of a leg
MOST_TRIED = 60  # places tried for a bend, so that long stretches stay cheap


@dataclass(frozen=True, slots=True)
class Legs:
    """Leg number, place across the leg (right positive) [m], leg direction [rad], and distance along the
    route to the nearest sharp bend [m], each of shape (n,).
    """

    leg: INTS
    across: FLOATS
    direction: FLOATS
    to_bend: FLOATS


def _fit(points: FLOATS) -> tuple[FLOATS, FLOATS, float]:
    """Robust straight line through points in order: a point, a unit vector, and the misfit."""
    weights = np.ones(len(points))
    centre = points.mean(axis=0)
    unit = points[-1] - points[0]
    unit = unit / max(float(np.hypot(*unit)), 1e-9)
    for turn in range(12 if len(points) > 2 else 1):
        if turn:
            centre = (weights[:, None] * points).sum(axis=0) / weights.sum()
            d = points - centre
            xx = (weights * d[:, 0] ** 2).sum()
            yy = (weights * d[:, 1] ** 2).sum()
            xy = (weights * d[:, 0] * d[:, 1]).sum()
            angle = 0.5 * math.atan2(2.0 * xy, xx - yy)
            new = np.array([math.cos(angle), math.sin(angle)])
            unit = new if float(new @ unit) >= 0.0 else -new
        e = (points - centre) @ np.array([unit[1], -unit[0]])
        weights = 1.0 / (1.0 + (e / SCALE_M) ** 2)
    return centre, unit, float(np.log1p((e / SCALE_M) ** 2).sum())


def _split(points: FLOATS, first: int, last: int, cuts: list[int]) -> None:
    """Cut points[first:last] where two straight legs fit clearly better than one; recursive."""
    n = last - first
    if n < 2 * FEWEST + 1:
        return
    _c, _u, whole = _fit(points[first:last])
    if whole < WORTH:
        return
    best, where = whole - WORTH, -1
    for k in range(first + FEWEST, last - FEWEST + 1, max(1, n // MOST_TRIED)):
        _c1, u1, m1 = _fit(points[first:k])
        if m1 >= best:
            continue
        _c2, u2, m2 = _fit(points[k:last])
        turn = math.degrees(math.acos(min(max(float(u1 @ u2), -1.0), 1.0)))
        if m1 + m2 < best and turn > SHARP_DEG:
            best, where = m1 + m2, k
    if where >= 0:
        _split(points, first, where, cuts)
        cuts.append(where)
        _split(points, where, last, cuts)


def lay_legs(points: FLOATS, chainage: FLOATS) -> Legs:
    """Divide places, in order along their route, into straight legs.

    Parameters
    ----------
    points : shape (n, 2), [m]
        Easting and northing.
    chainage : shape (n,), [m], not decreasing
    """
    n = len(points)
    cuts: list[int] = []
    _split(points, 0, n, cuts)
    edges = [0, *cuts, n]
    leg = np.zeros(n, dtype=np.int64)
    across = np.zeros(n)
    direction = np.zeros(n)
    lines = []
    for number, (a, b) in enumerate(pairwise(edges)):
        centre, unit, _misfit = _fit(points[a:b])
        lines.append((centre, unit))
        leg[a:b] = number
        across[a:b] = (points[a:b] - centre) @ np.array([unit[1], -unit[0]])
        direction[a:b] = math.atan2(unit[0], unit[1])
    to_bend = np.full(n, np.inf)
    for number, cut in enumerate(cuts):
        (c1, u1), (c2, u2) = lines[number], lines[number + 1]
        det = u1[0] * -u2[1] + u2[0] * u1[1]
        corner = 0.5 * (points[cut - 1] + points[cut])
        if abs(det) > 0.05:
            d = c2 - c1
            along = (d[0] * -u2[1] + u2[0] * d[1]) / det
            corner = c1 + along * u1
        to_bend = np.minimum(to_bend, np.hypot(*(points - corner).T))
    return Legs(leg, across, direction, to_bend)
