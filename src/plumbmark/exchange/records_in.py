"""Lines of other programs' files made into records of a job."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from plumbmark.base.errors import CoordinateSystemError, UnitError
from plumbmark.base.units import LENGTH_UNITS, parse_length, shown
from plumbmark.exchange.lines_in import LineIn, LinesIn, Path2
from plumbmark.model.job import Utility
from plumbmark.survey.transform import system_words, transformation

#: Lengths that a record may have, by the stem of their column.
_LENGTHS: Final = ("depth", "outside_diameter", "position_sigma")
_TEXTS: Final = ("source", "date")
#: What is read beside a line; anything else is named once and left.
_OWN: Final = frozenset({"id", "line", "utility", "layer", "crs", "wkt", "geometry", "geom", "fid", "colour"})
_UNITS: Final = "|".join(LENGTH_UNITS)
_LENGTH_COLUMN: Final = re.compile(rf"({'|'.join(_LENGTHS)})(?:_({_UNITS}))?")
_PLACES: Final = frozenset({"easting_m", "northing_m", "longitude_deg", "latitude_deg"})


@dataclass(frozen=True, slots=True)
class Asked:
    """What the person says of a file that the file itself does not say.

    `crs`: its coordinate system. `utility`, `source`: for lines that have none of their own. `lines`: ids of
    the job's lines; a record belongs to one of them or to none.
    """

    crs: str | None = None
    utility: str | None = None
    source: str = ""
    lines: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Made:
    """Features for `records.geojson`, in the job's system, and what there is to say about them."""

    features: tuple[dict[str, Any], ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def records_made(lines: LinesIn, job_crs: str, stem: str, asked: Asked) -> Made:
    """Records of the lines of a file.

    Parameters
    ----------
    lines : LinesIn
    job_crs : str
        ``"local"`` or ``"EPSG:…"``.
    stem : str
        The file's name without its ending, for ids of lines that have none.
    asked : Asked

    Returns
    -------
    Made

    Raises
    ------
    CoordinateSystemError
        Where the coordinates cannot be brought into the job's system.
    """
    said: dict[str, None] = {}
    notes: dict[str, None] = {}
    paths = _placed(lines, job_crs, asked, notes, said)
    features = []
    taken: set[str] = set()
    unread: dict[str, None] = {}
    for line, path in zip(lines.lines, paths, strict=True):
        properties = _properties(line, asked, said, unread)
        properties = {"id": _id(line, stem, taken), **properties}
        decimals = 4
        coordinates = [[round(x, decimals) for x in p] for p in path]
        features.append(
            {
                "type": "Feature",
                "properties": properties,
                "geometry": {"type": "LineString", "coordinates": coordinates},
            }
        )
    if unread:
        named = ", ".join(sorted(unread)[:20]) + (" and others" if len(unread) > 20 else "")
        said[f"has columns that a record has no place for, so they were not read: {named}"] = None
    for what, count in lines.passed_over.items():
        said[f"holds {what}, which are no records: {count:,} not read"] = None
    return Made(tuple(features), tuple(notes), tuple(said))


def _placed(
    lines: LinesIn, job_crs: str, asked: Asked, notes: dict[str, None], said: dict[str, None]
) -> list[Path2]:
    """The lines' paths in the job's system."""
    systems: dict[str | None, list[int]] = {}
    for i, line in enumerate(lines.lines):
        systems.setdefault(asked.crs or line.crs, []).append(i)
    placed: dict[int, Path2] = {}
    for system, which in systems.items():
        points = np.array([p for i in which for p in lines.lines[i].path], float)
        first, second = _into_job(points, system, lines.metres_per_unit, job_crs, notes, said)
        moved = iter(zip(first.tolist(), second.tolist(), strict=True))
        for i in which:
            placed[i] = tuple(next(moved) for _ in lines.lines[i].path)
    return [placed[i] for i in range(len(lines.lines))]


def _into_job(
    points: np.ndarray[Any, np.dtype[np.float64]],
    system: str | None,
    unit_m: float | None,
    job_crs: str,
    notes: dict[str, None],
    said: dict[str, None],
) -> tuple[np.ndarray[Any, np.dtype[np.float64]], np.ndarray[Any, np.dtype[np.float64]]]:
    first, second = points[:, 0].copy(), points[:, 1].copy()
    if system is None:
        if unit_m not in (None, 1.0) and job_crs != "local":
            raise CoordinateSystemError(
                f"counts in units of {unit_m:.10g} m and does not say its coordinate system; say it "
                "with --crs"
            )
        unit = "" if unit_m else " and the unit of metres"
        meant = f"taken for the job's, {job_crs}{unit}; --crs says another"
        said[f"does not say its coordinate system: {meant}"] = None
        return first * (unit_m or 1.0), second * (unit_m or 1.0)
    if unit_m is not None and system != "local":
        _same_unit(system, unit_m, said)
    if system == job_crs:
        return first, second
    if "local" in (system, job_crs):
        raise CoordinateSystemError(
            f"counts in {system} and the job in {job_crs}: where a grid of its own lies in the world is "
            "not known"
        )
    way = transformation(system, job_crs, first, second)
    notes[way.words()] = None
    said.update(dict.fromkeys(way.warnings()))
    return way(first, second)


def _same_unit(system: str, unit_m: float, said: dict[str, None]) -> None:
    """A drawing's unit against its system's: the two feet differ by 2 in a million, 4 ft in 2,000,000 ft."""
    words = system_words(system)
    counted = words.metres_per_unit
    if counted is None or abs(unit_m / counted - 1.0) > 1e-4:
        raise CoordinateSystemError(
            f"counts in units of {unit_m:.10g} m, and {words.code} ({words.name}) in {words.unit}: name the "
            "system that it was drawn in"
        )
    if abs(unit_m / counted - 1.0) > 1e-9:
        said[
            f"says its unit is {unit_m:.10g} m, and {words.code} counts {words.unit}: taken for the system's"
        ] = None


def _id(line: LineIn, stem: str, taken: set[str]) -> str:
    """The line's own id, made to fit; of several parts and doubles the later ones with a number."""
    own = line.cells.get("id") or line.cells.get("fid")
    text = re.sub(r"[^A-Za-z0-9._-]+", "-", str(own).strip() if own is not None else stem).strip("-.")[:56]
    text = text or "record"
    ident, number = text if own is not None else f"{text}-1", 1
    while ident in taken:
        number += 1
        ident = f"{text}-{number}"
    taken.add(ident)
    return ident


def _properties(line: LineIn, asked: Asked, said: dict[str, None], unread: dict[str, None]) -> dict[str, Any]:
    """What a record has of what stands beside a line."""
    properties: dict[str, Any] = {}
    for name, cell in line.cells.items():
        if cell is None or cell == "":
            continue
        length = _LENGTH_COLUMN.fullmatch(name)
        if length is not None:
            value = _length(str(cell), length[2], length[1], line.where, said)
            if value is not None:
                properties[f"{length[1]}_m"] = value
        elif name in _TEXTS:
            properties[name] = str(cell)
        elif name not in _OWN and name not in _PLACES:
            unread[name] = None
    if str(line.cells.get("line") or "") in asked.lines:
        properties["line"] = str(line.cells["line"])
    utility = _utility(line.cells, asked, said)
    if utility is not None:
        properties["utility"] = utility
    properties.setdefault("source", asked.source)
    return properties


def _length(text: str, unit: str | None, stem: str, where: str, said: dict[str, None]) -> float | None:
    try:
        value = round(parse_length(text, unit, stem).low, 6)
    except UnitError as error:
        said[f"{where} {stem}: {error}, so it is left out"] = None
        return None
    if value < 0.0 or (stem == "outside_diameter" and value == 0.0):
        said[f"{where} {stem}: {shown(text)} is less than there can be, so it is left out"] = None
        return None
    return value


def _utility(cells: Mapping[str, object], asked: Asked, said: dict[str, None]) -> str | None:
    """What the line carries, where the file says so in one of our words, or the person does."""
    known = {str(u) for u in Utility}
    own = str(cells.get("utility") or "").strip().lower()
    if own and own not in known:
        said[f"has the utility {shown(own)}, which is none of {', '.join(sorted(known))}: left out"] = None
    if own in known:
        return own
    if asked.utility is not None:
        return asked.utility
    # A drawing's layers often say it: "GAS", "W-WATER", "RECORDS_ELECTRIC".
    parts = re.split(r"[^a-z]+", str(cells.get("layer") or "").lower())
    named = [word for word in parts if word in known]
    return named[0] if len(set(named)) == 1 else None


def merged(existing: str | None, made: Made, job_crs: str, *, replace: bool) -> tuple[str, list[str]]:
    """The text of `records.geojson` with the new records after those that are there.

    Parameters
    ----------
    existing : str or None
        Its text now; None where there is none. It must have been read without an error.
    made : Made
    job_crs : str
    replace : bool
        Records with the id of a new one give way to it.

    Returns
    -------
    text : str
    doubled : list of str
        Ids that are there already; without `replace` nothing must be written then.

    Raises
    ------
    CoordinateSystemError
        Where what is there is in another system than the job's, and the way back is not exact.
    """
    root: dict[str, Any] = {"type": "FeatureCollection", "features": []}
    if existing is not None:
        root = json.loads(existing)
    features = list(made.features)
    if job_crs != "local":
        if existing is not None and root.get("crs") is None:
            features = _in_degrees(features, job_crs)
        elif existing is None:
            root["crs"] = {"type": "name", "properties": {"name": f"urn:ogc:def:crs:EPSG::{job_crs[5:]}"}}
    new = {feature["properties"]["id"] for feature in features}
    there = {_id_of(feature, i): i for i, feature in enumerate(root["features"])}
    doubled = sorted(new & set(there))
    kept = [f for i, f in enumerate(root["features"]) if not (replace and _id_of(f, i) in new)]
    root["features"] = [*kept, *features]
    rows = ",\n  ".join(json.dumps(f, ensure_ascii=False, allow_nan=False) for f in root["features"])
    head = {name: value for name, value in root.items() if name != "features"}
    top = json.dumps(head, ensure_ascii=False)[:-1]
    return f'{top},\n "features": [\n  {rows}\n ]}}\n', doubled


def _id_of(feature: Any, number: int) -> str:
    """As the reader of records has it."""
    properties = feature.get("properties") or {}
    return str(properties.get("id") or feature.get("id") or f"record-{number + 1}")


def _in_degrees(features: list[dict[str, Any]], job_crs: str) -> list[dict[str, Any]]:
    """Features in longitude and latitude, as the others of the file are."""
    points = np.array([p for f in features for p in f["geometry"]["coordinates"]], float)
    way = transformation(job_crs, "EPSG:4326", points[:, 0], points[:, 1])
    x, y = way(points[:, 0].copy(), points[:, 1].copy())
    moved = iter(zip(x.tolist(), y.tolist(), strict=True))
    return [
        {
            **f,
            "geometry": {
                "type": "LineString",
                "coordinates": [[round(v, 9) for v in next(moved)] for _ in f["geometry"]["coordinates"]],
            },
        }
        for f in features
    ]
