"""What a running server holds, and how its routes get at it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, cast

from fastapi import Depends, Request
from fastapi import Path as InPath

from plumbmark.app.answering import Answering
from plumbmark.app.known import Known
from plumbmark.web.errors import Refusal
from plumbmark.web.gnss import Receiver
from plumbmark.web.lan import Attempts, Lan
from plumbmark.web.settings import Settings


@dataclass(frozen=True, slots=True)
class Running:
    """The settings, and what answers jobs; the store is its own.

    `lan` is None where phones cannot reach the server, `receiver` where it listens to none.
    """

    settings: Settings
    answering: Answering
    lan: Lan | None = None
    receiver: Receiver | None = None
    attempts: Attempts = field(default_factory=Attempts)


def running(request: Request) -> Running:
    """What the server of a request holds."""
    return cast(Running, request.app.state.running)


Held = Annotated[Running, Depends(running)]
JobId = Annotated[
    str,
    InPath(pattern=r"^[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}$", description="Id of a job.", examples=["alder-17"]),
]


def known_job(held: Running, job: str) -> Known:
    """What is known of a job now.

    Raises
    ------
    Refusal
        404 where no fact names it.
    """
    known = held.answering.known(job)
    if known is None:
        raise Refusal(404, f"there is no job '{job}' here")
    return known


def _of_path(job: JobId, held: Held) -> Known:
    return known_job(held, job)


#: The job of a path, looked up before anything is answered.
OfJob = Annotated[Known, Depends(_of_path)]
