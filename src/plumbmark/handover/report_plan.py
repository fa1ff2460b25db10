"""The plan of a report: at a round scale, on as many sheets as it takes to be read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from plumbmark.handover.page_plan import View, plan_box, plan_picture
from plumbmark.handover.page_svg import multiples, num, path, round_step
from plumbmark.handover.report_blocks import Drawing
from plumbmark.handover.report_paper import UNIT_MM, WIDTH, on_paper
from plumbmark.model.clearance import ClearanceAnswer, Demand, Ring
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job

#: Most a sheet holds upward, with its heading and caption on a letter page.
_HEIGHT: Final = 920.0
_LEAST_HEIGHT: Final = 420.0
_MARGIN: Final = 70.0
_SCALES_M: Final = (20, 25, 50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10000, 20000, 50000, 100000)
#: Feet on the ground to an inch of paper.
_SCALES_FT: Final = (1, 2, 4, 5, 8, 10, 20, 30, 40, 50, 100, 200, 400, 500, 1000, 2000, 5000, 10000)
#: Beyond this scale the plan is an overview, and sheets at a larger scale follow.
_READABLE: Final = 300.0
_SHEETS: Final = 12
_PLACES: Final = 3000


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale of drawing: 1 to `ratio`, and how it is said."""

    ratio: float
    said: str

    @property
    def units_per_m(self) -> float:
        """Units of the drawing to a metre of ground."""
        return 1000.0 / UNIT_MM / self.ratio


def scales(units: str) -> tuple[Scale, ...]:
    """Round scales from the largest down, as the job's units have them."""
    if units == "ft-in":
        return tuple(Scale(12.0 * feet, f"1 in = {feet:,} ft (1:{12 * feet:,})") for feet in _SCALES_FT)
    return tuple(Scale(float(ratio), f"1:{ratio:,}") for ratio in _SCALES_M)


def plan_drawings(job: Job, solution: Solution, clearance: ClearanceAnswer | None) -> tuple[Drawing, ...]:
    """The plan to scale, and where that is too small to read, sheets at a larger scale.

    Parameters
    ----------
    job, solution : Job, Solution
    clearance : ClearanceAnswer, optional
        Its zones and demands are drawn where it is given.

    Returns
    -------
    tuple of Drawing
        The whole first.
    """
    west, south, east, north = plan_box(job, solution)
    known = scales(job.display_units)
    whole = next(
        (
            s
            for s in known
            if (east - west) * s.units_per_m <= WIDTH - 2 * _MARGIN
            and (north - south) * s.units_per_m <= _HEIGHT - 2 * _MARGIN
        ),
        known[-1],
    )
    height = max(_LEAST_HEIGHT, (north - south) * whole.units_per_m + 2 * _MARGIN)
    middle = (0.5 * (west + east), 0.5 * (south + north))
    drawings = [_drawing(job, solution, clearance, whole, middle, height, "plan", "Plan")]
    if whole.ratio > _READABLE:
        sheet, middles = _sheets(solution, [s for s in known if s.ratio < whole.ratio])
        for number, at in enumerate(middles, 1):
            title = f"Sheet {number} of {len(middles)}"
            drawings.append(_drawing(job, solution, clearance, sheet, at, _HEIGHT, f"sheet{number}", title))
    return tuple(drawings)


def _sheets(solution: Solution, known: list[Scale]) -> tuple[Scale, list[tuple[float, float]]]:
    """The largest readable scale at which few enough sheets show every place, and their middles."""
    places = [(s.easting_m, s.northing_m) for line in solution.lines for s in line.stations]
    for scale in (s for s in known if s.ratio >= 0.5 * _READABLE):
        wide, high = ((side - 2 * _MARGIN) / scale.units_per_m for side in (WIDTH, _HEIGHT))
        middles = _covered(places, wide, high) if len(places) <= _PLACES else []
        if 0 < len(middles) <= _SHEETS:
            return scale, middles
    return known[-1], []


def _covered(places: list[tuple[float, float]], wide: float, high: float) -> list[tuple[float, float]]:
    """Middles of sheets that hold every place, or of one more than are wanted.

    From the west on: the sheet that begins at the westernmost place left and holds the most of the others.
    """
    left = sorted(set(places))
    middles: list[tuple[float, float]] = []
    while left and len(middles) <= _SHEETS:
        west, north = left[0]
        column = [p for p in left if p[0] <= west + wide]
        low = max(
            (n for _, n in column if north - high <= n <= north),
            key=lambda n: sum(n <= p[1] <= n + high for p in column),
        )
        held = [p for p in column if low <= p[1] <= low + high]
        norths = [p[1] for p in held]
        middles.append((0.5 * (west + max(held)[0]), 0.5 * (min(norths) + max(norths))))
        left = [p for p in left if p[0] > west + wide or not low <= p[1] <= low + high]
    return middles


def _drawing(
    job: Job,
    solution: Solution,
    clearance: ClearanceAnswer | None,
    scale: Scale,
    middle: tuple[float, float],
    height: float,
    name: str,
    title: str,
) -> Drawing:
    per_m = scale.units_per_m
    view = View(middle[0] - 0.5 * WIDTH / per_m, middle[1] + 0.5 * height / per_m, per_m, height, width=WIDTH)
    under = _coordinates(view) + (_clearance(clearance, view) if clearance else [])
    svg = plan_picture(job, solution, view, name=name, under=under)
    says = f"{title} of job {job.id}, north up, at {scale.said}. Every number in it is in the tables."
    legend = (
        "Crosses are the field marks; the grey band holds the line 19 times in 20, to scale. Grid in metres."
    )
    if any(thing.place for thing in job.things):
        legend += " Diamonds are things seen above ground."
    if clearance:
        legend += (
            f" Broken outline: tolerance zone about the marks, {clearance.rule.title}; dotted outline: the "
            "same about the band. Hatched one way: hand dig; both ways: test hole first; broken: not known."
        )
    return on_paper(svg, WIDTH, height, says, f"{title}, {scale.said}. {legend}")


def _coordinates(view: View) -> list[str]:
    """Eastings along the upper edge and northings along the left one, at the crosses of the grid [m]."""
    step = round_step(view.width_m, 6)
    parts = []
    for east in multiples(view.west_m, view.west_m + view.width_m, step):
        x = view.at(east, 0.0)[0]
        if 60.0 < x < view.width - 80.0:
            parts.append(f'<text class="grid" x="{num(x)}" y="11" text-anchor="middle">E {east:.10g}</text>')
    for north in multiples(view.north_m - view.height / view.px_per_m, view.north_m, step):
        y = view.at(0.0, north)[1]
        if 30.0 < y < view.height - 60.0:
            parts.append(f'<text class="grid" x="2" y="{num(y + 4)}">N {north:.10g}</text>')
    return parts


def _clearance(answer: ClearanceAnswer, view: View) -> list[str]:
    """Zones and what the stretches of digs demand, under everything else."""
    parts = []
    for i, dig in enumerate(answer.digs):
        for j, stretch in enumerate(dig.stretches):
            for ring in stretch.rings:
                parts.append(_hatched(ring, stretch.demand, view, f"h{i}-{j}"))
    for zone in answer.zones:
        for kind, rings in (("zone", zone.lawful), ("honest", zone.honest)):
            for ring in rings:
                parts.append(f'<path class="{kind}" d="{path([view.at(*p) for p in ring], closed=True)}"/>')
    return parts


#: Which way a demand is hatched: degrees from the east, and class of the strokes.
_HATCH: Final = {
    Demand.HAND_DIG: ((45.0,), "hand"),
    Demand.TEST_HOLE: ((45.0, 135.0), "hole"),
    Demand.NOT_KNOWN: ((45.0,), "unknown"),
}


def _hatched(ring: Ring, demand: Demand, view: View, name: str) -> str:
    """An area hatched by strokes that end at its edge, so that no program needs to know of patterns."""
    import shapely

    if demand not in _HATCH or len(ring) < 3:
        return ""
    area = shapely.make_valid(shapely.Polygon([view.at(*p) for p in ring]))
    area = area.intersection(shapely.box(0.0, 0.0, view.width, view.height))
    if area.is_empty:
        return ""
    angles, kind = _HATCH[demand]
    west, south, east, north = area.bounds
    reach = math.hypot(east - west, north - south)
    strokes = []
    for angle in angles:
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        x, y = 0.5 * (west + east), 0.5 * (south + north)
        for k in range(-int(reach / 16) - 1, int(reach / 16) + 2):
            at = (x - 8.0 * k * s * 2, y + 8.0 * k * c * 2)
            strokes.append([(at[0] - reach * c, at[1] - reach * s), (at[0] + reach * c, at[1] + reach * s)])
    cut = shapely.MultiLineString(strokes).intersection(area)
    lines = [shapely.get_coordinates(p) for p in shapely.get_parts(cut) if p.geom_type == "LineString"]
    d = "".join(path([(float(x), float(y)) for x, y in line]) for line in lines)
    edge = "".join(
        path([(float(x), float(y)) for x, y in shapely.get_coordinates(p.exterior)], closed=True)
        for p in shapely.get_parts(area)
        if p.geom_type == "Polygon"
    )
    return f'<path class="hatch {kind}" d="{d}{edge}"/>'
