"""Marks: what to paint along every solved line, where, of which kind, and how to find it again."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from plumbmark.handover import words
from plumbmark.handover.colours import paint_colour
from plumbmark.handover.mark_course import Course, bends_of, course_of
from plumbmark.handover.tape import tape_of
from plumbmark.model.estimate import Identity, Interval, LineEstimate, Solution
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.job import Job, Line, LineState, Utility
from plumbmark.model.mark import Mark, MarkDifference, MarkKind, MarkPlan, MarkState, Point

#: Common ground practice of Canada 3-8, read: at most 3 m apart and at every change of direction, the
#: centreline; structures wider than 40 cm get both edges as well.
SPACING_M: Final = 3.0
WIDE_M: Final = 0.40
#: A band that reaches farther to one side is painted as a corridor: 18 in, the narrower of the common zones.
CORRIDOR_M: Final = 0.457
SAME_TRENCH_M: Final = 0.4
TRENCH_IF_NONE_M: Final = 0.6  # width of a joint trench that nobody measured; common practice, no source
LIKELY: Final = 0.3
END_M: Final = 1.5


@dataclass(frozen=True, slots=True)
class NoPaint:
    """A piece of a line that cannot be painted: marks stand `offset_m` to its right, left where negative."""

    line: str
    from_m: float
    to_m: float
    offset_m: float


def plan_marks(
    job: Job,
    solution: Solution,
    *,
    spacing_m: float = SPACING_M,
    no_paint: Sequence[NoPaint] = (),
    with_depth: bool = False,
) -> MarkPlan:
    """What to paint along every solved line, in the order walked.

    Parameters
    ----------
    job, solution : Job, Solution
    spacing_m : float, [m]
        Greatest distance between two marks.
    no_paint : sequence of NoPaint
        Where the spot itself cannot be painted.
    with_depth : bool
        Whether the owner's rule allows a depth beside the mark: the shallow end of the band, to the top.

    Returns
    -------
    MarkPlan
        With every painted mark of a solved line compared.

    Raises
    ------
    ValueError
        If the spacing is not positive.
    """
    if not spacing_m > 0.0:
        raise ValueError(f"marks every {spacing_m} m: the spacing has to be positive")
    courses = {e.line: course_of(e) for e in solution.lines if e.stations}
    lines = {line.id: line for line in job.lines}
    marks: list[Mark] = []
    remarks: list[Finding] = []
    for estimate in solution.lines:
        if estimate.stations:
            paint = _Paint(job, lines[estimate.line], estimate, courses, with_depth)
            marks += _marks_of(paint, spacing_m, [n for n in no_paint if n.line == estimate.line])
            remarks += _remarks(paint)
        else:
            what = "has no place to mark: say so to its owner (could not locate), not that nothing is there"
            remarks.append(Finding(Severity.WARNING, f"line {estimate.line}", what))
    return MarkPlan(job.id, spacing_m, tuple(marks), differences_of(job, courses), tuple(remarks))


@dataclass(frozen=True, slots=True)
class _Paint:
    """One line and what its marks need to know."""

    job: Job
    line: Line
    estimate: LineEstimate
    courses: Mapping[str, Course]
    with_depth: bool

    @property
    def course(self) -> Course:
        return self.courses[self.line.id]

    @property
    def radius_m(self) -> float:
        return 0.5 * (self.line.outside_diameter_m or 0.0)


def _remarks(paint: _Paint) -> list[Finding]:
    said = []
    if paint.estimate.identity is Identity.NOT_KNOWN:
        what = "whether this is the line it is said to be is not known: settle that before painting"
        said.append(Finding(Severity.WARNING, f"line {paint.line.id}", what))
    if paint.line.utility is Utility.UNKNOWN:
        what = "what it carries is not known: pink is taken, which some use for that; ask what is used here"
        said.append(Finding(Severity.WARNING, f"line {paint.line.id}", what))
    return said


# -- where ------------------------------------------------------------------------------------------------


def _stops(paint: _Paint, spacing_m: float) -> list[tuple[float, str]]:
    """Chainages to be marked and why: both ends, changes of direction, tees, and places between."""
    course = paint.course
    at = course.chainage_m
    fixed: dict[float, str] = {float(at[0]): "the first place that was read"}
    if len(at) > 1:
        fixed[float(at[-1])] = "the last place that was read"
    for k in bends_of(course):
        fixed.setdefault(float(at[k]), "the line changes direction here")
    for place in _tees(paint):
        near = [c for c in fixed if abs(c - place) < 0.3]
        for c in near:
            del fixed[c]
        fixed[place] = _TEE
    ordered = sorted(fixed)
    stops = [(ordered[0], fixed[ordered[0]])]
    for a, b in pairwise(ordered):
        parts = max(1, math.ceil((b - a) / spacing_m - 1e-9))
        stops += [(a + (b - a) * k / parts, "between") for k in range(1, parts)]
        stops.append((b, fixed[b]))
    return stops


_TEE: Final = "another line of the job begins or ends on it here"


def _tees(paint: _Paint) -> list[float]:
    """Chainages at which another line of the same utility begins or ends on this one, not at its own ends."""
    found = []
    mine = paint.course
    for other in paint.job.lines:
        course = paint.courses.get(other.id)
        if other.id == paint.line.id or course is None or other.utility is not paint.line.utility:
            continue
        for k in (0, -1):
            chainage, aside = mine.project(float(course.easting_m[k]), float(course.northing_m[k]))
            inside = float(mine.chainage_m[0]) + 0.5 < chainage < float(mine.chainage_m[-1]) - 0.5
            if abs(aside) <= 0.5 and inside:
                found.append(chainage)
    return found


# -- of which kind ----------------------------------------------------------------------------------------


def _marks_of(paint: _Paint, spacing_m: float, no_paint: Sequence[NoPaint]) -> list[Mark]:
    found = []
    for number, (chainage, reason) in enumerate(_stops(paint, spacing_m), start=1):
        corridor = _corridor(paint, chainage)
        kind, edges, why = MarkKind.CENTRE, None, ""
        if corridor is not None:
            kind, edges, why = MarkKind.CORRIDOR, corridor[0], corridor[1]
        elif 2.0 * paint.radius_m > WIDE_M:
            edges = _edges(paint.course, chainage, -paint.radius_m, paint.radius_m)
            kind, why = MarkKind.EDGES, "wider than 40 cm (16 in): both edges as well as the middle"
        elif reason == _TEE:
            kind = MarkKind.TEE
        elif reason.startswith(("the first", "the last")):
            kind, why = _end(paint, chainage)
        because = f"at most {words.length(spacing_m, paint.job.display_units)} apart"
        because = because if reason == "between" else reason
        said = "; ".join(text for text in (because, why) if text)
        found.append(_mark(paint, number, chainage, kind, edges, said, no_paint))
    return found


def _end(paint: _Paint, chainage: float) -> tuple[MarkKind, str]:
    """An end where the crew says that it saw one; elsewhere the line was followed no farther."""
    here = paint.course.at(chainage)
    ends = [m.shows for m in paint.job.marks if m.line == paint.line.id and m.kind is MarkKind.END]
    if any(math.dist(here, end) <= END_M for end in ends):
        return MarkKind.END, "its end was seen"
    return MarkKind.CENTRE, "paint an arrow on: it was followed to here, no farther"


def _mark(
    paint: _Paint,
    number: int,
    chainage: float,
    kind: MarkKind,
    edges: tuple[Point, Point] | None,
    because: str,
    no_paint: Sequence[NoPaint],
) -> Mark:
    course = paint.course
    east, north = course.at(chainage)
    along = course.along_deg(chainage)
    toward = distance = None
    blocked = next((n for n in no_paint if n.from_m <= chainage <= n.to_m), None)
    if blocked is not None:
        (east, north), edges = course.aside(chainage, blocked.offset_m), None
        toward = (along + (270.0 if blocked.offset_m > 0.0 else 90.0)) % 360.0
        distance, kind = abs(blocked.offset_m), MarkKind.OFFSET
        because += "; the spot itself cannot be painted"
    return Mark(
        paint.line.id,
        number,
        kind,
        east,
        north,
        chainage,
        along,
        paint_colour(paint.line.utility),
        _text(paint, chainage, kind),
        tape_of(paint.job, east, north),
        edges,
        toward,
        distance,
        because,
    )


def _edges(course: Course, chainage: float, left_m: float, right_m: float) -> tuple[Point, Point]:
    return course.aside(chainage, left_m), course.aside(chainage, right_m)


def _corridor(paint: _Paint, chainage: float) -> tuple[tuple[Point, Point], str] | None:
    """Edges of a corridor and why one is painted; None where a centre mark says enough."""
    course = paint.course
    low, high = course.band(chainage)
    left, right = low - paint.radius_m, high + paint.radius_m
    why = []
    for trench in paint.job.trenches:
        if paint.line.id in trench.lines and len(trench.lines) > 1:
            half = 0.5 * (TRENCH_IF_NONE_M if trench.width_m is None else trench.width_m)
            left, right = min(left, -half), max(right, half)
            for other in trench.lines:
                if other != paint.line.id and other in paint.courses:
                    _, aside = course.project(*_nearest(paint.courses[other], course.at(chainage)))
                    left, right = min(left, aside), max(right, aside)
            others = ", ".join(x for x in trench.lines if x != paint.line.id)
            why.append(f"a trench shared with {others}")
    for second in paint.estimate.neighbours:
        near = second.from_chainage_m - 0.5 <= chainage <= second.to_chainage_m + 0.5
        close = abs(second.offset_m.value) <= SAME_TRENCH_M
        if second.is_line is None and near and close and second.probability >= LIKELY:
            left, right = min(left, second.offset_m.low), max(right, second.offset_m.high)
            why.append("how many lines lie here is not known")
    if max(-low, high) > CORRIDOR_M:
        why.append("the line can be anywhere in a wide band")
    if not why:
        return None
    return _edges(course, chainage, left, right), "corridor: " + ", and ".join(dict.fromkeys(why))


def _nearest(course: Course, here: Point) -> Point:
    """The place of another line nearest to a point."""
    chainage, _ = course.project(*here)
    return course.at(chainage)


def _text(paint: _Paint, chainage: float, kind: MarkKind) -> str:
    """What to write beside a mark: plain words, no code of ours, no depth unless it is allowed."""
    line, units = paint.line, paint.job.display_units
    parts = ["utility unknown" if line.utility is Utility.UNKNOWN else line.utility.value]
    if line.owner:
        parts.append(line.owner)
    size = []
    if line.outside_diameter_m:
        size.append(words.length(line.outside_diameter_m, units))
    if line.material:
        size.append(line.material)
    if size:
        parts.append(" ".join(size))
    if line.state is LineState.ABANDONED:
        parts.append("abandoned")
    if kind is MarkKind.CORRIDOR:
        parts.append("corridor")
    if paint.with_depth:
        top = max(paint.course.shallow(chainage) - paint.radius_m, 0.0)
        shallow = words.ends(Interval(top, top, top), units)[0]
        parts.append(f"top {shallow} or deeper, estimate")
    return ", ".join(parts)


# -- as painted -------------------------------------------------------------------------------------------


def differences_of(job: Job, courses: Mapping[str, Course]) -> tuple[MarkDifference, ...]:
    """Painted marks against the lines as computed now; those that are gone say nothing any more.

    Parameters
    ----------
    job : Job
    courses : mapping of line to Course

    Returns
    -------
    tuple of MarkDifference
    """
    found = []
    for mark in job.marks:
        course = courses.get(mark.line or "")
        if course is None or mark.line is None or mark.state is MarkState.GONE or mark.kind is MarkKind.EDGES:
            continue
        chainage, aside = course.project(*mark.shows)
        low, high = course.band(chainage)
        found.append(MarkDifference(mark.id, mark.line, chainage, aside, low, high))
    return tuple(found)
