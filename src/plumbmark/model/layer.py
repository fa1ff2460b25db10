"""What is handed to other programs: named layers of points, lines and areas with columns beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

Cell = str | float | int | bool | None
Position = tuple[float, ...]
"""Easting, northing and, where the layer has it, up; or longitude, latitude, up."""
Path = tuple[Position, ...]
Area = tuple[Path, ...]
"""The outer ring first, then its holes; each ring ends where it starts."""
Geometry = Position | Path | tuple[Area, ...]


class Shape(StrEnum):
    """What the features of a layer are; an area is one polygon or several."""

    NONE = "none"
    POINT = "point"
    LINE = "line"
    AREA = "area"


class Holds(StrEnum):
    """What the cells of a column are."""

    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole number"
    TRUTH = "yes or no"


@dataclass(frozen=True, slots=True)
class Attribute:
    """A column of a layer: its name, which ends in its unit where it has one, and what it means."""

    name: str
    holds: Holds
    means: str


@dataclass(frozen=True, slots=True)
class Feature:
    """One thing: where it is, and a cell for every column of its layer.

    `geometry` is a position, a path or a tuple of areas, as the layer's shape says; None without a place.
    """

    geometry: Geometry | None
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Layer:
    """Things of one kind.

    Attributes
    ----------
    name : str
        Small letters and underscores.
    title : str
        A sentence for people.
    shape : Shape
    columns : tuple of Attribute
    features : sequence of Feature
    upright : bool
        Positions have a third number: metres above the ground, so below it negative. It is never a height
        above a datum.
    """

    name: str
    title: str
    shape: Shape
    columns: tuple[Attribute, ...]
    features: Sequence[Feature]
    upright: bool = False

    def column(self, name: str) -> int | None:
        """Number of a column, None where there is none of that name."""
        return next((i for i, column in enumerate(self.columns) if column.name == name), None)


@dataclass(frozen=True, slots=True)
class LayerSet:
    """Layers of one job in one coordinate system.

    Attributes
    ----------
    job, title : str
    crs : str
        ``"local"`` or ``"EPSG:…"``.
    layers : tuple of Layer
    notes : tuple of str
        What must travel with the coordinates: their system, datum and unit, how they were come by, cautions.
    written_at : str
        A time in ISO 8601 and UTC for formats that want one: that of the last reading, so that the same
        input gives the same file.
    """

    job: str
    title: str
    crs: str
    layers: tuple[Layer, ...]
    notes: tuple[str, ...]
    written_at: str = "1970-01-01T00:00:00.000Z"
