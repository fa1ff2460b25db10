"""Lines answered in closed form, with wide bands: sondes, and lines seen only from the side.

Wide until their own posteriors stand: a sonde's depth from the two places where its along-duct field
vanishes (a magnetic dipole along the duct: they lie at depth over the root of two on either side), a line
seen from the side from direction and distance as displayed.
"""

from __future__ import annotations

import math

from plumbmark.inference.reasons import identity_of
from plumbmark.inference.stations import Station
from plumbmark.model.estimate import Interval, LineEstimate, StationEstimate, Trust
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Line, Signal

NULLS_TO_DEPTH = 1.0 / math.sqrt(2.0)
NO_DEPTH = Interval(1.0, 0.2, 4.0)  # nothing said of the depth
SONDE_FACTOR = 1.35
SIDE_FACTOR = 2.5
SIDE_REACH = 0.5  # of the distance: soil and tilt turn the field by degrees
LATERAL_M = 0.35


def sonde_or_side(line: Line, stations: list[Station], warnings: list[Finding]) -> LineEstimate:
    """Answer a line whose stations are sonde readings or readings from the side."""
    what = "sonde readings" if line.signal is Signal.SONDE else "readings from the side"
    what += ": answered in closed form with wide bands; their joint posterior is not used yet"
    warnings.append(Finding(Severity.WARNING, f"line {line.id}", what))
    told = [_sonde(s) if s.source != "side_reading" else _side(s) for s in stations]
    return LineEstimate(line.id, *identity_of(line, list(line.setups)), tuple(told))


def _estimate(
    s: Station, shift: Interval, depth: Interval, current: Interval, because: tuple[str, ...], step: str
) -> StationEstimate:
    right = ((s.bearing_deg or 0.0) + 90.0) % 360.0
    east = s.place.easting_m + shift.value * math.sin(math.radians(right))
    north = s.place.northing_m + shift.value * math.cos(math.radians(right))
    return StationEstimate(
        s.source,
        s.id,
        s.chainage_m,
        east,
        north,
        s.place.easting_m,
        s.place.northing_m,
        right,
        shift,
        depth,
        current,
        0.5,
        0.2,
        Trust.UNPROVEN,
        because,
        step,
    )


def _current(s: Station) -> Interval:
    r = s.reading
    if r is None or r.current_a is None:
        return Interval(0.010, 0.0005, 0.2)
    value = max(r.current_a.value, 1e-6)
    return Interval(value, value / 3.0, value * 3.0)


def _sonde(s: Station) -> StationEstimate:
    r = s.reading
    depth, why = NO_DEPTH, "No depth was read: the band is all that is likely"
    if r is not None and r.null_ahead_m is not None and r.null_behind_m is not None:
        value = max(NULLS_TO_DEPTH * (r.null_ahead_m.value + r.null_behind_m.value), 0.1)
        depth = Interval(value, value / SONDE_FACTOR, value * SONDE_FACTOR)
        why = "Depth from the distance between the two nulls along the duct"
    elif r is not None and r.depth_m is not None:
        value = max(r.depth_m.value, 0.1)
        depth = Interval(value, value / 2.0, value * 2.0)
        why = "Depth as displayed; the nulls ahead and behind were not both taken"
    shift = Interval(0.0, -LATERAL_M, LATERAL_M)
    step = "Mark the nulls ahead and behind along the duct, and measure between them."
    return _estimate(s, shift, depth, _current(s), (why,), step)


def _side(s: Station) -> StationEstimate:
    side = s.side
    reach = side.distance_m.value if side is not None and side.distance_m is not None else 3.0
    depth = NO_DEPTH
    if side is not None and side.depth_m is not None:
        value = min(max(side.depth_m.value, 0.2), 4.0)
        depth = Interval(value, value / SIDE_FACTOR, value * SIDE_FACTOR)
    wide = max(SIDE_REACH * reach, 0.5)
    why = "Seen from the side only: soil and a tilted receiver turn the field, so the band is wide"
    step = "Take a reading over the line where it can be walked."
    return _estimate(s, Interval(0.0, -wide, wide), depth, _current(s), (why,), step)
