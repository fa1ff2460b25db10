"""The drawn screens of a job: site, section, along the line, clearance, sweep, plan.

`site`, `section`, `along` and `clearance` take what is known and said by now and come within milliseconds, so
they are made whenever they are asked for. `sweep_of`, `plan_of` and `answered_questions` compute first, up to
some seconds where a site is large: they take and return plain values, so that a worker beside the server can
run them, and what they return stays good for the files that it was made of (`Known.files_digest`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from plumbmark.app.answering import Said
from plumbmark.app.known import Known
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.folded import Folded
from plumbmark.model.job import Job
from plumbmark.model.questions import Bonded, MadeOf, Reached
from plumbmark.model.screen_along import AlongScreen
from plumbmark.model.screen_clearance import ClearanceScreen
from plumbmark.model.screen_plan import PlanAnswer, PlanScreen
from plumbmark.model.screen_section import SectionScreen
from plumbmark.model.screen_site import SiteScreen
from plumbmark.model.screen_sweep import SweepScreen


def by_words(folded: Folded) -> dict[tuple[str, str], str]:
    """Table and key of rows whose place is known by words only, with the words as the crew said them."""
    found = {}
    for table, key in sorted(folded.unplaced):
        entry = folded.rows.get(table, {}).get(key)
        cells = entry.rows[0] if entry is not None and entry.rows else {}
        found[table, key] = _place_words(cells) or "place not written down"
    return found


def _place_words(cells: Mapping[str, str]) -> str:
    start, toward, along = (cells.get(name, "").strip() for name in ("from_thing", "toward_thing", "along"))
    said = cells.get("place_words", "").strip()
    parts = (along, f"from {start}" if start else "", f"toward {toward}" if toward else "")
    return said or " ".join(part for part in parts if part)


def site(
    known: Known, said: Said | None, now: datetime, checked: ClearanceAnswer | None = None
) -> SiteScreen | None:
    """The plan of a job; None where the job cannot be read.

    Parameters
    ----------
    known : Known
    said : Said or None
        The solution that is shown.
    now : datetime
        With its offset, for a ticket that has run out.
    checked : ClearanceAnswer, optional
        Of this state of the job, where it was made.

    Returns
    -------
    SiteScreen or None
    """
    from plumbmark.clearance.asked import ticket_says
    from plumbmark.handover.marks import plan_marks
    from plumbmark.handover.screen_drawn import job_on_plan, solution_on_plan
    from plumbmark.handover.screen_site import site_screen

    if known.job is None:
        return None
    unplaced = by_words(known.folded)
    solution = said.solution if said is not None else None
    marks = None
    if solution is not None:
        seen, lines = job_on_plan(known.job, unplaced), {line.id for line in known.job.lines}
        drawn = solution_on_plan(solution, unplaced)
        if all(line.line in lines for line in drawn.lines):  # else the answer is of another state of the job
            marks = plan_marks(seen, drawn)
    return site_screen(
        known.job,
        solution,
        marks=marks,
        clearance=checked,
        still_open=ticket_says(known.job, now),
        by_words=unplaced,
    )


def section(
    known: Known, said: Said | None, now: datetime, line: str | None = None, station: str | None = None
) -> SectionScreen | None:
    """Sections at the places of a job; None where the job cannot be read."""
    from plumbmark.handover.screen_section import section_screen

    if known.job is None:
        return None
    return section_screen(known.job, said.solution if said is not None else None, line, station)


def along(known: Known, said: Said | None, now: datetime) -> AlongScreen | None:
    """Depth and current along every line; None where the job cannot be read."""
    from plumbmark.handover.screen_along import along_screen

    if known.job is None:
        return None
    solution = said.solution if said is not None else None
    return along_screen(known.job, solution, by_words(known.folded))


def clearance(
    known: Known, said: Said | None, now: datetime, checked: ClearanceAnswer | None = None
) -> ClearanceScreen | None:
    """What each part of a dig demands, unanswered owners first; None where the job cannot be read.

    Parameters
    ----------
    known : Known
    said : Said or None
    now : datetime
        With its offset, for a ticket that has run out.
    checked : ClearanceAnswer, optional
        Of this state of the job; without it the screen says why there is none.

    Returns
    -------
    ClearanceScreen or None
    """
    from plumbmark.clearance.asked import keeps_open, owners_say, things_say, ticket_says
    from plumbmark.handover.screen_clearance import clearance_screen

    job = known.job
    if job is None:
        return None
    still_open = (*ticket_says(job, now), *owners_say(job, now), *things_say(job))
    solution = said.solution if said is not None else None
    return clearance_screen(job, solution, checked, still_open, keeps_open(job, now), by_words(known.folded))


def sweep_of(job: Job, unplaced: Collection[tuple[str, str]] = ()) -> SweepScreen:
    """The sweep of a job's digs, as planned and as walked.

    Parameters
    ----------
    job : Job
    unplaced : collection of (str, str)
        `Folded.unplaced`: nothing is told along a baseline that was made for places known by words only.

    Returns
    -------
    SweepScreen

    Raises
    ------
    PlumbmarkError
        If a dig cannot be.
    """
    from plumbmark.handover.screen_drawn import job_on_plan
    from plumbmark.handover.screen_sweep import sweep_screen
    from plumbmark.planning.sweep import sweep_job

    seen = job_on_plan(job, unplaced)
    return sweep_screen(seen, sweep_job(seen) if seen.digs else None)


def plan_of(job: Job, files: Mapping[str, bytes]) -> PlanScreen:
    """The three questions, and the hook-ups of a job's own sketch where `files` has one.

    A sketch with mistakes is told in `warnings`, and the questions stay.
    """
    from dataclasses import replace

    from plumbmark.base.errors import PlumbmarkError
    from plumbmark.exchange.jobfolder.network import read_network_files
    from plumbmark.handover.screen_plan import plan_screen
    from plumbmark.planning.hookup import plan_hookups
    from plumbmark.planning.readings import fit_readings

    units = job.display_units
    if "network.toml" not in files:
        return plan_screen(job.id, units)
    network, findings = read_network_files(files)
    if network is None:
        return replace(plan_screen(job.id, units), warnings=tuple(map(str, findings)))
    try:
        plan = plan_hookups(network)
    except PlumbmarkError as error:
        return replace(plan_screen(job.id, units), warnings=(f"network.toml: {error}",))
    fit, unused = fit_readings(network, job)
    screen = plan_screen(job.id, units, plan, fit)
    return replace(screen, warnings=(*screen.warnings, *map(str, (*findings, *unused))))


def answered_questions(
    made_of: MadeOf, reached: Sequence[Reached], bonded: Sequence[Bonded], units: str
) -> PlanAnswer:
    """A hook-up from three answers; nothing answered counts as not known, or as reached at an end.

    Raises
    ------
    QuestionError
        If "nowhere" or "nothing" stands beside another answer.
    """
    from plumbmark.base.errors import QuestionError
    from plumbmark.handover.screen_plan import plan_answer
    from plumbmark.planning.questions import advise

    for name, answers, alone in (("reached", reached, Reached.NOWHERE), ("bonded", bonded, Bonded.NOTHING)):
        if alone in answers and len(set(answers)) > 1:
            raise QuestionError(
                f"{name}: '{alone.value}' goes with no other answer; leave it or the others out"
            )
    return plan_answer(advise(made_of, reached or (Reached.END,), bonded or (Bonded.UNKNOWN,)), units)
