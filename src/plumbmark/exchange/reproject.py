"""Layers brought into another coordinate system."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import numpy as np

from plumbmark.base.errors import CoordinateSystemError
from plumbmark.base.units import shown
from plumbmark.model.layer import Feature, Geometry, Layer, LayerSet, Position, Shape
from plumbmark.survey.transform import WGS84, Transformation, system_words, transformation

_ENSEMBLE: Final = (
    "WGS 84 names several realisations that differ by up to 2 m; which one a receiver used is not known here."
)


def reprojected(layers: LayerSet, target: str) -> tuple[LayerSet, Transformation | None]:
    """The same layers in another system.

    Parameters
    ----------
    layers : LayerSet
    target : str
        ``"EPSG:…"``, projected or geographic.

    Returns
    -------
    layers : LayerSet
        With notes of the system, and of how its coordinates were come by and how good that is. The third
        number of a position is left as it is: metres above the ground.
    way : Transformation or None
        None where the layers are in that system already.

    Raises
    ------
    CoordinateSystemError
        Out of a local grid, or where there is no such system or no way into it.
    """
    wanted = system_words(target)
    if wanted.code == layers.crs:
        return layers, None
    if layers.crs == "local":
        raise CoordinateSystemError(
            f"the job counts in a grid of its own (crs is 'local'), so nobody knows where that is in "
            f"{shown(target)}; give the job a system of the EPSG register, or leave --crs out"
        )
    places = [p[:2] for layer in layers.layers for p in _positions(layer)]
    first, second = (np.array(places, float).reshape(-1, 2)[:, i].copy() for i in (0, 1))
    way = transformation(layers.crs, target, first, second)
    x, y = way(first, second) if first.size else (first, second)
    moved = iter(zip(x.tolist(), y.tolist(), strict=True))
    brought = tuple(
        replace(layer, features=[_moved(feature, layer.shape, moved) for feature in layer.features])
        for layer in layers.layers
    )
    said = [f"Coordinates: {wanted.code}, {wanted.name}. Datum: {wanted.datum}. Unit: {wanted.unit}."]
    said += [way.words(), *(f"Warning: {w}" for w in way.warnings())]
    said += [_ENSEMBLE] if target == WGS84 else []
    kept = [note for note in layers.notes if not note.startswith("Coordinates: ")]
    return replace(layers, crs=wanted.code, layers=brought, notes=(*said, *kept)), way


def _positions(layer: Layer) -> Iterator[Position]:
    for feature in layer.features:
        found: Any = feature.geometry
        if found is None or layer.shape is Shape.NONE:
            continue
        if layer.shape is Shape.POINT:
            yield found
        elif layer.shape is Shape.LINE:
            yield from found
        else:
            yield from (p for area in found for ring in area for p in ring)


def _moved(feature: Feature, shape: Shape, moved: Iterator[tuple[float, float]]) -> Feature:
    """The feature with its positions replaced, in the order in which they were handed out."""
    found: Any = feature.geometry
    if found is None or shape is Shape.NONE:
        return feature

    def path(old: Any) -> tuple[Position, ...]:
        return tuple((*next(moved), *p[2:]) for p in old)

    new: Geometry
    if shape is Shape.POINT:
        new = (*next(moved), *found[2:])
    elif shape is Shape.LINE:
        new = path(found)
    else:
        new = tuple(tuple(path(ring) for ring in area) for area in found)
    return replace(feature, geometry=new)
