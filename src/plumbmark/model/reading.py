"""What a crew wrote down: readings, profiles, side readings, test holes.

Field names end in the SI unit of what they hold; a column of a file is the field's name with any
unit of the same kind. `None` means not taken; it never means zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from plumbmark.model.measured import Measured


class MarkBy(StrEnum):
    """Which signal the mark was put on."""

    PEAK = "peak"
    NULL = "null"
    GUIDED = "guided"
    UNKNOWN = "unknown"


class DepthMethod(StrEnum):
    """How the displayed depth came about."""

    TWO_COIL = "two-coil"
    SONDE = "sonde"
    UNKNOWN = "unknown"


class Scale(StrEnum):
    """Scale of the amplitudes of a profile."""

    LINEAR = "linear"
    DB = "db"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Place:
    """A point on the ground in the job's system, and how well its fix is known.

    `sigma_m` is of the fix alone, one standard deviation; None where nothing was said.
    """

    easting_m: float
    northing_m: float
    sigma_m: float | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """The receiver over the line; `row` is the row of the file (the header is row 1)."""

    id: str
    line: str
    place: Place
    row: int
    setup: str = ""
    taken_at: datetime | None = None
    by: str = ""
    note: str = ""
    mark_by: MarkBy = MarkBy.PEAK
    bearing_deg: float | None = None
    null_offset_m: Measured | None = None
    half_left_m: Measured | None = None
    half_right_m: Measured | None = None
    depth_m: Measured | None = None
    depth_method: DepthMethod = DepthMethod.TWO_COIL
    depth_refused: bool = False
    current_a: Measured | None = None
    current_sign: int | None = None
    raised_by_m: Measured | None = None
    raised_depth_m: Measured | None = None
    null_ahead_m: Measured | None = None
    null_behind_m: Measured | None = None


@dataclass(frozen=True, slots=True)
class ProfilePoint:
    """One point of a walk across. Amplitudes as written, in the profile's own unit or dB."""

    row: int
    offset_m: Measured
    height_m: Measured | None = None
    horizontal: Measured | None = None
    vertical: Measured | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """The signal written down point by point while walking square across the line."""

    id: str
    line: str
    place: Place
    row: int
    bearing_deg: float | None
    points: tuple[ProfilePoint, ...]
    setup: str = ""
    scale: Scale = Scale.LINEAR


@dataclass(frozen=True, slots=True)
class SideReading:
    """A line seen from beside it; `place` is where the receiver stood."""

    id: str
    line: str
    place: Place
    row: int
    toward_deg: float | None = None
    distance_m: Measured | None = None
    depth_m: Measured | None = None
    setup: str = ""


@dataclass(frozen=True, slots=True)
class TestHole:
    """The line seen by eye, or looked for and not there."""

    __test__ = False  # not a test case, whatever its name

    id: str
    line: str
    place: Place
    row: int
    found: bool = True
    depth_to_top_m: Measured | None = None
    outside_diameter_m: Measured | None = None
    dug_to_m: Measured | None = None
    proved: str = ""
