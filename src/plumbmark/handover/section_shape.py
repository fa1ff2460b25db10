"""A section across a line in metres: what lies beside it there, and the oval that the line lies in."""

from __future__ import annotations

import math
from typing import Final

from plumbmark.handover import answer
from plumbmark.model.estimate import Interval, LineEstimate, Neighbour
from plumbmark.model.screen_drawn import Point

#: By so much an oval through the ends of two bands has to grow to hold both at once as often as each of them
#: holds alone: square root of the 0.95 quantile of chi-square with two degrees of freedom over that with one
#: (5.991 and 3.841, any table), for two normal quantities that have nothing to do with each other. Where they
#: go together it holds more: 96 in 100 and more of joint samples of the examples (bench/bench_screens.py).
BOTH_AT_ONCE: Final = 1.249
_POINTS: Final = 48


def oval(shift: Interval, depth: Interval, reach: float = 1.0) -> list[Point]:
    """A band to the sides and one of depth as an oval: through their four ends, or `reach` times as far.

    Parameters
    ----------
    shift, depth : Interval, [m]
        To the right of the mark; down from the ground.
    reach : float
        `BOTH_AT_ONCE` for an oval that holds both 19 times in 20.

    Returns
    -------
    list of Point
        Metres to the right and down, clockwise from the right end; never above the ground.

    Examples
    --------
    >>> [(round(x, 2), round(y, 2)) for x, y in oval(Interval(1, 0.9, 1.2), Interval(1, 0.9, 1.4))[::12]]
    [(1.2, 1.0), (1.0, 1.4), (0.9, 1.0), (1.0, 0.9)]
    """
    points = []
    for k in range(_POINTS):
        c, s = math.cos(k * math.tau / _POINTS), math.sin(k * math.tau / _POINTS)
        aside = shift.value + reach * (shift.high - shift.value if c > 0 else shift.value - shift.low) * c
        below = depth.value + reach * (depth.high - depth.value if s > 0 else depth.value - depth.low) * s
        points.append((aside, max(below, 0.0)))
    return points


def neighbours_at(line: LineEstimate, chainage_m: float) -> list[Neighbour]:
    """Second lines that run beside a line at a chainage."""
    return [n for n in line.neighbours if n.from_chainage_m - 0.01 <= chainage_m <= n.to_chainage_m + 0.01]


def from_mark(offset: Interval, shift_m: float, *, back: bool) -> Interval:
    """An offset to the right of increasing chainage, counted from the mark to the row's own right."""
    if back:
        return Interval(shift_m - offset.value, shift_m - offset.high, shift_m - offset.low)
    return Interval(shift_m + offset.value, shift_m + offset.low, shift_m + offset.high)


def abreast(easting_m: float, northing_m: float, line: LineEstimate) -> float:
    """Chainage of the point of a line abreast of a place: stepped on from the nearest station."""

    def away(i: int) -> float:
        s = line.stations[i]
        return math.hypot(s.easting_m - easting_m, s.northing_m - northing_m)

    i = min(range(len(line.stations)), key=away)
    near, ahead = line.stations[i], math.radians(answer.right_of_travel(line)[i] - 90.0)
    east, north = easting_m - near.easting_m, northing_m - near.northing_m
    return near.chainage_m + east * math.sin(ahead) + north * math.cos(ahead)
