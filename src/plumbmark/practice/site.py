"""An invented site: what the crew wrote down, and the truth it is held against."""

from __future__ import annotations

from dataclasses import dataclass, field

from plumbmark.practice.receiver import Instrument
from plumbmark.practice.world import World


@dataclass(frozen=True)
class Row:
    """One reading in SI, noise and all, before rounding. `minute` counts from the start of the day's work.

    `null_m`, `half_left_m`, `half_right_m` count from the mark in the row's own right. A pair
    stands for a range.
    """

    id: str
    line: str
    easting_m: float
    northing_m: float
    bearing_deg: float | None
    minute: int
    setup: str = ""
    null_m: float | tuple[float, float] | None = None
    half_left_m: float | None = None
    half_right_m: float | None = None
    depth_m: float | tuple[float, float] | None = None
    refused: bool = False
    current_a: float | None = None
    raised_by_m: float | None = None
    raised_depth_m: float | None = None
    slip: str = ""
    depth_as: str = ""
    place_id: str = ""


@dataclass(frozen=True)
class Point:
    """One point of a walk across; amplitudes in the profile's own unit."""

    offset_m: float
    height_m: float
    horizontal: float | None
    vertical: float | None


@dataclass(frozen=True)
class Walked:
    """One walk across."""

    id: str
    line: str
    easting_m: float
    northing_m: float
    bearing_deg: float
    scale: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Beside:
    """One reading from the side."""

    id: str
    line: str
    easting_m: float
    northing_m: float
    toward_deg: float
    distance_m: float
    depth_m: float


@dataclass(frozen=True)
class Hole:
    """One test hole."""

    id: str
    line: str
    easting_m: float
    northing_m: float
    depth_to_top_m: float
    outside_diameter_m: float


@dataclass(frozen=True)
class Tie:
    """One tape from a corner to a named place."""

    place: str
    corner: str
    distance_m: float


@dataclass(frozen=True)
class StationTruth:
    """The truth at one station: in coordinates of the file, current RMS.

    `alone`: no other current moves the peak here by 5 cm or the depth shown by 5 %, found by
    switching the others off, noise apart. `shift_m` and `depth_change` are by how much they do.
    """

    station: str
    line: str
    easting_m: float
    northing_m: float
    bearing_deg: float
    depth_m: float
    current_a: float
    slip: str
    alone: bool
    shift_m: float
    depth_change: float


@dataclass(frozen=True)
class OtherTruth:
    """Another current in the readings of a line, at the line's middle station.

    `offset_m` to the right of the truth's bearing there; the ratio is to the line's own current.
    """

    line: str
    other: str
    offset_m: float
    depth_m: float
    ratio_real: float
    ratio_imaginary: float


@dataclass(frozen=True)
class Listed:
    """A line as the job lists it."""

    id: str
    utility: str
    hookup: str
    frequency_hz: float
    identity: tuple[str, ...] = ()
    outside_diameter_m: float | None = None


@dataclass(frozen=True)
class Site:
    """An invented site: `family` and `seed` make it again, bit for bit."""

    family: str
    seed: int
    id: str
    title: str
    crs: str
    display_units: str
    soil: tuple[float, float | None] | None
    instrument: Instrument
    receiver_listed: bool
    null_kind: str | None
    lines: tuple[Listed, ...]
    rows: tuple[Row, ...]
    world: World
    truth: tuple[StationTruth, ...]
    others: tuple[OtherTruth, ...] = ()
    walked: tuple[Walked, ...] = ()
    beside: tuple[Beside, ...] = ()
    holes: tuple[Hole, ...] = ()
    ties: tuple[Tie, ...] = ()
    corners: tuple[tuple[str, float, float], ...] = ()
    baseline: tuple[float, float, float, float] | None = None
    style: dict[str, str] = field(default_factory=dict)
    position_sigma_m: float | None = None
