"""The ground of a sweep: digs with a margin, cells over it, straight passes across it, and where that is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from plumbmark.base.errors import GeometryError
from plumbmark.base.spoken import compass, spoken_length
from plumbmark.model.job import Job
from plumbmark.model.record import Dig, DigKind
from plumbmark.model.sweep import Point

FLOATS = NDArray[np.float64]
BOOLS = NDArray[np.bool_]

CELL_M: Final = 0.25
MOST_CELLS: Final = 400_000  # of the box round one piece of ground; beyond that cells are made larger
MOST_PIECES: Final = 200
TRENCH_M: Final = 0.6  # width of a trench that states none: two feet, a common bucket
BORE_M: Final = 0.3  # of a bore that states no diameter
NO_PASS_M: Final = 0.3
CORNER_FAR_M: Final = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """One piece of ground to be swept, and its cells.

    Columns run along `bearing_deg`, rows to the right of it; `digs` is the part of it that will be dug.
    """

    outline: Polygon
    digs: BaseGeometry
    bearing_deg: float
    easting_m: float
    northing_m: float
    cell_m: float
    inside: BOOLS
    in_dig: BOOLS

    @property
    def points(self) -> FLOATS:
        """Middles of the cells inside, row by row, shape (n, 2), [m]."""
        row, column = np.nonzero(self.inside)
        ahead, right = axes(self.bearing_deg)
        along, across = (column + 0.5) * self.cell_m, (row + 0.5) * self.cell_m
        origin = np.array([self.easting_m, self.northing_m])
        return origin + along[:, None] * ahead + across[:, None] * right


def axes(bearing_deg: float) -> tuple[FLOATS, FLOATS]:
    """Unit vectors (easting, northing) along a bearing and to its right.

    Examples
    --------
    >>> ahead, right = axes(0.0)
    >>> ahead.tolist(), right.tolist()
    ([0.0, 1.0], [1.0, -0.0])
    """
    angle = math.radians(bearing_deg)
    return np.array([math.sin(angle), math.cos(angle)]), np.array([math.cos(angle), -math.sin(angle)])


def footprint(dig: Dig) -> BaseGeometry:
    """The ground a dig opens, or a bore runs under.

    Raises
    ------
    GeometryError
        If it covers no ground.
    """
    if dig.kind is DigKind.EXCAVATION:
        area: BaseGeometry = Polygon(dig.rings[0], dig.rings[1:]).buffer(0)
    else:
        wide = dig.width_m or TRENCH_M if dig.kind is DigKind.TRENCH else dig.diameter_m or BORE_M
        area = shapely.union_all(
            [LineString(ring).buffer(0.5 * wide, cap_style="flat") for ring in dig.rings]
        )
    if not area.area > 0.0:
        raise GeometryError(
            f"dig {dig.id} covers no ground: its outline encloses {area.area:g} square metres "
            "(draw the edge of the hole, or for a trench or bore a line with two places that differ)"
        )
    return area


def grounds(job: Job, margin_m: float) -> list[Ground]:
    """Pieces of ground to be swept: the digs and so much round them, those that touch together.

    Raises
    ------
    GeometryError
        If the job has no dig, one covers no ground, or there are more than 200 pieces.
    """
    if not job.digs:
        raise GeometryError(
            "there is no dig: a sweep needs the ground that will be opened (draw it in dig.geojson, "
            "kind excavation, trench or bore)"
        )
    feet = [footprint(dig) for dig in job.digs]
    # A dig known to a decimetre is swept two of these farther out.
    wide = [margin_m + 2.0 * (dig.position_sigma_m or 0.0) for dig in job.digs]
    around = [f.buffer(w, join_style="mitre", mitre_limit=2.0) for f, w in zip(feet, wide, strict=True)]
    pieces = polygons(shapely.union_all(around))
    if len(pieces) > MOST_PIECES:
        raise GeometryError(
            f"the digs make {len(pieces)} separate pieces of ground, and at most {MOST_PIECES} are swept "
            "in one job (make several jobs of it)"
        )
    digs = shapely.union_all(feet)
    return [_ground(piece, digs, job.sweep.bearing_deg) for piece in pieces]


def _ground(outline: Polygon, digs: BaseGeometry, bearing_deg: float | None) -> Ground:
    bearing = long_side(outline) if bearing_deg is None else bearing_deg
    ahead, right = axes(bearing)
    corners = np.asarray(outline.exterior.coords)
    along, across = corners @ ahead, corners @ right
    low, high = np.array([along.min(), across.min()]), np.array([along.max(), across.max()])
    cell = CELL_M
    while np.prod(np.ceil((high - low) / cell)) > MOST_CELLS:
        cell *= 2.0
    columns, rows = (max(1, int(n)) for n in np.ceil((high - low) / cell - 1e-9))
    start = low - 0.5 * (np.array([columns, rows]) * cell - (high - low))
    origin = start[0] * ahead + start[1] * right
    c, r = (np.arange(columns) + 0.5) * cell, (np.arange(rows) + 0.5) * cell
    grid = origin + c[None, :, None] * ahead + r[:, None, None] * right
    inside = shapely.contains_xy(outline, grid[..., 0], grid[..., 1])
    own = digs.intersection(outline)
    in_dig = inside & shapely.contains_xy(own.buffer(0.5 * cell), grid[..., 0], grid[..., 1])
    return Ground(outline, own, bearing % 180.0, float(origin[0]), float(origin[1]), cell, inside, in_dig)


def long_side(outline: Polygon) -> float:
    """Bearing of the long side of the least box round a piece of ground [degrees]."""
    box = outline.minimum_rotated_rectangle
    corners = shapely.get_coordinates(box)[:3]
    first, second = np.diff(corners, axis=0)
    run = first if np.hypot(*first) >= np.hypot(*second) else second
    return math.degrees(math.atan2(run[0], run[1])) % 180.0


def polygons(area: BaseGeometry) -> list[Polygon]:
    """Its polygons, from west to east."""
    parts = list(area.geoms) if isinstance(area, MultiPolygon) else [area]
    found = [p for p in parts if isinstance(p, Polygon) and not p.is_empty]
    return sorted(found, key=lambda p: p.bounds)


def chords(outline: Polygon, bearing_deg: float, offsets_m: FLOATS) -> Iterator[tuple[Point, Point]]:
    """Straight passes along a bearing across a piece of ground, at offsets to the right of the origin.

    One that leaves the ground and comes back is several; the first point is the one passed first.
    """
    ahead, right = axes(bearing_deg)
    run = np.asarray(outline.exterior.coords) @ ahead
    for offset in offsets_m:
        line = LineString([run.min() * ahead + offset * right, run.max() * ahead + offset * right])
        cut = line.intersection(outline)
        for part in getattr(cut, "geoms", [cut]):
            if isinstance(part, LineString) and part.length >= NO_PASS_M:
                a, b = sorted(part.coords[:: len(part.coords) - 1], key=lambda p: float(np.dot(p, ahead)))
                yield (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))


def evenly(outline: Polygon, bearing_deg: float, spacing_m: float) -> FLOATS:
    """Offsets of passes along a bearing, no farther apart than asked, half that from the borders."""
    _, right = axes(bearing_deg)
    across = np.asarray(outline.exterior.coords) @ right
    low, wide = float(across.min()), float(np.ptp(across))
    count = max(1, math.ceil(wide / spacing_m - 1e-9))
    return low + (np.arange(count) + 0.5) * wide / count


# -- where that is, for somebody with a tape ---------------------------------------------------------------


def place_words(job: Job, easting_m: float, northing_m: float) -> str:
    """A point of the ground in terms of a baseline, a corner, or else coordinates."""
    units = job.display_units
    if job.baselines:
        said = [_along_baseline(job, i, easting_m, northing_m) for i in range(len(job.baselines))]
        return min(said)[1]
    if job.corners:
        corner = min(
            job.corners, key=lambda c: math.hypot(easting_m - c.easting_m, northing_m - c.northing_m)
        )
        east, north = easting_m - corner.easting_m, northing_m - corner.northing_m
        far = math.hypot(east, north)
        if far < 0.1:
            return f"at {corner.id}"
        if far <= CORNER_FAR_M:
            return (
                f"{spoken_length(far, units)} {compass(math.degrees(math.atan2(east, north)))} of {corner.id}"
            )
    return f"easting {easting_m:.1f}, northing {northing_m:.1f}"


def _along_baseline(job: Job, i: int, easting_m: float, northing_m: float) -> tuple[float, str]:
    base, units = job.baselines[i], job.display_units
    start = np.array([base.start_easting_m, base.start_northing_m])
    run = np.array([base.end_easting_m, base.end_northing_m]) - start
    ahead = run / np.hypot(*run)
    away = np.array([easting_m, northing_m]) - start
    station, offset = float(away @ ahead), float(away @ np.array([ahead[1], -ahead[0]]))
    side = f"{spoken_length(abs(offset), units)} {'right' if offset >= 0.0 else 'left'}"
    if station < -0.05:
        return abs(
            offset
        ) - station, f"{spoken_length(-station, units)} before the start of {base.id}, {side}"
    beyond = max(station - float(np.hypot(*run)), 0.0)
    return abs(offset) + beyond, f"{spoken_length(station, units)} along {base.id}, {side}"


def way_words(bearing_deg: float) -> str:
    """A direction that may be walked either way.

    Examples
    --------
    >>> way_words(30.0), way_words(95.0)
    ('north-east to south-west', 'east to west')
    """
    half = bearing_deg % 180.0
    return f"{compass(half)} to {compass(half + 180.0)}"


def path_words(job: Job, path: Sequence[Point]) -> str:
    """A straight pass by its two ends."""
    return f"from {place_words(job, *path[0])} to {place_words(job, *path[-1])}"
