"""What a record needs to stand years later, and what of it is missing.

Which things a record needs is common practice, no source; local law and owners may ask for more.
"""

from __future__ import annotations

from collections.abc import Iterator

from plumbmark.handover import words
from plumbmark.handover.guide_data import round_walked
from plumbmark.handover.owners_said import owner_name
from plumbmark.handover.screen_questions import questions_of
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job, Signal
from plumbmark.model.mark import MarkState, PaintedMark
from plumbmark.model.screen_handover import RecordCheck
from plumbmark.model.screen_parts import Go, JobState


def record_checks(job: Job, solution: Solution | None, state: JobState) -> tuple[RecordCheck, ...]:
    """Everything that a record needs, what is missing first.

    Parameters
    ----------
    job : Job
    solution : Solution or None
    state : JobState

    Returns
    -------
    tuple of RecordCheck
    """
    found = [*_ticket(job), *_read(job, solution, state), *_painted(job, solution, state), *_told(job, state)]
    return tuple(sorted(found, key=lambda check: not check.missing))


def _ticket(job: Job) -> Iterator[RecordCheck]:
    ticket = job.ticket
    here = Go("Write down the ticket", "ticket")
    lacking = ["the ticket"]
    if ticket is not None:
        given = {
            "its number": bool(ticket.number),
            "its place": bool(ticket.place),
            "from when may be dug": ticket.may_dig_from is not None,
            "when it runs out": ticket.expires_at is not None,
            "whether the dig was outlined in white": ticket.white_lined is not None,
        }
        lacking = [name for name, there in given.items() if not there]
    missing = f"Not written down: {', '.join(lacking)}." if lacking else ""
    yield RecordCheck("ticket", "The ticket: number, place, times, white lining", missing, here)
    silent = [owner_name(o) for o in job.owners if o.answer is None]
    missing = "No owner is written down." if not job.owners else ""
    if silent:
        missing = f"No answer yet: {words.some(silent)}."
    go = Go("Answer for the owners", "handover/owners")
    yield RecordCheck("owners", "An answer of every owner", missing, go)


def _read(job: Job, solution: Solution | None, state: JobState) -> Iterator[RecordCheck]:
    unsigned = [r.id for r in job.readings if r.taken_at is None or not r.by]
    missing = (
        f"When or by whom is missing of {words.listing(unsigned, [r.id for r in job.readings])}."
        if unsigned
        else ""
    )
    if not (job.readings or job.profiles or job.side_readings):
        missing = "Nothing was read."
    go = Go("Say who took them", "handover/readings") if unsigned else Go("See the readings", "")
    yield RecordCheck("readings", "Readings with when and by whom", missing, go)
    bare = [
        line.id
        for line in job.lines
        if line.signal is Signal.LINE
        and not any(s.hookup is not None and s.frequency_hz is not None for s in line.setups)
    ]
    missing = f"Hook-up or frequency is missing of {words.some(bare)}." if bare else ""
    if not job.lines:
        missing = "No line is written down."
    go = Go("Write down the hook-ups", "guide/connect") if bare else Go("Take a reading", "read")
    yield RecordCheck("hookups", "How each line was hooked up, and at what frequency", missing, go)
    asked = questions_of(solution, state)
    missing = f"{words.count(len(asked), 'question is', 'questions are')} open." if asked else ""
    yield RecordCheck("questions", "Nothing asked is left open", missing, Go("See what is asked", ""))


def _painted(job: Job, solution: Solution | None, state: JobState) -> Iterator[RecordCheck]:
    standing = [m for m in job.marks if m.state is not MarkState.GONE]
    read = [line.line for line in solution.lines if line.stations] if solution is not None else []
    unmarked = [name for name in read if not any(m.line == name for m in standing)]
    unsigned = [m.id for m in standing if m.painted_at is None or not m.by]
    said = []
    if not standing:
        said.append("No mark is written down as painted.")
    elif unmarked:
        said.append(f"No painted mark is written down on {words.some(unmarked)}.")
    if unsigned:
        said.append(f"When or by whom is missing of {words.some(unsigned)}.")
    go = Go("Write down the marks", "handover/marks")
    yield RecordCheck("marks", "Marks as they were painted, with when and by whom", " ".join(said), go)
    pictured = {m.id for m in standing if photographs_of(job, m)}
    bare = [name for name in read if not any(m.line == name and m.id in pictured for m in standing)]
    missing = f"No photograph of a mark on {words.some(bare)}." if bare else ""
    if not read and not pictured:
        missing = "No photograph of a mark."
    go = Go("Photograph the marks", "handover/marks")
    yield RecordCheck("photographs", "A photograph of the marks of each line", missing, go)
    seen = round_walked(job, solution, state)
    ticked = seen.may_tick and state.ticks.get("round", False)
    missing = "" if seen.done or ticked else seen.because[0]
    yield RecordCheck("round", "A sweep round the dig after marking", missing, Go("Walk the round", "sweep"))


def photographs_of(job: Job, mark: PaintedMark) -> tuple[str, ...]:
    """Photographs that show a mark: those of its own row, and those that name it."""
    own = (mark.photo.removeprefix("photos/"),) if mark.photo else ()
    return tuple(dict.fromkeys((*own, *(p.photo for p in job.photographs if p.mark == mark.id))))


def _told(job: Job, state: JobState) -> Iterator[RecordCheck]:
    missing = "" if state.told else "Nobody is written down as told."
    yield RecordCheck(
        "told", "Who was told, when and how", missing, Go("Write down who was told", "handover/told")
    )
    missing = "" if state.frozen is not None else "The job is not frozen: it can still change."
    if state.late:
        missing = f"{words.count(state.late, 'entry', 'entries')} came in after the job was frozen."
    yield RecordCheck(
        "frozen", "The job is frozen as it was handed over", missing, Go("Freeze the job", "handover")
    )
