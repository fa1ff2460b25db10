"""The outline of a planned dig: how far points of the ground are from it, how deep it is there."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from plumbmark.base.errors import GeometryError
from plumbmark.clearance.rules import dig_tolerance, width_if_none
from plumbmark.model.clearance import Ring
from plumbmark.model.record import Dig, DigKind

MANY_VERTICES = 200
THINNED_M = 0.005

FLOATS = NDArray[np.float64]
BOOLS = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Footprint:
    """A dig in plan.

    Attributes
    ----------
    dig : Dig
    path : shape (k, 2), [m]
        Middle of a trench or bore; outer ring of an excavation.
    holes : tuple of shape (k, 2), [m]
        Inner rings of an excavation.
    half_width_m : float, [m]
        Of a trench or bore; 0 for an excavation.
    depths_m : shape (k,) or None, [m]
        Of the bottom at the vertices, of a bore its middle; None where nobody said.
    edge_sigma_m, depth_sigma_m : float, [m]
        How well it keeps to its drawing, one standard deviation.
    remarks : tuple of str
        What was taken because it was not given.
    """

    dig: Dig
    path: FLOATS
    holes: tuple[FLOATS, ...]
    half_width_m: float
    depths_m: FLOATS | None
    edge_sigma_m: float
    depth_sigma_m: float
    remarks: tuple[str, ...]

    @property
    def is_area(self) -> bool:
        """An excavation, not a trench or bore."""
        return self.dig.kind is DigKind.EXCAVATION

    @property
    def is_bore(self) -> bool:
        """A bore under ground."""
        return self.dig.kind is DigKind.BORE


def footprints_of(dig: Dig) -> tuple[Footprint, ...]:
    """The outline of a dig; a trench or bore of several parts has one for each.

    Parameters
    ----------
    dig : Dig

    Returns
    -------
    tuple of Footprint

    Raises
    ------
    GeometryError
        If the outline crosses itself, or has no length or no area.
    """
    edge, deep = dig_tolerance(dig.kind)
    remarks = []
    if dig.position_sigma_m is not None:
        edge = dig.position_sigma_m
    if dig.depth_m is None and dig.depths_m is None:
        remarks.append("its depth is not given, so it is taken to reach every line")
    if dig.kind is DigKind.EXCAVATION:
        rings = _checked_area(dig, [np.array(ring, dtype=np.float64)[:, :2] for ring in dig.rings])
        depths = None if dig.depths_m is None else np.full(len(rings[0]), max(dig.depths_m))
        if dig.depths_m is not None:
            remarks.append("its greatest depth is taken for all of it")
        parts = [(rings[0], tuple(rings[1:]), 0.0, depths)]
    else:
        wide = dig.width_m if dig.kind is DigKind.TRENCH else dig.diameter_m
        if wide is None:
            wide = width_if_none(dig.kind)
            name = "width" if dig.kind is DigKind.TRENCH else "diameter"
            remarks.append(f"its {name} is not given: {wide:.2f} m is taken")
        parts = []
        for ring in dig.rings:
            path = np.array(ring, dtype=np.float64)[:, :2]
            if not np.hypot(*np.diff(path, axis=0).T).sum() > 0.0:
                raise GeometryError(
                    f"{dig.kind.value} '{dig.id}' has no length: give two places that differ at least"
                )
            given = None if dig.depths_m is None else np.array(dig.depths_m)
            if given is not None and len(given) != len(path):
                given = np.full(len(path), given.max())
            parts.append((path, (), 0.5 * wide, given))
    return tuple(
        Footprint(
            dig,
            path,
            holes,
            half,
            np.full(len(path), dig.depth_m) if depths is None and dig.depth_m is not None else depths,
            max(edge, 1e-3),
            deep,
            tuple(remarks),
        )
        for path, holes, half, depths in parts
    )


def _checked_area(dig: Dig, rings: list[FLOATS]) -> list[FLOATS]:
    """Rings of an excavation that can be dug; very many vertices are thinned to within half a centimetre."""
    polygon = Polygon(rings[0], rings[1:])
    if not polygon.is_valid:
        why = explain_validity(polygon)
        place = why[why.find("[") + 1 : why.find("]")].split() if "[" in why else []
        near = ""
        if len(place) == 2:
            near = f" near easting {float(place[0]):.2f}, northing {float(place[1]):.2f}"
        raise GeometryError(
            f"excavation '{dig.id}' crosses or touches itself{near}: draw it so that it does not"
        )
    if not polygon.area > 0.0:
        raise GeometryError(f"excavation '{dig.id}' has no area")
    if sum(map(len, rings)) > MANY_VERTICES:
        thinned = polygon.simplify(THINNED_M)
        assert isinstance(thinned, Polygon)
        rings = [np.array(ring.coords) for ring in (thinned.exterior, *thinned.interiors)]
    return rings


@dataclass(frozen=True, slots=True)
class Beside:
    """Points as a dig sees them; arrays of the shape of the points.

    `gap_m` from the outside of the dig, negative inside; `side_m` of a trench or bore signed from its middle,
    positive to the right; `on_path` where the foot lies between its ends; `depth_m` of the dig at the foot
    (infinite where not known); `along_m` of the foot from the start of a trench or bore.
    """

    gap_m: FLOATS
    side_m: FLOATS
    on_path: BOOLS
    depth_m: FLOATS
    along_m: FLOATS


def beside(shape: Footprint, easting_m: FLOATS, northing_m: FLOATS) -> Beside:
    """Distance of points from a dig, and its depth at the nearest place.

    Parameters
    ----------
    shape : Footprint
    easting_m, northing_m : any shape, [m]

    Returns
    -------
    Beside
    """
    best = np.full(easting_m.shape, np.inf)
    side, depth, along = np.zeros_like(best), np.full_like(best, np.inf), np.zeros_like(best)
    on_path = np.zeros(easting_m.shape, dtype=bool)
    rings = (shape.path, *shape.holes)
    inside = np.zeros(easting_m.shape, dtype=bool)
    for number, ring in enumerate(rings):
        start = 0.0
        for k, (a, b) in enumerate(pairwise(ring)):
            length = float(np.hypot(*(b - a)))
            if length == 0.0:
                continue
            ahead_e, ahead_n = (b - a) / length
            east, north = easting_m - a[0], northing_m - a[1]
            run = np.clip(east * ahead_e + north * ahead_n, 0.0, length)
            across = east * ahead_n - north * ahead_e
            away = np.hypot(east - run * ahead_e, north - run * ahead_n)
            near = away < best
            best = np.where(near, away, best)
            side = np.where(near, np.copysign(away, across), side)
            along = np.where(near, start + run, along)
            ends = (run > 0.0) | (k > 0), (run < length) | (k < len(ring) - 2)
            on_path = np.where(near, ends[0] & ends[1], on_path)
            if shape.depths_m is not None and number == 0:
                d = shape.depths_m
                depth = np.where(near, d[k] + (d[k + 1] - d[k]) * run / length, depth)
            if shape.is_area:
                inside ^= ((a[1] > northing_m) != (b[1] > northing_m)) & ((across > 0.0) == (b[1] > a[1]))
            start += length
    if shape.is_area:
        if shape.depths_m is not None:
            depth = np.full_like(best, float(shape.depths_m.max()))
        return Beside(np.where(inside, -best, best), side, on_path, depth, along)
    return Beside(best - shape.half_width_m, side, on_path, depth, along)


def outline(shape: Footprint, grow_m: float = 0.0) -> BaseGeometry:
    """The dig as a polygon, grown on all sides; flat ends where a trench or bore ends."""
    if shape.is_area:
        return Polygon(shape.path, shape.holes).buffer(grow_m, join_style="mitre")
    return LineString(shape.path).buffer(shape.half_width_m + grow_m, cap_style="square", join_style="mitre")


def rings_of(area: BaseGeometry) -> tuple[Ring, ...]:
    """Outer rings, and the holes in them, of a polygon or several: closed, outer ones first."""
    found: list[Ring] = []
    for part in shapely.get_parts(area):
        if isinstance(part, Polygon) and not part.is_empty:
            for ring in (part.exterior, *part.interiors):
                found.append(tuple((float(e), float(n)) for e, n in ring.coords))
    return tuple(found)
