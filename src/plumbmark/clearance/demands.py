"""What a meeting of dig and line demands, and why; in which parts of the dig."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from plumbmark.base.spoken import spoken_length
from plumbmark.clearance.encounters import Meeting
from plumbmark.clearance.shapes import Footprint, beside, outline, rings_of
from plumbmark.clearance.things import RECORD_SIGMA_M, Z_95, Thing
from plumbmark.clearance.zones import Band, band_area, path_shape
from plumbmark.model.clearance import Demand, Encounter, Met, StretchAnswer, Zone, ZoneRule
from plumbmark.model.estimate import Identity, Trust
from plumbmark.model.job import Job
from plumbmark.model.mark import MarkKind

DOUBTFUL = 0.05  # a chance of less than asked for from which a test hole comes first
LIKELY = 0.5  # a second line this likely is looked for with a test hole
NEAR_M = 3.0  # readings and test holes so far along count as near
BEYOND_M = 10.0  # where a line goes past the last reading is not known, so far and so wide:
BEYOND_DEG = 30.0
_SMALL_M2 = 0.01


def demanded(
    meeting: Meeting, encounter: Encounter, rule: ZoneRule, zone: Zone | None, job: Job
) -> Encounter:
    """An encounter with what it demands and the reasons.

    Parameters
    ----------
    meeting : Meeting
    encounter : Encounter
        Of that meeting.
    rule : ZoneRule
    zone : Zone or None
        Of a solved line.
    job : Job

    Returns
    -------
    Encounter
    """
    units = job.display_units
    if encounter.met is Met.RECORD:
        return replace(encounter, demand=Demand.NOT_KNOWN, because=_of_record(meeting.thing, units))
    if encounter.met is Met.SECOND_LINE:
        demand = Demand.TEST_HOLE if meeting.thing.chance >= LIKELY else Demand.NOT_KNOWN
        because = (
            "The readings speak for another current here, and no line of the job is known to carry it: "
            "hook up to it and locate it, or look for it with a test hole",
            "How deep it is was not read",
        )
        return replace(encounter, demand=demand, because=because)
    wide = spoken_length(rule.distance_m, units)
    why = [f"The zone of {encounter.name}, {wide} each side of it, meets the dig"]
    first: list[str] = []
    if encounter.exposed:
        why.append(
            "It was seen by eye here: what was seen counts, and it is kept in sight while anything is dug"
        )
    else:
        first = _first_look(meeting, encounter, zone, job)
        why.append("A depth taken from the surface makes nothing better: the line has not been seen")
    if encounter.asked_probability >= DOUBTFUL:
        said = spoken_length(encounter.asked_m, units)
        first.append(f"As drawn, the dig may come closer to it than the {said} asked for")
    demand = Demand.TEST_HOLE if first and not encounter.exposed else Demand.HAND_DIG
    return replace(encounter, demand=demand, because=(*first, *why))


def _missed(meeting: Meeting, encounter: Encounter, job: Job) -> list[str]:
    """Test holes near by that looked for the line and did not find it."""
    said = []
    for hole in job.test_holes:
        if hole.line != encounter.name or hole.found:
            continue
        chainage, aside = meeting.band.project(hole.place.easting_m, hole.place.northing_m)
        near = encounter.from_chainage_m - NEAR_M <= chainage <= encounter.to_chainage_m + NEAR_M
        if near and abs(aside) <= NEAR_M:
            said.append(f"Test hole {hole.id} looked for it near here and did not find it")
    return said


def _first_look(meeting: Meeting, encounter: Encounter, zone: Zone | None, job: Job) -> list[str]:
    """Why the line has to be seen before anything else is dug, if it has."""
    said = []
    estimate = meeting.thing.estimate
    if meeting.shape.is_bore:
        said.append("Nobody sees the head of a bore: what it passes is exposed first")
    if encounter.shape == "parallel":
        said.append("The line runs along in the dig, so where it is decides all of it")
    if zone is not None:
        spans = [
            (a, b) for a, b in zone.narrow if a <= encounter.to_chainage_m and b >= encounter.from_chainage_m
        ]
        if spans:
            said.append(
                "The lawful zone about the mark is narrower than what is known: the line can lie outside it"
            )
    if estimate is not None:
        low, high = encounter.from_chainage_m - NEAR_M, encounter.to_chainage_m + NEAR_M
        near = [s for s in estimate.stations if low <= s.chainage_m <= high]
        if any(s.trust is Trust.UNPROVEN for s in near) or not near:
            said.append("The numbers near it are unproven" if near else "No reading was taken near it")
        if estimate.identity is Identity.NOT_KNOWN:
            said.append(f"Whether it is {encounter.name} at all is not known")
    return said + _missed(meeting, encounter, job)


def _of_record(thing: Thing, units: str) -> tuple[str, ...]:
    record = thing.record
    assert record is not None
    what = record.utility or "a line"
    source = f" ({record.source})" if record.source else ""
    sigma = RECORD_SIGMA_M if record.position_sigma_m is None else record.position_sigma_m
    unsaid = ", which is taken since it does not say" if record.position_sigma_m is None else ""
    return (
        f"A record{source} shows {what} here, and nothing was read of it: locate it",
        f"A drawing is weak evidence: it may be off by {spoken_length(Z_95 * sigma, units)}{unsaid}",
    )


# -- parts of a dig ---------------------------------------------------------------------------------------


def area_of(meeting: Meeting, marks: np.ndarray | None, distance_m: float) -> BaseGeometry:
    """Ground that a meeting claims: the zone about band and marks, as far as the meeting goes."""
    band, half = meeting.band, meeting.thing.radius_m + distance_m
    low, high = band.at(meeting.from_m), band.at(meeting.to_m)
    cut = slice(max(low - 1, 0), high + 2)
    piece = Band(band.chainage_m[cut], band.centre[cut], band.right[cut], band.low_m[cut], band.high_m[cut])
    area = band_area(piece, half)
    if marks is not None and len(marks):
        reach = float(np.abs([piece.low_m, piece.high_m]).max()) + half + 1.0
        area = area.union(path_shape(marks).buffer(half).intersection(path_shape(piece.centre).buffer(reach)))
    return area


def beyond_ends(job: Job, thing: Thing, band: Band) -> BaseGeometry:
    """Ground past both ends of what was read, where the line may go on; none where the crew marked an end."""
    estimate = thing.estimate
    if estimate is None:
        return Polygon()
    ends = [m.place for m in job.marks if m.line == thing.name and m.kind is MarkKind.END]
    cones = []
    stations = (estimate.stations[0], estimate.stations[-1])
    for place, station, sign in ((0, stations[0], -1.0), (-1, stations[1], 1.0)):
        at = (station.easting_m, station.northing_m)
        if any(math.dist(at, (e.easting_m, e.northing_m)) <= 1.5 for e in ends):
            continue
        ahead = sign * np.array([-band.right[place][1], band.right[place][0]])
        cones.append(_cone(band.centre[place], ahead))
    return shapely.union_all(cones) if cones else Polygon()


def _cone(tip: np.ndarray, ahead: np.ndarray) -> BaseGeometry:
    turns = np.radians(np.linspace(-BEYOND_DEG, BEYOND_DEG, 13))
    rim = [
        tip
        + BEYOND_M
        * np.array([ahead[0] * np.cos(t) + ahead[1] * np.sin(t), ahead[1] * np.cos(t) - ahead[0] * np.sin(t)])
        for t in turns
    ]
    return Polygon([tip, *rim])


Claim = tuple[Demand, str, BaseGeometry]


def stretches_of(shape: Footprint, claims: Sequence[Claim]) -> list[StretchAnswer]:
    """Parts of a dig by what they demand.

    Parameters
    ----------
    shape : Footprint
    claims : sequence of (Demand, str, geometry)
        What is demanded, on account of what, and where. The higher demand takes the ground.

    Returns
    -------
    list of StretchAnswer
        Along a trench or bore in its order, else by demand. They cover the dig with its edge's stray.
    """
    left = outline(shape, Z_95 * shape.edge_sigma_m)
    found: list[StretchAnswer] = []
    for demand in sorted(Demand, key=lambda d: -d.rank):
        mine = [(name, area) for what, name, area in claims if what is demand]
        if demand is Demand.NOTHING:
            piece = left
        elif mine:
            area = shapely.union_all([a for _, a in mine])
            piece, left = left.intersection(area), left.difference(area)
        else:
            continue
        for part in shapely.get_parts(piece):
            if isinstance(part, Polygon) and part.area > _SMALL_M2:
                names = dict.fromkeys(n for n, a in mine if a.intersection(part).area > _SMALL_M2)
                found.append(_stretch(shape, demand, tuple(names), part))
    if shape.is_area:
        return sorted(found, key=lambda s: (-s.demand.rank, -s.area_m2))
    return sorted(found, key=lambda s: (s.from_m or 0.0, -s.demand.rank))


def _stretch(shape: Footprint, demand: Demand, names: tuple[str, ...], part: Polygon) -> StretchAnswer:
    first = last = None
    if not shape.is_area:
        ring = np.array(part.exterior.coords)
        along = beside(shape, ring[:, 0], ring[:, 1]).along_m
        first, last = float(along.min()), float(along.max())
    return StretchAnswer(shape.dig.id, demand, names, rings_of(part), first, last, float(part.area))
