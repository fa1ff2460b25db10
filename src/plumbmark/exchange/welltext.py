"""Geometry as well-known text (OGC 06-103r4)."""

from __future__ import annotations

from typing import Any

from plumbmark.model.layer import Geometry, Path, Shape


def well_known_text(geometry: Geometry, shape: Shape) -> str:
    """A geometry as text, its numbers to a tenth of a millimetre, or 1 mm where they are degrees.

    Examples
    --------
    >>> well_known_text(((0.0, 0.0, -0.9), (1.0, 2.0, -0.8)), Shape.LINE)
    'LINESTRING Z (0 0 -0.9, 1 2 -0.8)'
    """
    found: Any = geometry
    if shape is Shape.POINT:
        return f"POINT{_upright(found)} ({_numbers(found)})"
    if shape is Shape.LINE:
        return f"LINESTRING{_upright(found[0])} ({_path(found)})"
    areas = ", ".join(f"({', '.join(f'({_path(ring)})' for ring in area)})" for area in found)
    return f"MULTIPOLYGON{_upright(found[0][0][0])} ({areas})"


def _upright(position: tuple[float, ...]) -> str:
    return " Z" if len(position) == 3 else ""


def _path(path: Path) -> str:
    return ", ".join(map(_numbers, path))


def _numbers(position: tuple[float, ...]) -> str:
    return " ".join(f"{x:.8f}".rstrip("0").rstrip(".") if abs(x) < 361 else f"{x:.4f}" for x in position)
