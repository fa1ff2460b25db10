"""Sections across a line: ground, mark, the line inside its band, a second line, to scale and dimensioned."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from plumbmark.handover import answer, words
from plumbmark.handover.page_svg import (
    LABEL_PX,
    Point,
    axis_unit,
    colour_class,
    escaped,
    multiples,
    num,
    path,
    round_step,
)
from plumbmark.handover.report_blocks import Drawing
from plumbmark.handover.report_paper import on_paper
from plumbmark.handover.section_shape import from_mark, neighbours_at, oval
from plumbmark.model.estimate import Interval, LineEstimate, Neighbour, StationEstimate, Trust
from plumbmark.model.job import Job
from plumbmark.model.reading import Reading

At = Callable[[float, float], Point]
"""From metres to the right of the mark and below the ground to the drawing."""

_WIDTH: Final = 430.0
_TOP: Final = 74.0
_SIDE: Final = 52.0
_FOOT: Final = 34.0
_DEEPEST: Final = 300.0


def sections_of(job: Job, line: LineEstimate, most: int) -> tuple[Drawing, ...]:
    """Sections at the places of a line that need one: those that can be leaned on least come first.

    Parameters
    ----------
    job : Job
    line : LineEstimate
    most : int
        So many at most.

    Returns
    -------
    tuple of Drawing
        In the order walked; none where every place holds and no second line is near.
    """
    asking = [
        i
        for i, s in enumerate(line.stations)
        if s.trust is not Trust.HOLDS or neighbours_at(line, s.chainage_m)
    ]
    asking.sort(key=lambda i: line.stations[i].within_10_probability)
    readings = {(r.line, r.id): r for r in job.readings}
    back = answer.faces_back(line)
    drawings = []
    for i in sorted(asking[:most]):
        station = line.stations[i]
        reading = readings.get((line.line, station.id)) if station.source == "reading" else None
        drawings.append(_section(job, line, station, reading, back=back[i]))
    return tuple(drawings)


def _section(
    job: Job, line: LineEstimate, station: StationEstimate, reading: Reading | None, *, back: bool
) -> Drawing:
    """One section, seen as the row's right and left are."""
    shift, depth = station.lateral_shift_m, station.depth_m
    near = [n for n in neighbours_at(line, station.chainage_m) if n.probability >= 0.05]
    others = [from_mark(n.offset_m, shift.value, back=back) for n in near]
    left = min([0.0, shift.low, *(o.low for o in others)]) - 0.25
    right = max([0.0, shift.high, *(o.high for o in others)]) + 0.25
    deepest = max([depth.high, 0.3, *(1.1 * n.depth_m for n in near)])
    deep = min(deepest, 4.0 * depth.value) + 0.15
    per_m = min((_WIDTH - 2 * _SIDE) / (right - left), _DEEPEST / deep)
    height = _TOP + deep * per_m + _FOOT
    middle = 0.5 * (left + right)

    def at(aside_m: float, down_m: float) -> tuple[float, float]:
        return 0.5 * _WIDTH + (aside_m - middle) * per_m, _TOP + down_m * per_m

    units = job.display_units
    utility = next((x.utility.value for x in job.lines if x.id == line.line), None)
    diameter = next((x.outside_diameter_m for x in job.lines if x.id == line.line), None)
    parts = [_frame(units, per_m, deep, height)]
    parts += [_second(job, n, aside, at) for n, aside in zip(near, others, strict=True)]
    parts.append(f'<path class="band" d="{path([at(*p) for p in oval(shift, depth)], closed=True)}"/>')
    x, y = at(shift.value, depth.value)
    radius = max(0.5 * (diameter or 0.0) * per_m, 3.5)
    pipe = f'<circle class="pipe" cx="{num(x)}" cy="{num(y)}" r="{num(radius)}"/>'
    parts.append(f'<g class="{colour_class(utility)}">{pipe}</g>')
    parts += _above(station, reading, at, units)
    parts.append(_depth_line(station, at, units))
    name = answer.station_name(station)
    caption = f"{line.line}, {name}: {words.depth(depth, units)} to the middle, {station.trust.value}"
    says = f"Section across {line.line} at {name}: {words.depth(depth, units)} to the middle, an estimate."
    svg = f'<svg viewBox="0 0 {_WIDTH} {num(height)}">{"".join(parts)}</svg>'
    return on_paper(svg, _WIDTH, height, says, caption)


def _frame(units: str, per_m: float, deep_m: float, height: float) -> str:
    """The ground, and depths beside it."""
    unit, name = axis_unit(units)
    parts = [f'<path class="ground" d="M{_SIDE - 14} {_TOP}H{_WIDTH}"/>']
    for value in multiples(0.0, deep_m / unit, round_step(deep_m / unit, 5)):
        y = _TOP + value * unit * per_m
        parts.append(f'<path class="grid" d="M{_SIDE - 14} {num(y)}H{_WIDTH - 90}"/>')
        parts.append(f'<text x="{_SIDE - 18}" y="{num(y + 5)}" text-anchor="end">{value:g}</text>')
    parts.append(f'<text x="4" y="{num(height - 8)}">{name} below the ground; one scale both ways</text>')
    return "".join(parts)


def _second(job: Job, n: Neighbour, aside: Interval, at: At) -> str:
    """A second line: how far to the sides it can be, and what it is taken to be."""
    utility = next((x.utility.value for x in job.lines if x.id == n.is_line), None)
    x, y = at(aside.value, n.depth_m)
    low, high = at(aside.low, 0.0)[0], at(aside.high, 0.0)[0]
    said = f"second line{f' ({n.is_line})' if n.is_line else ''}, {words.likelihood(n.probability)}"
    return (
        f'<g class="second {colour_class(utility)}">'
        f'<path class="dotted" d="M{num(low)} {num(y)}H{num(high)}"/>'
        f'<circle class="pipe" cx="{num(x)}" cy="{num(y)}" r="4"/></g>{_text(x, y + 22, said)}'
    )


def _text(x: float, y: float, said: str, kind: str = "") -> str:
    """Words in the middle over or under something, kept inside the drawing."""
    half = 0.5 * 0.56 * LABEL_PX * len(said) + 4.0
    x = min(max(x, half), _WIDTH - half)
    return f'<text x="{num(x)}" y="{num(y)}" text-anchor="middle" class="{kind}">{escaped(said)}</text>'


def _above(station: StationEstimate, reading: Reading | None, at: At, units: str) -> list[str]:
    """The mark, the null, and how far the paint moves, above the ground."""
    zero = at(0.0, 0.0)[0]
    x = at(station.lateral_shift_m.value, 0.0)[0]
    parts = [f'<path class="mark" d="M{num(zero - 5)} {_TOP - 5}l10 10m0 -10l-10 10"/>']
    said = f"paint {words.paint(station.lateral_shift_m, units)}"
    stems = f"M{num(zero)} {_TOP - 10}V{_TOP - 30}M{num(x)} {_TOP - 2}V{_TOP - 30}"
    parts.append(f'<path d="{stems}M{num(zero)} {_TOP - 26}H{num(x)}"/>')
    parts.append(_text(x, _TOP - 36, said, "big"))
    null = reading.null_offset_m if reading else None
    if null is not None:
        n = at(null.value, 0.0)[0]
        if 0 < n < _WIDTH:
            parts.append(f'<path class="ink" d="M{num(n)} {_TOP}v-8"/>')
            parts.append(_text(n, _TOP - 10, "null"))
    parts.append(
        f'<text x="{_SIDE}" y="14">left</text><text x="{_WIDTH - 6}" y="14" text-anchor="end">right</text>'
    )
    return parts


def _depth_line(station: StationEstimate, at: At, units: str) -> str:
    """The band of depth as a dimension at the right."""
    depth = station.depth_m
    low, value, high = (at(0.0, d)[1] for d in (depth.low, depth.value, min(depth.high, 4 * depth.value)))
    x = _WIDTH - 12.0
    strokes = [
        f"M{num(x)} {num(low)}V{num(high)}",
        *(f"M{num(x - 5)} {num(y)}h10" for y in (low, value, high)),
    ]
    top, bottom = words.ends(depth, units)
    return (
        f'<path class="ink" d="{"".join(strokes)}"/>'
        f'<text x="{num(x - 8)}" y="{num(low - 3)}" text-anchor="end">{top}</text>'
        f'<text x="{num(x - 8)}" y="{num(high + 14)}" text-anchor="end">{bottom}</text>'
    )
