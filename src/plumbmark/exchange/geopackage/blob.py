"""Geometry as GeoPackage stores it: a header with the system and the bounds, then well-known binary."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from typing import Any

from plumbmark.exchange.lines_in import Path2
from plumbmark.model.layer import Area, Geometry, Path, Position, Shape

Bounds = tuple[float, float, float, float]
# OGC 06-103r4 table 7: a third number adds 1000 to the kind.
_POINT, _LINE, _POLYGON, _MULTI_POLYGON, _UPRIGHT = 1, 2, 3, 6, 1000
# OGC 12-128r18 2.1.3: "GP", version 0, flags (little endian; 1 in bits 1 to 3: bounds of four numbers).
_NO_BOUNDS, _BOUNDS = 0b00000001, 0b00000011


def blob(geometry: Geometry, shape: Shape, srs_id: int, *, upright: bool) -> tuple[bytes, Bounds]:
    r"""A geometry as a blob, and its bounds in plan.

    Parameters
    ----------
    geometry : Geometry
        As `shape` says.
    shape : Shape
    srs_id : int
        Of its coordinate system.
    upright : bool
        Positions have a third number.

    Returns
    -------
    blob : bytes
    bounds : tuple of float
        Least and largest first number, least and largest second number.

    Examples
    --------
    >>> data, bounds = blob((1.0, 2.0), Shape.POINT, 32631, upright=False)
    >>> data[:4], len(data), bounds
    (b'GP\x00\x01', 29, (1.0, 1.0, 2.0, 2.0))
    """
    more = _UPRIGHT if upright else 0
    found: Any = geometry
    if shape is Shape.POINT:
        head = struct.pack("<2sBBi", b"GP", 0, _NO_BOUNDS, srs_id)
        body = struct.pack(f"<BI{len(found)}d", 1, _POINT + more, *found)
        return head + body, (found[0], found[0], found[1], found[1])
    if shape is Shape.LINE:
        body = struct.pack("<BI", 1, _LINE + more) + _points(found)
        positions: Iterable[Position] = found
    else:
        polygons = b"".join(_polygon(area, more) for area in found)
        body = struct.pack("<BII", 1, _MULTI_POLYGON + more, len(found)) + polygons
        positions = (p for area in found for p in area[0])
    bounds = _bounds(positions)
    return struct.pack("<2sBBi4d", b"GP", 0, _BOUNDS, srs_id, *bounds) + body, bounds


def _points(path: Path) -> bytes:
    numbers = [x for position in path for x in position]
    return struct.pack(f"<I{len(numbers)}d", len(path), *numbers)


def _polygon(area: Area, more: int) -> bytes:
    head = struct.pack("<BII", 1, _POLYGON + more, len(area))
    return head + b"".join(_points(ring) for ring in area)


def _bounds(positions: Iterable[Position]) -> Bounds:
    first, second = zip(*((p[0], p[1]) for p in positions), strict=True)
    return min(first), max(first), min(second), max(second)


def unblob(data: bytes) -> Iterator[Path2]:
    """The lines in a blob, in plan: each line of a line or of several, and of a collection.

    Parameters
    ----------
    data : bytes

    Yields
    ------
    path : tuple of (float, float)
        Nothing for points and areas.

    Raises
    ------
    ValueError
        If it is no geometry of a GeoPackage.
    """
    if data[:2] != b"GP" or len(data) < 8:
        raise ValueError("is no geometry of a GeoPackage")
    import shapely

    size = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}.get(data[3] >> 1 & 0b111)
    if size is None or data[3] & 0b00100000:
        raise ValueError("is a geometry of a kind that is not read")
    try:
        shape = shapely.from_wkb(data[8 + size :])
    except shapely.errors.GEOSException as error:
        raise ValueError("is no geometry of a GeoPackage") from error
    yield from paths_of(shape)


def paths_of(shape: Any) -> Iterator[Path2]:
    """The lines of a shape in plan."""
    import shapely

    for part in shapely.get_parts(shapely.get_parts(shape)):
        if part.geom_type in ("LineString", "LinearRing") and not part.is_empty:
            yield tuple((float(x), float(y)) for x, y in shapely.get_coordinates(part))
