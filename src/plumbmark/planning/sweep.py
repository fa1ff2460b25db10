"""A sweep of the ground to be dug: what planned passes would notice, what walked ones have, what is left."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import label
from shapely import Polygon

from plumbmark.inference.priors import DEPTH_LOG_SIGMA, DEPTH_MEDIAN_M
from plumbmark.model.job import Job
from plumbmark.model.sweep import (
    ChanceMap,
    Gap,
    LeastCurrent,
    MethodSweep,
    Point,
    Round,
    Search,
    SearchMethod,
    SweepAnswer,
    SweepRecord,
    Walk,
)
from plumbmark.planning import sweep_priors as priors
from plumbmark.planning.sweep_chance import Likely, bearings, best_chance, depths, is_swept, noticed
from plumbmark.planning.sweep_further import Chord, Closing, fewest_passes
from plumbmark.planning.sweep_ground import (
    Ground,
    chords,
    evenly,
    footprint,
    grounds,
    path_words,
    place_words,
    polygons,
)
from plumbmark.planning.sweep_legs import chord_legs, pass_legs
from plumbmark.planning.sweep_record import make_record
from plumbmark.planning.sweep_says import assumptions, cannot, rules_out

FLOATS = NDArray[np.float64]
BOOLS = NDArray[np.bool_]

MOST_CANDIDATES: Final = 160
MISSED_ALL: Final = 0.5
HOPELESS: Final = 10.0  # directions are tried 5 degrees apart: beyond this a line between two is not heard
_EVERYWHERE: Final = np.ones((3, 3), bool)


def sweep_job(job: Job) -> SweepAnswer:
    """Plan the sweep of a job's digs, and weigh the passes really walked.

    Parameters
    ----------
    job : Job

    Returns
    -------
    SweepAnswer

    Raises
    ------
    GeometryError
        If the job has no dig, or one that covers no ground.
    """
    pieces = grounds(job, _or(job.sweep.margin_m, priors.MARGIN_M))
    searches = [filled(s) for s in job.searches or map(Search, SearchMethod)]
    planned = tuple(_planned(job, search, pieces) for search in searches)
    walked = _all_walked(job, searches, pieces)
    record = make_record(job, searches, walked, pieces) if walked else None
    return SweepAnswer(
        job.id,
        tuple(_ring(piece.outline) for piece in pieces),
        planned,
        walked,
        _rounds(job, searches[0]),
        record,
        assumptions(job, searches, pieces),
        rules_out(job, walked or planned, done=bool(walked)),
        cannot(),
    )


def swept(job: Job) -> SweepRecord | None:
    """What the passes of a job are worth to its digs; None where no pass was walked, or there is no dig.

    Parameters
    ----------
    job : Job

    Returns
    -------
    SweepRecord or None

    Raises
    ------
    GeometryError
        If a dig covers no ground.
    """
    if not job.passes or not job.digs:
        return None
    pieces = grounds(job, _or(job.sweep.margin_m, priors.MARGIN_M))
    searches = [filled(s) for s in job.searches or map(Search, SearchMethod)]
    return make_record(job, searches, _all_walked(job, searches, pieces, further=False), pieces)


def filled(search: Search) -> Search:
    """A search with every value in it.

    Examples
    --------
    >>> filled(Search(SearchMethod.ACTIVE)).threshold_a
    0.0002
    """
    default = priors.SEARCHED[search.method]
    return replace(
        search,
        antenna=search.antenna or priors.ANTENNA,
        threshold_a=_or(search.threshold_a, default.threshold_a),
        current_a=_or(search.current_a, default.current_a),
        current_sigma_factor=_or(search.current_sigma_factor, default.current_sigma_factor),
    )


def likely_lines(job: Job, search: Search) -> Likely:
    """What might lie there and carry what this search listens for.

    Parameters
    ----------
    job : Job
    search : Search
        With every value in it.
    """
    plan = job.sweep
    factor = _or(plan.depth_sigma_factor, math.exp(DEPTH_LOG_SIGMA))
    middle, weight = depths(_or(plan.depth_m, DEPTH_MEDIAN_M), factor)
    sigma = _or(plan.line_bearing_sigma_deg, 20.0)
    spread = math.hypot(
        math.log(_or(search.current_sigma_factor, 1.0)), math.log(priors.DETECTION_SIGMA_FACTOR)
    )
    level = math.log(_or(search.current_a, 1.0) / _or(search.threshold_a, 1.0))
    below = middle + coil_height(job)
    reach = _or(plan.reach_m, priors.REACH_M)
    return Likely(bearings(plan.line_bearing_deg, sigma), below, weight, level, spread, reach)


def coil_height(job: Job) -> float:
    """Of the lower coil above the ground while walking [m]."""
    known = [r.lower_coil_height_m for r in job.receivers if r.lower_coil_height_m is not None]
    return priors.CARRIED_M + (min(known) if known else priors.COIL_M)


def _or(value: float | None, default: float) -> float:
    return default if value is None else float(value)


def _ring(outline: Polygon) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y, *_ in outline.exterior.coords)


def _planned(job: Job, search: Search, pieces: Sequence[Ground]) -> MethodSweep:
    """Even passes both ways."""
    spacing = _or(job.sweep.spacing_m, priors.SPACING_M)
    walks: list[Walk] = []
    for piece in pieces:
        for bearing in (piece.bearing_deg, piece.bearing_deg + 90.0):
            found = chords(piece.outline, bearing, evenly(piece.outline, bearing, spacing))
            for k, (a, b) in enumerate(found):  # there and back again
                path = (a, b) if k % 2 == 0 else (b, a)
                walks.append(Walk(path, path_words(job, path)))
    legs = np.vstack([chord_legs(w.path, search.antenna or priors.ANTENNA) for w in walks])
    return _weighed(job, search, pieces, tuple(walks), legs)


def _all_walked(
    job: Job, searches: Sequence[Search], pieces: Sequence[Ground], *, further: bool = True
) -> tuple[MethodSweep, ...]:
    asked = {s.method: s for s in searches}
    found = []
    for method in SearchMethod:
        passes = [p for p in job.passes if p.method is method]
        if not passes:
            continue
        search = asked.get(method) or filled(Search(method))
        antenna = search.antenna or priors.ANTENNA
        paths = [tuple((q.place.easting_m, q.place.northing_m) for q in p.points) for p in passes]
        walks = tuple(Walk(path, f"pass {p.id}") for p, path in zip(passes, paths, strict=True))
        legs = np.vstack([pass_legs(p, p.antenna or antenna) for p in passes])
        sweep = _weighed(job, search, pieces, walks, legs)
        found.append(_with_further(job, sweep, pieces, legs) if further else sweep)
    return tuple(found)


def _weighed(
    job: Job, search: Search, pieces: Sequence[Ground], walks: tuple[Walk, ...], legs: FLOATS
) -> MethodSweep:
    """Chances over all ground from given legs."""
    likely = likely_lines(job, search)
    best = best_chance(likely)
    maps = tuple(_map(job, search, piece, likely, legs) for piece in pieces)
    inside = sum(int(m.inside.sum()) for m in maps)
    gaps = [gap for piece, m in zip(pieces, maps, strict=True) for gap in _gaps(job, piece, m)]
    gaps.sort(key=lambda gap: (not gap.in_dig, -gap.area_m2))
    return MethodSweep(
        search,
        walks,
        best,
        sum(float(m.chance.sum()) for m in maps) / max(inside, 1),
        sum(m.area_m2(m.inside) for m in maps),
        sum(m.area_m2(is_swept(m)) for m in maps),
        maps,
        _least(maps),
        tuple(replace(gap, name=_letters(i)) for i, gap in enumerate(gaps)),
    )


def _map(job: Job, search: Search, piece: Ground, likely: Likely, legs: FLOATS) -> ChanceMap:
    here = noticed(piece.points, legs, likely, np.array(priors.LEAST_DEPTHS_M) + coil_height(job))
    shape = piece.inside.shape
    chance, signal, missed, worst = (np.zeros(shape) for _ in range(4))
    chance[piece.inside] = here.chance
    signal[piece.inside] = here.signal.min(axis=1)
    missed[piece.inside] = (here.signal < priors.SWEPT_SIGNAL).mean(axis=1)
    worst[piece.inside] = np.degrees(likely.bearing_rad[here.signal.argmin(axis=1)]) % 180.0
    least = np.full((*shape, len(priors.LEAST_DEPTHS_M)), np.inf)
    sure = _or(search.threshold_a, 1.0) * priors.DETECTION_SIGMA_FACTOR**priors.ALWAYS
    with np.errstate(divide="ignore"):
        least[piece.inside] = sure / here.weakest
    return ChanceMap(
        piece.easting_m,
        piece.northing_m,
        piece.bearing_deg,
        piece.cell_m,
        piece.inside,
        piece.in_dig,
        chance,
        signal,
        missed,
        worst,
        least,
        priors.LEAST_DEPTHS_M,
        tuple(sure * (depth + coil_height(job)) for depth in priors.LEAST_DEPTHS_M),
    )


def _least(maps: Sequence[ChanceMap]) -> tuple[LeastCurrent, ...]:
    """Least current over the swept ground in the digs."""
    cells = [m.least_a[is_swept(m) & m.in_dig] for m in maps]
    values = np.vstack(cells)
    return tuple(
        LeastCurrent(depth, float(values[:, i].max()) if len(values) else None)
        for i, depth in enumerate(priors.LEAST_DEPTHS_M)
    )


def _gaps(job: Job, piece: Ground, chances: ChanceMap) -> list[Gap]:
    """Patches of cells that are not swept."""
    patches, count = label(chances.inside & ~is_swept(chances), _EVERYWHERE)
    numbers = patches[piece.inside]
    points = piece.points
    found = []
    for number in range(1, count + 1):
        mine = numbers == number
        spots, cells = points[mine], patches == number
        middle = spots.mean(axis=0)
        east, north = spots[np.hypot(*(spots - middle).T).argmin()]
        double = np.radians(2.0 * chances.worst_deg[cells])
        way = 0.5 * math.degrees(math.atan2(np.sin(double).mean(), np.cos(double).mean())) % 180.0
        none = chances.missed[cells].mean() > MISSED_ALL
        best, least = chances.best_a[1], float(chances.least_a[cells][:, 1].max())
        found.append(
            Gap(
                "",
                chances.area_m2(cells),
                float(east),
                float(north),
                bool(np.any(cells & chances.in_dig)),
                None if none else way,
                LeastCurrent(chances.least_depths_m[1], least if least <= HOPELESS * best else None),
                place_words(job, float(east), float(north)),
            )
        )
    return found


def _letters(number: int) -> str:
    """A, B, ... Z, AA, AB, ...

    Examples
    --------
    >>> _letters(0), _letters(26)
    ('A', 'AA')
    """
    name = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def _with_further(job: Job, sweep: MethodSweep, pieces: Sequence[Ground], legs: FLOATS) -> MethodSweep:
    """Add the fewest passes that close the gaps."""
    likely = likely_lines(job, sweep.search)
    antenna = sweep.search.antenna or priors.ANTENNA
    walks: list[Walk] = []
    fewest = True
    for piece in pieces:
        points = piece.points

        def closes(chord: Chord, spots: NDArray[np.intp], points: FLOATS = points) -> Closing:
            near = spots[_within(points[spots], chord, likely.reach_m)]
            leg = chord_legs(chord, antenna)
            here = noticed(points[near], leg, likely, np.empty(0), signal_only=True)
            return Closing(near, here.signal >= priors.SWEPT_SIGNAL)

        left = noticed(points, legs, likely, np.empty(0), signal_only=True).signal < priors.SWEPT_SIGNAL
        found, proven = fewest_passes(left, _candidates(piece), closes)
        walks += [Walk(chord, path_words(job, chord)) for chord in found]
        fewest &= proven
    return replace(sweep, further=tuple(walks), fewest=fewest)


def _within(points: FLOATS, chord: Chord, reach_m: float) -> BOOLS:
    """Points within reach of a straight pass, and perhaps some just beyond its ends."""
    a, b = np.array(chord)
    ahead = (b - a) / max(math.dist(*chord), 1e-9)
    along, across = (points - a) @ ahead, (points - a) @ np.array([ahead[1], -ahead[0]])
    far = math.dist(*chord) + reach_m
    return np.asarray((np.abs(across) <= reach_m) & (along >= -reach_m) & (along <= far), bool)


def _candidates(piece: Ground) -> list[Chord]:
    """Straight passes both ways, close together."""
    found: list[Chord] = []
    for bearing in (piece.bearing_deg, piece.bearing_deg + 90.0):
        found += chords(piece.outline, bearing, evenly(piece.outline, bearing, _step(piece, bearing)))
    return found


def _step(piece: Ground, bearing_deg: float) -> float:
    rows, columns = piece.inside.shape
    cells = int(rows if math.isclose(bearing_deg, piece.bearing_deg) else columns)
    return piece.cell_m * max(2.0, cells / (0.5 * MOST_CANDIDATES))


def _rounds(job: Job, search: Search) -> tuple[Round, ...]:
    """Once round each dig, after marking."""
    likely = likely_lines(job, search)
    found = []
    for dig in job.digs:
        for hole in polygons(footprint(dig)):
            path = _ring(hole.exterior.buffer(priors.ROUND_OFF_M, join_style="mitre", mitre_limit=1.5))
            legs = chord_legs(path, search.antenna or priors.ANTENNA)
            edge = hole.exterior
            steps = np.arange(0.125, edge.length, 0.25)
            here = shapely.get_coordinates(shapely.line_interpolate_point(edge, steps))
            ahead = shapely.get_coordinates(shapely.line_interpolate_point(edge, steps + 0.01)) - here
            heard = noticed(here, legs, likely, np.empty(0), signal_only=True).signal >= priors.SWEPT_SIGNAL
            # Lines that fall on an edge at random do so as the sine of the angle between.
            run = np.arctan2(ahead[:, 0], ahead[:, 1])
            weight = np.abs(np.sin(likely.bearing_rad[None, :] - run[:, None]))
            share = float((weight * heard).sum() / weight.sum())
            walk = Walk(path, f"round dig {dig.id}, beginning {place_words(job, *path[0])}")
            found.append(Round(dig.id, walk, priors.ROUND_OFF_M, share))
    return tuple(found)
