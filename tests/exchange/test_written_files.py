"""Files for other programs, opened by other programs: GDAL, ezdxf's audit, openpyxl, pyarrow."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import numpy as np
import pyogrio
import pyogrio.raw
import pytest
import shapely

from plumbmark.exchange.dxf import dxf_bytes
from plumbmark.exchange.geojson import geojson_bytes
from plumbmark.exchange.geopackage import geopackage_bytes
from plumbmark.exchange.geoparquet import geoparquet_bytes
from plumbmark.exchange.kml import kml_bytes
from plumbmark.exchange.reproject import reprojected
from plumbmark.exchange.table import csv_bytes, xlsx_bytes
from plumbmark.model.layer import LayerSet, Shape

WRITERS: dict[str, Callable[[LayerSet], bytes]] = {
    ".gpkg": geopackage_bytes,
    ".geojson": geojson_bytes,
    ".dxf": dxf_bytes,
    ".kml": kml_bytes,
    ".csv": lambda layers: csv_bytes(layers, "readings"),
    ".xlsx": xlsx_bytes,
    ".parquet": geoparquet_bytes,
}


def read(path: Path, layer: str | None = None) -> tuple[dict[str, Any], list[Any]]:
    """Columns and shapes of a layer as GDAL reads them."""
    meta, _, geometry, columns = pyogrio.raw.read(path, layer=layer)
    cells = dict(zip(meta["fields"], columns, strict=True))
    return cells | {"crs": meta["crs"]}, list(shapely.from_wkb(geometry))


@pytest.mark.parametrize("ending", WRITERS)
def test_the_same_layers_give_the_same_file(layers: LayerSet, ending: str) -> None:
    assert WRITERS[ending](layers) == WRITERS[ending](layers)


@pytest.mark.parametrize("ending", WRITERS)
def test_a_job_with_nothing_in_it_is_a_file_all_the_same(layers_with, ending: str) -> None:
    assert WRITERS[ending](layers_with(0))


def test_geopackage_is_read_by_gdal_layer_by_layer(layers: LayerSet, tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    path.write_bytes(geopackage_bytes(layers))
    kinds = dict(pyogrio.list_layers(path).tolist())
    assert list(kinds)[: len(layers.layers)] == [layer.name for layer in layers.layers]
    for layer in layers.layers:
        cells, shapes = read(path, layer.name)
        assert cells["crs"] == "EPSG:32631"
        assert len(shapes) == len(layer.features), layer.name
        for i, (feature, shape) in enumerate(zip(layer.features, shapes, strict=True)):
            assert (shape is None) == (feature.geometry is None)
            if shape is not None:
                assert shape.is_valid
                assert shape.has_z == layer.upright
                written: Any = feature.geometry
                numbers = np.array(written if layer.shape is Shape.POINT else list(flat(written)))
                assert np.array_equal(
                    shapely.get_coordinates(shape, include_z=layer.upright).ravel(), numbers.ravel()
                )
            for column, cell in zip(layer.columns, feature.cells, strict=True):
                found = cells[column.name][i]
                if cell is None:
                    assert found is None or np.isnan(found)
                else:
                    assert found == cell, column.name


def flat(geometry: Any) -> Any:
    """All numbers of nested tuples."""
    for part in geometry:
        if isinstance(part, tuple):
            yield from flat(part)
        else:
            yield part


def test_geopackage_is_sound_and_every_layer_has_its_style(layers: LayerSet, tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    path.write_bytes(geopackage_bytes(layers))
    base = sqlite3.connect(path)
    assert base.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert base.execute("PRAGMA foreign_key_check").fetchall() == []
    assert base.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
    styled = base.execute(
        "SELECT f_table_name, styleQML, styleSLD, useAsDefault FROM layer_styles"
    ).fetchall()
    assert [row[0] for row in styled] == [layer.name for layer in layers.layers]
    for _, qml, sld, default in styled:
        assert default == 1
        assert Xml.fromstring(qml).find("renderer-v2/symbols/symbol") is not None
        assert Xml.fromstring(sld).tag.endswith("StyledLayerDescriptor")
    described = base.execute("SELECT table_name, column_name FROM gpkg_data_columns").fetchall()
    assert len(described) == sum(len(layer.columns) for layer in layers.layers)
    notes = [row[0] for row in base.execute("SELECT note FROM about")]
    assert any("US survey" in n or "Unit: metre" in n for n in notes)
    assert any("SHA-256" in n for n in notes)
    base.close()


def test_below_ground_is_below_ground(layers: LayerSet) -> None:
    (line,) = [x for x in layers.layers if x.name == "solved_lines_below_ground"]
    path: Any = line.features[0].geometry
    assert [round(p[2], 9) for p in path] == [-0.9] * 5


def test_bands_hold_the_places(layers: LayerSet) -> None:
    by_name = {x.name: x for x in layers.layers}
    band = shapely.MultiPolygon([(a[0], a[1:]) for a in by_name["bands"].features[0].geometry])
    for feature in by_name["solved_places"].features:
        assert band.buffer(1e-6).contains(shapely.Point(feature.geometry))
    assert band.area == pytest.approx(12.0 * 0.18, rel=0.01)


def test_geojson_is_in_degrees_and_turned_as_the_rfc_wants(layers: LayerSet, tmp_path: Path) -> None:
    brought, way = reprojected(layers, "EPSG:4326")
    assert way is not None
    path = tmp_path / "a.geojson"
    path.write_bytes(geojson_bytes(brought))
    cells, shapes = read(path)
    assert cells["crs"] == "EPSG:4326"
    (at,) = [i for i, name in enumerate(cells["layer"]) if name == "corners"]
    # The corner lies some 52 km west of the middle of the zone, 3 degrees east.
    assert shapes[at].x == pytest.approx(2.29, abs=0.01)
    assert shapes[at].y == pytest.approx(48.85, abs=0.01)
    assert not any(shape.has_z for shape in shapes if shape is not None)
    for feature in json.loads(path.read_bytes())["features"]:
        if feature["geometry"] and feature["geometry"]["type"] == "MultiPolygon":
            for area in feature["geometry"]["coordinates"]:
                assert shapely.LinearRing(area[0]).is_ccw


def test_local_geojson_says_that_it_is_local(local_layers: LayerSet) -> None:
    root = json.loads(geojson_bytes(local_layers))
    assert root["crs"]["properties"]["name"] == "local"


def test_dxf_passes_the_audit_with_its_layers_in_colour(layers: LayerSet, tmp_path: Path) -> None:
    from ezdxf import recover

    path = tmp_path / "a.dxf"
    path.write_bytes(dxf_bytes(layers))
    drawing, audit = recover.readfile(path)
    assert audit.errors == []
    assert audit.fixes == []
    assert drawing.units == 6
    look = {layer.dxf.name: (layer.color, layer.rgb) for layer in drawing.layers}
    assert look["SOLVED_LINES_BELOW_GROUND_ELECTRIC"] == (1, (210, 20, 30))
    assert look["RECORDS_GAS"] == (2, (255, 212, 0))
    (line,) = drawing.modelspace().query('POLYLINE[layer=="SOLVED_LINES_BELOW_GROUND_ELECTRIC"]')
    assert [round(v.dxf.location.z, 9) for v in line.vertices] == [-0.9] * 5
    assert line.is_3d_polyline
    data = dict(row.value.split("=", 1) for row in line.get_xdata("PLUMBMARK"))
    assert data["line"] == "E1"
    shapes = read(path)[1]  # GDAL reads it too
    assert sum(isinstance(s, shapely.LineString) and s.has_z for s in shapes) >= 2


@pytest.mark.parametrize(
    ("system", "units", "foot"), [("EPSG:2230", 21, 1200 / 3937), ("EPSG:32611", 6, 1.0)]
)
def test_dxf_counts_in_the_foot_of_its_system(system: str, units: int, foot: float, only) -> None:
    """California zone 6 counts US survey feet; depths are drawn in the same unit as places."""
    import ezdxf.filemanagement

    from plumbmark.model.layer import Attribute, Feature, Holds, Layer

    line = Layer(
        "records",
        "",
        Shape.LINE,
        (Attribute("id", Holds.TEXT, ""),),
        [Feature(((480_000.0, 3_620_000.0, -1.0), (480_010.0, 3_620_000.0, -1.0)), ("x",))],
        upright=True,
    )
    layers = LayerSet("a", "", "EPSG:32611", (line,), ())
    drawing = ezdxf.filemanagement.read(io.StringIO(dxf_bytes(reprojected(layers, system)[0]).decode()))
    assert drawing.units == units
    (found,) = drawing.modelspace().query("POLYLINE")
    a, b = (v.dxf.location for v in found.vertices)
    assert (b - a).magnitude * foot == pytest.approx(10.0, rel=1e-3)
    assert a.z == pytest.approx(-1.0 / foot)


def test_kml_is_read_by_gdal(layers: LayerSet, tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    path.write_bytes(kml_bytes(reprojected(layers, "EPSG:4326")[0]))
    names = dict(pyogrio.list_layers(path).tolist())
    assert set(names) == {layer.name for layer in layers.layers if layer.features}
    cells, shapes = read(path, "corners")
    assert cells["crs"] == "EPSG:4326"
    assert shapes[0].x == pytest.approx(2.29, abs=0.01)
    assert b"Gr\xc3\xbc\xc3\x9fe" in path.read_bytes()


def test_geoparquet_is_read_by_arrow(layers: LayerSet) -> None:
    import pyarrow.parquet

    table = pyarrow.parquet.read_table(io.BytesIO(geoparquet_bytes(layers)))
    assert table.num_rows == sum(len(layer.features) for layer in layers.layers)
    geo = json.loads(table.schema.metadata[b"geo"])
    assert geo["version"] == "1.1.0"
    assert geo["columns"]["geometry"]["crs"]["id"] == {"authority": "EPSG", "code": 32631}
    shapes = shapely.from_wkb(table["geometry"].to_pylist())
    assert shapes[table["layer"].to_pylist().index("bands")].geom_type == "MultiPolygon"


def test_local_geoparquet_claims_no_system(local_layers: LayerSet) -> None:
    import pyarrow.parquet

    table = pyarrow.parquet.read_table(io.BytesIO(geoparquet_bytes(local_layers)))
    assert json.loads(table.schema.metadata[b"geo"])["columns"]["geometry"]["crs"] is None


def test_text_that_looks_like_a_formula_is_none(layers: LayerSet) -> None:
    import openpyxl

    rows = list(csv.DictReader(io.StringIO(csv_bytes(layers, "readings").decode("utf-8-sig"))))
    assert rows[0]["note"] == "'=HYPERLINK(1)"
    assert rows[1]["note"] == "'-5 is not a number, Grüße"
    book = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(layers)))
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row if cell.value}
    assert "f" not in kinds
    assert book["readings"]["A2"].value == "r0"
    head = [cell.value for cell in book["readings"][1]]
    assert book["readings"].cell(2, head.index("note") + 1).value == "'=HYPERLINK(1)"
    assert isinstance(book["readings"].cell(2, head.index("easting_m") + 1).value, int | float)


def test_csv_names_its_system_and_unit(layers: LayerSet) -> None:
    feet, way = reprojected(layers, "EPSG:4326")
    assert way is not None
    for found, names in ((layers, ["easting_m", "northing_m"]), (feet, ["longitude_deg", "latitude_deg"])):
        rows = list(csv.DictReader(io.StringIO(csv_bytes(found, "solved_places").decode("utf-8-sig"))))
        assert list(rows[0])[-3:] == [*names, "crs"]
        assert rows[0]["crs"] == found.crs
    lines = csv_bytes(layers, "solved_lines_below_ground").decode()
    assert "LINESTRING Z (448000.0000 5411000.0000 -0.9," in lines


def test_what_a_stretch_demands_is_told_without_colour(layers: LayerSet) -> None:
    from plumbmark.exchange.geopackage.styles import styles
    from plumbmark.model.clearance import Demand

    (layer,) = [x for x in layers.layers if x.name == "dig_stretches"]
    qml = Xml.fromstring(styles(layer).qml)
    named = {c.get("value"): c.get("symbol") for c in qml.iter("category")}
    assert {str(d) for d in Demand} - set(named) == {"nothing known in the way"}  # which the last group is
    brushes = [prop.get("v") for prop in qml.iter("prop") if prop.get("k") == "style"]
    assert len(set(brushes)) == len(named) == 4
