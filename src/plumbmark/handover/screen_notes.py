"""Open questions of a site as numbered notes that say what to do, the most urgent first."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from plumbmark.handover import words
from plumbmark.handover.answer import station_name
from plumbmark.handover.clearance_words import hole_lines
from plumbmark.handover.marks_text import difference_words
from plumbmark.handover.screen_answer import action_button
from plumbmark.handover.screen_drawn import TABLES, Row, job_on_plan, path_of
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.estimate import ACTIONS, LineEstimate, NextStep, Solution, Trust
from plumbmark.model.job import Job
from plumbmark.model.mark import MarkPlan
from plumbmark.model.screen_drawn import Point, SiteNote
from plumbmark.model.sweep import Heard

#: So many places that do not hold are named one by one.
_PLACES: Final = 5
Open = tuple[Point | None, str, str, str]
"""Place, title, words, screen."""


def site_notes(
    job: Job,
    solution: Solution | None,
    marks: MarkPlan | None,
    clearance: ClearanceAnswer | None,
    unplaced: Collection[Row],
    still_open: Sequence[str] = (),
) -> tuple[SiteNote, ...]:
    """Everything that is open on a site.

    Parameters
    ----------
    job : Job
    solution, marks, clearance : optional
        What is known of it by now.
    unplaced : collection of (str, str)
        Table and id of rows known by words only: their notes have no place.
    still_open : sequence of str
        What the ticket leaves open.

    Returns
    -------
    tuple of SiteNote
        The ticket first, then swapped lines, the next step, signals without a mark, paint that does not fit,
        places that do not hold, test holes, and what nobody has answered.
    """
    seen = job_on_plan(job, unplaced)
    found: list[Open] = [(None, "Ticket", words.sentence(text), "ticket") for text in still_open]
    if solution is not None:
        for line in solution.lines:
            found += _swaps(line, unplaced)
        if solution.next_step is not None:
            found.append(_step(solution, solution.next_step, unplaced))
    found += _unexplained(job, unplaced)
    if marks is not None:
        painted = {m.id: m.shows for m in job.marks}
        found += [
            (painted[d.mark], f"Paint {d.mark}", difference_words(seen, d), "")
            for d in marks.differences
            if not d.in_band
        ]
    if solution is not None:
        found += _doubtful(solution, unplaced)
    if clearance is not None:
        found += [
            ((h.easting_m, h.northing_m), f"Test hole {h.number}", " ".join(hole_lines(seen, h)), "clearance")
            for h in clearance.holes
        ]
        rest = clearance.unanswered[clearance.about_ticket :]
        if rest:
            more = f" And {words.count(len(rest) - 1, 'more', 'more')}." if len(rest) > 1 else ""
            found.append((None, "Unanswered", f"{words.sentence(rest[0])}{more}", "clearance"))
    return tuple(
        SiteNote(number, None if at is None else path_of([at])[0], title, said, opens)
        for number, (at, title, said, opens) in enumerate(found, 1)
    )


def _at(line: LineEstimate, ident: str, unplaced: Collection[Row]) -> Point | None:
    """The field mark of a station; None where its place is known by words only."""
    station = next((s for s in line.stations if s.id == ident), None)
    if station is None or (TABLES[station.source], ident) in unplaced:
        return None
    return station.mark_easting_m, station.mark_northing_m


def swap_words(before: str, after: str) -> str:
    """What is said of a gap at which the crew may have gone over to another line."""
    return (
        f"You may have swapped lines between readings {before} and {after}. Go back to {before}, follow the "
        "signal to the place between them and sweep wide for a second peak; no paint past it until that is "
        "settled."
    )


def _swaps(line: LineEstimate, unplaced: Collection[Row]) -> list[Open]:
    found: list[Open] = []
    for before, after in line.unsettled:
        ends = [p for p in (_at(line, before, unplaced), _at(line, after, unplaced)) if p is not None]
        middle = None
        if len(ends) == 2:
            middle = (0.5 * (ends[0][0] + ends[1][0]), 0.5 * (ends[0][1] + ends[1][1]))
        title = f"{line.line}, between {before} and {after}"
        found.append((middle, title, swap_words(before, after), f"which/{line.line}"))
    return found


def _step(solution: Solution, step: NextStep, unplaced: Collection[Row]) -> Open:
    line = next((q for q in solution.lines if q.line == step.line), None)
    place = None
    if step.reading not in {ident for _, ident in unplaced}:
        if step.at_easting_m is not None and step.at_northing_m is not None:
            place = (step.at_easting_m, step.at_northing_m)
        elif line is not None and step.reading is not None:
            place = _at(line, step.reading, unplaced)
    opens = ""
    if step.action in ACTIONS and step.reading is not None:
        opens = action_button(step.action, step.reading).route
    return place, "Next step", words.sentence(step.words), opens


def _unexplained(job: Job, unplaced: Collection[Row]) -> list[Open]:
    """Signals that were met and have no mark."""
    found: list[Open] = []
    for p in job.passes:
        if p.signal is Heard.UNEXPLAINED:
            a, b = p.points[0].place, p.points[-1].place
            middle: Point | None = (
                0.5 * (a.easting_m + b.easting_m),
                0.5 * (a.northing_m + b.northing_m),
            )
            middle = None if ("passes", p.id) in unplaced else middle
            note = f" Written down: {words.sentence(p.note)}" if p.note else ""
            said = f"Pass {p.id} met a signal that has no mark. Trace it and mark it.{note}"
            found.append((middle, f"Pass {p.id}", said, "sweep"))
    return found


def _doubtful(solution: Solution, unplaced: Collection[Row]) -> list[Open]:
    """Places that do not hold and what would help there, those leaned on least first."""
    places = [
        (s.within_10_probability, line, s)
        for line in solution.lines
        for s in line.stations
        if s.trust is not Trust.HOLDS and s.next_step
    ]
    places.sort(key=lambda q: q[0])
    step = solution.next_step
    found: list[Open] = []
    for _, line, s in places:
        if step is not None and (line.line, s.id) == (step.line, step.reading):
            continue
        name = station_name(s)
        title = f"{line.line}, {name}: {s.trust.value}"
        opens = f"read/{s.id}" if s.source == "reading" else f"section/{line.line}/{s.id}"
        found.append((_at(line, s.id, unplaced), title, words.sentence(s.next_step), opens))
    return found[:_PLACES]
