"""The sweep screen: what was searched, and what could still lie there unnoticed?"""

from __future__ import annotations

from dataclasses import dataclass

from plumbmark.model.screen_drawn import DrawnDig, Extent, Path, Point


@dataclass(frozen=True, slots=True)
class SweepMap:
    """Chances cell by cell, in a frame turned with the ground.

    Columns run along `bearing_deg`, rows to the right of it; row 0 and column 0 begin at `easting_m`,
    `northing_m`. `chance` and `signal` are base64 of one byte a cell, row by row: hundredths, rounded down,
    255 outside the ground. Where `merged` by `merged` cells were put together, each shows the worst of them.
    """

    easting_m: float
    northing_m: float
    bearing_deg: float
    cell_m: float
    rows: int
    columns: int
    merged: int
    chance: str
    signal: str


@dataclass(frozen=True, slots=True)
class SweepLeast:
    """At one depth, the least current that is noticed 19 times in 20 whichever way its line runs.

    None: a line of some direction is missed there whatever it carries.
    """

    depth_m: float
    current_ma: float | None
    words: str


@dataclass(frozen=True, slots=True)
class SweepGap:
    """A patch of ground where a line could lie unnoticed."""

    name: str
    place: Point
    in_dig: bool
    words: str


@dataclass(frozen=True, slots=True)
class SweepWalk:
    """A pass, walked or to be walked."""

    path: Path
    words: str


@dataclass(frozen=True, slots=True)
class SweepMethod:
    """One way of searching; `walked` false: nobody searched so yet, and the map shows the plan.

    `walks` are the passes of the map, `further` those still to be walked.
    """

    method: str
    walked: bool
    says: str
    walks: tuple[SweepWalk, ...]
    least: tuple[SweepLeast, ...]
    gaps: tuple[SweepGap, ...]
    further: tuple[SweepWalk, ...]
    maps: tuple[SweepMap, ...]


@dataclass(frozen=True, slots=True)
class SweepScreen:
    """A sweep, what to do first. `caveats` are shown wherever the answer is."""

    job: str
    units: str
    empty: str
    says: str
    caveats: tuple[str, ...]
    extent: Extent | None
    ground: tuple[Path, ...]
    digs: tuple[DrawnDig, ...]
    methods: tuple[SweepMethod, ...]
    rounds: tuple[SweepWalk, ...]
    rules_out: tuple[str, ...]
    does_not: tuple[str, ...]
    assumed: tuple[str, ...]
    meanings: tuple[str, ...]
