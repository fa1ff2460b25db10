"""Coordinate systems, baselines, swing ties."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbmark.base.errors import CoordinateSystemError, TieError
from plumbmark.survey.baselines import from_baseline
from plumbmark.survey.crs import (
    from_longitude_latitude,
    grid_system,
    outside_area,
    outside_area_deg,
    scale_factor,
)
from plumbmark.survey.ties import Tie, place_from_ties, settle_sides


class TestCrs:
    def test_a_zone_spanning_the_180th_meridian(self) -> None:
        fiji = grid_system("EPSG:3460")
        assert fiji.area_deg is not None
        assert fiji.area_deg[0] > fiji.area_deg[2]  # west of it is 176 east, east of it is 178 west
        assert outside_area_deg(fiji, [177.5, -179.5, 0.0, 177.5], [-17.8, -17.0, -17.8, 17.8]).tolist() == [
            False,
            False,
            True,
            True,
        ]

    def test_inside_and_outside_one_zone(self) -> None:
        zone = grid_system("epsg:32631")
        assert zone.code == "EPSG:32631"
        easting = [573360.0, 6355870.0, 0.0, 1e8, math.inf]
        northing = [6355870.0, 573360.0, 0.0, 1e8, 0.0]
        assert outside_area(zone, easting, northing).tolist() == [False, True, True, True, True]
        assert outside_area(zone, [], []).size == 0

    def test_northing_first_in_the_register_is_easting_first_here(self) -> None:
        # EPSG:31467 lists northing before easting; 9 degrees east is its central meridian, FE 3 500 000 m.
        easting, northing, _ = from_longitude_latitude(grid_system("EPSG:31467"), [9.0], [51.0])
        assert easting[0] == pytest.approx(3_500_000, abs=200)
        assert northing[0] == pytest.approx(5_650_000, abs=3000)

    def test_there_and_back(self) -> None:
        zone = grid_system("EPSG:32632")
        longitude, latitude = np.array([7.5, 9.0, 10.9]), np.array([48.0, 55.5, 60.1])
        easting, northing, accuracy = from_longitude_latitude(zone, longitude, latitude)
        assert accuracy == 0.0
        from pyproj import Transformer

        back = Transformer.from_crs("EPSG:32632", "EPSG:4326", always_xy=True)
        again = back.transform(easting, northing)
        assert np.allclose(again, (longitude, latitude), rtol=0, atol=1e-10)

    def test_where_there_is_no_transformation(self) -> None:
        easting, northing, accuracy = from_longitude_latitude(
            grid_system("EPSG:32631"), [math.nan, 500.0], [50.0, 50.0]
        )
        assert not np.isfinite(easting).any()
        assert not np.isfinite(northing).any()
        assert math.isnan(accuracy)

    def test_accuracy_is_told(self) -> None:
        # Without the national grid shift file, a Helmert shift good to 2 m (EPSG:1314) is the best there is.
        *_, accuracy = from_longitude_latitude(grid_system("EPSG:27700"), [-0.5], [51.5])
        assert 0.5 < accuracy <= 5.0

    def test_scale(self) -> None:
        zone = grid_system("EPSG:32631")
        assert scale_factor(zone, 500_000.0, 5_500_000.0) == pytest.approx(0.9996, abs=1e-6)
        assert scale_factor(grid_system("EPSG:3857"), 0.0, 8_399_737.89) == pytest.approx(2.0, rel=0.01)

    @pytest.mark.parametrize(
        "code", ["", "EPSG:", "EPSG:1", "EPSG:abc", "32631", "EPSG:٣٢٦٣١", "EPSG:32631 "]
    )
    def test_no_code(self, code: str) -> None:
        with pytest.raises(CoordinateSystemError):
            grid_system(code)


class TestBaselines:
    def test_right_is_right(self) -> None:
        # Towards the north-east, right is south-east.
        easting, northing = from_baseline(
            [0.0, math.sqrt(2)], [math.sqrt(2), 0.0], start=(10.0, 20.0), end=(15.0, 25.0)
        )
        assert np.allclose(easting, [11.0, 11.0])
        assert np.allclose(northing, [19.0, 21.0])

    def test_before_and_beyond(self) -> None:
        easting, _ = from_baseline([-5.0, 40.0], [0.0, 0.0], start=(0.0, 0.0), end=(30.0, 0.0))
        assert easting.tolist() == [-5.0, 40.0]

    def test_of_no_length(self) -> None:
        with pytest.raises(ValueError, match="differ"):
            from_baseline(1.0, 1.0, start=(3.0, 4.0), end=(3.0, 4.0))


CORNERS = [(0.0, 0.0), (10.0, 0.0), (5.0, 9.0), (-3.0, 7.0)]


def tied(
    easting: float, northing: float, corners: list[tuple[float, float]], errors: tuple[float, ...] = ()
) -> list[Tie]:
    add = errors or (0.0,) * len(corners)
    return [
        Tie(e, n, math.hypot(easting - e, northing - n) + error)
        for (e, n), error in zip(corners, add, strict=True)
    ]


class TestTies:
    def test_exact_distances(self) -> None:
        place = place_from_ties(tied(4.0, 3.0, CORNERS))
        assert (place.easting_m, place.northing_m) == (pytest.approx(4.0), pytest.approx(3.0))
        assert np.allclose(place.residuals_m, 0.0, atol=1e-9)
        assert place.other is None

    def test_far_from_the_origin(self) -> None:
        corners = [(e + 573000.0, n + 6355000.0) for e, n in CORNERS]
        place = place_from_ties(tied(573004.0, 6355003.0, corners))
        assert (place.easting_m, place.northing_m) == (
            pytest.approx(573004.0, abs=1e-6),
            pytest.approx(6355003.0, abs=1e-6),
        )

    def test_two_distances_leave_two_places(self) -> None:
        place = place_from_ties(tied(4.0, 3.0, CORNERS[:2]))
        # From the first corner to the second is east; right of it is south.
        assert (place.easting_m, place.northing_m) == (pytest.approx(4.0), pytest.approx(-3.0))
        assert place.other == (pytest.approx(4.0), pytest.approx(3.0))

    def test_corners_in_a_row_leave_two_places(self) -> None:
        place = place_from_ties(tied(4.0, 3.0, [(0.0, 0.0), (5.0, 0.0), (10.0, 0.0)]))
        assert place.other == (pytest.approx(4.0), pytest.approx(3.0))

    def test_residuals_are_taped_minus_computed(self) -> None:
        place = place_from_ties(tied(4.0, 3.0, CORNERS, (0.0, 0.0, 0.3, 0.0)))
        away = [math.hypot(place.easting_m - e, place.northing_m - n) for e, n in CORNERS]
        taped = [math.hypot(4.0 - e, 3.0 - n) + 0.3 * (k == 2) for k, (e, n) in enumerate(CORNERS)]
        assert np.allclose(place.residuals_m, np.subtract(taped, away))
        assert max(place.residuals_m) > 0.1
        assert place.sigma_m > place_from_ties(tied(4.0, 3.0, CORNERS)).sigma_m

    def test_sigma_against_many_errors_drawn(self) -> None:
        """The stated sigma is that of a coordinate over repeated taping with the tape's own 2 cm."""
        rng = np.random.default_rng(5)
        off = []
        for _ in range(800):
            place = place_from_ties(tied(4.0, 3.0, CORNERS, tuple(rng.normal(0.0, 0.02, 4))))
            off.append((place.easting_m - 4.0, place.northing_m - 3.0))
        seen = math.sqrt(np.square(off).mean())
        stated = place_from_ties(tied(4.0, 3.0, CORNERS)).sigma_m
        assert seen == pytest.approx(stated, rel=0.08)

    def test_in_line_with_its_corners(self) -> None:
        """Not held across the line to first order: some decimetres, neither nothing nor kilometres."""
        place = place_from_ties(tied(4.0, 0.0, [(0.0, 0.0), (10.0, 0.0)]))
        assert (place.easting_m, place.northing_m) == (
            pytest.approx(4.0, abs=0.01),
            pytest.approx(0.0, abs=0.35),
        )
        assert 0.1 < place.sigma_m < 1.0

    def test_circles_that_just_miss(self) -> None:
        place = place_from_ties([Tie(0.0, 0.0, 4.95), Tie(10.0, 0.0, 4.95)])
        assert place.residuals_m == (pytest.approx(-0.05, abs=1e-3), pytest.approx(-0.05, abs=1e-3))

    @pytest.mark.parametrize(
        "ties",
        [
            [],
            [Tie(0.0, 0.0, 5.0)],
            [Tie(0.0, 0.0, 5.0), Tie(0.0, 0.0, 5.1)],
            [Tie(0.0, 0.0, 2.0), Tie(10.0, 0.0, 3.0)],
            [Tie(0.0, 0.0, 30.0), Tie(10.0, 0.0, 3.0)],
        ],
    )
    def test_impossible(self, ties: list[Tie]) -> None:
        with pytest.raises(TieError):
            place_from_ties(ties)

    def test_the_side_of_what_is_known(self) -> None:
        doubtful = place_from_ties(tied(4.0, 3.0, CORNERS[:2]))
        (settled,) = settle_sides([doubtful], [(5.0, 6.0)])
        assert (settled.easting_m, settled.northing_m) == (pytest.approx(4.0), pytest.approx(3.0))
        assert settled.other == (pytest.approx(4.0), pytest.approx(-3.0))

    def test_places_of_one_walk_lie_on_one_side(self) -> None:
        """Tied to the wall's corners in this order or that, the walk does not jump through the house."""
        places = [
            place_from_ties(tied(e, -3.0, CORNERS[:2] if k % 2 else CORNERS[1::-1]))
            for k, e in enumerate((2, 4, 6, 8))
        ]
        assert len({round(p.northing_m) for p in places}) == 2
        assert len({round(p.northing_m) for p in settle_sides(places)}) == 1
