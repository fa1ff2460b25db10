"""What was written down, as layers: readings, walks across, test holes, records, digs, what tapes hold to."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from plumbmark.handover.layers_answer import areas_of, line_cells
from plumbmark.handover.page_svg import colour_name
from plumbmark.model.job import Job, Line
from plumbmark.model.layer import Area, Attribute, Cell, Feature, Geometry, Holds, Layer, Path, Shape
from plumbmark.model.measured import Measured
from plumbmark.model.record import Dig, DigKind


class Col(NamedTuple):
    """A column together with where its cell comes from."""

    name: str
    holds: Holds
    means: str
    cell: Callable[[Any], Cell]


def layer_of(
    name: str,
    title: str,
    shape: Shape,
    columns: Sequence[Col],
    things: Iterable[Any],
    geometry: Callable[[Any], Geometry | None],
    upright: bool = False,
) -> Layer:
    """A layer from things and where their cells and places come from."""
    features = [Feature(geometry(t), tuple(column.cell(t) for column in columns)) for t in things]
    return Layer(
        name, title, shape, tuple(Attribute(c.name, c.holds, c.means) for c in columns), features, upright
    )


def text(name: str, means: str, cell: Callable[[Any], Cell]) -> Col:
    """A column of text."""
    return Col(name, Holds.TEXT, means, cell)


def number(name: str, means: str, cell: Callable[[Any], Cell]) -> Col:
    """A column of numbers."""
    return Col(name, Holds.NUMBER, means, cell)


def truth(name: str, means: str, cell: Callable[[Any], Cell]) -> Col:
    """A column of yes or no."""
    return Col(name, Holds.TRUTH, means, cell)


def measured(
    name: str, means: str, pick: Callable[[Any], Measured | None], scale: float = 1.0
) -> tuple[Col, ...]:
    """A written number, and beside it how far the range reaches to each side where a range was written."""
    stem, _, unit = name.rpartition("_")

    def value(thing: Any) -> Cell:
        found = pick(thing)
        return None if found is None else found.value * scale

    def half(thing: Any) -> Cell:
        found = pick(thing)
        return None if found is None or not found.half_range else found.half_range * scale

    return (
        number(name, means, value),
        number(f"{stem}_half_range_{unit}", "half the range that was written, where one was", half),
    )


def _place(thing: Any) -> Geometry:
    return thing.place.easting_m, thing.place.northing_m


def facts_layers(job: Job) -> tuple[Layer, ...]:
    """Layers of what the files of a job hold.

    Parameters
    ----------
    job : Job

    Returns
    -------
    tuple of Layer
        In the job's own coordinates; those of which the job has nothing are empty.
    """
    known = {line.id: line for line in job.lines}
    readings, walks, sides, holes = _readings(known), _walks(known), _sides(known), _holes(known)
    return (
        layer_of(
            "readings",
            "Readings as written down, at the field mark",
            Shape.POINT,
            readings,
            job.readings,
            _place,
        ),
        layer_of(
            "walks_across",
            "Walks across the line, at their zero point",
            Shape.POINT,
            walks,
            job.profiles,
            _place,
        ),
        layer_of(
            "readings_from_the_side",
            "Where the receiver stood",
            Shape.POINT,
            sides,
            job.side_readings,
            _place,
        ),
        layer_of("test_holes", "Test holes that were dug", Shape.POINT, holes, job.test_holes, _place),
        layer_of(
            "records",
            "What others say is there",
            Shape.LINE,
            _RECORDS,
            job.records,
            lambda r: r.path,
        ),
        _digs(job),
        layer_of("baselines", "Baselines", Shape.LINE, _BASELINES, job.baselines, _baseline),
        layer_of(
            "corners",
            "Points that a tape can be held to",
            Shape.POINT,
            _CORNERS,
            job.corners,
            _corner,
        ),
    )


def of_line(known: dict[str, Line]) -> tuple[Col, ...]:
    """The columns that say which line something belongs to."""
    return (
        text("line", "id of the line", lambda t: t.line),
        text("utility", "what it carries", lambda t: line_cells(t.line, known.get(t.line))[1]),
        text(
            "colour",
            "of the uniform colour code; empty where unknown",
            lambda t: line_cells(t.line, known.get(t.line))[2],
        ),
    )


def _readings(known: dict[str, Line]) -> tuple[Col, ...]:
    return (
        text("reading", "id", lambda r: r.id),
        *of_line(known),
        text("setup", "id of the hook-up", lambda r: r.setup),
        text("taken_at", "ISO 8601 with offset", lambda r: r.taken_at.isoformat() if r.taken_at else None),
        text("taken_by", "who read it", lambda r: r.by),
        text("mark_by", "peak, null, guided or unknown", lambda r: r.mark_by.value),
        number("bearing_deg", "of the line, from grid north; may point either way", lambda r: r.bearing_deg),
        *measured(
            "null_offset_m",
            "from the peak mark to the null, right positive",
            lambda r: r.null_offset_m,
        ),
        *measured("half_left_m", "from the peak mark to half the signal, left", lambda r: r.half_left_m),
        *measured("half_right_m", "the same to the right", lambda r: r.half_right_m),
        *measured("displayed_depth_m", "as displayed, foot on the ground; no estimate", lambda r: r.depth_m),
        text("depth_method", "two-coil, sonde or unknown", lambda r: r.depth_method.value),
        truth("depth_refused", "the display withheld the depth", lambda r: r.depth_refused),
        *measured("displayed_current_ma", "as displayed, RMS", lambda r: r.current_a, 1e3),
        text("current_sign", "+ or - where shown", lambda r: {1: "+", -1: "-"}.get(r.current_sign)),
        *measured("raised_by_m", "how far the receiver was raised", lambda r: r.raised_by_m),
        *measured("raised_depth_m", "as displayed then", lambda r: r.raised_depth_m),
        *measured("null_ahead_m", "sonde: to the null ahead along the duct", lambda r: r.null_ahead_m),
        *measured("null_behind_m", "sonde: to the null behind", lambda r: r.null_behind_m),
        number("position_sigma_m", "of the position fix, one sigma", lambda r: r.place.sigma_m),
        text("note", "as written", lambda r: r.note),
    )


def _walks(known: dict[str, Line]) -> tuple[Col, ...]:
    return (
        text("profile", "id", lambda p: p.id),
        *of_line(known),
        text("setup", "id of the hook-up", lambda p: p.setup),
        number("bearing_deg", "of the line, from grid north", lambda p: p.bearing_deg),
        Col("points", Holds.WHOLE, "number of points written down", lambda p: len(p.points)),
        text("scale", "linear, db or unknown", lambda p: p.scale.value),
    )


def _sides(known: dict[str, Line]) -> tuple[Col, ...]:
    return (
        text("side_reading", "id", lambda s: s.id),
        *of_line(known),
        text("setup", "id of the hook-up", lambda s: s.setup),
        number("toward_deg", "direction to the line, from grid north", lambda s: s.toward_deg),
        *measured("distance_m", "to the line in plan, as displayed", lambda s: s.distance_m),
        *measured("displayed_depth_m", "as displayed", lambda s: s.depth_m),
    )


def _holes(known: dict[str, Line]) -> tuple[Col, ...]:
    return (
        text("test_hole", "id", lambda h: h.id),
        *of_line(known),
        truth("found", "the line was seen", lambda h: h.found),
        *measured("depth_to_top_m", "from the ground to the top of the line", lambda h: h.depth_to_top_m),
        *measured("outside_diameter_m", "as seen", lambda h: h.outside_diameter_m),
        *measured("dug_to_m", "how deep was dug", lambda h: h.dug_to_m),
        text("proved", "what it turned out to be", lambda h: h.proved),
        number("position_sigma_m", "of the position fix, one sigma", lambda h: h.place.sigma_m),
    )


#: The names of a record's columns are those that `records.geojson` is read by.
_RECORDS = (
    text("id", "id of the record", lambda r: r.id),
    text("line", "id of the line of this job", lambda r: r.line),
    text("utility", "what it carries", lambda r: r.utility),
    text("colour", "of the uniform colour code; empty where unknown", lambda r: colour_name(r.utility)),
    number("depth_m", "as on record", lambda r: r.depth_m),
    number("outside_diameter_m", "as on record", lambda r: r.outside_diameter_m),
    text("source", "where the record is from", lambda r: r.source),
    text("date", "of the record", lambda r: r.date),
    number("position_sigma_m", "how well its place is known, one sigma", lambda r: r.position_sigma_m),
)


def _deepest(dig: Dig) -> float | None:
    return max(dig.depths_m) if dig.depths_m else dig.depth_m


_BASELINES = (text("baseline", "id; stations count from its first point", lambda b: b.id),)
_CORNERS = (text("corner", "id", lambda c: c.id),)
_DIGS = (
    text("dig", "id", lambda d: d.id),
    text("kind", "excavation, trench or bore", lambda d: d.kind.value),
    number("planned_depth_m", "of the dig, its deepest", _deepest),
    number("width_m", "of a trench", lambda d: d.width_m),
    number("diameter_m", "of a bore", lambda d: d.diameter_m),
    number("position_sigma_m", "how well its place is known, one sigma", lambda d: d.position_sigma_m),
)


def _corner(corner: Any) -> Geometry:
    return corner.easting_m, corner.northing_m


def _baseline(base: Any) -> Path:
    return (base.start_easting_m, base.start_northing_m), (base.end_easting_m, base.end_northing_m)


def _digs(job: Job) -> Layer:
    """Areas that will be dug: of a trench or bore its path at its full width, 0.1 m where none is given."""
    return layer_of("digs", "What is to be dug, as planned", Shape.AREA, _DIGS, job.digs, dig_area)


def dig_area(dig: Dig) -> tuple[Area, ...] | None:
    """Ground that a dig opens: of a trench or bore its path at its full width, 0.1 m where none is given."""
    import shapely

    if dig.kind is DigKind.EXCAVATION:
        return areas_of(shapely.make_valid(shapely.Polygon(dig.rings[0], dig.rings[1:])))
    wide = (dig.width_m if dig.kind is DigKind.TRENCH else dig.diameter_m) or 0.1
    paths = shapely.MultiLineString([ring for ring in dig.rings if len(ring) > 1])
    return areas_of(paths.buffer(0.5 * wide, cap_style="flat", join_style="mitre"))
