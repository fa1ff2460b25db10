"""Marks on the ground: what was computed to be painted, and what was painted, kept apart."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from plumbmark.model.finding import Finding
from plumbmark.model.reading import Place

Point = tuple[float, float]


class MarkKind(StrEnum):
    """What a mark on the ground says."""

    CENTRE = "centre"
    EDGES = "edges"
    CORRIDOR = "corridor"
    OFFSET = "offset"
    END = "end"
    TEE = "tee"


class MarkState(StrEnum):
    """What became of a painted mark."""

    STANDS = "stands"
    FADED = "faded"
    REPAINTED = "repainted"
    MOVED = "moved"
    GONE = "gone"


@dataclass(frozen=True, slots=True)
class Tape:
    """A mark found again from the ground: along a baseline and square to it, and by two swing ties.

    Attributes
    ----------
    baseline : str or None
        With `station_m` from its start and `offset_m` to its right; None where the job has none.
    ties : tuple of (str, float)
        Corner and distance [m]; two, or none.
    tie_side : str
        "right" or "left" of the way from the first corner to the second, "" without ties.
    """

    baseline: str | None = None
    station_m: float | None = None
    offset_m: float | None = None
    ties: tuple[tuple[str, float], ...] = ()
    tie_side: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark to be painted.

    Attributes
    ----------
    number : int
        From 1 along the line, in the order walked.
    easting_m, northing_m : float, [m]
        Where the paint goes.
    chainage_m : float, [m]
        Of the place on the line that it marks.
    along_deg : float, [deg]
        Bearing of the line there, toward larger chainage.
    colour : str
        Of the uniform colour code.
    text : str
        To be written beside it.
    edges : tuple of Point, optional
        Left and right edge of a wide structure or a corridor, seen toward larger chainage.
    toward_deg, distance_m : float, optional
        Of an offset mark: direction and distance from the paint to the line's middle.
    because : str
        Why a mark stands here, and why of this kind.
    """

    line: str
    number: int
    kind: MarkKind
    easting_m: float
    northing_m: float
    chainage_m: float
    along_deg: float
    colour: str
    text: str
    tape: Tape = Tape()
    edges: tuple[Point, Point] | None = None
    toward_deg: float | None = None
    distance_m: float | None = None
    because: str = ""


@dataclass(frozen=True, slots=True)
class PaintedMark:
    """A mark as it was painted, a row of `marks.csv`: a fact, whatever is computed later.

    An offset mark has `toward_deg` and `distance_m`: from the paint to the line's middle.
    """

    id: str
    place: Place
    row: int
    line: str | None = None
    kind: MarkKind = MarkKind.CENTRE
    colour: str | None = None
    painted_at: datetime | None = None
    by: str = ""
    photo: str = ""
    state: MarkState = MarkState.STANDS
    state_at: datetime | None = None
    toward_deg: float | None = None
    distance_m: float | None = None
    note: str = ""

    @property
    def shows(self) -> Point:
        """Easting and northing of the place that it says the line is at."""
        east, north = self.place.easting_m, self.place.northing_m
        if self.toward_deg is None or self.distance_m is None:
            return east, north
        toward = math.radians(self.toward_deg)
        return east + self.distance_m * math.sin(toward), north + self.distance_m * math.cos(toward)


@dataclass(frozen=True, slots=True)
class MarkDifference:
    """A painted mark against the line as computed now.

    `beside_m`: from the computed line to what the paint says, positive to the right of increasing
    chainage; `low_m`, `high_m`: the band of the line there, counted the same way from the computed line.
    """

    mark: str
    line: str
    chainage_m: float
    beside_m: float
    low_m: float
    high_m: float

    @property
    def in_band(self) -> bool:
        """Whether the line can be where the paint says, 19 times in 20."""
        return self.low_m <= self.beside_m <= self.high_m


@dataclass(frozen=True, slots=True)
class MarkPlan:
    """What to paint along every line of a job, and how that compares with what was painted."""

    job: str
    spacing_m: float
    marks: tuple[Mark, ...]
    differences: tuple[MarkDifference, ...] = ()
    remarks: tuple[Finding, ...] = ()
