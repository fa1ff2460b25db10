"""Lines of a KML file."""

from __future__ import annotations

import math
from xml.etree.ElementTree import Element

from plumbmark.exchange.lines_in import LineIn, LinesIn, Path2, UnreadableFileError, text_of


def kml_lines(data: bytes, layers: tuple[str, ...] = ()) -> LinesIn:
    """The lines of a KML file, which are in WGS 84 longitude and latitude.

    Parameters
    ----------
    data : bytes
    layers : tuple of str
        Names of folders to be read; all where none is named.

    Returns
    -------
    LinesIn
        A placemark's name is its cell `id` where its data have none.

    Raises
    ------
    UnreadableFileError
        If it is no KML, or tries to bring in what stands elsewhere.
    """
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import ParseError, fromstring

    text_of(data)
    try:
        root = fromstring(data)
    except ParseError as error:
        raise UnreadableFileError(f"is not XML: {error}") from None
    except DefusedXmlException:
        raise UnreadableFileError("declares entities, which is not read") from None
    if _name(root) != "kml":
        raise UnreadableFileError("is not KML")
    found = LinesIn()
    _folder(found, root, "", layers)
    return found


def _name(element: Element) -> str:
    return element.tag.rpartition("}")[2]


def _text(element: Element, name: str) -> str:
    return next(((child.text or "").strip() for child in element if _name(child) == name), "")


def _folder(found: LinesIn, element: Element, layer: str, layers: tuple[str, ...]) -> None:
    for child in element:
        kind = _name(child)
        if kind in ("Document", "Folder"):
            _folder(found, child, _text(child, "name") if kind == "Folder" else layer, layers)
        elif kind == "Placemark":
            _placemark(found, child, layer, layers)


def _placemark(found: LinesIn, mark: Element, layer: str, layers: tuple[str, ...]) -> None:
    lines = [e for e in mark.iter() if _name(e) == "LineString"]
    if not lines:
        found.pass_over("points and areas")
        return
    if not found.wanted(layer, layers):
        return
    name = _text(mark, "name")
    cells: dict[str, object] = {"id": name} if name else {}
    for data in mark.iter():
        if _name(data) == "Data":
            cells[data.get("name", "").lower()] = _text(data, "value")
        elif _name(data) == "SimpleData":
            cells[data.get("name", "").lower()] = (data.text or "").strip()
    where = f"placemark {name}" if name else f"placemark {len(found.lines) + 1}"
    for line in lines:
        found.add(LineIn(where, _path(_text(line, "coordinates"), where), cells, "EPSG:4326"))


def _path(text: str, where: str) -> Path2:
    try:
        path = tuple((float(p.split(",")[0]), float(p.split(",")[1])) for p in text.split())
    except (ValueError, IndexError):
        path = ()
    if len(path) < 2 or not all(map(math.isfinite, (x for p in path for x in p))):
        raise UnreadableFileError(f"has in {where} a line that is no list of two positions or more")
    return path
