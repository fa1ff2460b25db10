"""The screens as JSON. Each comes at once, with how the answer behind it stands."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import Annotated, Any, Final, Literal, TypeVar

from fastapi import APIRouter, Query
from fastapi.sse import EventSourceResponse, ServerSentEvent
from pydantic import Field
from starlette.concurrency import run_in_threadpool

from plumbmark.app import screens
from plumbmark.app import screens_of_job as drawn
from plumbmark.app.answering import CLEARANCE, PLAN, SWEEP, Said
from plumbmark.app.known import Known
from plumbmark.base.errors import QuestionError
from plumbmark.model.questions import Bonded, MadeOf, Reached
from plumbmark.model.screen_along import AlongScreen
from plumbmark.model.screen_answer import AnswerScreen
from plumbmark.model.screen_clearance import ClearanceScreen
from plumbmark.model.screen_guide import GuideScreen
from plumbmark.model.screen_handover import HandoverScreen
from plumbmark.model.screen_plan import PlanAnswer, PlanScreen
from plumbmark.model.screen_said import SaidScreen
from plumbmark.model.screen_section import SectionScreen
from plumbmark.model.screen_site import SiteScreen
from plumbmark.model.screen_sweep import SweepScreen
from plumbmark.model.screen_today import TodayScreen
from plumbmark.model.screen_which import WhichScreen
from plumbmark.model.standing import Shown, Standing, State
from plumbmark.web.errors import Refusal, error_answers
from plumbmark.web.running import Held, JobId, OfJob, Running, known_job
from plumbmark.web.streams import woken_by

router = APIRouter(tags=["screens"])
T = TypeVar("T")
Text = Annotated[str | None, Query(max_length=100)]
#: How often a stream is looked at with nothing to tell, so that one whose other end is gone ends [s].
_LOOK_EVERY: Final = 10.0
#: So many earlier answers are listed.
_ANSWERS: Final = 50
_ERRORS: Final = error_answers(404, 422, 503)


@dataclass(frozen=True, slots=True)
class PlanAsked:
    """Three answers: what the line is made of, where it is reached, what else is joined to it."""

    made_of: MadeOf = MadeOf.UNKNOWN
    reached: Annotated[tuple[Reached, ...], Field(max_length=8)] = ()
    bonded: Annotated[tuple[Bonded, ...], Field(max_length=8)] = ()
    units: Literal["ft-in", "m"] = "ft-in"


@router.get("/jobs", responses=error_answers(503))
def get_today(held: Held) -> TodayScreen:
    """All jobs, what is due first."""
    answering = held.answering
    jobs = []
    for job in answering.store.jobs():
        known = answering.known(job)
        if known is not None:
            said = answering.said(known)
            answering.standing(known, said)  # has it solved, where that was not done yet
            jobs.append((known, said))
    return screens.today(jobs, datetime.now(UTC).astimezone())


@router.get("/jobs/{job}/answer", responses=_ERRORS)
def get_answer(job: JobId, held: Held) -> Shown[AnswerScreen]:
    """The answer of a job: what is known now, and whether a newer one is under way."""
    return _shown(held, job, screens.answer)


@router.get("/jobs/{job}/estimates", responses=error_answers(404, 409, 422, 503))
def get_estimates(job: JobId, held: Held) -> dict[str, Any]:
    """The numbers of the answer, in the form of `plumbmark solve --json`."""
    from plumbmark.app.numbers import estimates

    known = known_job(held, job)
    said = held.answering.said(known)
    if said is None:
        raise Refusal(409, held.answering.standing(known, said).words, known.errors)
    return estimates(known, said)


@router.get("/jobs/{job}/live", response_class=EventSourceResponse, responses=_ERRORS)
async def get_live(job: JobId, held: Held, known: OfJob) -> AsyncIterator[ServerSentEvent]:
    """What becomes of the answer, as it happens: `state` with its standing, `answer` with the screen."""
    told: Standing | None = None
    answered: tuple[str | None, str | None] | None = None
    with woken_by(partial(held.answering.listen, known.id)) as changed:
        while not held.answering.ending:
            changed.clear()
            shown = await run_in_threadpool(_shown, held, job, screens.answer)
            standing = shown.standing
            if standing != told:
                yield ServerSentEvent(event="state", data=standing)
                told = standing
            newest = (standing.digest, standing.answered_at)
            if standing.state is not State.NOTHING and standing.digest and newest != answered:
                yield ServerSentEvent(event="answer", data=shown)
                answered = newest
            try:
                await asyncio.wait_for(changed.wait(), _LOOK_EVERY)
            except TimeoutError:
                yield ServerSentEvent(comment="still here")


@router.get("/jobs/{job}/screens/which-line", responses=_ERRORS)
def get_which_line(job: JobId, held: Held) -> Shown[WhichScreen]:
    """Whether each signal is on the line it is said to be, and what would settle it."""
    return _shown(held, job, screens.which)


@router.get("/jobs/{job}/screens/guide", responses=_ERRORS)
def get_guide(job: JobId, held: Held) -> Shown[GuideScreen]:
    """What to do now, one step at a time, ticked by the data."""
    return _shown(held, job, screens.guide)


@router.get("/jobs/{job}/screens/handover", responses=_ERRORS)
def get_handover(job: JobId, held: Held) -> Shown[HandoverScreen]:
    """Whether everyone is told, and whether the record can stand."""
    return _shown(held, job, screens.handover)


@router.get("/jobs/{job}/screens/said", responses=_ERRORS)
def get_said(job: JobId, held: Held) -> Shown[SaidScreen]:
    """What was said of the job at the time, whatever a solve of today says."""
    before = held.answering.said_before(job, _ANSWERS)
    return _shown(held, job, lambda known, said, now: screens.said_before(known, *before, now))


@router.get("/jobs/{job}/screens/site", responses=_ERRORS)
def get_site(job: JobId, held: Held) -> Shown[SiteScreen]:
    """What is where and what is still open, in the job's own grid."""
    return _with(held, job, CLEARANCE, drawn.site)


@router.get("/jobs/{job}/screens/section", responses=_ERRORS)
def get_section(job: JobId, held: Held, line: Text = None, station: Text = None) -> Shown[SectionScreen]:
    """What lies under the feet at a place."""
    return _shown(held, job, lambda known, said, now: drawn.section(known, said, now, line, station))


@router.get("/jobs/{job}/screens/along", responses=_ERRORS)
def get_along(job: JobId, held: Held) -> Shown[AlongScreen]:
    """Whether it makes sense from end to end: depth and current along the line."""
    return _shown(held, job, drawn.along)


@router.get("/jobs/{job}/screens/clearance", responses=_ERRORS)
def get_clearance(job: JobId, held: Held) -> Shown[ClearanceScreen]:
    """Where no machine may go, unanswered owners first."""
    return _with(held, job, CLEARANCE, drawn.clearance)


@router.get("/jobs/{job}/screens/sweep", responses=_ERRORS)
def get_sweep(job: JobId, held: Held) -> Shown[SweepScreen]:
    """What was searched, what was not, and which passes to walk."""
    return _with(held, job, SWEEP, lambda known, said, now, made: made)


@router.get("/jobs/{job}/screens/plan", responses=_ERRORS)
def get_plan(job: JobId, held: Held) -> Shown[PlanScreen]:
    """Where to clip, where to stake, which frequency."""
    return _with(held, job, PLAN, lambda known, said, now, made: made)


@router.post("/plan/questions", responses=error_answers(400, 403, 413, 422))
def answer_questions(asked: PlanAsked, held: Held) -> PlanAnswer:
    """A hook-up from three answers, the sentence first."""
    try:
        made = (asked.made_of, asked.reached, asked.bonded, asked.units)
        return held.answering.whole.run(drawn.answered_questions, *made)  # first answers never wait
    except QuestionError as error:
        raise Refusal(422, str(error)) from error


def _shown(held: Running, job: str, screen: Callable[[Known, Said | None, datetime], T | None]) -> Shown[T]:
    known = known_job(held, job)
    said = held.answering.said(known)
    standing = held.answering.standing(known, said)
    return Shown(standing, screen(known, said, datetime.now(UTC).astimezone()))


def _with(
    held: Running, job: str, kind: str, screen: Callable[[Known, Said | None, datetime, Any], T | None]
) -> Shown[T]:
    """A screen that something computed beside the answer belongs to."""
    known = known_job(held, job)
    said = held.answering.said(known)
    standing = held.answering.standing(known, said)
    made, note = held.answering.computed(known, kind)
    return Shown(standing, screen(known, said, datetime.now(UTC).astimezone(), made), note)
