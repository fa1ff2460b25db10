"""GeoParquet 1.1: all layers in one table with a column of well-known binary."""

from __future__ import annotations

import io
import json
from typing import Any, Final

from plumbmark.exchange.geopackage.blob import blob
from plumbmark.exchange.geoparquet.library import arrow
from plumbmark.model.layer import Cell, Holds, LayerSet

#: Length of the header that a GeoPackage puts before the same bytes, without and with bounds.
_HEADS: Final = {0b00000001: 8, 0b00000011: 40}


def geoparquet_bytes(layers: LayerSet) -> bytes:
    """A GeoParquet file.

    Parameters
    ----------
    layers : LayerSet

    Returns
    -------
    bytes
        One row for each feature, with its layer's name; columns of other layers are null.

    Raises
    ------
    MissingLibraryError
        Where pyarrow is not installed.
    """
    library, parquet = arrow()
    kinds = {
        Holds.TEXT: library.string(),
        Holds.NUMBER: library.float64(),
        Holds.WHOLE: library.int64(),
        Holds.TRUTH: library.bool_(),
    }
    holds: dict[str, Holds] = {}
    for layer in layers.layers:
        for column in layer.columns:
            # A name that two layers use for different kinds is text in both.
            same = holds.get(column.name, column.holds) is column.holds
            holds[column.name] = column.holds if same else Holds.TEXT
    columns: dict[str, list[Cell | bytes]] = {name: [] for name in ("layer", "geometry", *holds)}
    for layer in layers.layers:
        names = [column.name for column in layer.columns]
        for feature in layer.features:
            cells = dict(zip(names, feature.cells, strict=True))
            columns["layer"].append(layer.name)
            columns["geometry"].append(
                None
                if feature.geometry is None
                else _well_known_binary(blob(feature.geometry, layer.shape, 0, upright=layer.upright)[0])
            )
            for name, kind in holds.items():
                cell = cells.get(name)
                columns[name].append(str(cell) if kind is Holds.TEXT and cell is not None else cell)
    types = {"layer": library.string(), "geometry": library.binary()}
    types |= {name: kinds[kind] for name, kind in holds.items()}
    table = library.table({name: library.array(values, types[name]) for name, values in columns.items()})
    out = io.BytesIO()
    parquet.write_table(table.replace_schema_metadata(_metadata(layers)), out, compression="zstd")
    return out.getvalue()


def _well_known_binary(data: bytes) -> bytes:
    return data[_HEADS[data[3]] :]


def _metadata(layers: LayerSet) -> dict[str, str]:
    column: dict[str, Any] = {"encoding": "WKB", "geometry_types": []}
    if layers.crs == "local":
        column["crs"] = None  # GeoParquet 1.1: null says that the system is not known to others
    else:
        from pyproj import CRS

        column["crs"] = CRS.from_user_input(layers.crs).to_json_dict()
    geo = {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": column}}
    return {"geo": json.dumps(geo), "notes": "\n".join(layers.notes)}
