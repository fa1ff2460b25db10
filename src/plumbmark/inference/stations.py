"""The stations of a line: rows of the job gathered by place, in the order of the route."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from plumbmark.inference import priors as p
from plumbmark.inference.sonde_mode import as_line_mode, coils_of
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job, Line, Setup, Signal
from plumbmark.model.measured import Measured
from plumbmark.model.reading import DepthMethod, Place, Profile, Reading, SideReading, TestHole
from plumbmark.survey.polyline import lay_route, slot

#: Cells that are copied when a row is written down twice.
_COPIED = ("depth_m", "current_a", "null_offset_m", "half_left_m", "half_right_m", "raised_depth_m")
NEAR_M = 0.3  # a profile or a test hole belongs to a station within this


@dataclass(frozen=True, slots=True)
class Station:
    """One place of a line and all that was taken there."""

    source: (
        str  # reading, profile, side_reading, test_hole or beside (a side reading of a line that has marks)
    )
    id: str
    place: Place
    chainage_m: float
    setup: str
    row: int
    bearing_deg: float | None
    reading: Reading | None = None
    profile: Profile | None = None
    hole: TestHole | None = None
    side: SideReading | None = None
    repeat_of: str | None = None
    in_line_mode: Reading | None = None  # the reading with depths taken in sonde mode turned into line mode

    @property
    def answered(self) -> bool:
        """Whether an answer is told here: not at a test hole, nor beside a line that has marks."""
        return self.source not in ("test_hole", "beside")


def _profiles_of(
    job: Job, line: Line, readings: list[Reading], warnings: list[Finding]
) -> tuple[dict[str, Profile], list[Profile]]:
    """Profiles that belong to a reading, by its id, and those that stand alone."""
    owned: dict[str, Profile] = {}
    alone: list[Profile] = []
    by_id = {r.id: r for r in readings}
    where = np.array([(r.place.easting_m, r.place.northing_m) for r in readings]).reshape(-1, 2)
    for profile in job.profiles:
        if profile.line != line.id:
            continue
        at = f"profiles.csv row {profile.row}"
        here = np.array([profile.place.easting_m, profile.place.northing_m])
        away = np.hypot(*(where - here).T) if len(where) else np.array([])
        own = by_id.get(profile.id)
        if own is not None:
            gap = float(np.hypot(own.place.easting_m - here[0], own.place.northing_m - here[1]))
            if gap > 1.0:
                what = f"profile {profile.id} stands {gap:.2f} m from the reading of the same id"
                warnings.append(Finding(Severity.WARNING, at, f"{what}; it keeps its own zero point"))
        elif len(away) and float(away.min()) <= NEAR_M:
            own = readings[int(away.argmin())]
            gap = float(away.min())
        if own is not None and gap <= NEAR_M and own.id not in owned and own.setup == profile.setup:
            owned[own.id] = profile
        else:
            alone.append(profile)
    return owned, alone


def _repeats(readings: list[Reading]) -> dict[str, str]:
    """Rows that say what the row before says, and hardly by luck: probably written down twice."""
    found: dict[str, str] = {}
    for before, row in pairwise(readings):
        cells = [(name, getattr(before, name), getattr(row, name)) for name in _COPIED]
        if any(a is not None and b is not None and a != b for _, a, b in cells):
            continue
        same = [(name, a) for name, a, b in cells if isinstance(a, Measured) and a == b]
        placed = (before.place.easting_m, before.place.northing_m) == (
            row.place.easting_m,
            row.place.northing_m,
        )
        luck = math.prod(_luck(name, a, before) for name, a in same)
        if same and (placed or luck < p.SAME_BY_LUCK):
            found[row.id] = before.id
    return found


def _luck(name: str, value: Measured, row: Reading) -> float:
    """Chance that a number is read to the same last digit at the next place, the line lying there alike."""
    if value.half_range > 0.0:
        return 0.5  # one of a few coarse answers
    if name == "current_a":
        sigma = p.CURRENT_SIGMA * value.value
    elif name in ("depth_m", "raised_depth_m"):
        sigma = p.DEPTH_SIGMA * value.value
    else:
        sigma = p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * (row.depth_m.value if row.depth_m else 1.0)
    step = value.rounding or 0.01 * abs(value.value)  # where the step is not known, two digits
    # two draws of one normal fall into one step of this width
    return min(step / (2.0 * math.sqrt(math.pi) * max(sigma, 1e-9)), 1.0)


def stations_of(job: Job, line: Line, warnings: list[Finding]) -> list[Station]:
    """Stations of `line` in the order of its route; remarks go to `warnings`."""
    readings = [r for r in job.readings if r.line == line.id]
    sides = [s for s in job.side_readings if s.line == line.id]
    holes = [h for h in job.test_holes if h.line == line.id]
    owned, alone = _profiles_of(job, line, readings, warnings)
    repeats = _repeats(readings)
    rows: list[Station] = [
        Station(
            "reading",
            r.id,
            r.place,
            0.0,
            r.setup,
            r.row,
            r.bearing_deg,
            reading=r,
            profile=owned.get(r.id),
            repeat_of=repeats.get(r.id),
            in_line_mode=_in_line_mode(job, line, r),
        )
        for r in readings
    ]
    walks = [Station("profile", p.id, p.place, 0.0, p.setup, p.row, p.bearing_deg, profile=p) for p in alone]
    rows = _slotted(rows, walks)
    if not rows:
        rows = [_foot(s) for s in sides]
        sides = []
    if rows:
        dug = [Station("test_hole", h.id, h.place, 0.0, "", h.row, None, hole=h) for h in holes]
        rows = _slotted(rows, dug)
    if not rows:
        return []
    route = lay_route([s.place.easting_m for s in rows], [s.place.northing_m for s in rows])
    if route.reordered:
        what = f"rows of line {line.id} are out of order; the shortest path through the places was taken"
        warnings.append(Finding(Severity.WARNING, "readings.csv", what))
    at = [float(c) for c in route.chainage_m]
    order = sorted(range(len(rows)), key=lambda i: (at[i], i))
    ordered = [replace(rows[i], chainage_m=at[i]) for i in order]
    for s in sides:
        if s.distance_m is None and s.depth_m is None:
            what = f"side reading {s.id} shows neither distance nor depth, so it says nothing"
            warnings.append(Finding(Severity.WARNING, f"side_readings.csv row {s.row}", what))
    beside = [_beside(s, ordered) for s in sides if s.distance_m is not None or s.depth_m is not None]
    return sorted(ordered + beside, key=lambda s: s.chainage_m) if beside else ordered


def _slotted(rows: list[Station], more: list[Station]) -> list[Station]:
    """Rows of another file, whose order says nothing of the route, each put where the path grows least."""
    path = list(rows)
    for s in more:
        at = [(r.place.easting_m, r.place.northing_m) for r in path]
        path.insert(slot(at, (s.place.easting_m, s.place.northing_m)), s)
    return path


def _beside(side: SideReading, marked: list[Station]) -> Station:
    """A reading from the side of a line that has marks: its place is the foot on the path of the marks.

    Its bearing looks along the path, so that right of it is right of the path.
    """
    path = np.array([(s.place.easting_m, s.place.northing_m) for s in marked])
    stand = np.array([side.place.easting_m, side.place.northing_m])
    legs = np.diff(path, axis=0)
    lengths = np.hypot(*legs.T) if len(legs) else np.zeros(0)
    use = np.flatnonzero(lengths > 1e-6)
    if not len(use):
        foot, chainage = path[0], marked[0].chainage_m
    else:
        unit = legs[use] / lengths[use, None]
        run = np.einsum("ij,ij->i", stand - path[use], unit).clip(0.0, lengths[use])
        feet = path[use] + run[:, None] * unit
        k = int(np.hypot(*(feet - stand).T).argmin())
        foot, chainage = feet[k], marked[use[k]].chainage_m + float(run[k])
    place = Place(float(foot[0]), float(foot[1]), side.place.sigma_m)
    return Station("beside", side.id, place, chainage, side.setup, side.row, None, side=side)


def _in_line_mode(job: Job, line: Line, r: Reading) -> Reading | None:
    """A reading over a line whose depths were taken in sonde mode, as line mode would have shown them."""
    if r.depth_method is not DepthMethod.SONDE or line.signal is Signal.SONDE:
        return None
    setup = next((s for s in line.setups if s.id == r.setup), line.setups[0] if line.setups else None)
    coils = coils_of(job, setup or Setup("", line.id))
    depth, raised = (None if m is None else as_line_mode(m, coils) for m in (r.depth_m, r.raised_depth_m))
    return replace(r, depth_m=depth, raised_depth_m=raised, depth_method=DepthMethod.TWO_COIL)


def _foot(s: SideReading) -> Station:
    """Where a reading from the side puts the line; where the receiver stood if it says not which way."""
    if s.toward_deg is None:
        return Station("side_reading", s.id, s.place, 0.0, s.setup, s.row, None, side=s)
    toward = math.radians(s.toward_deg)
    reach = s.distance_m.value if s.distance_m is not None else 0.0
    place = Place(
        s.place.easting_m + reach * math.sin(toward),
        s.place.northing_m + reach * math.cos(toward),
        s.place.sigma_m,
    )
    bearing = (s.toward_deg - 90.0) % 360.0
    return Station("side_reading", s.id, place, 0.0, s.setup, s.row, bearing, side=s)
