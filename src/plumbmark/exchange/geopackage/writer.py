"""A GeoPackage of layers: OGC 12-128r18, written with SQLite alone.

The same layers give the same file, byte for byte, under one version of SQLite.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

from plumbmark.exchange.geopackage.blob import Bounds, blob
from plumbmark.exchange.geopackage.styles import styles
from plumbmark.model.layer import Cell, Holds, Layer, LayerSet, Shape

_GPKG: Final = 0x47504B47
_VERSION: Final = 10301
#: The system of a job's own grid: "undefined Cartesian", which every GeoPackage has.
_LOCAL: Final = -1
_TYPES: Final = {Holds.TEXT: "TEXT", Holds.NUMBER: "DOUBLE", Holds.WHOLE: "INTEGER", Holds.TRUTH: "BOOLEAN"}
_SHAPES: Final = {Shape.POINT: "POINT", Shape.LINE: "LINESTRING", Shape.AREA: "MULTIPOLYGON"}

_TABLES: Final = """
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), min_x DOUBLE, min_y DOUBLE,
  max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL,
  scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT,
  mime_type TEXT, constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC,
  min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), f_table_schema TEXT(256),
  f_table_name TEXT(256), f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
  useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')));
"""

#: The extension that says what columns mean.
_SCHEMA: Final = [
    ("gpkg_data_columns", "OGC 12-128r18, annex F.9"),
    ("gpkg_data_column_constraints", "OGC 12-128r18, annex F.9"),
]


def geopackage_bytes(layers: LayerSet) -> bytes:
    """A GeoPackage.

    Parameters
    ----------
    layers : LayerSet
        In a system of the EPSG register or a local one.

    Returns
    -------
    bytes
        The file. Its table "about" holds the notes; every layer has a style by which it is drawn.
    """
    base = sqlite3.connect(":memory:", isolation_level=None)
    try:
        base.execute("PRAGMA page_size = 4096")
        base.execute(f"PRAGMA application_id = {_GPKG}")
        base.execute(f"PRAGMA user_version = {_VERSION}")
        base.execute("BEGIN")
        for statement in _TABLES.split(";"):
            base.execute(statement)
        base.executemany("INSERT INTO gpkg_extensions VALUES (?,NULL,'gpkg_schema',?,'read-write')", _SCHEMA)
        srs = _systems(base, layers.crs)
        _about(base, layers)
        for layer in layers.layers:
            _layer(base, layer, srs, layers.written_at)
        _styles(base, layers)
        base.execute("COMMIT")
        return base.serialize()
    finally:
        base.close()


def _systems(base: sqlite3.Connection, crs: str) -> int:
    """Write the systems that every file has and the one of these layers; its number."""
    rows: list[tuple[str, int, str, int, str, str]] = [
        ("Undefined Cartesian SRS", -1, "NONE", -1, "undefined", "a job's own grid: metres east and north"),
        ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "longitude and latitude of no stated datum"),
    ]
    for code in dict.fromkeys(("EPSG:4326", *([] if crs == "local" else [crs]))):
        from pyproj import CRS

        system = CRS.from_user_input(code)
        number = int(code.split(":")[1])
        rows.append((system.name, number, "EPSG", number, system.to_wkt("WKT1_GDAL"), ""))
    base.executemany("INSERT INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?)", rows)
    return _LOCAL if crs == "local" else rows[-1][1]


def _about(base: sqlite3.Connection, layers: LayerSet) -> None:
    base.execute("CREATE TABLE about (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, note TEXT)")
    base.executemany("INSERT INTO about (note) VALUES (?)", [(note,) for note in layers.notes])
    _attributes(base, "about", "What must travel with the coordinates", layers.written_at)


def _attributes(base: sqlite3.Connection, table: str, title: str, written_at: str) -> None:
    base.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
        "VALUES (?,'attributes',?,?,?)",
        (table, table, title, written_at),
    )


def _layer(base: sqlite3.Connection, layer: Layer, srs: int, written_at: str) -> None:
    columns = "".join(f', "{column.name}" {_TYPES[column.holds]}' for column in layer.columns)
    key = "id" if layer.column("id") is None else "fid"
    place = "" if layer.shape is Shape.NONE else f", geom {_SHAPES[layer.shape]}"
    base.execute(
        f'CREATE TABLE "{layer.name}" ({key} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL{place}{columns})'
    )
    names = ([] if layer.shape is Shape.NONE else ["geom"]) + [f'"{column.name}"' for column in layer.columns]
    marks = ",".join("?" * len(names))
    bounds = _Bounds()
    rows = _rows(layer, srs, bounds)
    base.executemany(f'INSERT INTO "{layer.name}" ({",".join(names)}) VALUES ({marks})', rows)
    kind = "attributes" if layer.shape is Shape.NONE else "features"
    base.execute(
        "INSERT INTO gpkg_contents VALUES (?,?,?,?,?,?,?,?,?,?)",
        (
            layer.name,
            kind,
            layer.name,
            layer.title,
            written_at,
            *bounds.row(),
            None if kind == "attributes" else srs,
        ),
    )
    if layer.shape is not Shape.NONE:
        base.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?,'geom',?,?,?,0)",
            (layer.name, _SHAPES[layer.shape], srs, int(layer.upright)),
        )
    base.executemany(
        "INSERT INTO gpkg_data_columns VALUES (?,?,NULL,NULL,?,NULL,NULL)",
        [(layer.name, column.name, column.means) for column in layer.columns],
    )


class _Bounds:
    """The bounds of all that was seen."""

    def __init__(self) -> None:
        self.found: Bounds | None = None

    def add(self, other: Bounds) -> None:
        """Take in the bounds of one more geometry."""
        if self.found is None:
            self.found = other
        else:
            a, b = self.found, other
            self.found = (min(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), max(a[3], b[3]))

    def row(self) -> tuple[float | None, ...]:
        """Least easting and northing, largest easting and northing."""
        if self.found is None:
            return None, None, None, None
        west, east, south, north = self.found
        return west, south, east, north


def _rows(layer: Layer, srs: int, bounds: _Bounds) -> Iterator[tuple[Cell | bytes, ...]]:
    for feature in layer.features:
        if layer.shape is Shape.NONE:
            yield feature.cells
        elif feature.geometry is None:
            yield None, *feature.cells
        else:
            data, box = blob(feature.geometry, layer.shape, srs, upright=layer.upright)
            bounds.add(box)
            yield data, *feature.cells


def _styles(base: sqlite3.Connection, layers: LayerSet) -> None:
    rows = [
        (
            "",
            "",
            layer.name,
            "geom",
            layer.name,
            style.qml,
            style.sld,
            1,
            layer.title,
            "",
            "",
            layers.written_at,
        )
        for layer in layers.layers
        if layer.shape is not Shape.NONE and (style := styles(layer))
    ]
    names = "f_table_catalog,f_table_schema,f_table_name,f_geometry_column,styleName,styleQML,styleSLD"
    names += ",useAsDefault,description,owner,ui,update_time"
    base.executemany(f"INSERT INTO layer_styles ({names}) VALUES ({','.join('?' * 12)})", rows)
    _attributes(base, "layer_styles", "How each layer is drawn", layers.written_at)
