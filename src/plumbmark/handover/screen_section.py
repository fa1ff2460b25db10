"""The section screen: what is under my feet?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from plumbmark.handover import answer, words
from plumbmark.handover.screen_drawn import (
    computed,
    line_ink,
    measured,
    metres,
    path_of,
    readings_of,
    rounded,
    told_estimate,
    told_reading,
)
from plumbmark.handover.screen_site import hole_words
from plumbmark.handover.section_shape import BOTH_AT_ONCE, from_mark, neighbours_at, oval
from plumbmark.model.estimate import LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Job
from plumbmark.model.reading import Reading, TestHole
from plumbmark.model.screen_drawn import Cited
from plumbmark.model.screen_section import (
    Dimension,
    Section,
    SectionHole,
    SectionLine,
    SectionScreen,
    SectionSecond,
)

EMPTY: Final = (
    "There is no section yet: it shows what one place looks like from the side, to scale, once a reading is "
    "answered."
)
OVAL: Final = (
    "The oval holds the middle of the line 19 times in 20, to the side and in depth at once; each of the two "
    "bands alone is a little narrower."
)
#: A test hole farther along the line than this is not drawn into a section.
HOLE_M: Final = 1.0
#: So many sections at most are given at once: the others are asked for by their place.
MOST: Final = 40
_SEEN: Final = 0.05  # second lines less likely than this are told along the line, not drawn here


def section_screen(
    job: Job,
    solution: Solution | None,
    line: str | None = None,
    station: str | None = None,
) -> SectionScreen:
    """Sections at the places of a job, to scale and dimensioned.

    Parameters
    ----------
    job : Job
    solution : Solution, optional
    line, station : str, optional
        Which to open at; the place that can be leaned on least where not given.

    Returns
    -------
    SectionScreen
        Every place where they are few, else those nearest to the one asked for.
    """
    solved = [q for q in (solution.lines if solution is not None else ()) if q.stations]
    chosen = _opened(solved, line, station)
    if chosen is None:
        return SectionScreen(job.id, job.display_units, EMPTY, None, None, (), "", OVAL, answer.CAUTION)
    opened, at = chosen
    total = sum(len(q.stations) for q in solved)
    lines = []
    readings = readings_of(job)
    for q in solved:
        keep: Sequence[int] = range(len(q.stations))
        if total > MOST:
            if q is not opened:
                continue
            first = max(0, min(at - MOST // 2, len(q.stations) - MOST))
            keep = range(first, min(first + MOST, len(q.stations)))
        back = answer.faces_back(q)
        sections = tuple(_section(job, q, i, readings, back=back[i]) for i in keep)
        lines.append(SectionLine(q.line, answer.line_name(job, q.line), line_ink(job, q.line), sections))
    shown = sum(len(q.sections) for q in lines)
    left_out = ""
    if shown < total:
        left_out = f"{shown:,} of {total:,} places are here: those of {opened.line} nearest to this one."
    ident = opened.stations[at].id
    return SectionScreen(
        job.id, job.display_units, "", opened.line, ident, tuple(lines), left_out, OVAL, answer.CAUTION
    )


def _opened(
    solved: list[LineEstimate], line: str | None, station: str | None
) -> tuple[LineEstimate, int] | None:
    """The place to open at: the one asked for, else the one of that line that can be leaned on least."""
    mine = [q for q in solved if line in (None, q.line)] or solved
    places = [(q, i) for q in mine for i in range(len(q.stations))]
    asked = [(q, i) for q, i in places if q.stations[i].id == station]
    if asked:
        return asked[0]

    def leaned(place: tuple[LineEstimate, int]) -> tuple[float, float]:
        s = place[0].stations[place[1]]
        return s.within_10_probability, s.depth_m.low - s.depth_m.high

    return min(places, key=leaned, default=None)


def _section(
    job: Job,
    line: LineEstimate,
    i: int,
    readings: Mapping[tuple[str, str], Reading],
    *,
    back: bool,
) -> Section:
    s = line.stations[i]
    units = job.display_units
    reading = readings.get((line.line, s.id)) if s.source == "reading" else None
    shift, depth = s.lateral_shift_m, s.depth_m
    ring = path_of(oval(shift, depth, BOTH_AT_ONCE))
    seconds = _seconds(job, line, s, back=back)
    holes = _holes(job, line, s)
    null = None if reading is None else reading.null_offset_m
    shown = None if reading is None else reading.depth_m
    asides = [0.0, *(p[0] for p in ring), *(v for q in seconds for v in (q.aside_m.low, q.aside_m.high))]
    asides += [h.aside_m for h in holes] + ([] if null is None else [null.low, null.high])
    downs = [max(p[1] for p in ring), *(1.1 * q.depth_m for q in seconds)]
    downs += [h.top_m or h.dug_to_m or 0.0 for h in holes] + ([] if shown is None else [shown.high])
    told = told_estimate(line, s, units) + told_reading(reading, units)
    raised = None if reading is None else reading.raised_by_m
    then = None if reading is None else reading.raised_depth_m
    value = words.length(depth.value, units, depth.high - depth.low)
    says = f"{value[0].upper()}{value[1:]} to the middle of it, could be {words.band(depth, units)}."
    diameter = next((x.outside_diameter_m for x in job.lines if x.id == line.line), None)
    unsettled = any(s.id in pair for pair in line.unsettled)
    return Section(
        source=s.source,
        id=s.id,
        name=answer.station_name(s),
        chainage_m=metres(s.chainage_m),
        trust=s.trust,
        says=says,
        paint="Settle the swap before any more paint." if unsettled else _paint_words(s, units),
        sides=_sides(s),
        left_m=metres(min(asides) - 0.25),
        right_m=metres(max(asides) + 0.25),
        # one hopeless place runs out of its picture rather than shrink it
        deepest_m=metres(min(max(downs), 4.0 * max(depth.value, 0.3)) + 0.15),
        null_m=measured(null),
        shown_depth_m=measured(shown),
        raised_m=None if raised is None else metres(raised.value),
        raised_depth_m=None if then is None else metres(then.value),
        aside_m=rounded(shift),
        depth_m=rounded(depth),
        oval=ring,
        diameter_m=diameter,
        seconds=seconds,
        holes=holes,
        dimensions=_dimensions(line, s, reading, seconds, units),
        told=told,
        because=tuple(words.sentence(t) for t in s.because),
        next_step=words.sentence(s.next_step),
    )


def _paint_words(s: StationEstimate, units: str) -> str:
    if answer.says_nothing(s):
        return "Do not paint on this alone."
    where = words.paint(s.lateral_shift_m, units)
    return f"Paint {where}." if where == "at the mark" else f"Paint {where} of your mark."


def _sides(s: StationEstimate) -> str:
    facing = round(s.right_deg - 90.0) % 360
    return f"Left and right are as you face {facing} degrees from grid north."


def _seconds(job: Job, line: LineEstimate, s: StationEstimate, *, back: bool) -> tuple[SectionSecond, ...]:
    found = []
    for n in neighbours_at(line, s.chainage_m):
        if n.probability < _SEEN:
            continue
        whose = f" ({n.is_line})" if n.is_line else ""
        said = f"second line{whose}, {words.likelihood(n.probability)}: {words.chance(n.probability)}"
        found.append(
            SectionSecond(
                rounded(from_mark(n.offset_m, s.lateral_shift_m.value, back=back)),
                metres(n.depth_m),
                line_ink(job, n.is_line),
                n.is_line,
                round(n.probability, 4),
                said,
            )
        )
    return tuple(found)


def _holes(job: Job, line: LineEstimate, s: StationEstimate) -> tuple[SectionHole, ...]:
    right = math.radians(s.right_deg)
    found = []
    for hole in job.test_holes:
        if hole.line != line.line:
            continue
        east, north = hole.place.easting_m - s.mark_easting_m, hole.place.northing_m - s.mark_northing_m
        ahead = -east * math.cos(right) + north * math.sin(right)
        aside = east * math.sin(right) + north * math.cos(right)
        if abs(ahead) <= HOLE_M and abs(aside) <= 2.0 * HOLE_M:
            found.append(_hole(job, hole, aside))
    return tuple(found)


def _hole(job: Job, hole: TestHole, aside_m: float) -> SectionHole:
    top = hole.depth_to_top_m if hole.found else None
    dug, size = hole.dug_to_m, hole.outside_diameter_m
    return SectionHole(
        hole.id,
        metres(aside_m),
        hole.found,
        None if top is None else metres(top.value),
        None if dug is None else metres(dug.value),
        None if size is None else metres(size.value),
        told_hole(job, hole),
    )


def told_hole(job: Job, hole: TestHole) -> Cited:
    """What a test hole showed, and where that stands."""
    return Cited(f"test hole {hole.id}", hole_words(job, hole.id), f"test_holes.csv row {hole.row}")


def _dimensions(
    line: LineEstimate,
    s: StationEstimate,
    reading: Reading | None,
    seconds: tuple[SectionSecond, ...],
    units: str,
) -> tuple[Dimension, ...]:
    """Dimension lines: paint from the mark, the null, depth with its band, a second line beside the line."""
    source = computed(line.line)
    shift, depth = s.lateral_shift_m, s.depth_m
    found = []
    paint = words.paint(shift, units)
    if paint != "at the mark":
        told = Cited("paint, from your mark", paint, source)
        found.append(Dimension(False, 0.0, metres(shift.value), 0.0, told))
    null = None if reading is None else reading.null_offset_m
    if reading is not None and null is not None and abs(null.value) >= 0.01:
        told = next(t for t in told_reading(reading, units) if t.name.startswith("null, "))
        found.append(Dimension(False, 0.0, metres(null.value), 0.0, told))
    value = words.length(depth.value, units, depth.high - depth.low)
    middle = Cited("depth to the middle", value, f"{source}, an estimate")
    found.append(Dimension(True, 0.0, metres(depth.value), metres(shift.value), middle))
    band = Cited("depth, 19 times in 20", words.band(depth, units), source)
    found.append(Dimension(True, metres(depth.low), metres(depth.high), metres(shift.value), band))
    for q in seconds:
        apart = abs(q.aside_m.value - shift.value)
        said = words.length(apart, units, q.aside_m.high - q.aside_m.low)
        told = Cited("second line, beside the line", said, f"{source}; {q.words}")
        found.append(Dimension(False, metres(shift.value), q.aside_m.value, q.depth_m, told))
    return tuple(found)
