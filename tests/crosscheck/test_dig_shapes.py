"""Distances from a dig, against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon

from plumbmark.base.errors import GeometryError
from plumbmark.clearance.shapes import beside, footprints_of, outline, rings_of
from plumbmark.model.record import Dig, DigKind

PATH = ((0.0, 0.0), (6.0, 1.0), (9.0, 6.0), (9.0, 12.0))
AREA = ((0.0, 0.0), (8.0, 1.0), (7.0, 6.0), (3.5, 3.0), (1.0, 6.0), (0.0, 0.0))
HOLE = ((2.0, 1.5), (3.0, 1.5), (3.0, 2.5), (2.0, 2.5), (2.0, 1.5))


def points() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(5)
    return rng.uniform(-4.0, 13.0, (40, 50)), rng.uniform(-4.0, 14.0, (40, 50))


def test_trench() -> None:
    (shape,) = footprints_of(Dig("t", DigKind.TRENCH, (PATH,), depth_m=1.0, width_m=0.6))
    e, n = points()
    seen = beside(shape, e, n)
    there = shapely.points(e, n)
    assert seen.gap_m == pytest.approx(shapely.distance(LineString(PATH), there) - 0.3, abs=1e-12)
    assert seen.along_m == pytest.approx(shapely.line_locate_point(LineString(PATH), there), abs=1e-9)


def test_sides_and_ends_of_a_trench() -> None:
    (shape,) = footprints_of(Dig("t", DigKind.TRENCH, (((0.0, 0.0), (0.0, 10.0)),), width_m=0.6))
    seen = beside(shape, np.array([1.0, -2.0, 0.5]), np.array([5.0, 5.0, 12.0]))
    assert seen.side_m == pytest.approx([1.0, -2.0, np.hypot(0.5, 2.0)])  # north: right is east
    assert seen.on_path.tolist() == [True, True, False]


def test_excavation_with_an_island() -> None:
    (shape,) = footprints_of(Dig("x", DigKind.EXCAVATION, (AREA, HOLE), depth_m=1.0))
    polygon = Polygon(AREA, [HOLE])
    e, n = points()
    there = shapely.points(e, n)
    away = shapely.distance(polygon.boundary, there)
    expected = np.where(shapely.contains_properly(polygon, there), -away, away)
    assert beside(shape, e, n).gap_m == pytest.approx(expected, abs=1e-12)


def test_very_many_vertices_are_thinned() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 5001)
    ring = tuple((10.0 * np.cos(t), 10.0 * np.sin(t)) for t in turn[:-1])
    (shape,) = footprints_of(Dig("x", DigKind.EXCAVATION, ((*ring, ring[0]),), depth_m=1.0))
    assert len(shape.path) < 400
    assert outline(shape).symmetric_difference(Polygon(ring)).area < 0.5
    e, n = points()
    assert beside(shape, e, n).gap_m == pytest.approx(np.hypot(e, n) - 10.0, abs=0.006)


def test_depth_runs_between_the_vertices() -> None:
    dig = Dig("b", DigKind.BORE, (((0.0, 0.0), (10.0, 0.0), (10.0, 10.0)),), depths_m=(1.0, 2.0, 1.5))
    (shape,) = footprints_of(dig)
    seen = beside(shape, np.array([5.0, 11.0]), np.array([0.4, 5.0]))
    assert seen.depth_m == pytest.approx([1.5, 1.75])


def test_no_depth_reaches_everything() -> None:
    (shape,) = footprints_of(Dig("b", DigKind.TRENCH, (PATH,)))
    assert np.isinf(beside(shape, np.array([1.0]), np.array([1.0])).depth_m).all()
    assert any("depth is not given" in said for said in shape.remarks)
    assert any("width is not given" in said for said in shape.remarks)


def test_outline_and_its_rings() -> None:
    (shape,) = footprints_of(Dig("x", DigKind.EXCAVATION, (AREA, HOLE)))
    assert outline(shape).area == pytest.approx(Polygon(AREA, [HOLE]).area)
    rings = rings_of(outline(shape))
    assert len(rings) == 2
    assert all(ring[0] == ring[-1] for ring in rings)
    assert rings_of(Point(0, 0)) == ()


@pytest.mark.parametrize(
    ("dig", "part"),
    [
        (Dig("x", DigKind.EXCAVATION, (((0, 0), (4, 4), (4, 0), (0, 4), (0, 0)),)), "crosses or touches"),
        (Dig("x", DigKind.EXCAVATION, (((0, 0), (4, 0), (8, 0), (0, 0)),)), "'x'"),
        (Dig("t", DigKind.TRENCH, (((1, 1), (1, 1)),), width_m=0.3), "trench 't' has no length"),
        (Dig("b", DigKind.BORE, (((1, 1), (1, 1)),)), "bore 'b' has no length"),
    ],
)
def test_shapes_that_cannot_be(dig: Dig, part: str) -> None:
    with pytest.raises(GeometryError, match=part):
        footprints_of(dig)
