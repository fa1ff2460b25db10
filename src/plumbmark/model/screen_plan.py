"""The plan screen: clip where, stake where, which frequency?"""

from __future__ import annotations

from dataclasses import dataclass

from plumbmark.model.screen_drawn import Extent, Ink, Path, Point


@dataclass(frozen=True, slots=True)
class PlanChoice:
    """One answer to a question, as a program says it and in words."""

    answer: str
    words: str


@dataclass(frozen=True, slots=True)
class PlanQuestions:
    """The three questions, and their answers; of the second and third several may be given."""

    made_of_words: str
    made_of: tuple[PlanChoice, ...]
    reached_words: str
    reached: tuple[PlanChoice, ...]
    bonded_words: str
    bonded: tuple[PlanChoice, ...]


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One way to connect at its best frequency, in words."""

    connection: str
    frequency: str
    goes_in: str
    traced: str
    holds: str
    depth_shows: str
    on_others: str


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """What three answers lead to: the sentence first, then what fails if not, cautions once.

    `rows` compare the ways to connect, best first.
    """

    says: str
    more: tuple[str, ...]
    rows: tuple[PlanRow, ...]
    tried: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanPlace:
    """A place over the target: the current there, and what a receiver would show."""

    chainage_m: float
    depth_m: float
    shown_depth_m: float
    shift_m: float
    current_ma: float
    followed: bool
    holds: bool


@dataclass(frozen=True, slots=True)
class PlanConductor:
    """A conductor of the picture; `current_ma` the largest on it, `width` of its rim, 0 to 1."""

    id: str
    ink: Ink
    path: Path
    target: bool
    current_ma: float | None
    width: float
    words: str


@dataclass(frozen=True, slots=True)
class PlanSign:
    """A connection, a stake, a bond or a ground of the picture."""

    id: str
    kind: str
    place: Point
    words: str


@dataclass(frozen=True, slots=True)
class PlanHookup:
    """One connection at its best frequency: where to connect and stake, and what would be shown then.

    `conductors` are drawn as wide as they carry, `places` lie along the target.
    """

    row: PlanRow
    says: str
    expect: str
    conductors: tuple[PlanConductor, ...]
    connect: PlanSign
    stake: PlanSign | None
    places: tuple[PlanPlace, ...]


@dataclass(frozen=True, slots=True)
class PlanScreen:
    """The three questions, and where the job has a sketch of what lies there, its hook-ups, best first."""

    job: str
    units: str
    questions: PlanQuestions
    says: str
    empty: str
    target: str
    extent: Extent | None
    signs: tuple[PlanSign, ...]
    hookups: tuple[PlanHookup, ...]
    others: tuple[PlanRow, ...]
    changes: tuple[str, ...]
    after_readings: tuple[str, ...]
    cautions: tuple[str, ...]
    warnings: tuple[str, ...]
    holds_meaning: str
