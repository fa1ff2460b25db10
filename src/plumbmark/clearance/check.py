"""The clearance check: every planned dig of a job against everything known or said to be there."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from plumbmark.clearance.asked import keeps_open, owners_say, things_say, ticket_says
from plumbmark.clearance.demands import Claim, area_of, beyond_ends, demanded, stretches_of
from plumbmark.clearance.encounters import (
    FIRST_LOOK,
    MOST_LOOKS,
    Meeting,
    Sampler,
    Tally,
    band_at,
    chances_of,
    meetings_of,
    told,
)
from plumbmark.clearance.holes import advice_of, candidates_of
from plumbmark.clearance.plausible import cover_notes, hole_against, record_notes
from plumbmark.clearance.shapes import Footprint, footprints_of
from plumbmark.clearance.things import Thing, things_of
from plumbmark.clearance.zones import Band, marked_path, zone_of
from plumbmark.model.clearance import (
    ClearanceAnswer,
    Demand,
    DigAnswer,
    Encounter,
    Met,
    StretchAnswer,
    ZoneRule,
)
from plumbmark.model.draws import LineDraws
from plumbmark.model.estimate import Identity, Solution
from plumbmark.model.job import Job
from plumbmark.model.record import Dig
from plumbmark.model.sweep import SweepRecord

FLOATS = NDArray[np.float64]
MOST_VALUES = 4_000_000  # samples times places that are held at once


def check_clearance(
    job: Job,
    solution: Solution,
    draw: Sampler,
    rule: ZoneRule,
    *,
    asked_m: float | None = None,
    sweep: SweepRecord | None = None,
    surprises: Sequence[str] = (),
    now: datetime | None = None,
) -> ClearanceAnswer:
    """What every planned dig of a job demands.

    Parameters
    ----------
    job, solution : Job, Solution
    draw : callable
        ``draw(n, seed)`` gives n joint samples of all solved lines (`inference.posterior.Posterior.draw`).
    rule : ZoneRule
    asked_m : float, optional, [m]
        Separation asked for; that of the rule where not given.
    sweep : SweepRecord, optional
        Without one no dig is better than not known.
    surprises : sequence of str
        Test holes that found something else than was said: from `surprises_of`.
    now : datetime, optional
        With its offset; what has run out by then is said to have. Without it dates are told, not compared.

    Returns
    -------
    ClearanceAnswer
        The same for the same input. Nothing in it permits a machine in a zone.

    Raises
    ------
    GeometryError
        If a dig cannot be: an outline that crosses itself, a trench without length.
    """
    asked = rule.clearance_m if asked_m is None else asked_m
    shapes = {dig.id: footprints_of(dig) for dig in job.digs}
    seed = int.from_bytes(hashlib.sha256(job.id.encode()).digest()[:6], "big")
    rng = np.random.default_rng(seed)
    samples, count = _first_samples(draw, seed)
    things = things_of(job, solution, samples, rng)
    bands = {thing.name: band_at(thing) for thing in things}
    solved = [thing for thing in things if thing.met is Met.LINE]
    marks = {thing.name: marked_path(job, thing) for thing in solved}
    zones = {thing.name: zone_of(job, thing, rule, bands[thing.name]) for thing in solved}
    meetings: list[Meeting] = []
    for dig in job.digs:
        for shape in shapes[dig.id]:
            meetings += meetings_of(things, bands, marks, shape, rule.distance_m, rng)
    tallies = _tallied(job, solution, draw, seed, things, meetings, asked, count)
    encounters = [
        demanded(m, told(m, tally, asked, job), rule, zones.get(m.thing.name), job)
        for m, tally in zip(meetings, tallies, strict=True)
    ]
    met = list(zip(meetings, encounters, strict=True))
    about_ticket, waits = ticket_says(job, now), keeps_open(job, now)
    about_owners = (*owners_say(job, now), *things_say(job))
    digs = tuple(
        _dig_answer(job, dig, shapes[dig.id], met, marks, bands, solved, rule, sweep, waits)
        for dig in job.digs
    )
    first = [m for m, e in met if e.demand is Demand.TEST_HOLE and e.met is Met.LINE]
    others = [(e.easting_m, e.northing_m) for e in encounters if e.met is not Met.LINE]
    return ClearanceAnswer(
        job.id,
        rule,
        asked,
        digs,
        tuple(zones.values()),
        advice_of(candidates_of(first, asked), others, job.display_units),
        (*about_ticket, *about_owners, *_unanswered(job, solution, sweep)),
        (*surprises, *record_notes(job, things, bands), *cover_notes(job, things)),
        about_ticket=len(about_ticket),
        about_owners=len(about_owners),
    )


def _first_samples(draw: Sampler, seed: int) -> tuple[Mapping[str, LineDraws], int]:
    """Samples to begin with, fewer for a job so long that they would fill the machine."""
    look = draw(64, seed)
    places = sum(d.depth_m.shape[1] for d in look.values())
    count = int(min(FIRST_LOOK, max(64, MOST_VALUES // max(places, 1))))
    return draw(count, seed), count


def _tallied(
    job: Job,
    solution: Solution,
    draw: Sampler,
    seed: int,
    things: Sequence[Thing],
    meetings: Sequence[Meeting],
    asked_m: float,
    count: int,
) -> list[Tally]:
    """Chances of every meeting, with more samples as long as one of them is rough."""
    tallies = [Tally() for _ in meetings]
    for look in range(MOST_LOOKS):
        rng = np.random.default_rng([seed, look])
        if look:
            things = things_of(job, solution, draw(count, seed + look), rng)
        for meeting, tally in zip(meetings, tallies, strict=True):
            if not look or tally.is_rough:
                tally.add(chances_of(meeting, things[meeting.index].draws, asked_m, rng))
        if not any(tally.is_rough for tally in tallies):
            break
    return tallies


def _dig_answer(
    job: Job,
    dig: Dig,
    shapes: Sequence[Footprint],
    met: Sequence[tuple[Meeting, Encounter]],
    marks: Mapping[str, FLOATS],
    bands: Mapping[str, Band],
    solved: Sequence[Thing],
    rule: ZoneRule,
    sweep: SweepRecord | None,
    waits: str,
) -> DigAnswer:
    mine = [(m, e) for m, e in met if e.dig == dig.id]
    stretches: list[StretchAnswer] = []
    for shape in shapes:
        claims: list[Claim] = [
            (e.demand, e.name, area_of(m, marks.get(e.name), rule.distance_m))
            for m, e in mine
            if m.shape.path is shape.path
        ]
        for thing in solved:
            past = beyond_ends(job, thing, bands[thing.name])
            if not past.is_empty:
                claims.append((Demand.NOT_KNOWN, f"{thing.name}, past its last reading", past))
        stretches += stretches_of(shape, claims)
    demand = max((s.demand for s in stretches), key=lambda d: d.rank, default=Demand.NOTHING)
    because = [f"{dig.kind.value} {dig.id}: {remark}" for remark in shapes[0].remarks]
    open_still = [waits] if waits else []
    if not _swept_all(dig, sweep):
        open_still.append(_not_swept(dig, sweep))
    if open_still:
        because = open_still + because
        demand = max(demand, Demand.NOT_KNOWN, key=lambda d: d.rank)
    past_end = dict.fromkeys(n for s in stretches for n in s.names if n.endswith("past its last reading"))
    for name in past_end:
        line = name.partition(",")[0]
        because.append(f"{line} was followed to its last reading; where it goes from there is not known")
    return DigAnswer(dig.id, demand, tuple(because), tuple(e for _, e in mine), tuple(stretches))


def _swept_all(dig: Dig, sweep: SweepRecord | None) -> bool:
    if sweep is None:
        return False
    own = [d for d in sweep.digs if d.dig == dig.id]
    return sweep.whole or (
        bool(own)
        and all(d.swept_m2 >= d.area_m2 * (1.0 - 1e-6) for d in own)
        and not (sweep.missing or sweep.unexplained or sweep.not_said)
    )


def _not_swept(dig: Dig, sweep: SweepRecord | None) -> str:
    if sweep is None:
        return (
            "There is no record of a sweep of this ground: what nobody expects there was not looked for. "
            "Walk it in two directions and write the passes down"
        )
    own = next((d for d in sweep.digs if d.dig == dig.id), None)
    if own is not None and own.area_m2 > 0.0 and own.swept_m2 < own.area_m2:
        share = int(10.0 * own.swept_m2 / own.area_m2)
        much = f"about {share} tenths" if share else "hardly any"
        return f"By every method that was to be used, {much} of this dig was swept: the rest is not known"
    return "The sweep of this ground leaves something open"


def _unanswered(job: Job, solution: Solution, sweep: SweepRecord | None) -> tuple[str, ...]:
    """What no reading of this job can answer, for every dig, beside ticket and owners."""
    said = [
        "Lines that carry no signal (plastic without a wire, concrete, a broken tracer wire) show nothing to "
        "a receiver: silence is not proof that nothing is there",
    ]
    if sweep is None:
        said.append("Ground: no sweep of it is on record")
    else:
        said += [sweep.says, *sweep.caveats]
    for estimate in solution.lines:
        if not estimate.stations:
            said.append(f"{estimate.line}: listed in the job, and nothing was read of it")
        elif estimate.identity is Identity.NOT_KNOWN:
            said.append(f"{estimate.line}: whether the line that was followed is this one is not known")
    if not job.records:
        said.append("Records: there is none in this job, so nothing was compared with what the drawings say")
    return tuple(said)


def surprises_of(job: Job, before: Solution) -> tuple[str, ...]:
    """Test holes that found the line where it was not to be, by an answer that did not know of them.

    Parameters
    ----------
    job : Job
    before : Solution
        Of the same job without its test holes.

    Returns
    -------
    tuple of str
        A sentence for each: outside the band means stop.
    """
    lines = {estimate.line: estimate for estimate in before.lines if estimate.stations}
    diameters = {line.id: line.outside_diameter_m for line in job.lines}
    said = []
    for hole in job.test_holes:
        estimate = lines.get(hole.line)
        if estimate is None or not hole.found:
            continue
        why = hole_against(hole, estimate, diameters.get(hole.line), job.display_units)
        if why:
            said.append(
                f"Stop: test hole {hole.id} found {hole.line} {why}. Rely on no number for {hole.line} near "
                "there, call the owner, and read the line again"
            )
    return tuple(said)
