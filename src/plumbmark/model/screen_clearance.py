"""The clearance screen: where may no machine go?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from plumbmark.model.clearance import Demand
from plumbmark.model.estimate import Interval
from plumbmark.model.screen_drawn import Cited, DrawnDig, DrawnLine, Extent, Path, Point


class Hatch(StrEnum):
    """How a part of a dig is hatched by what it demands; no hue says it."""

    NONE = "none"
    BROKEN = "broken"
    ONE_WAY = "one way"
    BOTH_WAYS = "both ways"


@dataclass(frozen=True, slots=True)
class ClearanceStretch:
    """A part of a dig and what it demands, as closed rings to be hatched."""

    demand: Demand
    hatch: Hatch
    rings: tuple[Path, ...]
    words: str


@dataclass(frozen=True, slots=True)
class DigConflict:
    """Something that a dig meets or passes near: what, how near, with which odds, and why that is demanded.

    `place` is where the two come nearest.
    """

    name: str
    demand: Demand
    place: Point
    odds: str
    words: tuple[str, ...]
    told: tuple[Cited, ...]


@dataclass(frozen=True, slots=True)
class ClearanceDig:
    """The answer for one dig."""

    dig: str
    says: str
    demand: Demand
    because: tuple[str, ...]
    stretches: tuple[ClearanceStretch, ...]
    conflicts: tuple[DigConflict, ...]


@dataclass(frozen=True, slots=True)
class ClearanceHole:
    """A test hole to dig: where, from which side, the depth to the top to expect, when to stop and call."""

    number: int
    line: str
    place: Point
    from_deg: float
    lateral_m: Interval
    top_m: Interval
    where: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ClearanceZone:
    """The tolerance zone of a line: about its marks, and about the band that holds it 19 times in 20."""

    line: str
    about_marks: tuple[Path, ...]
    about_band: tuple[Path, ...]
    words: str


@dataclass(frozen=True, slots=True)
class ClearanceScreen:
    """A clearance check, what nobody has answered first.

    `unanswered` is of ticket, owners and private lines, `unseen` of what no reading shows: ground not swept,
    lines without a signal.

    `ready` is false while there is no check; `empty` then says what is wanting or under way.
    """

    job: str
    units: str
    ready: bool
    empty: str
    unanswered: tuple[str, ...]
    unseen: tuple[str, ...]
    no_machine: str
    digs: tuple[ClearanceDig, ...]
    holes: tuple[ClearanceHole, ...]
    holes_note: str
    notes: tuple[str, ...]
    rule: str
    zones: tuple[ClearanceZone, ...]
    least_said: str
    hatches: str
    extent: Extent | None
    ground: tuple[DrawnDig, ...]
    lines: tuple[DrawnLine, ...]
