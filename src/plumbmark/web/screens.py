"""The screens as JSON. Each comes at once, with how the answer behind it stands."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any, Final, TypeVar

from fastapi import APIRouter
from fastapi.sse import EventSourceResponse, ServerSentEvent
from starlette.concurrency import run_in_threadpool

from plumbmark.app import screens
from plumbmark.app.answering import Said
from plumbmark.app.known import Known
from plumbmark.model.screen_answer import AnswerScreen
from plumbmark.model.screen_which import WhichScreen
from plumbmark.model.standing import Shown, Standing, State
from plumbmark.web.errors import Refusal, error_answers
from plumbmark.web.running import Held, JobId, OfJob, Running, known_job

router = APIRouter(tags=["screens"])
T = TypeVar("T")
#: How often a stream is looked at with nothing to tell, so that one whose other end is gone ends [s].
_LOOK_EVERY: Final = 10.0
_ERRORS: Final = error_answers(404, 422, 503)


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
    changed = asyncio.Event()
    loop = asyncio.get_running_loop()

    def wake() -> None:
        with suppress(RuntimeError):  # the loop has ended, and this stream with it
            loop.call_soon_threadsafe(changed.set)

    stop = held.answering.listen(known.id, wake)
    told: Standing | None = None
    answered: tuple[str | None, str | None] | None = None
    try:
        while True:
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
    finally:
        stop()


@router.get("/jobs/{job}/screens/which-line", responses=_ERRORS)
def get_which_line(job: JobId, held: Held) -> Shown[WhichScreen]:
    """Whether each signal is on the line it is said to be, and what would settle it."""
    return _shown(held, job, screens.which)


def _shown(held: Running, job: str, screen: Callable[[Known, Said | None, datetime], T | None]) -> Shown[T]:
    known = known_job(held, job)
    said = held.answering.said(known)
    standing = held.answering.standing(known, said)
    return Shown(standing, screen(known, said, datetime.now(UTC).astimezone()))
