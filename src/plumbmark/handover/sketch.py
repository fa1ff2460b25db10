"""A sketch to scale on paper: marks, baseline, and the dimensions with which a tape lays them out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from plumbmark.base.datafile import read_data
from plumbmark.handover import words
from plumbmark.handover.answer import is_invented, line_name
from plumbmark.handover.marks_text import kind_words
from plumbmark.handover.page_svg import axis_unit, escaped, multiples, num, round_step
from plumbmark.handover.tape import along_baseline
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Baseline, Job
from plumbmark.model.mark import Mark, MarkKind, MarkPlan
from plumbmark.model.record import DigKind

Point = tuple[float, float]
Box = tuple[float, float, float, float]

WIDTH_MM: Final = 190.0  # fits A4 and letter
_DRAWN_MM: Final = 165.0
_MARGIN_MM: Final = 16.0
_TEXT_MM: Final = 3.0
_ROW_MM: Final = 4.6
_MOST_ROWS: Final = 200
_SCALES: Final = (20, 25, 50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10000, 20000, 50000)
_FEET_TO_INCH: Final = (2, 4, 5, 10, 20, 30, 40, 50, 100, 200, 400, 1000, 2000, 4000)
_STYLE: Final = (
    "text{font:3px sans-serif;fill:#111}.s{font-size:2.5px}.b{font-weight:600}"
    ".h{font-size:4.2px;font-weight:600}path,circle{fill:none;stroke:#111;stroke-width:.25}"
    ".base{stroke-width:.35;stroke-dasharray:4 1 1 1}.dim{stroke-width:.13;stroke:#555}"
    ".dig{stroke-width:.3;stroke-dasharray:2 1.2}.rim{stroke-width:1.2;stroke-linejoin:round}"
    ".stroke{stroke-width:.5}.rule{stroke-width:.13;stroke:#999}"
)


@dataclass(frozen=True, slots=True)
class View:
    """From the ground to the paper [mm]: grid north is up."""

    west_m: float
    north_m: float
    mm_per_m: float
    scale: int

    def at(self, place: Point) -> Point:
        """A place of the ground on the paper."""
        return (
            _MARGIN_MM + (place[0] - self.west_m) * self.mm_per_m,
            _MARGIN_MM + (self.north_m - place[1]) * self.mm_per_m,
        )


@dataclass(slots=True)
class _Sheet:
    """What is drawn so far, and where there is writing already."""

    parts: list[str] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)

    def path(self, points: Sequence[Point], kind: str, style: str = "", closed: bool = False) -> None:
        said = "L".join(f"{num(x)} {num(y)}" for x, y in points) + ("Z" if closed else "")
        self.parts.append(f'<path class="{kind}" d="M{said}"{style}/>')

    def block(self, points: Sequence[Point]) -> None:
        """Keep a path free of writing."""
        for a, b in pairwise(points):
            parts = max(1, math.ceil(math.dist(a, b) / 1.5))
            for k in range(parts + 1):
                x, y = (a[i] + (b[i] - a[i]) * k / parts for i in (0, 1))
                self.taken.append((x - 0.7, y - 0.7, x + 0.7, y + 0.7))

    def write(self, at: Point, text: str, kind: str = "", *, must: bool = True) -> bool:
        """Text near a place, where it covers no other; told whether there was room."""
        wide = 0.55 * _TEXT_MM * len(text)
        back = -wide - 1.2
        near = [(1.2, -1.2), (1.2, 3.4), (back, -1.2), (back, 3.4), (-wide / 2, -2.4), (-wide / 2, 4.8)]
        for shift in (*near, (1.2, 6.8), (back, 6.8), (1.2, -5.0), (back, -5.0)):
            x, y = at[0] + shift[0], at[1] + shift[1]
            box = (x, y - _TEXT_MM, x + wide, y + 0.6)
            if x > 1.0 and box[2] < WIDTH_MM - 1.0 and not any(_overlap(box, other) for other in self.taken):
                self.put((x, y), text, kind)
                return True
        if must:
            self.put((min(at[0] + 1.2, WIDTH_MM - wide - 1.0), at[1] - 1.2), text, kind)
        return must

    def put(self, at: Point, text: str, kind: str = "") -> None:
        """Text that begins at a place."""
        self.taken.append((at[0], at[1] - _TEXT_MM, at[0] + 0.55 * _TEXT_MM * len(text), at[1] + 0.6))
        said = f' class="{kind}"' if kind else ""
        self.parts.append(f'<text x="{num(at[0])}" y="{num(at[1])}"{said}>{escaped(text)}</text>')


def sketch_svg(job: Job, solution: Solution, plan: MarkPlan, *, with_table: bool = True) -> str:
    """The sketch as an SVG file at its true size on paper.

    Parameters
    ----------
    job, solution : Job, Solution
    plan : MarkPlan
        Of this job.
    with_table : bool
        Whether every mark's measures stand in a table below.

    Returns
    -------
    str
        190 mm wide. The same for the same input.
    """
    view, high = _view(job, plan)
    sheet = _Sheet()
    _head(sheet, job, view, high)
    _digs(sheet, job, view)
    for base in job.baselines:
        measured = any(m.tape.baseline == base.id for m in plan.marks)
        _baseline(sheet, job, base, view, measured)
    for corner in job.corners:
        x, y = view.at((corner.easting_m, corner.northing_m))
        if _inside((x, y), high):
            sheet.path([(x - 1.2, y + 1), (x, y - 1.2), (x + 1.2, y + 1)], "", closed=True)
            sheet.write((x, y), corner.id, "s")
    _lines(sheet, job, solution, plan, view)
    _marks(sheet, job, plan, view, high)
    if with_table:
        high = _table(sheet, job, plan, high)
    title = f"Marks of job {job.id}, to scale 1:{view.scale:,}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{num(WIDTH_MM)}mm" height="{num(high)}mm" '
        f'viewBox="0 0 {num(WIDTH_MM)} {num(high)}" role="img" aria-label="{escaped(title)}">'
        f'<style>{_STYLE}</style><rect width="100%" height="100%" fill="#fff"/>{"".join(sheet.parts)}</svg>\n'
    )


def _view(job: Job, plan: MarkPlan) -> tuple[View, float]:
    """The largest round scale at which everything that is needed fits, and the height of the drawing."""
    points = [(m.easting_m, m.northing_m) for m in plan.marks]
    points += [p for m in plan.marks if m.edges for p in m.edges]
    tied = {corner for m in plan.marks for corner, _ in m.tape.ties}
    points += [(c.easting_m, c.northing_m) for c in job.corners if c.id in tied or not plan.marks]
    for base in job.baselines:
        if not plan.marks or any(m.tape.baseline == base.id for m in plan.marks):
            points += _needed(base, plan)
    points = points or [(0.0, 0.0), (1.0, 1.0)]
    west, east = min(p[0] for p in points), max(p[0] for p in points)
    south, north = min(p[1] for p in points), max(p[1] for p in points)
    room = WIDTH_MM - 2 * _MARGIN_MM, _DRAWN_MM - 2 * _MARGIN_MM
    scales = [12 * n for n in _FEET_TO_INCH] if job.display_units == "ft-in" else list(_SCALES)
    fits = (
        s for s in scales if (east - west) * 1000 / s <= room[0] and (north - south) * 1000 / s <= room[1]
    )
    scale = next(fits, scales[-1])
    mm_per_m = 1000.0 / scale
    spare = max(room[0] - (east - west) * mm_per_m, 0.0) / mm_per_m
    high = max((north - south) * mm_per_m + 2 * _MARGIN_MM + 12.0, 60.0)
    return View(west - 0.5 * spare, north + 8.0 / mm_per_m, mm_per_m, scale), high


def _needed(base: Baseline, plan: MarkPlan) -> list[Point]:
    """The part of a baseline that marks are measured from, its start included."""
    run = base.end_easting_m - base.start_easting_m, base.end_northing_m - base.start_northing_m
    length = math.hypot(*run)
    stations = [m.tape.station_m for m in plan.marks if m.tape.baseline == base.id and m.tape.station_m]
    far = min(max([*stations, 0.0]) + 0.5, max(length, max([*stations, 0.0])))
    share = far / length
    return [
        (base.start_easting_m, base.start_northing_m),
        (base.start_easting_m + run[0] * share, base.start_northing_m + run[1] * share),
    ]


def _inside(at: Point, high: float) -> bool:
    return 2.0 <= at[0] <= WIDTH_MM - 2.0 and 2.0 <= at[1] <= high - 2.0


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _head(sheet: _Sheet, job: Job, view: View, high: float) -> None:
    title = f"{job.id}: {job.title}" if job.title else job.id
    sheet.put((4.0, 6.0), title[:90], "h")
    feet = job.display_units == "ft-in"
    said = f"1 in is {view.scale // 12} ft (1:{view.scale:,})" if feet else f"1:{view.scale:,}"
    note = f"To scale on paper, {said}. Left and right as seen toward larger chainage. No depth is shown."
    sheet.put((4.0, 10.5), ("Invented data. " if is_invented(job) else "") + note, "s")
    x, y = WIDTH_MM - 8.0, 18.0
    sheet.path([(x, y), (x, y - 10.0)], "stroke")
    sheet.path([(x - 1.8, y - 6.5), (x, y - 10.5), (x + 1.8, y - 6.5)], "")
    sheet.put((x - 0.9, y + 3.5), "N", "b")
    sheet.put((x - 9.0, y + 6.8), "grid north", "s")
    unit, name = axis_unit(job.display_units)
    whole = round_step(45.0 / view.mm_per_m / unit, 1)
    wide = whole * unit * view.mm_per_m
    y = high - 4.0
    sheet.path([(4.0, y - 1.5), (4.0, y), (4.0 + wide, y), (4.0 + wide, y - 1.5)], "stroke")
    sheet.put((5.5 + wide, y), f"{whole:g} {name}", "s")
    sheet.taken.append((0.0, y - 3.0, 5.0 + wide, y + 2.0))


def _digs(sheet: _Sheet, job: Job, view: View) -> None:
    for dig in job.digs:
        for ring in dig.rings:
            points = [view.at(p) for p in ring]
            if not any(_inside(p, 400.0) for p in points):
                continue
            sheet.path(points, "dig", closed=dig.kind is DigKind.EXCAVATION)
            sheet.write(points[0], f"{dig.kind.value} {dig.id}, planned", "s", must=False)


def _baseline(sheet: _Sheet, job: Job, base: Baseline, view: View, measured: bool) -> None:
    start, end = (base.start_easting_m, base.start_northing_m), (base.end_easting_m, base.end_northing_m)
    length = math.dist(start, end)
    unit, name = axis_unit(job.display_units)
    a, b = view.at(start), view.at(end)
    sheet.path([a, b], "base")
    across = (b[1] - a[1]) / math.dist(a, b), -(b[0] - a[0]) / math.dist(a, b)
    step = round_step(length / unit, max(2, int(length * view.mm_per_m / 18.0)))
    sheet.path([(a[0] - 1.5, a[1]), (a[0] + 1.5, a[1])], "stroke")
    sheet.path([(a[0], a[1] - 1.5), (a[0], a[1] + 1.5)], "stroke")
    sheet.write(a, f"{base.id} starts, 0 {name}", "b s")
    for station in multiples(step, length / unit, step):
        share = station * unit / length
        x, y = a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share
        if _inside((x, y), 400.0):
            sheet.path(
                [(x - across[0], y - across[1]), (x + across[0], y + across[1])],
                "",
            )
            if not measured:
                sheet.write((x, y), f"{station:g}", "s", must=False)


def _lines(sheet: _Sheet, job: Job, solution: Solution, plan: MarkPlan, view: View) -> None:
    for estimate in solution.lines:
        points = [view.at((s.easting_m, s.northing_m)) for s in estimate.stations]
        mine = next((m for m in plan.marks if m.line == estimate.line), None)
        if len(points) < 2 or mine is None:
            continue
        hue = read_data("colours")["on_white"].get(mine.colour, "#fff")
        sheet.path(points, "rim")
        sheet.path(points, "core", f' style="stroke:{hue};stroke-width:.8;stroke-linejoin:round"')
        sheet.block(points)
    for estimate in solution.lines:
        if estimate.stations and any(m.line == estimate.line for m in plan.marks):
            last = estimate.stations[-1]
            sheet.write(view.at((last.easting_m, last.northing_m)), line_name(job, estimate.line), "b")


def _marks(sheet: _Sheet, job: Job, plan: MarkPlan, view: View, high: float) -> None:
    feet: dict[str, list[float]] = {}
    several = len({m.line for m in plan.marks}) > 1
    for mark in plan.marks:
        at = view.at((mark.easting_m, mark.northing_m))
        across = math.radians(mark.along_deg + 90.0)
        e, n = 1.6 * math.sin(across), -1.6 * math.cos(across)
        if mark.edges is not None:
            edges = [view.at(p) for p in mark.edges]
            sheet.path(edges, "stroke")
            for x, y in edges:
                sheet.path([(x - n, y + e), (x + n, y - e)], "stroke")
        elif mark.kind is MarkKind.OFFSET and mark.toward_deg is not None and mark.distance_m is not None:
            toward = math.radians(mark.toward_deg)
            run = mark.distance_m * view.mm_per_m
            tip = at[0] + run * math.sin(toward), at[1] - run * math.cos(toward)
            sheet.path([at, tip], "stroke")
            sheet.parts.append(f'<circle cx="{num(tip[0])}" cy="{num(tip[1])}" r=".6"/>')
        else:
            sheet.path([(at[0] - e, at[1] - n), (at[0] + e, at[1] + n)], "stroke")
        beside = (at[0] + 1.4 * e, at[1] + 1.4 * n)
        sheet.write(beside, f"{mark.line}-{mark.number}" if several else f"{mark.number}", "b")
    for mark in plan.marks:
        _dimension(sheet, job, mark, view, feet)


def _dimension(sheet: _Sheet, job: Job, mark: Mark, view: View, feet: dict[str, list[float]]) -> None:
    """From the baseline square out to a mark, where the lines do not crowd; all stand in the table."""
    base = next((b for b in job.baselines if b.id == mark.tape.baseline), None)
    if base is None:
        return
    place = (mark.easting_m, mark.northing_m)
    station, offset = along_baseline(base, place)
    taken = feet.setdefault(base.id, [])
    crowded = any(abs(station - other) * view.mm_per_m < 5.0 for other in taken)
    if crowded or abs(offset) * view.mm_per_m < 10.0:
        return
    taken.append(station)
    start, end = (base.start_easting_m, base.start_northing_m), (base.end_easting_m, base.end_northing_m)
    share = station / math.dist(start, end)
    foot = view.at((start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share))
    tip = view.at(place)
    sheet.path([foot, tip], "dim")
    units = job.display_units
    turn = math.degrees(math.atan2(tip[1] - foot[1], tip[0] - foot[0]))
    turn = turn + 180.0 if not -90.0 <= turn < 90.0 else turn
    away = math.dist(foot, tip)
    # The station stands beyond the baseline, where no dimension runs.
    for out_mm, text in ((0.5 * away, words.length(offset, units)), (-7.0, words.length(station, units))):
        x, y = (foot[k] + (tip[k] - foot[k]) * out_mm / away for k in (0, 1))
        sheet.parts.append(
            f'<text class="s" text-anchor="middle" dy="-.5" transform="translate({num(x)} {num(y)}) '
            f'rotate({num(turn)})">{escaped(text)}</text>'
        )


def _table(sheet: _Sheet, job: Job, plan: MarkPlan, top: float) -> float:
    """Every mark with its measures, below the drawing; the height of the sheet then."""
    units = job.display_units
    columns = (4.0, 20.0, 60.0, 77.0, 97.0, 121.0)
    heads = ("mark", "kind", "along", "station", "from baseline", "swing ties, or place")
    y = top + 6.0
    for x, text in zip(columns, heads, strict=True):
        sheet.put((x, y), text, "b s")
    for mark in plan.marks[:_MOST_ROWS]:
        y += _ROW_MM
        tape = mark.tape
        station = "" if tape.station_m is None else _station(tape.station_m, units)
        offset = "" if tape.offset_m is None else _sided(tape.offset_m, units)
        ties = ", ".join(f"{corner} {words.length(away, units)}" for corner, away in tape.ties)
        kind = kind_words(job, mark)
        if mark.kind is MarkKind.OFFSET and mark.distance_m is not None:
            kind = f"offset, {words.length(mark.distance_m, units)} to {mark.toward_deg:.0f} deg"
        cells = (
            f"{mark.line}-{mark.number}",
            kind if len(kind) <= 30 else f"{kind[:29]}…",
            words.length(mark.chainage_m, units),
            station + (f" {tape.baseline}" if station and len(job.baselines) > 1 else ""),
            offset,
            f"{ties} ({tape.tie_side})" if ties else "" if station else _grid(mark),
        )
        sheet.path([(4.0, y - 3.4), (WIDTH_MM - 4.0, y - 3.4)], "rule")
        for x, text in zip(columns, cells, strict=True):
            sheet.put((x, y), text, "s")
    if len(plan.marks) > _MOST_ROWS:
        y += _ROW_MM
        more = len(plan.marks) - _MOST_ROWS
        sheet.put((4.0, y), f"and {more:,} more, in the file of numbers (--json)", "s")
    return y + 5.0


def _sided(offset_m: float, units: str) -> str:
    """A distance and its side: a lost sign would put the paint on the wrong side of the baseline."""
    return f"{words.length(offset_m, units)} {'right' if offset_m > 0.0 else 'left'}"


def _grid(mark: Mark) -> str:
    return f"easting {mark.easting_m:.2f} m, northing {mark.northing_m:.2f} m"


def _station(station_m: float, units: str) -> str:
    return ("" if station_m >= 0.0 else "before start, ") + words.length(station_m, units)
