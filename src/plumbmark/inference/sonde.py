"""A sonde pushed along a duct: from its readings to its answer.

Places along one duct are solved together (`sonde_model`). Across the duct the answer stays on the mark: a
sonde is a source of its own, no second line draws its peak aside. What a mode left wrong or a slip makes of a
depth is asked as a question.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.spoken import spoken_length
from plumbmark.inference import priors as p
from plumbmark.inference.cells import value_and_half
from plumbmark.inference.identity import identity_of
from plumbmark.inference.prepare import dug_of, seen_of, setup_of
from plumbmark.inference.reasons import trust_of
from plumbmark.inference.slips import slip_named
from plumbmark.inference.sonde_mode import coils_of
from plumbmark.inference.sonde_model import (
    AHEAD,
    BEHIND,
    CELLS,
    DEPTH,
    LINE_MODE,
    RAISED,
    RAISED_BY,
    SondeData,
    SondePosterior,
    shown_depth,
    solve_sonde,
)
from plumbmark.inference.stations import Station
from plumbmark.inference.told import Drawn, Told, joint_parts, told_of
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import Interval, LineEstimate, StationEstimate, Trust
from plumbmark.model.job import Job, Line, Setup
from plumbmark.model.measured import Measured
from plumbmark.model.reading import DepthMethod, MarkBy

FLOATS = NDArray[np.float64]

MOST_PLACES = 12  # solved together
GUIDED_SIGMA_M = 0.15  # a mark set without looking for the peak; no source
SINGLE = 0.97  # a sonde's signal is its own, but couples onto iron beside it now and then; no source
CURRENT_FACTOR = 3.0  # a current shown over a sonde means little
SLIP_OVER = 1.25  # a cell farther off than this, beyond what is likely, is asked about


def answer_sonde(
    job: Job, line: Line, stations: list[Station]
) -> tuple[LineEstimate, Callable[[int, np.random.Generator, float], LineDraws]]:
    """Answer a line that a sonde was pushed along.

    Parameters
    ----------
    job : Job
    line : Line
    stations : list of Station
        In the order of the route. Of a reading from the side the place counts, and where it is not the only
        one not even that: a sonde is read from above.

    Returns
    -------
    LineEstimate
    function
        Of (n, rng, spacing [m]): joint samples of the line.
    """
    stations = [s for s in stations if s.source != "beside"]
    told: list[StationEstimate] = []
    parts: list[tuple[FLOATS, Drawn]] = []
    right = _rights(stations)
    for first in range(0, len(stations), MOST_PLACES):
        some = stations[first : first + MOST_PLACES]
        setup = setup_of(line, next((s.setup for s in some if s.hole is None), ""))
        digest = hashlib.sha256(f"{job.id}/{line.id}/sonde/{first}".encode()).digest()
        rng = np.random.default_rng(int.from_bytes(digest[:6], "big"))
        data = data_of(job, line, setup, some)
        posterior = solve_sonde(data, rng)
        drawn = _drawn(some, right[first : first + MOST_PLACES], posterior, rng)
        parts.append((data.along, drawn))
        numbers = told_of(drawn)
        for k, s in enumerate(some):
            if s.hole is None:
                told.append(_estimate(job, line, setup, some, k, data, posterior, numbers, right[first + k]))

    def draw(n: int, rng: np.random.Generator, spacing_m: float) -> LineDraws:
        return joint_parts(line.id, parts, n, rng, spacing_m)

    setups = [setup_of(line, name) for name in dict.fromkeys(s.setup for s in stations if s.hole is None)]
    return LineEstimate(line.id, *identity_of(line, setups), tuple(told)), draw


def _rights(stations: list[Station]) -> list[float]:
    """Bearing of each place's right [rad]: of its own bearing, else of the way along the places."""
    out = []
    for k, s in enumerate(stations):
        bearing = math.radians(s.bearing_deg or 0.0)
        if s.bearing_deg is None and len(stations) > 1:
            a, b = stations[max(k - 1, 0)].place, stations[min(k + 1, len(stations) - 1)].place
            bearing = math.atan2(b.easting_m - a.easting_m, b.northing_m - a.northing_m)
        out.append(bearing + 0.5 * math.pi)
    return out


def data_of(job: Job, line: Line, setup: Setup, some: list[Station]) -> SondeData:
    """The numbers of some places; a row written down twice counts once."""
    rows = np.full((len(some), CELLS), math.nan)
    rows[:, [AHEAD + 1, BEHIND + 1, DEPTH + 1, RAISED + 1, LINE_MODE]] = 0.0
    seen = np.full((len(some), 3), math.nan)
    for k, s in enumerate(some):
        if s.hole is not None:
            if s.hole.found:
                ln_depth, variance, _place = seen_of(s, line)
                seen[k, :2] = ln_depth, math.sqrt(variance)
            else:
                seen[k, 2] = dug_of(s.hole, line)
        r = s.reading
        if r is None or s.repeat_of:
            continue
        depth = None if r.depth_refused else r.depth_m
        cells = [*value_and_half(r.null_ahead_m), *value_and_half(r.null_behind_m), *value_and_half(depth)]
        rows[k, AHEAD : DEPTH + 2] = cells
        if r.raised_by_m is not None and r.raised_depth_m is not None:
            rows[k, RAISED_BY : RAISED + 2] = r.raised_by_m.value, *value_and_half(r.raised_depth_m)
        rows[k, LINE_MODE] = 0.0 if r.depth_method is DepthMethod.SONDE else 1.0
    return SondeData(np.array([s.chainage_m for s in some]), rows, seen, coils_of(job, setup))


def _drawn(
    some: list[Station], right: list[float], posterior: SondePosterior, rng: np.random.Generator
) -> Drawn:
    """Where the duct passes each mark, in every draw."""
    s = posterior.state
    n, m = s.ln_depth.shape
    shift = np.empty((n, m))
    for k, station in enumerate(some):
        fix = station.place.sigma_m if station.place.sigma_m is not None else p.FIX_SIGMA_M
        found = p.PEAK_SIGMA_M + p.PEAK_SIGMA_OF_DEPTH * np.exp(s.ln_depth[:, k])
        r = station.reading
        if r is None or r.mark_by in (MarkBy.GUIDED, MarkBy.UNKNOWN):
            found = np.full(n, GUIDED_SIGMA_M)
        shift[:, k] = np.hypot(s.scatter * found, fix) * rng.normal(size=n)
    axis = np.array(right)
    easting = np.array([q.place.easting_m for q in some]) + shift * np.sin(axis)
    northing = np.array([q.place.northing_m for q in some]) + shift * np.cos(axis)
    return Drawn(shift, s.ln_depth, easting, northing, posterior.weights, posterior.weights)


def _estimate(
    job: Job,
    line: Line,
    setup: Setup,
    some: list[Station],
    k: int,
    data: SondeData,
    posterior: SondePosterior,
    told: Told,
    right: float,
) -> StationEstimate:
    s = some[k]
    # nothing is known of either side: the middle of the band is the mark
    reach = 0.5 * float(told.shift[2, k] - told.shift[0, k])
    depth = Interval(float(told.depth[1, k]), float(told.depth[0, k]), float(told.depth[2, k]))
    within = float(told.within[k])
    trust = trust_of(line, setup, s, within)
    return StationEstimate(
        s.source,
        s.id,
        s.chainage_m,
        s.place.easting_m,
        s.place.northing_m,
        s.place.easting_m,
        s.place.northing_m,
        math.degrees(right) % 360.0,
        Interval(0.0, -reach, reach),
        depth,
        _current(s),
        SINGLE,
        within,
        trust,
        _because(job, line, some, k, data, posterior, depth),
        _step(s, trust),
    )


def _current(s: Station) -> Interval:
    """A sonde has no current in the line; the file wants a number, and its band says that it means little."""
    r = s.reading
    if r is None or r.current_a is None:
        wide = math.exp(1.96 * p.CURRENT_LOG_SIGMA)
        return Interval(p.CURRENT_MEDIAN_A, p.CURRENT_MEDIAN_A / wide, p.CURRENT_MEDIAN_A * wide)
    value = max(r.current_a.value, 1e-6)
    return Interval(value, value / CURRENT_FACTOR, value * CURRENT_FACTOR)


def _because(
    job: Job,
    line: Line,
    some: list[Station],
    k: int,
    data: SondeData,
    posterior: SondePosterior,
    depth: Interval,
) -> tuple[str, ...]:
    """Reasons, the weightiest first."""
    s, units = some[k], job.display_units
    r = s.reading
    said: list[str] = []
    if s.repeat_of:
        said.append(
            f"The numbers are those of reading {s.repeat_of} to the last digit. Written down twice? "
            "They were left out here"
        )
        r = None
    ahead, behind = (None, None) if r is None else (r.null_ahead_m, r.null_behind_m)
    if r is not None and r.depth_m is not None and not r.depth_refused:
        question = _question(r.depth_m, data, posterior, depth, units)
        if question:
            said.append(question)
    if ahead is not None and behind is not None:
        apart = ahead.value + behind.value
        said.append(f"Depth from the two nulls along the duct, {spoken_length(apart, units)} apart")
        shallow, deep = 0.8 * depth.low, 1.2 * depth.high
        if not shallow < apart / math.sqrt(2.0) < deep:
            said.append("The nulls do not fit the rest. A slip, or a null of another kind?")
        elif abs(ahead.value - behind.value) > 0.2 * apart:
            said.append(
                "One null is much nearer than the other: the sonde is pitched, or the mark is not over it"
            )
    elif ahead is not None or behind is not None:
        said.append("One null only was taken: the mark's own error is in its depth")
    elif r is not None and r.depth_m is not None:
        said.append("Depth as displayed; no null ahead or behind was taken")
    else:
        said.append("No depth was read: the band is all that is likely, or what the places around it say")
    if len([q for q in some if q.hole is None]) > 1:
        said.append("Taken together with the other places along the duct")
    if any(word in (line.material or "").lower() for word in ("iron", "steel")):
        said.append("Iron or steel round a sonde weakens and bends its field: the band does not carry that")
    return tuple(said)


def _question(
    cell: Measured, data: SondeData, posterior: SondePosterior, depth: Interval, units: str
) -> str | None:
    """What a depth that does not fit was, most likely; None where it fits."""
    lower, spacing = 0.5 * (data.coils[0] + data.coils[1]), 0.5 * (data.coils[2] + data.coils[3])
    value = max(cell.value, 1e-3)
    fits = depth.low / SLIP_OVER < value < depth.high * SLIP_OVER
    shown = spoken_length(value, units)
    wrong = shown_depth(0.0, 0.0, depth.value, lower, spacing, 0.0, True)
    if not fits and abs(math.log(value / wrong)) < 0.35:
        return (
            f"The display showed {shown}. Line mode on a sonde? "
            f"Over {spoken_length(depth.value, units)} it would show about that"
        )
    if fits and 0.05 < posterior.line_mode < 0.95:
        return f"Whether {shown} was shown in sonde mode or in line mode is not written down, and it matters"
    if not fits:
        name = slip_named(value / depth.value)
        slip = f" ({name})" if name else ""
        return f"The display showed {shown}; everything else says otherwise. A slip{slip}?"
    return None


def _step(s: Station, trust: Trust) -> str:
    """What to do next here."""
    if trust is Trust.HOLDS:
        return "Enough here, go on."
    r = s.reading
    if r is None or r.null_ahead_m is None or r.null_behind_m is None:
        return "Mark the nulls ahead and behind along the duct, and measure between them."
    if r.depth_m is None:
        return "Read the depth here too, the receiver set to sonde."
    if r.raised_depth_m is None:
        return "Set the receiver on a 12 in (0.30 m) block and read the depth again, in sonde mode."
    return "Only a test hole says more here."
