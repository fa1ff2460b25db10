"""The course of a solved line as paint follows it: where it is at any chainage, its band, its bends."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.handover.answer import faces_back
from plumbmark.model.estimate import LineEstimate

FLOATS = NDArray[np.float64]

BEND_DEG = 10.0  # less than this is the scatter of readings, not a change of direction
WIGGLE_M = 0.10


@dataclass(frozen=True, slots=True)
class Course:
    """Where a line runs: shape (k,), chainage along the estimated places.

    `low_m`, `high_m`: ends of the band, from the estimated place to the right of increasing chainage.
    `top_m`: shallow end of the band of depth, to the centre.
    """

    chainage_m: FLOATS
    easting_m: FLOATS
    northing_m: FLOATS
    low_m: FLOATS
    high_m: FLOATS
    top_m: FLOATS
    lone_deg: float | None

    def at(self, chainage_m: float) -> tuple[float, float]:
        """Easting and northing at a chainage."""
        return (
            float(np.interp(chainage_m, self.chainage_m, self.easting_m)),
            float(np.interp(chainage_m, self.chainage_m, self.northing_m)),
        )

    def band(self, chainage_m: float) -> tuple[float, float]:
        """Left and right end of the band at a chainage, from the estimated place."""
        low, high = (float(np.interp(chainage_m, self.chainage_m, v)) for v in (self.low_m, self.high_m))
        return low, high

    def shallow(self, chainage_m: float) -> float:
        """Shallow end of the band of depth at a chainage, to the centre."""
        return float(np.interp(chainage_m, self.chainage_m, self.top_m))

    def along_deg(self, chainage_m: float) -> float:
        """Bearing of the line at a chainage, toward larger chainage, over a metre to each side."""
        if self.lone_deg is not None:
            return self.lone_deg
        first, last = float(self.chainage_m[0]), float(self.chainage_m[-1])
        a, b = (self.at(min(max(chainage_m + d, first), last)) for d in (-1.0, 1.0))
        return math.degrees(math.atan2(b[0] - a[0], b[1] - a[1])) % 360.0

    def aside(self, chainage_m: float, right_m: float) -> tuple[float, float]:
        """A place to the right of the line at a chainage."""
        east, north = self.at(chainage_m)
        right = math.radians(self.along_deg(chainage_m) + 90.0)
        return east + right_m * math.sin(right), north + right_m * math.cos(right)

    def project(self, easting_m: float, northing_m: float) -> tuple[float, float]:
        """Chainage of the nearest place of the line, and the distance of a point to its right."""
        if len(self.chainage_m) == 1:
            east, north = easting_m - self.easting_m[0], northing_m - self.northing_m[0]
            right = math.radians((self.lone_deg or 0.0) + 90.0)
            return float(self.chainage_m[0]), float(east * math.sin(right) + north * math.cos(right))
        best = (math.inf, 0.0, 0.0)
        for k in range(len(self.chainage_m) - 1):
            run = np.array(
                [self.easting_m[k + 1] - self.easting_m[k], self.northing_m[k + 1] - self.northing_m[k]]
            )
            length = float(np.hypot(*run))
            if length == 0.0:
                continue
            ahead = run / length
            d = np.array([easting_m - self.easting_m[k], northing_m - self.northing_m[k]])
            on = min(max(float(d @ ahead), 0.0), length)
            away = float(np.hypot(*(d - on * ahead)))
            if away < best[0]:
                side = float(d[0] * ahead[1] - d[1] * ahead[0])
                gap = float(self.chainage_m[k + 1] - self.chainage_m[k])
                best = (away, float(self.chainage_m[k]) + gap * on / length, math.copysign(away, side))
        return best[1], best[2]


def course_of(line: LineEstimate) -> Course:
    """The course of a solved line, of one station at least."""
    stations = line.stations
    low, high = [], []
    for s, back in zip(stations, faces_back(line), strict=True):
        shift = s.lateral_shift_m
        a, b = shift.low - shift.value, shift.high - shift.value
        low.append(-b if back else a)
        high.append(-a if back else b)
    return Course(
        np.array([s.chainage_m for s in stations]),
        np.array([s.easting_m for s in stations]),
        np.array([s.northing_m for s in stations]),
        np.array(low),
        np.array(high),
        np.array([s.depth_m.low for s in stations]),
        (stations[0].right_deg - 90.0) % 360.0 if len(stations) == 1 else None,
    )


def bends_of(course: Course) -> list[int]:
    """Stations at which the line changes direction; the scatter of readings is no bend.

    The path is thinned first (Ramer, Douglas and Peucker): what stays within 10 cm, or half the band where
    that is wider, of a straight line is straight.
    """
    points = np.column_stack([course.easting_m, course.northing_m])
    half = 0.25 * float(np.median(course.high_m - course.low_m))
    kept = _kept(points, 0, len(points) - 1, max(WIGGLE_M, half))
    found = []
    for a, b, c in zip(kept, kept[1:], kept[2:], strict=False):
        into, out = points[b] - points[a], points[c] - points[b]
        turn = math.atan2(into[0] * out[1] - into[1] * out[0], float(into @ out))
        if abs(math.degrees(turn)) >= BEND_DEG:
            found.append(b)
    return found


def _kept(points: FLOATS, first: int, last: int, tolerance: float) -> list[int]:
    """Indices that a thinned path keeps, without recursion so that a long one does not exhaust the stack."""
    keep = {first, last}
    todo = [(first, last)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        run = points[b] - points[a]
        length = float(np.hypot(*run))
        inside = points[a + 1 : b] - points[a]
        if length > 0.0:
            away = np.abs(inside[:, 0] * run[1] - inside[:, 1] * run[0]) / length
        else:
            away = np.hypot(*inside.T)
        k = int(away.argmax())
        if away[k] > tolerance:
            keep.add(a + 1 + k)
            todo += [(a, a + 1 + k), (a + 1 + k, b)]
    return sorted(keep)
