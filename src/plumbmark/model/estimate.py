"""What plumbmark answers: estimates with their 95 % intervals, and the reasons."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from plumbmark.model.finding import Finding


class Trust(StrEnum):
    """How far the numbers at a place can be leaned on."""

    HOLDS = "holds"
    LOOSE = "loose"
    UNPROVEN = "unproven"


class Identity(StrEnum):
    """Is this the line it is said to be? Apart from trust."""

    PROVEN = "proven"
    LIKELY = "likely"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate and the ends of its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class StationEstimate:
    """The answer at one station.

    `source` is the column the station's id stands under: "reading", "profile" or "side_reading".
    `mark_easting_m`, `mark_northing_m`: the field mark. `right_deg`: bearing of the row's right,
    along which `lateral_shift_m` (estimate minus mark) counts. `easting_m`, `northing_m`: the ground
    above the line. Depth is from the ground to the centre of the conductor.
    """

    source: str
    id: str
    chainage_m: float
    easting_m: float
    northing_m: float
    mark_easting_m: float
    mark_northing_m: float
    right_deg: float
    lateral_shift_m: Interval
    depth_m: Interval
    current_a: Interval
    single_line_probability: float
    within_10_probability: float
    trust: Trust
    because: tuple[str, ...]
    next_step: str


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another current the readings speak for; offset to the right of increasing chainage."""

    from_chainage_m: float
    to_chainage_m: float
    offset_m: Interval
    depth_m: float
    current_ratio: float
    probability: float
    is_line: str | None


@dataclass(frozen=True, slots=True)
class CurrentEvent:
    """A drop, rise or reversal of the current along the line.

    `setup`: hook-up that it was seen under, where the line has several.
    """

    chainage_m: float
    kind: str
    change_db: float
    probability: float
    setup: str = ""


#: What can be asked for; a crew may say of each that it cannot be done.
ACTIONS: Final = ("raise", "half points", "walk across", "test hole")


@dataclass(frozen=True, slots=True)
class NextStep:
    """The action that pays most, and what it should do to the band of depth."""

    action: str
    words: str
    line: str | None = None
    reading: str | None = None
    raise_m: float | None = None
    at_easting_m: float | None = None
    at_northing_m: float | None = None
    depth_band_m: float | None = None
    depth_band_after_m: float | None = None


@dataclass(frozen=True, slots=True)
class LineEstimate:
    """The answer for one line.

    `unsettled` are pairs of ids of readings between which the crew may have gone over to another line.
    """

    line: str
    identity: Identity
    identity_because: tuple[str, ...]
    stations: tuple[StationEstimate, ...]
    neighbours: tuple[Neighbour, ...] = ()
    current_events: tuple[CurrentEvent, ...] = ()
    unsettled: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Solution:
    """The answer for a job."""

    job: str
    lines: tuple[LineEstimate, ...]
    next_step: NextStep | None
    warnings: tuple[Finding, ...] = ()
