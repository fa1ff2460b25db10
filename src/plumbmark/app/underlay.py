"""Lines of another program's file, to be drawn under a plan: no facts, no part of any answer."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Final

from plumbmark.base.errors import PlumbmarkError

ENDINGS: Final = (".gpkg", ".geojson", ".json")


class UnderlayError(PlumbmarkError, ValueError):
    """A file without lines that could be drawn in the job's grid; says why."""


def lines_in_grid(name: str, data: bytes, crs: str) -> bytes:
    """The lines of a file in the grid of a job.

    Parameters
    ----------
    name : str
        Of the file; its ending says what it is.
    data : bytes
    crs : str
        Of the job: ``"local"`` or ``"EPSG:…"``.

    Returns
    -------
    bytes
        GeoJSON with coordinates in metres of that grid.

    Raises
    ------
    UnderlayError
    """
    from plumbmark.exchange.geojson import geojson_lines
    from plumbmark.exchange.geopackage import geopackage_lines
    from plumbmark.exchange.records_in import Asked, records_made

    ending = Path(name).suffix.lower()
    if ending not in ENDINGS:
        raise UnderlayError(f"the ending '{ending}' is none that is read: {', '.join(ENDINGS)}")
    try:
        if ending == ".gpkg":
            with tempfile.TemporaryDirectory() as folder:  # SQLite opens files alone
                held = Path(folder) / "lines.gpkg"
                held.write_bytes(data)
                lines = geopackage_lines(held)
        else:
            lines = geojson_lines(data, ())
        made = records_made(lines, crs, "line", Asked())
    except PlumbmarkError as error:
        raise UnderlayError(f"the file {error}") from error
    if not made.features:
        raise UnderlayError("the file has no lines in it")
    root = {"type": "FeatureCollection", "features": made.features}
    return json.dumps(root, ensure_ascii=False).encode()
