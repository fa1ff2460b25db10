"""Where a dig meets a line: smallest clearances, and the chance of less than is asked for."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from plumbmark.clearance.chance import (
    Course,
    Nearest,
    chance_of_less,
    course_of,
    nearest,
    seen_by,
    wander_of,
)
from plumbmark.clearance.shapes import Footprint, beside
from plumbmark.clearance.things import Z_95, Thing
from plumbmark.clearance.zones import Band, band_of, runs
from plumbmark.model.clearance import Demand, Encounter, Met
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import Interval
from plumbmark.model.job import Job

FLOATS = NDArray[np.float64]
Sampler = Callable[[int, int], Mapping[str, LineDraws]]

FIRST_LOOK = 2000  # samples that a check starts from ...
MOST_LOOKS = 8  # ... and so many times more where a chance is still rough
ROUGH = 0.04  # a relative error of a chance above this is
LEAST_TOLD = 0.01  # no lower figure is given of a line that nobody saw
ALONG_DEG, ALONG_M = 30.0, 2.0
SEEN_M = 1.0  # how far a test hole vouches along the line


@dataclass(frozen=True, slots=True)
class Meeting:
    """A stretch of a thing near a dig: chainages, and what the first samples say.

    `index` is the place of the thing among all things, under whatever samples.
    """

    index: int
    thing: Thing
    shape: Footprint
    band: Band
    from_m: float
    to_m: float
    course: Course
    near: Nearest


@dataclass(slots=True)
class Tally:
    """Chances as samples come in."""

    count: int = 0
    total: FLOATS = field(default_factory=lambda: np.zeros(2))
    squares: FLOATS = field(default_factory=lambda: np.zeros(2))

    def add(self, chances: FLOATS) -> None:
        """Take in chances of shape (2, n): of less than asked for, and of a strike."""
        self.count += chances.shape[1]
        self.total += chances.sum(axis=1)
        self.squares += (chances**2).sum(axis=1)

    @property
    def mean(self) -> FLOATS:
        """The chances so far."""
        return np.clip(self.total / max(self.count, 1), 0.0, 1.0)

    @property
    def is_rough(self) -> bool:
        """Whether more samples would tell a chance worth telling better."""
        mean = self.mean
        variance = np.maximum(self.squares / self.count - mean**2, 0.0) / self.count
        return bool(np.any((mean > 5e-4) & (np.sqrt(variance) > ROUGH * mean)))


def meetings_of(
    things: Sequence[Thing],
    bands: Mapping[str, Band],
    marks: Mapping[str, FLOATS],
    shape: Footprint,
    distance_m: float,
    rng: np.random.Generator,
) -> list[Meeting]:
    """Every stretch of a thing whose zone, about mark or band, meets a dig.

    Parameters
    ----------
    things : sequence of Thing
    bands : mapping of name to Band
        Of each thing.
    marks : mapping of name to array, shape (k, 2), [m]
        Of solved lines, what was marked.
    shape : Footprint
    distance_m : float, [m]
        Of the zone, from the outside of a thing.
    rng : Generator
        Strays of the dig.

    Returns
    -------
    list of Meeting
    """
    found = []
    limit = distance_m + Z_95 * shape.edge_sigma_m
    for index, thing in enumerate(things):
        draws, band = thing.draws, bands[thing.name]
        gap = beside(shape, draws.easting_m, draws.northing_m).gap_m - thing.radius_m
        close = np.quantile(gap, 0.005, axis=0) <= limit
        for east, north in marks.get(thing.name, ()):
            point = np.array([east]), np.array([north])
            if beside(shape, *point).gap_m[0] - thing.radius_m <= limit:
                close[int(np.hypot(*(band.centre - (east, north)).T).argmin())] = True
        seen = shape if thing.has_depth else replace(shape, depths_m=None)
        for a, b in runs(close, bridge=1):
            low, high = float(draws.chainage_m[a]), float(draws.chainage_m[b])
            course = course_of(draws, low - 0.5, high + 0.5)
            stray = wander_of(seen, len(draws.depth_m), rng)
            near = nearest(seen, course, seen_by(seen, course), thing.radius_m, stray)
            found.append(Meeting(index, thing, seen, band, low, high, course, near))
    return found


def chances_of(meeting: Meeting, draws: LineDraws, asked_m: float, rng: np.random.Generator) -> FLOATS:
    """Chances of a meeting under samples of its thing, shape (2, n): of less than asked, of a strike."""
    course = course_of(draws, meeting.from_m - 0.5, meeting.to_m + 0.5)
    seen = seen_by(meeting.shape, course)
    stray = wander_of(meeting.shape, len(draws.depth_m), rng)
    radius = meeting.thing.radius_m
    each = [chance_of_less(meeting.shape, course, seen, radius, asked, stray) for asked in (asked_m, 0.0)]
    return meeting.thing.chance * np.stack(each)


def interval_of(values: FLOATS) -> Interval:
    """Median and the ends of what holds 19 times in 20."""
    low, middle, high = np.quantile(values, (0.025, 0.5, 0.975))
    return Interval(float(middle), float(low), float(high))


def told(meeting: Meeting, tally: Tally, asked_m: float, job: Job) -> Encounter:
    """A meeting as it is told, without what it demands.

    Parameters
    ----------
    meeting : Meeting
    tally : Tally
    asked_m : float, [m]
    job : Job
        Its test holes may have exposed the line.

    Returns
    -------
    Encounter
    """
    k = int(np.median(meeting.near.place))
    under = np.isfinite(meeting.near.vertical_m)
    vertical = interval_of(meeting.near.vertical_m[under]) if under.mean() > 0.05 else None
    exposed = is_exposed(meeting, job)
    asked, strike = (float(p) for p in tally.mean)
    floored = not exposed and min(asked, strike) < LEAST_TOLD
    if not exposed:
        asked, strike = max(asked, LEAST_TOLD), max(strike, LEAST_TOLD)
    course = meeting.course
    return Encounter(
        meeting.shape.dig.id,
        meeting.thing.met,
        meeting.thing.name,
        shape_of(meeting),
        meeting.from_m,
        meeting.to_m,
        float(np.median(course.easting_m[:, k])),
        float(np.median(course.northing_m[:, k])),
        float(course.chainage_m[k]),
        interval_of(meeting.near.horizontal_m),
        vertical,
        asked_m,
        asked,
        strike,
        floored,
        exposed,
        Demand.NOT_KNOWN,
        (),
    )


def shape_of(meeting: Meeting) -> str:
    """Whether the line crosses a dig, runs along in it, or lies beside it."""
    at = meeting.course
    middle = np.median(at.easting_m, axis=0), np.median(at.northing_m, axis=0)
    seen = beside(meeting.shape, *middle)
    inside = seen.gap_m < meeting.thing.radius_m
    if not inside.any():
        return "beside"
    if meeting.shape.is_area:
        return "crossing"
    steps = np.hypot(np.diff(middle[0]), np.diff(middle[1]))
    length = float(steps[inside[1:]].sum())
    along = float(np.ptp(seen.along_m[inside]))
    is_along = length > ALONG_M and along > length * math.cos(math.radians(ALONG_DEG))
    return "parallel" if is_along else "crossing"


def is_exposed(meeting: Meeting, job: Job) -> bool:
    """Whether the line was seen within a metre of every place that comes over or nearest to the dig."""
    if meeting.thing.met is not Met.LINE:
        return False
    holes = [h for h in job.test_holes if h.line == meeting.thing.name and h.found]
    seen = []
    for hole in holes:
        chainage, aside = meeting.band.project(hole.place.easting_m, hole.place.northing_m)
        if abs(aside) <= SEEN_M:
            seen.append(chainage)
    if not seen:
        return False
    course = meeting.course
    gap = beside(
        meeting.shape, np.median(course.easting_m, axis=0), np.median(course.northing_m, axis=0)
    ).gap_m
    over = gap <= max(meeting.thing.radius_m + Z_95 * meeting.shape.edge_sigma_m, float(gap.min()) + 1e-9)
    return all(min(abs(s - c) for c in seen) <= SEEN_M for s in course.chainage_m[over])


def band_at(thing: Thing) -> Band:
    """The band of a thing, with the bearing of its one station where it has but one."""
    lone = thing.estimate is not None and len(thing.draws.chainage_m) == 1
    return band_of(thing.draws, thing.estimate.stations[0].right_deg if lone and thing.estimate else None)
