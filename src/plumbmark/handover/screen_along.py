"""The screen along a line: does it make sense end to end?"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Final

from plumbmark.handover import answer
from plumbmark.handover.layers_answer import place_on
from plumbmark.handover.page_svg import thinned
from plumbmark.handover.screen_drawn import (
    PLACES,
    TABLES,
    Row,
    digits4,
    line_ink,
    metres,
    milli,
    readings_of,
    rounded,
    thing_name,
    told_estimate,
    told_reading,
)
from plumbmark.handover.screen_notes import swap_words
from plumbmark.handover.screen_section import told_hole
from plumbmark.handover.screen_site import unplaced_stations
from plumbmark.handover.screen_slope import NO_SLOPE, slopes_of
from plumbmark.handover.section_shape import abreast
from plumbmark.model.estimate import CurrentEvent, Interval, LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Job
from plumbmark.model.screen_along import (
    AlongEvent,
    AlongHole,
    AlongLine,
    AlongPlace,
    AlongScreen,
    AlongSecond,
    AlongSwap,
)

EMPTY: Final = (
    "There is no line to follow yet. Two readings of one line, and its depth and current stand here from end "
    "to end."
)
#: What comes within this of a change of the current is named beside it [m]; judgement, no source.
_NEAR_M: Final = 1.5
#: Nobody tapes or paces farther than this from one thing; places by words that have nothing in common are put
#: 200 m apart and more.
_TAPE_M: Final = 150.0
_CAUSES: Final = {
    "drop": (
        "Part of the signal goes another way there: a tee, a service, a bond, a fault of the coating; or the "
        "mark went over to another line."
    ),
    "rise": (
        "A line alone does not gain current: another line's adds to it there, the mark went over to another "
        "line, or the signal comes back."
    ),
    "reversal": (
        "Past there the current flows the other way: it comes back along another line, or the mark went over "
        "to one."
    ),
}


def along_screen(
    job: Job, solution: Solution | None, by_words: Mapping[Row, str] | None = None
) -> AlongScreen:
    """Depth and current along every line, with what changes on the way.

    Parameters
    ----------
    job : Job
    solution : Solution, optional
    by_words : mapping of (str, str) to str, optional
        Table and id of rows whose place is known by words only, with the words. How far along the line they
        are is known where they were measured from the same thing, and not else.

    Returns
    -------
    AlongScreen
        Lines that have a place, in the order of the job; of many places those leaned on least, and an even
        choice of the rest.
    """
    unplaced = dict(by_words or {})
    pieces = [] if solution is None else [q for line in solution.lines for q in _pieces(line, unplaced)]
    alone = [q for q in pieces if len(q.stations) == 1 and _is_unplaced(q.stations[0], unplaced)]
    solved = tuple(q for q in pieces if q not in alone)
    listed = [] if solution is None else answer.listed_stations(replace(solution, lines=solved), PLACES)
    lines = tuple(_line(job, line, keep) for line, keep in zip(solved, listed, strict=True) if line.stations)
    total, shown = sum(len(line.stations) for line in solved), sum(len(q.places) for q in lines)
    left_out = ""
    if shown < total:
        left_out = (
            f"{shown:,} of {total:,} places are shown: those that can be leaned on least, and an even choice "
            "of the others."
        )
    empty = "" if lines else EMPTY
    apart = tuple(unplaced_stations(job, alone, unplaced))
    return AlongScreen(job.id, job.display_units, empty, lines, apart, left_out, answer.CAUTION)


def _is_unplaced(station: StationEstimate, unplaced: Mapping[Row, str]) -> bool:
    return (TABLES[station.source], station.id) in unplaced


def _pieces(line: LineEstimate, unplaced: Mapping[Row, str]) -> list[LineEstimate]:
    """A line in stretches measured in themselves, each from its own 0 on; whole where all of it is."""
    stations = line.stations
    if not any(_is_unplaced(s, unplaced) for s in stations):
        return [line]
    cuts = [
        i
        for i, (a, b) in enumerate(pairwise(stations), 1)
        if b.chainage_m - a.chainage_m > _TAPE_M and (_is_unplaced(a, unplaced) or _is_unplaced(b, unplaced))
    ]
    found = []
    for first, last in pairwise([0, *cuts, len(stations)]):
        piece = stations[first:last]
        zero, end = piece[0].chainage_m, piece[-1].chainage_m
        ids = {s.id for s in piece}
        found.append(
            replace(
                line,
                stations=tuple(replace(s, chainage_m=s.chainage_m - zero) for s in piece),
                neighbours=tuple(
                    replace(
                        n,
                        from_chainage_m=max(n.from_chainage_m, zero) - zero,
                        to_chainage_m=min(n.to_chainage_m, end) - zero,
                    )
                    for n in line.neighbours
                    if n.from_chainage_m <= end and n.to_chainage_m >= zero
                ),
                current_events=tuple(
                    replace(e, chainage_m=e.chainage_m - zero)
                    for e in line.current_events
                    if zero <= e.chainage_m <= end
                ),
                unsettled=tuple(pair for pair in line.unsettled if ids.issuperset(pair)),
            )
        )
    return found


def _line(job: Job, line: LineEstimate, keep: list[int]) -> AlongLine:
    units = job.display_units
    swaps = _swaps(line)
    places = _places(job, line, keep)
    slopes = slopes_of(job, line)
    holes = _holes(job, line)
    deepest, weakest, strongest = _axes(places)
    says = [answer.headline(job, line), answer.how_deep(line, units)]
    return AlongLine(
        line=line.line,
        name=answer.line_name(job, line.line),
        ink=line_ink(job, line.line),
        says=(*(swap.words for swap in swaps), *says),
        direction=answer.left_and_right(line),
        from_m=metres(min(p.chainage_m for p in places)),
        to_m=metres(max(p.chainage_m for p in places)),
        deepest_m=metres(deepest),
        weakest_ma=digits4(weakest),
        strongest_ma=digits4(strongest),
        places=places,
        swaps=swaps,
        slopes=slopes,
        slope="" if slopes else NO_SLOPE,
        events=tuple(_event(job, line, e) for e in line.current_events),
        holes=holes,
        seconds=tuple(
            AlongSecond(
                metres(n.from_chainage_m),
                metres(n.to_chainage_m),
                round(n.probability, 4),
                answer.second_line(n, units, answer.towards(line)),
            )
            for n in line.neighbours
        ),
    )


def _places(job: Job, line: LineEstimate, keep: list[int]) -> tuple[AlongPlace, ...]:
    readings = readings_of(job)
    units = job.display_units
    diameter = next((x.outside_diameter_m for x in job.lines if x.id == line.line), None)
    found = []
    # of many lines one may have no place among those listed: its ends stand for it
    for i in keep or thinned(len(line.stations), 2):
        s = line.stations[i]
        reading = readings.get((line.line, s.id)) if s.source == "reading" else None
        depth = None if reading is None else reading.depth_m
        current = None if reading is None else reading.current_a
        found.append(
            AlongPlace(
                source=s.source,
                id=s.id,
                chainage_m=metres(s.chainage_m),
                depth_m=rounded(s.depth_m),
                top_m=_top(s.depth_m, diameter),
                current_ma=milli(s.current_a),
                shown_depth_m=None if depth is None else metres(depth.value),
                shown_current_ma=None if current is None else digits4(1e3 * current.value),
                trust=s.trust,
                told=told_estimate(line, s, units) + told_reading(reading, units),
            )
        )
    return tuple(found)


def _top(depth: Interval, diameter_m: float | None) -> Interval | None:
    if diameter_m is None:
        return None
    half = 0.5 * diameter_m
    return rounded(Interval(*(max(v - half, 0.0) for v in (depth.value, depth.low, depth.high))))


def _axes(places: tuple[AlongPlace, ...]) -> tuple[float, float, float]:
    """Deepest depth, weakest and strongest current of the axes; one hopeless place may run out of them."""
    depths = [p.depth_m.high for p in places] + [p.shown_depth_m or 0.0 for p in places]
    deepest = min(max(depths), 4.0 * max(p.depth_m.value for p in places))
    values = [p.current_ma.value for p in places if p.current_ma.value > 0.0] or [1.0]
    shown = [p.shown_current_ma for p in places if p.shown_current_ma]
    low = min([p.current_ma.low for p in places if p.current_ma.low > 0.0] + values + shown)
    high = max([p.current_ma.high for p in places] + values + shown)
    weakest, strongest = max(low, min(values) / 30.0), min(high, max(values) * 30.0)
    return max(1.08 * deepest, 0.3), 0.85 * weakest, 1.15 * strongest


def _swaps(line: LineEstimate) -> tuple[AlongSwap, ...]:
    at = {s.id: s.chainage_m for s in line.stations}
    found = []
    for a, b in line.unsettled:
        if a in at and b in at:
            first, last = sorted((at[a], at[b]))
            found.append(AlongSwap(a, b, metres(first), metres(last), swap_words(a, b)))
    return tuple(found)


def _event(job: Job, line: LineEstimate, event: CurrentEvent) -> AlongEvent:
    cause = _CAUSES.get(event.kind, "")
    east, north = place_on(line, event.chainage_m)[:2]
    near = _near(job, line, (east, north), event.chainage_m)
    if near:
        cause = f"{cause} Near there: {', '.join(near)}. Look there first."
    return AlongEvent(
        metres(event.chainage_m),
        event.kind,
        round(event.change_db, 2),
        round(event.probability, 4),
        answer.current_event(event, line, job.display_units),
        cause,
    )


def _near(job: Job, line: LineEstimate, at: tuple[float, float], chainage_m: float) -> list[str]:
    """What is known to lie or stand near a place of a line, and could take or give current."""
    found = []
    for thing in job.things:
        place = thing.place
        if place is not None and math.dist(at, (place.easting_m, place.northing_m)) <= _NEAR_M:
            found.append(thing_name(thing))
    for record in job.records:
        if record.line != line.line and _to_path(at, record.path) <= _NEAR_M:
            found.append(f"record {record.id}")
    for n in line.neighbours:
        ends = (n.from_chainage_m, n.to_chainage_m)
        if min(abs(chainage_m - end) for end in ends) <= 2.0 * _NEAR_M:
            begins = "ends" if abs(chainage_m - ends[1]) < abs(chainage_m - ends[0]) else "begins"
            found.append(f"the second line {begins}")
    return list(dict.fromkeys(found))


def _to_path(at: tuple[float, float], path: tuple[tuple[float, float], ...]) -> float:
    """Least distance of a place to a path."""
    best = math.inf
    for a, b in zip(path, path[1:] or path, strict=False):
        run = (b[0] - a[0], b[1] - a[1])
        square = run[0] ** 2 + run[1] ** 2
        t = 0.0 if square == 0.0 else ((at[0] - a[0]) * run[0] + (at[1] - a[1]) * run[1]) / square
        t = min(max(t, 0.0), 1.0)
        best = min(best, math.dist(at, (a[0] + t * run[0], a[1] + t * run[1])))
    return best


def _holes(job: Job, line: LineEstimate) -> tuple[AlongHole, ...]:
    first, last = line.stations[0].chainage_m, line.stations[-1].chainage_m
    found = []
    for hole in job.test_holes:
        if hole.line != line.line:
            continue
        chainage = abreast(hole.place.easting_m, hole.place.northing_m, line)
        if not first - _NEAR_M <= chainage <= last + _NEAR_M:
            continue
        top = hole.depth_to_top_m if hole.found else None
        found.append(
            AlongHole(
                hole.id,
                metres(chainage),
                hole.found,
                None if top is None else metres(top.value),
                None if hole.dug_to_m is None else metres(hole.dug_to_m.value),
                told_hole(job, hole),
            )
        )
    return tuple(found)
