"""Marks, zones and what a dig demands, as layers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from plumbmark.handover.layers_answer import areas_of
from plumbmark.handover.layers_facts import Col, layer_of, number, text
from plumbmark.handover.page_svg import colour_name
from plumbmark.model.clearance import ClearanceAnswer, Ring
from plumbmark.model.job import Job
from plumbmark.model.layer import Geometry, Holds, Layer, Shape
from plumbmark.model.mark import MarkPlan, PaintedMark

_ZONES = "Tolerance zones: in them hand dig or vacuum until the line is seen"
_MARKS = (
    text("line", "id of the line", lambda m: m.line),
    Col("number", Holds.WHOLE, "in the order walked", lambda m: m.number),
    text("kind", "centre, edges, corridor, offset, end or tee", lambda m: m.kind.value),
    text("colour", "of the uniform colour code", lambda m: m.colour),
    number("chainage_m", "along the line", lambda m: m.chainage_m),
    number("along_deg", "bearing of the line there, from grid north", lambda m: m.along_deg),
    text("text", "to be written beside it", lambda m: m.text),
    number("toward_deg", "offset mark: direction to the line", lambda m: m.toward_deg),
    number("distance_m", "offset mark: distance to the line", lambda m: m.distance_m),
    text("because", "why it stands here", lambda m: m.because),
)
_PAINTED = (
    text("mark", "id", lambda m: m.id),
    text("line", "id of the line", lambda m: m.line),
    text("kind", "centre, edges, corridor, offset, end or tee", lambda m: m.kind.value),
    text("colour", "as painted", lambda m: m.colour),
    text("painted_at", "ISO 8601 with offset", lambda m: m.painted_at.isoformat() if m.painted_at else None),
    text("painted_by", "who painted it", lambda m: m.by),
    text("state", "what became of it", lambda m: m.state.value),
    text("state_at", "since when", lambda m: m.state_at.isoformat() if m.state_at else None),
    text("photo", "file name", lambda m: m.photo),
    number("toward_deg", "offset mark: direction to the line", lambda m: m.toward_deg),
    number("distance_m", "offset mark: distance to the line", lambda m: m.distance_m),
    text("note", "as written", lambda m: m.note),
)
_STRETCHES = (
    text("dig", "id of the dig", lambda s: s.dig),
    text(
        "demand",
        "what it demands; nothing here permits a machine inside a zone",
        lambda s: s.demand.value,
    ),
    text("because_of", "lines and records it comes from", lambda s: ", ".join(s.names)),
    number("from_m", "along a trench or bore", lambda s: s.from_m),
    number("to_m", "along a trench or bore", lambda s: s.to_m),
)
_HOLES = (
    Col("number", Holds.WHOLE, "in the order that settles most", lambda h: h.number),
    text("line", "id of the line", lambda h: h.line),
    number("chainage_m", "along the line", lambda h: h.chainage_m),
    number("from_deg", "start on this side, bearing from the line", lambda h: h.from_deg),
    number("top_expected_m", "depth to the top, estimate", lambda h: h.top_m.value),
    number("top_low_m", "shallow end of its band", lambda h: h.top_m.low),
    number("top_high_m", "deep end", lambda h: h.top_m.high),
    text("what_to_do", "and when to stop", lambda h: " ".join(h.words)),
)


def _at(thing: object) -> Geometry:
    return thing.easting_m, thing.northing_m  # type: ignore[attr-defined]


def mark_layers(plan: MarkPlan | None, painted: Sequence[PaintedMark]) -> tuple[Layer, ...]:
    """Marks to paint and marks as painted, which are kept apart.

    Parameters
    ----------
    plan : MarkPlan or None
    painted : sequence of PaintedMark

    Returns
    -------
    tuple of Layer
    """
    return (
        layer_of("marks", "Marks to paint", Shape.POINT, _MARKS, plan.marks if plan else (), _at),
        layer_of(
            "painted_marks",
            "Marks as they were painted",
            Shape.POINT,
            _PAINTED,
            painted,
            lambda m: (m.place.easting_m, m.place.northing_m),
        ),
    )


def clearance_layers(job: Job, answer: ClearanceAnswer | None) -> tuple[Layer, ...]:
    """Tolerance zones, what the stretches of a dig demand, test holes to be dug.

    Parameters
    ----------
    job : Job
    answer : ClearanceAnswer or None

    Returns
    -------
    tuple of Layer
    """
    utility = {line.id: line.utility.value for line in job.lines}

    def colour(zone: Any) -> str | None:
        return colour_name(utility.get(zone[0].line))

    zones = (
        text("line", "id of the line", lambda z: z[0].line),
        text("utility", "what it carries", lambda z: utility.get(z[0].line)),
        text(
            "colour",
            "of the uniform colour code; empty where unknown",
            colour,
        ),
        text(
            "kind",
            "lawful: about the marks; honest: about the band of the line",
            lambda z: z[1],
        ),
        number("half_width_m", "of the lawful zone", lambda z: z[0].half_width_m),
        number("outside_diameter_m", "taken for it", lambda z: z[0].diameter_m),
        text("diameter_from", "where that comes from", lambda z: z[0].diameter_said),
        text("rule", "name of the rule", lambda z: answer.rule.title if answer else None),
        text("source", "of the rule", lambda z: answer.rule.source if answer else None),
    )
    answered = () if answer is None else answer.zones
    both = [(z, kind, getattr(z, kind)) for z in answered for kind in ("lawful", "honest")]
    digs = () if answer is None else answer.digs
    holes = () if answer is None else answer.holes
    stretches = [s for dig in digs for s in dig.stretches]
    return (
        layer_of("zones", _ZONES, Shape.AREA, zones, both, lambda z: rings_area(z[2])),
        layer_of(
            "dig_stretches",
            "What each stretch of a planned dig demands",
            Shape.AREA,
            _STRETCHES,
            stretches,
            lambda s: rings_area(s.rings),
        ),
        layer_of("test_holes_to_dig", "Test holes that would settle most", Shape.POINT, _HOLES, holes, _at),
    )


def rings_area(rings: Sequence[Ring]) -> Geometry | None:
    """An area of rings of which none says whether it is a hole: inside an odd number of them is in."""
    import shapely

    whole = [shapely.make_valid(shapely.Polygon(ring)) for ring in rings if len(ring) > 2]
    return areas_of(shapely.symmetric_difference_all(whole)) if whole else None
