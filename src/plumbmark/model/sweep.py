"""A sweep: the passes walked to find what nobody expected, what was looked for, and what that is worth.

The upper half holds facts as they were written down, the lower half what is computed from them. Field names
end in the SI unit of what they hold; `None` means not given.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plumbmark.model.reading import Place

Point = tuple[float, float]
FLOATS = NDArray[np.float64]
BOOLS = NDArray[np.bool_]


class SearchMethod(StrEnum):
    """Whose current is listened for."""

    PASSIVE_POWER = "passive-power"
    PASSIVE_RADIO = "passive-radio"
    ACTIVE = "active"

    @property
    def words(self) -> str:
        """As people say it."""
        return self.value.replace("-", " ")


class Antenna(StrEnum):
    """One coil lying in the direction faced, or the sum of three square to each other."""

    ONE_AXIS = "one-axis"
    THREE_AXIS = "three-axis"


class Heard(StrEnum):
    """What a pass met."""

    NONE = "none"
    MARKED = "marked"
    UNEXPLAINED = "unexplained"


@dataclass(frozen=True, slots=True)
class PassPoint:
    """One point that was walked through; `heading_deg` is the way the receiver faced from here on."""

    place: Place
    row: int
    heading_deg: float | None = None
    taken_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Pass:
    """One walk with the receiver listening, straight from point to point.

    `signal` None: nobody wrote down whether anything was met, which is not the same as "none".
    """

    id: str
    row: int
    method: SearchMethod
    points: tuple[PassPoint, ...]
    antenna: Antenna | None = None
    frequency_hz: float | None = None
    signal: Heard | None = None
    by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Search:
    """What is searched for by one method; `threshold_a` is the current noticed every other time, 1 m off.

    `current_a` is the middle of what such lines carry, `current_sigma_factor` one standard deviation of its
    logarithm, as a multiplier.
    """

    method: SearchMethod
    frequency_hz: float | None = None
    antenna: Antenna | None = None
    threshold_a: float | None = None
    current_a: float | None = None
    current_sigma_factor: float | None = None


@dataclass(frozen=True, slots=True)
class SweepPlan:
    """What a job says of its sweep: the ground, the passes, and what might be there."""

    margin_m: float | None = None
    spacing_m: float | None = None
    bearing_deg: float | None = None
    reach_m: float | None = None
    line_bearing_deg: float | None = None
    line_bearing_sigma_deg: float | None = None
    depth_m: float | None = None
    depth_sigma_factor: float | None = None


# -- what is computed -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LeastCurrent:
    """The weakest current at a depth that is noticed 19 times in 20 whichever way its line runs.

    `current_a` None: a line of some direction is missed there whatever it carries.
    """

    depth_m: float
    current_a: float | None


@dataclass(frozen=True, slots=True)
class DigSweep:
    """How much of one dig was swept: `swept_m2` by every method searched for, of `area_m2`.

    `by_method` has the ground swept by each method alone.
    """

    dig: str
    area_m2: float
    swept_m2: float
    by_method: tuple[tuple[SearchMethod, float], ...]


@dataclass(frozen=True, slots=True)
class SweepRecord:
    """What the passes really walked are worth to whoever digs there. There is none without passes.

    Attributes
    ----------
    digs : tuple of DigSweep
        One for each dig of the job, in its order.
    missing : tuple of SearchMethod
        Methods that were to be used and were not, anywhere.
    unexplained : tuple of str
        Ids of passes that met a signal with no mark to it.
    not_said : tuple of str
        Ids of passes that do not say whether a signal was met; they count as walked, never as "no signal".
    whole : bool
        Every dig was swept all over by every method, and every signal met has its mark.
    says : str
        One sentence.
    caveats : tuple of str
        What it does not rule out, in sentences: to be shown wherever the record is.
    """

    digs: tuple[DigSweep, ...]
    missing: tuple[SearchMethod, ...]
    unexplained: tuple[str, ...]
    not_said: tuple[str, ...]
    whole: bool
    says: str
    caveats: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ChanceMap:
    """Chances over one piece of ground, cell by cell, in a frame turned with it.

    Columns run along `bearing_deg`, rows to the right of it.

    Attributes
    ----------
    easting_m, northing_m : float, [m]
        Corner where row 0 and column 0 begin.
    bearing_deg : float
    cell_m : float, [m]
    inside, in_dig : bool array, shape (rows, columns)
        Whether a cell's middle lies in the ground to be swept, and in a dig itself.
    chance : array, shape (rows, columns)
        That a line through the middle is noticed, averaged over direction, depth and current; 0 outside.
    signal : array, shape (rows, columns), 0 to 1
        Of a line of the worst direction at the middle depth, over that heard from straight above it by
        somebody who walks square across; 0 outside.
    missed : array, shape (rows, columns), 0 to 1
        Share of directions in which a line is heard less than half as strong as that.
    worst_deg : array, shape (rows, columns), [degrees], 0 to 180
        Bearing of the lines that are heard least.
    least_a : array, shape (rows, columns, depths), [A]
        Least current noticed 19 times in 20 in the worst direction, at each of `least_depths_m`; infinite
        where a line of some direction is missed whatever it carries, and outside.
    least_depths_m : tuple of float, [m]
    best_a : tuple of float, [A]
        Least current straight above, at each of these depths: no spot does better.
    """

    easting_m: float
    northing_m: float
    bearing_deg: float
    cell_m: float
    inside: BOOLS
    in_dig: BOOLS
    chance: FLOATS
    signal: FLOATS
    missed: FLOATS
    worst_deg: FLOATS
    least_a: FLOATS
    least_depths_m: tuple[float, ...]
    best_a: tuple[float, ...]

    def area_m2(self, cells: BOOLS) -> float:
        """Ground of the cells that are true."""
        return float(cells.sum()) * self.cell_m**2


@dataclass(frozen=True, slots=True)
class Gap:
    """A patch of ground where a line could lie and not have been noticed.

    `missed_deg` is the bearing of the lines that are heard least there, None where those of most bearings
    are hardly heard; `least` what such a line must carry to be noticed 19 times in 20.
    """

    name: str
    area_m2: float
    easting_m: float
    northing_m: float
    in_dig: bool
    missed_deg: float | None
    least: LeastCurrent
    where: str


@dataclass(frozen=True, slots=True)
class Walk:
    """A pass to be walked, from point to point; `where` says its ends in terms of the ground."""

    path: tuple[Point, ...]
    where: str

    @property
    def length_m(self) -> float:
        """Along the path."""
        return sum(math.dist(a, b) for a, b in pairwise(self.path))


@dataclass(frozen=True, slots=True)
class MethodSweep:
    """One method over all ground to be swept: by planned passes, or by those really walked.

    Attributes
    ----------
    search : Search
        With every value filled in.
    walks : tuple of Walk
    best_chance : float
        That of a pass straight across the line: no sweep by this method does better.
    mean_chance : float
        Over the ground to be swept.
    area_m2, swept_m2 : float
    maps : tuple of ChanceMap
        One for each piece of ground.
    least : tuple of LeastCurrent
        Over the ground in the dig.
    gaps : tuple of Gap
        The largest first.
    further : tuple of Walk
        Passes that close the gaps.
    fewest : bool
        No fewer straight passes of the two directions would.
    """

    search: Search
    walks: tuple[Walk, ...]
    best_chance: float
    mean_chance: float
    area_m2: float
    swept_m2: float
    maps: tuple[ChanceMap, ...]
    least: tuple[LeastCurrent, ...]
    gaps: tuple[Gap, ...] = ()
    further: tuple[Walk, ...] = ()
    fewest: bool = True


@dataclass(frozen=True, slots=True)
class Round:
    """The last sweep, round a dig after marking: any line that enters the dig crosses it.

    `share` of the lines that enter it are heard half as strong as from straight above, or stronger.
    """

    dig: str
    walk: Walk
    off_m: float
    share: float


@dataclass(frozen=True, slots=True)
class SweepAnswer:
    """A sweep as planned, and as walked.

    `walked` is empty where no pass was written down, `record` None then. `outlines` has the ground to be
    swept, `assumed` what was taken for want of a word in the job, each with its reason.
    """

    job: str
    outlines: tuple[tuple[Point, ...], ...]
    planned: tuple[MethodSweep, ...]
    walked: tuple[MethodSweep, ...]
    rounds: tuple[Round, ...]
    record: SweepRecord | None
    assumed: tuple[str, ...]
    rules_out: tuple[str, ...]
    cannot: tuple[str, ...]
