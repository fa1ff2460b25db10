"""Worked examples of the EPSG guidance note on coordinate conversions, and lengths of feet."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from plumbmark.base.units import FOOT_M, INCH_M
from plumbmark.survey.crs import from_longitude_latitude, grid_system

# IOGP Publication 373-7-2 (EPSG Guidance Note 7-2), Transverse Mercator, method 9807, the worked example of
# OSGB36 / British National Grid: 50 deg 30' N, 0 deg 30' E -> E 577274.99 m, N 69740.50 m. The printed
# formula is a truncated series; the same exactly (Krueger, n^4) is 577274.984, 69740.492, hence 0.01 m.
OSGB = (0.5, 50.5, 577274.99, 69740.50)


def test_transverse_mercator_of_the_national_grid() -> None:
    longitude, latitude, easting, northing = OSGB
    # On its own datum (EPSG:4277), as the example has it; `from_longitude_latitude` starts from WGS 84.
    to_grid = Transformer.from_crs(CRS.from_epsg(4277), grid_system("EPSG:27700").crs, always_xy=True)
    assert to_grid.transform(longitude, latitude) == pytest.approx((easting, northing), abs=0.01)


def test_the_datum_shift_of_the_national_grid() -> None:
    # WGS 84 to OSGB36 by the published seven parameters (EPSG:1314, good to 2 m; as in the Ordnance
    # Survey's guide to coordinate systems, section 6.6, from memory), worked here in geocentric coordinates
    # step by step.
    shift = np.array([446.448, -125.157, 542.060])  # m, OSGB36 to WGS 84, position vector rotations
    rx, ry, rz = np.radians(np.array([0.1502, 0.2470, 0.8421]) / 3600)
    scale = 1 - 20.4894e-6
    turn = np.array([[1.0, -rz, ry], [rz, 1.0, -rx], [-ry, rx, 1.0]])
    airy = 6377563.396, 1 / 299.3249646
    at = geocentric(0.5, 50.5, 6378137.0, 1 / 298.257223563)
    longitude, latitude = geodetic(np.linalg.solve(scale * turn, at - shift), *airy)
    to_grid = Transformer.from_crs(CRS.from_epsg(4277), CRS.from_epsg(27700), always_xy=True)
    expected = to_grid.transform(longitude, latitude)
    e, n, accuracy = from_longitude_latitude(grid_system("EPSG:27700"), [0.5], [50.5])
    assert (e[0], n[0]) == pytest.approx(expected, abs=0.05)
    assert accuracy == 2.0
    assert math.dist(expected, (577274.99, 69740.50)) > 100.0  # what forgetting the datum costs


def geocentric(longitude: float, latitude: float, axis: float, flattening: float) -> NDArray[np.float64]:
    lon, lat, e2 = math.radians(longitude), math.radians(latitude), flattening * (2 - flattening)
    nu = axis / math.sqrt(1 - e2 * math.sin(lat) ** 2)
    return np.array(
        [
            nu * math.cos(lat) * math.cos(lon),
            nu * math.cos(lat) * math.sin(lon),
            nu * (1 - e2) * math.sin(lat),
        ]
    )


def geodetic(at: NDArray[np.float64], axis: float, flattening: float) -> tuple[float, float]:
    x, y, z = at
    e2, p = flattening * (2 - flattening), math.hypot(x, y)
    lat = math.atan2(z, p * (1 - e2))
    for _ in range(10):
        nu = axis / math.sqrt(1 - e2 * math.sin(lat) ** 2)
        lat = math.atan2(z + e2 * nu * math.sin(lat), p)
    return math.degrees(math.atan2(y, x)), math.degrees(lat)


def test_geocentric_conversion() -> None:
    # The same note, method 9602, WGS 84: 53 deg 48' 33.820" N, 2 deg 07' 46.380" E, 73.0 m -> X
    # 3771793.968, Y 140253.342, Z 5124304.349 m (all to the millimetre).
    latitude, longitude = 53 + 48 / 60 + 33.820 / 3600, 2 + 7 / 60 + 46.380 / 3600
    to_earth = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    assert to_earth.transform(longitude, latitude, 73.0) == pytest.approx(
        (3771793.968, 140253.342, 5124304.349), abs=0.001
    )


def test_utm_against_its_definition() -> None:
    # On the central meridian easting is 500 000 m, and northing 0.9996 of the meridian arc: from the
    # equator to 45 deg N on WGS 84 that is 4 984 944.378 m (Moritz 2000, GRS 80 has 4 984 944.378; the two
    # differ by 0.05 mm).
    e, n, accuracy = from_longitude_latitude(grid_system("EPSG:32631"), [3.0], [45.0])
    assert e[0] == pytest.approx(500_000.0, abs=1e-6)
    assert n[0] == pytest.approx(0.9996 * 4_984_944.378, abs=0.002)
    assert accuracy == 0.0


def test_feet() -> None:
    # Exact by the agreement of 1959: 0.3048 m and 0.0254 m. The US survey foot, 1200/3937 m, is 2 ppm
    # longer: over 2,000,000 ft that is 1.219 m, more than a tolerance zone. Systems that count in it are
    # refused, by name.
    assert (FOOT_M, INCH_M) == (0.3048, 0.0254)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        unit = CRS.from_epsg(2229).axis_info[0].unit_conversion_factor
    assert unit == pytest.approx(1200 / 3937, rel=1e-12)
    assert 2_000_000 * (unit - FOOT_M) == pytest.approx(1.219, abs=0.001)
