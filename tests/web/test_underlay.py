"""Lines for the plan: in the job's grid, and a reason where there are none."""

from __future__ import annotations

import json
import sqlite3
import struct
from pathlib import Path

import pytest

from plumbmark.app.underlay import UnderlayError, lines_in_grid


def geopackage(path: Path, srs: int, points: list[tuple[float, float]]) -> bytes:
    """One line in a GeoPackage, written by the standard (OGC 12-128r18, clause 2.1) with no library."""
    organization, definition = ("EPSG", srs) if srs > 0 else ("NONE", srs)
    wkb = struct.pack("<BII", 1, 2, len(points)) + b"".join(struct.pack("<dd", *p) for p in points)
    blob = b"GP\x00\x01" + struct.pack("<i", srs) + wkb
    base = sqlite3.connect(path)
    base.executescript(
        "PRAGMA application_id = 1196444487;"
        "CREATE TABLE gpkg_spatial_ref_sys (srs_name, srs_id INTEGER PRIMARY KEY, organization, "
        "organization_coordsys_id, definition, description);"
        "CREATE TABLE gpkg_contents (table_name PRIMARY KEY, data_type, identifier, description, "
        "last_change, min_x, min_y, max_x, max_y, srs_id);"
        "CREATE TABLE gpkg_geometry_columns (table_name, column_name, geometry_type_name, srs_id, z, m);"
        "CREATE TABLE kerb (fid INTEGER PRIMARY KEY, geom BLOB);"
    )
    base.execute(
        "INSERT INTO gpkg_spatial_ref_sys VALUES ('s', ?, ?, ?, 'x', '')", (srs, organization, definition)
    )
    base.execute("INSERT INTO gpkg_contents VALUES ('kerb','features','kerb','','',0,0,0,0,?)", (srs,))
    base.execute("INSERT INTO gpkg_geometry_columns VALUES ('kerb','geom','LINESTRING',?,0,0)", (srs,))
    base.execute("INSERT INTO kerb (geom) VALUES (?)", (blob,))
    base.commit()
    base.close()
    return path.read_bytes()


def test_a_geopackage_in_the_grid_of_the_job_comes_out_as_it_stands(tmp_path: Path) -> None:
    data = geopackage(tmp_path / "a.gpkg", 32615, [(500000.0, 4980000.0), (500010.0, 4980005.5)])
    (feature,) = json.loads(lines_in_grid("Kerb.GPKG", data, "EPSG:32615"))["features"]
    assert feature["geometry"]["coordinates"] == [[500000.0, 4980000.0], [500010.0, 4980005.5]]


def test_a_geopackage_in_degrees_comes_into_the_grid(tmp_path: Path) -> None:
    # On its central meridian a UTM zone has easting 500,000 m by definition.
    data = geopackage(tmp_path / "a.gpkg", 4326, [(-93.0, 45.0), (-93.0, 45.001)])
    (feature,) = json.loads(lines_in_grid("a.gpkg", data, "EPSG:32615"))["features"]
    assert [e for e, _ in feature["geometry"]["coordinates"]] == pytest.approx([500000.0] * 2, abs=1e-3)


@pytest.mark.parametrize(
    ("name", "data", "why"),
    [
        ("a.shp", b"", "none that is read"),
        ("a.gpkg", b"not a database at all", "the file"),
        ("a.geojson", b'{"type":"FeatureCollection","features":[]}', "no lines"),
    ],
)
def test_what_cannot_be_drawn_is_refused_with_the_reason(name: str, data: bytes, why: str) -> None:
    with pytest.raises(UnderlayError, match=why):
        lines_in_grid(name, data, "local")
