"""DXF of layers: a drawing layer for every kind of thing and utility, in the utility's colour, in 3-D."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from typing import Any, Final

from plumbmark.base.errors import CoordinateSystemError
from plumbmark.exchange.palette import rgb
from plumbmark.model.layer import Cell, Feature, Layer, LayerSet, Shape
from plumbmark.survey.transform import system_words

_APPLICATION: Final = "PLUMBMARK"
#: $INSUNITS by the length of a unit.
_UNITS: Final = {1.0: 6, 0.3048: 2, 1200.0 / 3937.0: 21}
#: Nearest of the numbered colours, for programs that know no others; 7 is black or white as the paper is not.
_NUMBERED: Final = {"red": 1, "yellow": 2, "orange": 30, "blue": 5, "purple": 200, "green": 94, "pink": 211}
#: Columns written beside a point, the first that a layer has.
_LABELS: Final = ("text", "id", "reading", "profile", "side_reading", "test_hole", "corner", "kind", "number")
#: Layers whose things are named by others that lie on top of them.
_UNNAMED: Final = {"readings", "painted_marks", "walks_across"}
_TEXT_M: Final = 0.15
#: Group 1000 holds 255 characters, all of an entity's extended data 16 kB.
_MAX_TEXT, _MAX_TEXTS = 250, 50


def dxf_bytes(layers: LayerSet) -> bytes:
    """A drawing in DXF R2010, one drawing unit to a unit of the coordinate system.

    Parameters
    ----------
    layers : LayerSet
        In a projected system or a local grid.

    Returns
    -------
    bytes
        UTF-8. What lies below ground has its depth as a negative third number; every other thing lies at 0.
        Cells stand in the extended data of each entity under the name ``PLUMBMARK``.

    Raises
    ------
    CoordinateSystemError
        For a system in degrees: a drawing has lengths.
    """
    import ezdxf.filemanagement
    from ezdxf._options import options

    system = system_words(layers.crs)
    if system.metres_per_unit is None:
        raise CoordinateSystemError(
            f"a drawing needs lengths, and {system.code} ({system.name}) counts degrees"
        )
    fixed = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # the same drawing is the same file
    try:
        drawing = ezdxf.filemanagement.new("R2010", setup=["linetypes"], units=_units(system.metres_per_unit))
        drawing.appids.add(_APPLICATION)
        space = drawing.modelspace()
        height = _TEXT_M / system.metres_per_unit
        for layer in layers.layers:
            for feature in layer.features:
                if feature.geometry is not None:
                    name = _layer(drawing, layer, feature)
                    _draw(space, layer, feature, name, height, system.metres_per_unit)
        _notes(drawing, layers, height)
        text = io.StringIO()
        drawing.write(text)
        return text.getvalue().encode("utf-8")
    finally:
        options.write_fixed_meta_data_for_testing = fixed


def _units(metres: float) -> int:
    """$INSUNITS of a unit; 0, which is none, of one that has no number."""
    return next(
        (number for length, number in _UNITS.items() if math.isclose(length, metres, rel_tol=1e-9)), 0
    )


def _layer(drawing: Any, layer: Layer, feature: Feature) -> str:
    """The drawing layer of a feature, made where it is not there yet."""
    utility, colour = (_cell(layer, feature, name) for name in ("utility", "colour"))
    name = layer.name.upper() + (f"_{str(utility).upper()}" if utility else "")
    if name not in drawing.layers:
        made = drawing.layers.add(
            name,
            color=_NUMBERED.get(str(colour), 7),
            linetype="DASHED" if layer.name in ("records", "second_lines_below_ground") else "Continuous",
        )
        made.description = layer.title
        if colour in _NUMBERED:
            made.rgb = rgb(colour)
    return name


def _cell(layer: Layer, feature: Feature, name: str) -> Cell:
    number = layer.column(name)
    return None if number is None else feature.cells[number]


def _draw(
    space: Any, layer: Layer, feature: Feature, name: str, height: float, metres_per_unit: float
) -> None:
    found: Any = feature.geometry
    look = {"layer": name}
    if layer.shape is Shape.POINT:
        entities = [space.add_point((found[0], found[1], 0.0), dxfattribs=look)]
        said = next(
            (cell for label in _LABELS if (cell := _cell(layer, feature, label)) not in (None, "")), None
        )
        if said is not None and layer.name not in _UNNAMED:
            text = space.add_text(_one_line(said)[:_MAX_TEXT], height=height, dxfattribs=look)
            text.set_placement((found[0] + height, found[1] + height, 0.0))
    elif layer.shape is Shape.LINE:
        path = [(p[0], p[1], p[2] / metres_per_unit if len(p) > 2 else 0.0) for p in found]
        entities = [space.add_polyline3d(path, dxfattribs=look)]
    else:
        rings = [ring for area in found for ring in area]
        entities = [
            space.add_lwpolyline([p[:2] for p in ring[:-1]], close=True, dxfattribs=look) for ring in rings
        ]
    for entity in entities:
        entity.set_xdata(_APPLICATION, list(_data(layer, feature)))


def _data(layer: Layer, feature: Feature) -> Iterator[tuple[int, str]]:
    rows = zip(layer.columns, feature.cells, strict=True)
    written = [(column, cell) for column, cell in rows if cell is not None and cell != ""]
    for column, cell in written[:_MAX_TEXTS]:
        said = f"{cell:.10g}" if isinstance(cell, float) else _one_line(cell)
        yield 1000, f"{column.name}={said}"[:_MAX_TEXT]


def _one_line(cell: Cell) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in str(cell)).split())


def _notes(drawing: Any, layers: LayerSet, height: float) -> None:
    """The notes below and left of everything drawn."""
    from ezdxf import bbox

    drawing.layers.add("NOTES", color=7)
    extents = bbox.extents(drawing.modelspace(), fast=True)
    at = (extents.extmin.x, extents.extmin.y - 4.0 * height) if extents.has_data else (0.0, 0.0)
    text = "\\P".join(
        _one_line(note).replace("\\", "\\\\").replace("{", "\\{").replace("}", "\\}") for note in layers.notes
    )
    note = drawing.modelspace().add_mtext(text, dxfattribs={"layer": "NOTES", "char_height": height})
    note.dxf.insert = at
    note.dxf.width = 120.0 * height
    note.dxf.attachment_point = 1
