"""The answer as layers: places, lines, the bands they lie in, second lines, changes of the current."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from plumbmark.handover import answer, words
from plumbmark.handover.page_plan import band_ends, beside
from plumbmark.handover.page_svg import colour_name
from plumbmark.model.estimate import Interval, LineEstimate, Neighbour, Solution
from plumbmark.model.job import Job, Line
from plumbmark.model.layer import Area, Attribute, Cell, Feature, Holds, Layer, Path, Position, Shape

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

BELOW = "Its third number is metres above the ground, so negative: it is no height above any datum."
_TEXT, _NUMBER, _WHOLE = Holds.TEXT, Holds.NUMBER, Holds.WHOLE

LINE_COLUMNS = (
    Attribute("line", _TEXT, "id of the line"),
    Attribute("utility", _TEXT, "what it carries"),
    Attribute("colour", _TEXT, "of the uniform colour code; empty where unknown"),
    Attribute("owner", _TEXT, "as the job says"),
)
_PLACE_COLUMNS = (
    *LINE_COLUMNS,
    Attribute("kind", _TEXT, "reading, profile (a walk across) or side_reading"),
    Attribute("id", _TEXT, "of the reading"),
    Attribute("chainage_m", _NUMBER, "along the line"),
    Attribute("shift_right_m", _NUMBER, "from the field mark to the line, positive to the row's right"),
    Attribute("shift_low_m", _NUMBER, "low end of its band, which holds the truth 19 times in 20"),
    Attribute("shift_high_m", _NUMBER, "high end"),
    Attribute("right_deg", _NUMBER, "bearing of the row's right from grid north"),
    Attribute("depth_m", _NUMBER, "estimate, from the ground to the middle of the line"),
    Attribute("depth_low_m", _NUMBER, "shallow end of its band"),
    Attribute("depth_high_m", _NUMBER, "deep end"),
    Attribute("current_ma", _NUMBER, "RMS"),
    Attribute("current_low_ma", _NUMBER, "low end of its band"),
    Attribute("current_high_ma", _NUMBER, "high end"),
    Attribute("one_line_chance", _NUMBER, "that no other current moves mark or depth here"),
    Attribute("numbers_hold_chance", _NUMBER, "mark within 0.1 m and depth within a tenth of the truth"),
    Attribute("trust", _TEXT, "holds, loose or unproven"),
    Attribute("because", _TEXT, "reasons"),
    Attribute("next_step", _TEXT, "what would help here"),
)
_LINE_COLUMNS = (
    *LINE_COLUMNS,
    Attribute("state", _TEXT, "live, abandoned or unknown"),
    Attribute("which_line", _TEXT, "is it the line it is said to be: proven, likely or not known"),
    Attribute("places", _WHOLE, "number of places solved"),
    Attribute("holds", _WHOLE, "of them, places whose numbers hold"),
    Attribute("outside_diameter_m", _NUMBER, "as the job says"),
    Attribute("depth_shallowest_m", _NUMBER, "shallow end of the band where it comes up most, to the middle"),
    Attribute("depth_deepest_m", _NUMBER, "deep end of the band where it goes down most, to the middle"),
)
_SECOND_COLUMNS = (
    Attribute("beside_line", _TEXT, "id of the line whose readings speak for it"),
    Attribute("is_line", _TEXT, "id of the line of the job it is taken to be"),
    Attribute("colour", _TEXT, "of the uniform colour code; empty where unknown"),
    Attribute("from_chainage_m", _NUMBER, "along that line"),
    Attribute("to_chainage_m", _NUMBER, "along that line"),
    Attribute("offset_right_m", _NUMBER, "to the right of increasing chainage"),
    Attribute("offset_low_m", _NUMBER, "low end of its band"),
    Attribute("offset_high_m", _NUMBER, "high end"),
    Attribute("depth_m", _NUMBER, "estimate, to the middle of it"),
    Attribute("current_ratio", _NUMBER, "its current over the line's; negative flows the other way"),
    Attribute("chance", _NUMBER, "that it is there"),
)
_EVENT_COLUMNS = (
    Attribute("line", _TEXT, "id of the line"),
    Attribute("chainage_m", _NUMBER, "along it"),
    Attribute("kind", _TEXT, "drop, rise or reversal"),
    Attribute("change_db", _NUMBER, "of the current"),
    Attribute("chance", _NUMBER, "that it is there"),
)


def answer_layers(job: Job, solution: Solution) -> tuple[Layer, ...]:
    """Layers of what was solved.

    Parameters
    ----------
    job : Job
    solution : Solution
        Of this job.

    Returns
    -------
    tuple of Layer
        In the job's own coordinates.
    """
    known = {line.id: line for line in job.lines}
    return (
        Layer(
            "solved_places",
            "The ground above the line at every place that was solved",
            Shape.POINT,
            _PLACE_COLUMNS,
            [f for line in solution.lines for f in _places(line, known.get(line.line))],
        ),
        Layer(
            "solved_lines_below_ground",
            f"The lines that were solved. {BELOW}",
            Shape.LINE,
            _LINE_COLUMNS,
            [_line(line, known.get(line.line)) for line in solution.lines if len(line.stations) > 1],
            upright=True,
        ),
        Layer(
            "bands",
            "Where the line runs, 19 times in 20; straight between the places solved",
            Shape.AREA,
            LINE_COLUMNS,
            [_band(line, known.get(line.line)) for line in solution.lines if line.stations],
        ),
        Layer(
            "second_lines_below_ground",
            f"Other currents that the readings speak for. {BELOW}",
            Shape.LINE,
            _SECOND_COLUMNS,
            [_second(line, n, known) for line, n in _neighbours(solution)],
            upright=True,
        ),
        Layer(
            "second_line_bands",
            "Where a second line runs, 19 times in 20 if it is there",
            Shape.AREA,
            _SECOND_COLUMNS,
            [_second_band(line, n, known) for line, n in _neighbours(solution)],
        ),
        Layer(
            "current_events",
            "Where the current along a line changes",
            Shape.POINT,
            _EVENT_COLUMNS,
            [f for line in solution.lines if line.stations for f in _events(line)],
        ),
    )


def line_cells(ident: str, line: Line | None) -> tuple[Cell, ...]:
    """The cells of `LINE_COLUMNS`."""
    if line is None:
        return ident, None, None, None
    return ident, line.utility.value, colour_name(line.utility.value), line.owner


def short_piece(
    easting_m: float, northing_m: float, right_deg: float, half_m: float
) -> tuple[Position, Position]:
    """Both ends of a short piece of line, square to its right."""
    ahead = math.radians(right_deg - 90.0)
    east, north = half_m * math.sin(ahead), half_m * math.cos(ahead)
    return (easting_m - east, northing_m - north), (easting_m + east, northing_m + north)


def _neighbours(solution: Solution) -> Iterator[tuple[LineEstimate, Neighbour]]:
    for line in solution.lines:
        for neighbour in line.neighbours if line.stations else ():
            yield line, neighbour


def _three(interval: Interval, scale: float = 1.0) -> tuple[float, float, float]:
    return scale * interval.value, scale * interval.low, scale * interval.high


def _places(line: LineEstimate, known: Line | None) -> Iterator[Feature]:
    who = line_cells(line.line, known)
    for s in line.stations:
        cells: tuple[Cell, ...] = (
            *who,
            s.source,
            s.id,
            s.chainage_m,
            *_three(s.lateral_shift_m),
            s.right_deg,
            *_three(s.depth_m),
            *_three(s.current_a, 1e3),
            s.single_line_probability,
            s.within_10_probability,
            s.trust.value,
            " ".join(map(words.sentence, s.because)),
            words.sentence(s.next_step),
        )
        yield Feature((s.easting_m, s.northing_m), cells)


def _line(line: LineEstimate, known: Line | None) -> Feature:
    stations = line.stations
    path = tuple((s.easting_m, s.northing_m, -s.depth_m.value) for s in stations)
    cells: tuple[Cell, ...] = (
        *line_cells(line.line, known),
        known.state.value if known else None,
        line.identity.value,
        len(stations),
        sum(s.trust.value == "holds" for s in stations),
        known.outside_diameter_m if known else None,
        min(s.depth_m.low for s in stations),
        max(s.depth_m.high for s in stations),
    )
    return Feature(path, cells)


def _band(line: LineEstimate, known: Line | None) -> Feature:
    """The band in plan; of a lone place a piece of it 0.8 m long."""
    who = line_cells(line.line, known)
    stations = line.stations
    if len(stations) == 1:
        left, right = band_ends(stations[0], back=False)
        one = short_piece(*left, stations[0].right_deg, 0.4)
        return Feature(_ring([*one, *reversed(short_piece(*right, stations[0].right_deg, 0.4))]), who)
    ends = [band_ends(s, back=b) for s, b in zip(stations, answer.faces_back(line), strict=True)]
    return Feature(_ring([e[0] for e in ends] + [e[1] for e in reversed(ends)]), who)


def _second(line: LineEstimate, neighbour: Neighbour, known: dict[str, Line]) -> Feature:
    points = beside(line, neighbour, neighbour.offset_m.value)
    path: Path = tuple((*p, -neighbour.depth_m) for p in points)
    return Feature(path if len(path) > 1 else None, _second_cells(line, neighbour, known))


def _second_band(line: LineEstimate, neighbour: Neighbour, known: dict[str, Line]) -> Feature:
    low, high = (beside(line, neighbour, x) for x in (neighbour.offset_m.low, neighbour.offset_m.high))
    area = _ring([*low, *reversed(high)]) if len(low) > 1 else None
    return Feature(area, _second_cells(line, neighbour, known))


def _second_cells(line: LineEstimate, neighbour: Neighbour, known: dict[str, Line]) -> tuple[Cell, ...]:
    same = known.get(neighbour.is_line) if neighbour.is_line else None
    return (
        line.line,
        neighbour.is_line,
        colour_name(same.utility.value) if same else None,
        neighbour.from_chainage_m,
        neighbour.to_chainage_m,
        *_three(neighbour.offset_m),
        neighbour.depth_m,
        neighbour.current_ratio,
        neighbour.probability,
    )


def _ring(points: Sequence[Position]) -> tuple[Area, ...] | None:
    """An area of one ring, mended where the ring meets itself; None where nothing is left of it.

    A band crosses itself at sharp bends, and has no width where a place is known exactly.
    """
    import shapely

    return areas_of(shapely.make_valid(shapely.Polygon(points)))


def areas_of(shape: BaseGeometry) -> tuple[Area, ...] | None:
    """The areas of a shape or of a collection of shapes, turned as RFC 7946 wants them."""
    import shapely

    found = []
    for part in shapely.get_parts(shapely.get_parts(shape)):
        if part.geom_type == "Polygon" and part.area > 0:
            turned = shapely.orient_polygons(part)
            rings = (turned.exterior, *turned.interiors)
            found.append(tuple(tuple(map(tuple, ring.coords)) for ring in rings))
    return tuple(found) or None


def _events(line: LineEstimate) -> Iterator[Feature]:
    for event in line.current_events:
        place = place_on(line, event.chainage_m)
        yield Feature(place, (line.line, event.chainage_m, event.kind, event.change_db, event.probability))


def place_on(line: LineEstimate, chainage_m: float) -> Position:
    """Ground above a line at a chainage, straight between its stations, held at its ends."""
    stations = line.stations
    after = next((i for i, s in enumerate(stations) if s.chainage_m >= chainage_m), len(stations) - 1)
    a, b = stations[max(after - 1, 0)], stations[after]
    run = b.chainage_m - a.chainage_m
    t = min(max((chainage_m - a.chainage_m) / run, 0.0), 1.0) if run > 0 else 0.0
    return (a.easting_m + t * (b.easting_m - a.easting_m), a.northing_m + t * (b.northing_m - a.northing_m))
