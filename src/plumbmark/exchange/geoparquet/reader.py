"""Lines of a GeoParquet file."""

from __future__ import annotations

import io
import json
from typing import Any

from plumbmark.exchange.geopackage.blob import paths_of
from plumbmark.exchange.geoparquet.library import arrow
from plumbmark.exchange.lines_in import LineIn, LinesIn, UnreadableFileError


def geoparquet_lines(data: bytes, layers: tuple[str, ...] = ()) -> LinesIn:
    """The lines of a GeoParquet file's first geometry column.

    Parameters
    ----------
    data : bytes
    layers : tuple of str
        Values of the column `layer` to be read; all where none is named.

    Returns
    -------
    LinesIn

    Raises
    ------
    UnreadableFileError
        If it is no GeoParquet with well-known binary.
    MissingLibraryError
        Where pyarrow is not installed.
    """
    import shapely

    library, parquet = arrow()
    try:
        table = parquet.read_table(io.BytesIO(data))
        geo = json.loads(table.schema.metadata[b"geo"])
        name = geo["primary_column"]
        column = geo["columns"][name]
        shapes: Any = shapely.from_wkb(table[name].to_pylist())
    except (library.ArrowException, KeyError, TypeError, ValueError, shapely.errors.GEOSException) as error:
        raise UnreadableFileError(f"is not GeoParquet with well-known binary: {str(error)[:120]}") from None
    crs = _system(column)
    found = LinesIn()
    rows = table.drop_columns([name]).to_pylist()
    for number, (shape, row) in enumerate(zip(shapes, rows, strict=True), 1):
        cells = {str(k).lower(): v for k, v in row.items() if v is not None}
        paths = list(paths_of(shape)) if shape is not None else []
        if not paths:
            found.pass_over("points and areas")
            continue
        layer = cells.get("layer")
        if isinstance(layer, str) and not found.wanted(layer, layers):
            continue
        for path in paths:
            found.add(LineIn(f"row {number}", path, cells, crs))
    return found


def _system(column: dict[str, Any]) -> str | None:
    """GeoParquet 1.1: no `crs` is longitude and latitude, null is a system that others do not know."""
    if "crs" not in column:
        return "EPSG:4326"
    crs = column["crs"]
    if crs is None:
        return "local"
    ident = crs.get("id") if isinstance(crs, dict) else None
    if not isinstance(ident, dict):
        return None
    if ident.get("authority") == "EPSG":
        return f"EPSG:{ident.get('code')}"
    return "EPSG:4326" if ident.get("code") == "CRS84" else None
