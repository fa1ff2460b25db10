"""The site screen: what is where, and what is still open?"""

from __future__ import annotations

from dataclasses import dataclass

from plumbmark.model.estimate import Trust
from plumbmark.model.screen_drawn import Cited, DrawnDig, DrawnLine, Extent, Ink, Path, Point, SiteNote


@dataclass(frozen=True, slots=True)
class SiteSecond:
    """A second line beside a line: its middle, and the ring it lies in 19 times in 20 if it is there."""

    beside: str
    is_line: str | None
    ink: Ink
    path: Path
    band: Path
    probability: float
    words: str


@dataclass(frozen=True, slots=True)
class SiteMark:
    """A field mark, where the crew put it, with what was answered there."""

    line: str
    source: str
    id: str
    name: str
    place: Point
    trust: Trust
    told: tuple[Cited, ...]


@dataclass(frozen=True, slots=True)
class SitePaint:
    """Paint on the ground: to be painted (`painted` false), or as it was painted.

    `place` is the paint, `points_at` where it says the line is; `edges` of a wide structure or a corridor.
    """

    painted: bool
    line: str | None
    name: str
    place: Point
    points_at: Point
    along_deg: float | None
    edges: tuple[Point, Point] | None
    colour: str | None
    text: str
    words: str


@dataclass(frozen=True, slots=True)
class SiteThing:
    """Something seen: a meter, a valve, a patch, paint of others."""

    thing: str
    kind: str
    place: Point
    colour: str | None
    words: str


@dataclass(frozen=True, slots=True)
class SiteRecord:
    """A line as a record has it; `sigma_m` of its place, None where it does not say."""

    record: str
    line: str | None
    ink: Ink
    path: Path
    sigma_m: float | None
    words: str


@dataclass(frozen=True, slots=True)
class SiteHole:
    """A test hole that was dug."""

    hole: str
    line: str
    place: Point
    found: bool
    words: str


@dataclass(frozen=True, slots=True)
class SitePass:
    """A pass of the sweep, as walked."""

    name: str
    path: Path
    signal: str | None
    words: str


@dataclass(frozen=True, slots=True)
class SiteAnchor:
    """A baseline, from start to end, or a corner, one point: what a tape is held to."""

    id: str
    path: Path


@dataclass(frozen=True, slots=True)
class SiteUnplaced:
    """Something known by words only, so listed and not drawn."""

    table: str
    id: str
    place: str
    words: str


@dataclass(frozen=True, slots=True)
class SiteScreen:
    """Everything that is drawn on the plan, in the job's own grid, in the order it is drawn.

    `extent` None: nothing has a place yet. `says` is the answer in a sentence or two, `empty` what to do
    on a plan with nothing on it, "" on one that has.
    """

    job: str
    title: str
    units: str
    says: str
    empty: str
    extent: Extent | None
    digs: tuple[DrawnDig, ...]
    records: tuple[SiteRecord, ...]
    passes: tuple[SitePass, ...]
    baselines: tuple[SiteAnchor, ...]
    corners: tuple[SiteAnchor, ...]
    seconds: tuple[SiteSecond, ...]
    lines: tuple[DrawnLine, ...]
    marks: tuple[SiteMark, ...]
    paint: tuple[SitePaint, ...]
    things: tuple[SiteThing, ...]
    holes: tuple[SiteHole, ...]
    unplaced: tuple[SiteUnplaced, ...]
    notes: tuple[SiteNote, ...]
    caution: str
