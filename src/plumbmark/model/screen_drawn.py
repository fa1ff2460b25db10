"""What drawn screens share: how a line is told apart, numbers behind a drawing, notes that say what to do.

Lengths in metres, places in the job's own grid, rounded to the millimetre for drawing.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]
Path = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Ink:
    """How what a line carries is shown: by its colour, and by a letter for those who see no hue.

    Attributes
    ----------
    colour : str or None
        Of the uniform colour code; None where nobody knows what it carries: black or white.
    letter : str
        Written along the line.
    utility : str
        In words.
    """

    colour: str | None
    letter: str
    utility: str


@dataclass(frozen=True, slots=True)
class Cited:
    """A number behind something drawn: its name, itself in words, and where it came from."""

    name: str
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class Extent:
    """West, south, east and north end of what is to be seen [m]."""

    west_m: float
    south_m: float
    east_m: float
    north_m: float


@dataclass(frozen=True, slots=True)
class SiteNote:
    """An open question: what is open, what to do, and which screen that is done on.

    Attributes
    ----------
    number : int
        From 1, the most urgent first.
    place : Point or None
        None where it belongs to no place of the plan.
    opens : str
        Screen under ``#/job/ID/`` on which it is settled, "" where there is none.
    """

    number: int
    place: Point | None
    title: str
    words: str
    opens: str = ""


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A solved line: where it runs, and the band that holds it 19 times in 20, to scale.

    `band` is a closed ring; `says` the answer for the line in one breath, `identity` whether it is the
    line it is said to be.
    """

    line: str
    name: str
    ink: Ink
    path: Path
    band: Path
    says: str
    identity: str


@dataclass(frozen=True, slots=True)
class DrawnDig:
    """A planned dig: its rings or its path, and the ground it opens as closed rings."""

    dig: str
    kind: str
    paths: tuple[Path, ...]
    ground: tuple[Path, ...]
    words: str
