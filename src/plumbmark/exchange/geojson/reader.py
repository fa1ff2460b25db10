"""Lines of a GeoJSON file."""

from __future__ import annotations

import json
import math
import re
from typing import Any, Final

from plumbmark.exchange.lines_in import LineIn, LinesIn, Path2, UnreadableFileError, text_of

_EPSG: Final = re.compile(r"(?:urn:ogc:def:crs:)?EPSG:(?:[0-9.]*:)?([0-9]{4,6})", re.IGNORECASE)


def geojson_lines(data: bytes, layers: tuple[str, ...] = ()) -> LinesIn:
    """The lines of a GeoJSON file.

    Parameters
    ----------
    data : bytes
    layers : tuple of str
        Values of the property `layer` to be read; all where none is named.

    Returns
    -------
    LinesIn
        In WGS 84 longitude and latitude unless a member `crs` says another system.

    Raises
    ------
    UnreadableFileError
        If it is no GeoJSON.
    """
    try:
        root = json.loads(text_of(data))
    except (json.JSONDecodeError, RecursionError) as error:
        raise UnreadableFileError(f"is not JSON: {str(error)[:120]}") from None
    kind = root.get("type") if isinstance(root, dict) else None
    features = root.get("features") if kind == "FeatureCollection" else [root] if kind == "Feature" else None
    if not isinstance(features, list):
        raise UnreadableFileError("is not GeoJSON (a FeatureCollection is needed)")
    found = LinesIn()
    crs = _system(root.get("crs"))
    for number, feature in enumerate(features, 1):
        _feature(found, feature, f"feature {number}", crs, layers)
    return found


def _system(crs: Any) -> str:
    if crs is None:
        return "EPSG:4326"
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else crs
    text = name if isinstance(name, str) else ""
    if text == "local":
        return "local"
    if text.upper().endswith("CRS84"):
        return "EPSG:4326"
    match = _EPSG.fullmatch(text)
    if match is None:
        raise UnreadableFileError(
            f"has the member crs, and {json.dumps(name)[:60]} is no system of the EPSG register"
        )
    return f"EPSG:{match[1]}"


def _feature(found: LinesIn, feature: Any, where: str, crs: str, layers: tuple[str, ...]) -> None:
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    if not isinstance(geometry, dict):
        found.pass_over("features without a place")
        return
    properties = feature.get("properties")
    cells = {str(k).lower(): v for k, v in properties.items()} if isinstance(properties, dict) else {}
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if kind not in ("LineString", "MultiLineString"):
        found.pass_over("points and areas")
        return
    layer = cells.get("layer")
    if isinstance(layer, str) and not found.wanted(layer, layers):
        return
    if "id" not in cells and isinstance(feature.get("id"), str | int):
        cells["id"] = str(feature["id"])
    parts = coordinates if kind == "MultiLineString" else [coordinates]
    for part in parts if isinstance(parts, list) else [None]:
        found.add(LineIn(where, _path(part, where), cells, crs))


def _path(part: Any, where: str) -> Path2:
    """Positions in plan; a third number is not read."""
    try:
        path = tuple((float(p[0]), float(p[1])) for p in part)
    except (TypeError, ValueError, IndexError, KeyError):
        path = ()
    if len(path) < 2 or not all(map(math.isfinite, (x for p in path for x in p))):
        raise UnreadableFileError(f"has in {where} a line that is no list of two positions or more")
    return path
