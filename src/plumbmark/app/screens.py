"""The screens of a job, each from what is known of it and what was said of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from plumbmark.app.answering import Said
from plumbmark.app.known import Known
from plumbmark.app.screens_of_job import by_words
from plumbmark.model.estimate import Solution
from plumbmark.model.fact import Fact
from plumbmark.model.screen_answer import AnswerScreen
from plumbmark.model.screen_guide import GuideScreen
from plumbmark.model.screen_handover import HandoverScreen
from plumbmark.model.screen_parts import JobState, Told
from plumbmark.model.screen_said import SaidScreen
from plumbmark.model.screen_today import TodayScreen
from plumbmark.model.screen_which import WhichScreen


def job_state(known: Known, said: Said | None, now: datetime) -> JobState:
    """What is known of a job beside the facts in its files.

    Parameters
    ----------
    known : Known
    said : Said or None
        The solution that is shown.
    now : datetime
        With its offset.

    Returns
    -------
    JobState
    """
    fold = known.folded
    return JobState(
        now=now,
        answered_at=said.at if said else None,
        cannot=fold.cannot,
        settled=fold.settled,
        ticks=fold.ticks,
        told=tuple(map(_told, fold.told)),
        frozen=None if fold.frozen is None else str(fold.frozen.payload.get("why", "")),
        late=len(fold.late),
        conflicts=fold.conflicts,
        set_aside=known.set_aside,
        places=by_words(fold),
    )


def answer(known: Known, said: Said | None, now: datetime) -> AnswerScreen:
    """The answer of a job."""
    from plumbmark.handover.screen_answer import answer_screen

    return answer_screen(known.id, known.job, said.solution if said else None, job_state(known, said, now))


def which(known: Known, said: Said | None, now: datetime) -> WhichScreen | None:
    """Whether each signal is on the line it is said to be; None where the job cannot be read."""
    from plumbmark.handover.screen_which import which_screen

    if known.job is None:
        return None
    return which_screen(known.job, said.solution if said else None, job_state(known, said, now))


def guide(known: Known, said: Said | None, now: datetime) -> GuideScreen | None:
    """What to do now, ticked by the data; None where the job cannot be read."""
    from plumbmark.handover.screen_guide import guide_screen

    if known.job is None:
        return None
    return guide_screen(known.job, said.solution if said else None, job_state(known, said, now))


def handover(known: Known, said: Said | None, now: datetime) -> HandoverScreen | None:
    """Whether everyone is told and the record can stand; None where the job cannot be read."""
    from plumbmark.handover.screen_handover import handover_screen

    if known.job is None:
        return None
    return handover_screen(known.job, said.solution if said else None, job_state(known, said, now))


def said_before(
    known: Known, told: Sequence[tuple[datetime, str, str, Solution]], older: int, now: datetime
) -> SaidScreen:
    """What was said of a job at the time."""
    from plumbmark.handover.screen_said import said_screen

    return said_screen(known.id, known.job, told, digest=known.digest, older=older, now=now)


def today(jobs: Iterable[tuple[Known, Said | None]], now: datetime) -> TodayScreen:
    """What is due and what is left on each job.

    Parameters
    ----------
    jobs : iterable of (Known, Said or None)
        Each job with the newest answer there is of it.
    now : datetime
        With its offset.

    Returns
    -------
    TodayScreen
    """
    from plumbmark.handover.screen_today import JobNow, today_screen

    standing = (
        JobNow(
            known.id,
            known.job,
            said.solution if said else None,
            job_state(known, said, now),
            known.solvable and (said is None or said.digest != known.digest),
        )
        for known, said in jobs
    )
    return today_screen(standing, now)


def _told(fact: Fact) -> Told:
    said = {name: str(fact.payload.get(name, "")) for name in ("who", "what", "how")}
    return Told(said["who"], said["what"], said["how"], datetime.fromisoformat(fact.at), fact.by)
