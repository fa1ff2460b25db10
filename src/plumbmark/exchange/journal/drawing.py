"""`dig.geojson` and `records.geojson` with features put in."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from typing import Any, Final

import numpy as np

from plumbmark.base.errors import CoordinateSystemError, FactError
from plumbmark.survey.transform import WGS84, transformation

FILES: Final = {"dig": "dig.geojson", "records": "records.geojson"}


def feature_of(text: str, key: str) -> dict[str, Any] | None:
    """The feature that a fact holds as text, named by its key; None for an empty text, which takes it out.

    Raises
    ------
    FactError
        The text is no GeoJSON feature.
    """
    if not text:
        return None
    try:
        feature = json.loads(text)
    except (ValueError, RecursionError):
        feature = None
    if not isinstance(feature, dict) or feature.get("type") != "Feature":
        raise FactError(f"the shape {key} is no GeoJSON feature")
    properties = feature.get("properties")
    return {**feature, "properties": {**(properties if isinstance(properties, dict) else {}), "id": key}}


def with_features(data: bytes | None, features: Mapping[str, dict[str, Any] | None], crs: str) -> bytes:
    """The file with features put in.

    Parameters
    ----------
    data : bytes or None
        None where there is no file yet.
    features : mapping of str to dict or None
        By id, with coordinates in the job's grid; they take the place of those of the same id, None takes
        one out.
    crs : str
        Of the job: ``local`` or ``EPSG:…``.

    Returns
    -------
    bytes

    Raises
    ------
    FactError
        The file that is there is no GeoJSON collection.
    """
    own = {} if crs == "local" else {"crs": {"type": "name", "properties": {"name": crs}}}
    root: Any = {"type": "FeatureCollection", **own, "features": []}
    if data is not None:
        try:
            root = json.loads(data.decode("utf-8-sig"))
        except (ValueError, RecursionError):
            root = None
        if isinstance(root, dict) and root.get("type") == "Feature":
            root = {
                "type": "FeatureCollection",
                **{k: root[k] for k in ("crs",) if k in root},
                "features": [root],
            }
        if not isinstance(root, dict) or not isinstance(root.get("features"), list):
            raise FactError("the file is no GeoJSON collection")
        if crs != "local" and "crs" not in root:  # without the member coordinates are degrees
            features = {k: None if f is None else _in_degrees(f, crs) for k, f in features.items()}
    kept: list[Any] = []
    left = dict(features)
    for there in root["features"]:
        ident = _ident(there)
        if ident not in features:
            kept.append(there)
        elif (feature := left.pop(ident, None)) is not None:
            kept.append(feature)
    kept += [feature for feature in left.values() if feature is not None]
    return json.dumps({**root, "features": kept}, ensure_ascii=False, indent=1).encode() + b"\n"


def without_features(data: bytes, numbers: Collection[int]) -> tuple[bytes, list[str]]:
    """A collection without some of its features, counted from 0, and the ids of all that it had."""
    root = json.loads(data.decode("utf-8-sig"))
    features = [root] if root.get("type") == "Feature" else root["features"]
    kept = [feature for i, feature in enumerate(features) if i not in numbers]
    own = {} if features == [root] else root
    left = {"type": "FeatureCollection", **own, "features": kept}
    return json.dumps(left, ensure_ascii=False, indent=1).encode() + b"\n", [_ident(f) for f in features]


def _ident(feature: Any) -> str:
    """Id of a feature: that of its properties, else its own."""
    properties = feature.get("properties") if isinstance(feature, dict) else None
    inner = properties.get("id") if isinstance(properties, dict) else None
    return str(inner or (feature.get("id", "") if isinstance(feature, dict) else ""))


def _in_degrees(feature: dict[str, Any], crs: str) -> dict[str, Any]:
    """The feature with longitude and latitude in place of the job's grid."""
    geometry = feature.get("geometry")
    if not isinstance(geometry, dict):
        return feature
    try:
        return {**feature, "geometry": {**geometry, "coordinates": _turned(geometry.get("coordinates"), crs)}}
    except CoordinateSystemError as error:
        raise FactError(str(error)) from None


def _turned(held: Any, crs: str) -> Any:
    if not isinstance(held, list):
        return held
    if len(held) >= 2 and all(isinstance(value, (int, float)) for value in held):
        first, second = np.array([held[0]], float), np.array([held[1]], float)
        longitude, latitude = transformation(crs, WGS84, first, second)(first, second)
        return [round(float(longitude[0]), 9), round(float(latitude[0]), 9), *held[2:]]
    return [_turned(each, crs) for each in held]
