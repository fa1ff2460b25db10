"""How fast the current falls along a line: a straight line on the log axis, with its band."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.units import FOOT_M
from plumbmark.handover import words
from plumbmark.handover.screen_drawn import digits4, metres
from plumbmark.model.estimate import Interval, LineEstimate, StationEstimate
from plumbmark.model.job import Job
from plumbmark.model.screen_along import CurrentSlope

FLOATS = NDArray[np.float64]

#: With fewer readings no rank test is sure 19 times in 20 that there is a slope at all.
FEWEST: Final = 5
#: Shorter than this a slope is all noise; judgement, no source.
_SHORTEST_M: Final = 5.0
NO_SLOPE: Final = (
    "How fast the current falls is not known: it takes five readings or more with a current under one "
    "hook-up, over 16 ft (5 m) or more without a step between them."
)
_DB: Final = 20.0 / math.log(10.0)


def slopes_of(job: Job, line: LineEstimate) -> tuple[CurrentSlope, ...]:
    """Slopes of the current, for every hook-up and every stretch between changes of the current.

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
    The slope is that of the computed currents at the readings that have one. They are smoothed along the
    line, so that their scatter alone would make the band far too narrow; half of the band is therefore the
    root of two squares: that of the scatter, and that of a fit to places each of which errs by its own band.
    Held against invented sites by bench/bench_slope.py. Displayed currents alone do not do: beside a second
    line they held half of the time.
    """
    readings = {r.id: r for r in job.readings if r.line == line.line and r.current_a is not None}
    read = [s for s in line.stations if s.source == "reading" and s.id in readings and s.current_a.low > 0.0]
    at = {s.id: s.chainage_m for s in line.stations}
    swaps = [0.5 * (at[a] + at[b]) for a, b in line.unsettled if a in at and b in at]
    groups: dict[tuple[str, int], list[StationEstimate]] = {}
    for s in read:
        setup = readings[s.id].setup
        steps = [e.chainage_m for e in line.current_events if e.setup in ("", setup)]
        piece = sum(s.chainage_m > cut for cut in (*swaps, *steps))
        groups.setdefault((setup, piece), []).append(s)
    found = []
    for (setup, _), places in groups.items():
        where = np.array([s.chainage_m for s in places])
        if len(places) >= FEWEST and float(np.ptp(where)) >= _SHORTEST_M:
            found.append(_slope(setup, where, [s.current_a for s in places], job.display_units))
    return tuple(sorted(found, key=lambda s: s.from_m))


def _slope(setup: str, where: FLOATS, currents: list[Interval], units: str) -> CurrentSlope:
    slope, low, high, level = middle_slope(where, _DB * np.log([c.value for c in currents]))
    own = float(np.median([_DB * math.log(c.high / c.low) / 2.0 for c in currents]))
    half = math.hypot(0.5 * (high - low), own / math.sqrt(float(((where - where.mean()) ** 2).sum())))
    fall = Interval(-100.0 * slope, -100.0 * (slope + half), -100.0 * (slope - half))
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
    count = f"by {len(where)} readings"
    if low <= 0.0 <= high:
        return (
            f"{span} no fall or rise of the current is sure: {_db(low)} to {_db(high)} dB per {unit}, 19 "
            f"times in 20, {count} (positive is a fall toward larger chainage)."
        )
    way = "falls" if value > 0.0 else "rises"
    near, far = sorted((abs(low), abs(high)))
    toward = "" if value > 0.0 else " It falls away from where it is put on."
    return (
        f"{span} the current {way} by {_db(abs(value))} dB per {unit} ({_db(near)} to {_db(far)}, 19 times "
        f"in 20), {count}.{toward}"
    )


def _db(value: float) -> str:
    return f"{round(value, 1) + 0.0:.1f}" if abs(value) < 10.0 else f"{value:.0f}"
