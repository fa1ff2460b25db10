"""KML of layers: folders of placemarks on the ground, coloured as the utilities' colour code has it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final
from xml.sax.saxutils import escape, quoteattr

from plumbmark.exchange.palette import INK, RGB
from plumbmark.model.layer import Feature, Geometry, Layer, LayerSet, Path, Shape

_HEAD: Final = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">\n<Document>\n'
)
#: Columns that may name a placemark, the first that a layer has.
_NAMES: Final = (
    *("id", "reading", "mark", "test_hole", "corner", "baseline", "dig", "number", "line"),
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
    return "".join(_document(layers)).encode()


def _document(layers: LayerSet) -> Iterator[str]:
    yield _HEAD
    notes = "\n".join(layers.notes)
    yield f"<name>{_text(layers.title or layers.job)}</name>\n<description>{_text(notes)}</description>\n"
    for name, colour in (*RGB.items(), ("ink", INK)):
        line, area = _colour(colour, 255), _colour(colour, 70)
        yield (
            f'<Style id="{name}"><LineStyle><color>{line}</color><width>3</width></LineStyle>'
            f"<PolyStyle><color>{area}</color></PolyStyle></Style>\n"
        )
    for layer in layers.layers:
        if layer.features:
            yield f"<Folder><name>{_text(layer.name)}</name><description>{_text(layer.title)}</description>\n"
            yield from _placemarks(layer)
            yield "</Folder>\n"
    yield "</Document>\n</kml>\n"


def _text(cell: object) -> str:
    return escape("".join(c if c.isprintable() or c in "\n\t" else " " for c in str(cell)))


def _colour(colour: tuple[int, int, int], opacity: int) -> str:
    """Opacity, blue, green, red: KML's own order."""
    return "{:02x}{:02x}{:02x}{:02x}".format(opacity, *reversed(colour))


def _placemarks(layer: Layer) -> Iterator[str]:
    called = next((i for name in _NAMES if (i := layer.column(name)) is not None), None)
    coloured = layer.column("colour")
    heads = [f"<Data name={quoteattr(column.name)}><value>" for column in layer.columns]
    for feature in layer.features:
        name = "" if called is None else _text(feature.cells[called])
        colour = None if coloured is None else feature.cells[coloured]
        yield (
            f"<Placemark><name>{name}</name><styleUrl>#{colour if colour in RGB else 'ink'}</styleUrl>"
            f"<ExtendedData>{_data(heads, feature)}</ExtendedData>"
        )
        if feature.geometry is not None:
            yield _geometry(feature.geometry, layer.shape)
        yield "</Placemark>\n"


def _data(heads: list[str], feature: Feature) -> str:
    return "".join(
        f"{head}{cell:.10g}</value></Data>"
        if isinstance(cell, float)
        else f"{head}{_text(cell)}</value></Data>"
        for head, cell in zip(heads, feature.cells, strict=True)
        if cell is not None and cell != ""
    )


def _geometry(geometry: Geometry, shape: Shape) -> str:
    found: Any = geometry
    if shape is Shape.POINT:
        return f"<Point>{_positions((found,))}</Point>"
    if shape is Shape.LINE:
        return f"<LineString><tessellate>1</tessellate>{_positions(found)}</LineString>"
    if shape is Shape.NONE:
        return ""
    polygons = []
    for area in found:
        rings = [f"<LinearRing>{_positions(ring)}</LinearRing>" for ring in area]
        holes = "".join(f"<innerBoundaryIs>{ring}</innerBoundaryIs>" for ring in rings[1:])
        outer = f"<outerBoundaryIs>{rings[0]}</outerBoundaryIs>"
        polygons.append(f"<Polygon><tessellate>1</tessellate>{outer}{holes}</Polygon>")
    return f"<MultiGeometry>{''.join(polygons)}</MultiGeometry>"


def _positions(path: Path) -> str:
    return f"<coordinates>{' '.join(f'{p[0]:.8f},{p[1]:.8f}' for p in path)}</coordinates>"
