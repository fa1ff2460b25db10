"""The four ways to give a place, and drawings, in every system they can come in."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

GRID = '[job]\nid = "m"\ncrs = "EPSG:32631"\n[[lines]]\nid = "E1"\n'
LOCAL = '[job]\nid = "m"\n[[lines]]\nid = "E1"\n'
# A baseline that runs north-east: right of it is south-east.
LINE = (
    '[[baselines]]\nid = "B1"\nstart_easting_m = 100.0\nstart_northing_m = 200.0\n'
    "end_easting_m = 130.0\nend_northing_m = 230.0\n"
)
CORNERS = "".join(
    f'[[corners]]\nid = "{name}"\neasting_m = {e}\nnorthing_m = {n}\n'
    for name, e, n in (("a", 0.0, 0.0), ("b", 10.0, 0.0), ("c", 5.0, 9.0))
)
DIAGONAL = math.sqrt(0.5)


def place(folder: Any, job: str, columns: str, cells: str, **files: str) -> tuple[Any, list[str]]:
    text = f"reading,line,bearing_deg,{columns}\nr1,E1,90,{cells}\n"
    names = {"ties": "ties.csv"}
    folder.write({"job.toml": job, "readings.csv": text, **{names[k]: v for k, v in files.items()}})
    read, warnings = folder.accepted()
    return read.readings[0].place, warnings


def test_longitude_and_latitude(empty: Any) -> None:
    got, warnings = place(empty, GRID, "longitude_deg,latitude_deg", "4.2,57.3")
    assert warnings == []
    # Transverse Mercator by Krueger's series to n^4, worked apart from PROJ.
    easting, northing = krueger(4.2, 57.3, 3.0)
    assert (got.easting_m, got.northing_m) == (
        pytest.approx(easting, abs=1e-3),
        pytest.approx(northing, abs=1e-3),
    )


def krueger(longitude: float, latitude: float, meridian: float) -> tuple[float, float]:
    """UTM north on WGS 84 (Krueger 1912, as in Karney 2011, to the fourth order of n)."""
    axis, flattening, scale = 6378137.0, 1 / 298.257223563, 0.9996
    n = flattening / (2 - flattening)
    radius = axis / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    alpha = (
        n / 2 - 2 * n**2 / 3 + 5 * n**3 / 16 + 41 * n**4 / 180,
        13 * n**2 / 48 - 3 * n**3 / 5 + 557 * n**4 / 1440,
        61 * n**3 / 240 - 103 * n**4 / 140,
        49561 * n**4 / 161280,
    )
    lat, lon = math.radians(latitude), math.radians(longitude - meridian)
    ecc = math.sqrt(flattening * (2 - flattening))
    t = math.sinh(math.atanh(math.sin(lat)) - ecc * math.atanh(ecc * math.sin(lat)))
    xi, eta = math.atan2(t, math.cos(lon)), math.atanh(math.sin(lon) / math.hypot(1.0, t))
    north = xi + sum(a * math.sin(2 * k * xi) * math.cosh(2 * k * eta) for k, a in enumerate(alpha, 1))
    east = eta + sum(a * math.cos(2 * k * xi) * math.sinh(2 * k * eta) for k, a in enumerate(alpha, 1))
    return 500_000 + scale * radius * east, scale * radius * north


def test_a_transformation_that_is_not_exact_is_told_of(empty: Any) -> None:
    _, warnings = place(empty, GRID.replace("32631", "27700"), "longitude_deg,latitude_deg", "-0.5,51.5")
    assert len(warnings) == 1
    assert warnings[0].startswith(
        "readings.csv row 2 longitude_deg: longitude and latitude reach EPSG:27700 by a"
    )


@pytest.mark.parametrize(
    ("station", "offset", "east", "north"),
    [
        ("0", "0", 0.0, 0.0),
        ("10", "0", 10.0, 0.0),
        ("10", "2", 12.0, -2.0),
        ("10", "-2", 8.0, 2.0),
        ("-5", "0", -5.0, 0.0),
    ],
)
def test_baseline(empty: Any, station: str, offset: str, east: float, north: float) -> None:
    # Station along (1, 1)/sqrt 2 and offset along (1, -1)/sqrt 2.
    got, _ = place(empty, LOCAL + LINE, "baseline,station_m,offset_m", f"B1,{station},{offset}")
    along, across = float(station), float(offset)
    assert got.easting_m == pytest.approx(100.0 + DIAGONAL * (along + across))
    assert got.northing_m == pytest.approx(200.0 + DIAGONAL * (along - across))
    assert math.isclose(east + north, along + across - across if across == 0 else along, abs_tol=1e-9)


def test_baseline_in_feet_and_inches(empty: Any) -> None:
    got, _ = place(empty, LOCAL + LINE, "baseline,station_ft,offset", "B1,10.00,2 ft 6 in")
    assert math.hypot(got.easting_m - 100.0, got.northing_m - 200.0) == pytest.approx(
        math.hypot(3.048, 0.762)
    )


def test_paced_station_as_a_range(empty: Any) -> None:
    got, _ = place(empty, LOCAL + LINE, "baseline,station_m,offset_m", "B1,10..12,0.000")
    # Uniform over 2 m along: 2/sqrt 12, shared between both directions of the ground, beside a fix of 2 cm.
    assert got.sigma_m == pytest.approx(math.hypot(0.02, math.sqrt(2.0**2 / 12 / 2)), rel=1e-3)


def test_ties(empty: Any) -> None:
    ties = "place,corner,distance_m\nP1,a,5.000\nP1,b,6.708\nP1,c,6.083\n"
    got, warnings = place(empty, LOCAL + CORNERS, "place", "P1", ties=ties)
    assert warnings == []
    assert (got.easting_m, got.northing_m) == (pytest.approx(4.0, abs=0.01), pytest.approx(3.0, abs=0.01))
    assert got.sigma_m == 0.02  # three tapes make 1.6 cm of it, and no fix is thought better than 2 cm


def test_ties_in_feet_and_inches_and_sigma_stated(empty: Any) -> None:
    ties = "place,corner,distance\nP1,a,16 ft 5 in\nP1,b,22 ft 0 in\nP1,c,19 ft 11 in\n"
    got, _ = place(empty, LOCAL + CORNERS, "place,position_sigma_m", "P1,0.1", ties=ties)
    assert (got.easting_m, got.northing_m) == (pytest.approx(4.0, abs=0.03), pytest.approx(3.0, abs=0.03))
    assert got.sigma_m == 0.1


def test_two_ties_take_the_side_of_the_other_places(empty: Any) -> None:
    rows = "r1,E1,,,P1\nr2,E1,4.0,5.0,\n"
    empty.write(
        {
            "job.toml": LOCAL + CORNERS,
            "readings.csv": f"reading,line,easting_m,northing_m,place\n{rows}",
            "ties.csv": "place,corner,distance_m\nP1,a,5.00\nP1,b,6.71\n",
        }
    )
    job, warnings = empty.accepted()
    assert job.readings[0].place.northing_m == pytest.approx(3.0, abs=0.02)
    assert len(warnings) == 1
    assert "nearer to the other places, not 4.00, -3.00" in warnings[0]


def test_two_ties_and_nothing_else_are_on_the_right_of_their_corners(empty: Any) -> None:
    ties = "place,corner,distance_m\nP1,b,6.71\nP1,a,5.00\n"
    got, warnings = place(empty, LOCAL + CORNERS, "place", "P1", ties=ties)
    assert got.northing_m == pytest.approx(3.0, abs=0.02)  # from b westward to a, north is right
    assert len(warnings) == 1
    assert "on the right going from its first corner" in warnings[0]


def test_rows_may_use_different_ways(empty: Any) -> None:
    columns = "reading,line,easting_m,northing_m,baseline,station_m,offset_m,place"
    rows = "r1,E1,4.0,5.0,,,,\nr2,E1,,,B1,10,0,\nr3,E1,,,,,,P1\n"
    ties = "place,corner,distance_m\nP1,a,5.00\nP1,b,6.71\nP1,c,6.08\n"
    empty.write({"job.toml": LOCAL + LINE + CORNERS, "readings.csv": f"{columns}\n{rows}", "ties.csv": ties})
    job, warnings = empty.accepted()
    assert warnings == []
    assert [round(r.place.northing_m) for r in job.readings] == [5, 207, 3]


def test_walk_across_by_baseline(empty: Any) -> None:
    """Its table has two columns `offset_m`: of the zero point, and along the walk."""
    head = "profile,line,baseline,station_m,offset_m,bearing_deg,offset_m,horizontal"
    rows = "x,E1,B1,10,2,45,-0.5,3\nx,E1,B1,10,2,45,0.5,3.1\n"
    empty.write({"job.toml": LOCAL + LINE, "profiles.csv": f"{head}\n{rows}"})
    (walk,) = empty.accepted()[0].profiles
    assert walk.place.easting_m == pytest.approx(100.0 + DIAGONAL * 12)
    assert [p.offset_m.value for p in walk.points] == [-0.5, 0.5]


def drawing(geometry: object, crs: object = None, **properties: object) -> str:
    feature = {"type": "Feature", "geometry": geometry, "properties": properties or None}
    return json.dumps({"type": "FeatureCollection", "features": [feature], **({"crs": crs} if crs else {})})


def line(*positions: tuple[float, ...]) -> dict[str, object]:
    return {"type": "LineString", "coordinates": positions}


ROWS = "reading,line,easting_m,northing_m\nr1,E1,573360,6355870\nr2,E1,573364,6355870\n"


def test_record_in_degrees(empty: Any) -> None:
    empty.write(
        {
            "job.toml": GRID,
            "readings.csv": ROWS,
            "records.geojson": drawing(line((4.2, 57.3, 12.0), (4.201, 57.3))),
        }
    )
    (record,) = empty.accepted()[0].records
    assert record.id == "record-1"
    assert record.path[0] == pytest.approx(krueger(4.2, 57.3, 3.0), abs=1e-3)


@pytest.mark.parametrize(
    "crs",
    [
        {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32631"}},
        {"type": "name", "properties": {"name": "EPSG:32631"}},
        "EPSG:32631",
    ],
)
def test_record_in_the_system_of_the_job(empty: Any, crs: object) -> None:
    geometry = line((573360.0, 6355870.0), (573390.0, 6355870.0))
    empty.write({"job.toml": GRID, "readings.csv": ROWS, "records.geojson": drawing(geometry, crs)})
    assert empty.accepted()[0].records[0].path[1] == (573390.0, 6355870.0)


def test_drawings_of_a_local_job_are_local(minimal: Any) -> None:
    geometry = line((1.0, 2.0), (300.0, -500.0))
    minimal.write({"dig.geojson": drawing(geometry, kind="trench", width_m=0.6, depths_m=[1.0, 1.2])})
    (dig,) = minimal.accepted()[0].digs
    assert (dig.id, dig.rings, dig.width_m) == ("dig-1", (((1.0, 2.0), (300.0, -500.0)),), 0.6)


def test_record_of_several_lines_and_an_id_outside_its_properties(minimal: Any) -> None:
    geometry = {"type": "MultiLineString", "coordinates": [[[0, 0], [1, 0]], [[2, 0], [3, 0]]]}
    feature = {"type": "Feature", "id": 7, "geometry": geometry, "properties": {"depth_m": None}}
    minimal.write({"records.geojson": json.dumps(feature)})
    job, warnings = minimal.accepted()
    assert warnings == []
    assert [(r.id, r.path[0]) for r in job.records] == [("7", (0.0, 0.0)), ("7.2", (2.0, 0.0))]


def test_excavation_with_depths_at_its_corners(minimal: Any) -> None:
    ring = [[0, 0], [4, 0], [4, 3], [0, 0]]
    for depths in ([1, 1, 2], [1, 1, 2, 1]):
        geometry = {"type": "Polygon", "coordinates": [ring]}
        minimal.write({"dig.geojson": drawing(geometry, kind="excavation", depths_m=depths)})
        assert minimal.accepted()[0].digs[0].depths_m == tuple(depths)


def test_an_unknown_property_is_told_of_once(minimal: Any) -> None:
    features = [
        {"type": "Feature", "geometry": line((0, k), (1, k)), "properties": {"colour": "red"}}
        for k in range(50)
    ]
    minimal.write({"records.geojson": json.dumps({"type": "FeatureCollection", "features": features})})
    _, warnings = minimal.accepted()
    assert len(warnings) == 1
    assert warnings[0].startswith("records.geojson feature 1 colour: ")
