"""Records out of other programs' files: round trips, files by GDAL, systems and units, what is refused."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import pytest
import shapely

from plumbmark.app.export import Wanted, exported
from plumbmark.app.records_in import Source, take_records
from plumbmark.exchange.jobfolder import read_job
from plumbmark.model.layer import LayerSet
from plumbmark.model.record import Record

EAST, NORTH = 448_000.0, 5_411_000.0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A job in UTM zone 31 north with one place."""
    return job_folder(tmp_path / "job", "EPSG:32631")


def job_folder(path: Path, crs: str) -> Path:
    path.mkdir()
    (path / "job.toml").write_text(
        f'[job]\nid = "a"\ncrs = "{crs}"\n[[lines]]\nid = "E1"\n', encoding="utf-8"
    )
    east, north = (EAST, NORTH) if crs != "local" else (0.0, 0.0)
    (path / "readings.csv").write_text(
        f"reading,line,easting_m,northing_m,bearing_deg,depth_m\n1,E1,{east},{north},90,0.8\n",
        encoding="utf-8",
    )
    return path


def records(folder: Path) -> list[Record]:
    job, findings = read_job(folder)
    assert job is not None, list(map(str, findings))
    return list(job.records)


@pytest.mark.parametrize("ending", [".gpkg", ".geojson", ".dxf", ".kml", ".xlsx", ".parquet", ".csv"])
def test_what_was_exported_comes_back(layers: LayerSet, folder: Path, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"out{ending}"
    names = ("records",) if ending == ".csv" else ()
    path.write_bytes(exported(layers, Wanted(path, names))[0])
    outcome = take_records(folder, Source(path, ("RECORDS_GAS",) if ending == ".dxf" else ()))
    assert outcome.problems == ()
    (found,) = records(folder)
    assert np.allclose(found.path, ((EAST, NORTH + 1.0), (EAST + 9.0, NORTH + 1.5)), atol=2e-3)
    assert (found.id, found.utility, found.source) == ("rec-1", "gas", "+as-built")
    assert (found.depth_m, found.outside_diameter_m) == (0.7, 0.06)


@pytest.mark.parametrize(("driver", "ending"), [("GPKG", ".gpkg"), ("GeoJSON", ".geojson"), ("DXF", ".dxf")])
def test_files_written_by_gdal_are_read(folder: Path, tmp_path: Path, driver: str, ending: str) -> None:
    path = tmp_path / f"their{ending}"
    line = np.array([[EAST, NORTH, 3.0], [EAST + 5.0, NORTH + 2.0, 3.0]])
    crs = "EPSG:32631"
    if driver == "GeoJSON":
        line, crs = np.array([[2.29, 48.8505], [2.2901, 48.8505]]), "EPSG:4326"
    geometry = np.array([shapely.to_wkb(shapely.LineString(line))])
    names = ["Layer"] if driver == "DXF" else ["ID", "depth_ft", "utility"]
    values = (
        [np.array(["W-WATER"])]
        if driver == "DXF"
        else [np.array(["x 1"]), np.array([3.5]), np.array(["Water"])]
    )
    kind = "LineString Z" if line.shape[1] == 3 else "LineString"
    pyogrio.raw.write(
        path, geometry, field_data=values, fields=names, driver=driver, geometry_type=kind, crs=crs
    )
    outcome = take_records(folder, Source(path))
    assert outcome.problems == ()
    (found,) = records(folder)
    assert found.utility == "water"
    if driver != "DXF":
        assert found.depth_m == pytest.approx(3.5 * 0.3048)
        assert found.id == "x-1"
    if driver == "GPKG":
        assert np.allclose(found.path, line[:, :2])
    if driver == "GeoJSON":
        assert shapely.LineString(found.path).length == pytest.approx(
            7.34, abs=0.02
        )  # 0.0001 degrees at 48.85
        assert "EPSG:4326" in str(outcome.text)


def test_records_that_are_there_stay_as_they_are(folder: Path, tmp_path: Path) -> None:
    own = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"id": "old", "source": "grandfather", "mine": [1, 2]},
                "geometry": {"type": "LineString", "coordinates": [[2.29, 48.85], [2.291, 48.85]]},
            }
        ],
    }
    (folder / "records.geojson").write_text(json.dumps(own), encoding="utf-8")
    table = tmp_path / "new.csv"
    rows = f"id,easting_m,northing_m\nnew,{EAST},{NORTH}\nnew,{EAST + 3},{NORTH}\n"
    table.write_text(rows, encoding="utf-8")
    assert take_records(folder, Source(table)).problems == ()
    after = json.loads((folder / "records.geojson").read_text(encoding="utf-8"))
    assert after["features"][0] == own["features"][0]
    assert "crs" not in after  # it was in longitude and latitude, and so is what was added
    old, new = records(folder)
    assert (old.source, new.source) == ("grandfather", "new.csv")
    assert np.allclose(new.path, ((EAST, NORTH), (EAST + 3.0, NORTH)), atol=1e-3)
    before = (folder / "records.geojson").read_bytes()
    again = take_records(folder, Source(table))
    assert again.text is None
    assert "there are records of that id already (new)" in again.problems[0]
    assert (folder / "records.geojson").read_bytes() == before
    assert take_records(folder, Source(table, replace=True, source="survey")).problems == ()
    assert [r.source for r in records(folder)] == ["grandfather", "survey"]


def dxf(path: Path, units: int, scale: float, layer: str = "0") -> Path:
    import ezdxf.filemanagement

    drawing = ezdxf.filemanagement.new("R2010", units=units)
    space = drawing.modelspace()
    look = {"layer": layer}
    space.add_line((0.0, 0.0, 9.0), (10.0 * scale, 0.0, 9.0), dxfattribs=look)
    space.add_arc((0.0, 0.0), 5.0 * scale, 0.0, 90.0, dxfattribs=look)
    space.add_text("not a line", dxfattribs=look)
    drawing.saveas(path)
    return path


def test_a_drawing_in_feet_is_brought_to_metres_in_a_local_grid(tmp_path: Path) -> None:
    folder = job_folder(tmp_path / "job", "local")
    path = dxf(tmp_path / "plan.dxf", 2, 1.0, "GAS MAIN")
    outcome = take_records(folder, Source(path))
    assert outcome.problems == ()
    straight, arc = records(folder)
    assert shapely.LineString(straight.path).length == pytest.approx(3.048)
    assert shapely.LineString(arc.path).length == pytest.approx(0.5 * np.pi * 1.524, rel=2e-3)
    assert straight.utility == "gas"
    assert any("TEXT" in w for w in outcome.warnings)
    assert any("does not say its coordinate system" in w for w in outcome.warnings)


def test_a_drawing_in_feet_needs_its_system_where_the_job_has_one(folder: Path, tmp_path: Path) -> None:
    outcome = take_records(folder, Source(dxf(tmp_path / "plan.dxf", 2, 1.0)))
    assert outcome.text is None
    assert "--crs" in outcome.problems[0]
    wrong = take_records(folder, Source(dxf(tmp_path / "plan.dxf", 2, 1.0), crs="EPSG:32631"))
    assert "name the system that it was drawn in" in wrong.problems[0]


def test_the_two_feet_are_told_apart(tmp_path: Path) -> None:
    """A drawing that says international feet, in a system of US survey feet: 4 ft in 2,000,000 ft."""
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_text(
        '[job]\nid = "a"\ncrs = "EPSG:32611"\n[[lines]]\nid = "E1"\n', encoding="utf-8"
    )
    import ezdxf.filemanagement

    drawing = ezdxf.filemanagement.new("R2010", units=2)
    drawing.modelspace().add_line((6_280_000.0, 1_840_000.0), (6_280_100.0, 1_840_000.0))
    drawing.saveas(tmp_path / "a.dxf")
    outcome = take_records(folder, Source(tmp_path / "a.dxf", crs="EPSG:2230"))
    assert outcome.problems == ()
    assert any("US survey foot" in w and "taken for the system's" in w for w in outcome.warnings)
    assert "accuracy" in str(outcome.text)
    text = json.loads((folder / "records.geojson").read_text(encoding="utf-8"))
    (line,) = text["features"]
    assert shapely.LineString(line["geometry"]["coordinates"]).length == pytest.approx(30.48, rel=1e-3)


def test_utilities_are_only_taken_in_our_words(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    wkt = f'"LINESTRING ({EAST} {NORTH}, {EAST + 5} {NORTH})"'
    path.write_text(
        f"id,utility,line,owner,wkt\nr1,POWER,E1,somebody,{wkt}\nr2,gas,Z9,,{wkt}\n", encoding="utf-8"
    )
    outcome = take_records(folder, Source(path, utility="electric"))
    assert outcome.problems == ()
    assert [(r.id, r.utility, r.line) for r in records(folder)] == [
        ("r1", "electric", "E1"),
        ("r2", "gas", None),
    ]
    assert any("'power'" in w for w in outcome.warnings)
    assert any("owner" in w for w in outcome.warnings)


def test_cells_are_read_as_they_were_before_they_were_made_harmless(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    wkt = f'"LINESTRING ({EAST} {NORTH}, {EAST + 5} {NORTH})"'
    path.write_text(f"id,source,depth,wkt\nr1,'=cmd,3 ft 6 in,{wkt}\n", encoding="utf-8")
    assert take_records(folder, Source(path)).problems == ()
    (found,) = records(folder)
    assert (found.source, found.depth_m) == ("=cmd", 1.0668)


BAD: dict[str, tuple[str, bytes, str]] = {
    "no such ending": ("a.shp", b"", "the ending '.shp' is none that is read"),
    "not a database": ("a.gpkg", b"no database" * 100, "is not a GeoPackage"),
    "not json": ("a.geojson", b"{", "is not JSON"),
    "not geojson": ("a.geojson", b"[1]", "a FeatureCollection is needed"),
    "utf-16": ("a.csv", "id,wkt".encode("utf-16"), "is not UTF-8 text"),
    "no columns": ("a.csv", b"id,name\n1,2\n", "a column wkt is needed"),
    "bad wkt": ("a.csv", b"id,wkt\n1,LINESTRING (1)\n", "no well-known text"),
    "no number": ("a.csv", b"id,easting_m,northing_m\n1,x,2\n", "has in row 2 no easting_m and northing_m"),
    "nan": ("a.csv", b"id,easting_m,northing_m\n1,nan,2\n", "has in row 2 no easting_m"),
    "not xml": ("a.kml", b"<kml>", "is not XML"),
    "not kml": ("a.kml", b"<html/>", "is not KML"),
    "entities": ("a.kml", b'<!DOCTYPE k [<!ENTITY a "b">]><kml>&a;</kml>', "declares entities"),
    "not dxf": ("a.dxf", b"hello", "is not DXF"),
    "not a workbook": ("a.xlsx", b"hello", "is not a workbook"),
    "not parquet": ("a.parquet", b"hello", "is not GeoParquet"),
    "nothing in it": ("a.geojson", b'{"type":"FeatureCollection","features":[]}', "has no lines in it"),
    "elsewhere": (
        "a.geojson",
        b'{"type":"Feature","geometry":{"type":"LineString","coordinates":[[100,10],[100.1,10]]}}',
        "lies outside the area of use",
    ),
    "one position": (
        "a.geojson",
        b'{"type":"Feature","geometry":{"type":"LineString","coordinates":[[2,48]]}}',
        "no list of two positions",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_files_are_refused_in_words(folder: Path, tmp_path: Path, name: str) -> None:
    file, data, said = BAD[name]
    path = tmp_path / file
    path.write_bytes(data)
    outcome = take_records(folder, Source(path))
    assert outcome.text is None
    assert any(said in p for p in outcome.problems), outcome.problems
    assert not (folder / "records.geojson").exists()


def test_all_that_is_wrong_with_the_command_is_said_at_once(folder: Path, tmp_path: Path) -> None:
    outcome = take_records(folder, Source(tmp_path / "none.csv", crs="EPSG:1", utility="power"))
    assert len(outcome.problems) == 3
    assert take_records(tmp_path / "nowhere", Source(tmp_path / "a.csv")).text is None


def test_another_system_does_not_go_into_a_local_grid(tmp_path: Path, layers: LayerSet) -> None:
    folder = job_folder(tmp_path / "job", "local")
    path = tmp_path / "a.gpkg"
    path.write_bytes(exported(layers, Wanted(path))[0])
    outcome = take_records(folder, Source(path))
    assert "a grid of its own" in outcome.problems[0]


def test_a_workbook_that_unpacks_to_too_much_is_refused(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for i in range(5):
            packed.writestr(f"xl/{i}.xml", b" " * (60 * 1024 * 1024))
    assert "unpacks to" in take_records(folder, Source(path)).problems[0]


def test_layers_are_named_where_the_wanted_one_is_missing(
    folder: Path, tmp_path: Path, layers: LayerSet
) -> None:
    path = tmp_path / "a.gpkg"
    path.write_bytes(exported(layers, Wanted(path))[0])
    outcome = take_records(folder, Source(path, ("nope",)))
    assert "there are" in outcome.problems[0]
    assert "records" in outcome.problems[0]
    whole: Any = take_records(folder, Source(path))
    assert any("--layer takes others" in w for w in whole.warnings)
