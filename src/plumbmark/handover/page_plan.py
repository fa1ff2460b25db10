"""The plan: what was marked, where the lines are and in what band, in the job's own grid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from plumbmark.handover import answer, words
from plumbmark.handover.page_svg import (
    Labels,
    Point,
    axis_unit,
    colour_class,
    escaped,
    multiples,
    num,
    path,
    round_step,
    thinned,
)
from plumbmark.model.estimate import LineEstimate, Neighbour, Solution, StationEstimate, Trust
from plumbmark.model.job import Job
from plumbmark.model.record import Dig, DigKind

WIDTH = 380.0
_LINE_POINTS = 400
_MARKS = 300
# With more lines than this, names that find no room wait for the enlarged picture.
_NAMED_LINES = 12


@dataclass(frozen=True)
class View:
    """From the job's grid to the drawing: north is up, one scale both ways."""

    west_m: float
    north_m: float
    px_per_m: float
    height: float
    width: float = WIDTH

    def at(self, easting_m: float, northing_m: float) -> Point:
        """A point of the grid in the drawing."""
        return (easting_m - self.west_m) * self.px_per_m, (self.north_m - northing_m) * self.px_per_m

    @property
    def width_m(self) -> float:
        """Width of the drawing on the ground."""
        return self.width / self.px_per_m


def band_ends(station: StationEstimate, *, back: bool) -> tuple[Point, Point]:
    """Left and right end of the lateral band on the ground, as seen toward larger chainage."""
    right = math.radians(station.right_deg)
    left_end, right_end = (
        (station.mark_easting_m + shift * math.sin(right), station.mark_northing_m + shift * math.cos(right))
        for shift in (station.lateral_shift_m.low, station.lateral_shift_m.high)
    )
    return (right_end, left_end) if back else (left_end, right_end)


def beside(line: LineEstimate, neighbour: Neighbour, offset_m: float) -> list[Point]:
    """Ground points at an offset to the right of a line, over the chainages of a second line."""
    rights = answer.right_of_travel(line)
    inside = [
        i
        for i, s in enumerate(line.stations)
        if neighbour.from_chainage_m - 1e-6 <= s.chainage_m <= neighbour.to_chainage_m + 1e-6
    ]
    points = []
    for chainage in (neighbour.from_chainage_m, None, neighbour.to_chainage_m):
        if chainage is None:
            points += [(line.stations[i], rights[i], 0.0) for i in inside]
        elif not any(abs(line.stations[i].chainage_m - chainage) < 0.01 for i in inside):
            # Between stations: stepped on from the nearest one.
            i = min(range(len(rights)), key=lambda k: abs(line.stations[k].chainage_m - chainage))
            points.append((line.stations[i], rights[i], chainage - line.stations[i].chainage_m))
    ground = []
    for station, right_deg, ahead in points:
        right = math.radians(right_deg)
        east = station.easting_m + offset_m * math.sin(right) - ahead * math.cos(right)
        north = station.northing_m + offset_m * math.cos(right) + ahead * math.sin(right)
        ground.append((east, north))
    return ground


def plan_box(job: Job, solution: Solution) -> tuple[float, float, float, float]:
    """West, south, east and north end of a plan with all stations, marks, second lines and digs in it [m]."""
    points: list[Point] = []
    for line in solution.lines:
        for s in line.stations:
            points += [(s.easting_m, s.northing_m), (s.mark_easting_m, s.mark_northing_m)]
        for neighbour in line.neighbours if line.stations else ():
            points += beside(line, neighbour, neighbour.offset_m.value)
    points = points or [(r.place.easting_m, r.place.northing_m) for r in job.readings] or [(0.0, 0.0)]
    return box_around(points, _surroundings(job))


def box_around(points: Sequence[Point], others: Sequence[Point]) -> tuple[float, float, float, float]:
    """West, south, east and north end of points, one at least, and of others where those lie near [m]."""
    core = _box(points)
    reach = 0.5 * max(core[2] - core[0], core[3] - core[1], 4.0)
    # What lies near is shown whole; what lies far off would only shrink the rest.
    near = [
        (east, north)
        for east, north in others
        if core[0] - reach <= east <= core[2] + reach and core[1] - reach <= north <= core[3] + reach
    ]
    return _box([*points, *near])


def view_of(job: Job, solution: Solution) -> View:
    """A view with the whole plan in it, and room for labels."""
    west, south, east, north = plan_box(job, solution)
    span = max(east - west, 0.6 * (north - south), 2.0)
    px_per_m = (WIDTH - 56.0) / span
    height = min(max((north - south) * px_per_m + 110.0, 240.0), 470.0)
    px_per_m = min(px_per_m, (height - 100.0) / max(north - south, 1e-9))
    middle = (0.5 * (west + east), 0.5 * (south + north))
    return View(middle[0] - 0.5 * WIDTH / px_per_m, middle[1] + 0.5 * height / px_per_m, px_per_m, height)


def _box(points: Sequence[Point]) -> tuple[float, float, float, float]:
    easts, norths = [p[0] for p in points], [p[1] for p in points]
    return min(easts), min(norths), max(easts), max(norths)


def _surroundings(job: Job) -> list[Point]:
    points = [(c.easting_m, c.northing_m) for c in job.corners]
    points += [(h.place.easting_m, h.place.northing_m) for h in job.test_holes]
    points += [(t.place.easting_m, t.place.northing_m) for t in job.things if t.place is not None]
    points += [p for dig in job.digs for ring in dig.rings for p in ring]
    return points


def plan_picture(
    job: Job, solution: Solution, view: View, *, name: str = "plan", under: Sequence[str] = ()
) -> str:
    """The plan as inline SVG.

    Parameters
    ----------
    job, solution : Job, Solution
    view : View
        Of `view_of`.
    name : str
        Id of the picture: unique where it stands.
    under : sequence of str
        SVG that is drawn first, under everything but the grid.

    Returns
    -------
    str
        One `svg` element. Groups `bar` and `north` are moved by the page when it is enlarged.
    """
    labels = Labels(view.width, view.height)
    labels.taken += [(view.width - 40, 0.0, view.width, 60.0), (0.0, view.height - 42, 150.0, view.height)]
    body = [_grid(view), *under, *_context(job, view, labels)]
    for line in solution.lines:
        body += _second_lines(job, line, view, labels)
    for line in solution.lines:
        body += _solved_line(job, line, view, labels)
    for line in solution.lines:
        body += _marks(line, view, labels)
    title = f'<title id="{name}-t">Plan of job {escaped(job.id)}</title>'
    desc = (
        "North is up. Crosses in ink are the field marks, the line runs inside its band, drawn to scale; "
        "between readings the band is drawn straight. Every number is in the table below."
    )
    return (
        f'<svg id="{name}" class="scaled" viewBox="0 0 {num(view.width)} {num(view.height)}" role="img" '
        f'tabindex="0" aria-labelledby="{name}-t {name}-d">{title}'
        f'<desc id="{name}-d">{desc}</desc>{"".join(body)}{labels.placed()}'
        f'<g id="ring"></g>{_north(view)}{_bar(job, view)}</svg>'
    )


def _north(view: View) -> str:
    return (
        f'<g id="north" transform="translate({num(view.width - 20)} 40)"><g class="k"><path class="ink" '
        'd="M0 0V-24M-5 -15L0 -25L5 -15"/><text x="0" y="14" text-anchor="middle">N</text></g></g>'
    )


def _bar(job: Job, view: View) -> str:
    unit, name = axis_unit(job.display_units)
    length = round_step(view.width_m / unit, 4)
    px = length * unit * view.px_per_m
    return (
        f'<g id="bar" transform="translate(12 {num(view.height - 12)})"><g class="k"><path class="ink" '
        f'd="M0 -5V0H{num(px)}V-5"/><text x="0" y="-9">{length:g} {name}</text></g></g>'
    )


def _grid(view: View) -> str:
    step = round_step(view.width_m, 6)
    easts = multiples(view.west_m, view.west_m + view.width_m, step)
    norths = multiples(view.north_m - view.height / view.px_per_m, view.north_m, step)
    crosses = []
    for east in easts:
        for north in norths:
            x, y = view.at(east, north)
            crosses.append(f"M{num(x - 3)} {num(y)}h6M{num(x)} {num(y - 3)}v6")
    return f'<path class="grid" d="{"".join(crosses)}"/>'


def _context(job: Job, view: View, labels: Labels) -> list[str]:
    """What was there before the readings: digs, records, baselines, corners, things seen; and test holes."""
    parts = [_dig(job, dig, view, labels) for dig in job.digs]
    for record in job.records:
        points = [view.at(*p) for p in record.path]
        kind = colour_class(record.utility)
        parts.append(
            f'<g class="record {kind}"><path class="rim" d="{path(points)}"/>'
            f'<path class="core" d="{path(points)}"/></g>'
        )
        said = f"record {record.id}" + (f", {record.utility}" if record.utility else "")
        labels.block(points)
        labels.wish(6, _seen(points, view), said)
    for base in job.baselines:
        ends = (
            view.at(base.start_easting_m, base.start_northing_m),
            view.at(base.end_easting_m, base.end_northing_m),
        )
        parts.append(f'<path class="base" d="{path(ends)}"/>')
        labels.block(ends)
        labels.wish(7, _seen(ends, view), f"baseline {base.id}")
    for east, north, shape, rank, said in _signs(job):
        x, y = view.at(east, north)
        if 0 <= x <= view.width and 0 <= y <= view.height:
            parts.append(_sign(x, y, shape, "paper"))
            labels.block([(x, y)], 7.0)
            labels.wish(rank, [(x, y)], said)
    return parts


def _sign(x: float, y: float, d: str, kind: str) -> str:
    return f'<g transform="translate({num(x)} {num(y)})"><path class="k {kind}" d="{d}"/></g>'


def _signs(job: Job) -> list[tuple[float, float, str, int, str]]:
    """What is one spot on the ground: place, the path of its sign, rank of its label and the label."""
    signs = [(c.easting_m, c.northing_m, "M-5 4L0 -5L5 4Z", 5, c.id) for c in job.corners]
    for hole in job.test_holes:
        said = f"test hole {hole.id}" + ("" if hole.found else ", not there")
        signs.append((hole.place.easting_m, hole.place.northing_m, "M-6 -6H6V6H-6Z", 4, said))
    for thing in job.things:
        if thing.place is not None:
            kind = thing.kind.value if thing.kind else ""
            said = thing.id if kind in thing.id else f"{kind} {thing.id}"
            signs.append((thing.place.easting_m, thing.place.northing_m, "M0 -6L6 0L0 6L-6 0Z", 5, said))
    return signs


def _seen(points: Sequence[Point], view: View) -> list[Point]:
    """Points of a path that lie in the picture, for its label: the middle of what is seen first."""
    steps: list[Point] = []
    for a, b in pairwise(points):
        steps += [(a[0] + (b[0] - a[0]) * t / 20, a[1] + (b[1] - a[1]) * t / 20) for t in range(21)]
    inside = [p for p in steps or points if 8 < p[0] < view.width - 8 and 8 < p[1] < view.height - 8]
    inside = inside[:: max(1, len(inside) // 30)]
    return sorted(inside, key=lambda p: abs(inside.index(p) - len(inside) // 2))


def _dig(job: Job, dig: Dig, view: View, labels: Labels) -> str:
    said = [f"{dig.kind.value} {dig.id}"]
    if dig.depth_m is not None:
        said.append(f"{words.length(dig.depth_m, job.display_units)} deep")
    parts = []
    for ring in dig.rings:
        points = [view.at(*p) for p in ring]
        closed = dig.kind is DigKind.EXCAVATION
        wide = dig.width_m if dig.kind is DigKind.TRENCH else dig.diameter_m
        if not closed and wide:
            parts.append(
                f'<path class="digwide" stroke-width="{num(wide * view.px_per_m)}" d="{path(points)}"/>'
            )
        parts.append(f'<path class="dig" d="{path(points, closed=closed)}"/>')
        outline = [*points, points[0]] if closed else points
        labels.block(outline, 3.0)
        labels.wish(3, _seen(outline, view), ", ".join(said))
    return "".join(parts)


def _second_lines(job: Job, line: LineEstimate, view: View, labels: Labels) -> list[str]:
    parts = []
    for neighbour in line.neighbours if line.stations else ():
        low, middle, high = (
            [view.at(*p) for p in beside(line, neighbour, offset)]
            for offset in (neighbour.offset_m.low, neighbour.offset_m.value, neighbour.offset_m.high)
        )
        utility = next((x.utility.value for x in job.lines if x.id == neighbour.is_line), None)
        keep = thinned(len(middle), _LINE_POINTS)
        band = [low[i] for i in keep] + [high[i] for i in reversed(keep)]
        middle = [middle[i] for i in keep]
        parts.append(
            f'<g class="second {colour_class(utility)}"><path class="band" d="{path(band, closed=True)}"/>'
            f'<path class="rim" d="{path(middle)}"/><path class="core" d="{path(middle)}"/></g>'
        )
        name = f"second line, {words.likelihood(neighbour.probability)}"
        labels.block(middle)
        labels.wish(1, _seen(middle, view), name, must=len(job.lines) <= _NAMED_LINES)
    return parts


def _solved_line(job: Job, line: LineEstimate, view: View, labels: Labels) -> list[str]:
    if not line.stations:
        return []
    stations = line.stations
    least = min(range(len(stations)), key=lambda i: stations[i].within_10_probability)
    keep = thinned(len(stations), _LINE_POINTS, [least])
    path_m, band_m = course_and_band(line, keep)
    middle, band = [view.at(*p) for p in path_m], [view.at(*p) for p in band_m]
    labels.block(middle, 5.0)
    utility = next((x.utility.value for x in job.lines if x.id == line.line), None)
    must = len(job.lines) <= _NAMED_LINES
    labels.wish(0, _seen(middle, view), answer.line_name(job, line.line), "strong", must)
    return [
        f'<g class="solved {colour_class(utility)}"><path class="band" d="{path(band, closed=True)}"/>'
        f'<path class="rim" d="{path(middle)}"/><path class="core" d="{path(middle)}"/></g>'
    ]


def course_and_band(line: LineEstimate, keep: Sequence[int]) -> tuple[list[Point], list[Point]]:
    """A solved line on the ground, by its stations `keep`, and the outline of its lateral band [m]."""
    if len(keep) == 1:
        return _lone(line.stations[keep[0]])
    back = answer.faces_back(line)
    ends = [band_ends(line.stations[i], back=back[i]) for i in keep]
    middle = [(line.stations[i].easting_m, line.stations[i].northing_m) for i in keep]
    return middle, [left for left, _ in ends] + [right for _, right in reversed(ends)]


def _lone(station: StationEstimate) -> tuple[list[Point], list[Point]]:
    """A short piece of line for a reading that has no other beside it."""
    ahead = math.radians(station.right_deg - 90.0)
    east, north = 0.4 * math.sin(ahead), 0.4 * math.cos(ahead)
    left, right = band_ends(station, back=False)
    band = [(p[0] + s * east, p[1] + s * north) for p, s in ((left, -1), (left, 1), (right, 1), (right, -1))]
    return [(station.easting_m + s * east, station.northing_m + s * north) for s in (-1, 1)], band


def _marks(line: LineEstimate, view: View, labels: Labels) -> list[str]:
    stations = line.stations
    keep = thinned(len(stations), _MARKS)
    parts = []
    last = (-99.0, -99.0)
    for i in keep:
        x, y = view.at(stations[i].mark_easting_m, stations[i].mark_northing_m)
        # Marks that would cover one another wait for the enlarged picture.
        crowded = math.hypot(x - last[0], y - last[1]) < 5.0
        parts.append(_sign(x, y, "M-4 -4L4 4M-4 4L4 -4", "mark near" if crowded else "mark"))
        last = last if crowded else (x, y)
    doubtful = [i for i in keep if stations[i].trust is not Trust.HOLDS]
    doubtful.sort(key=lambda i: stations[i].within_10_probability)
    first = {0, len(stations) - 1, *doubtful[:5]}
    for i in sorted(keep, key=lambda i: stations[i].within_10_probability):
        s = stations[i]
        said = s.id if s.trust is Trust.HOLDS else f"{s.id} {s.trust.value}"
        rank = 2 if i in first else 8 if s.trust is not Trust.HOLDS else 9
        labels.wish(rank, [view.at(s.mark_easting_m, s.mark_northing_m)], said)
    return parts
