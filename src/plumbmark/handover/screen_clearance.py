"""The clearance screen: where may no machine go?"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Final

from plumbmark.handover import clearance_words as said
from plumbmark.handover import words
from plumbmark.handover.screen_drawn import (
    Row,
    drawn_digs,
    drawn_lines,
    extent_of,
    job_on_plan,
    path_of,
    rounded,
)
from plumbmark.handover.tape import place_words
from plumbmark.model.clearance import (
    ClearanceAnswer,
    Demand,
    DigAnswer,
    Encounter,
    HoleAdvice,
    Met,
    Ring,
)
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.record import DigKind
from plumbmark.model.screen_clearance import (
    ClearanceDig,
    ClearanceHole,
    ClearanceScreen,
    ClearanceStretch,
    ClearanceZone,
    DigConflict,
    Hatch,
)
from plumbmark.model.screen_drawn import Cited, Extent, Path

NO_DIG: Final = (
    "No dig is drawn, so nothing is checked. Draw where is to be dug and how deep, and what each part of it "
    "demands stands here."
)
NOTHING_SOLVED: Final = (
    "Nothing is located yet, so nothing is checked. Until it is: hand dig or vacuum, and only once every "
    "owner has answered."
)
UNDER_WAY: Final = (
    "The check is not done yet. Until it is, nothing here says where may be dug; it follows by itself."
)
HATCHES: Final = (
    "Hatched one way: hand dig. Both ways: test hole first. Broken: not known. Not hatched: nothing known in "
    "the way, and the questions above stay open there."
)
_HATCH: Final = {
    Demand.NOTHING: Hatch.NONE,
    Demand.NOT_KNOWN: Hatch.BROKEN,
    Demand.HAND_DIG: Hatch.ONE_WAY,
    Demand.TEST_HOLE: Hatch.BOTH_WAYS,
}
_BEYOND_M: Final = 50.0
_NAMES: Final = {Met.LINE: "line {}", Met.RECORD: "record {}", Met.SECOND_LINE: "second line {}"}


def clearance_screen(
    job: Job,
    solution: Solution | None,
    answer: ClearanceAnswer | None,
    still_open: Sequence[str] = (),
    waits: str = "",
    by_words: Collection[Row] = (),
) -> ClearanceScreen:
    """What each part of a dig demands, what nobody has answered first.

    Parameters
    ----------
    job : Job
    solution : Solution, optional
        Its lines are drawn under the dig.
    answer : ClearanceAnswer, optional
        None while there is none: the screen says why, and never that nothing is in the way.
    still_open : sequence of str
        What ticket, owners and things seen leave open by now, said first, in place of what the answer has of
        them from when it was made.
    waits : str
        Why no dig of this job is better than not known by now; "" where it may be.
    by_words : collection of (str, str)
        Table and id of rows whose place is known by words only. They were checked against nothing, so no part
        of a dig is told to have nothing known in the way then.

    Returns
    -------
    ClearanceScreen
    """
    seen = job_on_plan(job, by_words)
    lines = drawn_lines(job, solution.lines, by_words) if solution is not None else ()
    nowhere = _nowhere(job, by_words)
    if answer is not None:
        answer = _by_now(answer, still_open, waits, nowhere)
        about = answer.about_ticket + answer.about_owners
    ground = drawn_digs(job)
    core = [p for dig in ground for ring in dig.ground for p in ring]
    holes = [] if answer is None else [(h.easting_m, h.northing_m) for h in answer.holes]
    extent = extent_of(core + holes, [p for line in lines for p in line.path])
    units = job.display_units
    if answer is None:
        empty = NO_DIG if not job.digs else NOTHING_SOLVED if solution is None else UNDER_WAY
        return ClearanceScreen(
            job=job.id,
            units=units,
            ready=False,
            empty=empty,
            unanswered=tuple(words.sentence(text) for text in (*still_open, *nowhere)),
            unseen=(),
            no_machine=said.NO_MACHINE,
            digs=(),
            holes=(),
            holes_note="",
            notes=(),
            rule="",
            zones=(),
            least_said=said.LEAST_SAID,
            hatches=HATCHES,
            extent=extent,
            ground=ground,
            lines=lines,
        )
    return ClearanceScreen(
        job=job.id,
        units=units,
        ready=True,
        empty="",
        unanswered=tuple(words.sentence(text) for text in answer.unanswered[:about]),
        unseen=tuple(words.sentence(text) for text in answer.unanswered[about:]),
        no_machine=said.NO_MACHINE,
        digs=tuple(_dig(seen, dig) for dig in answer.digs),
        holes=tuple(_hole(seen, hole) for hole in answer.holes),
        holes_note=said.MINIMUM if answer.holes else "",
        notes=tuple(words.sentence(text) for text in answer.notes),
        rule=said.rule_words(job, answer),
        zones=tuple(
            ClearanceZone(z.line, _near(z.lawful, extent), _near(z.honest, extent), said.zone_words(job, z))
            for z in answer.zones
        ),
        least_said=said.LEAST_SAID,
        hatches=HATCHES,
        extent=extent,
        ground=ground,
        lines=lines,
    )


def _nowhere(job: Job, by_words: Collection[Row]) -> tuple[str, ...]:
    """Lines with readings whose place is known by words only, as a question that is open."""
    lines = {r.line for r in job.readings if ("readings", r.id) in by_words}
    lines |= {w.line for w in job.profiles if ("profiles", w.id) in by_words}
    lines |= {s.line for s in job.side_readings if ("side_readings", s.id) in by_words}
    lines |= {h.line for h in job.test_holes if ("test_holes", h.id) in by_words}
    return tuple(
        f"{line} was read at places known by words only: whether it runs through the dig was not checked. "
        "Measure where the readings are"
        for line in sorted(lines)
    )


def _by_now(
    answer: ClearanceAnswer, still_open: Sequence[str], waits: str, nowhere: Sequence[str]
) -> ClearanceAnswer:
    """The answer with what is open now; where something waits no part has nothing known in the way."""
    about = answer.about_ticket + answer.about_owners
    first = (*(still_open or answer.unanswered[:about]), *nowhere)
    reasons = (*([waits] if waits else []), *nowhere)
    digs = answer.digs
    if reasons:
        digs = tuple(
            replace(
                dig,
                demand=_at_least(dig.demand),
                because=tuple(dict.fromkeys((*dig.because, *reasons))),
                stretches=tuple(replace(s, demand=_at_least(s.demand)) for s in dig.stretches),
            )
            for dig in answer.digs
        )
    return replace(
        answer,
        digs=digs,
        unanswered=(*first, *answer.unanswered[about:]),
        about_ticket=0,
        about_owners=len(first),
    )


def _at_least(demand: Demand) -> Demand:
    return Demand.NOT_KNOWN if demand is Demand.NOTHING else demand


def _rings(rings: tuple[Ring, ...]) -> tuple[Path, ...]:
    return tuple(path_of(ring) for ring in rings)


def _near(rings: tuple[Ring, ...], extent: Extent | None) -> tuple[Path, ...]:
    """Rings as far as they lie within so much of what is seen; the rest has no place on this screen."""
    if extent is None:
        return ()
    box = (
        extent.west_m - _BEYOND_M,
        extent.south_m - _BEYOND_M,
        extent.east_m + _BEYOND_M,
        extent.north_m + _BEYOND_M,
    )
    if all(box[0] <= e <= box[2] and box[1] <= n <= box[3] for ring in rings for e, n in ring):
        return _rings(rings)
    import shapely

    found = []
    for ring in rings:
        part = shapely.clip_by_rect(shapely.make_valid(shapely.Polygon(ring)), *box)
        found += [path_of(p.exterior.coords) for p in shapely.get_parts(part) if p.geom_type == "Polygon"]
    return tuple(found)


def _dig(job: Job, dig: DigAnswer) -> ClearanceDig:
    listed = {id(s) for s in said.listed(dig)}
    return ClearanceDig(
        dig=dig.dig,
        says=said.dig_headline(job, dig),
        demand=dig.demand,
        because=tuple(words.sentence(text) for text in dig.because),
        # every part is drawn, scraps of ground have no words
        stretches=tuple(
            ClearanceStretch(
                s.demand,
                _HATCH[s.demand],
                _rings(s.rings),
                said.stretch_words(job, s) if id(s) in listed else "",
            )
            for s in dig.stretches
        ),
        conflicts=tuple(_conflict(job, e) for e in dig.encounters),
    )


def _conflict(job: Job, e: Encounter) -> DigConflict:
    units = job.display_units
    kind = next(d.kind for d in job.digs if d.id == e.dig)
    source = f"computed from the readings and {_drawing(kind)}"
    if e.met is Met.RECORD:
        source = f"computed from records.geojson and {_drawing(kind)}"
    chances = said.chances(e, units)
    told = [
        Cited("in plan, 19 times in 20", said.horizontal_words(e, units), source),
        Cited("odds", chances, source),
    ]
    vertical = said.vertical_words(e, kind, units)
    if vertical:
        told.insert(1, Cited("in depth, 19 times in 20", vertical, source))
    return DigConflict(
        name=_NAMES[e.met].format(e.name),
        demand=e.demand,
        place=path_of([(e.easting_m, e.northing_m)])[0],
        odds=chances,
        words=tuple(said.encounter_lines(job, e)),
        told=tuple(told),
    )


def _drawing(kind: DigKind) -> str:
    return f"the {kind.value} as drawn"


def _hole(job: Job, hole: HoleAdvice) -> ClearanceHole:
    return ClearanceHole(
        number=hole.number,
        line=hole.line,
        place=path_of([(hole.easting_m, hole.northing_m)])[0],
        from_deg=round(hole.from_deg, 1),
        lateral_m=rounded(hole.lateral_m),
        top_m=rounded(hole.top_m),
        where=f"{hole.line}, {place_words(job, hole.easting_m, hole.northing_m)}",
        words=tuple(said.hole_lines(job, hole)[1:]),
    )
