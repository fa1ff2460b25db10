"""What a receiver shows on a walked path, by the definitions of the job format, found by search.

Every quantity is looked for on the field itself: a dense row of points, then ever finer rows about
the find. Nothing here knows about noise; `crew` adds it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbmark.practice.field import MU0, Complexes, Floats
from plumbmark.practice.world import Walk

STEP_M = 0.1
REACH_M = 6.0


@dataclass(frozen=True)
class Instrument:
    """A receiver. `ratio_error` is common to all its depths: of upper over lower coil."""

    lower_m: float
    spacing_m: float
    least_null: bool
    ratio_error: float = 0.0
    tilt: float = 0.0


@dataclass(frozen=True)
class Sweep:
    """The dense row of points of one path at the lower coil, seen by tilted coils."""

    path: Walk
    instrument: Instrument
    offsets_m: Floats
    across: Complexes
    upright: Complexes


def seen(
    path: Walk, instrument: Instrument, offsets_m: Floats, height_m: float
) -> tuple[Complexes, Complexes]:
    """Field in the coils of a receiver leaning by its tilt toward increasing offset [T]."""
    across, upright = path.field(offsets_m, height_m)
    c, s = math.cos(instrument.tilt), math.sin(instrument.tilt)
    return across * c - upright * s, upright * c + across * s


def sweep(path: Walk, instrument: Instrument) -> Sweep:
    """Walk the whole path once."""
    offsets = np.arange(-REACH_M, REACH_M + STEP_M / 2, STEP_M)
    return Sweep(path, instrument, offsets, *seen(path, instrument, offsets, instrument.lower_m))


def _refine(swept: Sweep, offset_m: float, score: int) -> float:
    """Offset of the local greatest |across| (score 0) or least |upright| (score 1) near an offset."""
    step = STEP_M
    for _ in range(3):
        row = offset_m + np.linspace(-step, step, 17)
        across, upright = seen(swept.path, swept.instrument, row, swept.instrument.lower_m)
        value = np.abs(across) if score == 0 else -np.abs(upright)
        offset_m = float(row[int(np.argmax(value))])
        step /= 8
    return offset_m


def peaks(swept: Sweep) -> tuple[Floats, Floats]:
    """Offsets [m] and amplitudes [T] of the local greatest horizontal signals of a path, roughly."""
    a = np.abs(swept.across)
    k = np.flatnonzero((a[1:-1] >= a[:-2]) & (a[1:-1] > a[2:])) + 1
    return swept.offsets_m[k], a[k]


def find_peak(swept: Sweep, window_m: float, follow_m: float | None = None) -> float:
    """Offset of the peak the crew settles on [m].

    The greatest within `window_m` of offset 0; or, where `follow_m` is given, the one nearest to it
    (the peak being followed from the last mark).
    """
    offsets, heights = peaks(swept)
    inside = np.abs(offsets) <= window_m
    if offsets.size == 0:
        return 0.0
    if follow_m is not None:
        return _refine(swept, float(offsets[np.argmin(np.abs(offsets - follow_m))]), 0)
    if not inside.any():
        return _refine(swept, float(offsets[np.argmin(np.abs(offsets))]), 0)
    return _refine(swept, float(offsets[inside][np.argmax(heights[inside])]), 0)


def find_null(swept: Sweep, mark_m: float) -> float | None:
    """Offset of the null nearest the mark, by the receiver's kind of null [m]; None if there is none."""
    if swept.instrument.least_null:
        v = np.abs(swept.upright)
        k = np.flatnonzero((v[1:-1] <= v[:-2]) & (v[1:-1] < v[2:])) + 1
        if k.size == 0:
            return None
        return _refine(swept, float(swept.offsets_m[k][np.argmin(np.abs(swept.offsets_m[k] - mark_m))]), 1)
    part = np.real(swept.upright * np.conj(swept.across))
    k = np.flatnonzero(np.sign(part[:-1]) * np.sign(part[1:]) < 0)
    if k.size == 0:
        return None
    # between the points beside the mark first: the nearest crossing
    low = float(swept.offsets_m[k][np.argmin(np.abs(swept.offsets_m[k] + STEP_M / 2 - mark_m))])
    return _crossing(swept, low, low + STEP_M)


def _crossing(swept: Sweep, low: float, high: float) -> float:
    for _ in range(3):
        row = np.linspace(low, high, 9)
        across, upright = seen(swept.path, swept.instrument, row, swept.instrument.lower_m)
        part = np.real(upright * np.conj(across))
        k = np.flatnonzero(np.sign(part[:-1]) * np.sign(part[1:]) <= 0)
        if k.size == 0:
            break
        low, high = float(row[k[0]]), float(row[k[0] + 1])
    return 0.5 * (low + high)


def find_half(swept: Sweep, mark_m: float, side: int) -> float | None:
    """Distance from the mark to where the horizontal signal falls to half, to the `side` (+1 right)."""
    at = float(abs(seen(swept.path, swept.instrument, np.array([mark_m]), swept.instrument.lower_m)[0][0]))
    order = np.argsort(side * swept.offsets_m)
    offsets, a = swept.offsets_m[order], np.abs(swept.across)[order]
    for k in np.flatnonzero(side * (offsets - mark_m) > 0):
        if a[k] <= 0.5 * at:
            outer = float(offsets[k])
            inner = mark_m if k == 0 or side * (offsets[k - 1] - mark_m) < 0 else float(offsets[k - 1])
            row = np.linspace(inner, outer, 41)
            fine = np.abs(seen(swept.path, swept.instrument, row, swept.instrument.lower_m)[0])
            return abs(float(row[int(np.argmax(fine <= 0.5 * at))]) - mark_m)
    return None


def show_depth(swept: Sweep, mark_m: float, raised_m: float = 0.0) -> float | None:
    """Depth displayed at the mark [m], counted from the foot; None where the display withholds it."""
    tool = swept.instrument
    at = np.array([mark_m])
    low = float(abs(seen(swept.path, tool, at, raised_m + tool.lower_m)[0][0]))
    top = float(abs(seen(swept.path, tool, at, raised_m + tool.lower_m + tool.spacing_m)[0][0]))
    top *= 1 + tool.ratio_error
    if low <= 1.02 * top:
        return None
    depth = tool.spacing_m * top / (low - top) - tool.lower_m
    return depth if 0.02 < depth < 8.0 else None


def show_current(swept: Sweep, mark_m: float, depth_m: float) -> float:
    """Current displayed with a displayed depth [A]."""
    tool = swept.instrument
    low = float(abs(seen(swept.path, tool, np.array([mark_m]), tool.lower_m)[0][0]))
    return low * (depth_m + tool.lower_m) * 2 * math.pi / MU0


def show_from_beside(path: Walk, instrument: Instrument) -> tuple[float, float] | None:
    """Distance and depth displayed by a receiver standing at offset 0 and facing along the path [m].

    Direction from the fields at the lower coil, range from the ratio of the total fields at the two:
    `q**2 = (R**2 + 2 s R cos(angle) + s**2) / R**2`. None where the fields do not fall upward.
    """
    zero = np.zeros(1)
    across, upright = seen(path, instrument, zero, instrument.lower_m)
    across2, upright2 = seen(path, instrument, zero, instrument.lower_m + instrument.spacing_m)
    angle = math.atan2(abs(upright[0]), abs(across[0]))
    low = math.hypot(abs(across[0]), abs(upright[0]))
    top = math.hypot(abs(across2[0]), abs(upright2[0])) * (1 + instrument.ratio_error)
    q2 = (low / top) ** 2 - 1
    if q2 <= 1e-4:
        return None
    b = instrument.spacing_m * math.cos(angle)
    reach = (b + math.sqrt(b * b + q2 * instrument.spacing_m**2)) / q2
    depth = reach * math.cos(angle) - instrument.lower_m
    return (reach * math.sin(angle), depth) if 0.0 < depth < 10.0 and reach < 30.0 else None
