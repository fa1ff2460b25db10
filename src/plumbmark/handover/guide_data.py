"""What the data say of each step of the guide: that it is done, or what is missing."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from shapely import MultiPoint

from plumbmark.handover import words
from plumbmark.handover.owners_said import owner_name, owner_words
from plumbmark.handover.screen_questions import questions_of
from plumbmark.handover.screen_which import NO_FITTING
from plumbmark.model.estimate import Solution, Trust
from plumbmark.model.job import Job, Signal
from plumbmark.model.mark import MarkState
from plumbmark.model.reading import Reading
from plumbmark.model.record import Dig
from plumbmark.model.screen_parts import Go, JobState
from plumbmark.model.sweep import Heard, Pass, SearchMethod
from plumbmark.model.ticket import Thing

#: A mark farther from a fitting than this does not lead to it; common practice, no source.
LEADS_M: Final = 3.0
_LISTED: Final = 8
_PASSIVE: Final = (SearchMethod.PASSIVE_POWER, SearchMethod.PASSIVE_RADIO)


@dataclass(frozen=True, slots=True)
class Seen:
    """What the data say of a step; `go` where another screen than the step's own does it."""

    done: bool
    because: tuple[str, ...]
    may_tick: bool = True
    go: Go | None = None


def gear(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """No data tell that: it is ticked by hand."""
    return Seen(False, ("Nothing written down shows it: tick it once it is done.",))


def fittings_walked(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """Things seen were written down."""
    if not job.things:
        missing = (
            "Nothing seen is written down. If you looked and there is nothing, tick it: that is a fact too."
        )
        return Seen(False, (missing,))
    kinds = [t.kind.value if t.kind is not None else "thing of no kind" for t in job.things]
    seen = ", ".join(words.count(kinds.count(kind), kind) for kind in dict.fromkeys(kinds))
    return Seen(True, (f"Seen: {seen}.",))


def swept_passive(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """Passes by both passive methods, each signal met explained."""
    mine = [p for p in job.passes if p.method in _PASSIVE]
    missing = [m.words for m in _PASSIVE if not any(p.method is m for p in mine)]
    stray = _unexplained(mine)
    if stray is not None:
        return stray
    if missing:
        return Seen(False, (f"No pass by {' or by '.join(missing)} is written down.",))
    not_said = [p.id for p in mine if p.signal is None]
    if not_said:
        return Seen(False, (f"Whether a signal was met is not written down for {words.some(not_said)}.",))
    walked = words.count(len(mine), "pass", "passes")
    return Seen(True, (f"{walked} by power and radio. How much of the dig they cover: see the sweep.",))


def _unexplained(passes: Iterable[Pass]) -> Seen | None:
    """A signal without a mark: no tick closes that."""
    stray = [p.id for p in passes if p.signal is Heard.UNEXPLAINED]
    if not stray:
        return None
    return Seen(
        False, (f"A signal with no mark to it was met on {words.some(stray)}: trace it and mark it.",), False
    )


def connected(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """Each line says how it was hooked up."""
    if not job.lines:
        return Seen(False, ("No line is written down yet.",), False)
    missing = [x.id for x in job.lines if x.signal is Signal.LINE and not any(s.hookup for s in x.setups)]
    if missing:
        go = Go("Write down how it was hooked up", "guide/connect")
        return Seen(False, (f"How {words.some(missing)} was hooked up is not written down.",), False, go)
    hookups = [
        f"{x.id}: {', '.join(dict.fromkeys(s.hookup.value for s in x.setups if s.hookup)) or 'sonde'}"
        for x in job.lines
    ]
    return Seen(True, (f"{'; '.join(hookups[:_LISTED])}.",), False)


def traced(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """Two places at least on each line."""
    if not job.lines:
        return Seen(False, ("No line is written down yet.",), False)
    places = {
        x.id: len(
            {r.id for rows in (job.readings, job.profiles, job.side_readings) for r in rows if r.line == x.id}
        )
        for x in job.lines
    }
    none = [name for name, count in places.items() if count == 0]
    one = [name for name, count in places.items() if count == 1]
    said = []
    if none:
        said.append(f"Nothing was read of {words.some(none)}: read it, or answer could not locate.")
    if one:
        said.append(f"One place only of {words.some(one)}: how it runs is not known.")
    if said:
        return Seen(False, tuple(said), not none)
    total = words.count(sum(places.values()), "place")
    return Seen(True, (f"{total} on {words.count(len(places), 'line')}.",))


def _rows_over(job: Job) -> list[Reading]:
    """Readings taken over a line, without those of a sonde."""
    sondes = {x.id for x in job.lines if x.signal is Signal.SONDE}
    return [r for r in job.readings if r.line not in sondes]


def _holding(solution: Solution | None) -> set[str]:
    lines = solution.lines if solution is not None else ()
    return {s.id for line in lines for s in line.stations if s.trust is Trust.HOLDS}


def pinpointed(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """The null, or something as good, at each mark that does not hold without it."""
    rows = _rows_over(job)
    if not rows:
        return Seen(False, ("No reading is written down yet.",), False)
    good = _holding(solution) | {p.id for p in job.profiles}
    missing = [
        r.id
        for r in rows
        if r.id not in good and all(x is None for x in (r.null_offset_m, r.half_left_m, r.half_right_m))
    ]
    if missing:
        where = Go(f"Find the null at reading {missing[0]}", f"read/{missing[0]}/null")
        bare = words.listing(missing, [r.id for r in job.readings])
        return Seen(False, (f"No null is written down at {bare}.",), "null" not in state.cannot, where)
    return Seen(True, (f"Each of {words.count(len(rows), 'reading')} has its null, or holds without.",))


def checked(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """A raised depth, a walk across or a test hole on each line, and nothing asked that is open."""
    asked = questions_of(solution, state)
    if asked:
        many = words.count(len(asked), "question is", "questions are")
        return Seen(False, (f"{many} open: {asked[0].words}",), False)
    rows = _rows_over(job)
    if not rows:
        return Seen(False, ("No reading is written down yet.",), False)
    proved = {r.line for r in rows if r.raised_depth_m is not None}
    proved |= {p.line for p in job.profiles} | {h.line for h in job.test_holes if h.found}
    holding = _holding(solution)
    missing = [
        name
        for name in dict.fromkeys(r.line for r in rows)
        if name not in proved and not all(r.id in holding for r in rows if r.line == name)
    ]
    if missing:
        first = next(r.id for r in rows if r.line == missing[0] and r.id not in holding)
        where = Go(f"Raise the receiver at reading {first}", f"read/{first}/raise")
        if "raise" in state.cannot:
            where = Go(f"Walk across at reading {first}", f"walk/{first}")
        said = f"No raised depth, walk across or test hole is written down on {words.some(missing)}."
        return Seen(False, (said,), True, where)
    return Seen(True, ("Each line was checked by a raised depth, a walk across or a test hole, or holds.",))


def round_walked(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """Passes walked after the last mark that go all round each dig."""
    painted = [m.painted_at for m in job.marks if m.state is not MarkState.GONE]
    times = [t for t in painted if t is not None]
    if not painted:
        return Seen(False, ("No mark is written down as painted yet.",))
    if not times:
        return Seen(
            False, ("When the marks were painted is not written down, so no pass can be told to be later.",)
        )
    last = max(times)
    later = [p for p in job.passes if (walked := _walked_at(p)) is not None and walked >= last]
    if not later:
        return Seen(False, ("No pass was walked after the last mark was painted.",))
    stray = _unexplained(later)
    if stray is not None:
        return stray
    hull = MultiPoint([(q.place.easting_m, q.place.northing_m) for p in later for q in p.points]).convex_hull
    open_digs = [dig.id for dig in job.digs if not hull.covers(MultiPoint(_corners(dig)))]
    if open_digs:
        return Seen(False, (f"The passes after marking do not go all round {words.some(open_digs)}.",))
    if not job.digs:
        return Seen(False, ("No dig is drawn: whether the round closes is not known. Tick it if it does.",))
    return Seen(
        True, (f"{words.count(len(later), 'pass', 'passes')} after the last mark, all round the dig.",)
    )


def _walked_at(one: Pass) -> datetime | None:
    """When a pass began; its time may stand on some of its points alone."""
    return min((q.taken_at for q in one.points if q.taken_at is not None), default=None)


def _corners(dig: Dig) -> list[tuple[float, float]]:
    """Corners of a dig's outline; of a trench or bore with its width."""
    path = dig.rings[0]
    half = 0.5 * (dig.width_m or dig.diameter_m or 0.0)
    if half == 0.0:
        return list(path)
    return [(e + de, n + dn) for e, n in path for de in (-half, half) for dn in (-half, half)]


def counted(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """A mark near each fitting whose place is known."""
    fittings = [t for t in job.things if t.kind is not None and t.kind not in NO_FITTING]
    if not fittings:
        return Seen(False, ("No fitting is written down. If there is none, tick it.",))
    # what is known by words only is as far from everything as no map shows
    by_words = any(table == "marks" for table, _ in state.places)
    unplaced = [t.id for t in fittings if t.place is None or ("things", t.id) in state.places]
    bare = [t.id for t in fittings if t.id not in unplaced and not _has_mark(t, job)]
    if bare and by_words:
        unplaced, bare = [*unplaced, *bare], []
    near = words.length(LEADS_M, job.display_units)
    said = []
    if bare:
        said.append(f"No painted mark within {near} of {words.some(bare)}: which line goes there?")
    if unplaced:
        said.append(
            f"How near a mark stands to {words.some(unplaced)} no map tells: count by eye and tick it."
        )
    if said:
        return Seen(False, tuple(said))
    return Seen(True, (f"Each of {words.count(len(fittings), 'fitting')} has a painted mark within {near}.",))


def _has_mark(thing: Thing, job: Job) -> bool:
    assert thing.place is not None
    here = (thing.place.easting_m, thing.place.northing_m)
    return any(math.dist(here, m.shows) <= LEADS_M for m in job.marks if m.state is not MarkState.GONE)


def answered(job: Job, solution: Solution | None, state: JobState) -> Seen:
    """An answer of each owner; what it leaves open is said."""
    if not job.owners:
        return Seen(False, ("No owner is written down: who has lines here is not known.",), False)
    silent = [owner_name(o) for o in job.owners if o.answer is None]
    if silent:
        return Seen(False, (f"No answer yet: {words.some(silent)}.",), False)
    left = [f"{owner_name(o)}: {owner_words(o, state.now)}." for o in job.owners if o.is_open(state.now)]
    return Seen(True, ("Every owner has an answer.", *left), False)
