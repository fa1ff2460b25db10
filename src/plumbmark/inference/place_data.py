"""What was taken at one place of a line, as the numbers its likelihood needs.

A cell that somebody wrote is an interval: the ends of a range, moved out by half of the rounding seen in its
column. NaN ends mean not taken. Lengths go by their own scale, depths and currents by their logarithm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.units import FOOT_M, INCH_M
from plumbmark.inference import priors as p
from plumbmark.inference.stations import Station
from plumbmark.model.job import Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import DepthMethod, MarkBy, Reading

FLOATS = NDArray[np.float64]

# -- what the written depth may be: the display's, or slipped ------------------------------------------
RIGHT = 0
FACTORS = 1  # then one for each factor of priors.DEPTH_SLIPS
FEET_INCHES = FACTORS + len(p.DEPTH_SLIPS)
SONDE_MODE = FEET_INCHES + 1
BESIDE = FEET_INCHES + 2
ANYTHING = FEET_INCHES + 3
LABELS = FEET_INCHES + 4
#: In words, in that order; the first is no slip.
SLIP_WORDS = (
    "",
    *(name for name, _factor, _share in p.DEPTH_SLIPS),
    "feet and inches written as a decimal",
    "the receiver in sonde mode",
    "the depth taken beside the mark",
    "a slip of some other kind",
)
DIAMETER_UNKNOWN_M = 0.10  # largest outside diameter likely where none is written


class PlaceData(NamedTuple):
    """Ends of what was written; `right` of everything is that of the row's own bearing.

    `depth` and `raised` have shape (FEET_INCHES + 1, 2): ln of the display's depth if the cell is right, and
    under each slip that is undone by a factor.
    """

    mark_kind: int  # 0 on the peak, 1 on the null, 2 not known
    signed: bool  # False: which side the null was on is not known
    gap: FLOATS  # shape (2,), null minus mark [m]
    half_left: FLOATS
    half_right: FLOATS
    depth: FLOATS
    refused: bool
    label_odds: FLOATS  # shape (LABELS,)
    raised_by: float
    raised_by_sigma: float  # of what is written; that of the block comes on top
    raised: FLOATS
    current: FLOATS  # ln
    hole_ln_depth: float
    hole_depth_var: float
    hole_at: float  # the line as exposed, right of the mark [m]
    hole_at_var: float
    misses: FLOATS  # shape (m, 3): holes that found nothing: right of the mark, its sigma, dug to [m]
    frequency_hz: float


def _interval(m: Measured | None) -> FLOATS:
    if m is None:
        return np.array([math.nan, math.nan])
    out = 0.5 * m.rounding
    return np.array([m.low - out, m.high + out])


def _ln_interval(m: Measured | None, least: float) -> FLOATS:
    return np.log(np.maximum(_interval(m), least))


def _slipped(m: Measured | None) -> FLOATS:
    """Intervals (ln) of what the display showed, as written and under each slip undone by a factor."""
    here = _ln_interval(m, 0.01)
    out = np.full((FEET_INCHES + 1, 2), math.nan)
    out[RIGHT] = here
    for k, (_name, factor, _share) in enumerate(p.DEPTH_SLIPS):
        out[FACTORS + k] = here - math.log(factor)
    meant = None if m is None else feet_inches_meant(m.value)
    if meant is not None:
        out[FEET_INCHES] = np.log([meant - 0.5 * INCH_M, meant + 0.5 * INCH_M])
    return out


def feet_inches_meant(value_m: float) -> float | None:
    """What a depth in decimal feet was if its digits are feet and inches; None where they cannot be.

    Examples
    --------
    2.11 ft for 2 ft 11 in, which is 35 in; 2.3 ft for 2 ft 3 in.

    >>> round(feet_inches_meant(2.11 * 0.3048) / 0.0254, 6)
    35.0
    >>> round(feet_inches_meant(2.3 * 0.3048) / 0.0254, 6)
    27.0
    >>> feet_inches_meant(2.55 * 0.3048) is None
    True
    """
    hundredths = value_m / FOOT_M * 100.0
    nearest = round(hundredths)
    if abs(hundredths - nearest) > 0.1:
        return None
    feet, digits = divmod(nearest, 100)
    inches = digits if digits <= 11 else digits // 10 if digits % 10 == 0 else 0
    return None if inches == 0 else feet * FOOT_M + inches * INCH_M


def label_odds(method: DepthMethod) -> FLOATS:
    """Prior odds of each reading of a written depth, summing to 1."""
    shares = [share for _name, _factor, share in p.DEPTH_SLIPS]
    slips = np.array([*shares, p.FEET_INCHES_SHARE, p.SONDE_MODE_SHARE, p.BESIDE_SHARE, p.ANYTHING_SHARE])
    odds = np.concatenate([[1.0 - p.SLIP_ODDS], p.SLIP_ODDS * slips / slips.sum()])
    sonde = {DepthMethod.TWO_COIL: 0.0, DepthMethod.UNKNOWN: p.METHOD_UNKNOWN_SONDE_ODDS}.get(method)
    if sonde is None:  # it says sonde: right is sonde mode, and what the two coils show is the slip
        odds[[RIGHT, SONDE_MODE]] = odds[[SONDE_MODE, RIGHT]]
        return odds
    odds *= 1.0 - sonde
    odds[SONDE_MODE] += sonde
    return odds


def _hole(s: Station, line: Line) -> tuple[float, float, float, float]:
    """Exposed: ln depth to the centre and its variance, place right of the mark and its variance."""
    hole = s.hole
    if hole is None or not hole.found:
        return math.nan, 1.0, math.nan, 1.0
    at, var = beside_mark(s, hole.place.easting_m, hole.place.northing_m)
    own = p.FIX_SIGMA_M if hole.place.sigma_m is None else hole.place.sigma_m
    var += own**2 + p.HOLE_SIGMA_M**2
    top = hole.depth_to_top_m
    if top is None:
        return math.nan, 1.0, at, var
    if hole.outside_diameter_m is not None:
        radius, spread = 0.5 * hole.outside_diameter_m.value, 0.01
    elif line.outside_diameter_m is not None:
        radius, spread = 0.5 * line.outside_diameter_m, 0.01
    else:
        radius = spread = 0.25 * DIAMETER_UNKNOWN_M
    depth = max(top.value + radius, 0.03)
    written = top.rounding**2 / 12.0 + top.half_range**2 / 3.0
    return math.log(depth), (p.HOLE_SIGMA_M**2 + spread**2 + written) / depth**2, at, var


def beside_mark(s: Station, easting_m: float, northing_m: float) -> tuple[float, float]:
    """How far right of the mark a point lies [m], and the variance that the fix of the mark gives it."""
    bearing = math.radians(s.bearing_deg or 0.0)
    east, north = easting_m - s.place.easting_m, northing_m - s.place.northing_m
    own = p.FIX_SIGMA_M if s.place.sigma_m is None else s.place.sigma_m
    return east * math.cos(bearing) - north * math.sin(bearing), own**2


def place_data(s: Station, line: Line, setup: Setup) -> PlaceData:
    """What was taken at a station, profiles and readings from the side left aside.

    Parameters
    ----------
    s : Station
        With a reading or without; its test hole counts if it has one.
    line : Line
        Its diameter serves where a test hole did not give one.
    setup : Setup
        Its frequency counts.
    """
    r = s.reading if s.reading is not None else Reading("", line.id, s.place, s.row, mark_by=MarkBy.UNKNOWN)
    kind = {MarkBy.PEAK: 0, MarkBy.NULL: 1, MarkBy.GUIDED: 2, MarkBy.UNKNOWN: 2}[r.mark_by]
    raised = r.raised_by_m is not None and r.raised_depth_m is not None
    by, by_sigma = 0.0, 0.0
    if r.raised_by_m is not None and raised:
        by = r.raised_by_m.value
        by_sigma = math.sqrt(r.raised_by_m.rounding**2 / 12.0 + r.raised_by_m.half_range**2 / 3.0)
    hole = _hole(s, line)
    misses = np.empty((0, 3))
    if s.hole is not None and not s.hole.found:
        at, var = beside_mark(s, s.hole.place.easting_m, s.hole.place.northing_m)
        own = p.FIX_SIGMA_M if s.hole.place.sigma_m is None else s.hole.place.sigma_m
        deep = s.hole.dug_to_m.value if s.hole.dug_to_m is not None else 0.0
        misses = np.array([[at, math.sqrt(var + own**2), deep]])
    return PlaceData(
        mark_kind=kind,
        signed=s.bearing_deg is not None,
        gap=_interval(r.null_offset_m),
        half_left=_interval(r.half_left_m),
        half_right=_interval(r.half_right_m),
        depth=_slipped(None if r.depth_refused else r.depth_m),
        refused=r.depth_refused,
        label_odds=label_odds(r.depth_method),
        raised_by=by,
        raised_by_sigma=by_sigma,
        raised=_slipped(r.raised_depth_m if raised else None),
        current=_ln_interval(r.current_a, 1e-6),
        hole_ln_depth=hole[0],
        hole_depth_var=hole[1],
        hole_at=hole[2],
        hole_at_var=hole[3],
        misses=misses,
        frequency_hz=float(setup.frequency_hz or p.FREQUENCY_HZ),
    )
