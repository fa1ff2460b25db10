"""The screen Today: jobs in order of due time, each in sentences."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from plumbmark.handover import words
from plumbmark.handover.moments import moment
from plumbmark.handover.owners_said import owner_name, owner_words
from plumbmark.handover.screen_answer import FIRST, counted, counts_of
from plumbmark.handover.screen_questions import questions_of
from plumbmark.model.estimate import Solution
from plumbmark.model.job import Job
from plumbmark.model.screen_answer import TrustCount
from plumbmark.model.screen_parts import Go, JobState
from plumbmark.model.screen_today import TodayJob, TodayScreen

DANGER: Final = (
    "Smell of gas, or a line struck? Get away, keep others away, then call. Connect to a line only if you "
    "are qualified to."
)
TEACHES: Final = (
    "Tap New job: a place in words is enough, and the first reading needs no account, no map and no ids.",
    "Or drop a job folder here, or a zip of one: every file of it is kept as it is.",
    "Without signal everything is kept on this phone and sent once it is back.",
)
_LISTED: Final = 4


@dataclass(frozen=True, slots=True)
class JobNow:
    """A job as it stands: `job` None where its files cannot be read, `solving` while that is under way."""

    id: str
    job: Job | None
    solution: Solution | None
    state: JobState
    solving: bool = False


def today_screen(jobs: Iterable[JobNow], now: datetime) -> TodayScreen:
    """What is due and what is left.

    Parameters
    ----------
    jobs : iterable of JobNow
    now : datetime
        With its offset.

    Returns
    -------
    TodayScreen
        By due time, those without one after those with, frozen ones last.
    """
    told = sorted((_job(each, now) for each in jobs), key=_order)
    if not told:
        return TodayScreen("No job yet.", (), TEACHES, DANGER)
    left = [job for job in told if not job.frozen]
    headline = f"{words.count(len(told), 'job')}."
    if not left:
        headline = f"{words.count(len(told), 'job')}, all frozen."
    elif left[0].due_at is not None:
        headline += f" First: {left[0].title}, {left[0].due}."
    return TodayScreen(headline, tuple(told), (), DANGER)


def _order(job: TodayJob) -> tuple[bool, bool, float, str]:
    due = job.due_at.timestamp() if job.due_at is not None else float("inf")
    return job.frozen, not job.emergency and job.due_at is None, due, job.job


def _job(each: JobNow, now: datetime) -> TodayJob:
    job, state = each.job, each.state
    ticket = job.ticket if job is not None else None
    emergency = ticket is not None and bool(ticket.emergency)
    expired = ticket is not None and ticket.has_run_out(now)
    due_at = _due(each)
    counts = counts_of(each.solution)
    questions = questions_of(each.solution, state)
    title = _title(each)
    said = [
        *_dates(each, now),
        *(_owners(job, now) if job is not None else ()),
        _read(each, counts),
        f"{words.count(len(questions), 'question')} open" if questions else "",
        *_frozen(state),
    ]
    silent = sum(o.answer is None for o in job.owners) if job is not None else 0
    return TodayJob(
        each.id,
        title,
        _joined(title, [text for text in said if text]),
        due_at,
        "" if due_at is None else moment(due_at, now),
        emergency,
        expired,
        state.frozen is not None,
        state.late,
        len(questions),
        silent,
        counts,
        _go(each, len(questions), silent),
    )


def _joined(title: str, said: list[str]) -> str:
    """The title, and what is said of it as sentences."""
    return f"{title}: {' '.join([said[0] + '.', *map(words.sentence, said[1:])])}"


def _title(each: JobNow) -> str:
    """The place before the title before the id."""
    if each.job is None:
        return each.id
    return each.job.title or (each.job.ticket.place if each.job.ticket is not None else "") or each.id


def _due(each: JobNow) -> datetime | None:
    ticket = each.job.ticket if each.job is not None else None
    return None if ticket is None else ticket.due_at or ticket.may_dig_from or ticket.expires_at


def _dates(each: JobNow, now: datetime) -> list[str]:
    """What the ticket says, what has passed said as passed."""
    ticket = each.job.ticket if each.job is not None else None
    if ticket is None:
        return []
    said = ["an emergency"] if ticket.emergency else []
    if ticket.expires_at is not None and ticket.has_run_out(now):
        ended = moment(ticket.expires_at, now)
        return [*said, f"the ticket ran out {ended}, and marks and answers ended with it"]
    if ticket.due_at is not None:
        late = ticket.due_at <= now
        said.append(f"answers {'were' if late else 'are'} due {moment(ticket.due_at, now)}")
    if ticket.may_dig_from is not None:
        when = moment(ticket.may_dig_from, now)
        said.append(f"may dig from {when}" if ticket.is_early(now) else f"the ticket began {when}")
    if ticket.white_lined is False:
        said.append("not outlined in white")
    return said


def _owners(job: Job, now: datetime) -> list[str]:
    """Owners that have no answer yet, and those whose answer leaves something open."""
    if not job.owners:
        return ["no owner is written down yet"]
    silent = [o for o in job.owners if o.answer is None]
    left = [o for o in job.owners if o.answer is not None and o.is_open(now)]
    said = [f"{owner_name(o)}: {owner_words(o, now)}" for o in (*silent, *left)]
    if not said:
        return ["every owner has answered"]
    more = [f"and {words.count(len(said) - _LISTED, 'more owner')}"] if len(said) > _LISTED else []
    return said[:_LISTED] + more


def _read(each: JobNow, counts: TrustCount) -> str:
    """How many readings hold: "3 readings hold, 1 unproven"."""
    if each.job is None:
        return "it cannot be read as it stands; nothing of it is lost"
    said = counted(counts)
    if each.solving:
        return f"{said}, a newer answer is being worked out" if said else "the answer is being worked out"
    if said:
        return said
    rows = each.job.readings or each.job.profiles or each.job.side_readings
    return "no answer yet for what was read" if rows else "nothing read yet"


def _frozen(state: JobState) -> list[str]:
    if state.frozen is None:
        return []
    why = f" ({state.frozen})" if state.frozen else ""
    said = [f"frozen{why}"]
    if state.late:
        came = "entry came" if state.late == 1 else "entries came"
        said.append(f"{state.late:,} {came} in after that and {'waits' if state.late == 1 else 'wait'}")
    return said


def _go(each: JobNow, questions: int, silent: int) -> Go:
    """The one thing to do: what was read first, then owners, then handing over."""
    if each.state.frozen is not None:
        return Go("See the handover", "handover")
    if each.job is None or questions:
        return Go("See what is asked", "")
    if not (each.job.readings or each.job.profiles or each.job.side_readings):
        return FIRST
    if silent or not each.job.owners:
        return Go("Answer for the owners", "")
    return Go("Go on", "guide")
