"""`records.geojson` and `dig.geojson`: lines on record, and what is to be dug."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.jobtoml import JobFile, listed, outside_words
from plumbmark.exchange.jobfolder.keys import Holds, Key, take, words
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.model.job import Utility
from plumbmark.model.record import Dig, DigKind, Record
from plumbmark.survey.crs import from_longitude_latitude, outside_area, outside_area_deg

MAX_FEATURES: Final = 100_000
MAX_ABS_M: Final = 1e8
Path2 = tuple[tuple[float, float], ...]

_SIGMA: Final = Key("position_sigma_m", Holds.NUMBER, low=0.0, high=10_000.0)
#: Properties of a record. A new one is one line here and a field of `plumbmark.model.record.Record`.
RECORD_KEYS: Final = (
    Key("id", Holds.ID),
    Key("line", Holds.ID),
    Key("utility", Holds.CHOICE, choices={str(u): str(u) for u in Utility}),
    Key("depth_m", Holds.NUMBER, low=0.0, high=10_000.0),
    Key("outside_diameter_m", Holds.NUMBER, low=0.0, high=100.0, above=True),
    Key("source", Holds.TEXT),
    Key("date", Holds.TEXT),
    _SIGMA,
)
DIG_KEYS: Final = (
    Key("id", Holds.ID),
    Key("kind", Holds.CHOICE, choices=words(DigKind), required=True),
    Key("depth_m", Holds.NUMBER, low=0.0, high=10_000.0),
    Key("depths_m", Holds.NUMBERS, low=0.0, high=10_000.0),
    Key("width_m", Holds.NUMBER, low=0.0, high=10_000.0),
    Key("diameter_m", Holds.NUMBER, low=0.0, high=100.0),
    _SIGMA,
)
_FEATURE_MEMBERS: Final = ("type", "id", "geometry", "properties", "bbox", "crs")
_ROOT_MEMBERS: Final = ("type", "features", "crs", "name", "bbox")


@dataclass(frozen=True, slots=True)
class Drawing:
    """A GeoJSON file: where its features stand, and how its coordinates are meant."""

    file: str
    job: JobFile
    degrees: bool
    remarks: Remarks
    unknown: set[str] = field(default_factory=set)  # properties told of already


def read_records(text: str, job: JobFile, remarks: Remarks) -> list[Record]:
    """Features of `records.geojson`; wrong ones are told of and left out."""
    records: dict[str, Record] = {}
    for drawing, path, feature in _features(text, "records.geojson", job, remarks):
        taken = _properties(drawing, feature, RECORD_KEYS, path)
        parts = _lines(drawing, path, feature)
        line = taken.get("line")
        if line is not None and job.readable and line not in job.lines and line not in job.broken:
            what = f"{shown(line)} is no line of this job{listed(job.lines)}, so the record stands for itself"
            remarks.warn(f"{path} line", what)
        ident = taken.pop("id", "") or f"record-{len(records) + 1}"
        if ident in records:
            remarks.error(f"{path} id", f"{shown(ident)} is the id of another feature above")
        for number, part in enumerate(parts, start=1):
            name = ident if number == 1 else f"{ident}.{number}"
            records[name] = Record(name, part, **taken)
    return list(records.values())


def read_digs(text: str, job: JobFile, remarks: Remarks) -> list[Dig]:
    """Features of `dig.geojson`; wrong ones are told of and left out."""
    digs: dict[str, Dig] = {}
    for drawing, path, feature in _features(text, "dig.geojson", job, remarks):
        taken = _properties(drawing, feature, DIG_KEYS, path)
        kind = taken.get("kind")
        if kind is None:
            continue
        rings = (
            _rings(drawing, path, feature) if kind is DigKind.EXCAVATION else _lines(drawing, path, feature)
        )
        ident = taken.pop("id", "") or f"dig-{len(digs) + 1}"
        if ident in digs:
            remarks.error(f"{path} id", f"{shown(ident)} is the id of another feature above")
        if rings:
            _check_depths(taken, rings[0], kind, path, remarks)
            digs[ident] = Dig(ident, taken.pop("kind"), tuple(rings), **taken)
    return list(digs.values())


def _check_depths(taken: Mapping[str, Any], path: Path2, kind: DigKind, where: str, remarks: Remarks) -> None:
    depths = taken.get("depths_m")
    if depths is None:
        return
    if "depth_m" in taken:
        remarks.error(f"{where} depths_m", "is the same quantity as depth_m (keep one of the two)")
    vertices = len(path)
    allowed = {vertices, vertices - 1} if kind is DigKind.EXCAVATION else {vertices}
    if len(depths) not in allowed:
        remarks.error(f"{where} depths_m", f"has {len(depths)} depths, and the line has {vertices} vertices")


def _features(
    text: str, file: str, job: JobFile, remarks: Remarks
) -> Iterator[tuple[Drawing, str, dict[str, Any]]]:
    root = _parse(text, file, remarks)
    if root is None:
        return
    kind = root.get("type")
    if kind == "Feature":
        features: Any = [root]
    elif kind == "FeatureCollection":
        features = root.get("features")
        for name in root:
            if name not in _ROOT_MEMBERS:
                remarks.warn(
                    f"{file} {name if name.isprintable() else shown(name)}",
                    "is not known, so it was not read",
                )
    else:
        remarks.error(f"{file} type", f"{_brief(kind)} is not FeatureCollection")
        return
    if not isinstance(features, list):
        remarks.error(f"{file} features", "is not a list of features")
        return
    if len(features) > MAX_FEATURES:
        remarks.error(file, f"has {len(features):,} features, and at most {MAX_FEATURES:,} are read")
        return
    degrees = _in_degrees(root, file, job, remarks)
    if degrees is None:
        return
    drawing = Drawing(file, job, degrees, remarks)
    for number, feature in enumerate(features, start=1):
        path = f"{file} feature {number}"
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            remarks.error(path, "is not a Feature")
            continue
        yield drawing, path, feature


def _parse(text: str, file: str, remarks: Remarks) -> dict[str, Any] | None:
    doubled: list[str] = []

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            names = [name for name, _ in pairs]
            doubled.extend(name for name in found if names.count(name) > 1)
        return found

    def refuse(constant: str) -> float:
        raise ValueError(f"there is a number {constant}, and numbers are finite")

    try:
        root = json.loads(text, object_pairs_hook=once, parse_constant=refuse)
    except RecursionError:
        remarks.error(file, "is not GeoJSON: its lists are too deep")
        return None
    except ValueError as error:
        reason = str(error)
        remarks.error(file, f"is not JSON: {reason[:1].lower()}{reason[1:160]}")
        return None
    for name in dict.fromkeys(doubled):
        remarks.error(file, f"has an object with the member {shown(name)} twice")
    if not isinstance(root, dict):
        remarks.error(file, "is not GeoJSON (a FeatureCollection is needed)")
        return None
    return root


_EPSG: Final = re.compile(r"(?:urn:ogc:def:crs:)?EPSG:(?:[0-9.]*:)?([0-9]{4,6})", re.IGNORECASE)


def _in_degrees(root: Mapping[str, Any], file: str, job: JobFile, remarks: Remarks) -> bool | None:
    """Whether coordinates are longitude and latitude; None (and an error) for another system."""
    crs = root.get("crs")
    local = job.crs == "local"
    if crs is None:
        return not local
    name = crs
    if isinstance(crs, dict):
        properties = crs.get("properties")
        name = properties.get("name") if isinstance(properties, dict) else None
    text = name if isinstance(name, str) else ""
    if text == "local" and local:
        return False
    match = _EPSG.fullmatch(text)
    code = f"EPSG:{match[1]}" if match else text
    if code == job.crs:
        return False
    if not local and (code == "EPSG:4326" or text.upper().endswith("CRS84")):
        return True
    remarks.error(f"{file} crs", f"{_brief(name)} is not the system of the job, {job.crs}")
    return None


def _properties(
    drawing: Drawing, feature: Mapping[str, Any], keys: tuple[Key, ...], path: str
) -> dict[str, Any]:
    properties = feature.get("properties")
    if properties is None:
        properties = {}
    if not isinstance(properties, dict):
        drawing.remarks.error(f"{path} properties", "is not an object")
        properties = {}
    outer = feature.get("id")
    if "id" not in properties and isinstance(outer, (str, int)) and not isinstance(outer, bool):
        properties = {"id": str(outer), **properties}
    # A property that nobody knows is told of at the first feature that has it.
    taken = take(properties, keys, path, drawing.remarks, other=tuple(drawing.unknown))
    take(feature, (), path, drawing.remarks, other=(*_FEATURE_MEMBERS, *drawing.unknown))
    drawing.unknown.update(set(properties) - {key.name for key in keys}, set(feature) - set(_FEATURE_MEMBERS))
    return taken


def _lines(drawing: Drawing, path: str, feature: Mapping[str, Any]) -> list[Path2]:
    """The line, or the lines, of a feature."""
    kind, coordinates = _geometry(drawing, path, feature, ("LineString", "MultiLineString"))
    parts = coordinates if kind == "MultiLineString" else [coordinates]
    return _parts(
        drawing, path, parts, kind, lambda line: "" if len(line) >= 2 else "needs two positions at least"
    )


def _rings(drawing: Drawing, path: str, feature: Mapping[str, Any]) -> list[Path2]:
    """Rings of a polygon, the outer one first."""
    kind, coordinates = _geometry(drawing, path, feature, ("Polygon",))
    return _parts(drawing, path, coordinates, kind, _ring_problem)


def _ring_problem(ring: Path2) -> str:
    if len(ring) < 4:
        return "is a ring of fewer than four positions"
    return "" if ring[0] == ring[-1] else "is a ring that does not end where it starts"


def _geometry(
    drawing: Drawing, path: str, feature: Mapping[str, Any], allowed: tuple[str, ...]
) -> tuple[str, Any]:
    geometry = feature.get("geometry")
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if kind not in allowed:
        needed = " or ".join(allowed)
        drawing.remarks.error(f"{path} geometry", f"{_brief(kind)} is not {needed}")
        return "", []
    return str(kind), geometry.get("coordinates") if isinstance(geometry, dict) else None


def _parts(
    drawing: Drawing, path: str, parts: Any, kind: str, problem: Callable[[Path2], str]
) -> list[Path2]:
    if not kind:
        return []
    where = f"{path} coordinates"
    if not isinstance(parts, list) or not parts:
        drawing.remarks.error(where, f"is not the list of positions of a {kind}")
        return []
    found: list[Path2] = []
    for part in parts:
        line = _positions(drawing, where, part)
        if line is None:
            continue
        wrong = problem(line)
        if wrong:
            drawing.remarks.error(where, wrong)
            continue
        placed = _placed(drawing, where, line)
        if placed is not None:
            found.append(placed)
    return found if len(found) == len(parts) else []


def _positions(drawing: Drawing, where: str, part: Any) -> Path2 | None:
    if not isinstance(part, list):
        drawing.remarks.error(where, f"{_brief(part)} is not a list of positions")
        return None
    line: list[tuple[float, float]] = []
    for position in part:
        if not (
            isinstance(position, list) and len(position) >= 2 and all(_is_number(v) for v in position[:2])
        ):
            drawing.remarks.error(where, f"{_brief(position)} is not a position (two finite numbers)")
            return None
        line.append((float(position[0]), float(position[1])))
    return tuple(line)


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    return -MAX_ABS_M <= value <= MAX_ABS_M and math.isfinite(value)


def _placed(drawing: Drawing, where: str, line: Path2) -> Path2 | None:
    """Coordinates in the job's system, inside its area of use."""
    system = drawing.job.system
    if system is None:
        return line
    first, second = np.array(line).T
    if not drawing.degrees:
        outside = np.flatnonzero(outside_area(system, first, second))
        if outside.size:
            k = int(outside[0])
            drawing.remarks.error(where, outside_words(system, float(first[k]), float(second[k])))
            return None
        return line
    outside = np.flatnonzero(outside_area_deg(system, first, second))
    if outside.size:
        k = int(outside[0])
        grid = abs(first[k]) > 180.0 or abs(second[k]) > 90.0
        hint = f' (if it is meant in {system.code}, say so by a "crs" member)' if grid else ""
        what = f"longitude {first[k]:.10g}, latitude {second[k]:.10g} lies outside the area of use of"
        drawing.remarks.error(where, f"{what} {system.code}, {system.name}{hint}")
        return None
    easting, northing, _ = from_longitude_latitude(system, first, second)
    if not (np.isfinite(easting).all() and np.isfinite(northing).all()):
        drawing.remarks.error(where, f"has a position without a transformation into {system.code}")
        return None
    return tuple(zip(easting.tolist(), northing.tolist(), strict=True))


def _brief(value: Any) -> str:
    if isinstance(value, str):
        return shown(value)
    try:
        text = json.dumps(value)
    except (ValueError, RecursionError):
        text = "that"
    return text if len(text) <= 40 else text[:40] + "..."
