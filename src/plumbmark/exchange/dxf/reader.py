"""Lines of a DXF drawing."""

from __future__ import annotations

import io
from typing import Any, Final

from plumbmark.exchange.lines_in import MAX_TEXT_BYTES, LineIn, LinesIn, UnreadableFileError

_LINES: Final = {"LINE", "LWPOLYLINE", "POLYLINE", "ARC", "SPLINE", "ELLIPSE"}
#: Length of a drawing unit by $INSUNITS; 0 says nothing.
_METRES: Final = {1: 0.0254, 2: 0.3048, 4: 0.001, 5: 0.01, 6: 1.0, 21: 1200.0 / 3937.0}
#: How far a curve may lie off the straight pieces it is read as, in drawing units.
_SAG: Final = 0.01


def dxf_lines(data: bytes, layers: tuple[str, ...] = ()) -> LinesIn:
    """The lines of a drawing's model space.

    Parameters
    ----------
    data : bytes
    layers : tuple of str
        Names of drawing layers to be read; all where none is named.

    Returns
    -------
    LinesIn
        In drawing units; a drawing says no coordinate system. The name of its drawing layer is a line's cell
        `layer`, and what plumbmark wrote beside it are its other cells.

    Raises
    ------
    UnreadableFileError
        If it is no DXF.
    """
    import ezdxf.recover
    from ezdxf.lldxf.const import DXFError
    from ezdxf.path import make_path

    if len(data) > MAX_TEXT_BYTES:
        raise UnreadableFileError(f"is {len(data):,} bytes, and at most {MAX_TEXT_BYTES:,} (64 MiB) are read")
    try:
        drawing, _ = ezdxf.recover.read(io.BytesIO(data))
    except (DXFError, OSError, ValueError) as error:
        raise UnreadableFileError(f"is not DXF: {str(error)[:120] or 'no drawing in it'}") from None
    found = LinesIn(metres_per_unit=_METRES.get(drawing.header.get("$INSUNITS", 0)))
    for entity in drawing.modelspace():
        kind = entity.dxftype()
        if kind not in _LINES:
            found.pass_over(f"entities of the kind {kind}")
            continue
        if not found.wanted(entity.dxf.layer, layers):
            continue
        flat = [(float(p.x), float(p.y)) for p in make_path(entity).flattening(_SAG)]
        path = tuple(p for i, p in enumerate(flat) if i == 0 or p != flat[i - 1])
        if len(path) < 2:
            found.pass_over("lines of one point")
            continue
        where = f"{kind} {entity.dxf.handle} of layer {entity.dxf.layer}"
        found.add(LineIn(where, path, {"layer": entity.dxf.layer, **_cells(entity)}))
    return found


def _cells(entity: Any) -> dict[str, object]:
    """What plumbmark wrote in the extended data of an entity."""
    if not entity.has_xdata("PLUMBMARK"):
        return {}
    pairs = (tag.value.partition("=") for tag in entity.get_xdata("PLUMBMARK") if tag.code == 1000)
    return {name: value for name, _, value in pairs}
