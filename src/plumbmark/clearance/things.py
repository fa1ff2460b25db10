"""Everything a dig can meet, as joint samples: solved lines, second lines the readings speak for, records."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.clearance.rules import diameter_of, largest_diameter
from plumbmark.model.clearance import Met
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import Interval, LineEstimate, Neighbour, Solution
from plumbmark.model.job import Job, Utility
from plumbmark.model.record import Record
from plumbmark.survey.polyline import path_length

FLOATS = NDArray[np.float64]
Z_95 = 1.959964

# Common practice, no source: what a drawing is worth that does not say.
RECORD_SIGMA_M = 1.0
RECORD_DEPTH_SIGMA = 0.4  # of ln depth
RECORD_STEP_M = 0.5


@dataclass(frozen=True, slots=True)
class Thing:
    """Something in the ground, or said to be.

    Attributes
    ----------
    met, name : Met, str
        As an `Encounter` names it.
    draws : LineDraws
    diameter_m, diameter_said : float, str
    chance : float
        That it is there at all.
    has_depth : bool
        Whether the samples' depths mean anything.
    estimate : LineEstimate or None
        Of a solved line.
    record : Record or None
    """

    met: Met
    name: str
    draws: LineDraws
    diameter_m: float
    diameter_said: str
    chance: float = 1.0
    has_depth: bool = True
    estimate: LineEstimate | None = None
    record: Record | None = None

    @property
    def radius_m(self) -> float:
        """Half the outside diameter."""
        return 0.5 * self.diameter_m


def things_of(
    job: Job, solution: Solution, draws: Mapping[str, LineDraws], rng: np.random.Generator
) -> tuple[Thing, ...]:
    """What a dig can meet, under the same samples.

    Parameters
    ----------
    job, solution : Job, Solution
    draws : mapping of line to LineDraws
        A solved line that has none is sampled from its stations' bands.
    rng : Generator

    Returns
    -------
    tuple of Thing
        Solved lines first, then second lines, then records of what was not solved.
    """
    lines = {line.id: line for line in job.lines}
    count = next((len(d.depth_m) for d in draws.values()), 2000)
    found: list[Thing] = []
    second: list[Thing] = []
    solved = {estimate.line for estimate in solution.lines if estimate.stations}
    for estimate in solution.lines:
        if not estimate.stations:
            continue
        own = draws.get(estimate.line)
        if own is None:
            own = from_bands(estimate, count, rng)
        size, said = diameter_of(lines[estimate.line])
        found.append(Thing(Met.LINE, estimate.line, own, size, said, estimate=estimate))
        others = [n for n in estimate.neighbours if n.is_line not in solved]
        for k, neighbour in enumerate(others):
            name = f"beside {estimate.line}" + (f", number {k + 1}" if k else "")
            second.append(_second(name, own, neighbour, rng))
    records = [r for r in job.records if r.line is None or r.line not in solved]
    return (*found, *second, *(_record(r, count, rng) for r in records))


def spread_of(interval: Interval, z: FLOATS) -> FLOATS:
    """Values of a lopsided interval at standard normal `z`: its ends lie at 1.96 to either side."""
    up, down = (interval.high - interval.value) / Z_95, (interval.value - interval.low) / Z_95
    return interval.value + np.where(z > 0.0, up, down) * z


def from_bands(estimate: LineEstimate, count: int, rng: np.random.Generator) -> LineDraws:
    """Samples of a line of which only the bands of its stations are known: each strays as one.

    Parameters
    ----------
    estimate : LineEstimate
        With one station at least.
    count : int
    rng : Generator

    Returns
    -------
    LineDraws
        At the stations.
    """
    stations = estimate.stations
    aside, deep = rng.standard_normal((2, count, 1))
    right = np.radians([s.right_deg for s in stations])
    shift = np.column_stack([spread_of(s.lateral_shift_m, aside[:, 0]) for s in stations])
    east = np.array([s.mark_easting_m for s in stations]) + shift * np.sin(right)
    north = np.array([s.mark_northing_m for s in stations]) + shift * np.cos(right)
    mean = np.log([s.depth_m.value for s in stations]) * np.ones((count, 1))
    # One width for both sides, the wider one: a shallow tail is not to be cut short.
    sd = [
        max(math.log(s.depth_m.high / s.depth_m.value), math.log(s.depth_m.value / max(s.depth_m.low, 0.01)))
        / Z_95
        for s in stations
    ]
    spread = np.maximum(np.array(sd), 1e-3) * np.ones((count, 1))
    at = np.array([s.chainage_m for s in stations])
    return LineDraws(estimate.line, at, east, north, np.exp(mean + spread * deep), mean, spread)


def rights_of(easting_m: FLOATS, northing_m: FLOATS) -> FLOATS:
    """Unit vectors to the right of a path, shape (k, 2); of a single place, east."""
    if len(easting_m) < 2:
        return np.array([[1.0, 0.0]] * len(easting_m))
    ahead = np.column_stack([np.gradient(easting_m), np.gradient(northing_m)])
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-12)[:, None]
    return np.column_stack([ahead[:, 1], -ahead[:, 0]])


def _second(name: str, draws: LineDraws, neighbour: Neighbour, rng: np.random.Generator) -> Thing:
    """A second line runs beside the samples of its line; its depth has no band and is not used."""
    at = draws.chainage_m
    inside = (at >= neighbour.from_chainage_m - 0.5) & (at <= neighbour.to_chainage_m + 0.5)
    if not inside.any():
        inside[int(np.abs(at - neighbour.from_chainage_m).argmin())] = True
    right = rights_of(draws.easting_m.mean(axis=0), draws.northing_m.mean(axis=0))[inside]
    count = len(draws.depth_m)
    offset = spread_of(neighbour.offset_m, rng.standard_normal((count, 1)))
    deep = np.full((count, int(inside.sum())), math.log(max(neighbour.depth_m, 0.05)))
    beside = LineDraws(
        name,
        at[inside],
        draws.easting_m[:, inside] + offset * right[:, 0],
        draws.northing_m[:, inside] + offset * right[:, 1],
        np.exp(deep),
        deep,
        np.full_like(deep, RECORD_DEPTH_SIGMA),
    )
    size, said = largest_diameter(Utility.UNKNOWN)
    return Thing(Met.SECOND_LINE, beside.line, beside, size, said, neighbour.probability, has_depth=False)


def _record(record: Record, count: int, rng: np.random.Generator) -> Thing:
    """A drawing strays as a whole by its position's sigma."""
    path = np.array(record.path, dtype=np.float64)
    chainage = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    length = path_length(path)
    at = np.unique(np.concatenate([chainage, np.arange(0.0, length, RECORD_STEP_M)]))
    sigma = RECORD_SIGMA_M if record.position_sigma_m is None else record.position_sigma_m
    east, north = (np.interp(at, chainage, path[:, k]) for k in (0, 1))
    stray = sigma * rng.standard_normal((2, count, 1))
    level = rng.standard_normal((count, 1))
    mean = np.full((count, len(at)), math.log(record.depth_m if record.depth_m else 1.0))
    draws = LineDraws(
        record.id,
        at,
        east + stray[0],
        north + stray[1],
        np.exp(mean + RECORD_DEPTH_SIGMA * level),
        mean,
        np.full_like(mean, RECORD_DEPTH_SIGMA),
    )
    utility = Utility(record.utility) if record.utility in set(Utility) else Utility.UNKNOWN
    size, said = largest_diameter(utility)
    if record.outside_diameter_m is not None:
        size, said = record.outside_diameter_m, "as the record has it"
    return Thing(Met.RECORD, record.id, draws, size, said, has_depth=bool(record.depth_m), record=record)
