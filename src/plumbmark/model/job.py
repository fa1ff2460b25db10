"""What a job is made of: receivers, lines, setups, and the things a tape can be held to.

Field names end in the SI unit of what they hold. `None` means not given; it never means zero.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from plumbmark.model.finding import Finding
from plumbmark.model.mark import PaintedMark
from plumbmark.model.reading import Profile, Reading, SideReading, TestHole
from plumbmark.model.record import Dig, Record
from plumbmark.model.sweep import Pass, Search, SweepPlan
from plumbmark.model.ticket import OwnerAnswer, PhotoFact, Thing, Ticket


class NullKind(StrEnum):
    """What a receiver calls the null of its upright coil."""

    PHASE = "phase"
    LEAST = "least"
    UNKNOWN = "unknown"


class Utility(StrEnum):
    """What a line carries."""

    ELECTRIC = "electric"
    LIGHTING = "lighting"
    GAS = "gas"
    PETROLEUM = "petroleum"
    STEAM = "steam"
    WATER = "water"
    FIRE = "fire"
    IRRIGATION = "irrigation"
    RECLAIMED = "reclaimed"
    COMMUNICATIONS = "communications"
    SEWER = "sewer"
    STORM = "storm"
    UNKNOWN = "unknown"


class LineState(StrEnum):
    """Whether a line is in use."""

    LIVE = "live"
    ABANDONED = "abandoned"
    UNKNOWN = "unknown"


class Signal(StrEnum):
    """What carries the signal: the line itself or a sonde inside it."""

    LINE = "line"
    SONDE = "sonde"


class Hookup(StrEnum):
    """How the signal was put on the line."""

    DIRECT = "direct"
    CLAMP = "clamp"
    INDUCTION = "induction"
    PASSIVE = "passive"


class IdentityEvidence(StrEnum):
    """What ties the signal to the line it is said to be."""

    CONNECTED = "connected"
    FOLLOWED_TO_FITTING = "followed-to-fitting"
    SECOND_SETUP_AGREES = "second-setup-agrees"
    EXPOSED = "exposed"


@dataclass(frozen=True, slots=True)
class Soil:
    """Ground resistivity; `resistivity_ohm_m` None means unknown."""

    resistivity_ohm_m: float | None = None
    resistivity_sigma_factor: float = 2.0


@dataclass(frozen=True, slots=True)
class Receiver:
    """The two coils of a receiver, the foot standing on the ground."""

    id: str
    lower_coil_height_m: float | None = None
    coil_spacing_m: float | None = None
    null_kind: NullKind = NullKind.UNKNOWN


@dataclass(frozen=True, slots=True)
class Setup:
    """One way a line was hooked up and read. Every line has at least one.

    A line that lists none in the file has one made of its own keys, with the id ``""``.
    """

    id: str
    line: str
    hookup: Hookup | None = None
    frequency_hz: float | None = None
    receiver: str | None = None
    transmitter_easting_m: float | None = None
    transmitter_northing_m: float | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """A line that was to be located."""

    id: str
    utility: Utility = Utility.UNKNOWN
    outside_diameter_m: float | None = None
    material: str | None = None
    state: LineState = LineState.UNKNOWN
    owner: str | None = None
    private: bool | None = None
    signal: Signal = Signal.LINE
    identity: tuple[IdentityEvidence, ...] = ()
    setups: tuple[Setup, ...] = ()


@dataclass(frozen=True, slots=True)
class Trench:
    """Lines known to lie together."""

    id: str
    lines: tuple[str, ...]
    width_m: float | None = None


@dataclass(frozen=True, slots=True)
class Baseline:
    """A straight line on the ground, from start to end, that chainage is measured along.

    One that is not `placed` says how far along it a thing is and no more: where it lies on the map is not
    known, and its coordinates stand in for that, far from everything else.
    """

    id: str
    start_easting_m: float
    start_northing_m: float
    end_easting_m: float
    end_northing_m: float
    placed: bool = True


@dataclass(frozen=True, slots=True)
class Corner:
    """A point a tape can be held to."""

    id: str
    easting_m: float
    northing_m: float


@dataclass(frozen=True, slots=True)
class Job:
    """One job, read and checked: facts only, nothing computed.

    `ticket` None and `owners` empty mean that nothing was written down of them, not that there is none.
    """

    id: str
    title: str = ""
    crs: str = "local"
    display_units: str = "m"
    soil: Soil = Soil()
    receivers: tuple[Receiver, ...] = ()
    lines: tuple[Line, ...] = ()
    trenches: tuple[Trench, ...] = ()
    baselines: tuple[Baseline, ...] = ()
    corners: tuple[Corner, ...] = ()
    readings: tuple[Reading, ...] = ()
    profiles: tuple[Profile, ...] = ()
    side_readings: tuple[SideReading, ...] = ()
    test_holes: tuple[TestHole, ...] = ()
    records: tuple[Record, ...] = ()
    digs: tuple[Dig, ...] = ()
    marks: tuple[PaintedMark, ...] = ()
    sweep: SweepPlan = field(default_factory=SweepPlan)
    searches: tuple[Search, ...] = ()
    passes: tuple[Pass, ...] = ()
    ticket: Ticket | None = None
    owners: tuple[OwnerAnswer, ...] = ()
    things: tuple[Thing, ...] = ()
    photographs: tuple[PhotoFact, ...] = ()
    findings: tuple[Finding, ...] = field(default=(), compare=False)
