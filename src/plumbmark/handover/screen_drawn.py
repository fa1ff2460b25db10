"""What the drawn screens share: inks, rounding, solved lines and digs as they are drawn, numbers told."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Final

from plumbmark.handover import answer, words
from plumbmark.handover.clearance_words import dig_name
from plumbmark.handover.layers_facts import dig_area
from plumbmark.handover.page_plan import box_around, course_and_band
from plumbmark.handover.page_svg import colour_name, thinned
from plumbmark.model.estimate import Interval, LineEstimate, Solution, StationEstimate
from plumbmark.model.job import Job, Utility
from plumbmark.model.measured import Measured
from plumbmark.model.reading import Reading
from plumbmark.model.screen_drawn import DrawnDig, DrawnLine, Extent, Ink, Path, Point, Told

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


def placed(line: LineEstimate, by_words: Collection[str]) -> LineEstimate:
    """A line with those of its stations alone that have a place of their own on the plan."""
    return replace(line, stations=tuple(s for s in line.stations if s.id not in by_words))


def on_plan(solution: Solution, by_words: Collection[str]) -> Solution:
    """An answer with those stations alone that have a place on the plan: marks are planned from it."""
    return replace(solution, lines=tuple(placed(line, by_words) for line in solution.lines))


def drawn_lines(
    job: Job, lines: Sequence[LineEstimate], by_words: Collection[str] = ()
) -> tuple[DrawnLine, ...]:
    """Solved lines as they are drawn.

    Parameters
    ----------
    job : Job
    lines : sequence of LineEstimate
    by_words : collection of str
        Ids of stations whose place is known by words only: nothing is drawn there.

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


def told_estimate(line: LineEstimate, station: StationEstimate, units: str) -> tuple[Told, ...]:
    """What was worked out at a place, each number with its band."""
    source = computed(line.line)
    shift = station.lateral_shift_m
    value, ends = words.current(station.current_a)
    return (
        Told("paint, from your mark", words.paint(shift, units), source),
        Told("the line, 19 times in 20", words.sideways(shift, units), source),
        Told("depth to the middle", words.depth(station.depth_m, units), f"{source}, an estimate"),
        Told("current", f"{value} mA ({ends})", source),
        Told("numbers hold", words.chance(station.within_10_probability), source),
        Told("one line alone", words.chance(station.single_line_probability), source),
    )


def told_reading(reading: Reading | None, units: str) -> tuple[Told, ...]:
    """What was written down at a place, and the cell it stands in."""
    if reading is None:
        return ()

    def cell(name: str, said: str, column: str) -> Told:
        return Told(name, said, f"readings.csv row {reading.row} {column}")

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
