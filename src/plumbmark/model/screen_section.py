"""The section screen: what is under my feet?"""

from __future__ import annotations

from dataclasses import dataclass

from plumbmark.model.estimate import Interval, Trust
from plumbmark.model.screen_drawn import Cited, Ink, Path


@dataclass(frozen=True, slots=True)
class SectionSecond:
    """A second line cut across: how far to the sides it can be, about how deep, and its chance."""

    aside_m: Interval
    depth_m: float
    ink: Ink
    is_line: str | None
    probability: float
    words: str


@dataclass(frozen=True, slots=True)
class SectionHole:
    """A test hole within a metre of the section: the top as seen, or how deep was dug in vain."""

    hole: str
    aside_m: float
    found: bool
    top_m: float | None
    dug_to_m: float | None
    diameter_m: float | None
    told: Cited


@dataclass(frozen=True, slots=True)
class Dimension:
    """A dimension line: along the ground (`upright` false) or down, its ends, and its words.

    `from_m`, `to_m` count to the right of the mark or down from the ground; `at_m` is where it best stands
    in the other direction.
    """

    upright: bool
    from_m: float
    to_m: float
    at_m: float
    told: Cited


@dataclass(frozen=True, slots=True)
class Section:
    """One section, seen as the row's right and left are: metres to the right of the mark and down.

    Attributes
    ----------
    says : str
        The depth and its band in a sentence.
    left_m, right_m, deepest_m : float, [m]
        What is to be seen.
    null_m : Interval, optional
        Where the null was found, a range where a range was written.
    shown_depth_m : Interval, optional
        As displayed at the mark; of a raised reading counted from the raised foot.
    raised_m, raised_depth_m : float, optional
        How far it was raised, and what it displayed then.
    aside_m, depth_m : Interval
        The line's middle.
    oval : Path
        Holds the line's middle 19 times in 20, sideways and down at once; so it reaches past both bands.
    diameter_m : float, optional
        As the job says.
    told : tuple of Cited
        Every number of the drawing and where it came from.
    """

    source: str
    id: str
    name: str
    chainage_m: float
    trust: Trust
    says: str
    paint: str
    sides: str
    left_m: float
    right_m: float
    deepest_m: float
    null_m: Interval | None
    shown_depth_m: Interval | None
    raised_m: float | None
    raised_depth_m: float | None
    aside_m: Interval
    depth_m: Interval
    oval: Path
    diameter_m: float | None
    seconds: tuple[SectionSecond, ...]
    holes: tuple[SectionHole, ...]
    dimensions: tuple[Dimension, ...]
    told: tuple[Cited, ...]
    because: tuple[str, ...]
    next_step: str


@dataclass(frozen=True, slots=True)
class SectionLine:
    """The sections of one line, in the order walked."""

    line: str
    name: str
    ink: Ink
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class SectionScreen:
    """Sections at all places of a job, or near the one asked for where they are many.

    `line` and `station` say which to open at: the one asked for, else the one that can be leaned on least.
    `left_out` says in words what is not among them, "" where all are.
    """

    job: str
    units: str
    empty: str
    line: str | None
    station: str | None
    lines: tuple[SectionLine, ...]
    left_out: str
    oval_meaning: str
    caution: str
