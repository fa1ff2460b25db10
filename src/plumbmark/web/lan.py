"""Phones on the same network: where they ask, and who of them is answered.

Two listeners serve one application. Plain HTTP stays on loopback, where only this machine's own programs get;
what comes in over the network is HTTPS, and everything but the page itself needs the token of a paired phone.
"""

from __future__ import annotations

import socket
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated, Final

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from plumbmark.web.certificates import Authority, address_of
from plumbmark.web.guard import refuse
from plumbmark.web.settings import LOOPBACK, ServeError

#: Sent over HTTPS to the very host that set it alone, whatever other hosts there are (RFC 6265bis, 4.1.3.2).
COOKIE: Final = "__Host-plumbmark"
#: As long as browsers keep one at most.
COOKIE_LASTS: Final = timedelta(days=400)
_NOT_PAIRED: Final = (
    "this device is not paired with the server, or no longer: have a pairing code shown at the server and "
    'enter it under "This device"'
)
_CALLER: Final = "plumbmark.caller"


@dataclass(frozen=True, slots=True)
class Lan:
    """Where phones reach the server, and the authority that they trust it by."""

    host: str
    port: int
    names: tuple[str, ...]
    authority: Authority

    @property
    def hosts(self) -> tuple[str, ...]:
        """Every name and address that requests may carry."""
        return (self.host, *self.names)

    @property
    def address(self) -> str:
        """What to type into a phone; by a name where there is one, which outlives a change of address."""
        host = self.names[0] if self.names else self.host
        return f"https://{f'[{host}]' if ':' in host else host}:{self.port}/"


@dataclass(frozen=True, slots=True)
class Caller:
    """Who asks: over the network or from this machine; the paired phone, None where it is none."""

    over_lan: bool = False
    device: str | None = None
    address: str = ""


def caller(request: Request) -> Caller:
    """Who asks."""
    found: Caller = request.scope.get(_CALLER, Caller())
    return found


Calling = Annotated[Caller, Depends(caller)]


class OverLan:
    """What comes in over the network: the page for everybody, anything else for paired phones.

    Parameters
    ----------
    app : ASGI application
    device_of : callable
        The device of a token, None where it does not count. Asked for each request, and for each message of a
        stream, so that a phone whose token was ended gets nothing more.
    """

    def __init__(self, app: ASGIApp, device_of: Callable[[str], str | None]) -> None:
        self._app = app
        self._device_of = device_of

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return  # the one on loopback starts and ends the application; there are no sockets of the web
        token = token_of(Headers(scope=scope))
        device = None if token is None else await run_in_threadpool(self._device_of, token)
        if device is None and not open_to_all(scope["method"], scope["path"]):
            await refuse(send, 401, _NOT_PAIRED)
            return
        client = scope.get("client")
        scope = dict(scope) | {_CALLER: Caller(True, device, client[0] if client else "")}
        if token is None or device is None:
            await self._app(scope, receive, send)
            return
        streams = False

        async def send_on(message: Message) -> None:
            nonlocal streams
            if message["type"] == "http.response.start":
                kind = Headers(raw=message["headers"]).get("content-type", "")
                streams = kind.startswith("text/event-stream")
            elif streams and await run_in_threadpool(self._device_of, token) is None:
                await send({"type": "http.response.body", "body": b""})
                raise _Ended
            await send(message)

        try:
            await self._app(scope, receive, send_on)
        except* _Ended:
            pass


class _Ended(Exception):
    """The token of a phone was ended while something was streamed to it."""


def open_to_all(method: str, path: str) -> bool:
    """Whether a request is answered without a token: the page, how to install it, and pairing.

    Examples
    --------
    >>> open_to_all("GET", "/sw.js"), open_to_all("GET", "/api/facts"), open_to_all("POST", "/api/pair")
    (True, False, True)
    """
    if path.startswith("/api/") or path == "/api":
        return method == "POST" and path == "/api/pair"
    return method in ("GET", "HEAD")


def token_of(headers: Headers) -> str | None:
    """The token of a request: of a program in `Authorization: Bearer`, of the page in its cookie."""
    kind, _, token = headers.get("authorization", "").partition(" ")
    if kind.lower() == "bearer" and token.strip():
        return token.strip()
    return cookie_parser(headers.get("cookie", "")).get(COOKIE) or None


class Attempts:
    """Pairing codes that were wrong lately; who tries too many waits.

    A code is one of 30^8 and lasts ten minutes: at `everybody` tries a minute, one in two thousand million
    would be found.
    """

    def __init__(self, each: int = 5, everybody: int = 30, within_s: float = 60.0) -> None:
        self._each, self._everybody, self._within_s = each, everybody, within_s
        self._wrong: deque[tuple[float, str]] = deque()
        self._lock = threading.Lock()  # tries come in on many threads

    def wait_s(self, address: str, now: float | None = None) -> int:
        """How long an address has to wait before its next try, 0 where it need not [s]."""
        now = time.monotonic() if now is None else now
        with self._lock:
            while self._wrong and self._wrong[0][0] <= now - self._within_s:
                self._wrong.popleft()
            wrong = list(self._wrong)
        own = [at for at, who in wrong if who == address]
        until = 0.0
        if len(own) >= self._each:
            until = own[-self._each] + self._within_s
        if len(wrong) >= self._everybody:
            until = max(until, wrong[-self._everybody][0] + self._within_s)
        return max(0, int(until - now) + 1) if until > now else 0

    def was_wrong(self, address: str, now: float | None = None) -> None:
        """Count a wrong code."""
        with self._lock:
            self._wrong.append((time.monotonic() if now is None else now, address))


def lan_host(asked: str | None) -> str:
    """The address at which phones reach this machine.

    Parameters
    ----------
    asked : str, optional
        The one to take; else that of the way out of this machine.

    Returns
    -------
    str

    Raises
    ------
    ServeError
        There is no network, or the address asked for is none that a phone can be sent to.
    """
    if asked is None:
        return _own_address()
    address = address_of(asked)
    if address is None:
        raise ServeError(f"--host '{asked}' is a name: give the address with --host and the name with --name")
    if address.is_unspecified or asked in LOOPBACK:
        raise ServeError(
            f"--host '{asked}' with --lan is no address that a phone can be sent to, and the certificate "
            "has to name one: give this machine's address on the network that the phones are in"
        )
    return str(address)


def lan_name(asked: str) -> str:
    """A further name to be reached by, as browsers write it.

    Raises
    ------
    ServeError
        It is none.

    Examples
    --------
    >>> lan_name("Van-2.Local")
    'van-2.local'
    """
    name = asked.lower().rstrip(".")
    parts = name.split(".")
    letters = set("abcdefghijklmnopqrstuvwxyz0123456789-")
    fits = all(0 < len(part) < 64 and set(part) <= letters and part.strip("-") == part for part in parts)
    if not fits or len(name) > 253 or parts[-1].isdigit() or name in LOOPBACK:
        raise ServeError(f"--name '{asked}' is no name that a browser could ask for, as van.local is")
    return name


def _own_address() -> str:
    # Nothing is sent by this: it only has the machine choose the address it would send from.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect(("192.0.2.1", 9))
            found: str = way.getsockname()[0]
        except OSError as error:
            raise ServeError(
                f"this machine is in no network ({error.strerror}): join the one the phones are in, or name "
                "the address with --host"
            ) from error
    return found
