"""Marks that were computed and are not written down as painted, each as a row that can be written."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from plumbmark.handover import answer, words
from plumbmark.handover.colours import paint_colour
from plumbmark.handover.marks_text import kind_words, mark_words
from plumbmark.handover.screen_answer import place_sentence
from plumbmark.handover.screen_questions import TABLES
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.mark import Mark, MarkPlan, MarkState
from plumbmark.model.screen_handover import MarkToPaint
from plumbmark.model.screen_parts import JobState

#: Places nearer than this are one, as in the job folder.
SAME_M: Final = 0.3


def marks_to_paint(
    job: Job, solution: Solution | None, state: JobState, plan: MarkPlan | None
) -> tuple[MarkToPaint, ...]:
    """What is still to be painted.

    Parameters
    ----------
    job : Job
    solution : Solution or None
    state : JobState
        Readings whose place is known by words only have a mark each, told by the same words.
    plan : MarkPlan or None
        Of what has a place on the plan.

    Returns
    -------
    tuple of MarkToPaint
        Line by line, in the order walked. A mark counts as painted where one that was not washed away since
        stands within 0.3 m of it; one known by words, where a mark has the id of its reading.
    """
    taken = {m.id for m in job.marks}
    found = []
    for mark in plan.marks if plan is not None else ():
        if not _is_painted(job, mark, state):
            key = _free(f"{mark.line}-{mark.number}", taken)
            said = f"{mark_words(job, mark)}. {words.sentence(f'{kind_words(job, mark)} ({mark.because})')}"
            found.append(MarkToPaint(key, mark.line, said, _cells(mark)))
    order = {line.id: k for k, line in enumerate(job.lines)}
    found += _by_words(job, solution, state, taken)
    return tuple(sorted(found, key=lambda mark: order.get(mark.line, len(order))))


def _is_painted(job: Job, mark: Mark, state: JobState) -> bool:
    return any(
        m.line == mark.line
        and m.state is not MarkState.GONE
        and ("marks", m.id) not in state.places
        and math.dist((m.place.easting_m, m.place.northing_m), (mark.easting_m, mark.northing_m)) <= SAME_M
        for m in job.marks
    )


def _free(key: str, taken: set[str]) -> str:
    """A key that no mark has."""
    name, number = key, 1
    while name in taken:
        number += 1
        name = f"{key}-{number}"
    taken.add(name)
    return name


def _cells(mark: Mark) -> dict[str, str]:
    cells = {
        "line": mark.line,
        "kind": mark.kind.value,
        "colour": mark.colour,
        "easting_m": f"{mark.easting_m:.3f}",
        "northing_m": f"{mark.northing_m:.3f}",
    }
    if mark.toward_deg is not None and mark.distance_m is not None:
        cells |= {"toward_deg": f"{mark.toward_deg:.1f}", "distance_m": f"{mark.distance_m:.3f}"}
    return cells


def _by_words(job: Job, solution: Solution | None, state: JobState, taken: set[str]) -> Iterator[MarkToPaint]:
    """One mark at each place that no map shows."""
    utilities = {line.id: line.utility for line in job.lines}
    for line in solution.lines if solution is not None else ():
        backs = answer.faces_back(line)
        for s, back in zip(line.stations, backs, strict=True):
            place = state.places.get((TABLES[s.source], s.id))
            if place is None or s.id in taken or line.line not in utilities:
                continue
            taken.add(s.id)
            name = answer.station_name(s)
            said = f"{words.sentence(name)} {place_sentence(line, s, back, job.display_units)}"
            cells = {
                "line": line.line,
                "kind": "centre",
                "colour": paint_colour(utilities[line.line]),
                "place_words": f"{name}, {place}",
            }
            yield MarkToPaint(s.id, line.line, said, cells)
