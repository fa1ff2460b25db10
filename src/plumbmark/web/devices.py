"""Pairing a phone, and the list of those that were."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Response
from fastapi import Path as InPath
from pydantic import BaseModel, ConfigDict, Field

from plumbmark.app import devices
from plumbmark.base.errors import PairingError
from plumbmark.model.access import CodeBody, DevicesBody, PairedBody
from plumbmark.web.errors import Refusal, error_answers
from plumbmark.web.lan import COOKIE, COOKIE_LASTS, Calling
from plumbmark.web.running import Held

router = APIRouter(tags=["devices"])
DeviceId = Annotated[str, InPath(min_length=1, max_length=64, description="Id of a device.")]


class PairIn(BaseModel):
    """A code as it was typed, and the phone that types it: its id is that of the facts it writes."""

    model_config = ConfigDict(extra="forbid")

    code: str = Field(min_length=1, max_length=40)
    device: str = Field(pattern="^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")
    name: str = Field(default="", max_length=60)


@router.post("/pair", responses=error_answers(400, 403, 409, 413, 422, 429, 503, 507))
def pair_device(sent: PairIn, response: Response, held: Held, calling: Calling) -> PairedBody:
    """Pair the phone that asks; its token comes as a cookie that no page can read."""
    if not calling.over_lan:
        raise Refusal(409, "whoever asks from this machine itself needs no pairing")
    wait = held.attempts.wait_s(calling.address)
    if wait:
        raise Refusal(429, f"too many wrong codes: wait {wait} s, then type a new one")
    name = " ".join("".join(c if c.isprintable() else " " for c in sent.name).split())
    try:
        token = devices.pair(held.answering.store, sent.code, sent.device, name)
    except PairingError as error:
        held.attempts.was_wrong(calling.address)
        raise Refusal(403, str(error)) from error
    response.set_cookie(
        COOKIE,
        token,
        max_age=int(COOKIE_LASTS.total_seconds()),
        path="/",
        secure=True,
        httponly=True,
        samesite="strict",
    )
    return PairedBody(sent.device, name)


@router.get("/devices", responses=error_answers(503))
def get_devices(held: Held, calling: Calling) -> DevicesBody:
    """Every phone that was ever paired."""
    lan = held.lan
    found = devices.listed(held.answering.store)
    return DevicesBody(found, calling.device, lan is not None, None if lan is None else lan.address)


@router.post("/devices/{device}/revoke", responses=error_answers(403, 404, 413, 422, 503, 507))
def revoke_device(device: DeviceId, held: Held, calling: Calling) -> DevicesBody:
    """End a phone's token at once; what it sent stays. A phone can end its own, the server's machine any."""
    if calling.over_lan and calling.device != device:
        raise Refusal(403, "a phone can end its own pairing only; others are ended at the server")
    if not devices.revoke(held.answering.store, device):
        raise Refusal(404, "no paired phone has this id")
    return get_devices(held, calling)


@router.post("/devices/code", responses=error_answers(403, 409, 503, 507))
def new_code(held: Held, calling: Calling) -> CodeBody:
    """A code that pairs one phone; given out at the server's own machine alone."""
    if calling.over_lan:
        raise Refusal(403, "pairing codes are shown at the server only")
    if held.lan is None:
        raise Refusal(409, "phones cannot reach this server: it was started without --lan")
    return devices.new_code(held.answering.store)
