"""What the drawn screens share: inks, rounding, solved lines and digs as they are drawn, numbers told."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final, Protocol, TypeVar

from plumbmark.handover import answer, words
from plumbmark.handover.clearance_words import dig_name
from plumbmark.handover.layers_facts import dig_area
from plumbmark.handover.page_plan import box_around, course_and_band
from plumbmark.handover.page_svg import colour_name, thinned
from plumbmark.handover.tape import along_baseline
from plumbmark.model.estimate import Interval, LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Baseline, Job, Utility
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Place, Reading
from plumbmark.model.screen_drawn import Cited, DrawnDig, DrawnLine, Extent, Ink, Path, Point
from plumbmark.model.ticket import Thing

Row = tuple[str, str]
"""Table and id of a row: ("readings", "7")."""


class _Row(Protocol):
    @property
    def id(self) -> str: ...


T = TypeVar("T", bound=_Row)

#: Letters as locators paint them where paint alone does not say; common practice, no source.
_LETTERS: Final = {
    Utility.ELECTRIC: "E",
    Utility.LIGHTING: "L",
    Utility.GAS: "G",
    Utility.PETROLEUM: "P",
    Utility.STEAM: "ST",
    Utility.WATER: "W",
    Utility.FIRE: "F",
    Utility.IRRIGATION: "I",
    Utility.RECLAIMED: "R",
    Utility.COMMUNICATIONS: "C",
    Utility.SEWER: "S",
    Utility.STORM: "SD",
    Utility.UNKNOWN: "?",
}
#: Table of a job that a station of an answer stands in.
TABLES: Final = {"reading": "readings", "profile": "profiles", "side_reading": "side_readings"}
#: So many points of a line are drawn, so many places listed one by one: a screen stays small enough to keep.
LINE_POINTS: Final = 200
PLACES: Final = 120
_MARGIN: Final = 0.06
_LEAST_M: Final = 2.0


def ink_of(utility: str | None) -> Ink:
    """How a utility is shown; one that nobody knows has no colour and a question mark.

    Examples
    --------
    >>> ink_of("gas")
    Ink(colour='yellow', letter='G', utility='gas')
    >>> ink_of(None)
    Ink(colour=None, letter='?', utility='utility unknown')
    """
    try:
        known = Utility(utility or "unknown")
    except ValueError:
        known = Utility.UNKNOWN
    said = "utility unknown" if known is Utility.UNKNOWN else known.value
    return Ink(colour_name(utility), _LETTERS[known], said)


def line_ink(job: Job, line: str | None) -> Ink:
    """How a line of the job is shown."""
    return ink_of(next((x.utility.value for x in job.lines if x.id == line), None))


def metres(value: float) -> float:
    """A length to the millimetre."""
    return round(value, 3) + 0.0  # no minus before a zero


def digits4(value: float) -> float:
    """A number to four digits."""
    return float(f"{value:.4g}")


def rounded(interval: Interval) -> Interval:
    """A band of lengths to the millimetre."""
    return Interval(metres(interval.value), metres(interval.low), metres(interval.high))


def milli(interval: Interval) -> Interval:
    """A band of currents in mA, to four digits."""
    value, low, high = (digits4(1e3 * x) for x in (interval.value, interval.low, interval.high))
    return Interval(value, low, high)


def measured(value: Measured | None) -> Interval | None:
    """A length as written: a number has no width, a range has its own."""
    return None if value is None else rounded(Interval(value.value, value.low, value.high))


def path_of(points: Iterable[Sequence[float]]) -> Path:
    """Points to the millimetre."""
    return tuple((metres(p[0]), metres(p[1])) for p in points)


def extent_of(points: Sequence[Point], others: Sequence[Point] = ()) -> Extent | None:
    """What is to be seen: all points, others where those lie near, and a margin; None without a point."""
    if not points:
        points, others = others, ()
    if not points:
        return None
    west, south, east, north = box_around(points, others)
    wide, high = (max(a, _LEAST_M) for a in (east - west, north - south))
    margin = _MARGIN * max(wide, high)
    half_wide, half_high = 0.5 * wide + margin, 0.5 * high + margin
    middle_e, middle_n = 0.5 * (west + east), 0.5 * (south + north)
    ends = (middle_e - half_wide, middle_n - half_high, middle_e + half_wide, middle_n + half_high)
    return Extent(*map(metres, ends))


def placed(line: LineEstimate, by_words: Collection[Row]) -> LineEstimate:
    """A line with those of its stations alone that have a place of their own on the plan."""
    return replace(line, stations=tuple(s for s in line.stations if (TABLES[s.source], s.id) not in by_words))


def solution_on_plan(solution: Solution, by_words: Collection[Row]) -> Solution:
    """An answer with those stations alone that have a place on the plan: marks are planned from it."""
    return replace(solution, lines=tuple(placed(line, by_words) for line in solution.lines))


def job_on_plan(job: Job, by_words: Collection[Row]) -> Job:
    """A job with that alone which has a place on the plan; of its baselines those that somebody measured.

    A row whose place is known by words only stands on a baseline made for it, far from everything.
    """
    if not by_words:
        return job

    def kept(table: str, rows: tuple[T, ...]) -> tuple[T, ...]:
        return tuple(r for r in rows if (table, r.id) not in by_words)

    far = [p for row, p in _places(job) if row in by_words]
    return replace(
        job,
        readings=kept("readings", job.readings),
        profiles=kept("profiles", job.profiles),
        side_readings=kept("side_readings", job.side_readings),
        test_holes=kept("test_holes", job.test_holes),
        things=kept("things", job.things),
        marks=kept("marks", job.marks),
        passes=kept("passes", job.passes),
        baselines=tuple(b for b in job.baselines if not any(_lies_on(b, p) for p in far)),
    )


def _places(job: Job) -> Iterator[tuple[Row, Place]]:
    """Rows of a job with their places."""
    for table, rows in (
        ("readings", job.readings),
        ("profiles", job.profiles),
        ("side_readings", job.side_readings),
        ("test_holes", job.test_holes),
        ("marks", job.marks),
    ):
        yield from (((table, r.id), r.place) for r in rows)
    yield from ((("things", t.id), t.place) for t in job.things if t.place is not None)
    yield from ((("passes", p.id), q.place) for p in job.passes for q in p.points)


def rows_along(job: Job, base: Baseline) -> list[Row]:
    """Rows of a job that lie on a baseline."""
    return [row for row, place in _places(job) if _lies_on(base, place)]


def _lies_on(base: Baseline, place: Place) -> bool:
    """Whether a place stands on the straight line of a baseline, to the centimetre, from its start on."""
    station, offset = along_baseline(base, (place.easting_m, place.northing_m))
    return station > -0.01 and abs(offset) < 0.01


def drawn_lines(
    job: Job, lines: Sequence[LineEstimate], by_words: Collection[Row] = ()
) -> tuple[DrawnLine, ...]:
    """Solved lines as they are drawn.

    Parameters
    ----------
    job : Job
    lines : sequence of LineEstimate
    by_words : collection of (str, str)
        Table and id of rows whose place is known by words only: nothing is drawn there.

    Returns
    -------
    tuple of DrawnLine
        Those with a place on the plan.
    """
    drawn = []
    for line in lines:
        seen = placed(line, by_words)
        if not seen.stations:
            continue
        doubt = [s.within_10_probability for s in seen.stations]
        keep = thinned(len(doubt), LINE_POINTS, [doubt.index(min(doubt))])
        middle, band = course_and_band(seen, keep)
        drawn.append(
            DrawnLine(
                line.line,
                answer.line_name(job, line.line),
                line_ink(job, line.line),
                path_of(middle),
                path_of([*band, band[0]]),
                answer.headline(job, line),
                line.identity.value,
            )
        )
    return tuple(drawn)


def drawn_digs(job: Job) -> tuple[DrawnDig, ...]:
    """Planned digs as they are drawn."""
    return tuple(
        DrawnDig(
            dig.id,
            dig.kind.value,
            tuple(path_of(ring) for ring in dig.rings),
            tuple(path_of(ring) for area in dig_area(dig) or () for ring in area),
            dig_name(job, dig.id),
        )
        for dig in job.digs
    )


def computed(line: str) -> str:
    """Where a number that was worked out came from."""
    return f"computed from the readings of {line}"


def told_estimate(line: LineEstimate, station: StationEstimate, units: str) -> tuple[Cited, ...]:
    """What was worked out at a place, each number with its band."""
    source = computed(line.line)
    shift = station.lateral_shift_m
    value, ends = words.current(station.current_a)
    return (
        Cited("paint, from your mark", words.paint(shift, units), source),
        Cited("the line, 19 times in 20", words.sideways(shift, units), source),
        Cited("depth to the middle", words.depth(station.depth_m, units), f"{source}, an estimate"),
        Cited("current", f"{value} mA ({ends})", source),
        Cited("numbers hold", words.chance(station.within_10_probability), source),
        Cited("one line alone", words.chance(station.single_line_probability), source),
    )


def told_reading(reading: Reading | None, units: str) -> tuple[Cited, ...]:
    """What was written down at a place, and the cell it stands in."""
    if reading is None:
        return ()

    def cell(name: str, said: str, column: str) -> Cited:
        return Cited(name, said, f"readings.csv row {reading.row} {column}")

    told = []
    if reading.null_offset_m is not None:
        said = aside_words(reading.null_offset_m, units)
        told.append(cell("null, from the peak", said, "null_offset"))
    lengths = (
        ("half the signal, left", reading.half_left_m, "half_left"),
        ("half the signal, right", reading.half_right_m, "half_right"),
        ("depth displayed", reading.depth_m, "depth"),
        ("receiver raised", reading.raised_by_m, "raised_by"),
        ("depth displayed then", reading.raised_depth_m, "raised_depth"),
        ("sonde, null ahead", reading.null_ahead_m, "null_ahead"),
        ("sonde, null behind", reading.null_behind_m, "null_behind"),
    )
    for name, value, column in lengths:
        if value is not None:
            told.append(cell(name, answer.shown(value.value, value.half_range, units), column))
    if reading.depth_refused:
        told.append(cell("depth displayed", "withheld by the display", "depth_refused"))
    if reading.current_a is not None:
        current = reading.current_a
        said = f"{1e3 * current.value:.4g} mA"
        if current.half_range > 0.0:
            said = f"{1e3 * current.low:.4g} to {1e3 * current.high:.4g} mA"
        told.append(cell("current displayed", said, "current_ma"))
    return tuple(told)


def aside_words(value: Measured, units: str) -> str:
    """A measured distance to the left or right, or a range of it."""
    band = Interval(value.value, value.low, value.high)
    if value.half_range > 0.0:
        return words.sideways(band, units, "at the peak")
    return words.paint(band, units).replace("at the mark", "at the peak")


def readings_of(job: Job) -> dict[tuple[str, str], Reading]:
    """Readings by line and id."""
    return {(r.line, r.id): r for r in job.readings}


def thing_name(thing: Thing) -> str:
    """A thing seen as people call it.

    Examples
    --------
    >>> from plumbmark.model.ticket import ThingKind
    >>> thing_name(Thing("m1", 2, kind=ThingKind.METER)), thing_name(Thing("meter", 2, kind=ThingKind.METER))
    ('meter m1', 'meter')
    """
    kind = thing.kind.value if thing.kind is not None else "thing"
    return thing.id if thing.id.lower().startswith(kind) else f"{kind} {thing.id}"
