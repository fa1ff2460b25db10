"""Places of a log brought into the job they are taken into, or kept as a remark where that cannot be."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from plumbmark.base.errors import CoordinateSystemError, UnitError
from plumbmark.base.units import LENGTH_UNITS, parse_length, parse_length_or_range, parse_number, shown
from plumbmark.model.finding import Finding, Severity
from plumbmark.survey.crs import grid_system
from plumbmark.survey.transform import WGS84, transformation

if TYPE_CHECKING:
    from plumbmark.exchange.readers.asking import Meant

PLACED: Final = ("easting", "northing", "longitude_deg", "latitude_deg")
_CELLS: Final = (
    *(f"{axis}{unit}" for axis in ("easting", "northing") for unit in ("", *(f"_{u}" for u in LENGTH_UNITS))),
    "longitude_deg",
    "latitude_deg",
)
_SIGMA: Final = ("position_sigma", *(f"position_sigma_{u}" for u in LENGTH_UNITS))
_METRES_PER_DEGREE: Final = 111_320.0
_WORST_M: Final = 1000.0
_MANY_M: Final = 20_000.0  # own metres of a job do not reach as far; grid coordinates nearly always do

Row = dict[str, str]


@dataclass(frozen=True, slots=True)
class Given:
    """What is known of the job that a log is taken into.

    Attributes
    ----------
    crs : str
        ``local`` or ``EPSG:…``.
    has_places : bool
        Whether anything of it has coordinates.
    lines, baselines : tuple of str
        Ids.
    """

    crs: str = "local"
    has_places: bool = False
    lines: tuple[str, ...] = ()
    baselines: tuple[str, ...] = ()


def grid_offered(
    rows: Sequence[Sequence[str]], names: Mapping[str, Meant], said: Mapping[str, str], given: Given
) -> str:
    """The system a job of its own metres could count in from now on; empty where there is nothing to ask."""
    if given.crs != "local" or given.has_places:
        return ""
    if {"longitude_deg", "latitude_deg"} <= set(names):
        for row in rows:
            try:
                longitude = parse_number(row[names["longitude_deg"].at].replace(",", "."))
                latitude = parse_number(row[names["latitude_deg"].at].replace(",", "."))
            except UnitError:
                continue
            return universal_zone(longitude, latitude)
        return ""
    system = said.get("crs", "")
    return "" if system in ("", "job") else system.upper()


def universal_zone(longitude_deg: float, latitude_deg: float) -> str:
    """The zone of the universal transverse Mercator grid on WGS 84.

    Examples
    --------
    >>> universal_zone(4.9, 52.3), universal_zone(151.2, -33.9)
    ('EPSG:32631', 'EPSG:32756')
    """
    zone = min(max(int((longitude_deg + 180.0) // 6.0) + 1, 1), 60)
    return f"EPSG:{(32600 if latitude_deg >= 0.0 else 32700) + zone}"


def brought(
    rows: Sequence[Row], answers: Mapping[str, str], given: Given, where: str
) -> tuple[list[Row], list[Finding]]:
    """Rows with places that the job can read.

    Parameters
    ----------
    rows : sequence of dict
        Cells by column of the job folder, coordinates as the log has them.
    answers : mapping of str to str
        `crs`: the system of easting and northing, ``job`` for the job's own; `grid`: what a job of its own
        metres counts in from now on, ``no`` to leave places out; `sigma`: of places without one [m].
    given : Given
    where : str
        What findings name.

    Returns
    -------
    rows : list of dict
        Places that cannot be brought in stand in the note.
    findings : list of Finding
    """
    placed = [row for row in rows if any(row.get(name) for name in _CELLS)]
    if not placed:
        return list(rows), []
    degrees = any(row.get("longitude_deg") for row in placed)
    source = WGS84 if degrees else answers.get("crs", "job")
    source = source.upper() if source.upper().startswith("EPSG:") else source
    target = given.crs
    if target == "local" and answers.get("grid", "").upper().startswith("EPSG:"):
        target = answers["grid"].upper()
    try:
        if target != "local":
            grid_system(target)
        findings = _into(placed, source, target, where)
    except CoordinateSystemError as error:
        return list(rows), [Finding(Severity.ERROR, where, str(error))]
    if findings is None:
        why = "you said so" if answers.get("grid") == "no" else "the job has places in metres of its own"
        for row in placed:
            _to_note(row)
        what = f"the places are in the remarks and not on the plan: {why}, and the log's are in a system"
        return list(rows), [Finding(Severity.WARNING, where, what)]
    sigma = answers.get("sigma", "")
    for row in placed:
        if sigma and not any(row.get(name) for name in _SIGMA) and any(row.get(name) for name in _CELLS):
            row["position_sigma_m"] = f"{sigma_of(sigma):.6g}"
    return list(rows), findings


def sigma_of(text: str) -> float:
    """How good a place is [m], from what somebody typed: a number of metres, or a length with its unit.

    Examples
    --------
    >>> sigma_of("0.8"), sigma_of("2 cm")
    (0.8, 0.02)
    """
    try:
        sigma = parse_length(text, "m").low
    except UnitError:
        sigma = parse_length(text, None).low
    if not 0.0 < sigma <= _WORST_M:
        raise UnitError(f"{shown(text)} is not more than 0 and at most {_WORST_M:g} m")
    return sigma


def _into(placed: Sequence[Row], source: str, target: str, where: str) -> list[Finding] | None:
    """Bring coordinates over in the rows themselves; None where there is no way."""
    if source == WGS84:
        return None if target == "local" else []  # the job reads longitude and latitude itself
    if source in ("job", target):
        return _plausible(placed, where) if target == "local" else []
    if target == "local":
        return None
    good: list[tuple[Row, float, float]] = []
    for row in placed:
        east, north = metres(row, "easting"), metres(row, "northing")
        if east is not None and north is not None:
            good.append((row, east, north))
    old = np.array([(east, north) for _, east, north in good], dtype=float).reshape(-1, 2).T
    way = transformation(source, target, old[0], old[1])
    for (row, _, _), new in zip(good, np.transpose(way(old[0], old[1])).tolist(), strict=True):
        for name in _CELLS:
            row.pop(name, None)
        row["easting_m"], row["northing_m"] = f"{new[0]:.3f}", f"{new[1]:.3f}"
    return [Finding(Severity.WARNING, where, what) for what in (way.words(), *way.warnings())]


def _plausible(placed: Sequence[Row], where: str) -> list[Finding]:
    """A job of its own metres with coordinates of a grid: likely a mistake, and told."""
    far = [
        row for row in placed if max(abs(metres(row, a) or 0.0) for a in ("easting", "northing")) > _MANY_M
    ]
    if not far:
        return []
    what = (
        "easting and northing are those of a grid rather than metres of the job's own "
        f"({far[0].get('easting_m') or far[0].get('easting')}): was the job's crs forgotten?"
    )
    return [Finding(Severity.WARNING, where, what)]


def _to_note(row: Row) -> None:
    said = {name: row.pop(name) for name in (*_CELLS, *_SIGMA) if row.get(name)}
    place = ", ".join(f"{name} {cell}" for name, cell in said.items() if name not in _SIGMA)
    row["note"] = "; ".join(part for part in (row.get("note", ""), f"place {place}") if part)


def metres(row: Row, axis: str) -> float | None:
    """A length of a row, whatever its unit [m]; None where there is none."""
    for unit in (None, *LENGTH_UNITS):
        cell = row.get(axis if unit is None else f"{axis}_{unit}", "")
        if cell:
            try:
                return parse_length_or_range(cell, unit, axis).low
            except UnitError:
                return None
    return None


def metres_of(rows: Sequence[Row]) -> list[tuple[float, float] | None]:
    """Places in metres from the first of them, near enough for telling how far apart they are.

    Good to a part in a hundred within some kilometres; None for a row without a place.
    """
    found: list[tuple[float, float] | None] = []
    base: tuple[float, float] | None = None
    for row in rows:
        try:
            longitude, latitude = parse_number(row["longitude_deg"]), parse_number(row["latitude_deg"])
        except (KeyError, UnitError):
            east, north = metres(row, "easting"), metres(row, "northing")
            found.append(None if east is None or north is None else (east, north))
            continue
        base = base or (longitude, latitude)
        shrink = math.cos(math.radians(base[1]))
        east_m = (longitude - base[0]) * _METRES_PER_DEGREE * shrink
        found.append((east_m, (latitude - base[1]) * _METRES_PER_DEGREE))
    return found


def thinned(rows: Sequence[Row], least_m: float) -> list[Row]:
    """Rows of a walk no nearer to each other than `least_m`, the first and the last always among them."""
    places = metres_of(rows)
    kept: list[Row] = []
    last: tuple[float, float] | None = None
    for k, (row, place) in enumerate(zip(rows, places, strict=True)):
        if place is None:
            continue
        if last is None or k == len(rows) - 1 or math.dist(place, last) >= least_m:
            kept.append(row)
            last = place
    return kept
