"""Along a line: how deep and how much current, each inside its band, with what was displayed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbmark.handover import answer, words
from plumbmark.handover.page_svg import (
    Labels,
    Point,
    axis_unit,
    buckets,
    colour_class,
    escaped,
    multiples,
    num,
    path,
    round_step,
    thinned,
)
from plumbmark.handover.section_shape import abreast
from plumbmark.model.estimate import LineEstimate
from plumbmark.model.job import Job

_POINTS = 300
_LEFT, _RIGHT = 52.0, 14.0
_TOP, _GAP, _FOOT = 34.0, 64.0, 40.0
_DEPTH, _CURRENT = 190.0, 150.0
HEIGHT = _TOP + _DEPTH + _GAP + _CURRENT + _FOOT


@dataclass(frozen=True)
class Band:
    """A quantity along a line, thinned so that the band is never drawn narrower than it is."""

    chainage_m: list[float]
    low: list[float]
    value: list[float]
    high: list[float]

    def outline(self) -> list[Point]:
        """The band's outline, forth along the high ends and back along the low ones."""
        ends = zip((self.chainage_m + self.chainage_m[::-1]), (self.high + self.low[::-1]), strict=True)
        return list(ends)


def depth_and_current(line: LineEstimate) -> tuple[Band, Band]:
    """Both bands of a line; of neighbours drawn as one, the outermost ends."""
    groups = [[line.stations[i] for i in group] for group in buckets(len(line.stations), _POINTS)]
    where = [sum(s.chainage_m for s in g) / len(g) for g in groups]
    bands = []
    for pick in ("depth_m", "current_a"):
        parts = [[getattr(s, pick) for s in g] for g in groups]
        bands.append(
            Band(
                where,
                [min(x.low for x in p) for p in parts],
                [sum(x.value for x in p) / len(p) for p in parts],
                [max(x.high for x in p) for p in parts],
            )
        )
    return bands[0], bands[1]


@dataclass(frozen=True)
class _Frame:
    """From chainage, depth and current to the drawing."""

    width: float
    from_m: float
    to_m: float
    deepest_m: float
    weakest_a: float
    strongest_a: float

    def x(self, chainage_m: float) -> float:
        return _LEFT + (chainage_m - self.from_m) / (self.to_m - self.from_m) * (self.width - _LEFT - _RIGHT)

    def depth(self, depth_m: float) -> float:
        return _TOP + min(depth_m / self.deepest_m, 1.0) * _DEPTH

    def current(self, current_a: float) -> float:
        low, high = math.log10(self.weakest_a), math.log10(self.strongest_a)
        part = (high - math.log10(max(current_a, self.weakest_a))) / (high - low)
        return _TOP + _DEPTH + _GAP + min(max(part, 0.0), 1.0) * _CURRENT


def _frame(
    line: LineEstimate, bands: tuple[Band, Band], shown: tuple[list[Point], list[Point]], width: float
) -> _Frame:
    """A frame that holds the bands and what was displayed, but lets one hopeless place run out of it."""
    depth, current = bands
    chainages = [s.chainage_m for s in line.stations]
    margin = 1.0 if len(chainages) < 2 or chainages[-1] - chainages[0] < 1e-6 else 0.0
    values = [x for x in current.value if x > 0] or [1e-3]
    displayed = [amps for _, amps in shown[1]]
    weakest = max(min([x for x in current.low if x > 0] + values + displayed), min(values) / 30.0)
    strongest = min(max(*current.high, *values, *displayed), max(values) * 30.0)
    deepest = min(max([*depth.high, *(d for _, d in shown[0])]), 4.0 * max(depth.value))
    return _Frame(
        width,
        min(chainages) - margin,
        max(chainages) + margin,
        max(1.08 * deepest, 0.3),
        0.85 * weakest,
        1.15 * strongest,
    )


def along_picture(job: Job, line: LineEstimate, number: int, width: float, kind: str) -> str:
    """Depth and current along one line as inline SVG.

    Parameters
    ----------
    job : Job
    line : LineEstimate
        With one station at least.
    number : int
        Of the line in the answer; makes the ids unique and tells the page which line is meant.
    width : float
        Width of the drawing in pixels.
    kind : str
        Class of the drawing, "wide" or "slim"; the page shows one of the two.

    Returns
    -------
    str
        One `svg` element.
    """
    depth, current = depth_and_current(line)
    depths, currents = _displayed(job, line)
    frame = _frame(line, (depth, current), (depths, currents), width)
    utility = next((x.utility.value for x in job.lines if x.id == line.line), None)
    labels = Labels(width, HEIGHT)
    parts = [_axes(job, frame)]
    for band, scale in ((depth, frame.depth), (current, frame.current)):
        outline = [(frame.x(c), scale(v)) for c, v in band.outline()]
        middle = [(frame.x(c), scale(v)) for c, v in zip(band.chainage_m, band.value, strict=True)]
        if len(middle) == 1:
            x, y = middle[0]
            middle = [(x - 12, y), (x + 12, y)]
            outline = [(x + dx, py) for dx in (-12, 12) for _, py in (outline if dx < 0 else outline[::-1])]
        labels.block(outline)
        labels.block(middle)
        parts.append(
            f'<g class="solved {colour_class(utility)}"><path class="band" d="{path(outline, closed=True)}"/>'
            f'<path class="rim" d="{path(middle)}"/><path class="core" d="{path(middle)}"/></g>'
        )
    depths = [(c, v) for c, v in depths if v <= frame.deepest_m]
    currents = [(c, v) for c, v in currents if frame.weakest_a <= v <= frame.strongest_a]
    parts.append(_crosses([(frame.x(c), frame.depth(v)) for c, v in depths]))
    parts.append(_crosses([(frame.x(c), frame.current(v)) for c, v in currents]))
    parts += _holes(job, line, frame, labels)
    parts += _events(line, frame, labels)
    parts.append(_reading_names(line, frame))
    ident = f"along{number}{kind[0]}"
    desc = (
        f"Distance from {answer.station_name(line.stations[0])} runs to the right. Above, the depth to the "
        "middle of the line inside its band, counted down from the ground; below, the current inside its "
        "band, on a log axis. Small crosses are what was displayed. Every number is in the table."
    )
    return (
        f'<svg class="along {kind}" data-line="{number}" data-from="{num(frame.from_m)}" '
        f'data-to="{num(frame.to_m)}" data-left="{num(_LEFT)}" data-right="{num(width - _RIGHT)}" '
        f'viewBox="0 0 {num(width)} {num(HEIGHT)}" role="img" aria-labelledby="{ident}-t {ident}-d">'
        f'<title id="{ident}-t">Depth and current along {escaped(line.line)}</title>'
        f'<desc id="{ident}-d">{escaped(desc)}</desc>{"".join(parts)}'
        f'{labels.placed()}<path class="here" d=""/></svg>'
    )


def _displayed(job: Job, line: LineEstimate) -> tuple[list[Point], list[Point]]:
    """Displayed depths and currents, each with its chainage; thinned."""
    chainage = {s.id: s.chainage_m for s in line.stations if s.source == "reading"}
    rows = [r for r in job.readings if r.line == line.line and r.id in chainage]
    rows = rows[:: max(1, len(rows) // _POINTS)]
    return (
        [(chainage[r.id], r.depth_m.value) for r in rows if r.depth_m is not None],
        [
            (chainage[r.id], r.current_a.value)
            for r in rows
            if r.current_a is not None and r.current_a.value > 0
        ],
    )


def _crosses(points: list[Point]) -> str:
    d = "".join(f"M{num(x - 3)} {num(y - 3)}l6 6m0 -6l-6 6" for x, y in points)
    return f'<path class="mark" d="{d}"/>' if points else ""


def _axes(job: Job, frame: _Frame) -> str:
    unit, name = axis_unit(job.display_units)
    left, right, floor = _LEFT, frame.width - _RIGHT, _TOP + _DEPTH + _GAP + _CURRENT
    ground = f'<path class="ground" d="M{left} {_TOP}H{num(right)}"/>'
    parts = [ground, f'<text x="{left}" y="{_TOP - 14}">Depth to the middle, {name}. Ground is 0.</text>']
    for value in multiples(0.0, frame.deepest_m / unit, round_step(frame.deepest_m / unit, 5)):
        parts.append(_tick(frame.depth(value * unit), right, f"{value:g}"))
    for value in _decades(frame.weakest_a * 1e3, frame.strongest_a * 1e3):
        parts.append(_tick(frame.current(value / 1e3), right, f"{value:g}"))
    parts.append(f'<text x="{left}" y="{num(_TOP + _DEPTH + _GAP - 12)}">Current, mA, on a log axis</text>')
    span = (frame.to_m - frame.from_m) / unit
    for value in multiples(
        frame.from_m / unit, frame.to_m / unit, round_step(span, max(3, round(frame.width / 90)))
    ):
        x = num(frame.x(value * unit))
        parts.append(f'<path class="grid" d="M{x} {_TOP}v{_DEPTH}M{x} {num(floor - _CURRENT)}v{_CURRENT}"/>')
        parts.append(f'<text x="{x}" y="{num(floor + 18)}" text-anchor="middle">{value:g}</text>')
    parts.append(
        f'<text x="{num(right)}" y="{num(floor + 35)}" text-anchor="end">{name} along the line</text>'
    )
    return "".join(parts)


def _tick(y: float, right: float, text: str) -> str:
    return (
        f'<path class="grid" d="M{_LEFT} {num(y)}H{num(right)}"/>'
        f'<text x="{_LEFT - 6}" y="{num(y + 5)}" text-anchor="end">{text}</text>'
    )


def _decades(low: float, high: float) -> list[float]:
    """Round numbers on a log axis, as many as have room."""
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    steps = (1, 2, 5) if high / low < 300 else (1,)
    powers = range(first, last + 1, max(1, (last - first) // 6))
    found = [m * 10.0**p for p in powers for m in steps if low <= m * 10.0**p <= high]
    if len(found) < 2:
        step = round_step(high - low, 4)
        found = [v for v in multiples(low, high, step) if v > 0]
    return found


def _holes(job: Job, line: LineEstimate, frame: _Frame, labels: Labels) -> list[str]:
    """Test holes: the line as it was seen, or how far was dug without seeing it."""
    parts = []
    for hole in job.test_holes:
        if hole.line != line.line:
            continue
        chainage = abreast(hole.place.easting_m, hole.place.northing_m, line)
        top = hole.depth_to_top_m if hole.found else hole.dug_to_m
        if top is None or not frame.from_m - 1.0 < chainage < frame.to_m + 1.0:
            continue
        x, y = frame.x(min(max(chainage, frame.from_m), frame.to_m)), frame.depth(top.value)
        sides = f"H{num(x + 8)}V{_TOP}" if hole.found else f"M{num(x + 8)} {_TOP}V{num(y)}"
        parts.append(f'<path class="seen" d="M{num(x - 8)} {_TOP}V{num(y)}{sides}"/>')
        depth = words.length(top.value, job.display_units)
        said = f"top at {depth}" if hole.found else f"dug to {depth}, not there"
        labels.wish(0, [(x, _TOP + 22), (x, y)], f"test hole {hole.id}: {said}", must=True)
    return parts


def _events(line: LineEstimate, frame: _Frame, labels: Labels) -> list[str]:
    top = _TOP + _DEPTH + _GAP
    parts = []
    for event in line.current_events:
        x = frame.x(event.chainage_m)
        parts.append(f'<path class="event" d="M{num(x)} {num(top)}v{_CURRENT}"/>')
        said = f"{event.kind}, {words.chance(event.probability)}"
        labels.wish(0, [(x, top + 22), (x, top + _CURRENT - 10), (x, top + _CURRENT / 2)], said, must=True)
    return parts


def _reading_names(line: LineEstimate, frame: _Frame) -> str:
    """Names of readings under the depth, as many as have room, the ends first."""
    stations = line.stations
    y = _TOP + _DEPTH + 18
    taken: list[tuple[float, float]] = []
    parts = []
    for i in dict.fromkeys((0, len(stations) - 1, *thinned(len(stations), _POINTS))):
        x, wide = frame.x(stations[i].chainage_m), 7.6 * len(stations[i].id) + 8
        x = min(max(x, wide / 2), frame.width - wide / 2)
        if any(abs(x - other) < 0.5 * (wide + w) for other, w in taken) or wide > 0.4 * frame.width:
            continue
        taken.append((x, wide))
        parts.append(f'<text x="{num(x)}" y="{y}" text-anchor="middle">{escaped(stations[i].id)}</text>')
    return "".join(parts)
