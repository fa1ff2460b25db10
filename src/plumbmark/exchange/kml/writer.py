"""KML of layers: folders of placemarks on the ground, coloured as the utilities' colour code has it."""

from __future__ import annotations

from typing import Any, Final
from xml.etree import ElementTree as Xml

from plumbmark.exchange.palette import INK, RGB
from plumbmark.model.layer import Area, Feature, Geometry, Layer, LayerSet, Path, Shape

_NAMESPACE: Final = "http://www.opengis.net/kml/2.2"
#: Columns that may name a placemark, the first that a layer has.
_NAMES: Final = (
    "id",
    "reading",
    "mark",
    "test_hole",
    "corner",
    "baseline",
    "dig",
    "number",
    "line",
    "beside_line",
)


def kml_bytes(layers: LayerSet) -> bytes:
    """A KML document with a folder for every layer that has something in it.

    Parameters
    ----------
    layers : LayerSet
        In WGS 84 longitude and latitude.

    Returns
    -------
    bytes
        UTF-8. Everything is clamped to the ground: what lies below it has its depth among its data.
    """
    root = Xml.Element("kml", xmlns=_NAMESPACE)
    document = _child(root, "Document")
    _child(document, "name", layers.title or layers.job)
    _child(document, "description", "\n".join(layers.notes))
    for name, colour in (*RGB.items(), ("ink", INK)):
        style = _child(document, "Style", id=name)
        line = _child(style, "LineStyle")
        _child(line, "color", _colour(colour, 255))
        _child(line, "width", "3")
        area = _child(style, "PolyStyle")
        _child(area, "color", _colour(colour, 70))
    for layer in layers.layers:
        if layer.features:
            _folder(document, layer)
    Xml.indent(root, " ")
    return bytes(Xml.tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


def _child(parent: Xml.Element, tag: str, text: str | None = None, **attributes: str) -> Xml.Element:
    child = Xml.SubElement(parent, tag, attributes)
    if text is not None:
        child.text = "".join(c if c.isprintable() or c in "\n\t" else " " for c in text)
    return child


def _colour(colour: tuple[int, int, int], opacity: int) -> str:
    """Opacity, blue, green, red: KML's own order."""
    return "{:02x}{:02x}{:02x}{:02x}".format(opacity, *reversed(colour))


def _folder(document: Xml.Element, layer: Layer) -> None:
    folder = _child(document, "Folder")
    _child(folder, "name", layer.name)
    _child(folder, "description", layer.title)
    names = [column.name for column in layer.columns]
    called = next((i for name in _NAMES if (i := layer.column(name)) is not None), None)
    coloured = layer.column("colour")
    for feature in layer.features:
        mark = _child(folder, "Placemark")
        _child(mark, "name", "" if called is None else str(feature.cells[called]))
        colour = None if coloured is None else feature.cells[coloured]
        _child(mark, "styleUrl", f"#{colour if colour in RGB else 'ink'}")
        _data(mark, names, feature)
        if feature.geometry is not None:
            _geometry(mark, feature.geometry, layer.shape)


def _data(mark: Xml.Element, names: list[str], feature: Feature) -> None:
    data = _child(mark, "ExtendedData")
    for name, cell in zip(names, feature.cells, strict=True):
        if cell is None or cell == "":
            continue
        said = f"{cell:.10g}" if isinstance(cell, float) else str(cell)
        _child(_child(data, "Data", name=name), "value", said)


def _geometry(mark: Xml.Element, geometry: Geometry, shape: Shape) -> None:
    found: Any = geometry
    if shape is Shape.POINT:
        _child(_child(mark, "Point"), "coordinates", _positions((found,)))
    elif shape is Shape.LINE:
        line = _child(mark, "LineString")
        _child(line, "tessellate", "1")
        _child(line, "coordinates", _positions(found))
    elif shape is Shape.AREA:
        group = _child(mark, "MultiGeometry")
        for area in found:
            _area(group, area)


def _area(group: Xml.Element, area: Area) -> None:
    polygon = _child(group, "Polygon")
    _child(polygon, "tessellate", "1")
    for i, ring in enumerate(area):
        edge = _child(polygon, "innerBoundaryIs" if i else "outerBoundaryIs")
        _child(_child(edge, "LinearRing"), "coordinates", _positions(ring))


def _positions(path: Path) -> str:
    return " ".join(f"{p[0]:.8f},{p[1]:.8f}" for p in path)
