"""How fast the displayed current falls along a line: a straight line on the log axis, with its band."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.units import FOOT_M
from plumbmark.handover import words
from plumbmark.handover.screen_drawn import digits4, metres
from plumbmark.model.estimate import Interval, LineEstimate
from plumbmark.model.job import Job
from plumbmark.model.screen_along import CurrentSlope

FLOATS = NDArray[np.float64]

#: With fewer readings no rank test is sure 19 times in 20 that there is a slope at all.
FEWEST: Final = 5
#: Shorter than this a slope is all noise; judgement, no source.
_SHORTEST_M: Final = 5.0
NO_SLOPE: Final = (
    "How fast the current falls is not known: it takes five displayed currents or more under one hook-up, "
    "over 16 ft (5 m) or more without a step between them."
)
_DB: Final = 20.0 / math.log(10.0)


def slopes_of(job: Job, line: LineEstimate) -> tuple[CurrentSlope, ...]:
    """Slopes of the displayed current, for every hook-up and every stretch between changes of the current.

    Parameters
    ----------
    job : Job
    line : LineEstimate

    Returns
    -------
    tuple of CurrentSlope
        In the order of chainage; none where too few currents were written down.

    Notes
    -----
    The displayed currents are used, whose errors are separate from reading to reading, and not the solved
    ones, which have been smoothed along the line.
    """
    at = {s.id: s.chainage_m for s in line.stations if s.source == "reading"}
    cuts = [e.chainage_m for e in line.current_events if not between_hookups(job, line, e.chainage_m)]
    cuts += [0.5 * (at[a] + at[b]) for a, b in line.unsettled if a in at and b in at]
    groups: dict[tuple[str, int], list[tuple[float, float]]] = {}
    for r in job.readings:
        if r.line == line.line and r.id in at and r.current_a is not None and r.current_a.value > 0.0:
            piece = sum(at[r.id] > cut for cut in cuts)
            groups.setdefault((r.setup, piece), []).append((at[r.id], r.current_a.value))
    found = []
    for (setup, _), rows in groups.items():
        where, current = np.array(sorted(rows)).T
        if len(rows) >= FEWEST and float(np.ptp(where)) >= _SHORTEST_M:
            found.append(_slope(setup, where, current, job.display_units))
    return tuple(sorted(found, key=lambda s: s.from_m))


def between_hookups(job: Job, line: LineEstimate, chainage_m: float) -> bool:
    """Whether the readings next to a place of a line on its two sides were taken under different hook-ups."""
    setups = {r.id: r.setup for r in job.readings if r.line == line.line}
    at = [(s.chainage_m, setups[s.id]) for s in line.stations if s.id in setups]
    before = [q for q in at if q[0] <= chainage_m]
    after = [q for q in at if q[0] > chainage_m]
    return bool(before and after) and max(before)[1] != min(after)[1]


def _slope(setup: str, where: FLOATS, current: FLOATS, units: str) -> CurrentSlope:
    slope, low, high, level = middle_slope(where, _DB * np.log(current))
    fall = Interval(-100.0 * slope, -100.0 * high, -100.0 * low)
    ends = [1e3 * math.exp((level + slope * float(x)) / _DB) for x in (where[0], where[-1])]
    return CurrentSlope(
        setup=setup,
        from_m=metres(float(where[0])),
        to_m=metres(float(where[-1])),
        from_ma=digits4(ends[0]),
        to_ma=digits4(ends[1]),
        readings=len(where),
        fall_db_per_100_m=Interval(*(round(v, 2) + 0.0 for v in (fall.value, fall.low, fall.high))),
        words=_words(setup, where, fall, units),
    )


def middle_slope(x: FLOATS, y: FLOATS) -> tuple[float, float, float, float]:
    """The median of the slopes of all pairs, its band 19 times in 20, and the level at x = 0.

    A slip or two among the values moves neither by much.

    Parameters
    ----------
    x, y : array, shape (n,)

    Returns
    -------
    slope, low, high, level : float

    Notes
    -----
    Theil 1950; the band by Kendall's statistic with the normal law, Sen 1968, from memory. The errors of the
    values are taken to be separate from one another and alike.

    Examples
    --------
    >>> middle_slope(np.arange(6.0), np.array([0.0, 1.0, 2.0, 99.0, 4.0, 5.0]))[0]
    1.0
    """
    i, j = np.triu_indices(len(x), 1)
    apart = x[j] - x[i] > 0.0
    slopes = np.sort((y[j] - y[i])[apart] / (x[j] - x[i])[apart])
    n = len(x)
    reach = 1.96 * math.sqrt(n * (n - 1) * (2 * n + 5) / 18.0)
    first = max(round((len(slopes) - reach) / 2.0) - 1, 0)
    last = min(round((len(slopes) + reach) / 2.0), len(slopes) - 1)
    slope = float(np.median(slopes))
    return slope, float(slopes[first]), float(slopes[last]), float(np.median(y - slope * x))


def _words(setup: str, where: FLOATS, fall: Interval, units: str) -> str:
    per, unit = (100.0 * FOOT_M / 100.0, "100 ft") if units == "ft-in" else (1.0, "100 m")
    value, low, high = (per * v for v in (fall.value, fall.low, fall.high))
    under = f" under hook-up {setup}" if setup else ""
    span = f"From {words.along(where[0], units)} to {words.along(where[-1], units)} along{under}"
    count = f"by {len(where)} displayed currents"
    if low <= 0.0 <= high:
        return (
            f"{span} no fall or rise of the current is sure: {_db(low)} to {_db(high)} dB per {unit}, 19 "
            f"times in 20, {count} (positive is a fall toward larger chainage)."
        )
    way = "falls" if value > 0.0 else "rises"
    near, far = sorted((abs(low), abs(high)))
    return (
        f"{span} the current {way} by {_db(abs(value))} dB per {unit} ({_db(near)} to {_db(far)}, 19 times "
        f"in 20), {count}."
    )


def _db(value: float) -> str:
    return f"{value:.1f}" if abs(value) < 10.0 else f"{value:.0f}"
