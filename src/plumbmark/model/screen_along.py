"""The screen along a line: does it make sense end to end?"""

from __future__ import annotations

from dataclasses import dataclass

from plumbmark.model.estimate import Interval, Trust
from plumbmark.model.screen_drawn import Cited, Ink
from plumbmark.model.screen_site import SiteUnplaced


@dataclass(frozen=True, slots=True)
class AlongPlace:
    """One place along a line; depths to the middle and to the top (None where the size is not known)."""

    source: str
    id: str
    chainage_m: float
    depth_m: Interval
    top_m: Interval | None
    current_ma: Interval
    shown_depth_m: float | None
    shown_current_ma: float | None
    trust: Trust
    told: tuple[Cited, ...]


@dataclass(frozen=True, slots=True)
class CurrentSlope:
    """How fast the current falls along a stretch under one hook-up.

    Attributes
    ----------
    fall_db_per_100_m : Interval
        Positive where it falls toward larger chainage.
    from_ma, to_ma : float, [mA]
        Ends of the straight line to be drawn on the log axis.
    words : str
        In the job's units, with its band.
    """

    setup: str
    from_m: float
    to_m: float
    from_ma: float
    to_ma: float
    readings: int
    fall_db_per_100_m: Interval
    words: str


@dataclass(frozen=True, slots=True)
class AlongEvent:
    """A change of the current: where, how much, how likely, and what it can come from."""

    chainage_m: float
    kind: str
    change_db: float
    probability: float
    words: str
    cause: str


@dataclass(frozen=True, slots=True)
class AlongHole:
    """A test hole abreast of a line."""

    hole: str
    chainage_m: float
    found: bool
    top_m: float | None
    dug_to_m: float | None
    told: Cited


@dataclass(frozen=True, slots=True)
class AlongSecond:
    """The stretch over which a second line runs beside."""

    from_m: float
    to_m: float
    probability: float
    words: str


@dataclass(frozen=True, slots=True)
class AlongSwap:
    """A gap between two readings at which the crew may have gone over to another line."""

    before: str
    after: str
    from_m: float
    to_m: float
    words: str


@dataclass(frozen=True, slots=True)
class AlongLine:
    """One line from end to end.

    `deepest_m`, `weakest_ma` and `strongest_ma` are the ends of the axes; one hopeless place may run out of
    them. `slope` says why there is none where `slopes` is empty.
    """

    line: str
    name: str
    ink: Ink
    says: tuple[str, ...]
    direction: str
    from_m: float
    to_m: float
    deepest_m: float
    weakest_ma: float
    strongest_ma: float
    places: tuple[AlongPlace, ...]
    swaps: tuple[AlongSwap, ...]
    slopes: tuple[CurrentSlope, ...]
    slope: str
    events: tuple[AlongEvent, ...]
    holes: tuple[AlongHole, ...]
    seconds: tuple[AlongSecond, ...]


@dataclass(frozen=True, slots=True)
class AlongScreen:
    """All lines of a job that have a place.

    A line read at places known by words has an entry for each stretch that is measured in itself; `apart` are
    places that are not measured from any other. `left_out` says which places are not among those listed.
    """

    job: str
    units: str
    empty: str
    lines: tuple[AlongLine, ...]
    apart: tuple[SiteUnplaced, ...]
    left_out: str
    caution: str
