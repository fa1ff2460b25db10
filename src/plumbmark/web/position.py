"""The place of a GNSS receiver beside the server: the last one, and as they come."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import replace
from typing import Annotated, Final

from fastapi import APIRouter, Depends
from fastapi.sse import EventSourceResponse, ServerSentEvent

from plumbmark.model.position import PositionBody
from plumbmark.web.errors import Refusal, error_answers
from plumbmark.web.gnss import Receiver
from plumbmark.web.running import Held
from plumbmark.web.streams import woken_by

router = APIRouter(tags=["position"])
#: A place that grows old is told of by itself as often as this [s].
_LOOK_EVERY_S: Final = 2.0


def _receiver(held: Held) -> Receiver:
    if held.receiver is None:
        raise Refusal(404, "the server listens to no GNSS receiver: it was started without --gnss")
    return held.receiver


OfReceiver = Annotated[Receiver, Depends(_receiver)]


@router.get("/position/last", responses=error_answers(404))
def get_last_position(receiver: OfReceiver) -> PositionBody:
    """The last place that the receiver gave, how good and how old it is."""
    return receiver.last()


@router.get("/position", response_class=EventSourceResponse, responses=error_answers(404))
async def get_position(receiver: OfReceiver, held: Held) -> AsyncIterator[ServerSentEvent]:
    """Places as they come: `position` with each, and when it grows old."""
    told: PositionBody | None = None
    with woken_by(receiver.listen) as changed:
        while not (receiver.ended or held.answering.ending):
            changed.clear()
            now = receiver.last()
            if told is None or replace(now, age_s=None) != replace(told, age_s=None):
                yield ServerSentEvent(event="position", data=now)
                told = now
            else:
                yield ServerSentEvent(comment="still here")
            with suppress(TimeoutError):
                await asyncio.wait_for(changed.wait(), _LOOK_EVERY_S)
