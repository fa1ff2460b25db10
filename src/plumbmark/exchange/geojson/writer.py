"""GeoJSON of layers (RFC 7946), and lines read from it."""

from __future__ import annotations

import json
import math
from typing import Any, Final

from plumbmark.model.layer import Area, Geometry, Layer, LayerSet, Shape

#: RFC 7946 11.2: seven decimals are about a centimetre; one more for what is known to millimetres.
_DEGREES: Final = 8
_METRES: Final = 4
_KINDS: Final = {Shape.POINT: "Point", Shape.LINE: "LineString", Shape.AREA: "MultiPolygon"}


def geojson_bytes(layers: LayerSet) -> bytes:
    """One FeatureCollection of all layers, each feature with its layer's name among its properties.

    Parameters
    ----------
    layers : LayerSet
        In WGS 84 longitude and latitude as the RFC has it, or in a local grid; then the member `crs` says
        so, and no other program knows where that is.

    Returns
    -------
    bytes
        UTF-8. Positions are in plan: a depth stands among the properties, never as a height.

    Notes
    -----
    A band so narrow that it has no area at the last decimal is kept with its rings as they round.
    """
    decimals = _METRES if layers.crs == "local" else _DEGREES
    root: dict[str, Any] = {"type": "FeatureCollection"}
    if layers.crs == "local":
        root["crs"] = {"type": "name", "properties": {"name": "local"}}
    root["notes"] = list(layers.notes)
    root["features"] = [feature for layer in layers.layers for feature in _features(layer, decimals)]
    return (json.dumps(root, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n").encode()


def _features(layer: Layer, decimals: int) -> list[dict[str, Any]]:
    names = [column.name for column in layer.columns]
    found = []
    for feature in layer.features:
        cells = {
            name: round(cell, 6) if isinstance(cell, float) else cell
            for name, cell in zip(names, feature.cells, strict=True)
            if cell is not None and cell != ""
        }
        geometry = None if feature.geometry is None else _geometry(feature.geometry, layer.shape, decimals)
        found.append({"type": "Feature", "properties": {"layer": layer.name, **cells}, "geometry": geometry})
    return found


def _geometry(geometry: Geometry, shape: Shape, decimals: int) -> dict[str, Any] | None:
    if shape is Shape.NONE:
        return None
    found: Any = geometry
    if shape is Shape.POINT:
        coordinates: Any = _position(found, decimals)
    elif shape is Shape.LINE:
        coordinates = [_position(p, decimals) for p in found]
    else:
        coordinates = [_area(area, decimals) for area in found]
    return {"type": _KINDS[shape], "coordinates": coordinates}


def _area(area: Area, decimals: int) -> list[list[list[float]]]:
    return [[_position(p, decimals) for p in ring] for ring in area]


def _position(position: tuple[float, ...], decimals: int) -> list[float]:
    return [round(x, decimals) + 0.0 if math.isfinite(x) else x for x in position[:2]]
