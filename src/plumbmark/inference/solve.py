"""A job solved: every line, stretch by stretch, and the words that go with the numbers."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from plumbmark.inference import priors as p
from plumbmark.inference.answer import Numbers, numbers_of
from plumbmark.inference.blend import solve_stretch
from plumbmark.inference.identity import identity_of
from plumbmark.inference.nextstep import best_step, step_words
from plumbmark.inference.place_answer import is_lone, slip_question, solve_lone
from plumbmark.inference.posterior import Part, Posterior
from plumbmark.inference.prepare import Prepared, known_of, prepare, setup_of
from plumbmark.inference.reasons import reasons_of, tell_beside, tell_swaps, trench_of, trust_of
from plumbmark.inference.sampler import Effort
from plumbmark.inference.side import answer_side
from plumbmark.inference.signs import reversals_of
from plumbmark.inference.sonde import answer_sonde
from plumbmark.inference.stations import Station, stations_of
from plumbmark.inference.swaps import Swapped, swaps_of
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import (
    CurrentEvent,
    Interval,
    LineEstimate,
    Neighbour,
    NextStep,
    Solution,
    StationEstimate,
)
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Hookup, Job, Line, Setup

FLOATS = NDArray[np.float64]

WINDOW = 40  # stations solved together ...
LONG_WINDOW = 300  # in a long job, whose stretches are looked at less closely
OVERLAP = 8  # ... and shared with the next window at each end
FAR_APART_M = 500.0  # across a gap this long a line says nothing of itself
RECORD_EVERY_M = 0.5  # points of a record's path
REACH_M = 3.5  # another line of the job farther off than this moves nothing here
#: Above so many stations in a job the search is shortened, so that an answer comes within minutes, and says
#: so.
MANY = 600
FEW = 150  # up to so many rows the search is as wide as it gets
NEAR = 7  # places that a quick answer for one of them is from


@dataclass(frozen=True, slots=True)
class _Search:
    """How wide the search is: effort, most second lines, and window length."""

    effort: Effort
    most: int
    length: int


#: For a quick answer: a seventh of the time, bands as wide as those of a full search or wider.
QUICK = _Search(Effort(draws=400, particles=96, moves=2, rounds=3), 2, WINDOW)


@dataclass(frozen=True, slots=True)
class _Solved:
    """One window: its stations and numbers, and which of them it answers for."""

    stations: list[Station]
    ready: Prepared
    numbers: Numbers
    first: int
    last: int
    slip: str | None = None  # what is asked about the one reading of a place alone


def _search(job: Job) -> _Search:
    """How wide the search is for the size of the job."""
    size = len(job.readings) + len(job.profiles)
    if size <= FEW:
        return _Search(Effort(draws=800, particles=160, moves=3, rounds=3), 2, WINDOW)
    if size <= MANY:
        return _Search(Effort(draws=400, particles=96, moves=2, rounds=3), 2, WINDOW)
    if size <= 20 * MANY:
        return _Search(Effort(draws=256, particles=64, moves=1, rounds=2), 1, LONG_WINDOW)
    return _Search(Effort(draws=64, particles=16, moves=1, rounds=1), 1, LONG_WINDOW)


def solve_job(job: Job, cannot: frozenset[str] = frozenset()) -> Solution:
    """Where each line of `job` is, in what band, and why: `solve_with_posterior` without the posterior.

    `cannot` names actions (`estimate.ACTIONS`) that cannot be done, so that none of them is the next step.
    """
    return _solve(job, None, {}, cannot)


def solve_near(job: Job, line: str, ident: str) -> StationEstimate | None:
    """Quick answer for one place, from it and the nearest others of its line.

    Parameters
    ----------
    job : Job
    line : str
        Id of a line read from above.
    ident : str
        Id of its reading, or of its walk across where that stands alone.

    Returns
    -------
    StationEstimate or None
        None where the line is seen from the side or by a sonde, or nothing of that id was read. The answer
        of `solve_job`, which knows the whole line, takes its place.

    Notes
    -----
    What was read at the `NEAR` places next along the line is solved like a job of its own, with a narrower
    search: a ninth of the time of forty places.
    """
    number = next((k for k, other in enumerate(job.lines) if other.id == line), None)
    if number is None or job.lines[number].signal == "sonde":
        return None
    stations = {other.id: stations_of(job, other, []) for other in job.lines}
    mine = stations[line]
    at = next((i for i, s in enumerate(mine) if s.id == ident and s.answered), None)
    if at is None or mine[at].source == "side_reading":
        return None
    first = max(min(at - NEAR // 2, len(mine) - NEAR), 0)
    marks = {name: _marks_of(rows) for name, rows in stations.items()} | _drawn(job)
    part = mine[first : first + NEAR]
    told = _solve_line(job, job.lines[number], number, part, marks, [], None, frozenset(), QUICK)
    return next((s for s in told.stations if s.id == ident), None)


def solve_with_posterior(job: Job, cannot: frozenset[str] = frozenset()) -> tuple[Solution, Posterior]:
    """Where each line of `job` is, and the posterior that joint samples are drawn from.

    Parameters
    ----------
    job : Job
        As a reader gave it; facts only.
    cannot : frozenset of str
        Actions that cannot be done, so that none of them is the next step.

    Returns
    -------
    Solution, Posterior
        The same for the same job, to the last digit.
    """
    parts: dict[str, list[Part]] = {}
    others: dict[str, Callable[[int, np.random.Generator, float], LineDraws]] = {}
    solution = _solve(job, parts, others, cannot)
    return solution, Posterior({name: tuple(some) for name, some in parts.items()}, others)


def _solve(
    job: Job,
    parts: dict[str, list[Part]] | None,
    others: dict[str, Callable[[int, np.random.Generator, float], LineDraws]],
    cannot: frozenset[str] = frozenset(),
) -> Solution:
    """The answer for a job; the particles it came from are left in `parts`, where that is given.

    Of lines seen from the side and of sondes, what draws their joint samples is left in `others`.
    """
    warnings = [f for f in job.findings if f.severity is Severity.WARNING]
    if len(job.readings) + len(job.profiles) > MANY:
        what = "so many rows are solved with a shorter search; bands may be wider than they need be"
        warnings.append(Finding(Severity.WARNING, "readings.csv", what))
    stations = {line.id: stations_of(job, line, warnings) for line in job.lines}
    marks = {name: _marks_of(rows) for name, rows in stations.items()} | _drawn(job)
    lines = []
    offers: list[tuple[float, NextStep]] = []
    for number, line in enumerate(job.lines):
        mine = stations[line.id]
        answered = [s for s in mine if s.answered]
        if not answered:
            what = "nothing to solve: no reading, profile or reading from the side names it"
            warnings.append(Finding(Severity.WARNING, f"line {line.id}", what))
            lines.append(LineEstimate(line.id, *identity_of(line, []), ()))
        elif line.signal == "sonde" or answered[0].source == "side_reading":
            answer = answer_sonde if line.signal == "sonde" else answer_side
            told, others[line.id] = answer(job, line, mine)
            lines.append(told)
        else:
            kept = None if parts is None else parts.setdefault(line.id, [])
            lines.append(_solve_line(job, line, number, mine, marks, offers, kept, cannot, _search(job)))
    best = max(offers, key=lambda o: o[0])[1] if offers else None
    return Solution(job.id, tuple(lines), best, tuple(warnings))


def _seed(job: Job, number: int, window: int) -> int:
    return int.from_bytes(hashlib.sha256(f"{job.id}/{number}/{window}".encode()).digest()[:6], "big")


def _windows(n: int, length: int) -> list[tuple[int, int, int, int]]:
    """(first, last, first answered, last answered) of overlapping windows over n stations."""
    if n <= length + OVERLAP:
        return [(0, n, 0, n)]
    step = length - 2 * OVERLAP
    out = []
    a = 0
    while True:
        b = min(a + length, n)
        if n - b < step // 2:
            b = n
        out.append((a, b, a + OVERLAP if a else 0, n if b == n else b - OVERLAP))
        if b == n:
            return out
        a = b - 2 * OVERLAP


def _spans(stations: list[Station], swaps: Sequence[Swapped], length: int) -> list[tuple[int, int, int, int]]:
    """Windows over the stations from swap to swap and from gap to gap: nothing is smoothed on beyond."""
    far = [i for i, (a, b) in enumerate(pairwise(stations), 1) if b.chainage_m - a.chainage_m > FAR_APART_M]
    cuts = sorted({0, *(stations.index(q.after) for q in swaps), *far, len(stations)})
    return [
        (a + i, a + j, a + first, a + last)
        for a, b in pairwise(cuts)
        for i, j, first, last in _windows(b - a, length)
    ]


def _solve_line(
    job: Job,
    line: Line,
    number: int,
    mine: list[Station],
    marks: dict[str, _Marks],
    offers: list[tuple[float, NextStep]],
    parts: list[Part] | None,
    cannot: frozenset[str],
    search: _Search,
) -> LineEstimate:
    total = sum(q.answered for q in mine)
    told: dict[tuple[str, str], StationEstimate] = {}
    neighbours: list[Neighbour] = []
    events: list[CurrentEvent] = []
    swaps: list[Swapped] = []
    beside: list[tuple[Station, Interval]] = []
    setups = [setup_of(line, name) for name in dict.fromkeys(s.setup for s in mine if s.answered)]
    for group in _together(setups):
        own = [s for s in mine if not s.answered or setup_of(line, s.setup) in group]
        steps = swaps_of(own)
        swaps += steps
        for a, b, first, last in _spans(own, steps, search.length):
            part = own[a:b]
            ready = prepare(job, line, part, group[0], group[1:])
            candidates, who = _candidates(line, ready, marks)
            run = float(ready.stretch.at[-1] - ready.stretch.at[0])
            known = known_of(job, group[0], candidates, run, group[1:])
            slip = None
            if is_lone(part):
                blend, drawn = solve_lone(part[0], line, group[0], ready, known, _seed(job, number, a))
                slip = slip_question(part[0], drawn, job.display_units)
            else:
                blend = solve_stretch(ready, known, search.effort, _seed(job, number, a), search.most)
            numbers = numbers_of(ready, blend, who, known, trench_of(job, line))
            window = _Solved(part, ready, numbers, first - a, last - a, slip)
            offer = best_step(line, part, ready, blend, window.numbers, window.first, window.last, cannot)
            if offer is not None:
                offers.append(offer)
            if parts is not None:
                parts.append(Part(ready, blend, window.first, window.last, len(own) == 1))
            # told at once, so that no more than one window's particles are held
            for i in range(window.first, window.last):
                if part[i].answered:
                    told[(part[i].source, part[i].id)] = _told(job, line, window, i, total)
                elif part[i].source == "beside":
                    low, middle, high = (float(v) for v in numbers.depth[:, i])
                    beside.append((part[i], Interval(middle, low, high)))
            neighbours += window.numbers.neighbours
            reach = (part[window.first].chainage_m, part[window.last - 1].chainage_m)
            found = (*window.numbers.events, *reversals_of(part, ready.turn, numbers.current[1]))
            events += [e for e in found if reach[0] <= e.chainage_m <= reach[1]]
    ordered = [told[(s.source, s.id)] for s in mine if (s.source, s.id) in told]
    answer = LineEstimate(
        line.id, *identity_of(line, setups), tuple(ordered), tuple(neighbours), tuple(events)
    )
    answer = tell_beside(answer, beside, job.display_units)
    others = {other.id: marks[other.id].points for other in job.lines if other.id != line.id}
    return tell_swaps(job, answer, mine, swaps, others)


def _together(setups: list[Setup]) -> list[tuple[Setup, ...]]:
    """Setups solved as one; passive signal comes from several cores, so each such setup stands alone."""
    passive: list[tuple[Setup, ...]] = [(s,) for s in setups if s.hookup is Hookup.PASSIVE]
    active = tuple(s for s in setups if s.hookup is not Hookup.PASSIVE)
    return [active, *passive] if active else passive


@dataclass(frozen=True, slots=True)
class _Marks:
    """Where another line was marked or is drawn on record, shape (n, 2), and how deep that says it is."""

    points: FLOATS
    ln_depth: float
    ln_sigma: float = p.CANDIDATE_LOG_SIGMA
    sigma_m: float = p.CANDIDATE_SIGMA_M
    recorded_of: str | None = None  # a record: the line of the job it is of, or nothing


def _drawn(job: Job) -> dict[str, _Marks]:
    """Lines on record, as candidates for second lines."""
    out = {}
    for record in job.records:
        path = np.array(record.path)
        run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
        at = np.linspace(0.0, run[-1], max(int(run[-1] / RECORD_EVERY_M) + 1, 2))
        points = np.column_stack([np.interp(at, run, path[:, k]) for k in (0, 1)])
        known = record.depth_m is not None and record.depth_m > 0.0
        depth = math.log(min(max(record.depth_m or p.DEPTH_MEDIAN_M, 0.2), 3.0)) if known else 0.0
        sigma = math.hypot(record.position_sigma_m or p.RECORD_SIGMA_M, p.CANDIDATE_SIGMA_M)
        spread = p.CANDIDATE_LOG_SIGMA if known else p.SECOND_DEPTH_LOG_SIGMA
        out[f"record {record.id}"] = _Marks(points, depth, spread, sigma, record.line or "")
    return out


def _marks_of(stations: list[Station]) -> _Marks:
    stations = [s for s in stations if s.answered]
    depths = [s.reading.depth_m.value for s in stations if s.reading and s.reading.depth_m]
    points = np.array([(s.place.easting_m, s.place.northing_m) for s in stations]).reshape(-1, 2)
    return _Marks(points, math.log(min(max(float(np.median(depths)) if depths else 1.0, 0.2), 3.0)))


def _candidates(
    line: Line, ready: Prepared, marks: dict[str, _Marks]
) -> tuple[FLOATS, tuple[str | None, ...]]:
    """Other lines of the job within reach: offset and angle of their marks from this line's, and depth."""
    rows: list[tuple[float, ...]] = []
    names: list[str | None] = []
    for other, theirs in marks.items():
        if line.id in (other, theirs.recorded_of) or not len(theirs.points):
            continue
        offsets, along = _offsets(ready, theirs.points)
        near = np.abs(offsets) < REACH_M
        if not near.any():
            continue
        q, b = float(np.median(offsets[near])), 0.0
        if near.sum() >= 3 and np.ptp(along[near]) > 1.0:
            b, q = (float(c) for c in np.polyfit(along[near], offsets[near], 1))
        turn = 0.02 + 0.1 / max(float(np.ptp(along[near])), 1.0)
        share = p.CANDIDATE_ODDS if theirs.recorded_of is None else p.RECORD_ODDS
        rows.append((q, theirs.sigma_m, b, turn, theirs.ln_depth, theirs.ln_sigma, share))
        names.append(other if theirs.recorded_of is None else None)
    out = np.array(rows, dtype=np.float64).reshape(-1, 7)
    # lines that were read speak louder than lines on record, and of each kind all speak alike
    for share in (p.CANDIDATE_ODDS, p.RECORD_ODDS):
        alike = out[:, 6] == share
        out[alike, 6] /= max(int(alike.sum()), 1)
    return out, tuple(names)


def _offsets(ready: Prepared, points: FLOATS) -> tuple[FLOATS, FLOATS]:
    """Of points near a stretch: offset right of its marks, and chainage from its middle."""
    at, legs, marks = ready.stretch.at, ready.legs, ready.points
    low, high = marks.min(axis=0) - 2.0 * REACH_M, marks.max(axis=0) + 2.0 * REACH_M
    points = points[np.all((points >= low) & (points <= high), axis=1)]
    offsets = np.full(len(points), np.inf)
    along = np.zeros(len(points))
    for i, point in enumerate(points):
        k = int(np.hypot(*(marks - point).T).argmin())
        unit = np.array([math.sin(legs.direction[k]), math.cos(legs.direction[k])])
        d = point - marks[k]
        run = float(d @ unit)
        if abs(run) < 6.0:
            # from the leg's own line, not from the one mark
            offsets[i] = float(d @ np.array([unit[1], -unit[0]])) + float(legs.across[k])
            along[i] = float(at[k]) + run
    return offsets, along


def _told(job: Job, line: Line, w: _Solved, i: int, total: int) -> StationEstimate:
    s = w.stations[i]
    n = w.numbers
    direction = float(w.ready.legs.direction[i])
    turn = float(w.ready.turn[i])
    right = math.degrees(direction) + 90.0 * turn
    low, middle, high = (float(v) for v in (n.shift[:, i] if turn > 0 else -n.shift[::-1, i]))
    if total == 1 and s.bearing_deg is None:
        # which way the line runs is not known: the gap has no side
        reach = max(abs(low), abs(high))
        low, middle, high = -reach, 0.0, reach
    east = float(s.place.easting_m) + middle * math.sin(math.radians(right))
    north = float(s.place.northing_m) + middle * math.cos(math.radians(right))
    within = float(n.within[i])
    setup = setup_of(line, s.setup)
    trust = trust_of(line, setup, s, within)
    depth = Interval(float(n.depth[1, i]), float(n.depth[0, i]), float(n.depth[2, i]))
    because = reasons_of(job, line, setup, s, n, i, depth, (low, middle, high), trust, w.ready)
    if w.slip is not None:
        because = (w.slip, *because)
    return StationEstimate(
        s.source,
        s.id,
        s.chainage_m,
        east,
        north,
        float(s.place.easting_m),
        float(s.place.northing_m),
        right % 360.0,
        Interval(middle, low, high),
        depth,
        Interval(float(n.current[1, i]), float(n.current[0, i]), float(n.current[2, i])),
        float(n.single[i]),
        within,
        trust,
        because,
        step_words(s, trust, line),
    )
