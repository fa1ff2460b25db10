"""GPX: tracks as positions in time, waypoints as things seen."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

from plumbmark.exchange.readers.log import Known, Log, LogError, Part, Reader, table

_MAX_BYTES: Final = 16 * 1024 * 1024  # a tree of it takes twenty times as much
_ROOT: Final = re.compile(rb"<(?:[A-Za-z0-9_]+:)?gpx[\s>]")
_POINTS: Final = {
    "time": Known("time"),
    "longitude": Known("longitude_deg", "deg"),
    "latitude": Known("latitude_deg", "deg"),
    "height (m)": Known(""),
    "fix": Known(""),
    "track": Known("id"),
}
_WAYPOINTS: Final = {
    "name": Known("id"),
    "longitude": Known("longitude_deg", "deg"),
    "latitude": Known("latitude_deg", "deg"),
    "time": Known("time"),
    "kind": Known("kind"),
    "remark": Known("note"),
}


def reads(name: str, data: bytes) -> bool:
    """Whether it looks like GPX."""
    del name
    return _ROOT.search(data[:65536].replace(b"\0", b"")) is not None


def read(name: str, data: bytes) -> Log:
    """Read tracks, routes and waypoints; a file that defines entities is refused before it is looked at."""
    import defusedxml.ElementTree
    import gpxpy
    from defusedxml.common import DefusedXmlException

    if len(data) > _MAX_BYTES:
        raise LogError(f"is {len(data):,} bytes, and of GPX at most {_MAX_BYTES:,} are read: split it")
    try:
        defusedxml.ElementTree.fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        raise LogError("defines entities, which no GPX needs, so it was not read") from None
    except (SyntaxError, ValueError, LookupError) as error:
        raise LogError(f"is not whole XML ({str(error)[:100]})") from None
    try:
        found = gpxpy.parse(data)
    except (gpxpy.gpx.GPXException, ValueError, TypeError, AttributeError, SyntaxError) as error:
        raise LogError(f"is not GPX ({str(error)[:100]})") from None
    parts = [part for part in (_tracks(found, name), _waypoints(found, name)) if part.rows]
    if not parts:
        raise LogError("has neither a track nor a waypoint in it")
    return Log("GPX", tuple(parts))


def _tracks(found: Any, where: str) -> Part:
    rows: list[Sequence[str]] = []
    legs: list[Sequence[Any]] = [segment.points for track in found.tracks for segment in track.segments]
    legs += [route.points for route in found.routes]
    for number, points in enumerate(legs, 1):
        rows += [
            [
                _moment(p.time),
                _degrees(p.longitude),
                _degrees(p.latitude),
                "" if p.elevation is None else f"{p.elevation:g}",
                p.type_of_gpx_fix or "",
                str(number),
            ]
            for p in points
        ]
    part, _ = table("tracks", list(_POINTS), list(enumerate(rows, 1)), where)
    return Part(
        part.name, part.columns, part.rows, part.numbers, _POINTS, ("positions", "passes"), row_word="point"
    )


def _waypoints(found: Any, where: str) -> Part:
    rows = [
        [
            p.name or "",
            _degrees(p.longitude),
            _degrees(p.latitude),
            _moment(p.time),
            p.type or p.symbol or "",
            "; ".join(dict.fromkeys(text for text in (p.comment, p.description) if text)),
        ]
        for p in found.waypoints
    ]
    part, _ = table("waypoints", list(_WAYPOINTS), list(enumerate(rows, 1)), where)
    return Part(
        part.name,
        part.columns,
        part.rows,
        part.numbers,
        _WAYPOINTS,
        ("things", "readings"),
        row_word="waypoint",
    )


def _degrees(value: float) -> str:
    return f"{value:.9f}".rstrip("0").rstrip(".")


def _moment(at: datetime | None) -> str:
    return "" if at is None else at.isoformat()


READER: Final = Reader(reads, read)
