"""Routes divided into straight legs, and rows of a job gathered into stations."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.inference.legs import lay_legs
from plumbmark.inference.stations import stations_of
from plumbmark.model.finding import Finding
from plumbmark.model.job import Job, Line
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Profile, ProfilePoint, Reading, Scale, SideReading, TestHole
from plumbmark.survey.polyline import path_length

LINE = Line("E1")


def chainage(points: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def turned(points: np.ndarray, degrees: float) -> np.ndarray:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return points @ np.array([[c, -s], [s, c]]) + np.array([300.0, -120.0])


# --- legs ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("bearing", [0.0, 37.0, 90.0, 200.0])
def test_straight_line_is_one_leg(bearing: float) -> None:
    """Marks scattered by 3 cm about a straight line; right of it is positive."""
    rng = np.random.default_rng(3)
    along, across = np.linspace(0.0, 27.0, 10), rng.normal(0.0, 0.03, 10)
    b = math.radians(bearing)
    points = np.outer(along, [math.sin(b), math.cos(b)]) + np.outer(across, [math.cos(b), -math.sin(b)])
    legs = lay_legs(points, chainage(points))
    assert set(legs.leg) == {0}
    assert np.all(np.isinf(legs.to_bend))
    assert np.ptp(legs.across - across) < 0.04  # one straight line taken out, no more
    off = (legs.direction - b + math.pi) % (2.0 * math.pi) - math.pi
    assert np.abs(off).max() < 0.01


@pytest.mark.parametrize("degrees", [0.0, 61.0, 145.0, 270.0])
def test_right_angle_is_two_legs_and_its_corner(degrees: float) -> None:
    rng = np.random.default_rng(4)
    first = np.column_stack([np.zeros(7), np.arange(-21.0, -1.0, 3.0)])
    second = np.column_stack([np.arange(3.0, 22.0, 3.0), np.zeros(7)])
    points = turned(np.vstack([first, second]) + rng.normal(0.0, 0.03, (14, 2)), degrees)
    legs = lay_legs(points, chainage(points))
    assert legs.leg.tolist() == [0] * 7 + [1] * 7
    turn = math.degrees(legs.direction[-1] - legs.direction[0]) % 360.0
    assert turn == pytest.approx(90.0, abs=1.0)
    np.testing.assert_allclose(legs.to_bend, [*range(21, 2, -3), *range(3, 22, 3)], atol=0.15)
    assert np.abs(legs.across).max() < 0.15


@pytest.mark.parametrize("wrong", [0, 4, 9])
@pytest.mark.parametrize("aside", [0.6, -1.4])
def test_one_wrong_mark_is_no_bend(wrong: int, aside: float) -> None:
    """A mark on another line stays a mark of this leg, that far off, and does not pull the leg along."""
    rng = np.random.default_rng(5)
    points = np.column_stack([rng.normal(0.0, 0.02, 10), np.arange(0.0, 30.0, 3.0)])
    points[wrong, 0] += aside
    legs = lay_legs(points, chainage(points))
    assert set(legs.leg) == {0}
    assert legs.across[wrong] == pytest.approx(aside, abs=0.15)
    assert np.abs(np.delete(legs.across, wrong)).max() < 0.15


def test_gentle_curve_is_one_leg() -> None:
    """Ten degrees over 30 m: followed by the smooth state, not cut."""
    angle = np.radians(np.linspace(0.0, 10.0, 12))
    points = 30.0 / np.radians(10.0) * np.column_stack([1.0 - np.cos(angle), np.sin(angle)])
    assert set(lay_legs(points, chainage(points)).leg) == {0}


# --- stations ------------------------------------------------------------------------------------


def m(value: float) -> Measured:
    return Measured(value, 0.0, 0.01)


def reading(
    number: int, north: float, *, east: float = 0.0, depth: float | None = 0.9, **cells: object
) -> Reading:
    shown = None if depth is None else m(depth)
    return Reading(
        f"r{number:02d}",
        "E1",
        Place(east, north),
        number + 1,
        depth_m=shown,
        **cells,  # type: ignore[arg-type]
    )


def profile(name: str, north: float, *, east: float = 0.0, scale: Scale = Scale.LINEAR) -> Profile:
    points = tuple(ProfilePoint(k + 2, m(x), None, m(1.0)) for k, x in enumerate((-0.5, 0.0, 0.5)))
    return Profile(name, "E1", Place(east, north), 2, 0.0, points, scale=scale)


def gather(**rows: object) -> tuple[list, list[Finding]]:
    warnings: list[Finding] = []
    job = Job("j", lines=(LINE, Line("W1")), **rows)  # type: ignore[arg-type]
    return stations_of(job, LINE, warnings), warnings


def row(number: int, north: float) -> Reading:
    """A reading whose numbers are not those of any other."""
    return reading(number, north, depth=0.9 + 0.01 * number)


def test_rows_out_of_order_are_put_in_order() -> None:
    norths = [0.0, 12.0, 3.0, 15.0, 6.0, 9.0]
    stations, warnings = gather(readings=tuple(row(k, n) for k, n in enumerate(norths)))
    assert [s.place.northing_m for s in stations] == sorted(norths)
    assert [s.chainage_m for s in stations] == pytest.approx(sorted(norths))
    assert sum("out of order" in w.what for w in warnings) == 1
    points = np.array([(s.place.easting_m, s.place.northing_m) for s in stations])
    assert path_length(points) == pytest.approx(15.0)


def test_rows_in_order_stay_and_places_within_a_foot_share_a_chainage() -> None:
    stations, warnings = gather(readings=(row(0, 9.0), row(1, 6.0), row(2, 6.1), row(3, 0.0)))
    assert [s.id for s in stations] == ["r00", "r01", "r02", "r03"]
    assert [s.chainage_m for s in stations] == pytest.approx([0.0, 3.0, 3.0, 9.0])
    assert not any("not used" in w.what for w in warnings)


def test_other_lines_rows_are_left_out() -> None:
    other = Reading("w1", "W1", Place(1.0, 1.0), 9, depth_m=m(1.0))
    stations, _warnings = gather(readings=(row(0, 0.0), other, row(1, 3.0)))
    assert [s.id for s in stations] == ["r00", "r01"]


def test_row_written_twice_is_said_to_be() -> None:
    """The same place and numbers, or three fine numbers to the last digit elsewhere."""
    cells = {"null_offset_m": m(0.17), "half_left_m": m(0.83), "half_right_m": m(0.97)}
    rows = (
        reading(0, 0.0, depth=0.93, **cells),
        reading(1, 3.0, depth=0.93, **cells),
        reading(2, 6.0, depth=0.93, null_offset_m=m(0.16), half_left_m=m(0.83), half_right_m=m(0.97)),
        reading(3, 9.0, depth=0.90),
        reading(4, 12.0, depth=0.90),
        reading(5, 12.0, depth=0.90),
    )
    stations, _warnings = gather(readings=rows)
    assert [s.repeat_of for s in stations] == [None, "r00", None, None, None, "r04"]


def test_walk_across_belongs_by_id() -> None:
    stations, warnings = gather(readings=(row(0, 0.0), row(1, 3.0)), profiles=(profile("r01", 3.05),))
    assert [(s.source, s.id, s.profile is not None) for s in stations] == [
        ("reading", "r00", False),
        ("reading", "r01", True),
    ]
    assert not any("not used" in w.what for w in warnings)


def test_walk_across_belongs_by_nearness() -> None:
    near, far = profile("p1", 3.2), profile("p2", 6.4)
    stations, _warnings = gather(readings=(row(0, 0.0), row(1, 3.0)), profiles=(near, far))
    assert [(s.source, s.id) for s in stations] == [("reading", "r00"), ("reading", "r01"), ("profile", "p2")]
    assert stations[1].profile == near
    assert stations[2].profile == far


def test_walks_and_holes_stand_where_they_lie_on_the_route_wherever_their_files_have_them() -> None:
    holes = tuple(TestHole(f"H{k}", "E1", Place(0.0, y), k) for k, y in ((2, 6.0), (3, -1.0)))
    walks = (profile("W1", 5.0), profile("W2", 9.0))
    rows, warnings = gather(
        readings=tuple(row(k, 4.0 * k) for k in range(3)), profiles=walks, test_holes=holes
    )
    assert [s.id for s in rows] == ["H3", "r00", "r01", "W1", "H2", "r02", "W2"]
    assert [s.chainage_m for s in rows] == [0.0, 1.0, 5.0, 6.0, 7.0, 9.0, 10.0]
    assert warnings == []


def test_walk_across_of_the_same_id_but_elsewhere_keeps_its_own_zero() -> None:
    """Over 1 m away: a warning, and a station of its own (the file contract)."""
    stations, warnings = gather(readings=(row(0, 0.0), row(1, 3.0)), profiles=(profile("r00", 1.5),))
    assert [(s.source, s.id) for s in stations] == [
        ("reading", "r00"),
        ("profile", "r00"),
        ("reading", "r01"),
    ]
    assert all(s.profile is None for s in stations if s.source == "reading")
    assert any("1.50 m from the reading" in w.what for w in warnings)


def test_seen_by_eye_and_from_the_side() -> None:
    hole = TestHole("h1", "E1", Place(0.0, 4.5), 2, depth_to_top_m=m(0.8))
    nothing = TestHole("h2", "E1", Place(0.0, 2.0), 3, found=False)
    shot = SideReading("s1", "E1", Place(4.0, 3.0), 4, 270.0, m(4.0), m(1.0))
    stations, warnings = gather(
        readings=(row(0, 0.0), row(1, 9.0)), test_holes=(hole, nothing), side_readings=(shot,)
    )
    assert [(s.source, s.id) for s in stations] == [
        ("reading", "r00"),
        ("test_hole", "h2"),
        ("beside", "s1"),
        ("test_hole", "h1"),
        ("reading", "r01"),
    ]
    assert [s.id for s in stations if s.answered] == ["r00", "r01"]
    assert (stations[2].place.easting_m, stations[2].place.northing_m) == pytest.approx((0.0, 3.0))
    assert stations[2].chainage_m == pytest.approx(3.0)
    assert not any("not used" in w.what for w in warnings)


@pytest.mark.parametrize(
    ("toward", "east", "north"), [(90.0, 4.0, 0.0), (0.0, 0.0, 4.0), (225.0, -2.828, -2.828)]
)
def test_line_seen_from_the_side_alone_stands_at_its_foot(toward: float, east: float, north: float) -> None:
    side = SideReading("s1", "E1", Place(0.0, 0.0), 2, toward, m(4.0), m(1.0))
    (station,), _warnings = gather(side_readings=(side,))
    assert (station.source, station.id) == ("side_reading", "s1")
    assert (station.place.easting_m, station.place.northing_m) == pytest.approx((east, north), abs=1e-3)


def test_line_with_no_rows_has_no_stations() -> None:
    assert gather() == ([], [])
