"""What must hold of files on inputs nobody thought of: cells, geometry, text."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from plumbmark.exchange.geojson import geojson_bytes
from plumbmark.exchange.geopackage.blob import blob, unblob
from plumbmark.exchange.kml import kml_bytes, kml_lines
from plumbmark.exchange.safecell import as_written, harmless
from plumbmark.exchange.table import csv_bytes, csv_lines
from plumbmark.model.layer import Attribute, Feature, Holds, Layer, LayerSet, Shape

numbers = st.floats(-1e7, 1e7, allow_nan=False, width=64)
positions = st.tuples(numbers, numbers)
paths = st.lists(positions, min_size=2, max_size=8).map(tuple)


@given(st.text())
def test_a_harmless_cell_is_no_formula_and_comes_back(text: str) -> None:
    cell = str(harmless(text))
    assert cell[:1] not in {"=", "+", "-", "@", "\t", "\r"}
    assert as_written(cell) == text


@given(st.lists(positions, min_size=2, max_size=9).map(tuple))
def test_a_line_in_a_blob_comes_back_and_others_read_it(path: Any) -> None:
    data, box = blob(path, Shape.LINE, 32631, upright=False)
    assert list(unblob(data)) == [path]
    theirs = shapely.from_wkb(data[40:])  # 8 bytes of header, 4 numbers of bounds
    assert [tuple(p) for p in shapely.get_coordinates(theirs)] == list(path)
    west, south, east, north = theirs.bounds
    assert box == (west, east, south, north)


@given(st.lists(paths, min_size=1, max_size=3))
def test_areas_in_a_blob_are_what_others_read(rings: Any) -> None:
    areas = tuple(((*ring, (ring[0][0] + 1.0, ring[0][1]), ring[0]),) for ring in rings)
    data, _ = blob(areas, Shape.AREA, -1, upright=False)
    theirs = shapely.from_wkb(data[40:])
    assert len(shapely.get_parts(theirs)) == len(areas)
    assert np.array_equal(shapely.get_coordinates(theirs), np.array([p for a in areas for p in a[0]]))


def one_line(name: str, path: Any, crs: str) -> LayerSet:
    columns = (Attribute("id", Holds.TEXT, ""), Attribute("note", Holds.TEXT, ""))
    layer = Layer("records", name, Shape.LINE, columns, [Feature(path, ("r1", name))])
    return LayerSet("job", name, crs, (layer,), (name,))


@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=40))
def test_any_words_stand_in_a_file_and_change_nothing_else(name: str) -> None:
    path = ((2.0, 48.0), (2.001, 48.0))
    layers = one_line(name, path, "EPSG:4326")
    (line,) = kml_lines(kml_bytes(layers)).lines
    assert line.path == path
    assert json.loads(geojson_bytes(layers))["notes"] == [name]
    table = csv_bytes(layers, "records")
    (row,) = csv.DictReader(io.StringIO(table.decode("utf-8-sig"), newline=""))
    assert as_written(row["note"]) == name
    if "\0" not in name:
        assert csv_lines(table).lines[0].path == path
