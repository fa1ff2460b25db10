"""Lines of a GeoPackage."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from plumbmark.exchange.geopackage.blob import unblob
from plumbmark.exchange.lines_in import LineIn, LinesIn, UnreadableFileError

_LINES: Final = ("LINESTRING", "MULTILINESTRING", "GEOMETRY", "CURVE", "MULTICURVE", "GEOMETRYCOLLECTION")


def geopackage_lines(path: Path, layers: tuple[str, ...] = ()) -> LinesIn:
    """The lines of a GeoPackage.

    Parameters
    ----------
    path : Path
    layers : tuple of str
        Names of layers to be read; all that may hold lines where none is named.

    Returns
    -------
    LinesIn

    Raises
    ------
    UnreadableFileError
        If it is no GeoPackage.
    """
    base = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
    try:
        base.execute("PRAGMA trusted_schema = OFF")
        found = LinesIn()
        tables = base.execute(
            "SELECT g.table_name, g.column_name, g.geometry_type_name, s.organization, "
            "s.organization_coordsys_id FROM gpkg_geometry_columns g JOIN gpkg_spatial_ref_sys s "
            "ON s.srs_id = g.srs_id ORDER BY 1"
        ).fetchall()
        for table, column, kind, organization, code in tables:
            if str(kind).upper() not in _LINES or not found.wanted(table, layers):
                continue
            epsg = str(organization).upper() == "EPSG"
            crs = f"EPSG:{code}" if epsg else "local" if code == -1 else None
            _table(base, found, table, column, crs)
        return found
    except sqlite3.Error as error:
        raise UnreadableFileError(f"is not a GeoPackage: {error}") from None
    finally:
        base.close()


def _table(base: sqlite3.Connection, found: LinesIn, table: str, column: str, crs: str | None) -> None:
    rows = base.execute(f"SELECT * FROM {_quoted(table)}")
    names = [str(described[0]) for described in rows.description]
    at = names.index(column)
    for number, row in enumerate(rows, 1):
        cells = {
            n.lower(): c for n, c in zip(names, row, strict=True) if n != column and not isinstance(c, bytes)
        }
        where = f"layer {table} row {number}"
        if row[at] is None:
            found.pass_over("features without a place")
            continue
        try:
            paths = list(unblob(row[at]))
        except (ValueError, TypeError) as error:
            raise UnreadableFileError(f"has in {where} what {error}") from None
        if not paths:
            found.pass_over("points and areas")
        for path in paths:
            found.add(LineIn(where, path, cells, crs))


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
