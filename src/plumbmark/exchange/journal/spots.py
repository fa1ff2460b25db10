"""Places told by words: along from one thing seen towards another, in tape or paces, or in a sentence alone.

A reader of job folders knows no words, so each such place is written along a baseline. Where both things have
coordinates the baseline runs from the one to the other and the place is on the map. Else it is a baseline of
its own, far from everything, so that what has nothing in common shares nothing; no map may show it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from plumbmark.base.errors import CoordinateSystemError, UnitError
from plumbmark.base.units import parse_length_or_range, parse_number
from plumbmark.survey.crs import GridSystem, from_longitude_latitude, grid_system

PACE_M: Final = 0.75  # common practice, no source
PACE_SHARE: Final = 0.05  # one sigma of a distance in paces, common practice, no source
APART_M: Final = 1000.0  # northing from one baseline of its own to the next
BETWEEN_SPOTS_M: Final = 600.0  # farther than inference smooths a line over (500 m): nothing is shared
SPOTS: Final = 16  # on one baseline: a station is at most 10,000 m
LOCAL_NORTHING_M: Final = 100_000.0  # farther than any job's own metres reach
#: Cells of a place by words, which no file has.
WORDS: Final = ("from_thing", "toward_thing", "along", "place_words")
#: Cells that give a place.
PLACE: Final = (
    *(
        f"{name}{unit}"
        for name in ("easting", "northing", "station")
        for unit in ("", "_m", "_ft", "_in", "_cm", "_mm")
    ),
    "longitude_deg",
    "latitude_deg",
    "baseline",
    "place",
)
_PACES: Final = re.compile(r"([0-9]{1,4}(?:\.[0-9]+)?)\s*(?:paces?|steps?)", re.IGNORECASE)
_NOT_ID: Final = re.compile(r"[^A-Za-z0-9_-]+")

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place by words, as cells of a row; `is_placed` tells whether it lies on the map."""

    cells: Mapping[str, str]
    is_placed: bool
    said: str


@dataclass(slots=True)
class Spots:
    """Baselines made so far.

    `things` gives the coordinates of a thing seen, None where it has none; `taken` holds the ids of the job's
    own baselines. Of each of `baselines`: start, end, and whether it is on the map.
    """

    crs: str
    things: Callable[[str], Point | None]
    taken: set[str]
    baselines: dict[str, tuple[Point, Point, bool]] = field(default_factory=dict)
    _made: dict[tuple[str, ...], str] = field(default_factory=dict)
    _alone: dict[str, int] = field(default_factory=dict)
    _own: int = 0

    def spot(self, cells: Mapping[str, str], key: str) -> Spot:
        """Where a row is that tells its place by words, or not at all.

        Parameters
        ----------
        cells : mapping
            Of the row; `from_thing`, `toward_thing`, `along` and `place_words` are looked at.
        key : str
            Rows of one key share a spot of their own.

        Returns
        -------
        Spot
        """
        start, toward, along, words = (cells.get(name, "").strip() for name in WORDS)
        said = words or _sentence(start, toward, along)
        measured = _distance(along) if start else None
        if measured is None:
            return Spot(self._spot_alone(key), False, said)
        station, sigma_m = measured
        ends = self.things(start), (self.things(toward) if toward else None)
        placed = ends[0] is not None and ends[1] is not None and ends[0] != ends[1]
        name = self._baseline((start, toward), *(ends if placed else (None, None)))
        sigma = {"position_sigma_m": f"{sigma_m:.2f}"} if sigma_m else {}
        return Spot({"baseline": name, **station, "offset_m": _exact(0.0), **sigma}, placed, said)

    def _spot_alone(self, key: str) -> dict[str, str]:
        number = self._alone.setdefault(key, len(self._alone))
        name = self._baseline(("spots", str(number // SPOTS + 1), ""), None, None)
        station = _exact(BETWEEN_SPOTS_M * (number % SPOTS))
        return {"baseline": name, "station_m": station, "offset_m": _exact(0.0)}

    def _baseline(self, between: tuple[str, ...], start: Point | None, end: Point | None) -> str:
        if between in self._made:
            return self._made[between]
        kind = "words" if start is None else "along"
        stem = "-".join([kind, *(_NOT_ID.sub("-", part) for part in between if part)])[:56]
        name, number = stem, 1
        while name in self.taken:
            number += 1
            name = f"{stem}-{number}"
        placed = start is not None and end is not None
        if start is None or end is None:
            easting, northing = _far_from_all(self.crs)
            start = (easting, northing + APART_M * self._own)
            end = (easting + 100.0, start[1])
            self._own += 1
        self.taken.add(name)
        self._made[between] = name
        self.baselines[name] = (start, end, placed)
        return name


def _far_from_all(crs: str) -> Point:
    """Where baselines of their own begin: the middle of the system's area, or far north of a job's zero."""
    system = system_of(crs)
    if system is None or system.area_deg is None:
        return 0.0, LOCAL_NORTHING_M
    west, south, east, north = system.area_deg
    middle = 0.5 * (west + east) if west <= east else (0.5 * (west + east + 360.0) + 180.0) % 360.0 - 180.0
    easting, northing, _ = from_longitude_latitude(system, [middle], [0.5 * (south + north)])
    reached = math.isfinite(easting[0]) and math.isfinite(northing[0])
    return (round(float(easting[0])), round(float(northing[0]))) if reached else (0.0, LOCAL_NORTHING_M)


def system_of(crs: str) -> GridSystem | None:
    """The coordinate system of a job; None for its own metres and for one that does not exist."""
    try:
        return None if crs == "local" else grid_system(crs)
    except CoordinateSystemError:
        return None


def _distance(along: str) -> tuple[dict[str, str], float] | None:
    """Cells of a distance as typed, and its sigma [m], 0 for a tape; None for what is no distance.

    A count of paces is off by its share, and by up to half a pace besides.
    """
    paces = _PACES.fullmatch(along)
    if paces is not None:
        distance = PACE_M * parse_number(paces[1])
        return {"station_m": _exact(distance)}, math.hypot(PACE_SHARE * distance, PACE_M / math.sqrt(12.0))
    try:
        parse_length_or_range(along, None)
    except UnitError:
        return None
    return {"station": along}, 0.0


def _exact(metres: float) -> str:
    """A length that was not read off anything: digits enough that none counts as rounding."""
    return f"{metres:.6f}"


def _sentence(start: str, toward: str, along: str) -> str:
    if not start:
        return ""
    return " ".join(part for part in (along, f"from {start}", f"toward {toward}" if toward else "") if part)
