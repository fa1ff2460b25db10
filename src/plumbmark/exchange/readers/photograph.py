"""A photograph: where, when and which way it was taken, and a small picture that says none of that."""

from __future__ import annotations

import hashlib
import io
import math
import re
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import PurePosixPath
from typing import Any, Final

from plumbmark.exchange.photographs import upright_picture
from plumbmark.exchange.readers.log import Known, Log, LogError, Part, Reader

_BEGIN: Final = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")
_GPS: Final = 0x8825
_EXIF: Final = 0x8769
_NOT_NAME: Final = re.compile(r"[^A-Za-z0-9._-]+")
_COLUMNS: Final = {
    "photo": Known("id"),
    "time": Known("time"),
    "longitude": Known("longitude_deg", "deg"),
    "latitude": Known("latitude_deg", "deg"),
    "direction": Known("bearing_deg", "deg"),
    "remark": Known("note"),
}


def reads(name: str, data: bytes) -> bool:
    """Whether it is a JPEG or PNG."""
    del name
    return data.startswith(_BEGIN)


def read(name: str, data: bytes) -> Log:
    """What the camera wrote down, and the picture that is kept: upright, 1600 pixels, nothing else."""
    from PIL import Image

    picture = upright_picture(io.BytesIO(data))
    if isinstance(picture, str):
        raise LogError(picture.removesuffix(", so it is not shown"))
    try:
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG")) as opened:
            exif = opened.getexif()
            size = opened.size
            shot, gps = dict(exif.get_ifd(_EXIF)), dict(exif.get_ifd(_GPS))
            shot.setdefault(0x9003, exif.get(0x0132))
    except Exception:  # a header that says nothing, or nonsense, is none
        size, shot, gps = (0, 0), {}, {}
    kept = photo_name(name, data)
    direction, north = _direction(gps)
    original = f"original {PurePosixPath(name).name[:80]}, {size[0]} x {size[1]}, SHA-256 "
    note = "; ".join(part for part in (original + hashlib.sha256(data).hexdigest(), north) if part)
    longitude, latitude = _degrees(gps, 4, 3, b"W", 180.0), _degrees(gps, 2, 1, b"S", 90.0)
    if not (longitude and latitude):
        longitude = latitude = ""
    row = (kept, _taken_at(shot, gps), longitude, latitude, direction, note)
    part = Part("", tuple(_COLUMNS), (row,), (1,), _COLUMNS, ("photos",))
    return Log("a photograph", (part,), (), {f"photos/{kept}": picture})


def photo_name(name: str, data: bytes) -> str:
    """The name of the picture that is kept; two photographs of one name do not meet.

    Examples
    --------
    >>> photo_name("Front of house.PNG", b"x")
    'Front-of-house-2d711642.jpg'
    """
    stem = _NOT_NAME.sub("-", PurePosixPath(name.replace("\\", "/")).stem).strip("-.")[:40] or "photo"
    return f"{stem}-{hashlib.sha256(data).hexdigest()[:8]}.jpg"


def _taken_at(shot: Mapping[int, Any], gps: Mapping[int, Any]) -> str:
    """When: by the camera's clock with its offset, else by satellite in universal time, else by its clock."""
    said, offset = _text(shot.get(0x9003) or shot.get(0x9004)), _text(shot.get(0x9011) or shot.get(0x9010))
    try:
        local = datetime.strptime(said, "%Y:%m:%d %H:%M:%S") if said else None
    except ValueError:
        local = None
    if local is not None and re.fullmatch(r"[+-]\d\d:\d\d", offset):
        return f"{local.isoformat(sep=' ')}{offset}"
    try:
        day = datetime.strptime(_text(gps.get(29)), "%Y:%m:%d")
        hours, minutes, seconds = (float(part) for part in gps[7])
        moment = day + timedelta(hours=hours, minutes=minutes, seconds=round(seconds))
        return f"{moment.isoformat(sep=' ')}+00:00"
    except (KeyError, TypeError, ValueError, ZeroDivisionError, OverflowError):
        return "" if local is None else local.isoformat(sep=" ")


def _direction(gps: Mapping[int, Any]) -> tuple[str, str]:
    """Which way the camera looked [deg], and by which north where that is not the grid's."""
    try:
        degrees = float(gps[17])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return "", ""
    if not 0.0 <= degrees <= 360.0:
        return "", ""
    north = {"T": "true", "M": "magnetic"}.get(_text(gps.get(16)), "an unstated")
    return f"{degrees:.0f}", f"direction from {north} north"


def _degrees(gps: Mapping[int, Any], number: int, letter: int, minus: bytes, most: float) -> str:
    try:
        degrees, minutes, seconds = (float(part) for part in gps[number])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return ""
    value = degrees + minutes / 60.0 + seconds / 3600.0
    if not (math.isfinite(value) and 0.0 <= value <= most) or not _text(gps.get(letter)):
        return ""
    return f"{-value if _text(gps[letter]) == minus.decode() else value:.8f}"


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("ascii", errors="ignore")
    return value.strip("\0 ") if isinstance(value, str) else ""


READER: Final = Reader(reads, read)
