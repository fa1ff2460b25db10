"""Rows that do not fit what lies around them, and what they probably were; put as a question."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.spoken import spoken_current, spoken_length
from plumbmark.inference.answer import Numbers
from plumbmark.inference.prepare import Prepared
from plumbmark.inference.stations import Station
from plumbmark.model.estimate import Interval

FLOATS = NDArray[np.float64]

#: What a crew's slip makes of a depth: wrong over right.
_DEPTH_SLIPS = (
    (10.0, "a decimal point"),
    (0.1, "a decimal point"),
    (3.2808, "feet written for metres"),
    (0.3048, "metres written for feet"),
    (12.0, "inches in a box for feet"),
    (1.0 / 12.0, "feet in a box for inches"),
    (3.4, "the receiver in sonde mode"),
)


def slip_named(factor: float) -> str | None:
    """What a crew's slip that makes a depth or a distance wrong by `factor` is called, or None."""
    return next((name for f, name in _DEPTH_SLIPS if abs(math.log(max(factor, 1e-9) / f)) < 0.15), None)


def likely_slip(
    s: Station,
    n: Numbers,
    i: int,
    depth: Interval,
    shift: tuple[float, float, float],
    ready: Prepared,
    units: str,
) -> str | None:
    """A question about the one cell of the row that fits worst, or None."""
    r = s.reading
    if r is None:
        return None
    d = ready.stretch
    out = _odd(d.ln_depth, i)
    if r.depth_m is not None and not math.isnan(out) and abs(out) > 0.2:
        typical = r.depth_m.value / math.exp(out)
        here, beside = spoken_length(r.depth_m.value, units), spoken_length(typical, units)
        name = slip_named(math.exp(out))
        return f"Depth {here} here, about {beside} on either side. A slip{f' ({name})' if name else ''}?"
    if r.current_a is not None and bool(n.doubted_current[i]):
        near = _around(d.ln_current, i)
        usual = spoken_current(math.exp(float(np.median(near)))) if near else ""
        beside = f"about {usual} on either side" if near else "alone"
        return f"{1e3 * r.current_a.value:.3g} mA here, {beside}. A slip, or another line?"
    if abs(shift[1]) > 0.35 and shift[0] * shift[2] > 0.0 and _alone_aside(ready, i):
        return (
            f"The mark lies {spoken_length(abs(shift[1]), units)} from where the marks around it "
            "put the line. Another line's peak, or a slip of place?"
        )
    if r.null_offset_m is not None and _flipped(d.gap, i):
        return "The null is on the other side than at the readings around it. Left written for right?"
    return None


def _around(values: FLOATS, i: int) -> list[float]:
    near = (*values[max(0, i - 3) : i], *values[i + 1 : i + 4])
    return [float(x) for x in near if not math.isnan(x)]


def _odd(values: FLOATS, i: int) -> float:
    """How far a cell is from the median of its neighbours; NaN where there are too few."""
    near = _around(values, i)
    here = float(values[i])
    if len(near) < 3 or math.isnan(here):
        return math.nan
    spread = float(np.median(np.abs(np.array(near) - np.median(near))))
    away = here - float(np.median(near))
    return away if abs(away) > 5.0 * spread + 0.12 else 0.0


def _flipped(gap: FLOATS, i: int) -> bool:
    near = _around(gap, i)
    here = float(gap[i])
    if len(near) < 3:
        return False
    middle = float(np.median(near))
    spread = float(np.median(np.abs(np.array(near) - middle)))
    return (
        here * middle < 0
        and abs(middle) > 0.10
        and abs(here + middle) < 2.5 * spread + 0.05
        and abs(here - middle) > 4.0 * spread + 0.1
    )


def _alone_aside(ready: Prepared, i: int) -> bool:
    across, leg = ready.stretch.across, ready.stretch.leg
    near = [
        float(across[j]) for j in range(max(0, i - 2), min(len(across), i + 3)) if j != i and leg[j] == leg[i]
    ]
    return len(near) >= 2 and abs(float(across[i]) - float(np.median(near))) > 0.3
