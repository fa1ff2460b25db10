"""A line seen only from the side: from its readings to its answer.

Stations are the feet: where each receiver put the line. Shots near one another and of one direction are
solved together (`side_model`); the answer at each foot is how far the line lies from it in the direction the
receiver faced, how deep, and why.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.spoken import spoken_length
from plumbmark.inference import priors as p
from plumbmark.inference.identity import identity_of
from plumbmark.inference.prepare import dug_of, known_of, seen_of, setup_of
from plumbmark.inference.reasons import trust_of
from plumbmark.inference.side_model import (
    TOWARD_SIGMA,
    SideData,
    SidePosterior,
    chance_alone,
    foretold,
    solve_side,
)
from plumbmark.inference.side_shot import cells_of
from plumbmark.inference.slips import slip_named
from plumbmark.inference.stations import Station
from plumbmark.inference.told import Drawn, Told, joint_parts, told_of
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import Interval, LineEstimate, StationEstimate, Trust
from plumbmark.model.job import Job, Line, Setup

FLOATS = NDArray[np.float64]

MOST_SHOTS = 8  # solved together ...
LONGEST_M = 30.0  # ... over so long a stretch ...
TURNS_DEG = 30.0  # ... of so nearly one direction
NEAR_M = 5.0  # shots this near along the line speak of the same place
ALONE_M, ALONE_SHARE = 0.05, 0.05  # what counts as moved by another current (the file contract)
UNKNOWN_CURRENT = Interval(
    p.CURRENT_MEDIAN_A,
    p.CURRENT_MEDIAN_A * math.exp(-1.96 * p.CURRENT_LOG_SIGMA),
    p.CURRENT_MEDIAN_A * math.exp(1.96 * p.CURRENT_LOG_SIGMA),
)


@dataclass(frozen=True, slots=True)
class Window:
    """Stations solved together and their frame: the line's rough bearing [rad], zero at the first place."""

    stations: list[Station]
    bearing: float
    data: SideData


def answer_side(
    job: Job, line: Line, stations: list[Station]
) -> tuple[LineEstimate, Callable[[int, np.random.Generator, float], LineDraws]]:
    """Answer a line whose stations are readings from the side, and test holes.

    Parameters
    ----------
    job : Job
    line : Line
    stations : list of Station
        In the order of the route; one reading from the side at least.

    Returns
    -------
    LineEstimate
    function
        Of (n, rng, spacing [m]): joint samples of the line.
    """
    told: dict[str, StationEstimate] = {}
    parts: list[tuple[FLOATS, Drawn]] = []
    setups = list(dict.fromkeys(setup_of(line, s.setup).id for s in stations if s.side is not None))
    for name in setups:
        setup = setup_of(line, name)
        own = [s for s in stations if s.hole is not None or setup_of(line, s.setup).id == name]
        for number, some in enumerate(_windows(own)):
            window = _window(job, line, setup, some)
            digest = hashlib.sha256(f"{job.id}/{line.id}/{name}/{number}".encode()).digest()
            rng = np.random.default_rng(int.from_bytes(digest[:6], "big"))
            posterior = solve_side(window.data, rng)
            drawn = drawn_of(window, posterior)
            parts.append((np.array([s.chainage_m for s in some]), drawn))
            for estimate in _estimates(job, line, setup, window, posterior, drawn, rng):
                told[estimate.id] = estimate
    ordered = tuple(told[s.id] for s in stations if s.side is not None)

    def draw(n: int, rng: np.random.Generator, spacing_m: float) -> LineDraws:
        return joint_parts(line.id, parts, n, rng, spacing_m)

    return LineEstimate(line.id, *identity_of(line, [setup_of(line, s) for s in setups]), ordered), draw


def _windows(stations: list[Station]) -> list[list[Station]]:
    """Stations in runs that are short, straight and few; a test hole goes with what it follows."""
    out: list[list[Station]] = []
    for s in stations:
        if out and _belongs(out[-1], s):
            out[-1].append(s)
        else:
            out.append([s])
    # a run without a shot has nothing to answer
    first = next(i for i, some in enumerate(out) if any(s.side is not None for s in some))
    joined = [[s for some in out[: first + 1] for s in some], *out[first + 1 :]]
    return [some for some in joined if any(s.side is not None for s in some)]


def _belongs(some: list[Station], s: Station) -> bool:
    if s.side is None:
        return True
    shots = [q for q in some if q.side is not None]
    if len(shots) >= MOST_SHOTS or s.chainage_m - some[0].chainage_m > LONGEST_M:
        return False
    faced = [q.bearing_deg for q in shots if q.bearing_deg is not None]
    if s.bearing_deg is None or not faced:
        return True
    off = (s.bearing_deg - _axis_deg(faced) + 90.0) % 180.0 - 90.0
    return abs(off) < TURNS_DEG


def _axis_deg(bearings: list[float]) -> float:
    """Direction that most bearings agree on, either way along it: a slip does not turn it."""
    lines = np.radians(np.array(bearings))
    apart = (lines[:, None] - lines[None, :] + 0.5 * math.pi) % math.pi - 0.5 * math.pi
    good = np.exp(-0.5 * (apart / (3.0 * TOWARD_SIGMA)) ** 2)
    best = int(good.sum(axis=1).argmax())
    return float(np.degrees(lines[best] + (good[best] @ apart[:, best]) / good[best].sum()))


def _window(job: Job, line: Line, setup: Setup, some: list[Station]) -> Window:
    """The numbers of some stations in their frame."""
    bearings = [s.bearing_deg for s in some if s.bearing_deg is not None]
    bearing = math.radians(_axis_deg(bearings)) if bearings else 0.0
    stood = [s.side.place if s.side is not None else s.place for s in some]
    points = np.array([(q.easting_m, q.northing_m) for q in stood])
    points = points - points[0]
    m = len(some)
    blank = np.array([math.nan, 0.0, math.nan, 0.0])
    shots = np.array([blank if s.side is None else cells_of(s.side) for s in some])
    toward = np.full(m, math.nan)
    seen = np.full((m, 5), math.nan)
    right = points @ np.array([math.cos(bearing), -math.sin(bearing)])
    along = points @ np.array([math.sin(bearing), math.cos(bearing)])
    for k, s in enumerate(some):
        if s.side is not None and s.side.toward_deg is not None:
            toward[k] = math.radians(s.side.toward_deg) - bearing - 0.5 * math.pi
        if s.hole is not None and s.hole.found:
            ln_depth, depth_var, place_var = seen_of(s, line)
            seen[k, :4] = right[k], math.sqrt(place_var), ln_depth, math.sqrt(depth_var)
        elif s.hole is not None:
            seen[k, 4] = dug_of(s.hole, line)
    fix = np.array([p.FIX_SIGMA_M if q.sigma_m is None else max(q.sigma_m, 1e-3) for q in stood])
    known = known_of(job, setup, np.empty((0, 5)), float(np.ptp(along)))
    frequency = float(setup.frequency_hz or p.FREQUENCY_HZ)
    return Window(some, bearing, SideData(along, right, toward, fix, shots, seen, known, frequency))


def drawn_of(window: Window, posterior: SidePosterior) -> Drawn:
    """Where the line passes each foot, in the direction its receiver faced, in every draw."""
    d, b = window.data, window.bearing
    states = posterior.states()
    across, slope, ln_depth = (
        np.concatenate([getattr(s, name) for s in states]) for name in ("across", "slope", "ln_depth")
    )
    first = window.stations[0]
    zero = first.side.place if first.side is not None else first.place
    foot = np.array([(s.place.easting_m, s.place.northing_m) for s in window.stations])
    foot = foot - [zero.easting_m, zero.northing_m]
    foot_right = foot @ np.array([math.cos(b), -math.sin(b)])
    foot_along = foot @ np.array([math.sin(b), math.cos(b)])
    turned = np.nan_to_num(d.toward)
    lean = np.cos(turned) + slope * np.sin(turned)
    lean = np.where(np.abs(lean) < 0.3, np.where(lean < 0.0, -0.3, 0.3), lean)  # facing along the line
    shift = (across + slope * (foot_along - d.along) - foot_right) / lean
    axis = b + 0.5 * math.pi + turned
    return Drawn(
        shift,
        ln_depth,
        zero.easting_m + foot[:, 0] + shift * np.sin(axis),
        zero.northing_m + foot[:, 1] + shift * np.cos(axis),
        posterior.weights(False),
        posterior.weights(True),
    )


def _estimates(
    job: Job,
    line: Line,
    setup: Setup,
    window: Window,
    posterior: SidePosterior,
    drawn: Drawn,
    rng: np.random.Generator,
) -> list[StationEstimate]:
    told = told_of(drawn)
    single = chance_alone(posterior, ALONE_M, ALONE_SHARE)
    again = np.quantile(foretold(posterior, rng), (0.001, 0.5, 0.999), axis=0)
    out = []
    for k, s in enumerate(window.stations):
        if s.side is None:
            continue
        right = window.bearing + 0.5 * math.pi + float(np.nan_to_num(window.data.toward[k]))
        shift = Interval(float(told.shift[1, k]), float(told.shift[0, k]), float(told.shift[2, k]))
        if all(q.bearing_deg is None for q in window.stations):
            # which way the line lies is not known: the band is round and the answer stays where they stood
            reach = max(abs(shift.low), abs(shift.high))
            shift = Interval(0.0, -reach, reach)
            told.within[k] = 0.0
        within = float(told.within[k])
        trust = trust_of(line, setup, s, within)
        depth = Interval(float(told.depth[1, k]), float(told.depth[0, k]), float(told.depth[2, k]))
        because = _because(job, window, told, again[:, k], single[k], k)
        estimate = StationEstimate(
            s.source,
            s.id,
            s.chainage_m,
            s.place.easting_m + shift.value * math.sin(right),
            s.place.northing_m + shift.value * math.cos(right),
            s.place.easting_m,
            s.place.northing_m,
            math.degrees(right) % 360.0,
            shift,
            depth,
            UNKNOWN_CURRENT,
            float(np.clip(single[k], 0.0, 1.0)),
            within,
            trust,
            because,
            _step(job, window, posterior, k, trust),
        )
        out.append(estimate)
    return out


def _because(job: Job, window: Window, told: Told, again: FLOATS, single: float, k: int) -> tuple[str, ...]:
    """Reasons, the weightiest first; `again` is what the posterior would show, shape (3, 2)."""
    s, units = window.stations[k], job.display_units
    assert s.side is not None
    said: list[str] = []
    for name, cell, column in (("Distance", s.side.distance_m, 0), ("Depth", s.side.depth_m, 1)):
        if cell is None:
            continue
        low, middle, high = (float(v) for v in again[:, column])
        if not 0.85 * low < cell.value < 1.15 * high:
            slip = slip_named(cell.value / middle)
            said.append(
                f"{name} {spoken_length(cell.value, units)} here; everything else speaks for "
                f"{spoken_length(middle, units)} on the display. A slip{f' ({slip})' if slip else ''}?"
            )
    slipped = bool(said)
    shots = [q for q in window.stations if q.side is not None]
    if len(shots) == 1:
        said.append("Seen from the side, by one reading only")
    else:
        said.append(f"Seen from the side, by {len(shots)} readings taken together")
    if s.side.toward_deg is None:
        said.append("The direction to the line was not written down: it may lie all round where you stood")
    if s.side.depth_m is not None:
        shown, deep = s.side.depth_m.value, float(told.depth[1, k])
        if not slipped and abs(math.log(max(shown, 0.01) / deep)) > 0.1:
            said.append(
                f"The display showed {spoken_length(shown, units)}: ground that conducts turns the field, "
                "and so does a receiver a degree out of plumb"
            )
    else:
        said.append("No depth was read: the band is all that is likely")
    if job.soil.resistivity_ohm_m is None:
        said.append("How well the ground conducts is not known, and the band carries that")
    if single < 0.9:
        said.append("A second line nearby cannot be ruled out from the side")
    return tuple(said)


def _step(job: Job, window: Window, posterior: SidePosterior, k: int, trust: Trust) -> str:
    """What would settle it here."""
    if trust is Trust.HOLDS:
        return "Enough here, go on."
    s = window.stations[k]
    assert s.side is not None
    if s.side.toward_deg is None:
        return "Write down the direction to the line, or take a reading over it."
    d = window.data
    sides = np.concatenate([q.stand for q in posterior.states()]).mean(axis=0) > 0.0
    near = np.array([q.side is not None for q in window.stations]) & (np.abs(d.along - d.along[k]) < NEAR_M)
    if (sides[near] == sides[k]).all():
        reach = s.side.distance_m.value if s.side.distance_m is not None else 3.0
        closer = spoken_length(max(0.5 * reach, 0.5), job.display_units)
        return f"Take a second reading from the other side of the line, about {closer} from it."
    return "Take a reading over the line where it can be walked; else a test hole settles it."
