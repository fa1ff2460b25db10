"""Routes: which place follows which along a line, chainage, and the direction of a route at its places.

Rows of a file may be out of order. Where the path in row order is over 1.3 times the shortest path
through the places, the shortest is taken. The shortest open path is searched exactly for up to eight
places, by insertion and uncrossing of a greedy path for up to some hundreds, and for more on a thinned
copy of the places, so that work stays near linear.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

SAME_PLACE_M: Final = 0.3
DETOUR: Final = 1.3
_EXACT: Final = 8
_THIN_ABOVE: Final = 400
_SWEEPS: Final = 30


@dataclass(frozen=True, slots=True)
class Route:
    """Rows along a line.

    Attributes
    ----------
    place : int array, shape (n,)
        For each row the number of its place, counted along the route.
    chainage_m : float array, shape (n,), [m]
        For each row; 0 at the end nearer the first row, equal for rows of one place.
    first_row : int array, shape (m,)
        For each place, along the route, the row that stands for it.
    reordered : bool
        Whether the rows were out of order, so that the shortest path was taken.
    """

    place: IntArray
    chainage_m: FloatArray
    first_row: IntArray
    reordered: bool


def lay_route(easting_m: ArrayLike, northing_m: ArrayLike) -> Route:
    """Order rows along their line and count chainage.

    Parameters
    ----------
    easting_m, northing_m : array_like, shape (n,), [m]
        Places in the order of their rows.

    Returns
    -------
    Route

    Examples
    --------
    Three places and one row that repeats the first within a hand:

    >>> route = lay_route([0.0, 4.0, 10.0, 0.1], [0.0, 0.0, 0.0, 0.0])
    >>> route.chainage_m.tolist(), route.reordered
    ([0.0, 4.0, 10.0, 0.0], False)
    """
    points = np.column_stack([np.asarray(easting_m, float).ravel(), np.asarray(northing_m, float).ravel()])
    leader, first_row = shared_places(points)
    places = points[first_row]
    order, reordered = _order(places)
    rank = np.empty(len(places), dtype=np.intp)
    rank[order] = np.arange(len(places))
    along = _cumulative(places[order])
    return Route(rank[leader], along[rank[leader]], first_row[order], reordered)


def shared_places(points: FloatArray) -> tuple[IntArray, IntArray]:
    """Gather rows within 0.3 m of the first row of a place into that place.

    Parameters
    ----------
    points : float array, shape (n, 2), [m]

    Returns
    -------
    place : int array, shape (n,)
        For each row the number of its place, in order of appearance.
    first_row : int array, shape (m,)
        For each place the row that stands for it.
    """
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    first_row: list[int] = []
    place = np.empty(len(points), dtype=np.intp)
    keys = np.floor(points / SAME_PLACE_M).astype(np.int64).tolist()
    coordinates = points.tolist()
    for row, ((i, j), (east, north)) in enumerate(zip(keys, coordinates, strict=True)):
        best, best_distance = -1, SAME_PLACE_M
        for cell in ((i + a, j + b) for a in (-1, 0, 1) for b in (-1, 0, 1)):
            for other in cells.get(cell, ()):
                at = coordinates[first_row[other]]
                distance = math.hypot(east - at[0], north - at[1])
                if distance <= best_distance:
                    best, best_distance = other, distance
        if best < 0:
            best = len(first_row)
            first_row.append(row)
            cells[i, j].append(best)
        place[row] = best
    return place, np.array(first_row, dtype=np.intp)


def leg_bearings(easting_m: ArrayLike, northing_m: ArrayLike) -> FloatArray:
    """Direction of increasing chainage at each place of a route; at a bend, of the mean of the two legs.

    Parameters
    ----------
    easting_m, northing_m : array_like, shape (n,), [m]
        Along the route, no two neighbours at one point.

    Returns
    -------
    bearing_deg : float array, shape (n,), [degrees]
        From grid north, 0 to 360. One place alone has 0.

    Examples
    --------
    >>> leg_bearings([0.0, 0.0, 5.0], [0.0, 5.0, 5.0]).tolist()
    [0.0, 45.0, 90.0]
    """
    points = np.column_stack([np.asarray(easting_m, float).ravel(), np.asarray(northing_m, float).ravel()])
    if len(points) < 2:
        return np.zeros(len(points))
    legs = np.diff(points, axis=0)
    legs /= np.maximum(np.hypot(*legs.T), 1e-300)[:, None]
    mean = np.vstack([legs[:1], legs[:-1] + legs[1:], legs[-1:]])
    turned_back = np.hypot(*mean.T) < 1e-9  # a leg straight back: the way it was walked
    mean[turned_back] = legs[np.flatnonzero(turned_back) - 1]
    bearing: FloatArray = np.degrees(np.arctan2(mean[:, 0], mean[:, 1])) % 360.0
    return bearing


def slot(path: Sequence[tuple[float, float]], place: tuple[float, float]) -> int:
    """Where along a path a further place goes that makes it least longer; the last of places alike.

    Parameters
    ----------
    path : sequence of (float, float), [m]
    place : (float, float), [m]

    Returns
    -------
    int
        How many places of the path come before it.

    Examples
    --------
    >>> slot([(0.0, 0.0), (4.0, 0.0), (8.0, 0.0)], (5.0, 0.0))
    2
    """
    if not path:
        return 0
    to = [math.dist(place, there) for there in path]
    between = [a + b - math.dist(*leg) for (a, b), leg in zip(pairwise(to), pairwise(path), strict=True)]
    grows = [to[0], *between, to[-1]]
    return max(k for k, by in enumerate(grows) if by <= min(grows) + 1e-9)


def path_length(points: FloatArray) -> float:
    """Length of the path through points, shape (n, 2), in their order [m]."""
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def shortest_path(points: FloatArray) -> IntArray:
    """Order of points along a short open path through all of them.

    Parameters
    ----------
    points : float array, shape (n, 2), [m]

    Returns
    -------
    order : int array, shape (n,)
        The shortest path for up to eight points, a path without crossings and misplaced points for more.
    """
    count = len(points)
    if count < 3:
        return np.arange(count)
    if count <= _EXACT:
        return _exact(points)
    if count <= _THIN_ABOVE:
        return _searched(points)
    return _thinned(points)


def _order(places: FloatArray) -> tuple[IntArray, bool]:
    """Row order, or the shortest path turned so that the first row is nearer its beginning."""
    as_rows = np.arange(len(places))
    if len(places) < 3:
        return as_rows, False
    length = path_length(places)
    if length <= DETOUR * _lower_bound(places):
        return as_rows, False
    order = shortest_path(places)
    if length <= DETOUR * path_length(places[order]):
        return as_rows, False
    along = _cumulative(places[order])
    first = along[np.flatnonzero(order == 0)[0]]
    return (order[::-1] if first > along[-1] - first else order), True


def _cumulative(points: FloatArray) -> FloatArray:
    steps = np.hypot(*np.diff(points, axis=0).T) if len(points) > 1 else np.zeros(0)
    return np.concatenate([np.zeros(min(1, len(points))), np.cumsum(steps)])


def _lower_bound(points: FloatArray) -> float:
    """No path through the points is shorter than the distance of the two that lie farthest apart, roughly."""
    far = points[np.hypot(*(points - points[0]).T).argmax()]
    return float(np.hypot(*(points - far).T).max())


def _distances(points: FloatArray) -> FloatArray:
    return np.asarray(np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1)))


def _exact(points: FloatArray) -> IntArray:
    """Dynamic programme over subsets (Held and Karp 1962)."""
    count, away = len(points), _distances(points).tolist()
    best = {(1 << i, i): (0.0, -1) for i in range(count)}
    for subset in range(1, 1 << count):
        for last in range(count):
            here = best.get((subset, last))
            if here is None:
                continue
            for to in range(count):
                key = (subset | 1 << to, to)
                length = here[0] + away[last][to]
                if not subset >> to & 1 and length < best.get(key, (math.inf, -1))[0]:
                    best[key] = (length, last)
    subset = (1 << count) - 1
    last = min(range(count), key=lambda i: best[subset, i][0])
    order = []
    while last >= 0:
        order.append(last)
        subset, last = subset ^ 1 << last, best[subset, last][1]
    return np.array(order, dtype=np.intp)


def _searched(points: FloatArray) -> IntArray:
    """The best of greedy paths from the far ends, improved until nothing more is found."""
    away = _distances(points)
    end = int(away[0].argmax())
    far = int(away[end].argmax())
    corner = int((away[end] + away[far]).argmax())
    tries = [_improved(_greedy(away, start), away) for start in dict.fromkeys((end, far, corner, 0))]
    return min(tries, key=lambda order: path_length(points[order]))


def _greedy(away: FloatArray, start: int) -> IntArray:
    left = np.ones(len(away), dtype=bool)
    order = [start]
    left[start] = False
    for _ in range(len(away) - 1):
        order.append(int(np.where(left, away[order[-1]], np.inf).argmin()))
        left[order[-1]] = False
    return np.array(order, dtype=np.intp)


def _improved(order: IntArray, away: FloatArray) -> IntArray:
    """Turn stretches round, and move short ones elsewhere, while the path gets shorter."""
    for _ in range(_SWEEPS):
        shorter = _uncrossed(order, away)
        shorter = _reinserted(shorter, away)
        if np.array_equal(shorter, order):
            break
        order = shorter
    return order


def _uncrossed(order: IntArray, away: FloatArray) -> IntArray:
    """One sweep of 2-opt on the open path; an end counts as joined to nothing at no cost."""
    count = len(order)
    for i in range(count - 1):
        before = away[order[i - 1]] if i else np.zeros(count)
        ends = order[i + 1 :]
        after = np.append(order[i + 2 :], -1)
        tail_old = np.where(after >= 0, away[ends, after], 0.0)
        tail_new = np.where(after >= 0, away[order[i], after], 0.0)
        gain = before[order[i]] + tail_old - before[ends] - tail_new
        j = int(gain.argmax())
        if gain[j] > 1e-9:
            order = np.concatenate([order[:i], order[i : i + j + 2][::-1], order[i + j + 2 :]])
    return order


def _reinserted(order: IntArray, away: FloatArray) -> IntArray:
    """One sweep that moves each stretch of one to three points to where it costs least."""
    for length in (1, 2, 3):
        for i in range(len(order) - length + 1):
            piece = order[i : i + length]
            rest = np.concatenate([order[:i], order[i + length :]])
            if not rest.size:
                continue
            head = away[rest, piece[0]]
            tail = away[rest, piece[-1]]
            link = away[rest[:-1], rest[1:]]
            cost = np.concatenate([[tail[0]], head[:-1] + tail[1:] - link, [head[-1]]])
            turned = np.concatenate([[head[0]], tail[:-1] + head[1:] - link, [tail[-1]]])
            now = float(cost[i])
            k, flip = int(cost.argmin()), False
            if turned.min() < cost[k]:
                k, flip = int(turned.argmin()), True
            if (turned if flip else cost)[k] < now - 1e-9:
                order = np.concatenate([rest[:k], piece[::-1] if flip else piece, rest[k:]])
    return order


def _thinned(points: FloatArray) -> IntArray:
    """Search on the middles of occupied cells; inside a cell, order along the path through them."""
    span = float(np.ptp(points, axis=0).max())
    size = max(SAME_PLACE_M, span / _THIN_ABOVE)
    while True:
        cell = np.floor((points - points.min(axis=0)) / size).astype(np.int64)
        _, inverse = np.unique(cell, axis=0, return_inverse=True)
        inverse = inverse.reshape(-1)
        cells = int(inverse.max()) + 1
        if cells <= _THIN_ABOVE:
            break
        size *= 1.5
    weight = np.bincount(inverse)
    middle = np.column_stack([np.bincount(inverse, points[:, k]) / weight for k in (0, 1)])
    order = _searched(middle) if cells > 2 else np.arange(cells)
    rank = np.empty(cells, dtype=np.intp)
    rank[order] = np.arange(cells)
    direction = _cell_directions(middle, order, points)
    along = ((points - middle[inverse]) * direction[inverse]).sum(axis=1)
    return np.asarray(np.lexsort((along, rank[inverse])))


def _cell_directions(middle: FloatArray, order: IntArray, points: FloatArray) -> FloatArray:
    """Unit vector of the path at each cell; the points' own main direction where there is one cell."""
    direction = np.empty_like(middle)
    if len(middle) == 1:
        _, _, axes = np.linalg.svd(points - middle[0], full_matrices=False)
        direction[0] = axes[0]
        return direction
    path = middle[order]
    run = np.vstack([path[1:2] - path[:1], path[2:] - path[:-2], path[-1:] - path[-2:-1]])
    direction[order] = run / np.maximum(np.hypot(*run.T), 1e-12)[:, None]
    return direction
