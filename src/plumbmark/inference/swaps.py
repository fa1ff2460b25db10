"""Lines swapped between two readings: the marks step sideways there and go on beside where they were.

A crew that follows the peak past a place where two lines run close, or past a bond, may leave it on the
other line. What follows fits that one perfectly, so no band shows it; the step of the marks does.
`inference.swap` is another thing: a move of the sampler.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import priors as p
from plumbmark.inference.stations import Station
from plumbmark.model.estimate import Neighbour

FLOATS = NDArray[np.float64]

FEWEST = 2  # readings on each side, so that one mark beside the others is no swap
REACHES = (3, 5)  # readings looked at on each side: few see a step back soon after, more see a small one
LEAST_M = 0.35  # nearer lines are not told apart by the marks on them
TURN_DEG = 12.0  # a line that changes its heading by more has bent
CHANGED = 0.12  # of ln depth or ln current: more than noise and a few paces make
#: Fall of chi-square that a step must bring over a straight or once bent course, where depth or current
#: change with it; where they were read on both sides and stay as they were; where they were not read.
#: Set by counting on invented sites (bench/bench_swaps.py).
WORTH, WORTH_UNCHANGED, WORTH_UNREAD = 12.0, 30.0, 20.0
SCATTER = math.exp(p.SCATTER_LOG_SIGMA)  # marks are as bad as those of a poor crew
NEAR_M = 0.35  # a step lands on another line where it lands within this of its marks


@dataclass(frozen=True, slots=True)
class Swapped:
    """A place where the crew may have gone over to another line: between two stations that follow each other.

    `step_m` is positive to the right of the route; depths [m] and currents [A] are what the display showed
    before and after, None where it showed none on one side.
    """

    before: Station
    after: Station
    step_m: float
    depths_m: tuple[float, float] | None
    currents_a: tuple[float, float] | None


def swaps_of(stations: list[Station]) -> tuple[Swapped, ...]:
    """Places where the marks of one line step sideways and stay there, in the order of the route.

    Parameters
    ----------
    stations : list of Station
        Of one line, in the order of its route. Test holes and readings from the side set no marks.

    Returns
    -------
    tuple of Swapped

    Notes
    -----
    Around each gap between two marks four courses are fitted by generalised least squares under the scatter
    of marks and a line's own wandering: straight, straight with one bend anywhere, straight with a step at
    the gap, and that with a bend there. A step is called where it beats both courses without one and brings
    hardly a change of heading. Judgement, no source.
    """
    marked = [s for s in stations if s.reading is not None and not s.repeat_of]
    if len(marked) < 2 * FEWEST:
        return ()
    points = np.array([(s.place.easting_m, s.place.northing_m) for s in marked])
    found: list[Swapped] = []
    _search(marked, points, _stepping(points), 0, len(marked), found)
    return tuple(sorted(found, key=lambda q: q.before.chainage_m))


def lands_on(q: Swapped, marks: Mapping[str, FLOATS], neighbours: Sequence[Neighbour]) -> str | None:
    """What lies where a step lands: the id of a line of the job, "" for a second line, or None.

    Parameters
    ----------
    q : Swapped
    marks : mapping of line id to its marks, shape (n, 2), [m]
        The other lines of the job.
    neighbours : sequence of Neighbour
        What the readings of this line speak for.
    """
    here = np.array([q.after.place.easting_m, q.after.place.northing_m])
    near = {name: _distance(here, points) for name, points in marks.items() if len(points) > 1}
    best = min(near, key=lambda name: near[name], default=None)
    if best is not None and near[best] < NEAR_M:
        return best
    for second in neighbours:
        reach = max(NEAR_M, 0.5 * (second.offset_m.high - second.offset_m.low))
        along = second.from_chainage_m <= q.before.chainage_m <= second.to_chainage_m
        # from before the step it lies where the step lands, from after it where the step came from
        if along and abs(abs(q.step_m) - abs(second.offset_m.value)) < reach:
            return second.is_line or ""
    return None


def _distance(here: FLOATS, path: FLOATS) -> float:
    """From a point to a path [m]."""
    legs = np.diff(path, axis=0)
    run = np.einsum("ij,ij->i", here - path[:-1], legs) / np.maximum(np.sum(legs**2, axis=1), 1e-12)
    feet = path[:-1] + np.clip(run, 0.0, 1.0)[:, None] * legs
    return float(np.hypot(*(feet - here).T).min())


def seen_throughout(swaps: Sequence[Swapped], stations: Sequence[Station]) -> bool:
    """Whether the line was exposed on every side of every step: then both are known for what they are."""
    seen = [s.chainage_m for s in stations if s.hole is not None and s.hole.found]
    steps = [0.5 * (q.before.chainage_m + q.after.chainage_m) for q in swaps]
    edges = [-math.inf, *sorted(steps), math.inf]
    return all(any(a < c < b for c in seen) for a, b in pairwise(edges))


def _stepping(points: FLOATS) -> NDArray[np.bool_]:
    """Gaps, shape (n - 1,), across which the marks step at all: the few that are worth fits."""
    legs = np.diff(points, axis=0)
    aside = np.zeros(len(legs))
    ahead = legs[:-2] + legs[2:]
    length = np.maximum(np.hypot(*ahead.T), 1e-9)
    aside[1:-1] = np.abs(legs[1:-1, 0] * ahead[:, 1] - legs[1:-1, 1] * ahead[:, 0]) / length
    return np.asarray(aside > 0.6 * LEAST_M)


def _search(
    marked: list[Station],
    points: FLOATS,
    stepping: NDArray[np.bool_],
    first: int,
    last: int,
    found: list[Swapped],
) -> None:
    """The best step among marks `first` to `last`, then those on either side of it."""
    best, where, swap = 0.0, -1, None
    for k in range(first + FEWEST - 1, last - FEWEST):
        if not stepping[k]:
            continue
        for reach in REACHES:
            a, b = max(first, k + 1 - reach), min(last, k + 1 + reach)
            worth, one = _weigh(marked[a:b], points[a:b], k - a)
            if one is not None and worth > best:
                best, where, swap = worth, k, one
    if swap is not None:
        found.append(swap)
        _search(marked, points, stepping, first, where + 1, found)
        _search(marked, points, stepping, where + 1, last, found)


def _weigh(marked: list[Station], points: FLOATS, k: int) -> tuple[float, Swapped | None]:
    """What a step between marks `k` and `k + 1` is worth over what it must be, and the swap if above 1."""
    ahead = points[k] - points[0] + points[-1] - points[k + 1]
    length = float(np.hypot(*ahead))
    if length < 1.0:
        return 0.0, None
    unit = ahead / length
    at, aside = points @ unit, points @ np.array([unit[1], -unit[0]])
    at = at - at[0]
    if np.any(np.diff(at) < 0.05):
        return 0.0, None
    root = np.asarray(np.linalg.cholesky(_covariance(marked, at)), dtype=np.float64)
    after = (np.arange(len(at)) > k).astype(np.float64)
    straight = [np.ones_like(at), at]
    corner = 0.5 * (at[k] + at[k + 1])
    bends = [np.maximum(at - c, 0.0) for c in np.concatenate([at[1:-1], 0.5 * (at[1:] + at[:-1])])]
    without = min(_misfit(root, aside, [*straight, *more])[0] for more in ([], *([b] for b in bends)))
    stepped, (_a, _b, step) = _misfit(root, aside, [*straight, after])
    _both, (*_, turn) = _misfit(root, aside, [*straight, after, np.maximum(at - corner, 0.0)])
    if abs(step) < LEAST_M or abs(turn) > math.tan(math.radians(TURN_DEG)):
        return 0.0, None
    scale = max(stepped / max(len(at) - 3, 1), 1.0)  # a course that fits nowhere proves nothing
    depths = _either_side([_shown_depth(s) for s in marked], k)
    currents = _either_side([_shown_current(s) for s in marked], k)
    changes = [abs(math.log(y / x)) for x, y in (q for q in (depths, currents) if q)]
    need = WORTH_UNREAD if not changes else WORTH if max(changes) > CHANGED else WORTH_UNCHANGED
    worth = (without - stepped) / scale / need
    swap = Swapped(marked[k], marked[k + 1], float(step), depths, currents)
    return worth, swap if worth > 1.0 else None


def _covariance(marked: list[Station], at: FLOATS) -> FLOATS:
    """Of marks about a straight course: their scatter, and a heading that walks at random along it."""
    low, high = np.minimum.outer(at, at), np.maximum.outer(at, at)
    wander = p.KINK_SIGMA**2 * low**2 * (0.5 * high - low / 6.0)
    deep = np.array([_shown_depth(s) or p.DEPTH_MEDIAN_M for s in marked])
    fix = np.array([p.FIX_SIGMA_M if s.place.sigma_m is None else s.place.sigma_m for s in marked])
    peak = SCATTER * (p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * np.minimum(deep, 6.0))
    return np.asarray(wander + np.diag(peak**2 + fix**2))


def _misfit(root: FLOATS, aside: FLOATS, columns: list[FLOATS]) -> tuple[float, FLOATS]:
    """Chi-square of the best course made of `columns`, and its coefficients."""
    white = np.linalg.solve(root, np.column_stack([*columns, aside]))
    best = np.linalg.lstsq(white[:, :-1], white[:, -1], rcond=None)[0]
    rest = white[:, -1] - white[:, :-1] @ best
    return float(rest @ rest), best


def _shown_depth(s: Station) -> float | None:
    r = s.in_line_mode or s.reading
    return None if r is None or r.depth_m is None or r.depth_m.value <= 0.0 else r.depth_m.value


def _shown_current(s: Station) -> float | None:
    r = s.reading
    return None if r is None or r.current_a is None or r.current_a.value <= 0.0 else r.current_a.value


def _either_side(values: list[float | None], k: int) -> tuple[float, float] | None:
    """Median of the three nearest on each side of the gap after `k`, or None where one side has none."""
    before = [v for v in values[max(k - 2, 0) : k + 1] if v is not None]
    after = [v for v in values[k + 1 : k + 4] if v is not None]
    return (float(np.median(before)), float(np.median(after))) if before and after else None
