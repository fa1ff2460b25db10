"""Tolerance zones in plan: about the mark, as the law has it, and about the band that holds the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPoint, Point
from shapely.geometry.base import BaseGeometry

from plumbmark.clearance.shapes import rings_of
from plumbmark.clearance.things import Thing, rights_of
from plumbmark.model.clearance import Zone, ZoneRule
from plumbmark.model.draws import LineDraws
from plumbmark.model.job import Job
from plumbmark.model.mark import MarkKind, MarkState

FLOATS = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Band:
    """Where a line runs in plan, 19 times in 20: shape (k,) each, `centre` and `right` (k, 2).

    `low_m`, `high_m` count from the centre, positive to the right of increasing chainage.
    """

    chainage_m: FLOATS
    centre: FLOATS
    right: FLOATS
    low_m: FLOATS
    high_m: FLOATS

    def at(self, chainage_m: float) -> int:
        """Index of the place nearest to a chainage."""
        return int(np.abs(self.chainage_m - chainage_m).argmin())

    def project(self, easting_m: float, northing_m: float) -> tuple[float, float]:
        """Chainage of the nearest place, and the distance to its right, of a point."""
        away = self.centre - (easting_m, northing_m)
        k = int(np.hypot(*away.T).argmin())
        return float(self.chainage_m[k]), -float(away[k] @ self.right[k])


def band_of(draws: LineDraws, right_deg: float | None = None) -> Band:
    """The band of a line from its samples.

    Parameters
    ----------
    draws : LineDraws
    right_deg : float, optional
        Bearing of the right-hand side, for a line that has one place.

    Returns
    -------
    Band
    """
    centre = np.column_stack([np.median(draws.easting_m, axis=0), np.median(draws.northing_m, axis=0)])
    right = rights_of(*centre.T)
    if len(centre) == 1 and right_deg is not None:
        right = np.array([[np.sin(np.radians(right_deg)), np.cos(np.radians(right_deg))]])
    aside = (draws.easting_m - centre[:, 0]) * right[:, 0] + (draws.northing_m - centre[:, 1]) * right[:, 1]
    low, high = np.quantile(aside, (0.025, 0.975), axis=0)
    return Band(draws.chainage_m, centre, right, low, high)


def band_area(band: Band, half_width_m: float) -> BaseGeometry:
    """The band grown by half the line and the zone's distance on all sides."""
    left = band.centre + band.low_m[:, None] * band.right
    right = band.centre + band.high_m[:, None] * band.right
    if len(left) == 1:
        return MultiPoint([left[0], right[0]]).convex_hull.buffer(half_width_m)
    # Hulls of neighbouring pairs, so that a bend does not turn the outline inside out.
    corners = np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1)
    return shapely.union_all(shapely.convex_hull(shapely.multipoints(corners))).buffer(half_width_m)


def marked_path(job: Job, thing: Thing) -> FLOATS:
    """Marks of a line in the order walked, shape (k, 2): as painted and still there, else as read."""
    painted = [m for m in job.marks if m.line == thing.name and m.kind in _ON_LINE and m.state not in _LOST]
    band = band_of(thing.draws)
    if len(painted) >= 2:
        places = [mark.shows for mark in painted]
        order = sorted(places, key=lambda p: band.project(*p)[0])
        return np.array(order)
    assert thing.estimate is not None
    return np.array([(s.mark_easting_m, s.mark_northing_m) for s in thing.estimate.stations])


_LOST = {MarkState.GONE, MarkState.MOVED}
_ON_LINE = {MarkKind.CENTRE, MarkKind.OFFSET, MarkKind.END, MarkKind.TEE}


def path_shape(points: FLOATS) -> BaseGeometry:
    """A path through points, or the one point there is."""
    return Point(points[0]) if len(np.unique(points, axis=0)) == 1 else LineString(points)


def zone_of(job: Job, thing: Thing, rule: ZoneRule, band: Band) -> Zone:
    """The zone of a solved line, about its marks and about its band.

    Parameters
    ----------
    job : Job
    thing : Thing
        A solved line.
    rule : ZoneRule
    band : Band
        Of its samples.

    Returns
    -------
    Zone
    """
    half = thing.radius_m + rule.distance_m
    path = path_shape(marked_path(job, thing))
    return Zone(
        thing.name,
        thing.diameter_m,
        thing.diameter_said,
        half,
        rings_of(path.buffer(half)),
        rings_of(band_area(band, half)),
        _narrow(thing, band, path, half),
    )


def _narrow(thing: Thing, band: Band, path: BaseGeometry, half: float) -> tuple[tuple[float, float], ...]:
    """Chainages between the first mark and the last where the line can lie outside the lawful zone."""
    assert thing.estimate is not None
    stations = thing.estimate.stations
    first, last = stations[0].chainage_m, stations[-1].chainage_m
    outer = [
        band.centre + (reach + side * thing.radius_m)[:, None] * band.right
        for reach, side in ((band.low_m, -1.0), (band.high_m, 1.0))
    ]
    away = np.max([shapely.distance(path, shapely.points(points)) for points in outer], axis=0)
    out = (away > half) & (band.chainage_m >= first - 1e-6) & (band.chainage_m <= last + 1e-6)
    return tuple((float(band.chainage_m[a]), float(band.chainage_m[b])) for a, b in runs(out))


def runs(chosen: NDArray[np.bool_] | Sequence[bool], bridge: int = 0) -> list[tuple[int, int]]:
    """First and last index of each run of chosen places; gaps of up to `bridge` places are closed.

    Examples
    --------
    >>> runs([True, True, False, True]), runs([True, False, True], bridge=1)
    ([(0, 1), (3, 3)], [(0, 2)])
    """
    found: list[tuple[int, int]] = []
    for i, yes in enumerate(chosen):
        if not yes:
            continue
        if found and i - found[-1][1] <= 1 + bridge:
            found[-1] = (found[-1][0], i)
        else:
            found.append((i, i))
    return found
