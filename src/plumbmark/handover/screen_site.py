"""The site screen: what is where, and what is still open?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from plumbmark.handover import answer, words
from plumbmark.handover.marks_text import kind_words, mark_words
from plumbmark.handover.page_plan import beside
from plumbmark.handover.page_svg import thinned
from plumbmark.handover.screen_drawn import (
    PLACES,
    TABLES,
    Row,
    drawn_digs,
    drawn_lines,
    extent_of,
    ink_of,
    job_on_plan,
    line_ink,
    path_of,
    placed,
    readings_of,
    thing_name,
    told_estimate,
    told_reading,
)
from plumbmark.handover.screen_notes import site_notes
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.estimate import LineEstimate, Solution
from plumbmark.model.job import Job
from plumbmark.model.mark import Mark, MarkPlan, PaintedMark
from plumbmark.model.screen_site import (
    SiteAnchor,
    SiteHole,
    SiteMark,
    SitePaint,
    SitePass,
    SiteRecord,
    SiteScreen,
    SiteSecond,
    SiteThing,
    SiteUnplaced,
)

EMPTY: Final = (
    "Nothing is drawn yet. Take a reading, note a thing you see, or draw where is to be dug: each shows "
    "here. An empty plan does not mean that nothing is there."
)
_SECOND_POINTS: Final = 60


def site_screen(
    job: Job,
    solution: Solution | None,
    *,
    marks: MarkPlan | None = None,
    clearance: ClearanceAnswer | None = None,
    still_open: Sequence[str] = (),
    by_words: Mapping[Row, str] | None = None,
) -> SiteScreen:
    """The plan of a job in its own grid.

    Parameters
    ----------
    job : Job
    solution : Solution, optional
        None while there is nothing to solve, or no answer yet.
    marks : MarkPlan, optional
        What is to be painted, and how that compares with the paint there is: planned from
        `job_on_plan` and `solution_on_plan`.
    clearance : ClearanceAnswer, optional
        Its test holes and open questions become notes.
    still_open : sequence of str
        What the ticket leaves open by now: the first notes.
    by_words : mapping of (str, str) to str, optional
        Table and id of rows whose place is known by words only, with the words: listed, not drawn.

    Returns
    -------
    SiteScreen
    """
    unplaced = dict(by_words or {})
    solved = solution.lines if solution is not None else ()
    drawn = [placed(line, unplaced) for line in solved]
    seen = job_on_plan(job, unplaced)
    lines = drawn_lines(job, solved, unplaced)
    digs, holes = drawn_digs(job), _holes(seen)
    field = _marks(job, drawn)
    paint = _paint(seen, marks)
    seconds = tuple(s for line in drawn for s in _seconds(job, line))
    things, records, passes = _things(seen), _records(job), _passes(seen)
    baselines = tuple(
        SiteAnchor(
            b.id,
            path_of([(b.start_easting_m, b.start_northing_m), (b.end_easting_m, b.end_northing_m)]),
        )
        for b in seen.baselines
    )
    corners = tuple(SiteAnchor(c.id, path_of([(c.easting_m, c.northing_m)])) for c in job.corners)
    core = [p for line in lines for p in line.path] + [m.place for m in field] + [p.place for p in paint]
    core += [p for s in seconds for p in s.path] + [t.place for t in things]
    near = [p for d in digs for ring in d.ground for p in ring] + [h.place for h in holes]
    near += [p for r in records for p in r.path] + [p for c in corners for p in c.path]
    extent = extent_of(core, near + [p for b in baselines for p in b.path])
    return SiteScreen(
        job.id,
        job.title,
        job.display_units,
        _says(job, solution),
        "" if extent is not None else EMPTY,
        extent,
        digs,
        records,
        passes,
        baselines,
        corners,
        seconds,
        lines,
        field,
        paint,
        things,
        holes,
        _unplaced(job, solved, unplaced),
        site_notes(job, solution, marks, clearance, unplaced, still_open),
        answer.CAUTION,
    )


def _says(job: Job, solution: Solution | None) -> str:
    if solution is None or not any(line.stations for line in solution.lines):
        return "No reading is answered yet."
    return " ".join(answer.headline(job, line) for line in solution.lines if line.stations)


def _marks(job: Job, lines: list[LineEstimate]) -> tuple[SiteMark, ...]:
    """Field marks with their answers."""
    readings = readings_of(job)
    found = []
    for line in lines:
        doubt = [s.within_10_probability for s in line.stations]
        least = sorted(range(len(doubt)), key=doubt.__getitem__)[: PLACES // 4]
        for i in thinned(len(doubt), PLACES, least):
            s = line.stations[i]
            reading = readings.get((line.line, s.id)) if s.source == "reading" else None
            told = told_estimate(line, s, job.display_units) + told_reading(reading, job.display_units)
            place = path_of([(s.mark_easting_m, s.mark_northing_m)])[0]
            found.append(SiteMark(line.line, s.source, s.id, answer.station_name(s), place, s.trust, told))
    return tuple(found)


def _paint(job: Job, marks: MarkPlan | None) -> tuple[SitePaint, ...]:
    """Paint that is there, then paint that is to go down."""
    there = tuple(_painted(job, m) for m in job.marks)
    return there if marks is None else there + tuple(_to_paint(job, m) for m in marks.marks)


def _to_paint(job: Job, m: Mark) -> SitePaint:
    shows = (m.easting_m, m.northing_m)
    if m.toward_deg is not None and m.distance_m is not None:
        toward = math.radians(m.toward_deg)
        shows = (
            shows[0] + m.distance_m * math.sin(toward),
            shows[1] + m.distance_m * math.cos(toward),
        )
    said = f"{mark_words(job, m)}. {words.sentence(f'{kind_words(job, m)} ({m.because})')}"
    edges = None if m.edges is None else path_of(m.edges)
    return SitePaint(
        painted=False,
        line=m.line,
        name=f"{m.line}-{m.number}",
        place=path_of([(m.easting_m, m.northing_m)])[0],
        points_at=path_of([shows])[0],
        along_deg=round(m.along_deg, 1),
        edges=None if edges is None else (edges[0], edges[1]),
        colour=m.colour,
        text=m.text,
        words=said,
    )


def _painted(job: Job, m: PaintedMark) -> SitePaint:
    when = "" if m.painted_at is None else f", painted {m.painted_at:%Y-%m-%d %H:%M}"
    by = f" by {m.by}" if m.by else ""
    note = f" {words.sentence(m.note)}" if m.note else ""
    return SitePaint(
        painted=True,
        line=m.line,
        name=m.id,
        place=path_of([(m.place.easting_m, m.place.northing_m)])[0],
        points_at=path_of([m.shows])[0],
        along_deg=None,
        edges=None,
        colour=m.colour,
        text="",
        words=f"Mark {m.id}: {m.kind.value}, {m.state.value}{when}{by} (marks.csv row {m.row}).{note}",
    )


def _seconds(job: Job, line: LineEstimate) -> list[SiteSecond]:
    found = []
    chainages = [s.chainage_m for s in line.stations]
    for n in line.neighbours if line.stations else ():
        if not any(n.from_chainage_m - 0.01 <= c <= n.to_chainage_m + 0.01 for c in chainages):
            continue
        low, middle, high = (
            beside(line, n, offset) for offset in (n.offset_m.low, n.offset_m.value, n.offset_m.high)
        )
        keep = thinned(len(middle), _SECOND_POINTS)
        ring = [low[i] for i in keep] + [high[i] for i in reversed(keep)]
        found.append(
            SiteSecond(
                line.line,
                n.is_line,
                line_ink(job, n.is_line),
                path_of([middle[i] for i in keep]),
                path_of([*ring, ring[0]]),
                round(n.probability, 4),
                answer.second_line(n, job.display_units, answer.towards(line)),
            )
        )
    return found


def _things(job: Job) -> tuple[SiteThing, ...]:
    found = []
    for thing in job.things:
        if thing.place is None:
            continue
        kind = thing.kind.value if thing.kind is not None else "thing"
        said = thing_name(thing) + (f", {thing.colour}" if thing.colour else "")
        said += (f", {thing.note}" if thing.note else "") + f" (things.csv row {thing.row})"
        place = path_of([(thing.place.easting_m, thing.place.northing_m)])[0]
        found.append(SiteThing(thing.id, kind, place, thing.colour, words.sentence(said)))
    return tuple(found)


def _records(job: Job) -> tuple[SiteRecord, ...]:
    found = []
    for r in job.records:
        parts = [f"record {r.id}", r.utility, r.source, r.date]
        if r.depth_m is not None:
            parts.append(f"{words.length(r.depth_m, job.display_units)} deep as recorded")
        sigma = r.position_sigma_m
        parts.append("how well its place is known is not said" if sigma is None else None)
        said = f"{', '.join(p for p in parts if p)} (records.geojson)"
        keep = thinned(len(r.path), 200)
        path = path_of([r.path[i] for i in keep])
        found.append(SiteRecord(r.id, r.line, ink_of(r.utility), path, sigma, words.sentence(said)))
    return tuple(found)


def _holes(job: Job) -> tuple[SiteHole, ...]:
    found = []
    for h in job.test_holes:
        said = hole_words(job, h.id)
        place = path_of([(h.place.easting_m, h.place.northing_m)])[0]
        found.append(SiteHole(h.id, h.line, place, h.found, f"{said} (test_holes.csv row {h.row})."))
    return tuple(found)


def hole_words(job: Job, hole_id: str) -> str:
    """What a test hole showed: "Test hole T1: top at 2 ft 10 in"."""
    hole = next(h for h in job.test_holes if h.id == hole_id)
    units = job.display_units
    at = hole.depth_to_top_m if hole.found else hole.dug_to_m
    deep = None if at is None else answer.shown(at.value, at.half_range, units)
    if hole.found:
        said = "the line was seen" if deep is None else f"top at {deep}"
    else:
        said = "the line was not there" if deep is None else f"dug to {deep}, the line was not there"
    proved = f"; {hole.proved}" if hole.proved else ""
    return f"Test hole {hole_id}: {said}{proved}"


def _passes(job: Job) -> tuple[SitePass, ...]:
    found = []
    for p in job.passes:
        said = {
            None: "nobody wrote down whether a signal was met",
            "none": "looked, no signal: that does not mean that nothing is there",
            "marked": "met signals that have their marks",
            "unexplained": "met a signal that has no mark",
        }[None if p.signal is None else p.signal.value]
        path = path_of([(q.place.easting_m, q.place.northing_m) for q in p.points])
        signal = None if p.signal is None else p.signal.value
        text = f"Pass {p.id}, {p.method.words}: {said} (passes.csv row {p.row})."
        found.append(SitePass(p.id, path, signal, text))
    return tuple(found)


def unplaced_stations(
    job: Job, lines: Sequence[LineEstimate], unplaced: Mapping[Row, str]
) -> list[SiteUnplaced]:
    """Places of lines that are known by words only, with what was answered there."""
    units = job.display_units
    found = []
    for line in lines:
        for s in line.stations:
            row = (TABLES[s.source], s.id)
            if row in unplaced:
                said = f"{line.line}: {words.depth(s.depth_m, units)} to the middle, {s.trust.value}."
                found.append(SiteUnplaced(*row, unplaced[row], said))
    return found


def _unplaced(
    job: Job, lines: tuple[LineEstimate, ...], unplaced: Mapping[Row, str]
) -> tuple[SiteUnplaced, ...]:
    """What is known by words only: readings with their answers, then whatever else has no place."""
    found = unplaced_stations(job, lines, unplaced)
    told = {(q.table, q.id) for q in found}
    for thing in job.things:
        row = ("things", thing.id)
        if thing.place is None or row in unplaced:
            told.add(row)
            place = unplaced.get(row) or thing.note or "place not written down"
            found.append(SiteUnplaced(*row, place, thing_name(thing)))
    names = {"readings": "reading", "test_holes": "test hole", "marks": "mark", "passes": "pass"}
    for (table, ident), place in unplaced.items():
        if (table, ident) not in told:
            found.append(SiteUnplaced(table, ident, place, f"{names.get(table, table)} {ident}"))
    return tuple(found)
