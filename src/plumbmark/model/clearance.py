"""A planned dig against what is known to be there: zones, clearances, what is demanded, test holes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from plumbmark.model.estimate import Interval

Point = tuple[float, float]
Ring = tuple[Point, ...]


class Demand(StrEnum):
    """What a stretch of a dig demands, from the least to the most. None permits a machine in a zone."""

    NOTHING = "nothing known in the way"
    NOT_KNOWN = "not known"
    HAND_DIG = "hand dig"
    TEST_HOLE = "test hole first"

    @property
    def rank(self) -> int:
        """Place in that order, 0 to 3."""
        return list(Demand).index(self)


class Met(StrEnum):
    """What kind of thing a dig meets."""

    LINE = "line"
    SECOND_LINE = "second line"
    RECORD = "record"


@dataclass(frozen=True, slots=True)
class ZoneRule:
    """A tolerance zone: half its width is half the line and `distance_m` each side, in plan.

    Attributes
    ----------
    name, title : str
        As given to ``--rules``; as shown to people.
    distance_m : float, [m]
        From the outside of the line on each side.
    clearance_m : float, [m]
        Separation that is asked for between the dig and the line, where nobody says another.
    source, clearance_source : str
        Where the numbers come from, or that they are from memory.
    note : str
    """

    name: str
    title: str
    distance_m: float
    clearance_m: float
    source: str
    clearance_source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Zone:
    """The zone of one line in plan.

    Attributes
    ----------
    diameter_m, diameter_said : float, str
        Outside diameter taken, and where it comes from.
    half_width_m : float, [m]
        Of the lawful zone about the mark.
    lawful, honest : tuple of Ring
        Outlines about the marks, and about the band that holds the line 19 times in 20.
    narrow : tuple of (float, float), [m]
        Chainages from and to, where the band with the line's own width reaches outside the lawful zone.
    """

    line: str
    diameter_m: float
    diameter_said: str
    half_width_m: float
    lawful: tuple[Ring, ...]
    honest: tuple[Ring, ...]
    narrow: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Encounter:
    """One stretch of a line near a dig.

    Attributes
    ----------
    met : Met
    name : str
        Id of the line or record; of a second line, "beside E1".
    shape : str
        "crossing", "parallel" or "beside".
    from_chainage_m, to_chainage_m : float, [m]
        On the line, as far as it lies within its zone of the dig.
    easting_m, northing_m, chainage_m : float, [m]
        Where the two come nearest.
    horizontal_m : Interval, [m]
        Smallest distance in plan from the outside of the dig to the outside of the line; 0 or less where
        the line runs under or through it.
    vertical_m : Interval or None, [m]
        From the bottom of the dig down to the top of the line where it runs under or through it, negative
        where the line is reached; of a bore the gap above or below. None where the one or the other is
        not known, or the dig never comes over the line.
    asked_m : float, [m]
    asked_probability, strike_probability : float
        Of less than what is asked for, and of none at all. Never under 0.01 unless `exposed`: `floored`
        says that 0.01 stands for less.
    exposed : bool
        The line was seen by eye within a metre of every point of the stretch.
    demand : Demand
    because : tuple of str
    """

    dig: str
    met: Met
    name: str
    shape: str
    from_chainage_m: float
    to_chainage_m: float
    easting_m: float
    northing_m: float
    chainage_m: float
    horizontal_m: Interval
    vertical_m: Interval | None
    asked_m: float
    asked_probability: float
    strike_probability: float
    floored: bool
    exposed: bool
    demand: Demand
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StretchAnswer:
    """What a part of a dig demands. `from_m`, `to_m` along a trench or bore, None for an excavation."""

    dig: str
    demand: Demand
    names: tuple[str, ...]
    rings: tuple[Ring, ...]
    from_m: float | None
    to_m: float | None
    area_m2: float


@dataclass(frozen=True, slots=True)
class HoleAdvice:
    """A test hole that would settle something.

    Attributes
    ----------
    number : int
        From 1 in the order that settles most.
    from_deg : float, [deg]
        Start on this side of the line and work toward it.
    lateral_m : Interval, [m]
        Where the middle of the line can be, to the right of increasing chainage from the place given.
    top_m : Interval, [m]
        Depth to the top to expect.
    settled : float
        Share of all that is in doubt about these digs which is settled once this hole is dug too.
    words : tuple of str
        What to do, when to stop and whom to call.
    """

    number: int
    line: str
    chainage_m: float
    easting_m: float
    northing_m: float
    from_deg: float
    lateral_m: Interval
    top_m: Interval
    settled: float
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DigAnswer:
    """The answer for one planned dig."""

    dig: str
    demand: Demand
    because: tuple[str, ...]
    encounters: tuple[Encounter, ...]
    stretches: tuple[StretchAnswer, ...]


@dataclass(frozen=True, slots=True)
class ClearanceAnswer:
    """The clearance check of a job.

    `unanswered` holds for every dig: owners, private lines, ground not swept. Its first `about_ticket` are of
    the ticket and come before anything else: without one that runs nobody digs; the next `about_owners` are
    of owners and private lines. `notes` are remarks on plausibility (cover, holes that found something else
    than expected); they change no demand downward.
    """

    job: str
    rule: ZoneRule
    asked_m: float
    digs: tuple[DigAnswer, ...]
    zones: tuple[Zone, ...]
    holes: tuple[HoleAdvice, ...]
    unanswered: tuple[str, ...]
    notes: tuple[str, ...] = ()
    about_ticket: int = 0
    about_owners: int = 0
