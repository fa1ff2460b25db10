"""The plan of a sweep: how well each spot was swept, in greys; gaps hatched; passes as arrows."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.spoken import spoken_current
from plumbmark.handover import words
from plumbmark.handover.page_plan import WIDTH, View
from plumbmark.handover.page_svg import Labels, Point, axis_unit, escaped, num, path, round_step
from plumbmark.model.job import Job
from plumbmark.model.record import DigKind
from plumbmark.model.sweep import ChanceMap, MethodSweep, SweepAnswer, Walk

#: Over the best there is, from here on; and how dark the spot is drawn. Chances, then least currents.
CHANCES: Final = ((0.9, 0.0), (0.8, 0.13), (0.6, 0.28), (0.3, 0.44), (0.0, 0.62))
CURRENTS: Final = ((0.7, 0.0), (0.5, 0.13), (0.25, 0.28), (0.125, 0.44), (0.0, 0.62))
MIDDLE: Final = 1  # of the depths that least currents are told for
_DRAWN_CELLS: Final = 20_000
_ARROW_PX: Final = 7.0
FLOATS = NDArray[np.float64]
BOOLS = NDArray[np.bool_]


def sweep_view(job: Job, answer: SweepAnswer) -> View:
    """A view with all ground to be swept and every pass in it."""
    points = [p for ring in answer.outlines for p in ring]
    points += [p for once in answer.rounds for p in once.walk.path]
    west, south = (min(p[k] for p in points) for k in (0, 1))
    east, north = (max(p[k] for p in points) for k in (0, 1))
    reach = 0.5 * max(east - west, north - south)
    near = [
        p
        for p in (*((c.easting_m, c.northing_m) for c in job.corners), *_pass_points(answer))
        if west - reach <= p[0] <= east + reach and south - reach <= p[1] <= north + reach
    ]
    west, south = min([west, *(p[0] for p in near)]), min([south, *(p[1] for p in near)])
    east, north = max([east, *(p[0] for p in near)]), max([north, *(p[1] for p in near)])
    wide, high = max(east - west, 0.5), max(north - south, 0.5)
    height = min(max(high / wide * (WIDTH - 50.0) + 90.0, 220.0), 560.0)
    px = min((WIDTH - 50.0) / wide, (height - 90.0) / high)
    return View(0.5 * (west + east) - 0.5 * WIDTH / px, 0.5 * (south + north) + 0.5 * height / px, px, height)


def _pass_points(answer: SweepAnswer) -> Iterable[Point]:
    return (p for sweep in answer.walked for walk in sweep.walks for p in walk.path)


def sweep_plan(
    job: Job, answer: SweepAnswer, sweep: MethodSweep, view: View, name: str, *, least: bool = False
) -> str:
    """One method on the ground, as inline SVG.

    Parameters
    ----------
    job : Job
    answer : SweepAnswer
    sweep : MethodSweep
        One of the answer's.
    view : View
        Of `sweep_view`.
    name : str
        Of this picture, unique on the page.
    least : bool
        Shade by the least current that is noticed, not by the chance.

    Returns
    -------
    str
        One `svg` element.
    """
    labels = Labels(WIDTH, view.height)
    labels.taken += [(WIDTH - 40, 0.0, WIDTH, 60.0), (0.0, view.height - 42, 150.0, view.height)]
    body = [_shades(m, sweep, view, least=least) for m in sweep.maps]
    body += [_hatched(m, view, f"{name}-h") for m in sweep.maps]
    body += [f'<path class="grid" d="{_line(ring, view)}"/>' for ring in answer.outlines]
    body += _context(job, view, labels)
    body += [_walk(w, view, "walked") for w in sweep.walks]
    for number, walk in enumerate(sweep.further, 1):
        body.append(_walk(walk, view, "ahead"))
        labels.wish(1, [view.at(*walk.path[0])], f"walk {number}", "strong", must=True)
    body += [f'<path class="round" d="{_line(once.walk.path, view)}"/>' for once in answer.rounds]
    for gap in sweep.gaps:
        labels.wish(2, [view.at(gap.easting_m, gap.northing_m)], f"gap {gap.name}", "strong")
    shown = "least current noticed" if least else "chance that a line is noticed"
    title = f"Sweep by {sweep.search.method.words}, {shown}"
    desc = (
        "North is up. The darker a spot, the less is noticed there; hatched ground is a gap. Thin arrows are "
        "passes, thick ones are still to be walked, the dotted line is the last round."
    )
    hatch = (
        f'<defs><pattern id="{name}-h" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><path class="hatch" d="M0 0V6"/></pattern></defs>'
    )
    return (
        f'<svg class="sweep" viewBox="0 0 {num(WIDTH)} {num(view.height)}" role="img" '
        f'aria-labelledby="{name}-t {name}-d"><title id="{name}-t">{escaped(title)}</title>'
        f'<desc id="{name}-d">{desc}</desc>{hatch}{"".join(body)}'
        f"{labels.placed()}{_north_and_bar(job, view)}</svg>"
    )


def sweep_key(sweep: MethodSweep, *, least: bool = False) -> list[tuple[float, str]]:
    """What the shades of a picture mean: how dark, and the words beside it."""
    if not least:
        first = f"{words.chance(sweep.best_chance)}, nearly as often as can be"
        told = [(dark, f"{10 * low:.0f} tenths of that or more") for low, dark in CHANCES[1:-1]]
        return [(CHANCES[0][1], first), *told, (CHANCES[-1][1], "less")]
    best = sweep.maps[0].best_a[MIDDLE]
    said = [(dark, f"{spoken_current(best / low)} or less") for low, dark in CURRENTS[:-1]]
    return [*said, (CURRENTS[-1][1], "more, or not at all")]


def _shades(chances: ChanceMap, sweep: MethodSweep, view: View, *, least: bool) -> str:
    """Cells by how well a line is noticed there, runs of one shade together."""
    step = _coarser(chances)
    values = chances.chance / sweep.best_chance
    if least:
        values = chances.best_a[MIDDLE] / chances.least_a[..., MIDDLE]
    ratio, inside = _blocks(values, step, np.minimum), _blocks(chances.inside, step, np.minimum) > 0.0
    parts, left = [], inside
    for low, dark in CURRENTS if least else CHANCES:
        here = left & (ratio >= low)
        left = left & ~here
        d = _runs(here, chances, step, view) if dark > 0.0 else ""
        parts.append(f'<path class="shade" fill-opacity="{dark}" d="{d}"/>' if d else "")
    return "".join(parts)


def _hatched(chances: ChanceMap, view: View, pattern: str) -> str:
    step = _coarser(chances)
    gap = _blocks(chances.inside & (chances.missed > 0.0), step, np.maximum) > 0.0
    d = _runs(gap, chances, step, view)
    return f'<path class="gap" style="fill:url(#{pattern})" d="{d}"/>' if d else ""


def _coarser(chances: ChanceMap) -> int:
    """Cells to a side that are drawn as one, so that the file stays small."""
    return max(1, math.ceil(math.sqrt(chances.inside.size / _DRAWN_CELLS)))


def _blocks(cells: FLOATS | BOOLS, step: int, reduce: np.ufunc) -> FLOATS:
    """Blocks of so many cells by so many; those of the last row and column may be smaller."""
    values = np.asarray(cells, float)
    rows = reduce.reduceat(values, np.arange(0, values.shape[0], step), axis=0)
    return np.asarray(reduce.reduceat(rows, np.arange(0, values.shape[1], step), axis=1), float)


def _runs(cells: BOOLS, chances: ChanceMap, step: int, view: View) -> str:
    """One path round each run of cells of a row."""
    angle = math.radians(chances.bearing_deg)
    side = chances.cell_m * step
    ahead = np.array([math.sin(angle), math.cos(angle)]) * side
    right = np.array([math.cos(angle), -math.sin(angle)]) * side
    origin = np.array([chances.easting_m, chances.northing_m])
    said = []
    for row, line in enumerate(cells):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
        for first, last in edges.reshape(-1, 2):
            a, b = origin + row * right + first * ahead, origin + row * right + last * ahead
            said.append(path([view.at(*p) for p in (a, b, b + right, a + right)], closed=True))
    return "".join(said)


def _context(job: Job, view: View, labels: Labels) -> list[str]:
    """The digs, baselines and corners that places are told from."""
    parts = []
    for dig in job.digs:
        for ring in dig.rings:
            points = [view.at(*p) for p in ring]
            closed = dig.kind is DigKind.EXCAVATION
            wide = dig.width_m if dig.kind is DigKind.TRENCH else dig.diameter_m
            if not closed and wide:
                px = num(wide * view.px_per_m)
                parts.append(f'<path class="digwide" stroke-width="{px}" d="{path(points)}"/>')
            parts.append(f'<path class="dig" d="{path(points, closed=closed)}"/>')
            labels.wish(3, points, f"{dig.kind.value} {dig.id}")
    for base in job.baselines:
        ends = (
            view.at(base.start_easting_m, base.start_northing_m),
            view.at(base.end_easting_m, base.end_northing_m),
        )
        parts.append(f'<path class="base" d="{path(ends)}"/>')
        seen = [p for p in ends if 0 <= p[0] <= WIDTH and 0 <= p[1] <= view.height]
        labels.wish(5, seen, f"baseline {base.id}")
    for corner in job.corners:
        x, y = view.at(corner.easting_m, corner.northing_m)
        if 0 <= x <= WIDTH and 0 <= y <= view.height:
            parts.append(
                f'<path class="paper" d="M{num(x - 5)} {num(y + 4)}L{num(x)} {num(y - 5)}L{num(x + 5)} '
                f'{num(y + 4)}Z"/>'
            )
            labels.wish(4, [(x, y)], corner.id)
    return parts


def _walk(walk: Walk, view: View, kind: str) -> str:
    """A pass with an arrow at its end."""
    points = [view.at(*p) for p in walk.path]
    (x0, y0), (x1, y1) = (points[-2] if len(points) > 1 else points[-1]), points[-1]
    angle = math.atan2(y1 - y0, x1 - x0)
    wings = [
        (x1 - _ARROW_PX * math.cos(angle + turn), y1 - _ARROW_PX * math.sin(angle + turn))
        for turn in (-0.4, 0.4)
    ]
    head = f"M{num(wings[0][0])} {num(wings[0][1])}L{num(x1)} {num(y1)}L{num(wings[1][0])} {num(wings[1][1])}"
    return f'<path class="{kind}" d="{path(points)}{head if len(points) > 1 else ""}"/>'


def _line(points: Sequence[Point], view: View) -> str:
    return path([view.at(*p) for p in points])


def _north_and_bar(job: Job, view: View) -> str:
    unit, name = axis_unit(job.display_units)
    length = round_step(view.width_m / unit, 4)
    return (
        f'<g transform="translate({num(WIDTH - 20)} 40)"><path class="ink" d="M0 0V-24M-5 -15L0 -25L5 -15"/>'
        '<text x="0" y="14" text-anchor="middle">N</text></g>'
        f'<g transform="translate(12 {num(view.height - 12)})"><path class="ink" '
        f'd="M0 -5V0H{num(length * unit * view.px_per_m)}V-5"/>'
        f'<text x="0" y="-9">{length:g} {name}</text></g>'
    )
